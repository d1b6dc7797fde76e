use super::{Relation, TwoLiquids};
use crate::outcome::Instability;
use crate::thread::closures::core_annular;
use approx::assert_relative_eq;

/// Rows of a reference table, without comment and header.
fn rows(table: &str) -> Vec<Vec<f64>> {
    let lines = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').map(|cell| cell.parse().expect("a number")).collect()).collect()
}

fn stokes(viscosity_ratio: f64) -> TwoLiquids {
    TwoLiquids { viscosity_ratio, laplace_inner: 0.0, laplace_outer: 0.0 }
}

/// The tables count capillary numbers of the mean velocity of the total flow: one of them on the axis.
const MEAN_OF_ONE: f64 = 2.0;

// Long-wave relation w^2 + 3 Oh x^2 w = x^2 (1 - x^2)/2 (Eggers & Dupont 1994; Weber 1931 has the same limit).
#[test]
fn theory_growth_in_a_gas_solves_its_quadratic() {
    for oh in [0.0f64, 0.1, 1.0, 30.0] {
        for k in [0.1f64, 0.5, 0.697, 0.95] {
            let w = Relation::passive(oh, 0.0, false).growth(k);
            assert_relative_eq!(w * w + 3.0 * oh * k * k * w, 0.5 * k * k * (1.0 - k * k), max_relative = 1e-13);
        }
    }
    let fastest = Relation::passive(0.0, 0.0, false).fastest();
    assert_relative_eq!(fastest.rate, 8f64.sqrt().recip(), max_relative = 1e-12);
    assert_relative_eq!(fastest.wavenumber, 0.5f64.sqrt(), max_relative = 1e-7);
    // Rayleigh 1879: x = 0.697018898, w = 0.343338702; radial inertia brings the model within 0.1 %.
    let radial = Relation::passive(0.0, 0.0, true).fastest();
    assert_relative_eq!(radial.rate, 0.343338702, max_relative = 1e-3);
    assert!(Relation::passive(0.3, 0.0, false).growth(1.05) <= 0.0);
}

// Source: tests/data/two_liquid/stokes_growth_exact_vs_1d.csv; the model column is the same relation computed apart.
#[test]
fn reference_model_growth_in_a_tube() {
    let table = rows(include_str!("../../../tests/data/two_liquid/stokes_growth_exact_vs_1d.csv"));
    let mut worst: f64 = 0.0;
    for row in &table {
        let [x, ratio, k, _, model] = row[..5] else { panic!("columns") };
        let ours = Relation::confined(stokes(ratio), x, 0.0).growth(k);
        worst = worst.max((ours / model - 1.0).abs());
    }
    assert!(worst < 1e-7, "{worst}");
}

// Source: stokes_peak_exact_vs_1d.csv and tomotika_peak.csv (Tomotika 1935): peak growth within 8.4 % and 4.4 % of exact
// theory, wavenumber within 13 % (27 % at lambda = 1e-3).
#[test]
fn theory_fastest_mode_of_two_liquids() {
    for row in rows(include_str!("../../../tests/data/two_liquid/stokes_peak_exact_vs_1d.csv")) {
        let [x, ratio, k_exact, s_exact, _, s_model] = row[..6] else { panic!("columns") };
        let ours = Relation::confined(stokes(ratio), x, 0.0).fastest();
        assert_relative_eq!(ours.rate, s_model, max_relative = 1e-6);
        assert_relative_eq!(ours.rate, s_exact, max_relative = 0.084);
        assert_relative_eq!(ours.wavenumber, k_exact, max_relative = 0.29);
    }
    for row in rows(include_str!("../../../tests/data/two_liquid/tomotika_peak.csv")) {
        let [ratio, k_exact, s_exact] = row[..3] else { panic!("columns") };
        let ours = Relation::unconfined(stokes(ratio), 0.0).fastest();
        assert_relative_eq!(ours.rate, s_exact, max_relative = 0.044);
        let tolerance = if ratio < 3e-3 { 0.28 } else { 0.135 };
        assert_relative_eq!(ours.wavenumber, k_exact, max_relative = tolerance);
    }
}

// Source: inertia_both_liquids_peak.csv: growth within 14 % of exact theory for Laplace numbers up to 1000.
#[test]
fn theory_fastest_mode_of_two_inertial_liquids() {
    for row in rows(include_str!("../../../tests/data/two_liquid/inertia_both_liquids_peak.csv")) {
        let [laplace, ratio, x, k_exact, s_exact] = row[..5] else { panic!("columns") };
        let liquids = TwoLiquids { viscosity_ratio: ratio, laplace_inner: laplace, laplace_outer: laplace };
        let at_peak = Relation::confined(liquids, x, 0.0);
        assert!(k_exact > 0.0);
        assert_relative_eq!(at_peak.fastest().rate, s_exact, max_relative = 0.14);
    }
}

/// The relation with the whole interface velocity in u_r, as in the tables' own model columns.
fn as_tabulated(relation: Relation, ratio: f64, x: f64) -> Relation {
    let flow = core_annular::equilibrium(x * x, 1.0 / ratio);
    let c_e = relation.stretch - 3.0 * ratio;
    Relation { slip: c_e * relation.velocity * (1.0 - flow.interface / flow.mean), ..relation }
}

// Source: absolute_convective_stokes_final.csv: the model's own column is met with the interface velocity in u_r; the
// share 0.9 in u_r and the inner liquid's own lag bring the border from 13-45 % off exact theory to within 19 % for lambda >= 0.1 (6.3 % rms; x = 0.05 is
// the worst), and within 40 % below.
#[test]
fn theory_absolute_to_convective_without_inertia() {
    let (mut squares, mut count) = (0.0, 0.0);
    for row in rows(include_str!("../../../tests/data/two_liquid/absolute_convective_stokes_final.csv")) {
        let [ratio, x, _, _, _, _, model, exact] = row[..8] else { panic!("columns") };
        let relation = Relation::confined(stokes(ratio), x, MEAN_OF_ONE);
        let tabulated = as_tabulated(relation, ratio, x).critical_factor().expect("a border");
        assert_relative_eq!(tabulated, model, max_relative = 2e-4);
        let ours = relation.critical_factor().expect("a border");
        if exact.is_finite() {
            assert_relative_eq!(ours, exact, max_relative = if ratio >= 0.1 { 0.19 } else { 0.13 });
            if ratio >= 0.03 {
                squares += (ours / exact - 1.0).powi(2);
                count += 1.0;
            }
        }
        assert_eq!(relation.faster(0.9 * ours).instability(), Some(Instability::Absolute));
        assert_eq!(relation.faster(1.1 * ours).instability(), Some(Instability::Convective));
    }
    assert!(f64::sqrt(squares / count) < 0.07, "{}", f64::sqrt(squares / count));
}

// Source: absolute_convective_inertia_1d.csv (the same relation computed apart, without the boundary layer's drag).
#[test]
fn reference_absolute_to_convective_with_inertia() {
    for row in rows(include_str!("../../../tests/data/two_liquid/absolute_convective_inertia_1d.csv")) {
        let [laplace, ratio, x, _, critical, _, _, k_re, k_im] = row[..9] else { panic!("columns") };
        let liquids = TwoLiquids { viscosity_ratio: ratio, laplace_inner: laplace, laplace_outer: laplace };
        let slender = Relation::confined(stokes(ratio), x, MEAN_OF_ONE);
        let relation =
            Relation { drag: slender.drag, shear: slender.shear, ..Relation::confined(liquids, x, MEAN_OF_ONE) };
        let relation = as_tabulated(relation, ratio, x);
        let ours = relation.critical_factor().expect("a border");
        assert_relative_eq!(ours, critical, max_relative = 1e-7);
        let saddle = relation.saddle(ours).expect("a saddle");
        assert_relative_eq!(saddle.wavenumber.re, k_re, max_relative = 1e-5);
        assert_relative_eq!(saddle.wavenumber.im, k_im, max_relative = 1e-5);
    }
}

// Source: leib_goldstein.csv (Leib & Goldstein 1986): 2.2 % with radial inertia at every Reynolds number; the model's
// own columns were computed apart.
#[test]
fn theory_critical_weber_number_of_a_jet_in_a_gas() {
    for row in rows(include_str!("../../../tests/data/two_liquid/leib_goldstein.csv")) {
        let [reynolds, plain, radial, full] = row[..4] else { panic!("columns") };
        let weber = |radial_inertia: bool, expected: f64| {
            let ohnesorge = expected.sqrt() / reynolds;
            Relation::passive(ohnesorge, 1.0, radial_inertia).critical_factor().map_or(0.0, |factor| factor * factor)
        };
        let tolerance = if reynolds > 1e7 { 2e-3 } else { 1e-6 };
        assert_relative_eq!(weber(false, plain), plain, max_relative = tolerance);
        assert_relative_eq!(weber(true, radial), radial, max_relative = tolerance);
        assert_relative_eq!(weber(true, radial), full, max_relative = 0.023);
    }
}

#[test]
fn a_thread_at_rest_grows_in_place_and_one_that_cannot_grow_is_stable() {
    assert_eq!(Relation::passive(0.1, 0.0, true).instability(), Some(Instability::Absolute));
    let calm = Relation { drag: 1e20, ..Relation::unconfined(stokes(1.0), 1.0) };
    assert_eq!(calm.instability(), Some(Instability::Stable));
}
