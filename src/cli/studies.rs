//! What the commands that simulate many times share: threads, Ctrl-C, a count of runs on the terminal, margins in a table.

use super::quantity::length as length_of;
use super::signals::Interrupt;
use super::text::Page;
use super::{Failure, Output};
use crate::case::Case;
use crate::outcome::{Outcome, SolverCounts, Stopped};
use crate::record::answers::{self, Answer, Answers};
use crate::study::StudyError;
use crate::study::evaluate::{Length, simulated};
use crate::study::margins::{End, Margin, RERUN_DROPS, Side};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::path::PathBuf;
use std::time::Duration;

/// A bench on which cases are answered while the terminal counts them.
pub struct Bench {
    interrupt: Interrupt,
    bar: ProgressBar,
    /// Whether each run is told on stderr (`-v`).
    tells: bool,
    /// Answers of an earlier start, and where to keep more.
    kept: Option<Answers>,
}

/// Where a study keeps the answers of its runs.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct Keeping {
    /// Keep the answer of every run in this file as it comes; a command that was stopped goes on from it. Files of several
    /// processes are joined with `cat`
    #[arg(long, value_name = "ANSWERS.jsonl")]
    keep: Option<PathBuf>,
}

impl Keeping {
    /// In this file, or nowhere.
    pub fn at(keep: Option<PathBuf>) -> Keeping {
        Keeping { keep }
    }
}

impl Bench {
    /// Starts to listen and to count; `runs` where their number is known.
    pub fn new(how: &Output, runs: Option<u64>) -> Bench {
        let target =
            if how.shows_progress() { ProgressDrawTarget::stderr_with_hz(8) } else { ProgressDrawTarget::hidden() };
        let bar = ProgressBar::with_draw_target(runs, target);
        let shape = match runs {
            Some(_) => "{bar:30.cyan} {pos}/{len} runs  {elapsed} gone, {eta} left",
            None => "{spinner} {pos} runs  {elapsed} gone  {msg}",
        };
        if let Ok(style) = ProgressStyle::with_template(shape) {
            bar.set_style(style.progress_chars("=> "));
        }
        bar.enable_steady_tick(Duration::from_millis(250));
        Bench { interrupt: Interrupt::listen(), bar, tells: how.verbose > 0, kept: None }
    }

    /// Keeps answers in a file, and takes those that it holds.
    ///
    /// # Errors
    /// Where the file is another one or cannot be written.
    pub fn keeping(mut self, keeping: &Keeping, how: &Output) -> Result<Bench, Failure> {
        if let Some(path) = &keeping.keep {
            let answers = Answers::open(path)?;
            if !answers.is_empty() {
                how.remark(&format!("{} answers taken from {}", answers.len(), path.display()));
            }
            self.kept = Some(answers);
        }
        Ok(self)
    }

    /// Simulates one case, or takes its answer from an earlier start.
    ///
    /// # Errors
    /// Where it cannot be simulated, or the answer cannot be kept.
    pub fn answer(&self, case: &Case, length: Length) -> Result<Outcome, StudyError> {
        let key = self.kept.as_ref().map(|_| answers::key(case, &format!("{length:?}")));
        let known = self.kept.as_ref().zip(key.as_ref()).and_then(|(kept, key)| kept.get(key));
        if let Some(answer) = known {
            self.bar.inc(1);
            return match answer {
                Answer::Given(summary) => Ok(Outcome {
                    summary: (**summary).clone(),
                    pinch_offs: Vec::new(),
                    necks: Vec::new(),
                    counts: SolverCounts::default(),
                }),
                Answer::Refused(why) => Err(StudyError::other(why.as_str())),
            };
        }
        let answer = simulated(case, length, &|| self.interrupt.asked());
        let whole = answer.as_ref().map_or(true, |outcome| outcome.summary.stopped != Stopped::Interrupted);
        if let (Some(kept), Some(key), true) = (&self.kept, key, whole) {
            let told = match &answer {
                Ok(outcome) => Answer::Given(Box::new(outcome.summary.clone())),
                Err(why) => Answer::Refused(why.to_string()),
            };
            kept.keep(key, &told).map_err(StudyError::other)?;
        }
        if let Ok(outcome) = &answer {
            self.bar.set_message(last(outcome, case));
            if self.tells {
                self.bar.suspend(|| eprintln!("{}", told(outcome, case, length)));
            }
        }
        self.bar.inc(1);
        answer
    }

    /// Wipes the count, and turns what a study says into a failure.
    ///
    /// # Errors
    /// As the study.
    pub fn close<T>(self, found: Result<T, StudyError>) -> Result<T, Failure> {
        self.bar.finish_and_clear();
        let kept = match self.kept {
            Some(_) => "the answers so far are kept, and the same command goes on from them",
            None => "nothing was written",
        };
        found.map_err(|why| match why {
            StudyError::Interrupted => Failure::Interrupted(format!("interrupted; {kept}")),
            why => Failure::input(why),
        })
    }
}

/// A run in one line, with its work in steps and cells.
fn told(outcome: &Outcome, case: &Case, length: Length) -> String {
    let (s, d) = (&outcome.summary, &case.device);
    let outer = case.outer.as_ref().map_or(0.0, |o| 3.6e9 * o.flow);
    format!(
        "run: tip {}, inner {:.4} mL/h, outer {outer:.4} mL/h, {} ({length:?}): {}, {}, {} steps, {} cells at most, ended: {}",
        length_of(d.tip_bore),
        3.6e9 * case.inner.flow,
        case.run.accuracy.name(),
        s.mode,
        s.primary.mean_diameter_m.map_or("no settled drop".into(), length_of),
        s.cost.steps,
        s.cost.cells_max,
        s.stopped.word()
    )
}

/// The latest run in a few words.
fn last(outcome: &Outcome, case: &Case) -> String {
    let s = &outcome.summary;
    let drops = s.primary.mean_diameter_m.map_or("no settled drop".into(), |d| format!("{}, {}", s.mode, length_of(d)));
    format!("latest ({}): {drops}", case.run.accuracy.name())
}

/// A value parser for quantities above zero.
pub fn above_zero(kind: crate::units::Kind) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |text: &str| {
        let reading = crate::units::read(text, kind).map_err(|e| e.to_string())?;
        if reading.si > 0.0 { Ok(reading.si) } else { Err(format!("{} above zero is needed", kind.name())) }
    }
}

/// A value parser for rates; `420 /s` is what we print, so it is understood.
///
/// # Errors
/// What was found and what would be right.
pub fn per_time(text: &str) -> Result<f64, String> {
    above_zero(crate::units::Kind::Frequency)(&text.replacen(" /", " 1/", 1))
}

/// Margins as a table.
pub fn margins(page: &mut Page, margins: &[Margin]) {
    let percent = |change: f64| format!("{:+.1}", 100.0 * change);
    let cell = |m: &Margin, side: &Side| match (&side.end, m.scatter, side.beyond) {
        (End::Beyond, ..) => format!("beyond {:+.0} %", 100.0 * side.change),
        (End::Diameter, Some(_), Some(beyond)) => format!("{} to {} %", percent(side.change), percent(beyond)),
        (End::Diameter, Some(_), None) => format!("{} % at least", percent(side.change)),
        _ => format!("{} %", percent(side.change)),
    };
    let why = |side: &Side| match &side.end {
        End::Mode(mode) => format!("turns {mode}"),
        End::Diameter => "size".into(),
        End::Rate => "rate".into(),
        End::NoAnswer(_) => "no answer".into(),
        End::Beyond => "-".into(),
    };
    let row = |m: &Margin| vec![m.input.word().to_string(), cell(m, &m.down), why(&m.down), cell(m, &m.up), why(&m.up)];
    page.table(&["input", "down", "then", "up", "then"], &margins.iter().map(row).collect::<Vec<_>>());
    if let Some((scatter, drops)) = margins.iter().find_map(|m| Some((m.scatter?, m.drops_to_tell(TOLD)?))) {
        page.paragraph(&format!(
            "the drops scatter, around {} in all runs: at the near end of a range 95 % of runs of {RERUN_DROPS} drops still show the mean within \
             5 % of that, at the far end beyond it; {drops} drops show a mean to +-1 %",
            length_of(scatter.diameter_m)
        ));
    }
}

/// What a run of scattered drops is to tell its mean to.
const TOLD: f64 = 0.01;
