//! Dripping, jetting or between, as a camera sees it, with the evidence.
//!
//! Equation: with D the tip's diameter, x the median distance of the necks from the tip and s the median of the shortest length
//! that the thread has between two breakups,
//!   - dripping: x <= 3 D (it breaks at the tip), or s <= 2 D (it comes back to the tip after each drop);
//!   - jetting: s >= 4 D (a thread stands out from the tip and breaks at its end);
//!   - transition: the rest. Also where it stays out in some periods and comes back in others: then no median says what a camera
//!     shows, and at least a quarter of the periods lie on either side of 3 D.
//!
//! Symbols: x, s, D as above.
//!
//! Source: what is looked at is common practice (Clanet & Lasheras 1999, J. Fluid Mech. 383, 307; Utada et al. 2007, Phys. Rev.
//! Lett. 99, 094502: drops at the tip against a thread that breaks far downstream; recalled from memory); the numbers are ours.
//!
//! Holds for: settled runs. The spread of the drops is told beside the mode and does not decide it: it changes by a factor of ten
//! within either mode, and a mode that hangs on it flips where a camera sees nothing.

use crate::outcome::Mode;

/// What the run measured, distances in tip diameters.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Settled primaries.
    pub drops: usize,
    /// Distance of the neck from the tip, of every breakup looked at.
    pub necks: Vec<f64>,
    /// Shortest length of the thread before each of them.
    pub shortest: Vec<f64>,
    /// Spread of the settled drops, if there are enough.
    pub cv: Option<f64>,
    /// Noise on the inner flow under which that spread was seen.
    pub noise: f64,
}

/// Farthest neck of a breakup at the tip, tip diameters.
pub const AT_TIP: f64 = 3.0;
/// A thread that becomes no longer than this has come back to the tip, one that stays longer than the other stands out.
pub const BACK: f64 = 2.0;
pub const OUT: f64 = 4.0;
/// Share of the periods on either side from which a thread does both.
const BOTH: f64 = 0.25;

/// Median; zero of nothing.
pub fn median(values: &[f64]) -> f64 {
    let mut list = values.to_vec();
    list.sort_by(f64::total_cmp);
    list.get(list.len() / 2).copied().unwrap_or(0.0)
}

/// Mode and the evidence for it.
pub fn judge(measured: Option<&Measured>) -> (Mode, String) {
    let Some(m) = measured.filter(|m| m.drops > 0 && !m.necks.is_empty()) else {
        return (Mode::None, "no drop came off within the run".to_string());
    };
    let (neck, shortest) = (median(&m.necks), median(&m.shortest));
    let out = m.shortest.iter().filter(|s| **s > 0.5 * (BACK + OUT)).count() as f64 / m.shortest.len() as f64;
    let spread = match m.cv {
        Some(cv) => format!("; spread {:.2} % of {} drops", 100.0 * cv, m.drops),
        None => String::new(),
    };
    let noise =
        if m.noise > 0.0 { format!(" under {} % noise on the inner flow", 100.0 * m.noise) } else { String::new() };
    let seen = |mode: Mode, finding: &str| {
        (mode, format!("it breaks {neck:.1} tip diameters from the tip and {finding}{spread}{noise}"))
    };
    if neck <= AT_TIP {
        return seen(Mode::Dripping, &format!("is {shortest:.1} long at its shortest"));
    }
    if (BOTH..=1.0 - BOTH).contains(&out) && m.shortest.len() >= 4 {
        let share = 100.0 * out;
        return seen(Mode::Transition, &format!("stays out in {share:.0} % of the periods, comes back in the others"));
    }
    if shortest <= BACK {
        seen(Mode::Dripping, &format!("comes back to {shortest:.1} after each drop"))
    } else if shortest >= OUT {
        seen(Mode::Jetting, &format!("never gets shorter than {shortest:.1}"))
    } else {
        seen(Mode::Transition, &format!("comes back to {shortest:.1} only ({BACK} is dripping, {OUT} jetting)"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mode(necks: &[f64], shortest: &[f64], cv: f64) -> Mode {
        let m = Measured { drops: 10, necks: necks.to_vec(), shortest: shortest.to_vec(), cv: Some(cv), noise: 0.0 };
        judge(Some(&m)).0
    }

    #[test]
    fn a_camera_decides() {
        assert_eq!(mode(&[1.5; 8], &[0.6; 8], 0.03), Mode::Dripping);
        assert_eq!(mode(&[7.0; 8], &[1.0; 8], 0.0005), Mode::Dripping);
        assert_eq!(mode(&[7.0; 8], &[3.0; 8], 0.0005), Mode::Transition);
        assert_eq!(mode(&[9.0; 8], &[6.0; 8], 0.0005), Mode::Jetting);
        assert_eq!(judge(None).0, Mode::None);
    }

    #[test]
    fn a_thread_that_does_both_is_a_transition() {
        assert_eq!(mode(&[9.0; 8], &[1.0, 7.0, 1.0, 7.0, 1.0, 7.0, 1.0, 7.0], 0.0), Mode::Transition);
        assert_eq!(mode(&[9.0; 8], &[1.0, 7.0, 7.0, 7.0, 7.0, 7.0, 7.0, 7.0], 0.0), Mode::Jetting);
    }

    // The spread of equal pictures ranges from 0.01 to 10 %: the mode does not.
    #[test]
    fn the_spread_does_not_decide() {
        for cv in [1e-4, 0.009, 0.011, 0.1] {
            assert_eq!(mode(&[7.0; 8], &[1.0; 8], cv), Mode::Dripping);
            assert_eq!(mode(&[9.0; 8], &[6.0; 8], cv), Mode::Jetting);
        }
    }
}
