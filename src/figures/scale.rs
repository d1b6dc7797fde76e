//! Axes' scales: where a value lies, which ticks it gets, what stands beside them.

use super::letters::{Label, number};

/// A linear or logarithmic scale from `low` to `high`, or one with ticks at whole numbers only, for counts and rows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    Linear { low: f64, high: f64 },
    Log { low: f64, high: f64 },
    Whole { low: f64, high: f64 },
}

/// Ticks of a scale.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ticks {
    pub major: Vec<(f64, Label)>,
    pub minor: Vec<f64>,
}

/// Room left beyond the data on a linear scale, as a share of their range.
const MARGIN: f64 = 0.04;
/// A longer span than this factor shows its powers of ten.
const SPAN_SHORT: f64 = 50.0;
/// A logarithmic scale never covers less than this factor: below it, nobody could read it.
const LOG_SPAN_MIN: f64 = 3.0;

impl Scale {
    /// Linear with a margin around the finite values; from zero if `from_zero`.
    pub fn linear(values: impl Iterator<Item = f64>, from_zero: bool) -> Scale {
        let (mut low, mut high) = range(values).unwrap_or((0.0, 1.0));
        if from_zero {
            low = low.min(0.0);
        }
        if high - low <= 1e-12 * high.abs().max(low.abs()) {
            let half = if high == 0.0 { 1.0 } else { 0.1 * high.abs() };
            (low, high) = (low - half, high + half);
        }
        let room = MARGIN * (high - low);
        Scale::Linear { low: if from_zero && low == 0.0 { 0.0 } else { low - room }, high: high + room }
    }

    /// Logarithmic around the finite positive values, with a little room.
    pub fn log(values: impl Iterator<Item = f64>) -> Scale {
        let (mut low, mut high) = range(values.filter(|v| *v > 0.0)).unwrap_or((1.0, 10.0));
        if high / low < LOG_SPAN_MIN {
            let middle = (low * high).sqrt();
            (low, high) = (middle / LOG_SPAN_MIN.sqrt(), middle * LOG_SPAN_MIN.sqrt());
        }
        let room = (high / low).powf(MARGIN);
        Scale::Log { low: low / room, high: high * room }
    }

    pub fn ends(&self) -> (f64, f64) {
        match *self {
            Scale::Linear { low, high } | Scale::Log { low, high } | Scale::Whole { low, high } => (low, high),
        }
    }

    /// Where a value lies, 0 at the low and 1 at the high end; not a number where it has no place.
    pub fn at(&self, value: f64) -> f64 {
        match *self {
            Scale::Linear { low, high } | Scale::Whole { low, high } => (value - low) / (high - low),
            Scale::Log { low, high } if value > 0.0 => (value / low).ln() / (high / low).ln(),
            Scale::Log { .. } => f64::NAN,
        }
    }

    pub fn holds(&self, value: f64) -> bool {
        let at = self.at(value);
        (-1e-9..=1.0 + 1e-9).contains(&at)
    }

    /// About `wanted` numbered ticks, and the unnumbered ones between them.
    pub fn ticks(&self, wanted: usize) -> Ticks {
        match *self {
            Scale::Linear { low, high } => enough_ticks(low, high, wanted.max(2)),
            Scale::Whole { low, high } => whole_ticks(low, high, wanted.max(2)),
            Scale::Log { low, high } => log_ticks(low, high, wanted.max(2)),
        }
    }
}

fn range(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let finite = values.filter(|v| v.is_finite());
    finite.fold(None, |found, v| Some(found.map_or((v, v), |(a, b): (f64, f64)| (a.min(v), b.max(v)))))
}

/// The step of 1, 2 or 5 times a power of ten next to `rough` from above.
pub fn nice_step(rough: f64) -> f64 {
    let power = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().find(|s| s * power >= rough * (1.0 - 1e-9)).unwrap_or(10.0);
    step * power
}

/// The length of 1, 2 or 5 times a power of ten next to `most` from below: for scale bars.
pub fn nice_below(most: f64) -> f64 {
    let power = 10f64.powf(most.log10().floor());
    let step = [5.0, 2.0, 1.0].into_iter().find(|s| s * power <= most * (1.0 + 1e-9)).unwrap_or(1.0);
    step * power
}

/// Two numbered ticks at least, for one alone says nothing about the scale.
fn enough_ticks(low: f64, high: f64, wanted: usize) -> Ticks {
    let tried = (wanted..wanted + 4).map(|w| linear_ticks(low, high, w));
    tried.into_iter().find(|t| t.major.len() >= 2).unwrap_or_else(|| linear_ticks(low, high, wanted + 4))
}

/// Whole numbers only.
fn whole_ticks(low: f64, high: f64, wanted: usize) -> Ticks {
    let step = nice_step((high - low) / wanted as f64).max(1.0);
    let at = |i: i64| i as f64 * step;
    let (first, last) = ((low / step - 1e-9).ceil() as i64, (high / step + 1e-9).floor() as i64);
    Ticks { major: (first..=last).map(|i| (at(i), Label::plain(number(at(i), 0)))).collect(), minor: Vec::new() }
}

fn linear_ticks(low: f64, high: f64, wanted: usize) -> Ticks {
    let step = nice_step((high - low) / wanted as f64);
    let decimals = (-(step * (1.0 + 1e-9)).log10().floor()).max(0.0) as usize;
    let whole = |s: f64| ((low / s - 1e-9).ceil() as i64, (high / s + 1e-9).floor() as i64);
    let (first, last) = whole(step);
    let value = |i: i64, s: f64| if i == 0 { 0.0 } else { i as f64 * s };
    let major = (first..=last).map(|i| (value(i, step), Label::plain(number(value(i, step), decimals)))).collect();
    let parts = if (step / 10f64.powf(step.log10().floor() + 1e-12) - 2.0).abs() < 0.1 { 4 } else { 5 };
    let (first, last) = whole(step / f64::from(parts));
    let between = (first..=last).filter(|i| i % i64::from(parts) != 0);
    Ticks { major, minor: between.map(|i| value(i, step / f64::from(parts))).collect() }
}

fn log_ticks(low: f64, high: f64, wanted: usize) -> Ticks {
    let (first, last) = ((low.log10() - 1e-9).ceil() as i32, (high.log10() + 1e-9).floor() as i32);
    let whole = last - first + 1;
    let decades = (first - 1..=last).flat_map(|d| (1..10).map(move |m| (m, d)));
    let inside: Vec<(i32, i32, f64)> = decades
        .map(|(m, d)| (m, d, f64::from(m) * 10f64.powi(d)))
        .filter(|(_, _, v)| *v >= low * (1.0 - 1e-9) && *v <= high * (1.0 + 1e-9))
        .collect();
    let stride = (whole as usize).div_ceil(wanted + 1).max(1) as i32;
    // Few powers of ten: number 1, 2 and 5 if there is room, or everything if that is still too little.
    let round = inside.iter().filter(|(m, _, _)| [1, 2, 5].contains(m)).count();
    let short = whole < 2 || (whole == 2 && high / low < SPAN_SHORT && round <= wanted);
    let few = round < 2;
    let numbered = |m: i32, d: i32| {
        if short { few || [1, 2, 5].contains(&m) } else { m == 1 && (d - first).rem_euclid(stride) == 0 }
    };
    let plain_enough = short && first.abs() <= 3;
    let label = |m: i32, d: i32, v: f64| match (plain_enough, m) {
        (true, _) => Label::plain(number(v, (-d).max(0) as usize)),
        (false, 1) => Label::marked(&format!("10^{{{d}}}")),
        (false, _) => Label::marked(&format!("{m}·10^{{{d}}}")),
    };
    let (major, minor): (Vec<_>, Vec<_>) = inside.into_iter().partition(|(m, d, _)| numbered(*m, *d));
    Ticks {
        major: major.into_iter().map(|(m, d, v)| (v, label(m, d, v))).collect(),
        minor: minor.into_iter().map(|(_, _, v)| v).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shown(ticks: &Ticks) -> Vec<String> {
        ticks.major.iter().map(|(_, l)| l.text()).collect()
    }

    #[test]
    fn ticks_are_where_a_reader_expects_them() {
        assert_eq!(shown(&Scale::Linear { low: 0.0, high: 1.0 }.ticks(5)), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        assert_eq!(shown(&Scale::Linear { low: -3.0, high: 41.0 }.ticks(5)), ["0", "10", "20", "30", "40"]);
        let log = Scale::Log { low: 0.8e-3, high: 20.0 }.ticks(5);
        assert_eq!(shown(&log), ["10\u{2212}3", "10\u{2212}2", "10\u{2212}1", "100", "101"]);
        assert_eq!(shown(&Scale::Log { low: 1.5, high: 7.0 }.ticks(4)), ["2", "5"]);
        assert_eq!(shown(&Scale::Log { low: 9.0, high: 400.0 }.ticks(6)), ["10", "20", "50", "100", "200"]);
        assert_eq!(shown(&Scale::Log { low: 9.0, high: 400.0 }.ticks(3)), ["101", "102"]);
        assert_eq!(shown(&Scale::Log { low: 2.2, high: 4.4 }.ticks(4)), ["3", "4"]);
    }

    proptest! {
        #[test]
        fn every_scale_has_two_numbered_ticks_inside(a in -1e6..1e6f64, span in 1e-9..1e6f64, wanted in 2usize..8) {
            let ends = [a, a + span];
            let log_ends = [span, span * (1.0 + a.abs())];
            for scale in [Scale::linear(ends.into_iter(), false), Scale::log(log_ends.into_iter())] {
                let ticks = scale.ticks(wanted);
                prop_assert!(ticks.major.len() >= 2, "{:?} {:?}", scale, ticks);
                prop_assert!(ticks.major.len() <= 3 * wanted + 3, "{:?}", scale);
                prop_assert!(ticks.major.iter().all(|(v, _)| scale.holds(*v)));
                let mut texts = shown(&ticks);
                texts.dedup();
                prop_assert_eq!(texts.len(), ticks.major.len(), "two ticks read the same");
            }
        }
    }

    #[test]
    fn a_scale_without_data_is_still_a_scale() {
        assert_eq!(Scale::linear([f64::NAN].into_iter(), true).ticks(4).major.len(), 3);
        assert!(Scale::log([0.0, -1.0].into_iter()).ticks(4).major.len() >= 2);
        assert!(Scale::log(std::iter::empty()).at(0.0).is_nan());
    }

    #[test]
    fn counts_are_whole_and_narrow_axes_keep_two_numbers() {
        assert_eq!(shown(&Scale::Whole { low: 0.0, high: 2.8 }.ticks(6)), ["0", "1", "2"]);
        assert_eq!(shown(&Scale::Whole { low: 0.0, high: 26.0 }.ticks(4)), ["0", "10", "20"]);
        assert_eq!(shown(&Scale::Whole { low: 0.5, high: 6.5 }.ticks(14)), ["1", "2", "3", "4", "5", "6"]);
        assert!(Scale::Whole { low: 0.5, high: 6.5 }.ticks(14).minor.is_empty(), "there is no half row");
        assert!(Scale::Linear { low: 48.3, high: 95.0 }.ticks(2).major.len() >= 2);
    }

    #[test]
    fn nice_lengths() {
        assert_eq!([nice_below(7.3e-5), nice_below(1.0), nice_below(19.0)], [5e-5, 1.0, 10.0]);
        assert_eq!(nice_step(0.21), 0.5);
    }
}
