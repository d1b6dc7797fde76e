use slenderjet::outcome::SolverCounts;
use slenderjet::pinch_off::neck::*;
use slenderjet::thread::advance::*;
use slenderjet::thread::body::*;
use slenderjet::thread::force::*;
use slenderjet::thread::inflow::*;
use slenderjet::thread::mesh::size::*;

fn run(mut body: Body, oh: f64, bond: f64, u0: f64, c: f64, tol: f64) {
    let physics = Physics {
        ohnesorge: oh,
        bond,
        artificial: Physics::artificial_for(oh),
        inflow: Inflow::steady(u0),
        outer: None,
    };
    let numerics = Numerics { tol, fineness: Fineness { c, neck_cut: 0.01, ohnesorge: oh, longest: 100.0 } };
    let mut adv = Advancer::default();
    let mut counts = SolverCounts::default();
    let v0 = body.volume();
    let t0 = std::time::Instant::now();
    let mut last = 1.0;
    let mut cells = 0u64;
    for _ in 0..200000 {
        if let Err(e) = adv.step(&physics, &numerics, &mut body, 1e6, &mut counts) {
            println!("underflow {e:?} t={} ", body.time);
            break;
        }
        cells += body.cells() as u64;
        if let Some(neck) = thinnest(&body) {
            for x in [0.5, 0.1, 0.01] {
                if last > x && neck.radius <= x {
                    println!(
                        "  h={x} t={:.5} z={:.5} L={:.5} V={:.5} frac {:.6} N={}",
                        body.time,
                        neck.position,
                        body.z[body.cells()],
                        volume_beyond(&body, &neck),
                        volume_beyond(&body, &neck) / v0,
                        body.cells()
                    );
                }
            }
            last = neck.radius;
            if neck.radius < 0.005 {
                break;
            }
        }
    }
    println!(
        "  {:?} cells-steps {} wall {:?} dV {:.2e}",
        counts,
        cells,
        t0.elapsed(),
        body.volume() - v0 - std::f64::consts::PI * u0 * body.time
    );
}

#[test]
fn cases() {
  let arg = |k: &str, d: f64| std::env::var(k).ok().and_then(|x| x.parse().ok()).unwrap_or(d);
  let (c, tol) = (arg("FINENESS", 0.1), arg("TOL", 1e-3));
    for (x, oh) in [(0.7, 0.1), (0.5, 1.0), (0.5, 0.01), (0.9, 0.01), (0.7, 10.0)] {
        println!("P x={x} Oh={oh}");
        let l = std::f64::consts::PI / x;
        let m = (8.0/c) as usize;
        let z = (0..=m).map(|i| l * i as f64 / m as f64).collect();
        let body = Body::from_profile(z, End::Symmetry, End::Symmetry, |z| (1.0 + 0.01 * (x * z).cos()).powi(2), |_| 0.0);
        run(body, oh, 0.0, 0.0, c, tol);
    }
    for (oh, bo, we) in [(0.1, 0.5, 1e-3), (0.01, 0.3, 1e-4), (1.0, 0.3, 1e-2), (0.03, 1.0, 1e-3), (0.3, 0.5, 0.1)] {
        println!("D Oh={oh} Bo={bo} We={we}");
        let z = (0..=20).map(|i| i as f64 / 20.0).collect();
        let u0 = f64::sqrt(we);
        let body = Body::from_profile(z, End::Nozzle, End::Tip, |z| 1.0 - z * z, |_| u0);
        run(body, oh, bo, u0, c, tol);
    }
}
