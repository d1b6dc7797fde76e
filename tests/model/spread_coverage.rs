//! Does the 95 % interval of the true CV hold the truth 95 % of the time? Simulated experiments, invented numbers, fixed seeds.
//!
//! The interval holds a true CV c exactly where the pivot's probability below c lies between 2.5 and 97.5 %, or where c lies
//! under the floor of the upper limit; the limits themselves are compared with `below` in a test of their own. With two drops the
//! coverage is also integrated, without random numbers.

use rayon::prelude::*;
use slenderjet::study::quantiles;
use slenderjet::study::spread::DropReadings;
use slenderjet::study::spread::components::Components;
use slenderjet::study::spread::interval::CvPivot;

/// Small splitmix64 generator: the tests need a stream of normals that never changes.
struct Stream(u64);

impl Stream {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (((x ^ (x >> 31)) >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        (-2.0 * a.ln()).sqrt() * (2.0 * std::f64::consts::PI * b).cos()
    }
}

fn experiment(stream: &mut Stream, counts: &[usize], cv: f64, reading: f64) -> Vec<DropReadings> {
    let drop = |(i, n): (usize, &usize)| {
        let size = 1.0 + cv * stream.normal();
        let row: Vec<f64> = (0..*n).map(|_| size + reading * stream.normal()).collect();
        DropReadings::from_diameters(i.to_string(), &row)
    };
    counts.iter().enumerate().map(drop).collect()
}

fn pivot(drops: &[DropReadings]) -> CvPivot {
    let parts = Components::of(drops, None);
    CvPivot::of(drops, parts.measurement, parts.measurement_dof).expect("repeats")
}

/// Share of experiments whose interval holds the truth.
fn coverage(counts: &[usize], cv: f64, reading: f64, experiments: u32, seed: u64) -> f64 {
    let mut stream = Stream(seed);
    // Any readings of this design will do.
    let design = pivot(&experiment(&mut Stream(seed), counts, cv, reading));
    let hit = |_| {
        let drops = experiment(&mut stream, counts, cv, reading);
        let measured = Components::of(&drops, None).measurement.expect("repeats");
        design.repeated(&drops, measured).holds(cv, 0.05)
    };
    f64::from((0..experiments).map(hit).filter(|hit| *hit).count() as u32) / f64::from(experiments)
}

// 4,000 experiments: three standard errors of 95 % are 1 %, so 93 to 98 % found means 92 to 98 % held. On these designs the
// passage of the lower limit was chosen; those of the next test took no part in that.
#[test]
fn interval_covers_from_zero_spread_to_wide_and_from_three_drops_up() {
    let mixed: Vec<usize> = (0..24).map(|i| [1, 1, 2, 5][i % 4]).collect();
    let designs: [(&str, Vec<usize>); 7] = [
        ("3 drops, 2 readings", vec![2; 3]),
        ("3 drops, 10 readings", vec![10; 3]),
        ("5 drops, 3 readings", vec![3; 5]),
        ("10 drops, 2 readings", vec![2; 10]),
        ("30 drops, 3 readings", vec![3; 30]),
        ("24 drops, 1, 1, 2 or 5 readings", mixed),
        ("100 drops, 2 readings", vec![2; 100]),
    ];
    // True CV up to 10 % over readings of 1 %.
    assert_covered(&designs, &[0.0, 0.1, 0.3, 1.0, 3.0, 10.0], 0.01, 4000, |design, ratio| {
        (10 * design + ratio) as u64
    });
}

/// Simulates each design at each ratio of true spread to the error of a reading, side by side.
fn assert_covered(
    designs: &[(&str, Vec<usize>)],
    ratios: &[f64],
    reading: f64,
    experiments: u32,
    seed: impl Fn(usize, usize) -> u64 + Sync,
) {
    let all: Vec<_> = (0..designs.len()).flat_map(|i| (0..ratios.len()).map(move |j| (i, j))).collect();
    let wrong = all.into_par_iter().filter_map(|(i, j)| {
        let ((name, counts), ratio) = (&designs[i], ratios[j]);
        let found = coverage(counts, reading * ratio, reading, experiments, seed(i, j));
        println!("{name}: true/reading {ratio}: {:.1} %", 100.0 * found);
        (!HELD.contains(&found)).then(|| format!("{name}, true/reading {ratio}: {found}"))
    });
    let wrong: Vec<String> = wrong.collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Share of experiments that may hold the truth.
const HELD: std::ops::RangeInclusive<f64> = 0.93..=0.98;

// Other numbers of drops and readings, unequal ones, other ratios of true spread to error, other seeds: nothing here was used to
// choose anything. 2,000 experiments: three standard errors of 95 % are 1.5 %.
#[test]
fn interval_covers_in_designs_that_took_no_part_in_its_making() {
    let designs: [(&str, Vec<usize>); 8] = [
        ("3 drops, 3 readings", vec![3; 3]),
        ("3 drops, 1, 2 and 4 readings", vec![1, 2, 4]),
        ("4 drops, 2 readings", vec![2; 4]),
        ("6 drops, 5 readings", vec![5; 6]),
        ("7 drops, 1, 1, 1, 1, 2, 2 and 3 readings", vec![1, 1, 1, 1, 2, 2, 3]),
        ("15 drops, 2 readings", vec![2; 15]),
        ("40 drops, half read twice", (0..40).map(|i| 1 + i % 2).collect()),
        ("60 drops, 4 readings", vec![4; 60]),
    ];
    let ratios = [0.0, 0.2, 0.45, 0.8, 1.3, 2.5, 6.0];
    assert_covered(&designs, &ratios, 0.02, 2000, |design, ratio| 0x5eed_0000 + (97 * design + ratio) as u64);
}

// The error of a reading given as known (one reading a drop): no repeats to estimate it from.
#[test]
fn interval_covers_where_the_error_of_a_reading_is_given() {
    for (i, drops) in [3, 8, 25].into_iter().enumerate() {
        for (j, ratio) in [0.0, 0.5, 1.0, 3.0].iter().enumerate() {
            let mut stream = Stream(0x6174_0000 + (31 * i + j) as u64);
            let hit = |_| {
                let measured = experiment(&mut stream, &vec![1; drops], 0.01 * ratio, 0.01);
                // Known in units of the mean, which the experiment has at 1.
                CvPivot::of(&measured, Some(1e-4), None).expect("known").holds(0.01 * ratio, 0.05)
            };
            let found = f64::from((0..4000).map(hit).filter(|hit| *hit).count() as u32) / 4000.0;
            println!("{drops} drops, error known: true/reading {ratio}: {:.1} %", 100.0 * found);
            assert!(HELD.contains(&found), "{drops} drops, true/reading {ratio}: {found}");
        }
    }
}

/// Two drops of mean 1 that differ by `difference`; the squares of the readings about their drops sum to `squares`.
fn two_drops(counts: [usize; 2], difference: f64, squares: f64) -> Vec<DropReadings> {
    let repeated = counts.iter().position(|n| *n > 1);
    let drop = |i: usize| {
        let mut row = vec![1.0 + difference * (0.5 - i as f64); counts[i]];
        if Some(i) == repeated {
            row[0] += (0.5 * squares).sqrt();
            row[1] -= (0.5 * squares).sqrt();
        }
        DropReadings::from_diameters(i.to_string(), &row)
    };
    vec![drop(0), drop(1)]
}

/// Coverage for two drops without random numbers, for a true spread of `ratio` errors of a reading (1e-4 of the mean, so that the
/// mean's own error does not count). The drops' difference is |x| standard deviations, x normal; the squares of the readings are
/// chi-square. For each of the latter the x held lie between a least one (nearer drops put the truth above the upper limit) and a
/// largest one (farther drops put it below the lower limit), found by bisection. Right to about 0.1 %.
fn coverage_of_two(counts: [usize; 2], ratio: f64, known: bool) -> f64 {
    let (reading, dof) = (1e-4, counts[0] + counts[1] - 2);
    let design = two_drops(counts, reading, reading * reading);
    let design =
        if known { CvPivot::of(&design, Some(reading * reading), None).expect("known") } else { pivot(&design) };
    let cv = ratio * reading;
    let per_drop = |n: usize| cv * cv + reading * reading / n as f64;
    let difference = (per_drop(counts[0]) + per_drop(counts[1])).sqrt();
    let held_given = |squares: f64| {
        let pivot_at = |x: f64| {
            let drops = two_drops(counts, x * difference, squares);
            let measured = Components::of(&drops, known.then_some(reading)).measurement.expect("known or repeats");
            design.repeated(&drops, measured)
        };
        // -1 where the truth lies above the interval, 1 where it lies below, 0 where it is held.
        let side = |x: f64| match pivot_at(x) {
            p if p.holds(cv, 0.05) => 0,
            p if p.below(cv) > 0.5 => -1,
            _ => 1,
        };
        let first = |least: i32| {
            let (mut low, mut high) = (0.0, 6.0);
            for _ in 0..14 {
                let middle = 0.5 * (low + high);
                if side(middle) >= least { high = middle } else { low = middle }
            }
            0.5 * (low + high)
        };
        2.0 * (quantiles::normal_below(first(1)) - quantiles::normal_below(first(0)))
    };
    if known {
        return held_given(0.0);
    }
    let step = 0.5;
    let scores = (-10..=10).map(|i| f64::from(i) * step);
    let held = scores.map(|z| {
        let squares = quantiles::chi_square(quantiles::normal_below(z), dof as f64) * reading * reading;
        step * quantiles::normal_density(z) * held_given(squares)
    });
    held.sum()
}

/// True spread over the error of a reading, for two drops.
const RATIOS_OF_TWO: [f64; 9] = [0.0, 0.2, 0.5, 0.8, 1.2, 2.0, 5.0, 14.0, 30.0];

fn assert_two_drops_cover(designs: &[([usize; 2], bool)]) {
    let mut wrong = Vec::new();
    for (counts, known) in designs {
        for ratio in RATIOS_OF_TWO {
            let found = coverage_of_two(*counts, ratio, *known);
            println!("2 drops, {counts:?} readings, known {known}: true/reading {ratio}: {:.2} %", 100.0 * found);
            // 92 to 98 % less the 0.1 % of the integration.
            if !(0.921..=0.979).contains(&found) {
                wrong.push(format!("{counts:?} readings, known {known}, true/reading {ratio}: {found}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

// On these the gain of two drops was chosen. Without it [1, 2] covers up to 98.5 %.
#[test]
fn two_drops_cover_where_their_passage_was_chosen() {
    assert_two_drops_cover(&[([1, 2], false), ([2, 2], false), ([4, 4], false)]);
}

// The gain's number took no account of these; that it falls with the degrees of freedom did (a constant gain failed on the last two
// and on many readings).
#[test]
fn two_drops_cover_in_designs_that_took_no_part() {
    assert_two_drops_cover(&[
        ([3, 3], false),
        ([6, 6], false),
        ([10, 10], false),
        ([2, 3], false),
        ([2, 5], false),
        ([1, 4], false),
        ([1, 1], true),
        ([2, 3], true),
    ]);
}

// Whole experiments, the mean unknown too, CV up to 30 %: 4,000 each, three standard errors of 95 % are 1 %, so 93 to 98 % found means
// 92 to 98 % held as above. The sharp test is the integral.
#[test]
fn two_drops_cover_in_simulated_experiments() {
    for (i, counts) in [[2, 2], [3, 4]].iter().enumerate() {
        for (j, (cv, reading)) in [(0.0, 0.02), (0.02, 0.02), (0.1, 0.1), (0.3, 0.1)].into_iter().enumerate() {
            let found = coverage(counts, cv, reading, 4000, 0x7e57_0000 + (13 * i + j) as u64);
            println!("2 drops, {counts:?} readings, CV {cv}, reading {reading}: {:.1} %", 100.0 * found);
            assert!(HELD.contains(&found), "{counts:?}, CV {cv}, reading {reading}: {found}");
        }
    }
}

#[test]
fn interval_covers_a_cv_of_thirty_percent() {
    let found = coverage(&[2; 12], 0.3, 0.02, 4000, 99);
    println!("12 drops, 2 readings, CV 30 %: {:.1} %", 100.0 * found);
    assert!((0.92..=0.98).contains(&found), "{found}");
}

#[test]
fn limits_are_where_the_pivot_reaches_its_quantiles_and_agree_with_holds() {
    let mut stream = Stream(7);
    for ratio in [0.0, 0.3, 1.0, 5.0] {
        for _ in 0..20 {
            let pivot = pivot(&experiment(&mut stream, &[3; 12], 0.01 * ratio, 0.01));
            let [lower, upper] = pivot.interval(0.05);
            assert!(lower <= upper);
            if lower > 0.0 {
                assert!((0.025 - 1e-5..0.05).contains(&pivot.below(lower)));
                assert!(pivot.holds(1.001 * lower, 0.05) && !pivot.holds(0.999 * lower, 0.05));
            }
            assert!(pivot.holds(0.999 * upper, 0.05) && !pivot.holds(1.001 * upper, 0.05));
            assert!(pivot.below(upper) >= 0.975 - 1e-5);
        }
    }
}

#[test]
fn a_pivot_of_the_same_design_is_the_one_made_anew() {
    let mut stream = Stream(5);
    let [first, second] = [(); 2].map(|()| experiment(&mut stream, &[1, 2, 4], 0.01, 0.01));
    let measured = Components::of(&second, None).measurement.expect("repeats");
    assert_eq!(pivot(&first).repeated(&second, measured), pivot(&second));
    assert_ne!(pivot(&first), pivot(&second));
}

// The lower limit leaves zero exactly where the F test of "no true spread" tells at 5 %.
#[test]
fn theory_lower_limit_is_the_f_test() {
    let mut stream = Stream(11);
    let critical = quantiles::f_ratio(0.95, 7.0, 16.0);
    let mut told = 0;
    for _ in 0..200 {
        let pivot = pivot(&experiment(&mut stream, &[3; 8], 0.007, 0.01));
        let tells = pivot.interval(0.05)[0] > 0.0;
        assert_eq!(tells, pivot.f_statistic() > critical, "F = {}", pivot.f_statistic());
        told += u32::from(tells);
    }
    assert!((20..180).contains(&told), "both sides must be tried: {told}");
}
