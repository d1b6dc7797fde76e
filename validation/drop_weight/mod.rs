use crate::framework::plot::{Plot, line, linear, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::theory::drop_weight;

pub fn topic() -> Topic {
    let from = source("Harkins & Brown 1919, J. Am. Chem. Soc. 41, 499; harkins_brown.csv", Status::Recalled);
    let table = Table::read("validation/drop_weight/harkins_brown.csv");
    let rows = table.columns(["R_over_Vcuberoot", "f", "Bo", "V_over_R3"]);
    let inside = || rows.iter().filter(|row| row[0] > 0.3 && row[0] < 1.2);
    let volume: Vec<_> = inside().map(|row| (row[3], drop_weight::volume(row[2]).unwrap_or(f64::NAN))).collect();
    let other = source("handbook smoothed form (Int. Crit. Tables IV), drop_weight_F_handbook.csv", Status::Recalled);
    let handbook = Table::read("validation/drop_weight/drop_weight_F_handbook.csv").columns(["R_over_Vcuberoot", "f"]);
    let between = || handbook.iter().filter(|row| row[0] > 0.3 && row[0] < 1.2);
    let smooth: Vec<_> = between().map(|[y, f]| (*f, drop_weight::fraction(*y).unwrap_or(f64::NAN))).collect();
    let curve = (0..=90).map(|i| 0.3 + 0.01 * f64::from(i));
    Topic {
        folder: "drop_weight",
        section: 'A',
        title: "Weight of slow drops: the table",
        rows: vec![
            whole_table("volume from the Bond number", &from, &volume, 1e-5),
            whole_table("f against the other handbook form", &other, &smooth, 5e-3),
        ],
        figure: Some(Plot {
            x: linear("R/V^1/3"),
            y: linear("fraction f of the ideal weight"),
            series: vec![
                line("interpolated", curve.filter_map(|y| drop_weight::fraction(y).map(|f| (y, f))).collect()),
                symbols("Harkins-Brown", inside().map(|row| (row[0], row[1])).collect()),
                symbols("handbook", between().map(|[y, f]| (*y, *f)).collect()),
            ],
        }),
    }
}
