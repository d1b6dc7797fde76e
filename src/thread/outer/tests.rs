use super::profile::Wall;
use super::*;
use crate::device::thinning::Carreau;
use crate::thread::force::Physics;
use crate::thread::force::forces;
use crate::thread::inflow::Inflow;

fn physics(wall: Wall, ratio: f64) -> Physics {
    let ohnesorge = 0.8 * ratio;
    Physics {
        ohnesorge,
        bond: 0.0,
        artificial: 0.5,
        inflow: Inflow::steady(0.02),
        outer: Some(OuterField::new(ohnesorge, ratio, 0.9, wall, 0.9)),
        rheology: None,
        parabolic: false,
    }
}

/// Outer forces alone.
fn outer_forces(physics: &Physics, body: &Body) -> Vec<f64> {
    let mut work = Work { v: body.v.clone(), ..Work::default() };
    work.geometry(body, &body.z).expect("cells in order");
    work.masses();
    let field = physics.outer.as_ref().expect("an outer liquid");
    field.share_shear::<true>(body, (&body.z, &body.u), &mut work);
    forces(physics, body, &body.u, &mut work);
    let inner = work.force.clone();
    field.add_forces::<false>(physics.rheology.as_ref(), body, &body.u, &mut work);
    work.force.iter().zip(&inner).map(|(all, inner)| all - inner).collect()
}

// A sphere at rest in an unbounded liquid that moves through it feels Hadamard and Rybczynski's drag 6 pi mu r HR U (1911).
#[test]
fn published_drag_on_a_free_drop() {
    let physics = physics(Wall::Unbounded, 2.0);
    let mu = physics.outer.as_ref().expect("an outer liquid").liquids.viscosity;
    let z: Vec<f64> = (0..=100).map(|i| 1.4 * f64::from(i) / 100.0).collect();
    let drop = Body::from_profile(z, End::Tip, End::Tip, |z| z * (1.4 - z), |_| 0.01);
    let force = outer_forces(&physics, &drop);
    let drag: f64 = force.iter().sum();
    let exact = -6.0 * PI * mu * 0.7 * (2.0 / 3.0 + 2.0) / 3.0 * 0.01;
    assert!((drag / exact - 1.0).abs() < 0.02, "{drag} {exact}");
}

// What resists shear at a surface is shared by the viscosities that the liquids have there: about a thread that the stream passes fast, a
// strongly thinning outer liquid leaves the inner one as much as a liquid of so many times less viscosity does.
#[test]
fn theory_the_share_of_shear_is_that_of_the_thinned_liquid() {
    let shares = |physics: &Physics| {
        let z: Vec<f64> = (0..=30).map(|i| f64::from(i) / 5.0).collect();
        let thread = Body::from_profile(z, End::Symmetry, End::Symmetry, |z| 0.6 + 0.2 * z.cos(), |_| 3.0);
        let mut work = Work { v: thread.v.clone(), ..Work::default() };
        work.geometry(&thread, &thread.z).expect("cells in order");
        work.masses();
        let field = physics.outer.as_ref().expect("an outer liquid");
        field.share_shear::<true>(&thread, (&thread.z, &thread.u), &mut work);
        work.sheared[15]
    };
    let at_rest = physics(Wall::Uniform(2.0), 0.3);
    let with = |law: Carreau| {
        let mut thinning = at_rest.clone();
        thinning.outer.as_mut().expect("an outer liquid").thinning = Some(law);
        shares(&thinning)
    };
    let rest = shares(&at_rest);
    let slow = with(Carreau { exponent: 0.5, time: 1e-9, infinite: 0.0 });
    assert!((slow / rest - 1.0).abs() < 1e-9, "{slow} {rest}");
    // at endless rates: the liquid of viscosity m_inf
    let fast = with(Carreau { exponent: 0.1, time: 1e12, infinite: 0.1 });
    let mut thin = physics(Wall::Uniform(2.0), 3.0);
    thin.ohnesorge = at_rest.ohnesorge;
    let thinner = shares(&thin);
    assert!((fast / thinner - 1.0).abs() < 1e-6 && fast > 1.2 * rest, "{fast} {thinner} {rest}");
}

// What lags is the liquid with the viscosity that it has there: a law that has fallen to its least viscosity leaves that share of the
// lag's force, the rest of the outer forces as it is.
#[test]
fn theory_the_lag_is_that_of_the_thinned_liquid() {
    let z: Vec<f64> = (0..=30).map(|i| f64::from(i) / 5.0).collect();
    let thread = Body::from_profile(z, End::Symmetry, End::Symmetry, |z| 0.6 + 0.3 * z.cos(), |z| 3.0 + 0.5 * z.sin());
    let with = |infinite: Option<f64>| {
        let thinning = infinite.map(|infinite| Carreau { exponent: 0.1, time: 1e15, infinite });
        let rheology = thinning.map(|law| Rheology { thinning: Some(law), ..Rheology::default() });
        outer_forces(&Physics { rheology, ..physics(Wall::Uniform(2.0), 3.0) }, &thread)
    };
    let (rest, half, tenth) = (with(None), with(Some(0.55)), with(Some(0.1)));
    let most = rest.iter().fold(0.0f64, |m, f| m.max(f.abs()));
    let apart = |a: &[f64], b: &[f64]| a.iter().zip(b).fold(0.0f64, |m, (a, b)| m.max((a - b).abs())) / most;
    let middle: Vec<f64> = rest.iter().zip(&tenth).map(|(a, b)| 0.5 * (a + b)).collect();
    assert!(apart(&middle, &half) < 1e-9 && apart(&rest, &tenth) > 0.01, "{}", apart(&rest, &tenth));
}

// Exact core-annular flow: a uniform thread at u_eq in a tube feels no force.
#[test]
fn theory_core_annular_flow_is_in_balance() {
    let mut physics = physics(Wall::Uniform(2.0), 0.3);
    let field = physics.outer.as_mut().expect("an outer liquid");
    field.wake = false;
    let u = field.liquids.local(1.0, None, Some(2.0)).u_eq.value;
    let z: Vec<f64> = (0..=30).map(|i| f64::from(i) / 5.0).collect();
    let thread = Body::from_profile(z, End::Symmetry, End::Symmetry, |_| 1.0, |_| u);
    let force = outer_forces(&physics, &thread);
    assert!(force.iter().all(|f| f.abs() < 1e-12), "{force:?}");
}

#[test]
fn where_the_wall_narrows_the_wake_is_outrun() {
    let wall = Wall::profile(vec![0.0, 1.0, 2.0, 3.0, 4.0], vec![6.0, 4.0, 2.0, 1.0, 1.0]);
    let narrowing = OuterField::new(1.0, 1.0, 1.0, wall, 1.0);
    let straight = OuterField::new(1.0, 1.0, 1.0, Wall::Uniform(6.0), 1.0);
    assert!(straight.wake(3.0).0 < 0.85);
    assert!(narrowing.wake(3.0).0 > 0.98);
    let slope = (narrowing.wake(1.5 + 1e-6).0 - narrowing.wake(1.5 - 1e-6).0) / 2e-6;
    assert!((narrowing.wake(1.5).1 - slope).abs() < 1e-6);
}

// The nonlinear thread must grow as the model's own linear theory says (crate::thread::dispersion), with and without inertia.
#[test]
fn theory_growth_of_a_surrounded_thread() {
    use crate::outcome::SolverCounts;
    use crate::thread::advance::{Advancer, Numerics};
    use crate::thread::dispersion::{Relation, TwoLiquids};
    use crate::thread::mesh::size::Fineness;
    for (ratio, ohnesorge, wall, k) in
        [(1.0, 30.0, None, 0.6), (0.1, 3.0, Some(2.5), 0.7), (10.0, 60.0, Some(8.0), 0.4), (0.5, 0.1, Some(3.0), 0.7)]
    {
        let profile = wall.map_or(Wall::Unbounded, Wall::Uniform);
        let physics = Physics {
            ohnesorge,
            bond: 0.0,
            artificial: 0.5,
            inflow: Inflow::steady(0.0),
            outer: Some(OuterField::new(ohnesorge, ratio, 0.8, profile, 0.0)),
            rheology: None,
            parabolic: false,
        };
        let cells = 80;
        let z = (0..=cells).map(|i| PI / k * f64::from(i) / f64::from(cells)).collect();
        let wave = |z: f64| 1.0 + 5e-4 * (k * z).cos();
        let mut thread = Body::from_profile(z, End::Symmetry, End::Symmetry, |z| wave(z) * wave(z), |_| 0.0);
        let mu = ohnesorge / ratio;
        let laplace = 1.0 / (mu * mu);
        let liquids = TwoLiquids { viscosity_ratio: ratio, laplace_inner: laplace, laplace_outer: 0.8 * laplace };
        let relation =
            wall.map_or(Relation::unconfined(liquids, 0.0), |wall: f64| Relation::confined(liquids, 1.0 / wall, 0.0));
        let expected = Relation { radial: 0.0, ..relation }.growth(k) / mu;
        let fineness = Fineness { c: 0.05, neck_cut: 0.01, ohnesorge, longest: 8.0 };
        let numerics = Numerics { tol: 1e-5, fineness };
        let (mut advancer, mut counts) = (Advancer::default(), SolverCounts::default());
        let swell = |b: &Body| 0.5 * (b.area(0).sqrt() - b.area(b.cells() - 1).sqrt());
        let mut seen = Vec::new();
        for target in [1.5 / expected, 3.0 / expected] {
            while thread.time < target {
                advancer.step(&physics, &numerics, &mut thread, target, &mut counts).expect("a step");
            }
            seen.push(swell(&thread).ln());
        }
        let rate = (seen[1] - seen[0]) / 1.5 * expected;
        assert!((rate / expected - 1.0).abs() < 0.01, "{ratio} {ohnesorge} {wall:?}: {rate} {expected}");
    }
}

// Where the wall narrows and widens, a thread of the outer liquid's viscosity that goes with the stream feels what that liquid felt at
// its place: with its own Trouton tension nothing is left. Without the stream's stretch the tension itself is.
#[test]
fn theory_a_thread_of_the_same_viscosity_goes_with_the_stream() {
    let places: Vec<f64> = (0..=200).map(|i| 0.05 * f64::from(i)).collect();
    let radii = places.iter().map(|z| 2.5 - (-(z - 5.0) * (z - 5.0) / 8.0).exp()).collect();
    let mut physics = physics(Wall::profile(places, radii), 1.0);
    let field = physics.outer.as_mut().expect("an outer liquid");
    field.wake = false;
    let (field, mu) = (field.clone(), field.liquids.viscosity);
    let stream = |z: f64| field.liquids.local(0.25, None, field.wall.radius(z)).u_eq.value;
    let z: Vec<f64> = (0..=400).map(|i| 1.0 + 0.02 * f64::from(i)).collect();
    let thread = Body::from_profile(z.clone(), End::Symmetry, End::Outflow, |_| 0.25, stream);
    let force = outer_forces(&physics, &thread);
    let tension = |j: usize| 3.0 * PI * mu * 0.25 * (thread.u[j + 1] - thread.u[j]) / (z[j + 1] - z[j]);
    let pulls: Vec<f64> = (1..400).map(|i| tension(i) - tension(i - 1)).collect();
    let most = pulls.iter().fold(0.0f64, |m, f| m.max(f.abs()));
    // a node feels its two cells' drag with its own velocity: d^2/4 of the stream's curvature is left of that
    for (i, pull) in pulls.iter().enumerate() {
        assert!((force[i + 1] + pull).abs() < 0.03 * most, "{i}: {} {pull} of {most}", force[i + 1]);
    }
}

// Cells side by side and one by one: an inner liquid that does not thin, once said to be one that thins by nothing (exponent 1), feels the
// same but for rounding, in wide gaps and in narrow ones, with and without inertia of the outer liquid, with and without a drop-shaped end.
#[test]
fn cells_feel_the_same_side_by_side_and_one_by_one() {
    let places: Vec<f64> = (0..=200).map(|i| 0.05 * f64::from(i)).collect();
    let tapering =
        Wall::profile(places.clone(), places.iter().map(|z| 2.6 - (-(z - 5.0) * (z - 5.0) / 8.0).exp()).collect());
    let z: Vec<f64> = (0..=321).map(|i| 9.0 * f64::from(i) / 321.0).collect();
    let thread = Body::from_profile(
        z,
        End::Nozzle,
        End::Tip,
        |z| {
            (1.0 + 1.4 * (-(z - 5.5) * (z - 5.5)).exp() - 0.6 * (-(z - 2.0) * (z - 2.0)).exp())
                * (1.0 - (z / 9.0).powi(20)).max(0.0)
        },
        |z| 0.3 + 0.1 * (3.0 * z).sin(),
    );
    for wall in [tapering, Wall::Uniform(1.6), Wall::Uniform(30.0)] {
        for density_ratio in [0.9, 500.0] {
            let mut physics = physics(wall.clone(), 0.7);
            physics.outer = Some(OuterField::new(physics.ohnesorge, 0.7, density_ratio, wall.clone(), 0.9));
            let swift = outer_forces(&physics, &thread);
            physics.rheology = Some(Rheology {
                thinning: Some(Carreau { exponent: 1.0, time: 1.0, infinite: 0.1 }),
                ..Rheology::default()
            });
            let single = outer_forces(&physics, &thread);
            let most = single.iter().fold(0.0f64, |most, force| most.max(force.abs()));
            for (i, (swift, single)) in swift.iter().zip(&single).enumerate() {
                assert!((swift - single).abs() < 1e-11 * most, "{i}: {swift} {single} of {most}");
            }
        }
    }
}

// Stokes flow without a stream: what the forces of one motion do on another is what those of the other do on the one (Lorentz 1896, recalled
// from memory; a linear law with a dissipation has no other form), and a motion's own only take.
#[test]
fn theory_reciprocity_in_a_liquid_at_rest() {
    let mut still = physics(Wall::Uniform(1.9), 0.7);
    let outer = still.outer.as_mut().expect("an outer liquid");
    outer.liquids = Outer::new(0.7, outer.liquids.viscosity, 0.0);
    let z: Vec<f64> = (0..=160).map(|i| 4.0 * f64::from(i) / 160.0).collect();
    for (seed, right) in (0..40).zip([End::Tip, End::Symmetry].into_iter().cycle()) {
        let phase = |k: f64| 12.9898 * k * (1.0 + f64::from(seed));
        let mode = |z: f64, k: f64| (k * z + phase(k)).sin() * phase(k + 0.5).cos();
        let closed = |z: f64| if right == End::Tip { 1.0 - (z / 4.0).powi(6) } else { 1.0 };
        let shape = |z: f64| closed(z).max(0.0) * (0.9 * (mode(z, 1.3) + mode(z, 2.9) + mode(z, 5.1))).exp().min(2.5);
        let thread = Body::from_profile(z.clone(), End::Nozzle, right, shape, |_| 0.0);
        let mut work = Work { v: thread.v.clone(), ..Work::default() };
        work.geometry(&thread, &z).expect("cells in order");
        work.masses();
        let field = still.outer.as_ref().expect("an outer liquid");
        field.share_shear::<true>(&thread, (&z, &thread.u), &mut work);
        forces(&still, &thread, &thread.u, &mut work);
        let motions = [0.3, 1.7].map(|k| z.iter().map(|z| z * (mode(*z, k) + mode(*z, k + 0.4))).collect::<Vec<f64>>());
        let [one, other] = motions.each_ref().map(|u| {
            work.force.fill(0.0);
            field.add_forces::<false>(None, &thread, u, &mut work);
            work.force.clone()
        });
        let power = |force: &[f64], u: &[f64]| force.iter().zip(u).map(|(force, u)| force * u).sum::<f64>();
        let (across, back) = (power(&one, &motions[1]), power(&other, &motions[0]));
        let own = [power(&one, &motions[0]), power(&other, &motions[1])];
        assert!(own[0] < 0.0 && own[1] < 0.0, "{seed}: {own:?}");
        assert!((across - back).abs() < 1e-10 * (own[0] * own[1]).sqrt(), "{seed}: {across} {back} {own:?}");
    }
}
