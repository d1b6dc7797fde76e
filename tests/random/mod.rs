//! Random physically possible cases: number `index` of seed `seed` is always the same text.
//!
//! Liquids, glass and speeds are log-uniform in the ranges that a laboratory meets (ours, no source): viscosities
//! 0.3 mPa.s to 10 Pa.s, tensions 0.5 to 75 mN/m, tips 5 um to 3 mm, densities 600 to 2000 kg/m3. A case must be accepted
//! by the parser, and by `breaks_up` below: a question that has no drop for an answer is not asked.
#![allow(dead_code)]

use slenderjet::case::{Case, parse};
use slenderjet::groups::groups;
use slenderjet::thread::estimate::UniformThread;
use std::f64::consts::PI;
use std::fmt::Write;

/// SplitMix64 (Steele, Lea & Flood 2014, recalled): good enough to scatter cases, and ten lines.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64, index: u64) -> Dice {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ index.wrapping_mul(0xD1B5_4A32_D192_ED03));
        dice.bits();
        dice
    }

    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^ (x >> 31)
    }

    /// Uniform in [0, 1).
    pub fn part(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn even(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.part()
    }

    pub fn log(&mut self, from: f64, to: f64) -> f64 {
        from * (to / from).powf(self.part())
    }

    pub fn once_in(&mut self, n: u64) -> bool {
        self.bits().is_multiple_of(n)
    }
}

/// A case and how many tries it took to find one that is possible.
pub struct Drawn {
    pub text: String,
    pub case: Case,
    pub refused: u32,
    /// Possible, but costly: left to the long run.
    pub heavy: bool,
}

/// Predicted drops wider than this many tips, and threads longer than this many pinned radii, are heavy: a step moves a
/// cell's length, so the cost of a drop grows with its volume, and that of a thread with its length.
const WIDE: f64 = 6.0;
const LONG: f64 = 60.0;
/// Ohnesorge number from which gravity draws threads of hundreds of radii (measured: 12,000 cells at 8.3).
const DRAWN_FROM: f64 = 2.0;

fn is_heavy(case: &Case) -> bool {
    let g = groups(case);
    if case.layout.segment().is_some() {
        return false;
    }
    let wide = match (g.capillary_outer.filter(|c| *c > 0.0), case.layout.orifice()) {
        (Some(capillary), None) => 1.0 + 1.0 / (3.0 * capillary),
        // 0.65 of the weight that the rim can hold (Harkins & Brown 1919, recalled)
        (None, None) if g.weber_inner < 4.0 => (0.975 / g.bond.max(1e-9)).cbrt(),
        _ => 1.0,
    };
    let long = UniformThread::of(case).and_then(|t| t.breakup_length(1e-3)).unwrap_or(0.0);
    let drawn = case.outer.is_none() && g.bond > 0.0 && g.ohnesorge > DRAWN_FROM;
    wide > WIDE || long > LONG * case.device.pinned_radius() || drawn
}

/// Case number `index`.
pub fn draw(seed: u64, index: u64) -> Drawn {
    let mut dice = Dice::new(seed, index);
    for refused in 0..10_000 {
        let text = match index % 4 {
            0 => coflow(&mut dice),
            1 => counterflow(&mut dice),
            2 => pendant(&mut dice),
            _ => segment(&mut dice),
        };
        if let Some(case) = parse(&text, "random").ok().filter(breaks_up) {
            return Drawn { heavy: is_heavy(&case), text, case, refused };
        }
    }
    panic!("no possible case at number {index} of seed {seed}");
}

/// Whether drops are the answer. Without it, the commonest answers to random questions would be "nothing happens" (drops
/// that nothing pulls off) and "the drop fills the channel" (which the one-dimensional model does not follow).
fn breaks_up(case: &Case) -> bool {
    let g = groups(case);
    if case.layout.segment().is_some() {
        return true;
    }
    // Rates of breakup against flow: beyond, a thread is longer than any device.
    let capillary_inner = g.ohnesorge * g.weber_inner.sqrt();
    if capillary_inner > 3.0 || g.weber_inner > 20.0 {
        return false;
    }
    let Some(capillary) = g.capillary_outer.filter(|c| *c > 0.0) else {
        return g.bond > 1e-3 || g.weber_inner > 6.0;
    };
    if !(1e-3..1.0).contains(&capillary) {
        return false;
    }
    let wall = slenderjet::device::wall::WallProfile::of(case).radius(0.0).unwrap_or(f64::INFINITY);
    match case.layout.orifice() {
        // The drop by the balance of drag and tension (Umbanhowar et al. 2000, recalled).
        None => case.device.pinned_radius() * (1.0 + 1.0 / (3.0 * capillary)) < 0.6 * wall,
        Some(orifice) => {
            let area = PI * (0.5 * orifice.bore).powi(2);
            let outer = case.outer.as_ref().expect("two streams");
            let speed = (outer.flow + case.inner.flow) / area;
            (0.05..2.0).contains(&(outer.viscosity * speed / case.tension))
        }
    }
}

fn liquid(dice: &mut Dice, section: &str, text: &mut String) -> (f64, f64) {
    let (viscosity, density) = (dice.log(3e-4, 10.0), dice.even(600.0, 2000.0));
    let _ = write!(text, "[{section}]\nviscosity = \"{viscosity:e} Pa.s\"\ndensity = \"{density} kg/m3\"\n");
    (viscosity, density)
}

fn head(layout: &str) -> String {
    format!("# Invented by dice, for a test.\ntitle = \"dice\"\nlayout = \"{layout}\"\n")
}

fn tail(dice: &mut Dice, tension: f64, drops: u64, flows: bool, text: &mut String) {
    let _ = write!(text, "[interface]\ntension = \"{tension:e} N/m\"\n[model]\n");
    if dice.once_in(5) {
        let _ = writeln!(text, "radial_inertia = \"on\"");
    }
    if dice.once_in(5) {
        let _ = writeln!(text, "coalescence = \"on\"");
    }
    if dice.once_in(5) {
        let _ = writeln!(text, "end_drag = {}", dice.even(0.3, 1.7));
    }
    if flows {
        let _ = writeln!(text, "[forcing]\nnoise = \"{} %\"\nseed = {}", dice.log(0.05, 2.0), dice.bits() % 1000);
    }
    let _ = writeln!(text, "[run]\ndrops = {drops}\naccuracy = \"coarse\"\nframes = 12");
}

fn coflow(dice: &mut Dice) -> String {
    let mut text = head("coflow");
    let tension = dice.log(5e-4, 0.075);
    let bore = dice.log(1e-4, 3e-3);
    let tip = bore * dice.log(0.005, 0.3);
    liquid(dice, "inner", &mut text);
    let total = PI * 0.25 * bore * bore * dice.log(1e-4, 3.0);
    let ratio = dice.log(1e-4, 0.5);
    let _ = writeln!(text, "flow = \"{:e} m3/s\"", total * ratio);
    liquid(dice, "outer", &mut text);
    let _ = writeln!(text, "flow = \"{total:e} m3/s\"\n[device]");
    let shape = if dice.once_in(2) { "square_bore" } else { "round_bore" };
    let _ = writeln!(text, "{shape} = \"{bore:e} m\"\ntip_bore = \"{tip:e} m\"");
    rim(dice, tip, &mut text);
    if dice.once_in(4) {
        let along = if dice.once_in(2) { "down" } else { "up" };
        let _ = writeln!(text, "[gravity]\nalong = \"{along}\"");
    }
    let drops = 1 + dice.bits() % 3;
    tail(dice, tension, drops, true, &mut text);
    text
}

fn rim(dice: &mut Dice, tip: f64, text: &mut String) {
    if dice.once_in(2) {
        let outer = tip * dice.even(1.1, 2.0);
        let wetting = if dice.once_in(2) { "tip_bore" } else { "tip_outer" };
        let _ = writeln!(text, "tip_outer = \"{outer:e} m\"\nwetting = \"{wetting}\"");
    }
}

fn counterflow(dice: &mut Dice) -> String {
    let mut text = head("counterflow");
    let tension = dice.log(5e-4, 0.075);
    let orifice = dice.log(5e-6, 5e-4);
    // Tip about as wide as the orifice and close to it, as such devices are drawn: far behind a narrow one a drop blocks it.
    let tip = orifice * dice.log(0.3, 1.5);
    let bore = orifice.max(tip) * dice.log(3.0, 60.0);
    liquid(dice, "inner", &mut text);
    let total = PI * 0.25 * orifice * orifice * dice.log(1e-3, 10.0);
    let ratio = dice.log(0.01, 2.0);
    let _ = writeln!(text, "flow = \"{:e} m3/s\"", total * ratio);
    liquid(dice, "outer", &mut text);
    let _ =
        writeln!(text, "flow = \"{total:e} m3/s\"\n[device]\nsquare_bore = \"{bore:e} m\"\ntip_bore = \"{tip:e} m\"");
    rim(dice, tip, &mut text);
    let (length, standoff) = (orifice * dice.log(0.5, 5.0), orifice * dice.log(0.3, 1.5));
    let _ = writeln!(
        text,
        "orifice_bore = \"{orifice:e} m\"\norifice_length = \"{length:e} m\"\nstandoff = \"{standoff:e} m\""
    );
    if !dice.once_in(4) {
        let (wide, over) = (orifice * dice.log(1.2, 6.0), orifice * dice.log(1.0, 10.0));
        let _ = writeln!(text, "collection_bore = \"{wide:e} m\"\ncollection_length = \"{over:e} m\"");
    }
    let drops = 1 + dice.bits() % 3;
    tail(dice, tension, drops, true, &mut text);
    text
}

fn pendant(dice: &mut Dice) -> String {
    let mut text = head("pendant");
    let tension = dice.log(5e-4, 0.075);
    let tip = dice.log(2e-5, 3e-3);
    let (_, density) = liquid(dice, "inner", &mut text);
    let radius = 0.5 * tip;
    let weber = dice.log(1e-6, 15.0);
    let flow = PI * radius * radius * (weber * tension / (density * radius)).sqrt();
    let _ = writeln!(text, "flow = \"{flow:e} m3/s\"");
    let mut along = "down";
    if dice.once_in(3) {
        let (_, outer) = liquid(dice, "outer", &mut text);
        if outer > density {
            along = "up";
        }
    }
    let _ = writeln!(text, "[device]\ntip_bore = \"{tip:e} m\"");
    rim(dice, tip, &mut text);
    if weber < 6.0 || dice.once_in(2) {
        let _ = writeln!(text, "[gravity]\nalong = \"{along}\"");
    }
    let drops = 1 + dice.bits() % 3;
    tail(dice, tension, drops, true, &mut text);
    text
}

fn segment(dice: &mut Dice) -> String {
    let mut text = head("segment");
    let tension = dice.log(5e-4, 0.075);
    liquid(dice, "inner", &mut text);
    if dice.once_in(3) {
        liquid(dice, "outer", &mut text);
    }
    let (radius, x, amplitude) = (dice.log(1e-6, 1e-3), dice.even(0.2, 0.95), dice.log(1e-3, 0.2));
    let _ = writeln!(text, "[thread]\nradius = \"{radius:e} m\"\nwavenumber = {x}\namplitude = {amplitude}");
    tail(dice, tension, 1, false, &mut text);
    text
}
