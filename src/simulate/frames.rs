//! A snapshot of the world in SI, for records and figures.

use super::setup::Setup;
use super::world::World;
use crate::drops::detached::Sphere;
use crate::math::Pinned as _;
use crate::outcome::{BodyFrame, Frame};
use crate::thread::body::{Body, End};
use std::f64::consts::PI;

/// Cells with which a sphere is drawn.
const SPHERE_CELLS: usize = 24;

/// All bodies and drops at the world's time.
pub fn frame(world: &World, setup: &Setup) -> Frame {
    at(world.time, &world.bodies, &world.spheres, setup)
}

/// These bodies (the attached one first) and drops at a time, in order of position; a half wave is shown as a whole one.
pub fn at(time: f64, all: &[Body], spheres: &[Sphere], setup: &Setup) -> Frame {
    let mut bodies: Vec<BodyFrame> = Vec::new();
    let middle = setup.half_wavelength;
    for (k, body) in all.iter().enumerate() {
        let shape = shape(body, k == 0);
        if setup.half_wave {
            bodies.extend(mirrored(shape, middle, body.right == End::Symmetry));
        } else {
            bodies.push(shape);
        }
    }
    for sphere in spheres {
        let shape = round(sphere);
        if setup.half_wave && sphere.position < middle * (1.0 - 1e-9) {
            bodies.extend(mirrored(shape, middle, false));
        } else {
            bodies.push(shape);
        }
    }
    bodies.sort_by(|a, b| a.z[0].total_cmp(&b.z[0]));
    let (length, velocity) = (setup.scales.length, setup.scales.velocity());
    for body in &mut bodies {
        body.z.iter_mut().chain(&mut body.h).for_each(|x| *x *= length);
        body.u.iter_mut().for_each(|u| *u *= velocity);
    }
    Frame { time: time * setup.scales.time, bodies, ..Frame::default() }
}

fn shape(body: &Body, attached: bool) -> BodyFrame {
    BodyFrame { attached, z: body.z.clone(), h: body.node_radii(), u: body.u.clone() }
}

fn round(sphere: &Sphere) -> BodyFrame {
    let r = sphere.radius();
    let angle = |k: usize| PI * k as f64 / SPHERE_CELLS as f64;
    BodyFrame {
        attached: false,
        z: (0..=SPHERE_CELLS).map(|k| sphere.position - r * angle(k).cosine()).collect(),
        h: (0..=SPHERE_CELLS).map(|k| if k == 0 || k == SPHERE_CELLS { 0.0 } else { r * angle(k).sine() }).collect(),
        u: vec![sphere.velocity; SPHERE_CELLS + 1],
    }
}

/// A shape and its mirror image about `middle`, as one body if it touches the mirror.
fn mirrored(shape: BodyFrame, middle: f64, joined: bool) -> Vec<BodyFrame> {
    let n = shape.z.len();
    let back = |x: &[f64]| x.iter().rev().copied().collect::<Vec<f64>>();
    let image = BodyFrame {
        attached: shape.attached,
        z: back(&shape.z).iter().map(|z| 2.0 * middle - z).collect(),
        h: back(&shape.h),
        u: back(&shape.u).iter().map(|u| -u).collect(),
    };
    if !joined {
        return vec![shape, image];
    }
    let mut whole = shape;
    whole.z.truncate(n);
    whole.z.extend(&image.z[1..]);
    whole.h.extend(&image.h[1..]);
    whole.u.extend(&image.u[1..]);
    vec![whole]
}
