//! Margins where drops scatter: lines through coarse runs of many drops, then one run a side at the case's own accuracy.
//!
//! A single run tells the mean of such drops no better than the band is wide, so no single run is asked whether the size has left
//! it: all runs together say up to which change a re-run still shows it there, and from which on no more ([`line`]). A change of
//! mode needs no mean; it is bisected by runs at the case's own accuracy. These runs join the line.

use super::line::{self, Lines, Point};
use super::{CHANGE_MAX, Depth, End, Input, Level, Margin, Scatter, Side};
use crate::case::Stop;
use crate::outcome::Summary;
use crate::study::StudyError;
use crate::study::evaluate::{Counted, Length};
use crate::study::map::fill::in_parallel;

/// Drops of a re-run for which margins are told, and of the case's own longer run.
pub(super) const DROPS: u32 = 20;
/// Drops of a run for the lines: undisturbed jets lock to another pattern from setting to setting, which more drops of one setting do
/// not show, but more settings do (four settings of 20 drops took a lock at both +-25 % for a bend).
const DROPS_LINE: u32 = 14;
/// Drops of a run at the case's own accuracy: as many as tell the mode.
const DROPS_OWN: u32 = 6;
/// Changes through which a line is laid.
const LINE: [f64; 6] = [-0.3, -0.2, -0.1, 0.1, 0.2, 0.3];
/// Where designs are only ranked: as few as leave the scatter known, of drops as few as show a mean.
const LINE_BRIEF: [f64; 4] = [-0.3, -0.15, 0.15, 0.3];
const DROPS_BRIEF: u32 = 8;
/// Width of the bracket at a change of mode, of the change itself, and most runs spent on it.
const CHANGE_WIDTH: f64 = 0.1;
const RUNS_MAX: usize = 7;

/// What a run away from the case gave.
type Judged = Result<Point, End>;

/// Margins of all inputs of the case of `own`, along lines of runs like `lines`.
pub(super) fn margins(
    lines: &Level,
    own: &Level,
    inputs: &[Input],
    depth: Depth,
    ask: &Counted<'_>,
    threads: usize,
) -> Result<Vec<Margin>, StudyError> {
    let shifted = own.case.run.accuracy != lines.case.run.accuracy;
    let (changes, drops_line, walks): (&[f64], _, _) = match depth {
        Depth::Full => (&LINE, DROPS_LINE, RUNS_MAX),
        Depth::Brief => (&LINE_BRIEF, DROPS_BRIEF, 0),
    };
    // The case itself once more, for longer (first, for it takes longest), then the lines.
    let longer = shifted.then_some((own, 0, 0.0));
    let on_lines = (0..inputs.len()).flat_map(|i| changes.iter().map(move |change| (lines, i, *change)));
    let runs: Vec<(&Level, usize, f64)> = longer.into_iter().chain(on_lines).collect();
    let seen = in_parallel(threads, &runs, |(level, i, change)| {
        let (drops, shifted) = if *change == 0.0 { (DROPS, shifted) } else { (drops_line, false) };
        judged(level, (*i, inputs[*i]), *change, drops, shifted, ask)
    })?;
    let seen: Vec<Judged> = seen.into_iter().collect::<Result<_, _>>()?;
    let (longer, seen) = seen.split_at(usize::from(shifted));
    let centre =
        |level: &Level, shifted| Point { input: 0, along: 0.0, size: level.diameter.ln(), drops: level.drops, shifted };
    let mut points = vec![centre(lines, false)];
    points.extend(longer.iter().map(|judged| judged.as_ref().map_or_else(|_| centre(own, true), Point::clone)));
    points.extend(seen.iter().filter_map(|judged| judged.as_ref().ok()));
    let first = line::lines(&points, inputs.len());
    let sides: Vec<(usize, f64)> = (0..inputs.len()).flat_map(|i| [(i, -1.0), (i, 1.0)]).collect();
    let walked = in_parallel(threads, &sides, |(i, sign)| {
        let on_side = changes.iter().zip(&seen[changes.len() * i..]).filter(|(change, _)| *change * sign > 0.0);
        let on_side: Vec<(f64, Option<&End>)> =
            on_side.map(|(change, judged)| (change.abs(), judged.as_ref().err())).collect();
        if walks == 0 {
            return Ok(Walk::seen(&on_side));
        }
        let border = first.as_ref().map_or([CHANGE_MAX; 2], |lines| lines.border(*i, *sign));
        walk(&on_side, border[0], &mut |change| judged(own, (*i, inputs[*i]), sign * change, DROPS_OWN, shifted, ask))
    })?;
    let walked: Vec<Walk> = walked.into_iter().collect::<Result<_, _>>()?;
    points.extend(walked.iter().flat_map(|walk| &walk.points));
    let last = line::lines(&points, inputs.len()).or(first);
    let side = |(walk, (i, sign)): (&Walk, &(usize, f64))| walk.side(last.as_ref(), *i, *sign);
    let found: Vec<Side> = walked.iter().zip(&sides).map(side).collect();
    let scatter = last.map(|lines| Scatter { relative: lines.scatter, diameter_m: lines.level });
    let pairs = inputs.iter().zip(found.chunks(2));
    Ok(pairs
        .map(|(input, pair)| Margin { input: *input, down: pair[0].clone(), up: pair[1].clone(), scatter })
        .collect())
}

/// One run of so many drops, all of them: drops that are alike for a while tell nothing of those to come.
fn judged(
    level: &Level,
    (index, input): (usize, Input),
    change: f64,
    drops: u32,
    shifted: bool,
    ask: &Counted<'_>,
) -> Result<Judged, StudyError> {
    let mut case = input.scaled(&level.case, 1.0 + change);
    case.run.stop = Stop::Drops(drops);
    let found: Summary = match ask.ask_for(&case, Length::AllDrops) {
        Ok(outcome) => outcome.summary,
        Err(why @ StudyError::Interrupted) => return Err(why),
        Err(why) => return Ok(Err(End::NoAnswer(why.to_string()))),
    };
    if found.mode.differs(level.mode) {
        return Ok(Err(End::Mode(found.mode)));
    }
    let point =
        |d: f64| Point { input: index, along: change.ln_1p(), size: d.ln(), drops: found.primary.count, shifted };
    // a run's drops are a reading of a size that scatters, whether or not so few of them tell that it is established
    Ok(found.mean_of_settled().map(point).ok_or_else(|| End::NoAnswer(found.why_no_drop())))
}

/// What runs at the case's own accuracy found along one side.
#[derive(Debug, Clone, Default)]
struct Walk {
    /// Largest change that keeps the mode, and the smallest that does not, with what it is instead.
    good: f64,
    bad: Option<(f64, End)>,
    points: Vec<Point>,
}

/// Walks to `wanted`, where the line lets the size leave the band, or to where the mode ends before; `seen` are the changes of the
/// lines' runs and whether the mode was kept there.
fn walk(
    seen: &[(f64, Option<&End>)],
    wanted: f64,
    run: &mut dyn FnMut(f64) -> Result<Judged, StudyError>,
) -> Result<Walk, StudyError> {
    let wanted = wanted.min(CHANGE_MAX);
    if wanted == 0.0 {
        return Ok(Walk::default());
    }
    let changes = |kept: bool| seen.iter().filter(move |(_, end)| end.is_none() == kept).map(|(change, _)| *change);
    let ended = changes(false).fold(f64::INFINITY, f64::min);
    let kept = changes(true).filter(|change| *change < ended).fold(0.0, f64::max);
    let mut walk = Walk::default();
    let mut next = wanted.min(ended);
    for _ in 0..RUNS_MAX {
        match run(next)? {
            Ok(point) => {
                walk.good = next;
                walk.points.push(point);
            }
            Err(end) => walk.bad = Some((next, end)),
        }
        next = match &walk.bad {
            None if walk.good >= wanted => break,
            None => wanted.min(1.5 * walk.good),
            Some((bad, _)) if bad - walk.good <= CHANGE_WIDTH * bad => break,
            Some((bad, _)) => 0.5 * (bad + if kept < *bad { walk.good.max(kept) } else { walk.good }),
        };
    }
    Ok(walk)
}

impl Walk {
    /// What the lines' own runs say.
    fn seen(runs: &[(f64, Option<&End>)]) -> Walk {
        let ended = runs.iter().filter_map(|(change, end)| Some((*change, (*end)?.clone())));
        let bad = ended.min_by(|a, b| a.0.total_cmp(&b.0));
        let before = |change: &f64| bad.as_ref().is_none_or(|(bad, _)| change < bad);
        let kept = runs.iter().filter(|(_, end)| end.is_none()).map(|(change, _)| *change).filter(before);
        // Without an end they speak for all that the lines span.
        let good = if bad.is_some() { kept.fold(0.0, f64::max) } else { CHANGE_MAX };
        Walk { good, bad, points: Vec::new() }
    }

    /// Whichever comes first: the size's border or the mode's.
    fn side(&self, lines: Option<&Lines>, input: usize, sign: f64) -> Side {
        let [inner, outer] = lines.map_or([f64::INFINITY; 2], |lines| lines.border(input, sign));
        let change = self.good.min(inner);
        let side = |beyond: Option<f64>, beyond_run, end| Side {
            change: sign * change,
            beyond: beyond.map(|beyond| sign * beyond),
            beyond_run,
            end,
        };
        let left = (outer <= CHANGE_MAX).then_some(outer);
        match &self.bad {
            Some((bad, end)) if left.is_none_or(|left| *bad < left) => {
                let end = if inner < self.good { End::Diameter } else { end.clone() };
                side(Some(*bad), true, end)
            }
            _ if change >= CHANGE_MAX => side(None, false, End::Beyond),
            _ => side(left.map(|left| left.max(change)), false, End::Diameter),
        }
    }
}
