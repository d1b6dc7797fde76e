//! The momentum of the liquid that comes out of a long bore: a parabola in the thread, a jet that crosses a drop.
//!
//! Equation: beside that of its mean velocity a section carries the momentum flux pi E, which pulls as a tension -pi E. The liquid is followed
//! from the nozzle to the pole; it crosses a drop in a small part of the time that it takes to fill it, so that its course is a steady one
//! in the shape and the mean velocities at the start of a step.
//! A filled section is a parabola, u + g a (1 - 2 r^2/h^2), whose surface does not run back,
//!   E = (a/3) (g a)^2,   g a <= u.
//! Without viscosity each ring of vorticity keeps omega/r: g stays G = u_0/R^2, what it was in the bore. Viscosity brings it to g_s, the
//! parallel flow that passes on the drag F on the surface, as far as the modes of diffusion have decayed,
//!   g - g_s ~ B(tau)^(1/2),   g_s a = u - u_s = -F/(8 pi Oh d),   tau = integral of dz/(a u),
//!   B(tau) = sum over n of (192/j_n^4) exp(-2 j_n^2 Oh tau),  J_1(j_n) = 0.
//! Where a section is wider than such a parabola with a surface at rest, a = (Q/(pi g))^(1/2), the liquid goes on as a jet of its own among
//! liquid of the velocity w: area x, velocity U, flux f = x U and momentum K = x U^2, at first those of the parabola (x = 3a/4, U = 4u/3):
//!   f' = 8 Oh/3,   K' = f' w,   w = (a u - f)/(a - x),
//!   E = K - a u^2 + (a - x) max(w, 0)^2   (w > 0: x (U - u)^2/(1 - x/a)),   x <= 3a/4,
//! which is the parabola's where it begins and where a section narrows upon it, and it fills that again. Liquid that runs back about the jet
//! counts as at rest. At the far end of the drop the jet
//! is turned round by a pressure (U^2/2) exp(-r^2/2x) on the surface, whose force is the jet's. Of that the pressure at a
//! section's rim is in the thread's own balance; the rest is the share
//!   s(y) = 1 - (1 + y) exp(-y),   y = a/(2x),
//! with a the widest from there to the pole, and E is taken times s over that of the widest place of all.
//! Symbols: a = h^2, u mean velocity, u_0 that of the nozzle, Q flow, d cell length, all scaled (see [`super`]); u_s velocity of the surface,
//! tau exact where the flow is that of the nozzle, B share of the square left (-), prime along z.
//! Source: omega/r of axisymmetric flow without swirl is kept by every ring (Helmholtz; Lamb 1932, art. 161, recalled from memory); the
//! modes J_0(j_n r) are those of diffusion in a cylinder whose surface passes nothing on, zeros j_n: Abramowitz & Stegun 1964, table 9.5
//! (recalled; held in the tests against diffusion on a mesh). U = 3 K/(8 nu z) is the velocity on the axis of a round laminar jet
//! (Schlichting 1933, Z. angew. Math. Mech. 13, 260; recalled); x and U stand for a core of that velocity and all the momentum, what is
//! slower about it counts with the liquid around. The parabola as a jet of one velocity: equal flux and momentum. The
//! pressure is the stagnation pressure on the axis; that it falls off as a Gaussian is ours, its width is what the jet's momentum leaves. No
//! row guided a number.
//! Holds for: bores longer than 0.06 Re D (common practice), quasi-steady flow in them. The jet's own course is frozen over a step, U - u and a
//! are not. Of a liquid that thins the viscosity at rest. A free drop has no jet: what turns about in it when it comes off is not followed.

use super::body::{Body, End};
use super::outer::OuterWork;
use crate::math::exponential_in_line;
use std::f64::consts::PI;

/// Zeros of J_1.
pub const ZEROS: [f64; 6] =
    [3.831_705_970, 7.015_586_670, 10.173_468_135, 13.323_691_936, 16.470_630_051, 19.615_858_510];
/// Most of a section that a jet takes: a parabola with a surface at rest has the flux and momentum of a jet of this share of it.
const FULLEST: f64 = 0.75;
/// U over the mean velocity there.
const FASTER: f64 = 1.0 / FULLEST;
/// By how much K/U grows per length, over nu, in a round laminar jet.
const TAKEN_UP: f64 = 8.0 / 3.0;
/// Drag on a length of a thread over pi mu_i (u - u_s) in it.
const SHEARED: f64 = 8.0;
/// Below this y the share is told by its series, which does not cancel.
const NEAR: f64 = 1e-3;
/// Beyond this y nothing of a jet is left.
const FAR: f64 = 40.0;

/// How the liquid goes through a section.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Course {
    /// It fills it, with this g.
    Filled(f64),
    /// As a jet with x and U.
    Jet(f64, f64),
}

/// A section at the start of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    course: Course,
    /// Widest squared radius from here to the pole where that is not the own one, and s of the widest of all.
    beyond: Option<f64>,
    whole: f64,
}

/// s and its derivative.
fn share(y: f64) -> (f64, f64) {
    if y > FAR {
        return (1.0, 0.0);
    }
    let rest = exponential_in_line(-y);
    let value = if y < NEAR { y * y * (0.5 - y / 3.0) } else { 1.0 - (1.0 + y) * rest };
    (value, y * rest)
}

/// B at x = Oh tau; the modes beyond the last are counted with it, so that B(0) = 1.
fn left(x: f64) -> f64 {
    let (mut rest, mut value) = (1.0, 0.0);
    for (n, zero) in ZEROS.iter().enumerate() {
        let square = zero * zero;
        if 2.0 * square * x > FAR {
            break;
        }
        let weight = if n + 1 < ZEROS.len() { 192.0 / (square * square) } else { rest };
        rest -= weight;
        value += weight * exponential_in_line(-2.0 * square * x);
    }
    value
}

impl Section {
    /// E of a section of squared radius `a` and mean velocity `u`, with its derivatives by them.
    pub fn excess(&self, a: f64, u: f64) -> [f64; 3] {
        match self.course {
            Course::Filled(g) => {
                let kept = g * a * g * a;
                [kept * a / 3.0, kept, 0.0]
            }
            Course::Jet(_, speed) if speed <= u => [0.0; 3],
            Course::Jet(x, speed) => {
                let core = x.min(FULLEST * a);
                let [free, by_a, by_u] = if core * speed < a * u {
                    // the liquid about it goes along
                    let (ahead, rest) = (speed - u, a / (a - core));
                    let free = core * ahead * ahead * rest;
                    let by_a = if x < FULLEST * a { -free * rest * core / (a * a) } else { free / a };
                    [free, by_a, -2.0 * core * ahead * rest]
                } else {
                    let growing = if x < FULLEST * a { 0.0 } else { FULLEST * speed * speed };
                    [core * speed * speed - a * u * u, growing - u * u, -2.0 * a * u]
                };
                if !(free > 0.0) {
                    return [0.0; 3];
                }
                let wide = self.beyond.unwrap_or(a);
                let (left, slope) = share(0.5 * wide / x);
                let (left, slope) = (left / self.whole, 0.5 * slope / (x * self.whole));
                let own = if self.beyond.is_none() { free * slope } else { 0.0 };
                [free * left, by_a * left + own, by_u * left]
            }
        }
    }
}

/// What comes along the thread.
struct Stream {
    ohnesorge: f64,
    tau: f64,
    /// B there.
    left: f64,
    course: Course,
}

impl Stream {
    /// Go on by `d` to a cell of squared radius `a` in which the mean velocity is `u` and the drag alone would make g_s `driven`.
    fn pass(&mut self, (d, a): (f64, f64), u: f64, driven: f64) -> Course {
        self.course = match self.course {
            Course::Filled(g) if u > 0.0 => {
                let before = self.left;
                self.tau += d / (a * u);
                self.left = left(self.ohnesorge * self.tau);
                let decayed = if before > 0.0 { (self.left / before).sqrt() } else { 0.0 };
                let g = driven + (g - driven) * decayed;
                let flux = a * u;
                if g * a > u {
                    let loose = (flux / g).sqrt();
                    Course::Jet(FULLEST * loose, FASTER * flux / loose)
                } else {
                    Course::Filled(g)
                }
            }
            // where the section's liquid runs back no parabola comes through; beyond it does again
            Course::Filled(_) => return Course::Filled(0.0),
            Course::Jet(x, speed) => {
                let (flux, momentum) = (x * speed, x * speed * speed);
                let around = (a * u - flux) / (a - x).max((1.0 - FULLEST) * a);
                let taken = TAKEN_UP * self.ohnesorge * d;
                // what runs back is not taken along
                let momentum = momentum + taken * around.clamp(0.0, speed);
                let (x, speed) = ((flux + taken).powi(2) / momentum, momentum / (flux + taken));
                if speed <= u {
                    Course::Filled(0.0)
                } else if x >= FULLEST * a && speed <= FASTER * u {
                    Course::Filled(u / a)
                } else {
                    Course::Jet(x, speed)
                }
            }
        };
        self.course
    }
}

/// The sections of a thread on a nozzle of velocity `entry`, from the outer forces at the start of a step.
pub fn follow(
    ohnesorge: f64,
    body: &Body,
    u: &[f64],
    entry: f64,
    outer: Option<&OuterWork>,
    sections: &mut Vec<Section>,
) {
    let n = body.cells();
    let mut stream = Stream { ohnesorge, tau: 0.0, left: left(0.0), course: Course::Filled(entry) };
    // the first free node takes what the profile has lost since the nozzle
    let mut before = body.middle(0);
    sections.clear();
    sections.extend((0..n).map(|j| {
        let ((d, a), mean) = (body.cell(j), 0.5 * (u[j] + u[j + 1]));
        let way = body.middle(j) - before;
        before = if j == 0 { body.z[0] } else { body.middle(j) };
        let slip = outer.map_or(0.0, |outer| -outer.dragged(j) / (SHEARED * PI * ohnesorge * d));
        // a surface neither runs back nor outruns the liquid
        let driven = slip.min(mean).max(0.0) / a;
        Section { course: stream.pass((way, a), mean, driven), beyond: None, whole: 1.0 }
    }));
    if body.right != End::Tip {
        return;
    }
    let mut widest = 0.0;
    for (j, section) in sections.iter_mut().enumerate().rev() {
        let a = body.area(j);
        section.beyond = (a < widest).then_some(widest);
        widest = f64::max(widest, a);
    }
    for section in sections.iter_mut() {
        if let Course::Jet(x, _) = section.course {
            section.whole = share(0.5 * widest / x).0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // The sum over all zeros of 1/j^4 is 1/192 and that of 1/j^2 is 1/8 (Rayleigh's sums; Watson 1944, sect. 15.51, recalled): B(0) = 1;
    // late, only the slowest mode is left: 192/14.682^2 = 0.8907.
    #[test]
    fn theory_the_excess_decays_with_the_modes_of_diffusion() {
        assert_relative_eq!(left(0.0), 1.0, max_relative = 1e-15);
        let late = left(0.3) / (-2.0 * 14.681_970_64 * 0.3f64).exp();
        assert_relative_eq!(late, 192.0 / 14.681_970_64f64.powi(2), max_relative = 1e-6);
        // the square mean of a parabola that diffuses in a cylinder with no flux at its surface, on rings of equal width
        const RINGS: usize = 60;
        let width = 1.0 / RINGS as f64;
        let area = |k: usize| (2 * k + 1) as f64 * width * width;
        let mut u: Vec<f64> = (0..RINGS).map(|k| 1.0 - (((k + 1) * (k + 1) + k * k) as f64) * width * width).collect();
        let square = |u: &[f64]| u.iter().enumerate().map(|(k, u)| 3.0 * area(k) * u * u).sum::<f64>();
        let (steps, start) = (2000, square(&u));
        for (at, x) in [(0.01, 0.01), (0.05, 0.04)] {
            let dt = x / f64::from(steps);
            for _ in 0..steps {
                // through the outer face of each ring: 2 r du/dr of the area r^2
                let flux: Vec<f64> =
                    (0..RINGS - 1).map(|k| 2.0 * (k + 1) as f64 * (u[k + 1] - u[k])).chain([0.0]).collect();
                for k in 0..RINGS {
                    let inner = if k > 0 { flux[k - 1] } else { 0.0 };
                    u[k] += dt * (flux[k] - inner) / area(k);
                }
            }
            assert_relative_eq!(left(at), square(&u) / start, max_relative = 2e-3);
        }
    }

    /// A thread of radius 1 and length 2 with a drop of radius `r` on it, cells of a tenth of R, through which 1.2 pi flow.
    fn drop(r: f64) -> (Body, Vec<f64>) {
        let end = 2.0 + (r * r - 1.0).sqrt() + r;
        let n = (10.0 * end) as usize;
        let z = (0..=n).map(|i| end * i as f64 / n as f64).collect();
        let area = |z: f64| if z < 2.0 { 1.0 } else { (end - z) * (2.0 * r - end + z) };
        let body = Body::from_profile(z, End::Nozzle, End::Tip, area, |_| 0.0);
        // beyond its widest place the drop goes as a whole
        let u = |i: usize| if body.z[i] > end - r { 1.2 / (r * r) } else { 1.2 / body.area(i.min(n - 1)).max(1.0) };
        let u = (0..=n).map(u).collect();
        (body, u)
    }

    fn sections(ohnesorge: f64, body: &Body, u: &[f64], entry: f64) -> Vec<Section> {
        let mut sections = Vec::new();
        follow(ohnesorge, body, u, entry, None, &mut sections);
        sections
    }

    // Without viscosity the whole momentum of the parabola, 4/3 u_0^2, crosses the drop and is gone at its pole: what a section of it has
    // in all is a u^2 + E.
    #[test]
    fn theory_the_jet_keeps_the_parabolas_momentum_to_the_far_side() {
        let (body, u) = drop(5.0);
        let sections = sections(1e-9, &body, &u, 1.2);
        let flux = |z: f64| {
            let j = body.z.partition_point(|at| *at < z) - 1;
            let (a, mean) = (body.area(j), 0.5 * (u[j] + u[j + 1]));
            (sections[j].excess(a, mean)[0] + a * mean * mean, 1.6 * 1.6 * 0.75)
        };
        let (thread, whole) = flux(1.5);
        assert_relative_eq!(thread, 4.0 / 3.0 * 1.44, max_relative = 1e-6);
        assert_relative_eq!(whole, 1.92, max_relative = 1e-9);
        let (middle, whole) = flux(6.9);
        // the cells about the drop's foot leave a percent
        assert_relative_eq!(middle, whole, max_relative = 0.02);
        let n = body.cells();
        // the share of the pole's own cell
        let last = body.area(n - 1);
        let pole = sections[n - 1].excess(last, u[n])[0];
        assert!(pole < 1.1 * share(last / 1.5).0 * middle && pole < 0.1 * middle, "{pole}");
    }

    // Schlichting's jet: its momentum kept, far out 3 K/(8 nu z) on the axis.
    #[test]
    fn theory_a_jet_among_liquid_at_rest_slows_down_as_a_round_laminar_jet_does() {
        let (x, speed) = (0.7, 1.3);
        let mut stream = Stream { ohnesorge: 0.02, tau: 0.0, left: left(0.0), course: Course::Jet(x, speed) };
        let momentum = x * speed * speed;
        for _ in 0..100_000 {
            // what the jet carries is all that flows
            let Course::Jet(x, speed) = stream.course else { panic!("a jet") };
            stream.pass((0.1, 1e9), x * speed / 1e9, 0.0);
        }
        let Course::Jet(at, late) = stream.course else { panic!("a jet") };
        assert_relative_eq!(at * late * late, momentum, max_relative = 1e-9);
        assert_relative_eq!(late, 3.0 * momentum / (8.0 * 0.02 * 1e4), max_relative = 5e-3);
    }

    // In an even thread a parabola that nothing drives decays as B does; one that the outer liquid drives stays.
    #[test]
    fn theory_a_parabola_decays_unless_the_surface_is_held() {
        let mut stream = Stream { ohnesorge: 0.03, tau: 0.0, left: left(0.0), course: Course::Filled(0.8) };
        for _ in 0..40 {
            stream.pass((0.1, 1.0), 1.0, 0.0);
        }
        let Course::Filled(g) = stream.course else { panic!("filled") };
        assert_relative_eq!(g, 0.8 * left(0.03 * 4.0).sqrt(), max_relative = 1e-12);
        let mut held = Stream { ohnesorge: 0.03, tau: 0.0, left: left(0.0), course: Course::Filled(0.8) };
        for _ in 0..400 {
            held.pass((0.1, 1.0), 1.0, 0.5);
        }
        let Course::Filled(g) = held.course else { panic!("filled") };
        assert_relative_eq!(g, 0.5, max_relative = 1e-3);
    }

    #[test]
    fn parabola_and_jet_are_one_where_it_breaks_loose_and_where_it_fills_the_section_again() {
        let (a, u) = (1.3, 0.7);
        let of = |course| Section { course, beyond: Some(1e9), whole: 1.0 }.excess(a, u)[0];
        let filled = of(Course::Filled(u / a));
        assert_relative_eq!(filled, a * u * u / 3.0, max_relative = 1e-14);
        assert_relative_eq!(of(Course::Jet(FULLEST * a, FASTER * u)), filled, max_relative = 1e-14);
        assert_relative_eq!(of(Course::Jet(2.0 * a, FASTER * u)), filled, max_relative = 1e-14);
        assert_eq!(of(Course::Jet(0.5, u)), 0.0);
    }

    #[test]
    fn slopes_are_those_of_the_excess() {
        let jets = [(0.5, 1.4), (0.8, 1.4), (1.2, 1.4)].map(|(x, speed)| Course::Jet(x, speed));
        let courses = [Course::Filled(0.3), Course::Filled(2.0), jets[0], jets[1], jets[2]];
        for course in courses {
            for beyond in [None, Some(4.0)] {
                let section = Section { course, beyond, whole: 0.7 };
                let (a, u, step) = (1.5, 0.6, 1e-6);
                let [_, by_a, by_u] = section.excess(a, u);
                let slope_a = (section.excess(a + step, u)[0] - section.excess(a - step, u)[0]) / (2.0 * step);
                let slope_u = (section.excess(a, u + step)[0] - section.excess(a, u - step)[0]) / (2.0 * step);
                assert_relative_eq!(by_a, slope_a, max_relative = 1e-6, epsilon = 1e-9);
                assert_relative_eq!(by_u, slope_u, max_relative = 1e-6, epsilon = 1e-9);
            }
        }
    }

    // Where the mean velocity is next to nothing there is nothing in the drop either: of second order in the inflow.
    #[test]
    fn a_slowly_filled_drop_feels_nothing() {
        let (body, u) = drop(3.0);
        let slow: Vec<f64> = u.iter().map(|u| 1e-4 * u).collect();
        for (j, section) in sections(0.1, &body, &slow, 1.2e-4).iter().enumerate() {
            assert!(section.excess(body.area(j), 0.5 * (slow[j] + slow[j + 1]))[0] < 1e-7);
        }
    }
}
