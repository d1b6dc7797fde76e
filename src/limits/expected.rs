//! What is expected of a case before it is simulated: mode, drop, rate, camera. Estimates, each labelled so.
//!
//! Equation: character of the uniform thread by linear theory ([`crate::thread::estimate`]); drop of a jet one wavelength of
//! it, of dripping a simple balance ([`super::size`]); a tap by its critical velocity ([`crate::theory::faucet`]).
//!
//! Symbols: SI, names say the unit.
//!
//! Source: see there; frames a drop and blur of the camera: common practice, no source.
//!
//! Holds for: orders of magnitude; within a factor of 2 to 3 at the border between dripping and jetting.

use super::size::dripping;
use super::{figure, streams};
use crate::case::{Case, Layout};
use crate::groups::outer_velocity;
use crate::outcome::{Instability, LinearEstimate, Mode};
use crate::theory::faucet;
use crate::thread::estimate::{UniformThread, linear_estimate};
use serde::Serialize;
use std::f64::consts::PI;

/// Camera frames a drop that a movie needs at least (common practice, no source).
pub const FRAMES_PER_DROP: f64 = 20.0;
/// Motion blur allowed, in drop diameters.
const BLUR: f64 = 0.05;
/// Estimates, labelled so.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Expected {
    /// An estimate.
    pub mode: Mode,
    pub linear: Option<LinearEstimate>,
    pub drop_diameter_m: Option<f64>,
    pub drop_diameter_by: &'static str,
    pub rate_per_s: Option<f64>,
    pub text: String,
}

/// What a camera must do to see the drops form.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Camera {
    pub frames_per_s: f64,
    pub exposure_s: f64,
}

/// Mode, drop and rate that simple theory expects.
pub fn expected(case: &Case) -> Expected {
    let linear = linear_estimate(case);
    let guess = match case.layout {
        Layout::Segment(_) => None,
        Layout::Counterflow(_) => focused(case, linear.as_ref()),
        Layout::Pendant if case.gravity > 0.0 && case.outer.is_none() => Some(tap(case)),
        _ => linear.as_ref().map(|estimate| by_character(case, estimate)),
    };
    let Some(guess) = guess else {
        let text = match case.layout {
            Layout::Segment(_) => "a periodic thread has no mode; `slenderjet growth` tells how fast its wave grows",
            _ => "no estimate for this case: simulate it",
        };
        let drop_diameter_by = "";
        return Expected {
            mode: Mode::None,
            linear,
            drop_diameter_m: None,
            drop_diameter_by,
            rate_per_s: None,
            text: text.into(),
        };
    };
    Expected {
        mode: guess.mode,
        drop_diameter_m: guess.drop,
        drop_diameter_by: guess.by,
        rate_per_s: guess.drop.map(|d| case.inner.flow / (PI / 6.0 * d.powi(3))),
        text: guess.text,
        linear,
    }
}

struct Guess {
    mode: Mode,
    drop: Option<f64>,
    by: &'static str,
    text: String,
}

const BY_WAVE: &str = "one wavelength of the uniform thread (linear theory)";

fn wave_drop(case: &Case) -> Option<f64> {
    UniformThread::of(case).and_then(|t| t.breakup()).map(|b| b.drop_diameter)
}

fn by_character(case: &Case, estimate: &LinearEstimate) -> Guess {
    let jets = estimate.character == Instability::Convective;
    if let Some(weber) = streams::jets_by_itself(case).filter(|_| !jets) {
        let text = format!(
            "estimate, inner Weber number {} on the tip's radius: the inner liquid's own momentum carries a jet (from order one on, Utada et al. \
             2007, recalled; full equations 1.5 at outer capillary number 0.01); the time-dependent run decides",
            figure(weber)
        );
        return Guess { mode: Mode::Jetting, drop: wave_drop(case), by: BY_WAVE, text };
    }
    let (mode, drop, by) = match (jets, dripping(case)) {
        (false, Some((d, balance))) => (Mode::Dripping, Some(d), balance.words()),
        (false, None) => (Mode::Dripping, wave_drop(case), BY_WAVE),
        (true, _) => (Mode::Jetting, wave_drop(case), BY_WAVE),
    };
    Guess { mode, drop, by, text: estimate.text.clone() }
}

/// Diameter of the drop that simple balances expect in `mode`, m.
pub fn drop_of(case: &Case, mode: Mode) -> Option<f64> {
    match (mode, case.layout) {
        (Mode::None, _) | (_, Layout::Segment(_)) => None,
        (Mode::Dripping, Layout::Counterflow(_)) => {
            focused(case, linear_estimate(case).as_ref()).and_then(|guess| guess.drop)
        }
        (Mode::Dripping, _) => dripping(case).map(|(d, _)| d).or_else(|| wave_drop(case)),
        _ => wave_drop(case),
    }
}

fn dripped(case: &Case) -> (Mode, Option<f64>, &'static str) {
    match dripping(case) {
        Some((d, balance)) => (Mode::Dripping, Some(d), balance.words()),
        None => (Mode::Dripping, None, ""),
    }
}

/// A tap turns to a jet at a velocity that its rim, liquid and gravity set.
fn tap(case: &Case) -> Guess {
    let d = &case.device;
    let (inside, outside) = (d.tip_bore, 2.0 * d.pinned_radius());
    let critical = faucet::critical_velocity(inside, outside, case.inner.density, case.tension, case.gravity);
    let speed = case.inner.flow / (0.25 * PI * inside * inside);
    let jets = speed > critical;
    let (mode, drop, by) = if jets { (Mode::Jetting, wave_drop(case), BY_WAVE) } else { dripped(case) };
    let text = format!(
        "estimate, {} in the tip where a tap of thin liquid turns to a jet at {} (Clanet & Lasheras 1999, 20 %); the time-dependent \
         run decides",
        format_args!("{} m/s", figure(speed)),
        format_args!("{} m/s", figure(critical))
    );
    Guess { mode, drop, by, text }
}

/// A focused thread that the orifice sweeps away may still drip where the collection tube has widened.
fn focused(case: &Case, at_orifice: Option<&LinearEstimate>) -> Option<Guess> {
    let at_orifice = at_orifice?;
    let mut behind = case.clone();
    if let Layout::Counterflow(orifice) = &mut behind.layout {
        orifice.bore = orifice.collection_bore;
    }
    let widened = linear_estimate(&behind)?;
    let (swept, settles) =
        (at_orifice.character == Instability::Convective, widened.character != Instability::Convective);
    Some(match (swept, settles) {
        (true, true) => Guess {
            mode: Mode::Dripping,
            drop: wave_drop(&behind),
            by: "one wavelength of the thread that the widened collection tube would hold (linear theory)",
            text: format!(
                "in the widening behind the orifice: there waves grow in place, in the orifice they are swept away; {}",
                widened.text
            ),
        },
        (true, false) => Guess { mode: Mode::Jetting, drop: wave_drop(&behind), by: BY_WAVE, text: widened.text },
        (false, _) => Guess { mode: Mode::Dripping, drop: wave_drop(case), by: BY_WAVE, text: at_orifice.text.clone() },
    })
}

/// Frames a second and exposure for a movie of the expected drops.
pub fn camera(case: &Case, expected: &Expected) -> Option<Camera> {
    let (rate, diameter) = (expected.rate_per_s?, expected.drop_diameter_m?);
    let bore = 0.5 * case.device.tip_bore;
    let speed = outer_velocity(case).unwrap_or(0.0).max(case.inner.flow / (PI * bore * bore));
    Some(Camera { frames_per_s: FRAMES_PER_DROP * rate, exposure_s: BLUR * diameter / speed })
}
