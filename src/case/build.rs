//! Checked values -> [`Case`]: what each layout needs, what it has no use for, what is left out.

use super::keys::{self, KEYS};
use super::problem::Code;
use super::reader::Reader;
use super::{
    Accuracy, Bore, Case, Device, Forcing, Layout, LayoutKind, Model, Orifice, OuterForcing, Ramp, RunControl, Section,
    Segment, Stop, Stream, Wetting,
};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// Drops of a run that names no end, and snapshots recorded.
const DROPS_DEFAULT: u32 = 20;
const FRAMES_DEFAULT: usize = 400;
/// Standard acceleration of gravity (exact by definition, 3rd CGPM 1901), m/s2.
const STANDARD_GRAVITY: f64 = 9.80665;

/// Builds the case as far as its keys allow; where one is missing or wrong, the reader has a problem and the case is of
/// no use.
pub fn build(reader: &mut Reader, text: &str) -> Option<Case> {
    let Some(kind) = reader.layout else {
        if !reader.is_answered("layout") {
            let names: Vec<&str> = keys::LAYOUTS.iter().map(|l| l.name()).collect();
            let right = format!("write layout = \"{}\" at the top", names.join("\" or \""));
            reader.report(Code::MissingKey, "layout", "is missing".into(), right, None);
        }
        return None;
    };
    without_use(reader, kind);
    alternatives(reader, kind);
    interface(reader, kind);
    missing(reader, kind);
    let tube = matches!(kind, LayoutKind::Coflow | LayoutKind::Counterflow);
    let has_outer = tube || reader.document.entries.iter().any(|e| e.key.starts_with("outer."));
    let layout = match kind {
        LayoutKind::Coflow => Layout::Coflow,
        LayoutKind::Counterflow => Layout::Counterflow(orifice(reader)),
        LayoutKind::Pendant => Layout::Pendant,
        LayoutKind::Segment => Layout::Segment(segment(reader)),
    };
    let real = super::rheology::read(reader, kind);
    Some(Case {
        title: reader.text("title").unwrap_or_default(),
        layout,
        inner: stream(reader, "inner"),
        outer: has_outer.then(|| stream(reader, "outer")),
        tension: value(reader, "interface.tension"),
        tension_of_drops: reader.text("interface.tension_at").is_some_and(|at| at == "drop"),
        real,
        device: device(reader, &layout),
        gravity: gravity(reader),
        forcing: forcing(reader),
        model: model(reader),
        run: run(reader),
        typed: reader.typed.clone(),
        text: text.to_owned(),
    })
}

/// A value that was asked for: NaN only where a problem says so.
fn value(reader: &Reader, key: &str) -> f64 {
    reader.real(key).unwrap_or(f64::NAN)
}

/// Keys that the layout has no use for are refused: a key that does nothing misleads.
fn without_use(reader: &mut Reader, layout: LayoutKind) {
    for key in KEYS.iter().filter(|k| !k.belongs_to(layout)) {
        if reader.has(key.name) {
            let right = match key.name {
                "outer.flow" => {
                    "the surrounding liquid is at rest there; for two streams write layout = \"coflow\"".into()
                }
                _ => format!("it belongs to layout {}", key.layouts().join(", ")),
            };
            reader.report(
                Code::Contradiction,
                key.name,
                format!("layout {} has no use for it", layout.name()),
                right,
                None,
            );
        }
    }
}

/// Keys that stand for each other.
fn alternatives(reader: &mut Reader, layout: LayoutKind) {
    let pairs: &[(&str, &str, bool)] = match layout {
        LayoutKind::Coflow | LayoutKind::Counterflow => {
            &[("device.square_bore", "device.round_bore", true), ("run.drops", "run.until", false)]
        }
        LayoutKind::Pendant => &[("run.drops", "run.until", false)],
        LayoutKind::Segment => &[("thread.wavenumber", "thread.wavelength", true), ("run.drops", "run.until", false)],
    };
    for (one, other, needed) in pairs {
        if reader.has(one) && reader.has(other) {
            let right = format!("give either {one} or {other}");
            reader.report(Code::Contradiction, other, format!("stands beside {one}"), right, None);
        } else if *needed && !reader.is_answered(one) && !reader.is_answered(other) {
            let about = |name| keys::find(name).map_or("", |k| k.about);
            let right = format!("{} ({one}) or {} ({other}) is needed", about(one), about(other));
            reader.report(Code::MissingKey, one, "is missing".into(), right, None);
        }
    }
}

/// The tension of a known pair of liquids, where none was typed.
fn interface(reader: &mut Reader, layout: LayoutKind) {
    if reader.is_answered("interface.tension") {
        return;
    }
    let Some(inner) = reader.text("inner.liquid") else { return };
    let surrounded = layout != LayoutKind::Pendant && layout != LayoutKind::Segment
        || reader.document.entries.iter().any(|e| e.key.starts_with("outer."));
    let outer = if surrounded { reader.text("outer.liquid") } else { Some("air".to_owned()) };
    let Some(outer) = outer else { return };
    if let Some(tension) = crate::liquids::tension_between(&inner, &outer, reader.real("inner.temperature")) {
        let text = format!("from the table: {inner} in {outer}, without surfactant");
        reader.put("interface.tension", tension.si, crate::units::Kind::Tension, text, Some(tension.spread));
    }
}

fn needed(layout: LayoutKind) -> &'static [&'static str] {
    match layout {
        LayoutKind::Coflow => &[
            "inner.viscosity",
            "inner.density",
            "inner.flow",
            "outer.viscosity",
            "outer.density",
            "outer.flow",
            "interface.tension",
            "device.tip_bore",
        ],
        LayoutKind::Counterflow => &[
            "inner.viscosity",
            "inner.density",
            "inner.flow",
            "outer.viscosity",
            "outer.density",
            "outer.flow",
            "interface.tension",
            "device.tip_bore",
            "device.orifice_bore",
            "device.orifice_length",
            "device.standoff",
        ],
        LayoutKind::Pendant => {
            &["inner.viscosity", "inner.density", "inner.flow", "interface.tension", "device.tip_bore"]
        }
        LayoutKind::Segment => {
            &["inner.viscosity", "inner.density", "interface.tension", "thread.radius", "thread.amplitude"]
        }
    }
}

/// One problem for each section that lacks keys.
fn missing(reader: &mut Reader, layout: LayoutKind) {
    let mut wanted: Vec<&'static str> = needed(layout).to_vec();
    let mentioned = reader.document.entries.iter().any(|e| e.key.starts_with("outer."));
    if mentioned && matches!(layout, LayoutKind::Pendant | LayoutKind::Segment) {
        wanted.extend(["outer.viscosity", "outer.density"]);
    }
    for (given, also) in [
        ("device.collection_bore", "device.collection_length"),
        ("device.collection_length", "device.collection_bore"),
        ("forcing.frequency", "forcing.amplitude"),
        ("forcing.outer_frequency", "forcing.outer_amplitude"),
        ("ramp.inner", "ramp.over"),
        ("ramp.outer", "ramp.over"),
        ("ramp.start", "ramp.over"),
        ("ramp.hold", "ramp.back"),
        ("ramp.back", "ramp.over"),
    ] {
        if reader.has(given) && keys::find(also).is_some_and(|k| k.belongs_to(layout)) {
            wanted.push(also);
        }
    }
    if reader.real("forcing.amplitude").is_some_and(|a| a > 0.0) {
        wanted.push("forcing.frequency");
    }
    if reader.real("forcing.outer_amplitude").is_some_and(|a| a > 0.0) {
        wanted.push("forcing.outer_frequency");
    }
    if reader.has("ramp.over") && !reader.has("ramp.outer") {
        wanted.push("ramp.inner");
    }
    if reader.text("device.wetting").is_some_and(|w| w == "tip_outer") {
        wanted.push("device.tip_outer");
    }
    let mut by_section: BTreeMap<&str, Vec<&'static str>> = BTreeMap::new();
    for key in wanted {
        if !reader.is_answered(key) {
            by_section.entry(key.split('.').next().unwrap_or_default()).or_default().push(key);
        }
    }
    for (section, keys) in by_section {
        report_missing(reader, layout, section, &keys);
    }
}

fn report_missing(reader: &mut Reader, layout: LayoutKind, section: &str, absent: &[&'static str]) {
    let line = |name: &&'static str| {
        let (about, example) = keys::find(name).map_or(("", ""), |k| (k.about, k.example));
        format!("{} = \"{example}\" ({about})", name.split('.').next_back().unwrap_or(name))
    };
    let lines: Vec<String> = absent.iter().map(line).collect();
    let found = match absent.len() {
        1 => format!("is missing; layout {} needs it", layout.name()),
        n => {
            let others: Vec<String> = absent[1..].iter().map(|k| format!("`{k}`")).collect();
            format!(
                "and {} are missing; layout {} needs {}",
                others.join(" and "),
                layout.name(),
                if n == 2 { "both" } else { "all" }
            )
        }
    };
    let mut right = format!("add to [{section}]: {}", lines.join(", "));
    if absent.iter().any(|k| k.ends_with("viscosity") || k.ends_with("density"))
        && !reader.has(&format!("{section}.liquid"))
    {
        right.push_str("; or name a liquid of `slenderjet liquids`");
    }
    reader.report(Code::MissingKey, absent[0], found, right, None);
}

fn stream(reader: &Reader, section: &str) -> Stream {
    let key = |name: &str| format!("{section}.{name}");
    Stream {
        liquid: reader.text(&key("liquid")),
        viscosity: value(reader, &key("viscosity")),
        density: value(reader, &key("density")),
        flow: reader.real(&key("flow")).unwrap_or(0.0),
    }
}

fn device(reader: &Reader, layout: &Layout) -> Device {
    let bore = match (layout, reader.real("device.square_bore"), reader.real("device.round_bore")) {
        (Layout::Pendant, _, _) | (Layout::Segment(_), _, None) => Bore::Unbounded,
        (_, Some(side), _) => Bore::Square(side),
        (_, None, diameter) => Bore::Round(diameter.unwrap_or(f64::NAN)),
    };
    let wetting = match reader.text("device.wetting").as_deref() {
        Some("tip_outer") => Wetting::TipOuter,
        _ => Wetting::TipBore,
    };
    Device {
        bore,
        round_outer: reader.real("device.round_outer"),
        tip_bore: layout.segment().map_or(value(reader, "device.tip_bore"), |s| 2.0 * s.radius),
        tip_outer: reader.real("device.tip_outer"),
        wetting,
    }
}

fn orifice(reader: &Reader) -> Orifice {
    let bore = value(reader, "device.orifice_bore");
    Orifice {
        bore,
        length: value(reader, "device.orifice_length"),
        standoff: value(reader, "device.standoff"),
        collection_bore: reader.real("device.collection_bore").unwrap_or(bore),
        collection_length: reader.real("device.collection_length").unwrap_or(0.0),
    }
}

fn segment(reader: &Reader) -> Segment {
    let radius = value(reader, "thread.radius");
    let wavenumber = match (reader.real("thread.wavenumber"), reader.real("thread.wavelength")) {
        (Some(x), _) => x,
        (None, Some(wavelength)) => 2.0 * PI * radius / wavelength,
        (None, None) => f64::NAN,
    };
    let amplitude = value(reader, "thread.amplitude");
    Segment { radius, wavenumber, amplitude }
}

fn gravity(reader: &Reader) -> f64 {
    let g = reader.real("gravity.g").unwrap_or(STANDARD_GRAVITY);
    match reader.text("gravity.along").as_deref() {
        Some("down") => g,
        Some("up") => -g,
        _ => 0.0,
    }
}

fn forcing(reader: &Reader) -> Forcing {
    let default = Forcing::default();
    Forcing {
        amplitude: reader.real("forcing.amplitude").unwrap_or(default.amplitude),
        frequency: reader.real("forcing.frequency").unwrap_or(default.frequency),
        noise: reader.real("forcing.noise").unwrap_or(default.noise),
        seed: reader.count("forcing.seed").unwrap_or(default.seed),
        step: reader.real("forcing.step").unwrap_or(default.step),
        outer: OuterForcing {
            amplitude: reader.real("forcing.outer_amplitude").unwrap_or(default.outer.amplitude),
            frequency: reader.real("forcing.outer_frequency").unwrap_or(default.outer.frequency),
            noise: reader.real("forcing.outer_noise").unwrap_or(default.outer.noise),
            step: reader.real("forcing.outer_step").unwrap_or(default.outer.step),
        },
        step_share: reader.real("forcing.step_share").unwrap_or(default.step_share),
        ramp: reader.real("ramp.over").map(|over| Ramp {
            inner: reader.real("ramp.inner"),
            outer: reader.real("ramp.outer"),
            start: reader.real("ramp.start").unwrap_or(0.0),
            over,
            hold: reader.real("ramp.hold").unwrap_or(0.0),
            back: reader.real("ramp.back"),
        }),
    }
}

fn model(reader: &Reader) -> Model {
    let default = Model::default();
    let switch = |key: &str, otherwise: bool| reader.text(key).map_or(otherwise, |word| word == "on");
    Model {
        end_drag: reader.real("model.end_drag").unwrap_or(default.end_drag),
        coalescence: switch("model.coalescence", default.coalescence),
        radial_inertia: switch("model.radial_inertia", default.radial_inertia),
        parabolic_inflow: reader.text("model.inflow_profile").is_some_and(|word| word == "parabola"),
        section: reader.text("model.section").and_then(|word| match word.as_str() {
            "two_fields" => Some(Section::TwoFields),
            "closures" => Some(Section::Closures),
            _ => None,
        }),
    }
}

fn run(reader: &Reader) -> RunControl {
    let drops = reader.count("run.drops").and_then(|n| u32::try_from(n).ok()).unwrap_or(DROPS_DEFAULT);
    RunControl {
        stop: reader.real("run.until").map_or(Stop::Drops(drops), Stop::Until),
        accuracy: match reader.text("run.accuracy").as_deref() {
            Some("coarse") => Accuracy::Coarse,
            Some("fine") => Accuracy::Fine,
            _ => Accuracy::Standard,
        },
        frames: reader.count("run.frames").and_then(|n| usize::try_from(n).ok()).unwrap_or(FRAMES_DEFAULT),
    }
}
