//! Dripping, jetting or between, as a camera sees it, with the evidence.
//!
//! Equation: two things that a camera sees, as medians over the breakups that shed a drop. n = V_left/V_drop, the drops that wait in
//! line on the thread: V_left the volume left on the nozzle as a drop comes off, where that is thinner than the drop itself (a
//! meniscus wider than its drops does not count), V_drop the mean volume of the drops. s = min (L - 2 r_V) over the time between two
//! breakups, how far the thread stands out all along: L its length from the tip, r_V the radius of a sphere of its volume (a drop on
//! its nozzle stands out by nothing, however large), in tip diameters.
//!   - dripping: n <= 1 and s <= 2 (each drop is filled after the one before has gone, and what is left comes back to the tip);
//!   - jetting: n >= 2 (waves travel down a thread, several at a time) or s >= 4 (a thread stands out and fills drops at its end);
//!   - transition: between, or where it does the one in some periods and the other in others (a quarter of them at least on either
//!     side of the middle).
//!
//! Symbols: as above.
//!
//! Source: what is looked at is common practice (drops that form at the tip, one after another, against waves that travel on a thread:
//! Clanet & Lasheras 1999, J. Fluid Mech. 383, 307; Utada et al. 2007, Phys. Rev. Lett. 99, 094502; recalled from memory); n, s and
//! their limits are ours. A drop that hangs from a tap leaves about 0.4 of what hung there, n = 0.7 (drop-weight curve of Harkins & Brown
//! 1919); one wavelength of a thread makes one drop.
//!
//! Holds for: settled runs. The spread of the drops is told beside the mode and does not decide it: it changes by a factor of ten
//! within either mode, and a mode that hangs on it flips where a camera sees nothing.

use crate::outcome::Mode;

/// What the run measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Settled primaries.
    pub drops: usize,
    /// Distance of the neck from the tip, tip diameters, of every breakup looked at.
    pub necks: Vec<f64>,
    /// Drops that the thread left behind would make, n, of each of them.
    pub waiting: Vec<f64>,
    /// Least that the thread stood out before each of them, s, tip diameters.
    pub standing: Vec<f64>,
    /// Spread of the settled drops, if there are enough.
    pub cv: Option<f64>,
    /// Noise on the inner flow under which that spread was seen.
    pub noise: f64,
}

/// Most drops in line where it drips, fewest where it jets.
pub const DRIPS: f64 = 1.0;
pub const JETS: f64 = 2.0;
/// Farthest that a thread stands out where it drips, least where it jets, tip diameters.
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
    let (neck, waiting, standing) = (median(&m.necks), median(&m.waiting), median(&m.standing));
    let is_thread = |(n, s): (&f64, &f64)| *n > 0.5 * (DRIPS + JETS) || *s > 0.5 * (BACK + OUT);
    let threads = m.waiting.iter().zip(&m.standing).filter(|pair| is_thread(*pair)).count();
    let many = threads as f64 / m.waiting.len() as f64;
    let spread = match m.cv {
        Some(cv) => format!("; spread {:.2} % of {} drops", 100.0 * cv, m.drops),
        None => String::new(),
    };
    let noise =
        if m.noise > 0.0 { format!(" under {} % noise on the inner flow", 100.0 * m.noise) } else { String::new() };
    let seen = |mode: Mode, finding: &str| {
        (mode, format!("it breaks {neck:.1} tip diameters from the tip; {finding}{spread}{noise}"))
    };
    let left = format!(
        "the thread left behind holds {waiting:.1} drops (dripping up to {DRIPS}, jetting from {JETS}) and stands out by {:.1} tip diameters \
         at its shortest (dripping up to {BACK}, jetting from {OUT})",
        standing.max(0.0)
    );
    if (BOTH..=1.0 - BOTH).contains(&many) && m.waiting.len() >= 4 {
        let share = 100.0 * many;
        return seen(
            Mode::Transition,
            &format!("a thread stands out in {share:.0} % of the periods only; by the medians {left}"),
        );
    }
    if waiting <= DRIPS && standing <= BACK {
        seen(Mode::Dripping, &left)
    } else if waiting >= JETS || standing >= OUT {
        seen(Mode::Jetting, &left)
    } else {
        seen(Mode::Transition, &left)
    }
}

/// The same of a thread that stands out by `standing` tip diameters at its shortest and has not broken.
pub fn unbroken(standing: f64) -> (Mode, String) {
    let evidence =
        format!("unbroken, the thread stands out by {standing:.1} tip diameters at its shortest (jetting from {OUT})");
    (if standing >= OUT { Mode::Jetting } else { Mode::None }, evidence)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(waiting: &[f64], standing: f64, cv: f64) -> Mode {
        let (necks, standing) = (vec![7.0; waiting.len()], vec![standing; waiting.len()]);
        let m = Measured { drops: 10, necks, waiting: waiting.to_vec(), standing, cv: Some(cv), noise: 0.0 };
        judge(Some(&m)).0
    }

    fn mode(waiting: &[f64], cv: f64) -> Mode {
        seen(waiting, 1.0, cv)
    }

    #[test]
    fn a_thread_that_fills_large_drops_at_its_end_is_a_jet() {
        assert_eq!(seen(&[0.1; 8], 1.9, 0.001), Mode::Dripping);
        assert_eq!(seen(&[0.1; 8], 3.0, 0.001), Mode::Transition);
        assert_eq!(seen(&[0.1; 8], 15.0, 0.001), Mode::Jetting);
    }

    #[test]
    fn drops_in_line_decide() {
        assert_eq!(mode(&[0.2; 8], 0.03), Mode::Dripping);
        assert_eq!(mode(&[1.5; 8], 0.0005), Mode::Transition);
        assert_eq!(mode(&[6.0; 8], 0.0005), Mode::Jetting);
        assert_eq!(judge(None).0, Mode::None);
    }

    #[test]
    fn a_thread_that_does_both_is_a_transition() {
        assert_eq!(mode(&[0.5, 7.0, 0.5, 7.0, 0.5, 7.0, 0.5, 7.0], 0.0), Mode::Transition);
        assert_eq!(mode(&[0.5, 7.0, 7.0, 7.0, 7.0, 7.0, 7.0, 7.0], 0.0), Mode::Jetting);
    }

    // The spread of equal pictures ranges from 0.01 to 10 %: the mode does not.
    #[test]
    fn the_spread_does_not_decide() {
        for cv in [1e-4, 0.009, 0.011, 0.1] {
            assert_eq!(mode(&[0.2; 8], cv), Mode::Dripping);
            assert_eq!(mode(&[6.0; 8], cv), Mode::Jetting);
        }
    }
}
