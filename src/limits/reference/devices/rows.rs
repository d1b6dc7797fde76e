//! Rows of the full equations (none guided a closure), and the model's differences from them. Orifice: Ca in the hole, flow ratio,
//! viscosity ratio, hole's radius over the tip's, difference of d. Inertia: La_o, Ca, q, viscosity ratio, difference of d.
//! Written by `SLENDERJET_BLESS=1 cargo test --release --test validation`. Not for editing by hand.

pub(super) const DEVICES: &[[f64; 5]] = &[
    [0.0300626, 0.888889, 0.8, 0.5, -0.0746],
    [0.1, 0.7, 1.0, 0.5, 0.0756],
    [0.03, 0.2, 1.0, 0.5, -0.0666],
    [0.06, 0.3, 1.0, 0.5, 0.1814],
    [0.06, 0.3, 1.0, 0.3, 0.2249],
    [0.06, 0.3, 1.0, 0.5, 0.0318],
    [0.0904, 0.132, 0.919, 0.353, -0.0505],
];

pub(super) const INERTIAL: &[[f64; 5]] = &[
    [50.0, 0.1, 1.0, 1.0, 0.0022],
    [10.0, 0.1, 1.0, 1.0, -0.0248],
    [10.0, 0.2, 0.5, 1.0, -0.0234],
    [1.0, 0.1, 1.0, 1.0, -0.0273],
    [50.0, 0.1, 1.0, 1.0, -0.0239],
];
