use super::*;
use approx::assert_relative_eq;

/// Invented readings: drop means and an alternating error.
fn drops(means: &[f64], error: f64, readings: usize) -> Vec<DropReadings> {
    let row =
        |m: &f64| (0..readings).map(|j| m + error * (j as f64 - 0.5 * (readings - 1) as f64)).collect::<Vec<f64>>();
    means.iter().enumerate().map(|(i, m)| DropReadings::from_diameters(i.to_string(), &row(m))).collect()
}

#[test]
fn wide_spread_is_told_and_observed_squares_add_up() {
    let means: Vec<f64> = (0..30).map(|i| 60e-6 * (1.0 + 0.002 * f64::from(i - 15))).collect();
    let found = analyse(&drops(&means, 0.2e-6, 3), &Known::default());
    assert_eq!((found.n_drops, found.n_readings, found.distinguishable), (30, 90, Some(true)));
    let [observed, reading, truth] =
        [found.sd_observed_m, found.sd_measurement_m, found.sd_true_m].map(|sd| sd.expect("known").powi(2));
    assert_relative_eq!(observed, truth + reading / 3.0, max_relative = 1e-9);
    let [lower, upper] = found.cv_true_interval95.expect("an interval");
    assert!(lower < found.cv_true.expect("known") && found.cv_true.expect("known") < upper);
    assert!(found.statement.starts_with("True CV"), "{}", found.statement);
    assert!(found.needed.is_none() && found.outliers.is_empty());
}

#[test]
fn spread_below_the_readings_cannot_be_told_and_says_what_would() {
    let means: Vec<f64> = (0..12).map(|i| 60e-6 + 0.05e-6 * f64::from(i % 4)).collect();
    let found = analyse(&drops(&means, 0.5e-6, 3), &Known::default());
    assert_eq!(found.distinguishable, Some(false));
    assert_eq!(found.cv_true_interval95.expect("an interval")[0], 0.0);
    assert!(found.cv_true_interval95.expect("an interval")[1] > 0.002, "an upper limit that the readings can support");
    assert!(found.statement.contains("Cannot be told from measurement uncertainty"), "{}", found.statement);
    let needed = found.needed.expect("a count");
    assert!(needed.readings_per_drop.is_some_and(|n| n > 3) && found.statement.contains("readings of each"));
}

#[test]
fn one_reading_each_gives_nulls_and_a_way_out() {
    let found = analyse(&drops(&[59e-6, 60e-6, 61e-6], 0.0, 1), &Known::default());
    assert_eq!(
        (found.sd_measurement_m, found.sd_true_m, found.cv_true, found.distinguishable),
        (None, None, None, None)
    );
    assert!(found.statement.contains("cannot be told"), "{}", found.statement);
    let known =
        analyse(&drops(&[59e-6, 60e-6, 61e-6], 0.0, 1), &Known { reading_sd: Some(0.1e-6), ..Known::default() });
    assert_relative_eq!(known.sd_true_m.expect("known").powi(2), 1e-12 - 0.01e-12, max_relative = 1e-9);
    let single = analyse(&drops(&[60e-6], 0.1e-6, 3), &Known::default());
    assert!(single.sd_observed_m.is_none() && single.statement.contains("nothing can be told"));
}

#[test]
fn satellites_stay_out_of_the_cv_and_in_the_moments() {
    let mut all = drops(&[98e-6, 99e-6, 100e-6, 100e-6, 101e-6, 102e-6], 0.0, 1);
    all.push(DropReadings::from_diameters("s", &[40e-6]));
    let found = analyse(&all, &Known::default());
    assert_eq!((found.n_drops, found.satellites.count), (6, 1));
    assert_relative_eq!(found.mean_m, 100e-6);
    assert_relative_eq!(found.moments.expect("drops").d32, 98.4742737e-6, max_relative = 1e-8);
    assert!(found.moments_primary.expect("drops").d32 > 100e-6);
    assert!(found.satellites.how.contains("gap") && found.drops[6].satellite);
    let own = analyse(&all, &Known { satellites_below: Some(99.5e-6), ..Known::default() });
    assert_eq!(own.satellites.count, 3);
    let absurd = analyse(&all, &Known { satellites_below: Some(1.0), ..Known::default() });
    assert_eq!(absurd.n_drops, 6);
}

#[test]
fn outliers_are_shown_and_kept() {
    let means: Vec<f64> = (0..20).map(|i| 60e-6 + 0.1e-6 * f64::from(i % 5)).chain([70e-6]).collect();
    let mut all = drops(&means, 0.02e-6, 3);
    all[3].readings[1].diameter += 3e-6;
    all[3].readings[1].line = 11;
    let found = analyse(&all, &Known::default());
    assert_eq!(found.n_drops, 21);
    assert!(found.outliers.iter().any(|o| o.drop == "20" && o.line.is_none()), "{:?}", found.outliers);
    assert!(found.outliers.iter().any(|o| o.drop == "3" && o.line == Some(11)), "{:?}", found.outliers);
    assert!(found.cv_true_without_outliers.expect("fewer") < found.cv_true.expect("all"));
}

#[test]
fn closure_is_mean_volume_times_rate_over_flow() {
    let all = drops(&[60e-6, 60e-6, 60e-6], 0.0, 2);
    let flow = std::f64::consts::PI / 6.0 * 60e-6f64.powi(3) * 400.0;
    let known = Known { rate: Some(400.0), flow: Some(flow), ..Known::default() };
    let good = analyse(&all, &known).closure.expect("both known");
    assert_relative_eq!(good.ratio, 1.0, max_relative = 1e-12);
    assert!(!good.flagged);
    let leak = analyse(&all, &Known { flow: Some(1.3 * flow), ..known }).closure.expect("both known");
    assert!(leak.flagged && leak.text.contains("outside"));
    assert_eq!(analyse(&all, &Known { rate: None, ..known }).closure, None);
}

#[test]
fn equal_readings_make_no_nonsense() {
    let found = analyse(&drops(&[60e-6; 5], 0.0, 3), &Known::default());
    assert_eq!(found.cv_true_interval95, Some([0.0, 0.0]));
    assert!(found.notes.iter().any(|n| n.contains("never differ")));
    let json = serde_json::to_string(&found).expect("serializable");
    assert!(!json.contains("NaN") && !json.contains("inf"), "{json}");
}

// With readings free of error the true CV is the drops' own: chi-square interval of the standard deviation
// (NIST/SEMATECH e-Handbook 1.3.5.8, gear data: N = 100, s = 0.006278908; here with a mean so large that its error vanishes).
#[test]
fn published_chi_square_interval_where_readings_have_no_error() {
    let shape: Vec<f64> = (0..100).map(|i| quantiles::normal((f64::from(i) + 0.5) / 100.0)).collect();
    let norm = (shape.iter().map(|z| z * z).sum::<f64>() / 99.0).sqrt();
    let gears: Vec<f64> = shape.iter().map(|z| 1.0 + 1e-3 * 0.006278908 * z / norm).collect();
    let found = analyse(&drops(&gears, 0.0, 2), &Known::default());
    let [lower, upper] = found.cv_true_interval95.expect("an interval");
    assert_relative_eq!(lower, 1e-3 * 0.00551292, max_relative = 1e-5);
    assert_relative_eq!(upper, 1e-3 * 0.00729405, max_relative = 1e-5);
}

#[test]
fn readings_in_one_picture_each_say_so() {
    let mut all = drops(&[60e-6, 60.1e-6, 60.2e-6, 62e-6, 62.1e-6, 62.2e-6], 0.05e-6, 2);
    for (i, drop) in all.iter_mut().enumerate() {
        drop.readings.iter_mut().for_each(|r| r.image = Some(i as u32 / 3));
    }
    let notes = analyse(&all, &Known::default()).notes.join("\n");
    assert!(notes.contains("one picture only") && notes.contains("between pictures"), "{notes}");
}
