use super::ends::Wake;
use super::inertia::{self, BoundaryLayer};
use super::{Dual, Local, Outer, core_annular, drag, ends, extension, wall};
use crate::device::core_annular::core_share;
use proptest::prelude::*;
use std::f64::consts::PI;

/// Rows of a reference table, without comment and header.
fn rows(table: &str) -> Vec<Vec<f64>> {
    let lines = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').map(|cell| cell.parse().expect("a number")).collect()).collect()
}

fn close(ours: f64, reference: f64, relative: f64) -> bool {
    (ours - reference).abs() <= relative * reference.abs().max(1e-300)
}

/// Shear on a thread of radius `h` and mean velocity `u` in a tube of radius `wall`, pressure gradient outside and velocity of the
/// interface, from the outer flow g (1 - r^2/R^2) + C ln(r/R) of the closures.
fn at_interface((ratio, mu, flow): (f64, f64, f64), h: f64, wall: f64, u: f64) -> [f64; 3] {
    let y = (h / wall).powi(2);
    let axis = 2.0 * flow / (PI * wall * wall);
    let slip = u - axis * core_annular::equilibrium(y, 1.0 / ratio).mean;
    let (c, g) = core_annular::slip_flow(y, y.ln(), ratio);
    let (c, g) = (c * slip, axis / (1.0 - y * y + y * y / ratio) + g * slip);
    [mu * (c - 2.0 * g * y) / h, 4.0 * mu * g / (wall * wall), g * (1.0 - y) + 0.5 * c * y.ln()]
}

// Source: tests/data/two_liquid/baseflow_core_annular.csv (theory, twelve digits printed).
#[test]
fn theory_core_annular_flow_with_and_without_density_difference() {
    let table = rows(include_str!("../../../tests/data/two_liquid/baseflow_core_annular.csv"));
    assert!(table.len() > 100);
    for row in table {
        let [ratio, x, excess, inner, outer, mean, interface_velocity, shear] = row[..8] else { panic!("columns") };
        // Printed digits limit what the narrowest gaps can show: they magnify the flow's round-off by gap^-3.
        let tolerance = 2e-11 + 4e-12 / (1.0 - x).powi(3);
        let scale = mean.abs() + interface_velocity.abs();
        let total = inner + outer;
        let [tau, gradient, velocity] = at_interface((ratio, 1.0, total), x, 1.0, mean);
        let gap_flow = (outer / total).abs().min(1.0);
        let slack = tolerance * (1.0 + 1.0 / gap_flow);
        assert!((gradient - 1.0).abs() < slack, "G {row:?} {gradient}");
        assert!((tau - shear).abs() < slack, "tau {row:?} {tau}");
        assert!((velocity - interface_velocity).abs() < slack * scale, "u_s {row:?} {velocity}");
        // The same force by the closure: mu_o d (u_eq - u)/h^2 balances the density difference.
        let y = x * x;
        let (d, _) = drag::coefficient::<true>(y, y.ln(), 1.0 / ratio);
        let equilibrium = core_annular::equilibrium(y, 1.0 / ratio);
        let axis = 2.0 * total / PI;
        let force = d * (axis * equilibrium.mean - mean) / y;
        assert!((force + excess).abs() < slack * (1.0 + d * mean.abs() / y), "force {row:?} {force}");
        if excess == 0.0 {
            assert!(close(axis * equilibrium.mean, mean, 1e-11), "u_eq {row:?}");
            assert!((axis * equilibrium.interface - interface_velocity).abs() < 1e-11 * scale, "u_s,eq {row:?}");
        }
    }
}

// Elementary: fluxes of the exact profile at x^2 = y must be in the ratio that was put in.
#[test]
fn theory_core_radius_of_coflow_returns_the_flow_ratio() {
    for ratio in [0.01f64, 0.3, 1.0, 20.0] {
        for flow_ratio in [1e-4, 0.02, 0.3, 2.0, 50.0] {
            let y = core_share(flow_ratio, ratio);
            let mean = core_annular::equilibrium(y, 1.0 / ratio).mean;
            let inner_share = 2.0 * mean * y;
            assert!(close(inner_share, flow_ratio / (1.0 + flow_ratio), 1e-12), "{ratio} {flow_ratio} {y}");
        }
    }
}

// The closed forms in extended precision would agree; here both ways must meet where they change over.
#[test]
fn theory_drag_is_continuous_where_its_series_begin() {
    for inverse in [1e-3, 1.0, 1e3] {
        for gap in [0.1f64, 0.02] {
            let at = |gap: f64| {
                let y = 1.0 - gap;
                (drag::coefficient::<true>(y, y.ln(), inverse), core_annular::following(y, y.ln(), 1.0 / inverse))
            };
            let (((low, low_y), (a, a_y)), ((high, high_y), (b, b_y))) =
                (at(gap * (1.0 - 1e-9)), at(gap * (1.0 + 1e-9)));
            assert!(close(low, high, 1e-8) && close(low_y, high_y, 1e-6), "d at {gap}: {low} {high} {low_y} {high_y}");
            assert!(
                (a - b).abs() < 1e-8 * a.abs().max(10.0) && (a_y - b_y).abs() < 1e-6 * a_y.abs().max(1.0),
                "alpha at {gap}, {inverse}: {a} {b} {a_y} {b_y}"
            );
        }
    }
    // Lubrication limits, from the leading terms: d -> 12/E^3 at equal viscosities, 48/E^3 for a stiff thread.
    let y = 1.0 - 1e-4f64;
    assert!(close(drag::coefficient::<true>(y, y.ln(), 1.0).0, 12.0 * 1e12, 1e-3));
    let stiff = drag::coefficient::<true>(y, y.ln(), 1e-30).0;
    assert!(close(stiff, 48.0 * 1e12, 1e-3), "{stiff}");
}

// Hadamard 1911, Rybczynski 1911: 6 pi for a rigid sphere, 4 pi for a bubble. Wall factor: Haberman & Sayre 1958, rigid
// limit as given apart (recalled); Faxen's first term 1 + 2.1044 k; Poiseuille drift of a rigid sphere 1 - 2 k^2/3.
#[test]
fn published_drag_of_a_drop_in_a_tube() {
    assert!(close(ends::hadamard_rybczynski(1e12), 1.0, 1e-9));
    assert!(close(ends::hadamard_rybczynski(0.0), 2.0 / 3.0, 1e-12));
    for k in [0.05f64, 0.2, 0.4] {
        let rigid = (1.0 - 0.75857 * k.powi(5))
            / (1.0 - 2.105 * k + 2.0865 * k.powi(3) - 1.7068 * k.powi(5) + 0.72603 * k.powi(6));
        assert!(close(ends::sphere_in_tube(k, 1e12).0, rigid, 2e-3), "{k}");
    }
    assert!(close((ends::sphere_in_tube(1e-4, 1e12).0 - 1.0) / 1e-4, 2.1044, 2e-3));
    assert!(close((1.0 - ends::sphere_in_tube(1e-2, 1e12).1) / 1e-4, 2.0 / 3.0, 1e-3));
    assert!(close(ends::round_end(1.0, None, 1.0, 0.5).drag, 0.5 * 3.0 * 5.0 / 6.0, 1e-12));
}

// Source: tests/data/first_principles/drop_in_tube.csv (own boundary-element computation): K1 within 1 %, the drift K2/K1
// within 4 % up to k = 0.7 and 6 % at 0.8.
#[test]
fn reference_sphere_in_a_tube() {
    for row in rows(include_str!("../../../tests/data/first_principles/drop_in_tube.csv")) {
        let [k, rigid, moving, held] = row[..4] else { panic!("columns") };
        let (wall_factor, drift) = ends::sphere_in_tube(k, if rigid == 1.0 { 1e12 } else { 1.0 });
        assert!(close(wall_factor, moving, 0.01), "{row:?} {wall_factor}");
        assert!(close(drift, held / moving, if k < 0.75 { 0.04 } else { 0.06 }), "{row:?} {drift}");
    }
}

// Source: tests/data/first_principles/tip_wake.csv (own boundary-element computation): within 0.035 of the far velocity.
#[test]
fn reference_stream_behind_a_tip() {
    for row in rows(include_str!("../../../tests/data/first_principles/tip_wake.csv")) {
        let [wall, z, axis] = row[..3] else { panic!("columns") };
        let (share, _) = Wake::new(2.0, 2.0 * wall).at(2.0 * z);
        assert!((share - axis).abs() < 0.035, "{row:?} {share}");
    }
}

/// Drag on a held drop over 6 pi mu_o R U, lengths in tip radii: a gap of `inf` is a drop alone.
fn held(wall: f64, gap: f64, radius: f64, aspect: f64, ratio: f64) -> f64 {
    let end = ends::round_end(radius, Some(wall), ratio, 1.0);
    let share = if gap.is_finite() {
        let place = ends::sampled_at((gap, gap + 2.0 * radius * aspect), radius, aspect, wall, ratio);
        Wake::new(1.0, wall).at(place).0
    } else {
        1.0
    };
    radius * end.drag / 3.0 * ends::elongated(aspect, radius / wall, ratio) * end.drift * share
}

// Source: tests/data/first_principles/held_drop.csv (own boundary-element computation, which meets Haberman & Sayre 1958,
// recalled, to 5e-4): spheres and spheroids of five viscosity ratios, near a tip and alone; ten numbers are fitted to it.
// Worst for stiff drops in a wide tube, which feel more than the stream at their far pole.
#[test]
fn reference_drag_on_a_held_drop() {
    let table = rows(include_str!("../../../tests/data/first_principles/held_drop.csv"));
    let mut near = (0.0, 0.0);
    for row in &table {
        let [wall, gap, radius, aspect, ratio, drag] = row[..6] else { panic!("columns") };
        let miss = held(wall, gap, radius, aspect, ratio) / drag - 1.0;
        assert!(miss.abs() < if gap.is_finite() { 0.19 } else { 0.1 }, "{row:?} {miss}");
        if gap.is_finite() {
            near = (near.0 + miss * miss, near.1 + 1.0);
        }
    }
    assert!(near.1 > 900.0 && f64::sqrt(near.0 / near.1) < 0.041, "{near:?}");
}

// Source: tests/data/first_principles/drop_behind_tip.csv (own boundary-element computation by another program, to which
// nothing here is fitted; itself up to 3 % high at gaps below 0.5 R): within 20 %, 6.4 % in the root mean square.
#[test]
fn reference_drag_on_a_drop_behind_a_tip() {
    let table = rows(include_str!("../../../tests/data/first_principles/drop_behind_tip.csv"));
    let mut squares = 0.0;
    for row in &table {
        let [wall, gap, drop, rigid, drag] = row[..5] else { panic!("columns") };
        let miss = held(wall, gap, drop, 1.0, if rigid == 1.0 { 1e12 } else { 1.0 }) / drop / drag - 1.0;
        assert!(miss.abs() < 0.2, "{row:?} {miss}");
        squares += miss * miss;
    }
    let rms = (squares / table.len() as f64).sqrt();
    assert!(rms < 0.065, "{rms}");
}

// Rigid spheroid in an unbounded liquid: (4 + phi)/5 of the drag of the sphere of its equator to a few percent (Happel & Brenner
// 1965, Low Reynolds number hydrodynamics, chapter 5, recalled from memory).
#[test]
fn published_drag_on_a_rigid_spheroid() {
    for aspect in [1.2, 1.6, 2.0] {
        assert!(close(ends::elongated(aspect, 0.0, 1e12), 0.2 * (4.0 + aspect), 0.06), "{aspect}");
    }
}

#[test]
fn closures_stay_finite_at_contact_and_at_a_vanishing_thread() {
    let outer = Outer::new(0.2, 1.0, 3.0);
    for a in [1e-24, 1e-12, 0.98, 0.999, 1.0, 1.5] {
        for wall in [Some(1.0), None] {
            let l = outer.local(a, Some(0.1), wall);
            let all = [l.u_eq, l.drag, l.c_e, l.near.alpha, l.near.beta, l.surface.alpha, l.surface.beta];
            let finite = |v: &Dual| v.value.is_finite() && v.by_a.is_finite() && v.by_wall.is_finite();
            assert!(all.iter().all(finite), "{a} {wall:?} {l:?}");
            assert!(l.drag.value > 0.0);
        }
    }
}

/// Central difference of one field of the closures.
fn slope(f: impl Fn(f64) -> f64, at: f64) -> f64 {
    let step = 3e-5 * at;
    (8.0 * (f(at + step) - f(at - step)) - (f(at + 2.0 * step) - f(at - 2.0 * step))) / (12.0 * step)
}

fn watery_layer(ratio: f64) -> BoundaryLayer {
    BoundaryLayer {
        inner_density: 1.1,
        outer_density: 1.0,
        inner_viscosity: 0.1 * ratio,
        outer_viscosity: 0.1,
        tension: 1.0,
    }
}

proptest! {
    // u_s = u + tau h/(4 mu_i) and G + 2 tau/h = mu_o d (u_eq - u)/h^2: two routes to one force.
    #[test]
    fn theory_two_routes_to_one_force(log_ratio in -3.0..3.0f64, x in 0.01..0.97f64, u in -3.0..3.0f64, wall in 0.3..4.0f64) {
        let (ratio, viscosity, flow) = (10f64.powf(log_ratio), 0.7, 2.0);
        let h = x * wall;
        let [shear, gradient, velocity] = at_interface((ratio, viscosity, flow), h, wall, u);
        let y = x * x;
        let (d, _) = drag::coefficient::<true>(y, y.ln(), 1.0 / ratio);
        let u_eq = 2.0 * flow / (PI * wall * wall) * core_annular::equilibrium(y, 1.0 / ratio).mean;
        let by_closure = viscosity * d * (u_eq - u) / (h * h);
        let by_stress = gradient + 2.0 * shear / h;
        let scale = gradient.abs() + 2.0 * shear.abs() / h;
        prop_assert!((by_closure - by_stress).abs() < 1e-9 * scale, "{} {}", by_closure, by_stress);
        let from_shear = u + shear * h / (4.0 * ratio * viscosity);
        prop_assert!((velocity - from_shear).abs() < 1e-10 * (u.abs() + from_shear.abs() + (from_shear - u).abs()));
        // The same interface velocity as a linear function of u about the equilibrium.
        let (alpha, _) = core_annular::following(y, y.ln(), ratio);
        let interface_eq = 2.0 * flow / (PI * wall * wall) * core_annular::equilibrium(y, 1.0 / ratio).interface;
        let linear = interface_eq + alpha * (u - u_eq);
        prop_assert!((linear - velocity).abs() < 1e-9 * (1.0 + u.abs() + u_eq.abs()), "{} {}", linear, velocity);
    }

    #[test]
    fn derivatives_agree_with_differences(
        log_ratio in -3.0..3.0f64, x in 0.02..0.95f64, wall in 0.5..30.0f64, bound in 1.0..3.0f64, layered in any::<bool>(),
    ) {
        let ratio = 10f64.powf(log_ratio);
        let mut outer = Outer::new(ratio, 0.7, 2.0);
        outer.boundary_layer = layered.then(|| watery_layer(ratio));
        let a = (x * wall) * (x * wall);
        let reference = bound * x * wall;
        let here = outer.local(a, Some(reference), Some(wall));
        let far = outer.local(a, Some(reference), None);
        type Pick = fn(&Local) -> Dual;
        let of_a = |pick: Pick| slope(|a| pick(&outer.local(a, Some(reference), Some(wall))).value, a);
        let of_wall = |pick: Pick| slope(|wall| pick(&outer.local(a, Some(reference), Some(wall))).value, wall);
        let unbounded = |pick: Pick| slope(|a| pick(&outer.local(a, Some(reference), None)).value, a);
        let axis = 4.0 / (PI * wall * wall);
        let fast = axis.max(here.u_eq.value);
        // what they are, and how large they are in a tube and without a wall
        let of_local: [(&str, Pick, [f64; 2]); 7] = [
            ("u_eq", |l| l.u_eq, [fast, 0.0]),
            ("drag", |l| l.drag, [here.drag.value, far.drag.value]),
            ("c_e", |l| l.c_e, [here.c_e.value, 1.0]),
            ("alpha near", |l| l.near.alpha, [1.0, 1.0]),
            ("beta near", |l| l.near.beta, [fast, 0.0]),
            ("alpha", |l| l.surface.alpha, [1.0, 1.0]),
            ("beta", |l| l.surface.beta, [fast, 0.0]),
        ];
        let mut checks = Vec::new();
        for (name, pick, [scale, scale_far]) in of_local {
            checks.push((name, pick(&here).by_a, of_a(pick), scale / a));
            checks.push((name, pick(&here).by_wall, of_wall(pick), scale / wall));
            checks.push((name, pick(&far).by_a, unbounded(pick), scale_far / a));
        }
        for (name, ours, difference, scale) in checks {
            prop_assert!((ours - difference).abs() <= 1e-6 * (scale + difference.abs()), "{} {} {} {:?}", name, ours, difference, here);
        }
    }

    #[test]
    fn film_pressure_and_its_slopes(x in 0.85..0.985f64, wall in 0.5..3.0f64) {
        let a = (x * wall) * (x * wall);
        let here = wall::film(a, wall, 1.3);
        prop_assert_eq!(here.value > 0.0, x > wall::CONTACT + 1e-15);
        if (x - wall::CONTACT).abs() < 1e-3 { return Ok(()); }
        let by_a = slope(|a| wall::film(a, wall, 1.3).value, a);
        let by_wall = slope(|wall| wall::film(a, wall, 1.3).value, wall);
        prop_assert!((here.by_a - by_a).abs() < 1e-5 * by_a.abs() + 1e-12);
        prop_assert!((here.by_wall - by_wall).abs() < 1e-5 * by_wall.abs() + 1e-12);
    }

    #[test]
    fn joins_lie_just_above_the_larger_drag(d in 0.01..100.0f64, e in 0.01..100.0f64) {
        let at = |d: f64| inertia::join(Dual { value: d, by_a: 1.0, by_wall: 0.0 }, Dual { value: e, ..Dual::default() });
        let joined = at(d).value;
        prop_assert!(joined >= d.max(e) * (1.0 - 1e-14) && joined <= d.max(e) * 1.0906);
        let by_difference = slope(|d| at(d).value, d);
        prop_assert!((at(d).by_a - by_difference).abs() < 1e-7);
        let end = ends::mix(d, 2.0, e, 0.7, 0.3);
        prop_assert!(end.drag >= d.min(e) && end.drag <= d.max(e));
        prop_assert!(end.velocity >= 0.7 && end.velocity <= 2.0);
        prop_assert!((end.drag_d - slope(|d| ends::mix(d, 2.0, e, 0.7, 0.3).drag, d)).abs() < 1e-7);
        prop_assert!((end.velocity_d - slope(|d| ends::mix(d, 2.0, e, 0.7, 0.3).velocity, d)).abs() < 1e-6 / d);
        prop_assert!((end.velocity_u - slope(|u| ends::mix(d, u, e, 0.7, 0.3).velocity, 2.0)).abs() < 1e-7);
        prop_assert_eq!(ends::mix(d, 2.0, e, 0.7, 0.0).velocity, 2.0);
    }

    // Rescaling lengths and times must not change a number without units.
    #[test]
    fn units_do_not_matter(x in 0.05..0.9f64, length in 1e-6..1e3f64, speed in 1e-6..1e3f64) {
        let (outer, scaled) = (Outer::new(0.4, 1.0, 2.0), Outer::new(0.4, 1e-3, 2.0 * speed * length * length));
        let a = outer.local(x * x, Some(x), Some(1.0));
        let b = scaled.local((x * length) * (x * length), Some(x * length), Some(length));
        prop_assert!(close(b.drag.value, a.drag.value, 1e-12) && close(b.c_e.value, a.c_e.value, 1e-12));
        prop_assert!(close(b.u_eq.value, a.u_eq.value * speed, 1e-12));
    }
}

#[test]
fn added_mass_is_that_of_the_annulus_above_its_floor() {
    assert_eq!(inertia::added_mass(0.01), inertia::ADDED_MASS_FLOOR.value);
    assert!(close(inertia::added_mass(0.5), 1.0, 1e-15));
    assert!(close(extension::coefficient(0.0, extension::wall_share(1.0)).0, 1.0, 1e-15));
}

#[test]
fn wake_grows_from_nothing_to_the_whole_stream() {
    for wall in [2.0, 8.0, 114.0, 1e4] {
        assert_eq!(Wake::new(2.0, wall).at(0.0).0, 0.0);
        assert_eq!(Wake::new(2.0, wall).at(-1.0).0, 0.0);
        assert!(close(Wake::new(2.0, wall).at(1e4).0, 1.0, 0.01));
        let mut last = 0.0;
        for step in 1..200 {
            let z = 0.3 * f64::from(step);
            let (share, rate) = Wake::new(2.0, wall).at(z);
            assert!(share >= last && share <= 1.0, "{wall} {z}");
            assert!((rate - slope(|z| Wake::new(2.0, wall).at(z).0, z)).abs() < 1e-6, "{wall} {z}");
            last = share;
        }
    }
}

/// Standard drag curve of a rigid sphere (Clift, Grace & Weber 1978, Bubbles, Drops and Particles, table 5.2, recalled from memory).
#[test]
fn published_drag_of_a_rigid_sphere_with_inertia() {
    for (reynolds, coefficient, within) in
        [(0.1, 244.0, 0.02), (1.0, 27.2, 0.03), (10.0, 4.26, 0.04), (100.0, 1.09, 0.03)]
    {
        let ours = 24.0 / reynolds * ends::inertial(reynolds).0;
        assert!(close(ours, coefficient, within), "{reynolds}: {ours}");
    }
}

/// A spherical bubble: 1 + Re/8 slowly (Taylor & Acrivos 1964), drag 12 pi mu r V fast (Levich 1949): three times that of creeping flow.
#[test]
fn theory_drag_of_a_bubble_with_inertia_in_both_limits() {
    let rise = |reynolds: f64| ends::inertial(reynolds).1;
    assert!(close((rise(1e-3) - 1.0) / 1e-3, 0.125, 0.03), "{}", (rise(1e-3) - 1.0) / 1e-3);
    assert!(close(rise(1e9), 3.0, 1e-3), "{}", rise(1e9));
    assert!(close(rise(0.0), 1.0, 1e-12));
}
