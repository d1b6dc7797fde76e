//! Cases side by side, and what their difference comes from.

use crate::case::{Case, Layout};
use crate::device::core_annular::axis_velocity;
use crate::device::wall::WallProfile;
use crate::outcome::{Established, Mode, ModelError, Size, Summary};
use crate::study::StudyError;
use crate::study::evaluate::{Counted, quick};
use crate::study::map::fill::in_parallel;
use crate::study::margins::{self, Margin};
use serde::Serialize;
use std::f64::consts::PI;

/// One case of a comparison. SI; missing is `None`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Compared {
    /// As the user calls it (the file's name).
    pub name: String,
    pub title: String,
    pub layout: String,
    /// Null where there was no answer.
    pub mode: Option<Mode>,
    pub mode_evidence: String,
    /// Whether the run came to repeat itself, and what speaks for or against it.
    pub established: Established,
    pub mean_diameter_m: Option<f64>,
    /// Where the diameter of a bench drop is expected to lie.
    pub size: Size,
    /// The model's own error of it, relative.
    pub model_error_relative: Option<f64>,
    /// How that is known, or why it is not.
    pub model_error: ModelError,
    pub cv: Option<f64>,
    pub rate_per_s: Option<f64>,
    pub satellites_per_primary: Option<f64>,
    pub satellite_volume_fraction: Option<f64>,
    pub jet_length_m: Option<f64>,
    pub inner_pressure_pa: Option<f64>,
    pub outer_pressure_pa: Option<f64>,
    pub inner_flow_m3_per_s: f64,
    pub outer_flow_m3_per_s: Option<f64>,
    /// Speed of all liquid on the axis where the stream is narrowest, as if the tube were round and filled.
    pub outer_speed_m_per_s: Option<f64>,
    /// Capillary number of the outer liquid at that speed.
    pub capillary_narrowest: Option<f64>,
    pub margins: Vec<Margin>,
    pub warnings: Vec<String>,
    /// Why there is no answer; empty where there is one.
    pub reason: String,
}

/// The answer of `compare`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Comparison {
    pub cases: Vec<Compared>,
    /// One sentence for each case after the first, against the first.
    pub statements: Vec<String>,
    /// Runs of all kinds.
    pub evaluations: usize,
}

/// Drops of a coarse run behind a margin or an attribution.
const DROPS: u32 = 8;

/// Compare cases; with `with_margins` each gets its margins, which takes some 20 to 25 coarse runs and 10 at its own accuracy.
///
/// # Errors
/// Where the runs were interrupted or threads cannot be started.
pub fn compare(
    cases: &[(String, Case)],
    with_margins: bool,
    ask: &Counted<'_>,
    threads: usize,
) -> Result<Comparison, StudyError> {
    let answers = in_parallel(threads, cases, |(_, case)| ask.ask(case).map(|outcome| outcome.summary))?;
    let mut compared = Vec::new();
    for ((name, case), answer) in cases.iter().zip(&answers) {
        if matches!(answer, Err(StudyError::Interrupted)) {
            return Err(StudyError::Interrupted);
        }
        let mut row = row(name, case, answer);
        if with_margins && row.mean_diameter_m.is_some() {
            row.margins = match margins::margins(case, answer.as_ref().ok(), DROPS, ask, threads) {
                Err(why @ StudyError::Interrupted) => return Err(why),
                found => found.unwrap_or_default(),
            };
        }
        compared.push(row);
    }
    let statements = (1..cases.len())
        .map(|i| statement(&cases[0].1, &compared[0], &cases[i].1, &compared[i], ask))
        .collect::<Result<_, _>>()?;
    Ok(Comparison { cases: compared, statements, evaluations: ask.count() })
}

fn row(name: &str, case: &Case, answer: &Result<Summary, StudyError>) -> Compared {
    let s = answer.as_ref().ok();
    let speed = narrowest_speed(case);
    Compared {
        name: name.into(),
        title: case.title.clone(),
        layout: case.layout.name().into(),
        mode: s.map(|s| s.mode),
        mode_evidence: s.map_or(String::new(), |s| s.mode_evidence.clone()),
        established: s.map_or_else(Established::default, |s| s.established.clone()),
        mean_diameter_m: s.and_then(|s| s.primary.mean_diameter_m),
        size: s.map_or_else(Size::default, |s| s.size.clone()),
        model_error_relative: s.and_then(|s| s.primary.model_error_relative),
        model_error: s.map_or_else(ModelError::default, |s| s.model_error.clone()),
        cv: s.and_then(|s| s.primary.cv),
        rate_per_s: s.and_then(|s| s.primary.rate_per_s),
        satellites_per_primary: s.and_then(|s| s.satellites.per_primary),
        satellite_volume_fraction: s.and_then(|s| s.satellites.volume_fraction),
        jet_length_m: s.and_then(|s| s.jet.as_ref().map(|jet| jet.length_m)),
        inner_pressure_pa: s.and_then(|s| s.pressure.inner_pa),
        outer_pressure_pa: s.and_then(|s| s.pressure.outer_pa),
        inner_flow_m3_per_s: case.inner.flow,
        outer_flow_m3_per_s: case.outer.as_ref().map(|o| o.flow),
        outer_speed_m_per_s: speed,
        capillary_narrowest: case.outer.as_ref().zip(speed).map(|(o, u)| o.viscosity * u / case.tension),
        margins: Vec::new(),
        warnings: s.map_or(Vec::new(), |s| s.warnings.iter().map(|w| w.code.clone()).collect()),
        reason: match answer {
            Err(why) => why.to_string(),
            Ok(s) if s.primary.mean_diameter_m.is_none() => {
                format!("no settled drop ({})", s.why_no_drop())
            }
            Ok(_) => String::new(),
        },
    }
}

/// Speed of the whole flow on the axis where the stream is narrowest.
fn narrowest_speed(case: &Case) -> Option<f64> {
    let radius = WallProfile::of(case).narrowest()?;
    let flow = case.inner.flow + case.outer.as_ref()?.flow;
    Some(axis_velocity(flow, radius))
}

fn times(ratio: f64) -> String {
    if ratio >= 1.0 { format!("{ratio:.2} times") } else { format!("1/{:.2} of", 1.0 / ratio) }
}

/// What the second case does otherwise than the first, and why.
fn statement(a: &Case, ra: &Compared, b: &Case, rb: &Compared, ask: &Counted<'_>) -> Result<String, StudyError> {
    let (Some(da), Some(db)) = (ra.mean_diameter_m, rb.mean_diameter_m) else {
        let silent = if ra.mean_diameter_m.is_none() { ra } else { rb };
        return Ok(format!("{} and {} cannot be compared: {} gives {}.", ra.name, rb.name, silent.name, silent.reason));
    };
    let ratio = db / da;
    let what = format!(
        "{} gives drops of {} the diameter of {} ({:.1} against {:.1} um), {}",
        rb.name,
        times(ratio),
        ra.name,
        1e6 * db,
        1e6 * da,
        match (ra.mode, rb.mode) {
            (a, b) if a == b => format!("both {}", Mode::word_of(a)),
            (a, b) => format!("{} against {}", Mode::word_of(b), Mode::word_of(a)),
        }
    );
    let why = if a.layout.kind() == b.layout.kind() { by_inputs(a, ra, b, ask)? } else { by_speed(a, ra, b, rb, ask)? };
    Ok(format!("{what}: {why}."))
}

/// Two layouts: the speed with which the outer liquid passes the place where the thread is drawn out.
fn by_speed(a: &Case, ra: &Compared, b: &Case, rb: &Compared, ask: &Counted<'_>) -> Result<String, StudyError> {
    let (Some(ua), Some(ub)) = (ra.outer_speed_m_per_s, rb.outer_speed_m_per_s) else {
        return Ok("one of them has no outer stream that draws the thread out".into());
    };
    let place = |case: &Case| match (case.layout, WallProfile::of(case).narrowest()) {
        (Layout::Counterflow(_), Some(r)) => format!("an orifice of {:.0} um", 2e6 * r),
        (_, Some(r)) => format!("a channel as wide as a round tube of {:.0} um", 2e6 * r),
        _ => "the open".into(),
    };
    let number = |r: &Compared| r.capillary_narrowest.map_or("-".into(), |ca| format!("{ca:.2}"));
    let liquids = if liquids_equal(a, b) { "" } else { "; their liquids differ too" };
    let tried = at_speed(a, ra, rb, ub, ask)?;
    Ok(format!(
        "all liquid passes {} at {:.3} m/s in {}, but {} at {:.3} m/s in {} (Ca {} against {}){liquids}{tried}",
        place(b),
        ub,
        rb.name,
        place(a),
        ua,
        ra.name,
        number(rb),
        number(ra)
    ))
}

/// The first case tried at the second one's speed: how much of the difference the speed alone makes.
fn at_speed(a: &Case, ra: &Compared, rb: &Compared, speed: f64, ask: &Counted<'_>) -> Result<String, StudyError> {
    let mut tried = quick(a, DROPS);
    let (Some(radius), Some(outer)) = (WallProfile::of(a).narrowest(), tried.outer.as_mut()) else {
        return Ok(String::new());
    };
    outer.flow = 0.5 * speed * PI * radius * radius - a.inner.flow;
    if outer.flow <= 0.0 {
        return Ok(format!("; no outer flow gives {} that speed", ra.name));
    }
    let how = format!("{} at that speed (an outer flow of {:.3} mL/h)", ra.name, outer.flow * 3.6e9);
    let found = match ask.ask_short(&tried) {
        Err(why @ StudyError::Interrupted) => return Err(why),
        Err(why) => return Ok(format!("; {how} gives no answer: {why}")),
        Ok(outcome) => outcome.summary,
    };
    let (Some(d), Some(da), Some(db)) = (found.primary.mean_diameter_m, ra.mean_diameter_m, rb.mean_diameter_m) else {
        return Ok(format!("; {how} gives no settled drop ({})", found.why_no_drop()));
    };
    // Of the way from a to b in ln(d): past b is more than all of it.
    let verdict = match (d / da).ln() / (db / da).ln() {
        share if !share.is_finite() => "though the drops of both are alike",
        share if share < 0.0 => "the other way, so that glass and layout make the difference",
        share if share < 0.67 => "a part of the difference, and glass and layout the rest",
        share if share <= 1.5 => "so that the speed alone makes most of the difference",
        _ => "more than the difference, so that glass and layout take some of it back",
    };
    let run = format!("{:.1} um, {}", 1e6 * d, found.mode);
    Ok(format!("; on a coarse run {how} gives {run}: {verdict}"))
}

fn liquids_equal(a: &Case, b: &Case) -> bool {
    let of = |s: &crate::case::Stream| (s.viscosity, s.density);
    of(&a.inner) == of(&b.inner) && a.outer.as_ref().map(of) == b.outer.as_ref().map(of) && a.tension == b.tension
}

type Take = (&'static str, fn(&mut Case, &Case), fn(&Case, &Case) -> bool);

/// Inputs that can be taken over from one case into another of the same layout.
const TAKES: [Take; 8] = [
    ("inner flow", |a, b| a.inner.flow = b.inner.flow, |a, b| a.inner.flow == b.inner.flow),
    (
        "outer flow",
        |a, b| {
            if let (Some(a), Some(b)) = (a.outer.as_mut(), b.outer.as_ref()) {
                a.flow = b.flow;
            }
        },
        |a, b| a.outer.as_ref().map(|o| o.flow) == b.outer.as_ref().map(|o| o.flow),
    ),
    ("interfacial tension", |a, b| a.tension = b.tension, |a, b| a.tension == b.tension),
    (
        "inner liquid",
        |a, b| (a.inner.viscosity, a.inner.density) = (b.inner.viscosity, b.inner.density),
        |a, b| (a.inner.viscosity, a.inner.density) == (b.inner.viscosity, b.inner.density),
    ),
    (
        "outer liquid",
        |a, b| {
            if let (Some(a), Some(b)) = (a.outer.as_mut(), b.outer.as_ref()) {
                (a.viscosity, a.density) = (b.viscosity, b.density);
            }
        },
        |a, b| {
            let of = |c: &Case| c.outer.as_ref().map(|o| (o.viscosity, o.density));
            of(a) == of(b)
        },
    ),
    (
        "tip",
        |a, b| {
            (a.device.tip_bore, a.device.tip_outer, a.device.wetting) =
                (b.device.tip_bore, b.device.tip_outer, b.device.wetting)
        },
        |a, b| a.device.pinned_radius() == b.device.pinned_radius(),
    ),
    (
        "channel and orifice",
        |a, b| (a.device.bore, a.layout) = (b.device.bore, b.layout),
        |a, b| (a.device.bore, a.layout) == (b.device.bore, b.layout),
    ),
    ("gravity", |a, b| a.gravity = b.gravity, |a, b| a.gravity == b.gravity),
];

/// One layout: each differing input taken over alone, on coarse runs.
fn by_inputs(a: &Case, ra: &Compared, b: &Case, ask: &Counted<'_>) -> Result<String, StudyError> {
    let differing: Vec<&Take> = TAKES.iter().filter(|(_, _, same)| !same(a, b)).collect();
    match differing[..] {
        [] => {
            return Ok(
                "their flows, liquids and glass are the same, so any difference comes from noise, model or run settings"
                    .into(),
            );
        }
        [(name, ..)] => return Ok(format!("they differ in the {name} alone")),
        _ => {}
    }
    let run = |case: &Case| match ask.ask_short(&quick(case, DROPS)) {
        Err(why @ StudyError::Interrupted) => Err(why),
        other => Ok(other.ok().map(|outcome| outcome.summary)),
    };
    let base = run(a)?.and_then(|s| s.primary.mean_diameter_m);
    let mut changes: Vec<(f64, String)> = Vec::new();
    for (name, take, _) in differing {
        let mut one = a.clone();
        take(&mut one, b);
        let found = run(&one)?;
        let diameter = found.as_ref().and_then(|s| s.primary.mean_diameter_m);
        let change = base.zip(diameter).map(|(base, d)| d / base - 1.0);
        let mode =
            found.filter(|s| Some(s.mode) != ra.mode).map_or(String::new(), |s| format!(" and turns it {}", s.mode));
        let words = match change {
            Some(change) => format!("the {name} alone changes it by {:+.0} %{mode}", 100.0 * change),
            None => format!("the {name} alone leaves no drop"),
        };
        changes.push((change.map_or(f64::INFINITY, f64::abs), words));
    }
    changes.sort_by(|x, y| y.0.total_cmp(&x.0));
    Ok(changes.into_iter().map(|(_, words)| words).collect::<Vec<_>>().join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::{Mode, Outcome};
    use crate::study::evaluate::Length;
    use crate::study::synthetic;

    /// Invented: d grows with tension and falls with the speed at the narrowest place.
    fn invented(case: &Case, _length: Length) -> Result<Outcome, StudyError> {
        let speed = narrowest_speed(case).unwrap_or(1.0);
        let d = 60e-6 * (case.tension / 7e-3) * (4e-3 / speed).powf(0.3);
        Ok(synthetic::outcome(case, if speed > 0.5 { Mode::Jetting } else { Mode::Dripping }, Some(d), 0.0))
    }

    fn go(a: Case, b: Case) -> Comparison {
        compare(&[("a".into(), a), ("b".into(), b)], false, &Counted::new(&invented), 2).expect("goes on")
    }

    #[test]
    fn one_layout_names_the_inputs_by_their_weight() {
        let mut b = synthetic::case();
        b.tension *= 1.5;
        b.outer.as_mut().expect("co-flow").flow *= 1.1;
        let found = go(synthetic::case(), b.clone());
        let said = &found.statements[0];
        let (tension, flow) = (said.find("interfacial tension alone"), said.find("outer flow alone"));
        assert!(tension.is_some() && tension < flow && said.contains("+50 %"), "{said}");
        let mut alone = synthetic::case();
        alone.tension *= 1.5;
        assert!(go(synthetic::case(), alone).statements[0].contains("interfacial tension alone"));
        assert!(go(b.clone(), b).statements[0].contains("the same"));
    }

    #[test]
    fn two_layouts_name_the_speed_at_the_narrowest_place() {
        let mut b = synthetic::case();
        b.layout = Layout::Counterflow(synthetic::ORIFICE);
        let found = go(synthetic::case(), b);
        let said = &found.statements[0];
        assert!(said.contains("orifice of 60 um") && said.contains("jetting against dripping"), "{said}");
        // The invented answer knows nothing but the speed.
        assert!(said.contains("a at that speed") && said.contains("the speed alone makes most"), "{said}");
        assert!(found.cases[1].capillary_narrowest > found.cases[0].capillary_narrowest);
    }

    #[test]
    fn a_case_without_drops_says_so() {
        let none = |case: &Case, _| Ok(synthetic::outcome(case, Mode::None, None, 0.0));
        let cases = [("a".to_string(), synthetic::case()), ("b".to_string(), synthetic::case())];
        let found = compare(&cases, true, &Counted::new(&none), 1).expect("goes on");
        assert!(found.statements[0].contains("cannot be compared"), "{}", found.statements[0]);
        assert!(found.cases[0].margins.is_empty());
        let stopped = |_: &Case, _| Err(StudyError::Interrupted);
        assert!(compare(&cases, true, &Counted::new(&stopped), 1).is_err());
    }
}
