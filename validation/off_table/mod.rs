use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::theory::stokes_thread::StokesThread;
use slenderjet::theory::viscous_jet;

pub fn topic() -> Topic {
    let from =
        source("own computation from the textbook relations, 60 digits, scripts/theory_reference.py", Status::Theory);
    let jets = Table::read("validation/off_table/viscous_jet.csv").columns(["oh", "x", "growth"]);
    let jet: Vec<_> = jets.iter().map(|[oh, x, w]| (*w, viscous_jet::growth(*oh, *x))).collect();
    let threads = Table::read("validation/off_table/stokes_thread.csv").columns(["ratio", "x", "k", "growth"]);
    let thread = |ratio: f64, x: f64| StokesThread { viscosity_ratio: ratio, wall: Some(1.0 / x) };
    let tube: Vec<_> = threads.iter().map(|[ratio, x, k, s]| (*s, thread(*ratio, *x).growth(*k))).collect();
    Topic {
        folder: "off_table",
        section: 'A',
        title: "Growth rates at corners and random parameters",
        rows: vec![
            whole_table("viscous jet, Oh 1e-4 to 1e3, x 0.001 to 0.99", &from, &jet, 1e-9),
            whole_table("two-layer, ratio and h/R_w 0.001 to 1e3 and 0.95", &from, &tube, 1e-6),
        ],
        figure: Some(Plot {
            x: log("growth rate, reference"),
            y: log("growth rate, ours"),
            series: vec![
                symbols("viscous jet", jet),
                symbols("two-layer thread", tube),
                line("equal", vec![(1e-11, 1e-11), (1.0, 1.0)]),
            ],
        }),
    }
}
