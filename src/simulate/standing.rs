//! How far the attached thread stands out from its tip between two breakups, and when it is a jet that goes on without breaking.
//!
//! Equation: s = min (L - 2 r_V), L the thread's length and r_V the radius of a sphere of its volume, over the time since the last breakup;
//! before the first one over the time in which its volume has grown by a factor that is at least one and less than two, for a thread starts
//! at rest with nothing standing out, whatever it becomes.
//! Symbols: lengths in tip radii.
//! Source: what a camera sees, ours ([`crate::regime`] judges by it).
//! Holds for: one thread on its nozzle.

use crate::drops::detached::sphere_radius;
use crate::regime::OUT;
use crate::thread::body::Body;

/// Cells times steps since the last breakup from which a jet that crosses its drop is left as it stands: about ten seconds. (Of 51 such
/// devices among 560 drawn ones, `scripts/practice_devices.py`, 44 ended before it as the model stood when it was chosen.)
const UNBROKEN_WORK: u64 = 16_000_000;

/// The attached thread since its last breakup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// s.
    pub least: f64,
    /// Volume since when it is taken, while nothing has broken off yet.
    pub volume: f64,
    /// Cells times steps.
    pub work: u64,
}

/// Length of a body beyond the diameter of a sphere of its volume: nothing of a drop on its nozzle, nearly all of a thread.
fn stands_out(body: &Body) -> f64 {
    body.length() - 2.0 * sphere_radius(body.volume())
}

impl Standing {
    /// Of a thread at the start of a run, or as a breakup leaves it.
    pub fn of(body: &Body) -> Standing {
        Standing { least: stands_out(body), volume: body.volume(), work: 0 }
    }

    /// After a step; `first` where nothing has broken off yet.
    pub fn look(&mut self, body: &Body, first: bool) {
        self.work += body.cells() as u64;
        let (now, volume) = (stands_out(body), body.volume());
        if first && volume >= 2.0 * self.volume {
            (self.least, self.volume) = (now, volume);
        }
        self.least = self.least.min(now);
    }

    /// Whether it is a jet by what a camera sees, and has been followed for long enough.
    pub fn is_unbroken_jet(&self) -> bool {
        0.5 * self.least >= OUT && self.work >= UNBROKEN_WORK
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::body::End;

    fn thread(length: f64) -> Body {
        let z = (0..=50).map(|i| length * f64::from(i) / 50.0).collect();
        Body::from_profile(z, End::Nozzle, End::Tip, |_| 1.0, |_| 0.0)
    }

    // A cylinder of length L has a sphere's radius of (3 L/4)^(1/3).
    #[test]
    fn the_start_from_rest_does_not_make_a_jet_drip() {
        let out = |l: f64| l - 2.0 * (0.75 * l).cbrt();
        let mut grows = Standing::of(&thread(1.0));
        let mut after = grows;
        assert!((grows.least - out(1.0)).abs() < 0.1, "{}", grows.least);
        for length in [1.5, 3.0, 6.0, 12.0, 24.0, 40.0] {
            grows.look(&thread(length), true);
            after.look(&thread(length), false);
        }
        // since 24, the last doubling; after a breakup all of the time counts
        assert!((grows.least - out(24.0)).abs() < 0.1 && after.least < 0.0, "{grows:?} {after:?}");
        assert!(!grows.is_unbroken_jet(), "too soon to tell");
        grows.work = UNBROKEN_WORK;
        after.work = UNBROKEN_WORK;
        assert!(grows.is_unbroken_jet() && !after.is_unbroken_jet());
    }
}
