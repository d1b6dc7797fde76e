use crate::framework::table::Table;
use crate::framework::{Status, Topic, absolute, relative, source};
use slenderjet::theory::{pinch_laws, universal_pinch};

pub fn topic() -> Topic {
    let stokes = source("Papageorgiou 1995, Phys. Fluids 7, 1529; stokes_pinchoff.csv", Status::Theory);
    let [[beta, speed]] = Table::read("validation/pinch_laws/stokes_pinchoff.csv").columns(["beta", "coefficient"])[..]
    else {
        panic!("one row")
    };
    let eggers = source("Eggers 1993, Phys. Rev. Lett. 71, 3458; recomputed, eggers_pinchoff.csv", Status::Theory);
    let [[place, thickness, smallest]] =
        Table::read("validation/pinch_laws/eggers_pinchoff.csv").columns(["xi0", "phi0", "phi_min"])[..]
    else {
        panic!("one row")
    };
    let ours = universal_pinch::universal();
    let of = |pick: fn(&universal_pinch::Universal) -> f64| ours.as_ref().map_or(f64::NAN, pick);
    Topic {
        folder: "pinch_laws",
        section: 'A',
        title: "Laws of pinch-off",
        rows: vec![
            relative("axial exponent without inertia", &stokes, beta, pinch_laws::stokes_exponent(), 1e-9),
            relative("neck speed without inertia over γ/μ", &stokes, speed, pinch_laws::stokes_speed(), 1e-9),
            relative("neck speed with inertia over γ/μ", &eggers, smallest, of(|u| u.speed), 1e-6),
            relative("thickness at the regular point", &eggers, thickness, of(|u| u.thickness), 1e-6),
            absolute("place of the regular point", &eggers, place, of(|u| u.place), 1e-5),
        ],
        figure: None,
    }
}
