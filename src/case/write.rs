//! A case as TOML in SI units, for cases that were made or changed in memory.

use super::rheology::{Phase, RealLiquids, Surfactant, Thinning};
use super::{Accuracy, Bore, Case, Layout, Section, Stop, Wetting};
use std::fmt::Write as _;

/// A text that parses to the same case (what was typed is lost).
pub fn to_toml(case: &Case) -> String {
    let mut out = String::new();
    let title: String = case.title.chars().filter(|c| !c.is_control()).collect();
    let _ = writeln!(out, "title = \"{}\"", title.replace('\\', "\\\\").replace('"', "\\\""));
    let _ = writeln!(out, "layout = \"{}\"", case.layout.name());
    let tube = matches!(case.layout, Layout::Coflow | Layout::Counterflow(_));
    section(&mut out, "inner", |s| {
        s.push(("viscosity", quantity(case.inner.viscosity, "Pa.s")));
        s.push(("density", quantity(case.inner.density, "kg/m3")));
        if !matches!(case.layout, Layout::Segment(_)) {
            s.push(("flow", quantity(case.inner.flow, "m3/s")));
        }
        s.extend(rheology(&case.real));
    });
    if let Some(outer) = &case.outer {
        section(&mut out, "outer", |s| {
            s.push(("viscosity", quantity(outer.viscosity, "Pa.s")));
            s.push(("density", quantity(outer.density, "kg/m3")));
            if tube {
                s.push(("flow", quantity(outer.flow, "m3/s")));
            }
            s.extend(case.real.outer_thinning.as_ref().map(thinning).unwrap_or_default());
        });
    }
    section(&mut out, "interface", |s| {
        s.push(("tension", quantity(case.tension, "N/m")));
        if case.tension_of_drops {
            s.push(("tension_at", "\"drop\"".into()));
        }
    });
    surfactant(&mut out, &case.real);
    match case.layout.segment() {
        Some(thread) => {
            section(&mut out, "device", |s| s.extend(bore(case.device.bore)));
            section(&mut out, "thread", |s| {
                s.push(("radius", quantity(thread.radius, "m")));
                s.push(("wavenumber", format!("{:e}", thread.wavenumber)));
                s.push(("amplitude", format!("{:e}", thread.amplitude)));
            });
        }
        None => device(&mut out, case),
    }
    gravity(&mut out, case);
    forcing(&mut out, case);
    control(&mut out, case);
    out
}

fn thinning(t: &Thinning) -> Vec<(&'static str, String)> {
    vec![
        ("thinning_exponent", format!("{:e}", t.exponent)),
        ("thinning_time", quantity(t.time, "s")),
        ("viscosity_infinite", quantity(t.viscosity_infinite, "Pa.s")),
    ]
}

fn rheology(real: &RealLiquids) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    lines.extend(real.thinning.as_ref().map(thinning).unwrap_or_default());
    if let Some(p) = real.polymer {
        lines.push(("polymer_viscosity", quantity(p.viscosity, "Pa.s")));
        lines.push(("relaxation_time", quantity(p.relaxation_time, "s")));
        lines.extend(p.extensibility.map(|l2| ("extensibility", format!("{l2:e}"))));
    }
    lines
}

fn surfactant(out: &mut String, real: &RealLiquids) {
    let word = |word: &str| format!("\"{word}\"");
    section(out, "surfactant", |s| match real.surfactant {
        None => {}
        Some(Surfactant::Insoluble { elasticity, coverage, diffusivity }) => {
            s.push(("kind", word("insoluble")));
            s.push(("elasticity", format!("{elasticity:e}")));
            if let Some(coverage) = coverage {
                s.push(("isotherm", word("langmuir")));
                s.push(("coverage", format!("{coverage:e}")));
            }
            s.push(("surface_diffusivity", quantity(diffusivity, "m2/s")));
        }
        Some(Surfactant::Dissolved { phase, concentration, saturation, affinity, diffusivity, .. }) => {
            s.push(("kind", word("dissolved")));
            s.push(("phase", word(if phase == Phase::Inner { "inner" } else { "outer" })));
            s.push(("concentration", quantity(concentration, "mol/m3")));
            s.push(("saturation", quantity(saturation, "mol/m2")));
            s.push(("affinity", quantity(affinity, "m3/mol")));
            s.push(("diffusivity", quantity(diffusivity, "m2/s")));
        }
    });
}

fn quantity(si: f64, unit: &str) -> String {
    format!("\"{si:e} {unit}\"")
}

fn section(out: &mut String, name: &str, fill: impl FnOnce(&mut Vec<(&'static str, String)>)) {
    let mut lines = Vec::new();
    fill(&mut lines);
    if !lines.is_empty() {
        let _ = writeln!(out, "\n[{name}]");
        for (key, value) in lines {
            let _ = writeln!(out, "{key} = {value}");
        }
    }
}

fn bore(bore: Bore) -> Option<(&'static str, String)> {
    match bore {
        Bore::Square(side) => Some(("square_bore", quantity(side, "m"))),
        Bore::Round(diameter) => Some(("round_bore", quantity(diameter, "m"))),
        Bore::Unbounded => None,
    }
}

fn device(out: &mut String, case: &Case) {
    let d = &case.device;
    section(out, "device", |s| {
        s.extend(bore(d.bore));
        let mut length = |key, value: Option<f64>| s.extend(value.map(|v| (key, quantity(v, "m"))));
        length("round_outer", d.round_outer);
        length("tip_bore", Some(d.tip_bore));
        length("tip_outer", d.tip_outer);
        if let Some(orifice) = case.layout.orifice() {
            length("orifice_bore", Some(orifice.bore));
            length("orifice_length", Some(orifice.length));
            length("standoff", Some(orifice.standoff));
            if orifice.collection_length > 0.0 {
                length("collection_bore", Some(orifice.collection_bore));
                length("collection_length", Some(orifice.collection_length));
            }
        }
        if d.wetting == Wetting::TipOuter {
            s.push(("wetting", "\"tip_outer\"".into()));
        }
    });
}

fn gravity(out: &mut String, case: &Case) {
    if case.gravity != 0.0 {
        section(out, "gravity", |s| {
            s.push(("along", if case.gravity > 0.0 { "\"down\"" } else { "\"up\"" }.into()));
            s.push(("g", quantity(case.gravity.abs(), "m/s2")));
        });
    }
}

fn forcing(out: &mut String, case: &Case) {
    let f = &case.forcing;
    if matches!(case.layout, Layout::Segment(_)) {
        return;
    }
    section(out, "forcing", |s| {
        if f.amplitude > 0.0 {
            s.push(("amplitude", format!("{:e}", f.amplitude)));
            s.push(("frequency", quantity(f.frequency, "Hz")));
        }
        s.push(("noise", format!("{:e}", f.noise)));
        s.push(("seed", f.seed.min(i64::MAX as u64).to_string()));
        if f.step > 0.0 {
            s.push(("step", quantity(f.step, "m3")));
        }
        let o = &f.outer;
        if o.amplitude > 0.0 {
            s.push(("outer_amplitude", format!("{:e}", o.amplitude)));
            s.push(("outer_frequency", quantity(o.frequency, "Hz")));
        }
        if o.noise > 0.0 {
            s.push(("outer_noise", format!("{:e}", o.noise)));
        }
        if o.step > 0.0 {
            s.push(("outer_step", quantity(o.step, "m3")));
        }
        if f.step > 0.0 || o.step > 0.0 {
            s.push(("step_share", format!("{:e}", f.step_share)));
        }
    });
    let Some(ramp) = &f.ramp else { return };
    section(out, "ramp", |s| {
        let flows = [("inner", ramp.inner), ("outer", ramp.outer)];
        s.extend(flows.into_iter().filter_map(|(key, flow)| Some((key, quantity(flow?, "m3/s")))));
        s.push(("start", quantity(ramp.start, "s")));
        s.push(("over", quantity(ramp.over, "s")));
        if let Some(back) = ramp.back {
            s.push(("hold", quantity(ramp.hold, "s")));
            s.push(("back", quantity(back, "s")));
        }
    });
}

fn control(out: &mut String, case: &Case) {
    let (m, r) = (&case.model, &case.run);
    let switch = |on: bool| (if on { "\"on\"" } else { "\"off\"" }).to_owned();
    section(out, "model", |s| {
        s.push(("end_drag", format!("{:e}", m.end_drag)));
        s.push(("coalescence", switch(m.coalescence)));
        s.push(("radial_inertia", switch(m.radial_inertia)));
        if m.parabolic_inflow {
            s.push(("inflow_profile", "\"parabola\"".to_owned()));
        }
        if let Some(section) = m.section {
            let word = match section {
                Section::TwoFields => "\"two_fields\"",
                Section::Closures => "\"closures\"",
            };
            s.push(("section", word.to_owned()));
        }
    });
    section(out, "run", |s| {
        match r.stop {
            Stop::Drops(n) => s.push(("drops", n.to_string())),
            Stop::Until(t) => s.push(("until", quantity(t, "s"))),
        }
        if r.accuracy != Accuracy::Standard {
            s.push(("accuracy", format!("\"{}\"", r.accuracy.name())));
        }
        s.push(("frames", r.frames.to_string()));
    });
}
