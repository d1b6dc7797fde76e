//! `map`: where a case drips, jets and makes satellites, over varied keys or a table of cases; whole or in shards.

pub mod page;
pub mod shards;

pub use page::in_unit;

use super::signals::Interrupt;
use super::{Failure, Output, case_file, output, print_json, print_page, source};
use crate::case::{Accuracy, Case, CaseErrors, Stop, keys};
use crate::record::journal::Journal;
use crate::record::{self, map as file};
use crate::study::StudyError;
use crate::study::confirm_map::Course;
use crate::study::evaluate::{Length, simulated};
use crate::study::map::axis::{self, AxisText};
use crate::study::map::fill::{Bench, fill};
use crate::study::map::{Axis, Map, Plan, Row, Shard, Spacing, Status, border};
use crate::study::measured;
use crate::tolerances::{ALIKE_FROM, ALIKE_RELATIVE};
use crate::units;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::path::{Path, PathBuf};
use std::sync::Mutex;

#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct Args {
    #[command(subcommand)]
    shards: Option<shards::Command>,
    /// Case file (TOML); - reads standard input
    #[arg(required = true)]
    case: Option<PathBuf>,
    #[command(flatten)]
    changes: case_file::Changes,
    /// Key to vary (repeat for more): KEY=FROM..TO/N, KEY=FROM..TO/Nlog or KEY=A,B,C, for example 'inner.flow=50..500 uL/h/8log'
    #[arg(long, required_unless_present = "rows", value_name = "KEY=VALUES", action = clap::ArgAction::Append)]
    vary: Vec<String>,
    /// Cases from a table (CSV): a row a case, columns named `KEY [unit]` in any order
    #[arg(long, value_name = "TABLE.csv", conflicts_with_all = ["vary", "border"])]
    rows: Option<PathBuf>,
    /// Map to write (HDF5, or CSV by its ending); a map that was killed goes on from MAP.h5.rows beside it
    #[arg(short, long, value_name = "MAP.h5")]
    output: Option<PathBuf>,
    /// The table as CSV too (the border, if traced, goes to FILE with .border.csv for .csv)
    #[arg(long, value_name = "FILE.csv")]
    csv: Option<PathBuf>,
    /// Compute only every N-th cell, for a job of its own; written to the file of -o
    #[arg(long, value_name = "I/N")]
    shard: Option<Shard>,
    /// Trace the border between modes by bisection, to 2 % of the varied quantity (also of a map that is there already, whole or
    /// merged: give its file with -o again)
    #[arg(long, conflicts_with = "shard")]
    border: bool,
    /// Mesh and tolerance
    #[arg(long, default_value = "coarse", value_parser = ["coarse", "standard", "fine"])]
    accuracy: String,
    /// Primary drops of each run (else at most 10, or the case's own number if smaller, and from 4 on no more once the latest of
    /// them differ by less than 0.5 %; the column settled_drops says how many were averaged)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    drops: Option<u32>,
    /// Solve N cells, spread over the map, by the full two-liquid equations without inertia too: how the model's error runs over it
    #[arg(long, value_name = "N", conflicts_with = "shard", value_parser = clap::value_parser!(u32).range(1..=1000))]
    confirm: Option<u32>,
    /// Worker threads (else SLURM_CPUS_PER_TASK, else all cores that this process may use)
    #[arg(long, value_name = "N", env = "SLURM_CPUS_PER_TASK", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

/// Primary drops of a run of a map at most, unless told otherwise: three that settle and seven to average.
const DROPS: u32 = 10;

/// Worker threads, as asked for or as many as this process may use.
pub fn threads(asked: Option<u16>) -> usize {
    asked.map_or_else(|| std::thread::available_parallelism().map_or(1, usize::from), usize::from)
}

/// Fills, merges or looks for shards.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    match (&args.shards, &args.case) {
        (Some(command), _) => shards::run(command, how),
        (None, Some(case)) => whole(args, case, how),
        (None, None) => Err(Failure::Input("a case file is needed".into())),
    }
}

fn whole(args: &Args, path: &Path, how: &Output) -> Result<(), Failure> {
    let case = settings(args, case_file::load(path, &args.changes)?);
    let plan = match &args.rows {
        Some(table) => of_rows(table, &case)?,
        None => plan(&args.vary, &case)?,
    };
    let ending = |path: &PathBuf| path.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv"));
    let (target, csv) = match &args.output {
        Some(output) if ending(output) || output::is_stdout(output) => (None, Some(output.clone())),
        other => (other.clone(), None),
    };
    if csv.is_some() && args.shard.is_some() {
        return Err(Failure::Input("a shard is written as HDF5, so that it can be checked and merged: -o SHARD.h5".into()));
    }
    let length = if args.drops.is_some() { Length::Whole } else { Length::UntilAlike };
    let blank = blank(&case, plan, args.shard.unwrap_or(Shard::WHOLE), length);
    if let Some(target) = &target {
        record::map_may_replace(target, &blank, how.force)?;
    }
    for path in csv.iter().chain(&args.csv) {
        output::check(path, None, how)?;
    }
    let map = match target.as_deref().and_then(|target| complete(target, &blank)) {
        Some(map) if map.border_traced || !args.border => {
            how.remark("the map is complete already; nothing was computed");
            map
        }
        Some(map) => {
            how.remark("the cells are complete already; only the border is traced");
            computed(args, &case, map, target.as_deref(), length, how)?
        }
        None => computed(args, &case, blank, target.as_deref(), length, how)?,
    };
    for path in csv.iter().chain(&args.csv) {
        write_csv(path, &map, how)?;
    }
    if csv.as_deref().is_some_and(output::is_stdout) {
        return Ok(());
    }
    let units = typed_units(args);
    let make = |values: &[f64]| varied(&case, &map.plan, &units, values);
    let confirmed = args.confirm.map(|n| super::confirm::over_map(&map, n as usize, &make, how)).transpose()?;
    tell(&map, confirmed.as_ref(), how)
}

/// The case with the run settings of a map.
fn settings(args: &Args, mut case: Case) -> Case {
    case.run.accuracy = match args.accuracy.as_str() {
        "standard" => Accuracy::Standard,
        "fine" => Accuracy::Fine,
        _ => Accuracy::Coarse,
    };
    case.run.stop = match (args.drops, case.run.stop) {
        (Some(n), _) => Stop::Drops(n),
        (None, Stop::Drops(n)) => Stop::Drops(n.min(DROPS)),
        (None, until) => until,
    };
    case.run.frames = 2;
    case
}

fn plan(vary: &[String], case: &Case) -> Result<Plan, Failure> {
    let axes = vary.iter().map(|text| axis(text, case)).collect::<Result<Vec<Axis>, Failure>>()?;
    Plan::new(axes).map_err(Failure::input)
}

fn axis(text: &str, case: &Case) -> Result<Axis, Failure> {
    if let Some(listed) = axis::list(text) {
        let (key, values) = listed.map_err(Failure::input)?;
        let (kind, unit) = varied_kind(&key, case).map_err(Failure::Input)?;
        let values: Result<Vec<f64>, String> = values.iter().map(|text| value(text, &key, kind, case)).collect();
        return Axis::listed(&key, unit, values.map_err(Failure::Input)?).map_err(Failure::input);
    }
    let typed = AxisText::parse(&units::quoted(text)).map_err(Failure::input)?;
    let (kind, unit) = varied_kind(&typed.key, case).map_err(Failure::Input)?;
    let end = |text: &str| value(text, &typed.key, kind, case).map_err(Failure::Input);
    let ends = [end(&typed.from)?, end(&typed.to)?];
    Axis::between(&typed.key, unit, ends, typed.count, typed.spacing).map_err(Failure::input)
}

/// Kind and SI unit of a key that can be varied.
///
/// # Errors
/// In words, where there is no such key or it takes words.
pub fn varied_kind(name: &str, case: &Case) -> Result<(units::Kind, &'static str), String> {
    let known = keys::find(name).filter(|key| key.belongs_to(case.layout.kind()));
    match known.map(|key| key.takes) {
        Some(keys::Takes::Quantity(kind, ..)) => Ok((kind, kind.si_unit())),
        Some(keys::Takes::Whole(..)) => Ok((units::Kind::Number, "1")),
        Some(_) => Err(format!("`{name}` takes words and cannot be varied")),
        None => {
            let near = keys::nearest(name, Some(case.layout.kind()));
            let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
            Err(format!("a {} case has no key `{}`{hint}", case.layout.name(), units::quoted(name)))
        }
    }
}

/// SI value of a quantity for a key.
///
/// # Errors
/// What was found and what would be right.
pub fn value(text: &str, key: &str, kind: units::Kind, case: &Case) -> Result<f64, String> {
    let density = if key.starts_with("outer") { case.outer.as_ref().map(|o| o.density) } else { Some(case.inner.density) };
    let read = if kind == units::Kind::Viscosity { units::read_viscosity(text, density) } else { units::read(text, kind) };
    read.map(|reading| reading.si).map_err(|e| format!("`{key}`: {e}"))
}

/// A table of cases.
fn of_rows(path: &Path, case: &Case) -> Result<Plan, Failure> {
    let wrong = |what: String| Failure::Input(format!("{}: {what}", path.display()));
    let file = std::fs::File::open(path).map_err(|e| wrong(format!("cannot be read: {e}")))?;
    let table = measured::read(file, &[]).map_err(|errors| source::problems(path, &errors.problems))?;
    let (mut axes, mut columns) = (Vec::new(), Vec::new());
    for key in table.keys() {
        let (_, unit) = varied_kind(key, case).map_err(&wrong)?;
        axes.push(Axis { key: key.into(), unit: unit.into(), spacing: Spacing::List, values: Vec::new() });
        columns.extend(table.reals(key));
    }
    let cell = |row: usize, (column, axis): (&&[Option<f64>], &Axis)| {
        column[row].ok_or_else(|| wrong(format!("line {}: no value in column `{}`", table.lines[row], axis.key)))
    };
    let row = |row: usize| columns.iter().zip(&axes).map(|c| cell(row, c)).collect::<Result<Vec<f64>, Failure>>();
    let rows = (0..table.rows()).map(row).collect::<Result<Vec<_>, Failure>>()?;
    Plan::of_rows(axes, rows).map_err(|e| wrong(e.to_string()))
}

fn blank(case: &Case, plan: Plan, shard: Shard, length: Length) -> Map {
    let rim = if rim_follows(case, &plan) { "; device.tip_outer follows device.tip_bore" } else { "" };
    let statistics = statistics(case, length) + rim;
    Map {
        title: case.title.clone(),
        layout: case.layout.name().into(),
        plan_hash: file::plan_hash(case, &plan, &statistics),
        statistics,
        accuracy: case.run.accuracy.name().into(),
        plan,
        shard,
        rows: Vec::new(),
        border: Vec::new(),
        border_traced: false,
        case_text: case.text.clone(),
        case_sha256: record::sha256_hex(case.text.as_bytes()),
        version: env!("CARGO_PKG_VERSION").into(),
    }
}

/// When the run of a cell ends.
fn statistics(case: &Case, length: Length) -> String {
    match (case.run.stop, length) {
        (Stop::Until(until), _) => format!("each cell until {until} s"),
        (Stop::Drops(n), Length::Whole | Length::AllDrops | Length::AllDropsWithin(_)) => format!("{n} primary drops a cell"),
        (Stop::Drops(n), Length::UntilAlike | Length::Affordable | Length::Within(_)) => format!(
            "at most {n} primary drops a cell, and from {ALIKE_FROM} on no more once the latest half of them differ by less than {} % from their mean",
            100.0 * ALIKE_RELATIVE
        ),
    }
}

/// The map that lies at the target, if it is this one and complete.
fn complete(target: &Path, wanted: &Map) -> Option<Map> {
    let there = file::read(target).ok()?;
    let same = there.plan_hash == wanted.plan_hash && there.shard == wanted.shard && there.holes().is_empty();
    same.then_some(there)
}

/// Whether the tip's outside is to follow its bore: one is varied, the other typed and left alone.
fn rim_follows(case: &Case, plan: &Plan) -> bool {
    let varies = |key: &str| plan.axes.iter().any(|axis| axis.key == key);
    case.device.tip_outer.is_some() && varies(TIP_BORE) && !varies(TIP_OUTER)
}

const TIP_BORE: &str = "device.tip_bore";
const TIP_OUTER: &str = "device.tip_outer";

/// The unit of each axis as it was typed; those of a table of cases are not told apart.
fn typed_units(args: &Args) -> Vec<String> {
    args.vary.iter().map(|text| axis::typed_unit(text)).collect()
}

/// A case with the varied keys set; a value that is wrong is told in the axis's unit as typed, or in that of the case. A tip keeps its
/// shape where only its bore is varied.
fn varied(case: &Case, plan: &Plan, units: &[String], values: &[f64]) -> Result<Case, StudyError> {
    let mut keys: Vec<(&str, f64)> = plan.axes.iter().map(|axis| axis.key.as_str()).zip(values.iter().copied()).collect();
    if let (true, Some(rim)) = (rim_follows(case, plan), case.device.tip_outer)
        && let Some(at) = keys.iter().position(|(key, _)| *key == TIP_BORE)
    {
        let factor = keys[at].1 / case.device.tip_bore;
        // the wider one first: on the way each must fit the other
        keys.insert(if factor > 1.0 { at } else { at + 1 }, (TIP_OUTER, rim * factor));
    }
    let follows = keys.len() > values.len();
    let set = |case: Case, (key, value): &(&str, f64)| {
        let note = if follows && *key == TIP_OUTER { " (it follows device.tip_bore)" } else { "" };
        let told = |errors| StudyError::Case { errors, note };
        let unit = plan.axes.iter().position(|axis| axis.key == *key).and_then(|i| units.get(i));
        match unit {
            Some(unit) => case.with_told_in(key, *value, unit).map_err(told),
            None => case.with(key, *value).map_err(told),
        }
    };
    keys.iter().try_fold(case.clone(), set)
}

/// The problems of a changed case as the error of a study.
pub fn contradicted(errors: CaseErrors) -> StudyError {
    StudyError::Case { errors, note: "" }
}

/// What the workers share: the interrupt, the journal, the bar.
struct Desk<'a> {
    interrupt: &'a Interrupt,
    journal: Mutex<Option<Journal>>,
    refused: Mutex<Option<record::RecordError>>,
    bar: ProgressBar,
}

impl Desk<'_> {
    fn stopped(&self) -> bool {
        self.interrupt.asked() || self.refused.lock().is_ok_and(|refused| refused.is_some())
    }

    fn keep(&self, row: &Row) {
        self.bar.inc(1);
        let Ok(mut journal) = self.journal.lock() else { return };
        if let Some(Err(error)) = journal.as_mut().map(|journal| journal.append(row))
            && let Ok(mut refused) = self.refused.lock()
        {
            refused.get_or_insert(error);
        }
    }
}

fn computed(
    args: &Args,
    case: &Case,
    mut map: Map,
    target: Option<&Path>,
    length: Length,
    how: &Output,
) -> Result<Map, Failure> {
    let (journal, kept) = match target {
        // A whole map whose border is missing: its file stays as it is until the border is there.
        Some(_) if !map.rows.is_empty() => (None, std::mem::take(&mut map.rows)),
        Some(target) => {
            let (journal, kept) = Journal::open(target, &map.plan, &map.plan_hash, map.shard, how.force)?;
            (Some(journal), kept)
        }
        None => (None, Vec::new()),
    };
    if !kept.is_empty() && journal.is_some() {
        how.remark(&format!("going on: {} cells were kept from before", kept.len()));
    }
    let present: std::collections::HashSet<usize> = kept.iter().map(|row| row.index).collect();
    let todo: Vec<usize> = map.shard.cells(map.plan.len()).filter(|index| !present.contains(index)).collect();
    let interrupt = Interrupt::listen();
    let bar = bar(todo.len(), how);
    let desk = Desk { interrupt: &interrupt, journal: Mutex::new(journal), refused: Mutex::new(None), bar };
    let units = typed_units(args);
    let make = |values: &[f64]| varied(case, &map.plan, &units, values);
    let answer = |case: &Case| simulated(case, length, &|| desk.stopped());
    let bench = Bench { make: &make, answer: &answer, threads: threads(args.threads) };
    let rows = fill(&bench, &map.plan, &todo, &|row| desk.keep(row)).map_err(Failure::unfinished)?;
    unbroken(&desk, present.len() + rows.len(), target)?;
    map.rows = kept.into_iter().chain(rows).collect();
    map.rows.sort_by_key(|row| row.index);
    if args.border {
        desk.bar.set_length(border::count(&map.plan, &map.rows) as u64);
        desk.bar.set_position(0);
        let traced = border::trace(&bench, &map.plan, &map.rows, &|| desk.bar.inc(1)).map_err(Failure::unfinished)?;
        let Some(traced) = traced else {
            unbroken(&desk, map.rows.len(), target)?;
            return Err(Failure::Interrupted("interrupted while the border was traced".into()));
        };
        (map.border, map.border_traced) = (traced, true);
    }
    desk.bar.finish_and_clear();
    if let Some(target) = target {
        file::write(target, &map)?;
        if let Some(journal) = desk.journal.into_inner().ok().flatten() {
            journal.remove()?;
        }
    }
    Ok(map)
}

/// Ends where the user or the disk stopped the work.
fn unbroken(desk: &Desk<'_>, cells: usize, target: Option<&Path>) -> Result<(), Failure> {
    if let Some(error) = desk.refused.lock().ok().and_then(|mut refused| refused.take()) {
        desk.bar.finish_and_clear();
        return Err(error.into());
    }
    if !desk.interrupt.asked() {
        return Ok(());
    }
    desk.bar.finish_and_clear();
    Err(Failure::Interrupted(match target {
        Some(_) => format!("interrupted; {cells} cells are kept, the same command goes on from there"),
        None => "interrupted; nothing was kept (no -o)".into(),
    }))
}

fn bar(cells: usize, how: &Output) -> ProgressBar {
    let target = if how.shows_progress() { ProgressDrawTarget::stderr_with_hz(8) } else { ProgressDrawTarget::hidden() };
    let bar = ProgressBar::with_draw_target(Some(cells as u64), target);
    if let Ok(style) = ProgressStyle::with_template("{bar:30.cyan} {pos}/{len}  {elapsed} gone, {eta} left") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar.enable_steady_tick(std::time::Duration::from_millis(500));
    bar
}

fn write_csv(path: &Path, map: &Map, how: &Output) -> Result<(), Failure> {
    output::write(path, file::csv(map).as_bytes(), how)?;
    if !map.border_traced || output::is_stdout(path) {
        return Ok(());
    }
    output::write(&path.with_extension("border.csv"), file::border_csv(map).as_bytes(), how)
}

fn tell(map: &Map, confirmed: Option<&Course>, how: &Output) -> Result<(), Failure> {
    let failed = map.rows.iter().filter(|row| row.status == Status::Failed).count();
    if failed > 0 {
        how.remark(&format!("{failed} of {} cells gave no answer; each row says why", map.rows.len()));
    }
    if how.json {
        print_json(&page::told(map, confirmed))?;
    } else if !how.quiet {
        print_page(page::page(map))?;
        if let Some(course) = confirmed {
            print_page(super::confirm::course_page(course))?;
        }
    }
    match map.rows.first() {
        Some(first) if failed == map.rows.len() => {
            Err(Failure::Unfinished(format!("no cell could be computed; the first one: {}", first.reason)))
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};

    #[test]
    fn a_tip_keeps_its_shape_where_its_bore_is_varied() {
        let case = parse(examples::find("coflow").expect("an example").text, "coflow").unwrap_or_else(|e| panic!("{e}"));
        let rim = case.device.tip_outer.expect("typed") / case.device.tip_bore;
        let of = |keys: &[&str], values: &[f64]| {
            let axes = keys.iter().map(|key| Axis::listed(key, "m", vec![1e-5, 2e-5]).expect("possible")).collect();
            varied(&case, &Plan::new(axes).expect("a plan"), &[], values)
        };
        for bore in [10e-6, 90e-6] {
            let made = of(&["device.tip_bore"], &[bore]).expect("a case").device;
            assert!((made.tip_bore / bore - 1.0).abs() < 1e-9);
            assert!((made.tip_outer.expect("follows") / bore / rim - 1.0).abs() < 1e-6, "{made:?}");
        }
        let both = of(&["device.tip_bore", "device.tip_outer"], &[20e-6, 80e-6]).expect("a case").device;
        assert!((both.tip_outer.expect("told") - 80e-6).abs() < 1e-12);
    }
}
