use super::*;

fn orifice() -> Glass {
    let (standoff, radius, edge) = (1.5, 1.5, 0.05);
    let mut corners = vec![[-2.8, 4.0], [standoff, 4.0]];
    corners.extend((0..24).map(|i| {
        let angle = std::f64::consts::FRAC_PI_2 * f64::from(i) / 23.0;
        [standoff + edge - edge * angle.cos(), radius + edge - edge * angle.sin()]
    }));
    corners.extend([[2.0, radius], [3.0, 3.0], [60.0, 3.0]]);
    Glass::new(corners, 4.0, standoff)
}

fn short() -> (Vec<f64>, Vec<f64>) {
    let z: Vec<f64> = (0..=60).map(|i| (std::f64::consts::FRAC_PI_2 * f64::from(i) / 60.0).sin()).collect();
    let mut a: Vec<f64> = z.iter().map(|z| (1.0 - z * z).max(0.0)).collect();
    a[60] = 0.0;
    (z, a)
}

fn long() -> (Vec<f64>, Vec<f64>) {
    let z: Vec<f64> = (0..=150).map(|i| 7.0 * (std::f64::consts::FRAC_PI_2 * f64::from(i) / 150.0).sin()).collect();
    let mut a: Vec<f64> = z
        .iter()
        .map(|z| {
            let (neck, drop) = ((z - 2.2) / 0.9, (z - 5.2) / 1.2);
            (1.0 - (z / 7.0).powi(2)) * (1.0 - 0.85 * (-neck * neck).exp() + 0.6 * (-drop * drop).exp())
        })
        .collect();
    (a[0], a[150]) = (1.0, 0.0);
    (z, a)
}

fn spent(rays: &Rays, x: &[f64]) -> f64 {
    let on: Vec<f64> = rays
        .rows
        .iter()
        .map(|row| row.coefficients.iter().zip(&x[row.first..]).map(|(c, x)| c * x).sum())
        .collect();
    rays.matrix.chunks(rays.count).zip(&on).map(|(row, v)| v * row.iter().zip(&on).map(|(m, v)| m * v).sum::<f64>()).sum()
}

#[test]
fn scratch_print() {
    let pi = std::f64::consts::PI;
    let mut work = RayWork::default();
    let mut rays = Rays::default();
    for (name, glass) in [("orifice", orifice()), ("tube", Glass::new(vec![[-2.8, 4.0], [10.0, 4.0]], 4.0, 0.0))] {
        for (shape, (z, a)) in [("short", short()), ("long", long())] {
            about(&glass, &z, &a, &mut work, &mut rays).expect("a thread");
            let l = z[z.len() - 1];
            let field = |u: &dyn Fn(f64) -> f64, q: &dyn Fn(f64) -> f64| -> Vec<f64> {
                z.iter().flat_map(|z| [u(z / l), q(z / l)]).collect()
            };
            let fields = [
                field(&|x| (pi * x).sin(), &|x| 0.3 * (2.0 * pi * x).sin()),
                field(&|x| x * (1.0 - x), &|x| (1.0 - x * x) * x),
                field(&|x| 1.0 - (pi * x).cos(), &|_| 0.0),
            ];
            let start = std::time::Instant::now();
            for _ in 0..200 {
                about(&glass, &z, &a, &mut work, &mut rays);
            }
            let ms = start.elapsed().as_secs_f64() * 5.0;
            println!("{name} {shape} {} {} {:?} ms {ms}", rays.count / 2 + 1, rays.crossed, fields.map(|x| spent(&rays, &x)));
        }
    }
}
