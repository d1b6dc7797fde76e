//! The summary of a run for people: what happened, how sure it is, which limits it exceeds.

use super::quantity::{length, number, percent, pressure, rate, time, velocity, volume};
use super::text::Page;
use super::{Failure, Output, answer, print_json, print_page};
use crate::outcome::{Drop, DropKind, Groups, GroupsAtRate, Moved, Stopped, Summary};

/// Drops listed one by one at most; all are in the record and in `--json`.
const DROPS_SHOWN: usize = 12;

/// How a run ended, from its named reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ending {
    /// It reached what was asked for.
    AsAsked,
    /// The user stopped it.
    Interrupted,
    /// It stopped before that, and why.
    Short(String),
}

/// Tells the three ways to end apart.
pub fn ending(stopped: Stopped) -> Ending {
    match stopped {
        Stopped::Interrupted => Ending::Interrupted,
        answer if answer.is_answer() => Ending::AsAsked,
        other => Ending::Short(other.words().into()),
    }
}

/// Prints the summary as JSON or as text.
///
/// # Errors
/// Where stdout cannot be written.
pub fn print(summary: &Summary, how: &Output) -> Result<(), Failure> {
    if how.json {
        print_json(summary)
    } else if how.quiet {
        Ok(())
    } else {
        print_page(page(summary, how.verbose > 0))
    }
}

/// The summary laid out for reading: the answer, what stands behind it, the answer again.
pub fn page(s: &Summary, detailed: bool) -> Page {
    let mut page = Page::new();
    page.titled(&s.title, &s.layout);
    let short = answer::of(s);
    short.put(&mut page);
    if detailed {
        what_happened(&mut page, s);
    }
    real_liquids(&mut page, s);
    drops(&mut page, s, detailed);
    how_it_ended(&mut page, s);
    if detailed {
        groups(&mut page, &s.groups);
        trust(&mut page, s);
    }
    if !s.warnings.is_empty() {
        page.heading("Limits of the model that this case exceeds");
        s.warnings.iter().for_each(|w| page.warning(&w.code, &w.text));
    }
    if !s.cautions.is_empty() {
        page.heading("Cautions");
        page.paragraph(CAUTIONS);
    }
    page.heading("In short");
    short.put(&mut page);
    page
}

/// The cautions of a case in two lines.
pub const CAUTIONS: &str = "Pressurised glass, sharps and chemicals: `slenderjet check` lists this case's cautions. Local rules, \
                            safety data sheets and licensed practice come first.";

/// Tension and age of the surface, and what moved the size.
fn real_liquids(page: &mut Page, s: &Summary) {
    if s.surface.is_none() && s.moved.is_none() {
        return;
    }
    page.heading("Surfactant, thinning, polymer");
    if let Some(surface) = &s.surface {
        let tension = |x: f64| format!("{} mN/m", number(1e3 * x));
        let known = [("clean", surface.clean_tension_n_per_m), ("at equilibrium", surface.equilibrium_tension_n_per_m)];
        let beside: String =
            known.iter().filter_map(|(what, x)| Some(format!(", {} {what}", tension((*x)?)))).collect();
        let (neck, drop) = (tension(surface.neck_tension_n_per_m), tension(surface.drop_tension_n_per_m));
        page.fact("tension, detaching", &format!("{neck} at the neck, {drop} on the drop{beside}"));
        page.fact_if(
            "age of its surface",
            surface.age_s.zip(surface.equilibrium_share).map(|(age, share)| {
                format!("{}, {:.0} % of the way from clean to equilibrium", time(age), 100.0 * share)
            }),
        );
    }
    if let Some(moved) = &s.moved {
        size_moved(page, moved);
    }
}

/// One line for all effects together and one for each.
fn size_moved(page: &mut Page, moved: &Moved) {
    let line = |by: Option<f64>, against: &str| match by {
        Some(by) if by.abs() < 5e-4 => format!("less than 0.1 % against {against}"),
        Some(by) => format!("{:+.1} % against {against}", 100.0 * by),
        None => format!("not told against {against}"),
    };
    page.fact("size moved by", &line(moved.diameter_relative, &moved.against));
    // what was compared above already is not told twice
    for by in moved.effects.iter().filter(|by| by.against != moved.against && moved.effects.len() > 1) {
        page.fact(&format!("  by {}", by.effect), &line(by.diameter_relative, &by.against));
    }
    page.fact_if("  not told", moved.why.clone());
}

fn what_happened(page: &mut Page, s: &Summary) {
    page.heading("What happened");
    page.fact("mode", &format!("{}: {}", s.mode, s.mode_evidence));
    page.fact_if(
        "linear estimate",
        s.linear_estimate.as_ref().map(|e| format!("{} (estimate): {}", e.character, e.text)),
    );
    page.fact_if(
        "first pinch-off",
        s.first_pinch.as_ref().map(|p| {
            format!("at {}, {} from the tip, thread {} long", time(p.time_s), length(p.position_m), length(p.length_m))
        }),
    );
    let p = &s.primary;
    page.fact("settled drops", &settled(p.count, p.settled_after));
    page.fact_if("drop diameter", p.mean_diameter_m.map(|d| sized(d, s)));
    page.fact_if("spread (CV)", p.cv.map(|cv| spread(cv, p.cv_interval95)));
    page.fact_if("rate", p.rate_per_s.map(rate));
    page.fact_if("satellites", answer::satellites(&s.satellites));
    page.fact("established", &format!("{}: {}", if s.established.is { "yes" } else { "no" }, s.established.why));
    page.fact_if(
        "jet",
        s.jet.as_ref().map(|j| format!("{} long, {} across", length(j.length_m), length(j.diameter_m))),
    );
    page.fact_if("inlet pressure, inner", s.pressure.inner_pa.map(pressure));
    page.fact_if("inlet pressure, outer", s.pressure.outer_pa.map(pressure));
    if let Some(necks) = &s.necks {
        // Times that agree to four figures say nothing: before the breakup they differ.
        let words = necks.iter().map(|n| match &s.first_pinch {
            Some(p) => format!("{} R {} before", number(n.h_over_r), time((p.time_s - n.time_s).max(0.0))),
            None => format!("{} R at {}", number(n.h_over_r), time(n.time_s)),
        });
        page.fact("neck, to the pinch-off", &words.collect::<Vec<_>>().join(", "));
    }
    page.fact("ended", s.stopped.words());
}

/// How it ended, in full: the answer may cut it short.
fn how_it_ended(page: &mut Page, s: &Summary) {
    let Some(end) = &s.end else { return };
    page.heading("How it ended");
    page.paragraph(&format!("{}: {}.", s.stopped.word(), end.what));
    page.fact("to do", &end.remedy);
    page.fact_if("source", end.source.clone());
}

fn sized(diameter: f64, s: &Summary) -> String {
    let known = s.model_error.amount().map_or("not known".into(), |amount| format!("{amount} (see below)"));
    format!("{}; the model's own error: {known}", answer::sized(diameter, &s.size))
}

fn settled(count: usize, left_out: Option<usize>) -> String {
    match left_out {
        Some(0) | None => count.to_string(),
        Some(1) => format!("{count} (the first one left out as a transient)"),
        Some(n) => format!("{count} (the first {n} left out as transients)"),
    }
}

fn spread(cv: f64, interval: Option<[f64; 2]>) -> String {
    let between =
        interval.map_or(String::new(), |[lo, hi]| format!(", 95 % interval {} to {}", percent(lo), percent(hi)));
    format!("{}{between}; the model's own, a lower bound for the bench", percent(cv))
}

/// The primary drops in order of time, or with `all` every drop.
fn drops(page: &mut Page, s: &Summary, all: bool) {
    if s.drops.is_empty() {
        return;
    }
    let mut listed: Vec<&Drop> = s.drops.iter().filter(|d| all || d.kind == DropKind::Primary).collect();
    listed.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    if !all {
        listed.truncate(DROPS_SHOWN);
    }
    page.heading(if all { "Drops" } else { "Primary drops" });
    let columns = if page.is_narrow() { 3 } else { 6 };
    page.table(
        &["kind", "time", "diameter", "volume", "position", "velocity"][..columns],
        &listed.iter().map(|d| row(d)).collect::<Vec<_>>(),
    );
    if listed.len() < s.drops.len() {
        let satellites = s.drops.iter().filter(|d| d.kind == DropKind::Satellite).count();
        let primaries = s.drops.len() - satellites;
        page.paragraph(&format!("{primaries} primary drops and {satellites} satellites in all; -v lists every one"));
    }
    if listed.iter().any(|d| d.flagged) {
        page.paragraph("* a step was rolled back while it formed");
    }
}

fn row(d: &Drop) -> Vec<String> {
    let kind = if d.kind == DropKind::Primary { "primary" } else { "satellite" };
    let mark = if d.flagged { " *" } else { "" };
    vec![
        format!("{kind}{mark}"),
        time(d.time_s),
        length(d.diameter_m),
        volume(d.volume_m3),
        length(d.position_m),
        velocity(d.velocity_m_per_s),
    ]
}

fn groups(page: &mut Page, g: &Groups) {
    page.heading("Groups (on the radius that pins the contact line)");
    page.fact("Ohnesorge, Bond", &format!("{}, {}", number(g.ohnesorge), number(g.bond)));
    page.fact("Weber inner", &number(g.weber_inner));
    page.fact_if("capillary outer", g.capillary_outer.map(number));
    let reynolds = g.reynolds_outer.map_or(String::new(), |r| format!(", {} outer", number(r)));
    page.fact("Reynolds", &format!("{} inner{reynolds}", number(g.reynolds_inner)));
    let ratios = [("viscosity", g.viscosity_ratio), ("flow", g.flow_ratio), ("density", g.density_ratio)];
    let words: Vec<String> = ratios.iter().filter_map(|(n, r)| Some(format!("{n} {}", number((*r)?)))).collect();
    page.fact_if("inner over outer", (!words.is_empty()).then(|| words.join(", ")));
    if let Some(thinned) = &g.at_rate {
        at_rate(page, thinned);
    }
}

/// Groups of liquids that thin: those above are at rest.
pub fn at_rate(page: &mut Page, g: &GroupsAtRate) {
    let viscosity = |rate: Option<f64>, mu: Option<f64>, which: &str| {
        let (rate, mu) = (number(rate?), number(1e3 * mu?));
        Some(format!("{which} {mu} mPa.s at {rate} /s"))
    };
    let seen = [
        viscosity(g.inner_rate_per_s, g.inner_viscosity_pa_s, "inner (a tube of the tip's radius)"),
        viscosity(g.outer_rate_per_s, g.outer_viscosity_pa_s, "outer (the stream about a drop of it, U/4R)"),
    ];
    page.fact("at the rate of the flow", &seen.into_iter().flatten().collect::<Vec<_>>().join(", "));
    let capillary = g.capillary_outer.map_or(String::new(), |c| format!(", capillary outer {}", number(c)));
    let ratio = g.viscosity_ratio.map_or(String::new(), |r| format!(", viscosity ratio {}", number(r)));
    let reynolds = g.reynolds_outer.map_or(String::new(), |r| format!(" and {}", number(r)));
    page.fact(
        "  groups there",
        &format!(
            "Ohnesorge {}{capillary}{ratio}, Reynolds {}{reynolds}",
            number(g.ohnesorge),
            number(g.reynolds_inner)
        ),
    );
}

fn trust(page: &mut Page, s: &Summary) {
    page.heading("How far to trust it");
    page.fact("volume conserved to", &number(s.conservation.volume_relative));
    page.fact("energy accounted to", &number(s.conservation.energy_relative));
    page.fact_if(
        "error of the diameter",
        s.error_bar.as_ref().map(|e| format!("{} ({})", percent(e.diameter_relative), e.how)),
    );
    page.fact_if("model error of the diameter", s.primary.mean_diameter_m.map(|_| s.model_error.words()));
    for c in &s.size.share {
        let amount =
            c.relative.map_or("not known".into(), |r| format!("{} %", number(100.0 * (1e3 * r).round() / 1e3)));
        page.fact("not known of the size", &format!("{}: {amount} (half width, 90 %)", c.cause));
    }
    page.fact("cost", &format!("{}, {} steps, at most {} cells", time(s.cost.wall_s), s.cost.steps, s.cost.cells_max));
}
