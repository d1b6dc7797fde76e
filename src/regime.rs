//! Dripping or jetting, from what was simulated, with the evidence.
//!
//! Never one threshold: the neck's distance from the tip, whether the thread comes back to the tip between drops, and how
//! equal the drops are under noise are looked at together.
//!   - necks within 3 tip diameters: dripping;
//!   - necks beyond 5 diameters and a thread that never comes back within 3 of the tip, not drawn out by gravity: jetting;
//!   - between, or where the two disagree: jetting if the drops' spread under noise exceeds 1 %, else dripping
//!     (a gravity-drawn viscous thread breaks far from the nozzle and is still perfectly regular).
//!
//! Source: ours, from prototype runs (dripping 0.01-0.1 % spread, jets 2-10 %); common practice calls regular breakup near
//! the tip dripping. Holds for: settled runs.

/// What the run measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Settled primaries.
    pub drops: usize,
    /// Median distance of the necks from the tip, in tip diameters.
    pub neck: f64,
    /// Shortest length of the thread between two pinch-offs (median), in tip diameters.
    pub shortest: f64,
    /// Spread of the settled drops, if there are enough.
    pub cv: Option<f64>,
    /// Whether gravity pulls along the flow strongly enough to draw a thread out (Bond number above 0.02).
    pub drawn: bool,
    /// Noise on the inner flow under which that spread was seen.
    pub noise: f64,
}

/// The mode's name.
pub type Mode = &'static str;

/// Nearest neck that no jet has, in tip diameters.
pub const NECK_NEAR: f64 = 3.0;
/// Farthest neck of dripping unless gravity draws the thread.
pub const NECK_FAR: f64 = 5.0;
/// Spread under noise above which a breakup is called jetting.
pub const SPREAD_JET: f64 = 0.01;
/// Noise that a probe run uses where the case has none.
pub const PROBE_NOISE: f64 = 0.005;

/// True if the necks alone do not decide, so that the spread under noise is needed.
pub fn needs_noise(m: &Measured) -> bool {
    m.drops > 0 && m.neck > NECK_NEAR && !never_back(m)
}

fn never_back(m: &Measured) -> bool {
    m.neck > NECK_FAR && m.shortest > NECK_NEAR && !m.drawn
}

/// Mode and the evidence for it.
pub fn judge(measured: Option<&Measured>) -> (Mode, String) {
    let Some(m) = measured.filter(|m| m.drops > 0) else {
        return ("none", "no drop came off within the run".to_string());
    };
    let seen = format!(
        "necks {:.1} tip diameters from the tip, thread back to {:.1} between drops, {}",
        m.neck,
        m.shortest,
        match m.cv {
            Some(cv) => format!(
                "spread {:.2} % of {} settled drops under {:.2} % noise on the inner flow",
                100.0 * cv,
                m.drops,
                100.0 * m.noise
            ),
            None => format!("too few settled drops ({}) for a spread", m.drops),
        }
    );
    if m.neck <= NECK_NEAR {
        return ("dripping", format!("{seen}: breaks at the tip"));
    }
    if never_back(m) {
        return ("jetting", format!("{seen}: the thread never comes back to the tip"));
    }
    match m.cv {
        Some(cv) if m.noise > 0.0 && cv > SPREAD_JET => ("jetting", format!("{seen}: long thread, irregular")),
        Some(_) if m.noise > 0.0 => ("dripping", format!("{seen}: long thread, but regular")),
        _ => ("dripping", format!("{seen}: long thread, not tried under noise")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measured(neck: f64, shortest: f64, cv: f64) -> Measured {
        Measured { drops: 10, neck, shortest, cv: Some(cv), drawn: false, noise: 0.005 }
    }

    #[test]
    fn no_single_number_decides() {
        assert_eq!(judge(Some(&measured(1.5, 0.6, 0.03))).0, "dripping");
        assert_eq!(judge(Some(&measured(7.0, 1.0, 0.0005))).0, "dripping");
        assert_eq!(judge(Some(&measured(7.0, 1.0, 0.03))).0, "jetting");
        assert_eq!(judge(Some(&measured(9.0, 6.0, 0.0005))).0, "jetting");
        let drawn = Measured { drawn: true, ..measured(9.0, 6.0, 0.0005) };
        assert_eq!(judge(Some(&drawn)).0, "dripping");
        assert_eq!(judge(None).0, "none");
        assert!(needs_noise(&measured(4.0, 1.0, 0.0)) && !needs_noise(&measured(2.0, 1.0, 0.0)));
    }
}
