use crate::framework::plot::{Plot, line, linear, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use rayon::prelude::*;
use slenderjet::theory::pendant::{self, Pendant};

pub fn topic() -> Topic {
    let shape = source("Young-Laplace; Bashforth & Adams 1883, pendant_shapes.csv", Status::Theory);
    let names = ["Bo", "V", "apex_curvature", "height", "phi_deg", "r_max"];
    let shapes = Table::read("validation/pendant_drop/pendant_shapes.csv").columns(names);
    let drops: Vec<_> = shapes.par_iter().map(|row| pendant::of_volume(row[0], row[1])).collect();
    let column = |pick: fn(&Pendant) -> f64, place: usize| -> Vec<_> {
        shapes.iter().zip(&drops).map(|(row, drop)| (row[place], drop.as_ref().map_or(f64::NAN, pick))).collect()
    };
    let greatest = source(
        "Padday & Pitt 1973, Phil. Trans. R. Soc. Lond. A 275, 489; recomputed, pendant_max_volume.csv",
        Status::Theory,
    );
    let names = ["Bo", "V_max", "height", "phi_deg", "r_max"];
    let limits = Table::read("validation/pendant_drop/pendant_max_volume.csv").columns(names);
    let largest: Vec<_> = limits.par_iter().map(|row| pendant::greatest(row[0])).collect();
    let at_limit = |pick: fn(&Pendant) -> f64, place: usize| -> Vec<_> {
        limits.iter().zip(&largest).map(|(row, drop)| (row[place], drop.as_ref().map_or(f64::NAN, pick))).collect()
    };
    // Where the drop is widest at the nozzle the table has its last step beyond it: left out.
    let bulging: Vec<_> = at_limit(|drop| drop.radius_max, 4).into_iter().filter(|pair| pair.0 > 1.01).collect();
    let outline = |drop: &Pendant| drop.profile().iter().step_by(8).map(|(r, z)| (*r, z - drop.height)).collect();
    let apexes = limits.iter().filter(|row| [0.1, 0.5, 1.0].contains(&row[0])).map(|row| (0.0, -row[2])).collect();
    let series = [0.1, 0.5, 1.0]
        .iter()
        .filter_map(|bond| pendant::greatest(*bond).map(|drop| line(format!("Bo = {bond}"), outline(&drop))))
        .chain([symbols("apex, table", apexes)])
        .collect();
    Topic {
        folder: "pendant_drop",
        section: 'A',
        title: "Hanging drop",
        rows: vec![
            whole_table("apex curvature at given volume", &shape, &column(|drop| drop.apex_curvature, 2), 1e-6),
            whole_table("height", &shape, &column(|drop| drop.height, 3), 1e-6),
            whole_table("angle at the nozzle", &shape, &column(|drop| drop.angle.to_degrees(), 4), 1e-6),
            whole_table("greatest volume, Bo 0.001 to 2", &greatest, &at_limit(|drop| drop.volume, 1), 1e-6),
            whole_table("height there", &greatest, &at_limit(|drop| drop.height, 2), 1e-5),
            whole_table("widest radius there, Bo up to 0.5", &greatest, &bulging, 1e-5),
        ],
        figure: Some(Plot { x: linear("radius over nozzle radius"), y: linear("height over nozzle radius"), series }),
    }
}
