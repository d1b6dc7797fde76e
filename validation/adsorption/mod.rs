use crate::framework::plot::{Plot, line, linear, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Row, Status, Topic, relative, source, whole_table};
use slenderjet::theory::adsorption::{Interface, Solution, coverage};
use std::f64::consts::PI;

const TABLES: [(Interface, &str, &str); 2] = [
    (Interface::Plane, "tests/data/real_liquids/wardtordai_planar.csv", "plane at rest"),
    (Interface::Drop, "tests/data/real_liquids/wardtordai_drop.csv", "drop fed at constant flow"),
];
/// Of the tables' solutions, K and N/m.
const TEMPERATURE: f64 = 298.15;
const CLEAN: f64 = 0.072;

pub fn topic() -> Topic {
    let tables =
        source("diffusion equation by Chebyshev collocation, wardtordai_*.csv (1e-7)", Status::IndependentSolver);
    let start =
        source("θ = 2√(T/π); on a growing drop less by √(3/7) (Ward & Tordai 1946, derived anew)", Status::Theory);
    let mut rows: Vec<Row> = Vec::new();
    for (interface, path, what) in TABLES {
        let table = Table::read(path);
        let pairs: Vec<_> = table
            .columns(["kap", "T", "theta"])
            .into_iter()
            .map(|[kappa, t, theta]| (theta, coverage(interface, kappa, t, 1e-7).coverage))
            .collect();
        rows.push(whole_table(format!("coverage of a {what}"), &tables, &pairs, 1e-6));
        let tensions: Vec<_> = table
            .columns(["D", "Gm", "K", "cb", "t_s", "gamma_mN_m"])
            .into_iter()
            .map(|[diffusivity, saturation, affinity, concentration, age, tension]| {
                let solution = Solution { concentration, saturation, affinity, diffusivity, temperature: TEMPERATURE };
                (1e-3 * tension, CLEAN - solution.pressure(solution.layer(interface, age).coverage))
            })
            .collect();
        rows.push(whole_table(format!("tension of a {what}"), &tables, &tensions, 1e-6));
    }
    for (interface, factor, what) in
        [(Interface::Plane, 1.0, "plane at rest"), (Interface::Drop, (3.0f64 / 7.0).sqrt(), "growing drop")]
    {
        let t = 1e-12;
        let early = coverage(interface, 10.0, t, 1e-8).coverage;
        rows.push(relative(
            format!("coverage of a {what} just after it was made"),
            &start,
            factor * 2.0 * (t / PI).sqrt(),
            early,
            1e-4,
        ));
    }
    let curve = |interface| -> Vec<_> {
        let times = (0..=40).map(|k| 10f64.powf(-5.0 + 0.2 * f64::from(k)));
        times.map(|t| (t, coverage(interface, 10.0, t, 1e-5).coverage)).collect()
    };
    let points = |path: &str| -> Vec<_> {
        let rows = Table::read(path).columns(["kap", "T", "theta"]);
        rows.into_iter()
            .filter(|[kappa, t, _]| *kappa == 10.0 && (1e-5..1e3).contains(t))
            .map(|[_, t, theta]| (t, theta))
            .collect()
    };
    Topic {
        folder: "adsorption",
        section: 'A',
        title: "A surfactant on its way to a new interface",
        rows,
        figure: Some(Plot {
            x: log("time over (Γ∞/c)²/D"),
            y: linear("coverage, κ = 10"),
            series: vec![
                line("plane", curve(Interface::Plane)),
                line("growing drop", curve(Interface::Drop)),
                symbols("plane, table", points(TABLES[0].1)),
                symbols("drop, table", points(TABLES[1].1)),
            ],
        }),
    }
}
