//! Rows of the full equations (none guided a closure), and the model's differences from them. Orifice: Ca in the hole, flow ratio,
//! viscosity ratio, hole's radius over the tip's, difference of d. Inertia: La_o, Ca, q, viscosity ratio, difference of d.
//! Written by `SLENDERJET_BLESS=1 cargo test --release --test validation`. Not for editing by hand.

pub(super) const DEVICES: &[[f64; 5]] = &[
    [0.0300626, 0.888889, 0.8, 0.5, -0.0743],
    [0.1, 0.7, 1.0, 0.5, 0.0658],
    [0.03, 0.2, 1.0, 0.5, -0.0681],
    [0.06, 0.3, 1.0, 0.5, 0.1815],
    [0.06, 0.3, 1.0, 0.3, 0.2258],
    [0.06, 0.3, 1.0, 0.5, 0.0328],
    [0.0904, 0.132, 0.919, 0.353, -0.0504],
    [0.163, 0.744, 1.58, 1.03, 0.0295],
    [0.0253, 0.172, 0.132, 1.21, -0.0226],
    [0.104, 0.638, 1.16, 1.13, 0.0832],
    [0.031, 0.317, 0.252, 1.36, 0.0638],
    [0.0414, 0.443, 1.79, 0.794, 0.3670],
    [0.0893, 0.481, 0.501, 0.884, 0.0403],
    [0.0924, 0.134, 2.02, 0.803, 0.0133],
];

pub(super) const INERTIAL: &[[f64; 5]] = &[
    [50.0, 0.1, 1.0, 1.0, 0.0022],
    [10.0, 0.1, 1.0, 1.0, -0.0248],
    [10.0, 0.2, 0.5, 1.0, -0.0234],
    [1.0, 0.1, 1.0, 1.0, -0.0273],
    [50.0, 0.1, 1.0, 1.0, -0.0239],
];
