//! From runs along one side of an input to where its margin ends: the next run, and the answer.

use super::{CHANGE_MAX, DIAMETER_BAND, End, Side};
use crate::study::StudyError;

/// First change tried.
const CHANGE_FIRST: f64 = 0.1;
/// Largest and smallest factor from one change to a larger one.
const WIDEN_MAX: f64 = 5.0;
const WIDEN_MIN: f64 = 1.1;
/// Width of the bracket at a change of mode, of the change itself.
const CHANGE_WIDTH: f64 = 0.08;
/// ... but never finer than this change.
const CHANGE_FINEST: f64 = 0.002;
/// A size that has moved by this share of the band is at its border.
pub(super) const AT_BORDER: f64 = 0.9;
/// Where the next run is made, of where the border is expected: inside, for the answer must be a good one.
pub(super) const INSIDE: f64 = 0.97;
/// Where the size is taken to have left the band, of where it is expected to.
const OUTSIDE: f64 = 1.03;
/// Most runs of one side at one accuracy.
const RUNS_MAX: usize = 14;

/// A run of a side.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seen {
    pub change: f64,
    /// |d/d_0 - 1|, where there is a drop of the same mode.
    pub moved: Option<f64>,
    /// Why it is not the same answer; `None` where it is.
    pub end: Option<End>,
    /// What has moved most, and so reaches the border first.
    pub leads: End,
}

impl Seen {
    /// Whether the size has moved as far as the band.
    fn at_border(&self) -> bool {
        self.moved.is_some_and(|moved| (AT_BORDER * DIAMETER_BAND..=DIAMETER_BAND).contains(&moved))
    }

    /// Where the size reaches the border, in proportion.
    fn reaches(&self) -> f64 {
        let least = DIAMETER_BAND * self.change / CHANGE_MAX / WIDEN_MAX;
        self.change * DIAMETER_BAND / self.moved.unwrap_or(0.0).max(least).max(1e-9)
    }
}

/// What is known of one side: the largest change that is good, and the smallest that is not.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Bracket {
    pub good: Option<Seen>,
    pub bad: Option<Seen>,
}

impl Bracket {
    fn good_change(&self) -> f64 {
        self.good.as_ref().map_or(0.0, |seen| seen.change)
    }

    fn take(&mut self, seen: Seen) {
        let slot = if seen.end.is_some() { &mut self.bad } else { &mut self.good };
        *slot = Some(seen);
    }

    /// The run that shows where the size reaches its border, if one does.
    fn border(&self) -> Option<&Seen> {
        self.good.iter().chain(&self.bad).find(|seen| seen.at_border())
    }

    /// Where another accuracy looks first.
    fn first(&self) -> f64 {
        match (&self.good, &self.bad, self.border()) {
            (Some(good), ..) if good.change >= CHANGE_MAX => CHANGE_MAX,
            (_, _, Some(seen)) => (INSIDE * seen.reaches()).min(CHANGE_MAX),
            (Some(good), ..) => good.change,
            (None, Some(bad), _) => bad.change,
            (None, None, _) => CHANGE_FIRST,
        }
    }

    /// The next change to run; `None` where enough is known. `hint` is the change at which another accuracy found a bad run, `last`
    /// whether what is found now is answered (then there must be a good run).
    fn next(&self, hint: Option<f64>, last: bool) -> Option<f64> {
        let good = self.good_change();
        let Some(border) = self.border() else { return self.towards(hint) };
        if good >= CHANGE_MAX || !last || good > 0.0 && good >= border.change {
            return None;
        }
        let limit = self.bad.as_ref().map_or(CHANGE_MAX, |bad| bad.change * INSIDE);
        Some((INSIDE * border.reaches()).min(limit).max(CHANGE_FINEST)).filter(|next| *next != good)
    }

    /// The next change on the way to the border.
    fn towards(&self, hint: Option<f64>) -> Option<f64> {
        let good = self.good_change();
        if good >= CHANGE_MAX {
            return None;
        }
        let Some(bad) = &self.bad else {
            let wanted = self.good.as_ref().map_or(CHANGE_FIRST, |seen| INSIDE * seen.reaches());
            let wanted = hint.filter(|hint| *hint > good).map_or(wanted, |hint| hint.min(wanted));
            return Some(wanted.clamp(WIDEN_MIN * good, WIDEN_MAX * good).min(CHANGE_MAX));
        };
        let width = bad.change - good;
        if width <= (CHANGE_WIDTH * bad.change).max(CHANGE_FINEST) {
            return None;
        }
        let middle = good + 0.5 * width;
        let Some(far) = bad.moved else { return Some(middle) };
        let near = self.good.as_ref().and_then(|seen| seen.moved).unwrap_or(0.0);
        let wanted = INSIDE * (good + width * (DIAMETER_BAND - near) / (far - near));
        Some(wanted.clamp(good + 0.1 * width, bad.change - 0.1 * width))
    }

    pub(super) fn side(&self, from: &Bracket, sign: f64) -> Side {
        let change = self.good_change();
        let none = || Side { change: sign * change, beyond: None, beyond_run: false, end: End::Beyond };
        let answer =
            |beyond: f64, beyond_run, end| Side { change: sign * change, beyond: Some(sign * beyond), beyond_run, end };
        let border = self.border().or(from.border());
        let expected = border.map(|seen| OUTSIDE * seen.reaches().max(change));
        let leads = || border.map_or(End::Diameter, |seen| seen.leads.clone());
        match (&self.bad, expected) {
            _ if change >= CHANGE_MAX => none(),
            (Some(bad), Some(expected)) if bad.moved.is_some() && expected < bad.change => {
                answer(expected, false, leads())
            }
            (Some(bad), _) => answer(bad.change, true, bad.end.clone().unwrap_or(End::Diameter)),
            (None, Some(expected)) => answer(expected, false, leads()),
            (None, None) => none(),
        }
    }
}

pub(super) type Judge<'a> = &'a mut dyn FnMut(f64) -> Result<Seen, StudyError>;

/// Closes a bracket, beginning where `from` (of another accuracy, or empty) says.
pub(super) fn close(judge: Judge<'_>, from: &Bracket, last: bool) -> Result<Bracket, StudyError> {
    let mut found = Bracket::default();
    let hint = from.bad.as_ref().map(|bad| bad.change);
    let mut next = Some(from.first());
    for _ in 0..RUNS_MAX {
        let Some(change) = next else { break };
        found.take(judge(change)?);
        next = found.next(hint, last);
    }
    Ok(found)
}
