//! `confirm`: the same case by the full two-liquid equations without inertia.

use super::case_file::Changes;
use super::progress::Line;
use super::quantity::{length, percent, pressure, time};
use super::signals::Interrupt;
use super::text::Page;
use super::{Failure, Output, print_json, print_page};
use crate::case::Case;
use crate::outcome::Summary;
use crate::stokes::case::{FirstDrop, scales};
use super::map::in_unit;
use crate::study::StudyError;
use crate::study::confirm::{Confirmed, History, followed, of_summary, reduced, resolution};
use crate::study::confirm_map::{Cell, Course, course, spread};
use crate::study::map::Map;
use std::path::PathBuf;
use std::time::Instant;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case file (TOML), or - for standard input
    case: PathBuf,
    #[command(flatten)]
    changes: Changes,
    /// So many drops, those before left in the flow: do they settle at the first one's size? (each takes as long as the first)
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=50))]
    drops: u32,
    /// File to write (HDF5): outlines over time, necks, pressures, walls
    #[arg(short, long, value_name = "FULL.h5")]
    output: Option<PathBuf>,
}

/// Solves the full equations and compares the reduced model with them.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = super::case_file::load(&args.case, &args.changes)?;
    if let Some(path) = &args.output {
        if super::output::is_stdout(path) {
            return Err(super::output::not_text(path));
        }
        crate::record::full_may_replace(path, &case, how.force)?;
    }
    let (told, history) = alone(&case, args.drops, how)?;
    if let Some(path) = &args.output {
        if history.outlines.is_empty() {
            return Err(Failure::Unfinished(format!("{}: not written; {}", path.display(), told.why)));
        }
        let answer = serde_json::to_string(&told).map_err(|e| Failure::Unfinished(e.to_string()))?;
        crate::record::full::write(path, &case, &answer, &history)?;
        how.remark(&format!("outlines written to {}", path.display()));
    }
    if how.json {
        return print_json(&told);
    }
    if how.quiet { Ok(()) } else { print_page(page(&told)) }
}

/// The full equations' answer, timed; an interrupted one is a failure.
///
/// # Errors
/// Where the user interrupts.
pub fn by_full_equations(
    case: &Case,
    drops: u32,
    interrupt: &Interrupt,
    how: &Output,
) -> Result<(Confirmed, History), Failure> {
    let began = Instant::now();
    let line = how.shows_progress().then(Line::new);
    let (unit, clock) = scales(case);
    let (mut told, history) = followed(case, &resolution(case), drops as usize, &mut |now| {
        if let Some(line) = &line {
            let front = now.interface.z.last().copied().unwrap_or(0.0);
            let neck = now.closing.map_or(String::new(), |c| format!(", neck {} thin", length(2.0 * c.neck.r * unit)));
            line.say(format!("full equations: t = {}, front at {}{neck}", time(now.time * clock), length(front * unit)));
        }
        !interrupt.asked()
    });
    if let Some(line) = line {
        line.close();
    }
    told.cost.wall_s = began.elapsed().as_secs_f64();
    if interrupt.asked() {
        return Err(Failure::Interrupted("interrupted; nothing was kept".into()));
    }
    Ok((told, history))
}

/// The full equations beside the reduced model's first drop.
///
/// # Errors
/// Where the user interrupts or the reduced model cannot simulate the case.
pub fn alone(case: &Case, drops: u32, how: &Output) -> Result<(Confirmed, History), Failure> {
    let interrupt = Interrupt::listen();
    let (told, history) = by_full_equations(case, drops, &interrupt, how)?;
    if !told.applies {
        return Ok((told, history));
    }
    let beside = reduced(case, drops, &|| interrupt.asked()).map_err(Failure::unfinished)?;
    if interrupt.asked() {
        return Err(Failure::Interrupted("interrupted; nothing was kept".into()));
    }
    Ok((told.beside(beside), history))
}

/// Cells of a map, spread over it, by the full equations; `make` builds a cell's case.
///
/// # Errors
/// Where the user interrupts.
pub fn over_map(map: &Map, count: usize, make: &dyn Fn(&[f64]) -> Result<Case, StudyError>, how: &Output) -> Result<Course, Failure> {
    let mut cells = Vec::new();
    for index in spread(&map.plan, count) {
        let values = map.plan.values(index);
        cells.push(match make(&values).map_err(Failure::unfinished).and_then(|case| alone(&case, 1, how)) {
            Ok((told, _)) => Cell::of(index, values, &told),
            Err(Failure::Unfinished(why)) => Cell::failed(index, values, why),
            Err(other) => return Err(other),
        });
    }
    Ok(course(&map.plan, cells))
}

/// How the model's error runs over a map.
pub fn course_page(c: &Course) -> Page {
    let mut page = Page::new();
    page.heading("This model's first drop against the full two-liquid equations without inertia");
    let signed = |x: Option<f64>| x.map_or("-".into(), |x| format!("{:+.1} %", 100.0 * x));
    let mut head: Vec<&str> = c.along.iter().map(|a| a.key.as_str()).collect();
    head.extend(["full", "this model", "difference", "mode"]);
    let row = |cell: &Cell| {
        let mut row: Vec<String> = c.along.iter().zip(&cell.values).map(|(a, v)| in_unit(&a.unit, *v)).collect();
        let or = |d: Option<f64>| d.map_or("-".into(), length);
        row.extend([or(cell.diameter_m), or(cell.reduced_diameter_m), signed(cell.difference_relative), cell.mode.to_string()]);
        row
    };
    page.table(&head, &c.cells.iter().map(row).collect::<Vec<_>>());
    page.fact("cells compared", &format!("{} of {}", c.compared, c.cells.len()));
    page.fact_if("model error, from and to", c.smallest.map(|low| format!("{}, {}", signed(Some(low)), signed(c.largest))));
    page.fact_if("mean, root mean square", c.mean.map(|m| format!("{}, {:.1} %", signed(Some(m)), 100.0 * c.rms.unwrap_or(0.0))));
    for a in c.along.iter().filter(|a| a.low.is_some() && a.high.is_some()) {
        page.fact(&format!("along {}", a.key), &format!("{} in its lower half, {} in its upper", signed(a.low), signed(a.high)));
    }
    for cell in c.cells.iter().filter(|cell| cell.difference_relative.is_none()) {
        page.item(&format!("cell {}: {}", cell.index, cell.why));
    }
    page
}

/// The full equations beside a run that is done.
///
/// # Errors
/// As [`by_full_equations`].
pub fn beside_run(case: &Case, summary: &Summary, how: &Output) -> Result<(Confirmed, History), Failure> {
    let (told, history) = by_full_equations(case, 1, &Interrupt::listen(), how)?;
    Ok((told.beside(of_summary(summary)), history))
}

fn page(told: &Confirmed) -> Page {
    let mut page = Page::new();
    page.title(&told.title);
    page.heading("Full two-liquid equations without inertia");
    page.fact("applies", if told.applies { "yes" } else { "no" });
    page.fact(if told.applies { "ended" } else { "why not" }, &told.why);
    page.fact("Reynolds, inner", &format!("{:.3e}", told.reynolds_inner));
    page.fact_if("Reynolds, outer", told.reynolds_outer.map(|re| format!("{re:.3e}")));
    page.fact_if("Reynolds, orifice", told.reynolds_orifice.map(|re| format!("{re:.3e}")));
    page.fact("Laplace", &format!("{:.3e}", told.laplace));
    if told.applies {
        page.heading("First drop");
        let (f, r) = (told.first_drop, told.reduced.as_ref());
        let or = |x: Option<String>| x.unwrap_or("-".into());
        let off = |full: Option<f64>, ours: Option<f64>| or(full.zip(ours).map(|(a, b)| format!("{:+.1} %", 100.0 * (b / a - 1.0))));
        let row = |name: &str, full: Option<f64>, ours: Option<f64>, unit: fn(f64) -> String| {
            vec![name.into(), or(full.map(unit)), or(ours.map(unit)), off(full, ours)]
        };
        page.table(
            &["", "full equations", "this model", "this model - full"],
            &[
                row("diameter", f.map(|d| d.diameter_m), r.map(|d| d.diameter_m), length),
                row("pinch-off", f.map(|d| d.time_s), r.map(|d| d.time_s), time),
                row("neck from the tip", f.map(|d| d.neck_m), r.map(|d| d.neck_m), length),
                vec!["mode".into(), told.mode.to_string(), or(r.map(|d| d.mode.to_string())), String::new()],
            ],
        );
        page.item(&told.line());
        if told.drops.len() > 1 {
            page.heading("All drops");
            let row = |(i, d): (usize, &FirstDrop)| vec![(i + 1).to_string(), length(d.diameter_m), time(d.time_s), length(d.neck_m)];
            page.table(&["drop", "diameter", "pinch-off", "neck from the tip"], &told.drops.iter().enumerate().map(row).collect::<Vec<_>>());
            page.fact("satellites", &told.satellites.to_string());
            page.fact_if("latest drop, this model - full", told.settled_difference_relative.map(|d| format!("{:+.1} %", 100.0 * d)));
        }
        let range = |[low, high]: [f64; 2]| format!("{} to {}", pressure(low), pressure(high));
        page.fact_if("inner inlet over the cycle", told.pressure.as_ref().map(|p| range(p.inner_pa)));
        page.fact_if("outer inlet over the cycle", told.pressure.as_ref().and_then(|p| p.outer_pa).map(range));
        page.fact_if("volume corrected", told.volume_relative.map(percent));
        page.fact("cost", &format!("{} steps, {:.2} s", told.cost.steps, told.cost.wall_s));
    }
    for note in &told.notes {
        page.item(note);
    }
    page
}
