//! `check`: is the case well posed, and what will the bench need? A few coarse drops at most are simulated ([`super::trial`]).

use super::quantity::{length, number, percent, pressure, rate, time, velocity};
use super::text::Page;
use super::answer::{self, Answer};
use super::trial;
use super::{Failure, Output, print_json, print_page};
use crate::case::glass::{Inlet, Pressures};
use crate::case::{Case, Layout, Problem, Typed};
use crate::device::strength;
use crate::groups::groups;
use crate::limits::base_flow::{BaseFlow, JetDiameter, base_flow, jet};
use crate::limits::expected::{Camera, Expected, FRAMES_PER_DROP, camera, expected};
use crate::limits::model_error::model_error;
use crate::limits::{assumed, cautions};
use crate::outcome::{Groups, Mode, ModelError, Size, Warning};
use crate::simulate;
use serde::Serialize;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case file (TOML); - reads standard input
    case: PathBuf,
    #[command(flatten)]
    changes: super::case_file::Changes,
}

/// Settling times to wait (common practice, no source).
const SETTLING_TIMES: [f64; 2] = [3.0, 5.0];

/// Everything `check` tells; the keys of `check --json`.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Checked {
    pub schema: &'static str,
    pub version: &'static str,
    pub valid: bool,
    pub title: String,
    pub layout: String,
    pub inputs: Vec<Input>,
    pub groups: Groups,
    pub base_flow: Option<BaseFlow>,
    pub jet: Option<JetDiameter>,
    pub expected: Expected,
    /// Where the diameter of a bench drop is expected to lie.
    pub size: Size,
    /// The model's own error of the diameter that a run of this case would give, in the expected mode.
    pub model_error: ModelError,
    pub pressure: Option<PressureTold>,
    pub settling: Option<Settling>,
    pub camera: Option<Camera>,
    pub hours_per_ml: Option<f64>,
    pub warnings: Vec<Warning>,
    /// What was taken without being typed and moves the answer.
    pub assumed: Vec<String>,
    pub cautions: Vec<String>,
}

/// A case with something wrong in it.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Refused {
    pub valid: bool,
    pub file: String,
    pub problems: Vec<Problem>,
}

/// Layout of `check --json` and its version.
pub const SCHEMA: &str = "slenderjet-check-1";

/// A quantity as typed and in SI.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Input {
    pub key: String,
    pub typed: String,
    pub si: f64,
    pub unit: String,
    pub tolerance: Option<f64>,
}

/// Pressures above the outlet.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct PressureTold {
    pub inner_pa: f64,
    pub inner_parts: Vec<Part>,
    pub inner_guide_pa: f64,
    pub outer_pa: Option<f64>,
    pub outer_parts: Vec<Part>,
    pub outer_guide_pa: Option<f64>,
    pub jammed: Vec<Jammed>,
    pub assumed: Vec<String>,
    pub note: &'static str,
}

#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Part {
    pub name: &'static str,
    pub pa: f64,
}

#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Jammed {
    pub syringe_m3: f64,
    pub pa: f64,
}

#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Settling {
    pub tau_s: f64,
    pub wait_s: [f64; 2],
    pub trapped_air_m3: f64,
}

/// Checks a case and tells what is known without a run of it.
///
/// # Errors
/// Everything that is wrong with the file.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = match super::case_file::read(&args.case, &args.changes) {
        Ok(case) => case,
        Err(errors) if how.json => {
            super::print_answer(&Refused { valid: false, file: errors.file.clone(), problems: errors.problems.clone() })?;
            return Err(super::case_file::failure(&errors));
        }
        Err(errors) => return Err(super::case_file::failure(&errors)),
    };
    if matches!(case.layout, Layout::Segment(_)) && let Some((key, what)) = case.real.effects().first() {
        let why = format!("{}: {key}: `check` does not know {what} on a segment; `growth` and `run` do", args.case.display());
        return Err(Failure::Input(why));
    }
    simulate::computes(&case).map_err(|why| Failure::Input(format!("{}: {why}", args.case.display())))?;
    let told = check(&case);
    if how.json {
        print_json(&told)
    } else if how.quiet {
        Ok(())
    } else {
        print_page(page(&case, &told, how.verbose > 0))
    }
}

/// Everything that is known of a case without a run of it.
pub fn check(case: &Case) -> Checked {
    let thread = !matches!(case.layout, Layout::Segment(_));
    let found = trial::seen(case, expected(case));
    let (expected, size) = (found.expected, found.size);
    let warnings = found.warnings;
    let pressures = Pressures::of(case);
    Checked {
        schema: SCHEMA,
        version: env!("CARGO_PKG_VERSION"),
        valid: true,
        title: case.title.clone(),
        layout: case.layout.name().into(),
        inputs: case.typed.iter().map(input).collect(),
        groups: groups(case),
        base_flow: thread.then(|| base_flow(case)),
        jet: thread.then(|| jet(case)).flatten(),
        camera: camera(case, &expected),
        model_error: model_error(case, expected.mode),
        size,
        expected,
        settling: pressures.as_ref().map(|p| settling(case, p)),
        pressure: pressures.map(|p| pressure_told(case, p)),
        hours_per_ml: (thread && case.inner.flow > 0.0).then(|| 1e-6 / case.inner.flow / 3600.0),
        warnings,
        assumed: assumed(case),
        cautions: cautions::cautions(case),
    }
}

fn input(typed: &Typed) -> Input {
    Input {
        key: typed.key.clone(),
        typed: typed.text.clone(),
        si: typed.si,
        unit: typed.unit.to_string(),
        tolerance: typed.tolerance,
    }
}

fn pressure_told(case: &Case, p: Pressures) -> PressureTold {
    let parts = |inlet: &Inlet| inlet.parts.iter().map(|(name, pa)| Part { name, pa: *pa }).collect();
    let supply = case.supply();
    let typed: Vec<f64> = [supply.inner_syringe, supply.outer_syringe].into_iter().flatten().collect();
    let syringes = if typed.is_empty() { strength::SYRINGES.map(|s| s.0).to_vec() } else { typed };
    PressureTold {
        inner_pa: p.inner.total,
        inner_parts: parts(&p.inner),
        inner_guide_pa: cautions::guide_inner(case).0,
        outer_pa: p.outer.as_ref().map(|o| o.total),
        outer_parts: p.outer.as_ref().map(parts).unwrap_or_default(),
        outer_guide_pa: p.outer.as_ref().map(|_| cautions::guide_outer(case).0),
        jammed: syringes.into_iter().map(|v| Jammed { syringe_m3: v, pa: strength::jammed(v) }).collect(),
        assumed: supply.assumed,
        note: "estimate, not a rating; tapers, joints and tubing are not covered",
    }
}

fn settling(case: &Case, p: &Pressures) -> Settling {
    Settling {
        tau_s: p.settling,
        wait_s: SETTLING_TIMES.map(|n| n * p.settling),
        trapped_air_m3: case.supply().trapped_air,
    }
}

fn page(case: &Case, c: &Checked, detailed: bool) -> Page {
    let mut page = Page::new();
    page.titled(&c.title, &c.layout);
    let short = short(c);
    short.put(&mut page);
    if detailed {
        inputs(&mut page, c);
    }
    if let Some(base) = &c.base_flow {
        base_page(&mut page, base, c);
    }
    if detailed {
        groups_page(&mut page, &c.groups, case);
    }
    expected_page(&mut page, c);
    if let Some(p) = &c.pressure {
        pressure_page(&mut page, p, c, detailed);
    }
    if !c.warnings.is_empty() {
        page.heading("Limits of the model that this case exceeds");
        c.warnings.iter().for_each(|w| page.warning(&w.code, &w.text));
    }
    if !c.cautions.is_empty() {
        page.heading("Cautions");
        c.cautions.iter().for_each(|text| page.item(text));
    }
    page.heading("In short (`slenderjet run` decides)");
    short.put(&mut page);
    page
}

/// The answer in a few lines.
fn short(c: &Checked) -> Answer {
    let (mut a, e) = (Answer::default(), &c.expected);
    a.line("well posed", if e.mode == Mode::None { "yes".into() } else { format!("yes; expected: {}", e.mode) });
    if let Some(d) = e.drop_diameter_m {
        a.line("drops", format!("about {}, from {}", answer::sized(d, &c.size), e.drop_diameter_by));
    }
    if let Some(r) = e.rate_per_s {
        let camera = c.camera.as_ref().map_or(String::new(), |k| format!("; camera from {} frames/s", round(k.frames_per_s)));
        let litre = c.hours_per_ml.map_or(String::new(), |h| format!("; {} for 1 mL", time(3600.0 * round(h))));
        a.line("rate", format!("about {}{camera}{litre}", rate(round(r))));
    }
    if let Some(p) = &c.pressure {
        let outer = p.outer_pa.map_or(String::new(), |pa| format!(", outer {}", pressure(round(pa))));
        a.line("pressure", format!("inner {}{outer} (estimate)", pressure(round(p.inner_pa))));
    }
    answer::last(&mut a, &c.assumed, &c.warnings);
    a
}

/// Two significant figures.
fn round(x: f64) -> f64 {
    format!("{x:.1e}").parse().unwrap_or(x)
}

fn inputs(page: &mut Page, c: &Checked) {
    page.heading("As typed, and in SI");
    let rows: Vec<Vec<String>> = c
        .inputs
        .iter()
        .map(|i| {
            let si = if i.unit == "1" { number(i.si) } else { format!("{} {}", number(i.si), i.unit) };
            vec![i.key.clone(), crate::units::quoted(&i.typed), si, i.tolerance.map_or(String::new(), |t| format!("+- {}", percent(t)))]
        })
        .collect();
    page.table(&["key", "typed", "SI", "spread"], &rows);
}

fn base_page(page: &mut Page, base: &BaseFlow, c: &Checked) {
    page.heading("Base flow");
    page.fact("inner, in the tip", &velocity(base.inner_velocity_tip_m_per_s));
    page.fact_if("outer, past the tip", base.outer_velocity_tip_m_per_s.map(|u| format!("{} on average", velocity(u))));
    page.fact_if("outer, on the axis", base.outer_velocity_axis_m_per_s.map(velocity));
    page.fact_if(
        "wall seen by thread",
        base.wall_radius_m.map(|r| match base.wall_radius_at_tip_m {
            Some(tip) if (tip - r).abs() > 1e-9 * r => {
                format!("radius {} at the tip, {} at the narrowest", length(tip), length(r))
            }
            _ => format!("radius {}", length(r)),
        }),
    );
    if let (Some(h), Some(x)) = (base.core_radius_m, base.confinement) {
        page.fact("developed thread", &format!("radius {}, confinement {} (exact core-annular flow)", length(h), number(x)));
    }
    if let Some(jet) = &c.jet {
        let text = format!(
            "{} if both run at one speed (plug), {} if the flow is developed; a run starts from the {} one",
            length(jet.plug_m),
            length(jet.developed_m),
            jet.run_uses
        );
        page.fact("jet diameter", &text);
    }
    page.fact_if("inner liquid", c.hours_per_ml.map(|h| format!("{} for each mL", time(3600.0 * h))));
}

fn groups_page(page: &mut Page, g: &Groups, case: &Case) {
    page.heading(&format!("Groups (on the radius {})", length(crate::groups::length(case))));
    page.fact("Ohnesorge, Bond", &format!("{}, {}", number(g.ohnesorge), number(g.bond)));
    if !matches!(case.layout, Layout::Segment(_)) {
        page.fact("Weber inner", &number(g.weber_inner));
    }
    page.fact_if("capillary outer", g.capillary_outer.map(|ca| format!("{} (velocity on the axis)", number(ca))));
    let outer = g.reynolds_outer.map_or(String::new(), |r| format!(", {} outer", number(r)));
    if !matches!(case.layout, Layout::Segment(_)) {
        page.fact("Reynolds", &format!("{} inner{outer}", number(g.reynolds_inner)));
    }
    let ratios = [("viscosity", g.viscosity_ratio), ("flow", g.flow_ratio), ("density", g.density_ratio)];
    let words: Vec<String> = ratios.iter().filter_map(|(n, r)| Some(format!("{n} {}", number((*r)?)))).collect();
    page.fact_if("inner over outer", (!words.is_empty()).then(|| words.join(", ")));
    if let Some(thinned) = &g.at_rate {
        super::summary::at_rate(page, thinned);
    }
}

fn expected_page(page: &mut Page, c: &Checked) {
    let e = &c.expected;
    page.heading("Expected (estimates)");
    page.fact("mode", &format!("{}: {}", e.mode, e.text));
    page.fact_if("drop diameter", e.drop_diameter_m.map(|d| format!("about {}, from {}", length(d), e.drop_diameter_by)));
    page.fact_if("drop rate", e.rate_per_s.map(|r| format!("about {}", rate(r))));
    if e.mode != Mode::None {
        page.fact("model error of a run", &c.model_error.words());
    }
    page.fact_if(
        "camera",
        c.camera.as_ref().map(|k| {
            format!(
                "at least {} frames a second ({FRAMES_PER_DROP} a drop), exposure below {}",
                number(k.frames_per_s),
                time(k.exposure_s)
            )
        }),
    );
}

fn pressure_page(page: &mut Page, p: &PressureTold, c: &Checked, detailed: bool) {
    page.heading(&format!("Pressures above the outlet ({})", p.note));
    let line = |pa: f64, parts: &[Part]| {
        let words: Vec<String> =
            parts.iter().filter(|part| part.pa > 0.01 * pa).map(|part| format!("{} {}", part.name, pressure(part.pa))).collect();
        format!("{}: {}", pressure(pa), words.join(", "))
    };
    page.fact("inner inlet", &line(p.inner_pa, &p.inner_parts));
    page.fact_if("outer inlet", p.outer_pa.map(|pa| line(pa, &p.outer_parts)));
    let jammed: Vec<String> =
        p.jammed.iter().map(|j| format!("{} mL: {}", number(1e6 * j.syringe_m3), pressure(j.pa))).collect();
    page.fact("tip jammed", &format!("by syringe, {}", jammed.join("; ")));
    if let Some(s) = &c.settling {
        let text = format!(
            "time constant {} with {} uL of air in the line: wait {} to {}",
            time(s.tau_s),
            number(1e9 * s.trapped_air_m3),
            time(s.wait_s[0]),
            time(s.wait_s[1])
        );
        page.fact("feed line settles", &text);
    }
    if !p.assumed.is_empty() {
        let head = if detailed { "assumed" } else { "assumed, since not typed" };
        page.fact(head, &p.assumed.join("; "));
    }
}
