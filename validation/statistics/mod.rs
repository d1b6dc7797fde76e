use crate::framework::{Source, Status, Topic, relative, source};
use slenderjet::drops::tally::variation;
use slenderjet::study::quantiles;
use slenderjet::study::spread::DropReadings;
use slenderjet::study::spread::components::{Components, pooled_sd};
use slenderjet::study::spread::moments::moments;

/// Houf & Berman 1988: ten parts, one operator, three readings each.
const GAUGE: [[f64; 3]; 10] = [
    [37.0, 38.0, 37.0],
    [42.0, 41.0, 43.0],
    [30.0, 31.0, 31.0],
    [42.0, 43.0, 42.0],
    [28.0, 30.0, 29.0],
    [42.0, 42.0, 43.0],
    [25.0, 26.0, 27.0],
    [40.0, 40.0, 40.0],
    [25.0, 25.0, 25.0],
    [35.0, 34.0, 34.0],
];

/// Interval for a standard deviation by the quantiles that the program uses: s sqrt((n - 1)/chi^2).
fn interval(n: f64, s: f64, miss: f64) -> [f64; 2] {
    [1.0 - 0.5 * miss, 0.5 * miss].map(|p| s * ((n - 1.0) / quantiles::chi_square(p, n - 1.0)).sqrt())
}

/// Ten days of five readings that have exactly the two standard deviations of the example.
fn days() -> Vec<DropReadings> {
    let day_offset = |day: usize| 128.0 / 5f64.sqrt() * (2.0 * day as f64 - 9.0) / (330.0f64 / 9.0).sqrt();
    let within = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|x: f64| x / 2.5f64.sqrt() * 85.0);
    let day = |day: usize| DropReadings::from_diameters(day.to_string(), &within.map(|e| 1e7 + day_offset(day) + e));
    (0..10).map(day).collect()
}

fn nist(section: &str) -> Source {
    source(format!("NIST/SEMATECH e-Handbook {section}, statistics_examples.csv"), Status::Published)
}

pub fn topic() -> Topic {
    let parts: Vec<_> =
        GAUGE.iter().enumerate().map(|(i, row)| DropReadings::from_diameters(i.to_string(), row)).collect();
    let gauge = Components::of(&parts, None);
    let zener = Components::of(&days(), None);
    let ratios = moments(&[98e-6, 99e-6, 100e-6, 100e-6, 101e-6, 102e-6, 40e-6]);
    let [d32, d43] = ratios.map_or([f64::NAN; 2], |m| [1e6 * m.d32, 1e6 * m.d43]);
    // A hundred readings with the example's standard deviation about 1: the run's own interval.
    let shape: Vec<f64> = (0..100).map(|i| quantiles::normal((f64::from(i) + 0.5) / 100.0)).collect();
    let norm = (shape.iter().map(|z| z * z).sum::<f64>() / 99.0).sqrt();
    let gears: Vec<f64> = shape.iter().map(|z| 1.0 + 1e-3 * 0.006278908 * z / norm).collect();
    let run = variation(&gears).map_or([f64::NAN; 2], |(_, interval)| interval.map(|x| 1e3 * x));
    let [low, high] = interval(100.0, 0.006278908, 0.05);
    let [low99, high99] = interval(100.0, 0.006278908, 0.01);
    let houf = source("Houf & Berman 1988, IEEE Trans. Compon. Hybrids Manuf. Technol. 11, 516", Status::Published);
    let gum = source("JCGM 100:2008, annex H.5 (inputs recalled)", Status::Recalled);
    let iso = source("ISO 9276-2:2014, definition", Status::Theory);
    let root = |x: Option<f64>| x.map_or(f64::NAN, f64::sqrt);
    Topic {
        folder: "statistics",
        section: 'A',
        title: "Statistics of drop sizes",
        rows: vec![
            relative("95 % interval of a standard deviation, lower", &nist("1.3.5.8"), 0.00551292, low, 1e-6),
            relative("95 % interval, upper", &nist("1.3.5.8"), 0.00729405, high, 1e-6),
            relative("99 % interval, lower", &nist("1.3.5.8"), 0.00529926, low99, 1e-6),
            relative("99 % interval, upper", &nist("1.3.5.8"), 0.00766051, high99, 1e-6),
            relative("a run's interval of the CV, lower", &nist("1.3.5.8"), 0.00551292, run[0], 1e-3),
            relative("a run's interval of the CV, upper", &nist("1.3.5.8"), 0.00729405, run[1], 1e-3),
            relative(
                "pooled repeatability",
                &nist("2.4.4.4"),
                0.10289720,
                pooled_sd(&[0.48115, 0.69209, 0.48483, 1.21752, 0.30076].map(|squares| (squares, 60.0))),
                1e-6,
            ),
            relative(
                "true variance of ten parts, one operator",
                &houf,
                46.8580247,
                gauge.truth.unwrap_or(f64::NAN),
                1e-6,
            ),
            relative("between-day standard deviation, µV", &gum, 42.7995, root(zener.truth), 0.01),
            relative("standard uncertainty, µV", &gum, 18.1019, root(zener.between.map(|b| b / 50.0)), 0.01),
            relative("D[3,2] of seven drops, µm", &iso, 98.4742737, d32, 1e-6),
            relative("D[4,3] of seven drops, µm", &iso, 99.4165212, d43, 1e-6),
        ],
        figure: None,
    }
}
