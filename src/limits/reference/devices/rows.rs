//! Rows of the full equations (none guided a closure), and the model's differences from them. Orifice: Ca in the hole, flow ratio,
//! viscosity ratio, hole's radius over the tip's, difference of d. Inertia: La_o, Ca, q, viscosity ratio, difference of d.
//! Written by `SLENDERJET_BLESS=1 cargo test --release --test validation`. Not for editing by hand.

pub(super) const DEVICES: &[[f64; 5]] = &[
    [0.0459781, 0.444444, 0.8, 0.5, 0.1260],
    [0.0300626, 0.888889, 0.8, 0.5, 0.1483],
    [0.1, 0.2, 1.0, 0.5, -0.4969],
    [0.03, 0.2, 1.0, 0.5, 0.1308],
    [0.1, 0.2, 0.1, 0.5, 0.2583],
    [0.06, 0.3, 1.0, 0.5, -0.5041],
    [0.06, 0.3, 1.0, 1.0, 0.1794],
    [0.06, 0.3, 1.0, 0.3, 0.4204],
    [0.06, 0.3, 1.0, 0.5, 0.1800],
    [0.06, 0.3, 1.0, 0.5, 0.1550],
    [0.06, 0.3, 1.0, 0.5, 0.1571],
    [0.0904, 0.132, 0.919, 0.353, 0.0885],
];

pub(super) const INERTIAL: &[[f64; 5]] = &[
    [50.0, 0.1, 1.0, 1.0, 0.0035],
    [10.0, 0.1, 1.0, 1.0, -0.0220],
    [10.0, 0.2, 0.5, 1.0, -0.0222],
    [1.0, 0.1, 1.0, 1.0, -0.0243],
    [50.0, 0.1, 1.0, 1.0, -0.0236],
];
