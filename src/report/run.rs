//! The page of one run.

use super::html::{self, Page, facts, figure, figure_with, list, p, pre};
use super::table::{Cell, sortable};
use super::{movie, words};
use crate::figures::beside::Over;
use crate::figures::{FigureError, Kind, Source, Wish, unit};
use crate::outcome::{Drop, DropKind, Provenance, Summary};
use crate::record::Recorded;
use crate::record::full::Full;

/// Rows of a table in a page; what is more is in the record.
const ROWS_MAX: usize = 5000;

pub fn page(run: &Recorded, command: &str) -> Result<String, FigureError> {
    let s = &run.summary;
    let title = if s.title.trim().is_empty() { "A run without a title" } else { &s.title };
    let mut page = Page::new(title);
    page.section("movie", "Movie", &movie(run, "movie-1"));
    page.section("summary", "What happened", &summary(s));
    if let Some(full) = &run.full {
        page.section("confirmed", "Beside the full equations", &confirmed(run, full, command));
    }
    page.section("warnings", "How far to trust it", &warnings(s));
    page.section("figures", "Figures", &figures(run, command));
    page.section("drops", "Drops", &drops(s));
    page.section("case", "The case", &case(run));
    page.section("cautions", "Cautions", &cautions(s));
    page.section("provenance", "Provenance", &provenance(&s.provenance, Some(run), command));
    Ok(page.finish(&lead(s)))
}

/// The answer, and what stands in its way.
pub fn lead(s: &Summary) -> String {
    let escaped = crate::figures::drawing::escaped;
    let cut = words::cut_short(s).map(|t| format!("<p class=\"lead cut\">{}</p>\n", escaped(&t)));
    // a number stays with its unit
    let units = [" %", " µm", " mm", " nm", " a second", " a minute", " an hour"];
    let verdict =
        units.iter().fold(escaped(&words::verdict(s)), |text, u| text.replace(u, &format!("\u{a0}{}", &u[1..])));
    format!("<p class=\"lead\">{verdict}</p>\n{}", cut.unwrap_or_default())
}

/// The movie, or why there is none.
pub fn movie(run: &Recorded, id: &str) -> String {
    match movie::movie(run) {
        Some(movie) => {
            movie::player(&movie, id, &run.summary.title)
                + &format!("<p class=\"quiet\">{}</p>\n", words::sentence(&movie.notes.join("; ")))
        }
        None => p("The record holds no snapshots, so there is no movie; set [run] frames and run again."),
    }
}

pub fn summary(s: &Summary) -> String {
    let sentences: String = words::summary(s).iter().map(|t| p(t)).collect();
    sentences + &facts(&numbers(s))
}

fn numbers(s: &Summary) -> Vec<(&'static str, String)> {
    let optional = |name, value: Option<String>| value.map(|v| (name, v));
    let g = &s.groups;
    let group = |name, v: Option<f64>| optional(name, v.filter(|v| *v != 0.0).map(|v| words::number(v, 3)));
    let mut rows = vec![
        Some(("Layout", s.layout.clone())),
        Some(("Mode", s.mode.to_string())),
        optional(
            "Mean diameter",
            s.primary.mean_diameter_m.map(|d| words::sized(d, &s.size).unwrap_or_else(|| words::length(d))),
        ),
        optional("Model's own error of it", s.model_error.amount().filter(|_| s.primary.mean_diameter_m.is_some())),
        optional("Spread (CV)", s.primary.cv.map(words::percent)),
        optional("Rate", s.primary.rate_per_s.map(words::rate)),
        Some(("Settled drops", s.primary.count.to_string())),
        optional("Satellite diameter", s.satellites.mean_diameter_m.map(words::length)),
        optional("Pressure, inner inlet (estimate)", s.pressure.inner_pa.map(pressure)),
        optional("Pressure, outer inlet (estimate)", s.pressure.outer_pa.map(pressure)),
    ];
    rows.extend([
        group("Ohnesorge number", Some(g.ohnesorge)),
        group("Bond number", Some(g.bond)),
        group("Weber number, inner", Some(g.weber_inner)),
        group("Capillary number, outer", g.capillary_outer),
        group("Reynolds number, inner", Some(g.reynolds_inner)),
        group("Reynolds number, outer", g.reynolds_outer),
        group("Viscosity ratio, inner to outer", g.viscosity_ratio),
        group("Flow ratio, inner to outer", g.flow_ratio),
        group("Density ratio, inner to outer", g.density_ratio),
    ]);
    rows.into_iter().flatten().collect()
}

/// The first drop by the full equations: the difference, both drops, their outlines at equal times.
fn confirmed(run: &Recorded, full: &Full, command: &str) -> String {
    let told = &full.told;
    let drop = |d: f64, t: f64, neck: f64| {
        format!("{} at {}, neck {} from the tip", words::length(d), words::time(t), words::length(neck))
    };
    let both = |[low, high]: [f64; 2]| format!("{} to {}", pressure(low), pressure(high));
    let cycle = told.pressure.as_ref();
    let rows = [
        ("First drop, full equations", told.first_drop.map(|d| drop(d.diameter_m, d.time_s, d.neck_m))),
        ("First drop, this model", told.reduced.as_ref().map(|d| drop(d.diameter_m, d.time_s, d.neck_m))),
        ("Mode, full equations", told.first_drop.map(|_| told.mode.to_string())),
        ("Inner inlet over the cycle, full equations", cycle.map(|p| both(p.inner_pa))),
        ("Outer inlet over the cycle, full equations", cycle.and_then(|p| p.outer_pa).map(both)),
        ("Reynolds number of the inner liquid", Some(words::number(told.reynolds_inner, 2))),
        ("Reynolds number of the outer liquid", told.reynolds_outer.map(|re| words::number(re, 2))),
        ("Reynolds number in the orifice", told.reynolds_orifice.map(|re| words::number(re, 2))),
        ("Laplace number", Some(words::number(told.laplace, 2))),
        ("Cost", told.applies.then(|| format!("{} steps, {}", told.cost.steps, words::time(told.cost.wall_s)))),
    ];
    let rows: Vec<(&str, String)> = rows.into_iter().filter_map(|(name, v)| v.map(|v| (name, v))).collect();
    let strip = if full.outlines.is_empty() {
        String::new()
    } else {
        let wish = Wish { command: command.into(), beside: Over::Own, ..Wish::default() };
        let sources = [Source::Run(Box::new(run.clone()))];
        let caption =
            "Outlines at equal times up to the first pinch-off: this model's drop, dashed the full equations'.";
        format!("<div class=\"figures\">{}</div>\n", figure_with(Kind::Strip, &sources, wish, caption))
    };
    let notes = if told.notes.is_empty() {
        String::new()
    } else {
        list("warnings", told.notes.iter().map(|note| words::sentence(note)))
    };
    p(&words::sentence(&told.line())) + &facts(&rows) + &notes + &strip
}

pub fn pressure(pa: f64) -> String {
    if pa >= 1e3 {
        format!("{} kPa ({} bar)", words::number(pa / 1e3, 3), words::number(pa / 1e5, 2))
    } else {
        format!("{} Pa", words::number(pa, 3))
    }
}

pub fn warnings(s: &Summary) -> String {
    let c = &s.conservation;
    let kept = format!(
        "Volume is kept to {} and energy balanced to {} of what passed through.",
        words::number(c.volume_relative.abs(), 1),
        words::number(c.energy_relative.abs(), 1)
    );
    let bound = "The spread is the model's own, without dust, wetting and worn pumps: take it as a lower bound.";
    let said = if s.warnings.is_empty() {
        p("No limit of the model that is watched was exceeded.")
    } else {
        list("warnings", s.warnings.iter().map(|w| words::sentence(&w.text)))
    };
    said + &p(&kept) + &p(bound)
}

fn figures(run: &Recorded, command: &str) -> String {
    let sources = [Source::Run(Box::new(run.clone()))];
    let captions = [
        (Kind::Strip, "The thread and its drops in chosen snapshots, to one scale."),
        (
            Kind::Spacetime,
            "Radius over distance and time: bands are bodies, their slope is their velocity; circles mark breakups.",
        ),
        (Kind::Neck, "The thinnest radius of the thread against the time left to its breakup."),
        (Kind::Sizes, "How many drops have which diameter; satellites are counted apart."),
        (Kind::Trace, "Diameter of each drop at the time it came off."),
        (Kind::Growth, "How fast waves grow on the thread of this case, by formulas for a uniform thread."),
    ];
    let drawn = captions.iter().map(|(kind, caption)| figure(*kind, &sources, command, caption));
    format!("<div class=\"figures\">{}</div>\n", drawn.collect::<String>())
}

fn drops(s: &Summary) -> String {
    if s.drops.is_empty() {
        return p("No drop came off.");
    }
    let shown = &s.drops[..s.drops.len().min(ROWS_MAX)];
    let (times, diameters) = (told(shown, |d| d.time_s), told(shown, |d| d.diameter_m));
    let times = words::column(&times, finest_time(s), unit::time);
    let diameters = words::column(&diameters, finest_diameter(s), unit::length);
    let rows: Vec<Vec<Cell>> = shown
        .iter()
        .enumerate()
        .map(|(i, d)| {
            let kind = if d.kind == DropKind::Primary { "primary" } else { "satellite" };
            let mut remarks = Vec::new();
            if !d.merged_from.is_empty() {
                let from: Vec<String> = d.merged_from.iter().map(|i| (i + 1).to_string()).collect();
                remarks.push(format!("merged from {}", from.join(", ")));
            }
            if d.flagged {
                remarks.push("flagged: step rolled back or wall touched".into());
            }
            vec![
                Cell::number(i as f64, (i + 1).to_string()),
                Cell::text(kind),
                Cell::number(d.time_s, times[i].clone()),
                Cell::number(d.diameter_m, diameters[i].clone()),
                Cell::number(d.volume_m3, words::volume(d.volume_m3)),
                Cell::number(d.position_m, words::length(d.position_m)),
                Cell::number(d.velocity_m_per_s, format!("{} mm/s", words::number(1e3 * d.velocity_m_per_s, 3))),
                Cell::text(remarks.join("; ")),
            ]
        })
        .collect();
    let headings = ["No.", "Kind", "Time", "Diameter", "Volume", "Position", "Velocity", "Remarks"];
    let caption = format!("{} detached drops; press a heading to sort", s.drops.len());
    let table = sortable(&caption, &headings, &rows);
    let more = s.drops.len().saturating_sub(ROWS_MAX);
    if more > 0 { table + &p(&format!("{more} more drops are in the record.")) } else { table }
}

fn told(drops: &[Drop], of: fn(&Drop) -> f64) -> Vec<f64> {
    drops.iter().map(of).collect()
}

/// A thousandth of the shortest time between two primaries: coarser steps would invent a rhythm.
fn finest_time(s: &Summary) -> f64 {
    let primaries: Vec<f64> = s.drops.iter().filter(|d| d.kind == DropKind::Primary).map(|d| d.time_s).collect();
    let gaps = primaries.windows(2).map(|w| w[1] - w[0]).filter(|g| *g > 0.0);
    let shortest = gaps.fold(f64::INFINITY, f64::min);
    if shortest.is_finite() { 1e-3 * shortest } else { 1e-3 * primaries.first().copied().unwrap_or(1.0) }
}

/// Half the spread of the diameters, so that a column shows it, or a thousandth of them.
fn finest_diameter(s: &Summary) -> f64 {
    let d = s.primary.mean_diameter_m.or(s.drops.first().map(|d| d.diameter_m)).unwrap_or(1e-6);
    d * s.primary.cv.map_or(1e-3, |cv| (0.5 * cv).clamp(1e-6, 1e-3))
}

fn case(run: &Recorded) -> String {
    if run.case_text.trim().is_empty() {
        return p("This run was not made from a case file.");
    }
    pre(&run.case_text, "The case as typed")
}

pub fn cautions(s: &Summary) -> String {
    let own = "Estimates, not ratings. Follow your laboratory's own rules, the safety data sheets and local regulations; \
               use shields and eye protection at pressurised glass.";
    list("cautions", s.cautions.iter().cloned()) + &p(own)
}

pub fn provenance(of: &Provenance, run: Option<&Recorded>, command: &str) -> String {
    let mut rows = vec![
        ("Case, sha256", of.case_sha256.clone()),
        ("Version", format!("slenderjet {}", of.version)),
        ("Command", of.command.clone()),
        ("Started", of.started.clone()),
        ("Threads of the machine", of.host_threads.to_string()),
    ];
    if let Some(run) = run {
        let cost = &run.summary.cost;
        rows.push(("Wall-clock time", words::time(cost.wall_s)));
        rows.push(("Steps", cost.steps.to_string()));
        rows.push(("Most cells", cost.cells_max.to_string()));
        rows.push(("Snapshots recorded", run.frames.len().to_string()));
    }
    rows.push(("Page made by", command.to_owned()));
    rows.retain(|(_, v)| !v.is_empty());
    html::facts(&rows)
}
