//! What the glass of a case is to the functions of [`crate::device`]: wall, feed lines, pressures.

use super::{Bore, Case, Layout};
use crate::device::wall::{SQUARE_AS_ROUND, WallProfile};
use crate::device::{pressure, strength};
use crate::math::Pinned as _;
use std::f64::consts::PI;

impl WallProfile {
    /// The wall that the thread of a case sees, lengths in m.
    pub fn of(case: &Case) -> WallProfile {
        let channel = match case.device.bore {
            Bore::Square(side) => SQUARE_AS_ROUND * side,
            Bore::Round(diameter) => 0.5 * diameter,
            Bore::Unbounded => return WallProfile::Unbounded,
        };
        match case.layout {
            Layout::Counterflow(orifice) => WallProfile::Orifice {
                channel,
                orifice: 0.5 * orifice.bore,
                standoff: orifice.standoff,
                length: orifice.length,
                collection: 0.5 * orifice.collection_bore,
                collection_length: orifice.collection_length,
            },
            Layout::Coflow | Layout::Segment(_) => WallProfile::Tube { radius: channel },
            Layout::Pendant => WallProfile::Unbounded,
        }
    }
}

/// Feed lines before the tip: the keys of `[supply]`, with what is assumed where one is left out. `check` alone and
/// the pressures use them; no run depends on them.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// Syringes, m3, if told.
    pub inner_syringe: Option<f64>,
    pub outer_syringe: Option<f64>,
    /// Air left in the inner line, m3.
    pub trapped_air: f64,
    /// Bore of the inner capillary before its taper, m.
    pub inner_bore: f64,
    /// Length of the taper, m.
    pub taper_length: f64,
    /// Length of capillary before the taper, m.
    pub inner_length: f64,
    /// Length of the gap that the outer stream passes, m.
    pub outer_length: f64,
    /// What was assumed, in words.
    pub assumed: Vec<String>,
}

/// Bore over outside diameter of usual thick-walled capillary (1.0/0.58 mm), and that bore; common practice, no source.
const BORE_SHARE: f64 = 0.58;
const BORE_USUAL: f64 = 0.58e-3;
/// Half-angle of a pulled taper, degrees; common practice, no source.
const TAPER_ANGLE: f64 = 5.0;
const AIR_USUAL: f64 = 10e-9;
const INNER_LENGTH_USUAL: f64 = 50e-3;
const OUTER_LENGTH_USUAL: f64 = 30e-3;

impl Case {
    /// SI value of a key as typed (or taken from a table).
    pub fn value(&self, key: &str) -> Option<f64> {
        self.typed.iter().find(|t| t.key == key).map(|t| t.si)
    }

    /// Feed lines, typed or assumed.
    pub fn supply(&self) -> Supply {
        let mut assumed = Vec::new();
        let mut take = |key: &str, otherwise: f64, words: String| {
            self.value(key).unwrap_or_else(|| {
                assumed.push(words);
                otherwise
            })
        };
        let (um, mm) = (|x: f64| (1e7 * x).round() / 10.0, |x: f64| (1e5 * x).round() / 100.0);
        let usual_bore = self.device.round_outer.map_or(BORE_USUAL, |d| BORE_SHARE * d).max(self.device.tip_bore);
        let inner_bore = take(
            "supply.inner_bore",
            usual_bore,
            format!("inner capillary's bore {} um before its taper (supply.inner_bore)", um(usual_bore)),
        )
        .max(self.device.tip_bore);
        let usual_taper = 0.5 * (inner_bore - self.device.tip_bore) / TAPER_ANGLE.to_radians().tangent();
        let taper_length = take(
            "supply.taper_length",
            usual_taper,
            format!("taper of {} mm, half-angle {TAPER_ANGLE} degrees (supply.taper_length)", mm(usual_taper)),
        );
        let inner_length = take(
            "supply.inner_length",
            INNER_LENGTH_USUAL,
            format!("{} mm of inner capillary before the taper (supply.inner_length)", mm(INNER_LENGTH_USUAL)),
        );
        let trapped_air = take(
            "supply.trapped_air",
            AIR_USUAL,
            format!("{} uL of air left in the inner line (supply.trapped_air)", 1e9 * AIR_USUAL),
        );
        let tube = matches!(self.layout, Layout::Coflow | Layout::Counterflow(_));
        let outer_length = if tube {
            take(
                "supply.outer_length",
                OUTER_LENGTH_USUAL,
                format!("{} mm of gap for the outer stream (supply.outer_length)", mm(OUTER_LENGTH_USUAL)),
            )
        } else {
            0.0
        };
        Supply {
            inner_syringe: self.value("supply.inner_syringe"),
            outer_syringe: self.value("supply.outer_syringe"),
            trapped_air,
            inner_bore,
            taper_length,
            inner_length,
            outer_length,
            assumed,
        }
    }
}

/// Pressure at one inlet and its parts, Pa above the outlet.
#[derive(Debug, Clone, PartialEq)]
pub struct Inlet {
    pub total: f64,
    pub parts: Vec<(&'static str, f64)>,
    /// Viscous resistance of the feed line alone, Pa s/m3.
    pub resistance: f64,
}

impl Inlet {
    fn of(parts: Vec<(&'static str, f64)>, resistance: f64) -> Inlet {
        Inlet { total: parts.iter().map(|p| p.1).sum(), parts, resistance }
    }
}

/// Pressures at the inlets of a case.
#[derive(Debug, Clone, PartialEq)]
pub struct Pressures {
    pub inner: Inlet,
    pub outer: Option<Inlet>,
    /// Time constant of the inner feed line, s.
    pub settling: f64,
}

impl Pressures {
    /// Estimates for a case; `None` for a periodic thread, which has no inlet.
    pub fn of(case: &Case) -> Option<Pressures> {
        if matches!(case.layout, Layout::Segment(_)) {
            return None;
        }
        let supply = case.supply();
        let shared = shared_exit(case);
        let outer = outer(case, &supply, shared);
        let inner = inner(case, &supply, shared);
        let absolute = strength::ATMOSPHERE + inner.total;
        let settling = pressure::settling_time(inner.resistance, supply.trapped_air, absolute);
        Some(Pressures { inner, outer, settling })
    }
}

/// What both streams pass together: the orifice and what lies behind it, as if the outer liquid filled it.
fn shared_exit(case: &Case) -> f64 {
    let (Some(orifice), Some(outer)) = (case.layout.orifice(), &case.outer) else { return 0.0 };
    let (flow, radius) = (case.inner.flow + outer.flow, 0.5 * orifice.bore);
    let end = 0.5 * orifice.collection_bore;
    let mut widening = pressure::taper(radius, end, orifice.collection_length);
    let mut hole = pressure::entry(radius) + pressure::tube(radius, orifice.length);
    if let Some(liquid) = case.real.outer_thinning.map(|t| t.law(outer.viscosity, 1.0)) {
        // the way into the hole as the hole itself
        hole *= liquid.tube(flow, radius);
        widening *= liquid.taper(flow, radius, end);
    }
    let resistance = hole + widening;
    outer.viscosity * resistance * flow + pressure::speed(outer.density, flow, radius)
}

fn inner(case: &Case, supply: &Supply, shared: f64) -> Inlet {
    let (mu, flow) = (case.inner.viscosity, case.inner.flow);
    let (tip, bore) = (0.5 * case.device.tip_bore, 0.5 * supply.inner_bore);
    let mut straight = mu * pressure::tube(bore, supply.inner_length);
    let mut taper = mu * pressure::taper(tip, bore, supply.taper_length);
    if let Some(liquid) = case.real.thinning.map(|t| t.law(mu, 1.0)) {
        straight *= liquid.tube(flow, bore);
        taper *= liquid.taper(flow, tip, bore);
    }
    let mut parts = vec![
        ("capillary", straight * flow),
        ("taper", taper * flow),
        ("speed in the tip", pressure::speed(case.inner.density, flow, tip)),
        ("curved end at the tip", pressure::curved_end(case.tension, case.device.pinned_radius())),
    ];
    if shared > 0.0 {
        parts.push(("orifice and collection tube", shared));
    }
    Inlet::of(parts, straight + taper)
}

fn outer(case: &Case, supply: &Supply, shared: f64) -> Option<Inlet> {
    let outer = case.outer.as_ref().filter(|o| o.flow > 0.0)?;
    let tube = case.device.round_outer;
    // the round bore that takes as much, and the tube in it
    let (per_viscosity, bore, core) = match (case.device.bore, tube) {
        (Bore::Square(side), tube) => {
            (pressure::square(side, tube, supply.outer_length), pressure::as_round(side, tube), tube.unwrap_or(0.0))
        }
        (Bore::Round(diameter), Some(tube)) if tube < diameter => {
            (pressure::gap(0.5 * diameter, 0.5 * tube, supply.outer_length), 0.5 * diameter, tube)
        }
        (Bore::Round(diameter), _) => (pressure::tube(0.5 * diameter, supply.outer_length), 0.5 * diameter, 0.0),
        (Bore::Unbounded, _) => return None,
    };
    let thinned =
        case.real.outer_thinning.map_or(1.0, |t| t.law(outer.viscosity, 1.0).gap(outer.flow, bore, 0.5 * core));
    let resistance = outer.viscosity * per_viscosity * thinned;
    let mut parts = vec![("gap along the round capillary", resistance * outer.flow)];
    if shared > 0.0 {
        parts.push(("orifice and collection tube", shared));
    }
    Some(Inlet::of(parts, resistance))
}

/// Area between tip and channel that the outer stream has at the tip, m2; `None` without a channel.
pub fn outer_area(case: &Case) -> Option<f64> {
    let tip = case.device.tip_outer.unwrap_or(case.device.tip_bore);
    let channel = match case.device.bore {
        Bore::Square(side) => side * side,
        Bore::Round(diameter) => 0.25 * PI * diameter * diameter,
        Bore::Unbounded => return None,
    };
    Some(channel - 0.25 * PI * tip * tip)
}
