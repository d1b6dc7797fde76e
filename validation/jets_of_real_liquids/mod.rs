use crate::framework::plot::{Plot, line, linear};
use crate::framework::table::Table;
use crate::framework::{Row, Source, Status, Topic, source, whole_table};
use slenderjet::theory::stokes_thread::StokesThread;
use slenderjet::theory::surfactant_jet::{Jet, Surface};
use slenderjet::theory::viscoelastic::{Liquid, growth_by};

fn folder(file: &str) -> String {
    format!("tests/data/real_liquids/{file}")
}

fn surfactant(exact: &Source, long: &Source) -> Vec<Row> {
    let rows = Table::read(&folder("lin_surfactant.csv")).columns(["Pe", "Oh", "E", "kR", "s_full_re", "s_1d_re"]);
    let jet = |[peclet, ohnesorge, elasticity]: [f64; 3]| Jet {
        liquid: Liquid::newtonian(ohnesorge),
        surface: Surface::Laden { elasticity, inverse_peclet: 1.0 / peclet },
    };
    let full: Vec<_> = rows.iter().map(|[pe, oh, e, x, s, _]| (*s, jet([*pe, *oh, *e]).growth(*x))).collect();
    let slender: Vec<_> = rows.iter().map(|[pe, oh, e, x, _, s]| (*s, jet([*pe, *oh, *e]).long_wave(*x).re)).collect();
    vec![
        whole_table("growth with an insoluble surfactant", exact, &full, 1e-9),
        whole_table("the same of long waves", long, &slender, 1e-8),
    ]
}

fn inextensible(exact: &Source) -> Row {
    let rows = Table::read(&folder("lin_inextensible.csv")).columns(["Oh", "kR", "s_full"]);
    let of = |oh: f64, x: f64| Jet { liquid: Liquid::newtonian(oh), surface: Surface::Inextensible }.growth(x);
    let pairs: Vec<_> = rows.iter().map(|[oh, x, s]| (*s, of(*oh, *x))).collect();
    whole_table("growth under a surface that cannot stretch", exact, &pairs, 1e-9)
}

fn polymer(exact: &Source, long: &Source) -> Vec<Row> {
    let rows = Table::read(&folder("lin_oldroydb.csv")).columns(["Oh", "De", "b", "kR", "s_full", "s_1d"]);
    let jet = |[ohnesorge, deborah, solvent_share]: [f64; 3]| Jet {
        liquid: Liquid { ohnesorge, solvent_share, deborah },
        surface: Surface::CLEAN,
    };
    let full: Vec<_> = rows.iter().map(|[oh, de, b, x, s, _]| (*s, jet([*oh, *de, *b]).growth(*x))).collect();
    let slender: Vec<_> =
        rows.iter().map(|[oh, de, b, x, _, s]| (*s, jet([*oh, *de, *b]).long_wave_growth(*x))).collect();
    vec![
        whole_table("growth with a dissolved polymer (Oldroyd-B)", exact, &full, 1e-9),
        whole_table("the same of long waves", long, &slender, 1e-8),
    ]
}

/// Points drawn at random from what laboratories use, and computed by a script of ours before the program was run at them.
fn drawn() -> Row {
    let rows = Table::read(&folder("drawn_growth.csv")).columns(["Oh", "E", "Pe", "De", "b", "kR", "s"]);
    let grows = |[ohnesorge, elasticity, peclet, deborah, solvent_share, x, s]: &[f64; 7]| {
        let liquid = Liquid { ohnesorge: *ohnesorge, solvent_share: *solvent_share, deborah: *deborah };
        let surface = Surface::Laden { elasticity: *elasticity, inverse_peclet: 1.0 / peclet };
        (*s, Jet { liquid, surface }.growth(*x))
    };
    let pairs: Vec<_> = rows.iter().map(grows).collect();
    let text = "2 x 2 Bessel determinant, 40 digits, scripts/real_liquids_points.py; drawn_growth.csv";
    whole_table(
        "growth with a surfactant or a polymer, sixteen points drawn at random",
        &source(text, Status::Theory),
        &pairs,
        1e-9,
    )
}

/// A thread of four times the table's viscosity at rest, a tenth of it the solvent's, whose polymer forgets just so fast that at the table's
/// growth rate w it has the table's viscosity: b + (1 - b)/(1 + De w) = 1/4.
fn in_a_liquid(exact: &Source) -> Row {
    let rows = Table::read("validation/stokes_thread/tomotika_stokes.csv").columns(["ratio", "x", "w_outer"]);
    let grows = |[ratio, x, w]: &[f64; 3]| {
        let rate = |m: f64| StokesThread { viscosity_ratio: 4.0 * ratio * m, wall: None }.growth(*x);
        (*w, growth_by(rate, 0.1, 5.0 / w))
    };
    let pairs: Vec<_> = rows.iter().filter(|row| row[2] > 0.0).map(grows).collect();
    whole_table("growth of a polymer thread in another liquid", exact, &pairs, 1e-9)
}

pub fn topic() -> Topic {
    let exact = source("2 x 2 Bessel determinant, 30 digits, and Chebyshev eigenvalues; lin_*.csv", Status::Theory);
    let long = source("roots of the long-wave polynomial, lin_*.csv", Status::Theory);
    let mut rows = surfactant(&exact, &long);
    rows.push(inextensible(&exact));
    rows.extend(polymer(&exact, &long));
    let tomotika = source(
        "Tomotika 1935, Proc. R. Soc. Lond. A 150, 322, with the viscosity by the growth rate; 40 digits, tomotika_stokes.csv",
        Status::Theory,
    );
    rows.push(in_a_liquid(&tomotika));
    rows.push(drawn());
    let curve = |oh: f64, elasticity: f64, full: bool| -> Vec<_> {
        let surface = Surface::Laden { elasticity, inverse_peclet: 0.0 };
        let jet = Jet { liquid: Liquid::newtonian(oh), surface };
        let xs = (1..=48).map(|k| 0.02 * f64::from(k));
        xs.map(|x| (x, if full { jet.growth(x) } else { jet.long_wave(x).re.max(0.0) })).collect()
    };
    Topic {
        folder: "jets_of_real_liquids",
        section: 'A',
        title: "Growth of waves with a surfactant or a polymer",
        rows,
        figure: Some(Plot {
            x: linear("reduced wavenumber kR"),
            y: linear("growth rate, √(γ/ρR³), E = 0.3"),
            series: vec![
                line("exact, Oh 1", curve(1.0, 0.3, true)),
                line("long waves, Oh 1", curve(1.0, 0.3, false)),
                line("exact, Oh 0.01", curve(0.01, 0.3, true)),
                line("long waves, Oh 0.01", curve(0.01, 0.3, false)),
            ],
        }),
    }
}
