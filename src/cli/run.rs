//! `run`: the main job, from a case file to a summary and a record.

use super::progress::Bar;
use super::signals::Interrupt;
use super::studies::Keeping;
use super::summary::{self, Ending};
use super::{Failure, Output, clock, source};
use crate::case::{Case, Stop};
use crate::outcome::{Frame, Outcome, Stopped, Summary};
use crate::record::{self, RecordError, Recorded, Recorder, Start};
use crate::study::confirm::{Confirmed, History};
use crate::simulate::{Checkpoint, Comparison, Next, Observer, Progress, simulate};
use crate::study::uncertain::Uncertain;
use std::path::{Path, PathBuf};
use std::time::Instant;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case file (TOML); - reads standard input
    case: PathBuf,
    #[command(flatten)]
    changes: super::case_file::Changes,
    /// Record to write (HDF5); without it the summary is shown and nothing is kept
    #[arg(short, long, value_name = "RUN.h5")]
    output: Option<PathBuf>,
    /// Stop after this many detached primary drops, whatever the case says
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    drops: Option<u32>,
    /// Stop at this simulated time, whatever the case says, for example '50 ms'
    #[arg(long, value_name = "T", conflicts_with = "drops", value_parser = super::case_file::time)]
    until: Option<f64>,
    /// Go on with an interrupted run of the same case
    #[arg(long, requires = "output")]
    resume: bool,
    /// Also propagate the tolerances of the inputs ("5 mN/m +- 30 %") through N coarse runs: medians with 90 % intervals
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(2..=65536))]
    uncertain: Option<u32>,
    /// With --uncertain: keep the answer of each of its runs in this file as it comes; a command that was stopped goes on from it
    #[arg(long, value_name = "ANSWERS.jsonl", requires = "uncertain")]
    keep: Option<PathBuf>,
    /// Also solve the full two-liquid equations without inertia for the first drop: how far off is this model here?
    #[arg(long)]
    confirm: bool,
    /// With a surfactant, thinning or a polymer: also run without each of them at the same accuracy, whatever it costs: by how much has it
    /// moved the size? (Else one accuracy coarser, and no more than a third of the run)
    #[arg(long)]
    effects: bool,
}

/// Simulates a case, records it, tells what happened.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = asked_for(args)?;
    if args.uncertain.is_some() && crate::study::uncertain::inputs(&case).is_empty() {
        let hint = "no quantity of the case has a tolerance; write one as \"5 mN/m +- 30 %\"";
        return Err(Failure::Input(format!("{}: {hint}", args.case.display())));
    }
    let start = match &args.output {
        None => Beginning { recorder: None, state: None },
        Some(target) => match begin(target, &case, args.resume, how)? {
            Begun::Go(beginning) => *beginning,
            Begun::Complete(summary) => {
                how.remark(&format!("{} is complete; nothing left to simulate", target.display()));
                return of_complete(target, *summary, &case, args, how);
            }
        },
    };
    let began = Instant::now();
    let started = clock::now();
    let mut watch = Watch::new(start.recorder, args.effects, how);
    let simulated = simulate(&case, start.state.as_ref(), &mut watch);
    let Watch { recorder, refused, .. } = watch.close();
    let mut outcome = simulated.map_err(|e| Failure::Input(format!("{}: {e}", args.case.display())))?;
    let wall_before = recorder.as_ref().map_or(0.0, Recorder::wall_before);
    outcome.summary.cost.wall_s = wall_before + began.elapsed().as_secs_f64();
    outcome.summary.provenance = source::provenance(&case, started);
    if let Some(error) = refused {
        return Err(kept_in_parts(&error));
    }
    let whole = outcome.summary.stopped != Stopped::Interrupted;
    // a run that is done is kept even where the user stops what comes after it
    let confirmed = (args.confirm && whole).then(|| confirm(&case, &mut outcome.summary, how)).transpose();
    let full = confirmed.as_ref().ok().and_then(Option::as_ref);
    if let Some(recorder) = recorder {
        recorder
            .finish_with(&case, &outcome, full.map(|(told, history)| (told, history)))
            .map_err(|e| kept_in_parts(&e))?;
    }
    let told = confirmed.as_ref().ok().and_then(Option::as_ref).map(|(told, _)| told);
    tell(&outcome, told, &case, args, how)?;
    confirmed.map(drop)
}

/// The full equations beside a run; their difference takes the model error's place in its summary.
fn confirm(case: &Case, summary: &mut Summary, how: &Output) -> Result<(Confirmed, History), Failure> {
    let (told, history) = super::confirm::beside_run(case, summary, how)?;
    told.put_into(case, summary);
    Ok((told, history))
}

/// A record that is complete: confirmed once, it stays so; asked for it now, it is written anew with the answer.
fn of_complete(target: &Path, summary: Summary, case: &Case, args: &Args, how: &Output) -> Result<(), Failure> {
    if !args.confirm {
        return show(&summary, None, case, args, how);
    }
    let recorded = record::read(target)?;
    if let Some(full) = &recorded.full {
        return show(&summary, Some(&full.told), case, args, how);
    }
    let Recorded { mut summary, frames, pinch_offs, necks, counts, .. } = recorded;
    let (told, history) = confirm(case, &mut summary, how)?;
    let outcome = Outcome { summary, pinch_offs, necks, counts };
    record::write_confirmed(target, case, &outcome, &frames, (&told, &history))?;
    show(&outcome.summary, Some(&told), case, args, how)
}

fn asked_for(args: &Args) -> Result<Case, Failure> {
    let mut case = super::case_file::load(&args.case, &args.changes)?;
    if let Some(n) = args.drops {
        case.run.stop = Stop::Drops(n);
    }
    if let Some(time) = args.until {
        case.run.stop = Stop::Until(time);
    }
    Ok(case)
}

struct Beginning {
    recorder: Option<Recorder>,
    state: Option<Checkpoint>,
}

enum Begun {
    Go(Box<Beginning>),
    Complete(Box<Summary>),
}

fn begin(target: &Path, case: &Case, resume: bool, how: &Output) -> Result<Begun, Failure> {
    if super::output::is_stdout(target) {
        return Err(super::output::not_text(target));
    }
    let fresh = |recorder| Begun::Go(Box::new(Beginning { recorder: Some(recorder), state: None }));
    if !resume {
        return Ok(fresh(Recorder::begin_over(target, case, how.force)?));
    }
    Ok(match Recorder::resume(target, case)? {
        Start::Beginning(recorder) => {
            how.remark(&format!("nothing to resume at {}; starting from the beginning", target.display()));
            fresh(recorder)
        }
        Start::Resumed { recorder, state, remarks } => {
            remarks.iter().for_each(|remark| how.remark(remark));
            Begun::Go(Box::new(Beginning { recorder: Some(recorder), state: Some(state) }))
        }
        Start::Complete(summary) => Begun::Complete(summary),
    })
}

/// What `run --json` tells.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Told<'a> {
    #[serde(flatten)]
    summary: &'a Summary,
    /// The first drop by the full equations (`--confirm`).
    #[serde(skip_serializing_if = "Option::is_none")]
    confirmed: Option<&'a Confirmed>,
    /// What the inputs' tolerances make of the answer (`--uncertain`).
    #[serde(skip_serializing_if = "Option::is_none")]
    uncertain: Option<&'a Uncertain>,
}

/// The summary, and what the tolerances make of it where that was asked for.
fn show(
    summary: &Summary,
    confirmed: Option<&Confirmed>,
    case: &Case,
    args: &Args,
    how: &Output,
) -> Result<(), Failure> {
    let whole = summary.stopped != Stopped::Interrupted;
    let found = args.uncertain.filter(|_| whole).map(|points| super::uncertain::ask(case, points, &Keeping::at(args.keep.clone()), how)).transpose()?;
    if confirmed.is_none() && found.is_none() {
        return summary::print(summary, how);
    }
    if how.json {
        return super::print_json(&Told { summary, confirmed, uncertain: found.as_ref() });
    }
    summary::print(summary, how)?;
    if how.quiet {
        return Ok(());
    }
    if let Some(confirmed) = confirmed {
        super::print(&format!("\n{}\n", confirmed.line()))?;
    }
    match found {
        None => Ok(()),
        Some(found) => {
            super::print("\n")?;
            super::print_page(super::uncertain::page(&found))
        }
    }
}

fn kept_in_parts(error: &RecordError) -> Failure {
    Failure::Unfinished(format!(
        "{error}\nWhat was computed so far is kept in the folder of parts beside the record (if any part was written); \
         make room and use the same command with --resume."
    ))
}

fn tell(
    outcome: &Outcome,
    confirmed: Option<&Confirmed>,
    case: &Case,
    args: &Args,
    how: &Output,
) -> Result<(), Failure> {
    show(&outcome.summary, confirmed, case, args, how)?;
    match &args.output {
        None => how.remark("nothing was written; give a record with -o RUN.h5 to keep the run"),
        Some(target) => how.remark(&format!("record written to {}", target.display())),
    }
    match summary::ending(outcome.summary.stopped) {
        Ending::AsAsked => Ok(()),
        Ending::Interrupted if args.output.is_some() => {
            Err(Failure::Interrupted("interrupted; the record is closed, go on with --resume".into()))
        }
        Ending::Interrupted => Err(Failure::Interrupted("interrupted; nothing was kept (no -o)".into())),
        Ending::Short(why) => {
            let end = outcome.summary.end.as_ref();
            let what = end.map_or(why, |end| format!("{}. To do: {}", end.what, end.remedy));
            Err(Failure::Unfinished(format!("the run ended before its goal: {what}")))
        }
    }
}

/// Listens to a run: records, shows progress, hears Ctrl-C.
struct Watch {
    recorder: Option<Recorder>,
    bar: Option<Bar>,
    interrupt: Interrupt,
    /// The first error of the recorder; the run is stopped at once.
    refused: Option<RecordError>,
    comparison: Comparison,
}

impl Watch {
    fn new(recorder: Option<Recorder>, effects: bool, how: &Output) -> Watch {
        let bar = how.shows_progress().then(Bar::new);
        let comparison = if effects { Comparison::Whole } else { Comparison::Affordable };
        Watch { recorder, bar, interrupt: Interrupt::listen(), refused: None, comparison }
    }

    fn close(mut self) -> Watch {
        if let Some(bar) = self.bar.take() {
            bar.close();
        }
        self
    }

    fn note(&mut self, result: Result<(), RecordError>) {
        if let Err(error) = result {
            self.refused.get_or_insert(error);
        }
    }
}

impl Observer for Watch {
    fn wants_frames(&self) -> bool {
        self.recorder.is_some()
    }

    fn comparison(&self) -> Comparison {
        self.comparison
    }

    fn frame(&mut self, frame: &Frame) {
        if let Some(recorder) = &mut self.recorder {
            let taken = recorder.frame(frame.clone());
            self.note(taken);
        }
    }

    fn interval(&mut self, interval: f64) {
        if let Some(recorder) = &mut self.recorder {
            recorder.interval(interval);
        }
    }

    fn progress(&mut self, at: &Progress) -> Next {
        if let Some(bar) = &self.bar {
            bar.show(at);
        }
        if self.interrupt.asked() || self.refused.is_some() { Next::Interrupt } else { Next::Continue }
    }

    fn checkpoint(&mut self, state: &Checkpoint, _so_far: &dyn Fn() -> Outcome) {
        if self.refused.is_some() {
            return;
        }
        if let Some(recorder) = &mut self.recorder {
            let taken = recorder.checkpoint(state);
            self.note(taken);
        }
    }
}
