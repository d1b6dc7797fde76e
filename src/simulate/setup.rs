//! Case -> scaled problem: units, physics, mesh and tolerances, start, end of the domain.

use super::{bare, pumps};
use crate::case::rheology::{GAS_CONSTANT, Phase, Surfactant};
use crate::case::{Accuracy, Case, Layout, Segment, Stop, Stream};
use crate::device::wall::WallProfile;
use crate::drops::detached::{Sphere, sphere_radius};
use crate::limits;
use crate::math::Pinned as _;
use crate::thread::advance::Numerics;
use crate::thread::body::{Body, End};
use crate::thread::energy::{Energy, energy_of};
use crate::thread::estimate::UniformThread;
use crate::thread::force::Physics;
use crate::thread::inflow::Inflow;
use crate::thread::laden;
use crate::thread::load::Law;
use crate::thread::mesh::follow;
use crate::thread::mesh::size::Fineness;
use crate::thread::outer::OuterField;
use crate::thread::outer::profile::Wall;
use crate::thread::rheology::{self, Rheology};
use crate::thread::{adsorption::Exchange, surfactant};
use crate::tolerances::{
    COARSE, FILLING_FROM, FINE, NECK_CUT, NECK_CUT_FINE, NECK_CUT_OF_THREAD, RIGID_RADIUS, RIGID_RADIUS_OUTER,
    SEGMENT_FINER, STANDARD,
};
use std::f64::consts::PI;

/// Units of the scaled problem, in SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scales {
    /// Radius that pins the contact line, m.
    pub length: f64,
    /// sqrt(rho_i R^3/gamma), s.
    pub time: f64,
    /// gamma, N/m: energies are in units of gamma R^2.
    pub tension: f64,
}

impl Scales {
    /// m/s.
    pub fn velocity(&self) -> f64 {
        self.length / self.time
    }

    /// m3.
    pub fn volume(&self) -> f64 {
        self.length * self.length * self.length
    }
}

/// Everything a run needs beside its state.
#[derive(Debug, Clone)]
pub struct Setup {
    pub scales: Scales,
    pub physics: Physics,
    pub numerics: Numerics,
    /// Where the thread leaves what is computed.
    pub domain_end: f64,
    /// One half of a periodic wave between two mirrors.
    pub half_wave: bool,
    /// Where that second mirror stands; zero without one.
    pub half_wavelength: f64,
    /// Whether the thread may leave at `domain_end`.
    pub has_outflow: bool,
    /// Where the glass that takes the drops away begins: behind an orifice and its funnel.
    pub collection_from: f64,
    /// Whether drops that meet become one.
    pub coalescence: bool,
    /// Whether viscosity makes a filling drop forget its errors.
    pub overdamped: bool,
    /// Fragments smaller than a sphere of this radius are not followed in shape.
    pub rigid_radius: f64,
    /// Most steps of the whole run.
    pub step_budget: u64,
    /// The same once closures have taken over from two fields.
    closures_budget: u64,
    /// Whether a jet that does not break is left as it stands: one that crosses its drop, in a run that waits for drops.
    pub leaves_jets: bool,
    /// When to stop, scaled.
    pub stop: Stop,
    /// Rough volume of a drop, for the first guess of the frame interval.
    pub drop_volume_guess: f64,
}

/// Steps a drop may cost before the run is stopped, and the least a run may take.
const STEPS_PER_DROP: u64 = 60_000;
const STEPS_MIN: u64 = 400_000;
/// By how much fewer steps a run has with two fields: each costs four to six times as much, and a run that has not got its drops by then creeps.
const FIELDS_COST: u64 = 10;
/// Steps from one breakup to the next with two fields where closures may take over; drops take a twentieth of it to all of it.
const FIELDS_STEPS: u64 = 10_000;

/// Most steps of a run that waits for `drops`.
fn step_budget(drops: u64) -> u64 {
    (drops * STEPS_PER_DROP).max(STEPS_MIN)
}

/// Volume of one wave of a jet of unit radius at x = 0.7.
const JET_WAVE: f64 = 28.0;
/// Band of the noise in units of the guessed rate of drops.
const NOISE_BAND: [f64; 2] = [0.02, 2.0];
/// Samples of a wall that changes along the axis, from the tip to the end of the orifice and again from there on.
const WALL_SAMPLES: usize = 400;
/// Share of the wall's radius that the cap at the start may take up before a plate close by.
const CAP_ROOM: f64 = 0.95;
/// Length of the largest drop on a thread's end, with the cone behind it, in its radii.
const DROP_LENGTH: f64 = 4.0;
/// Longest part of a domain that is there for a jet to break up in.
const DOMAIN_MAX: f64 = 1000.0;
/// What is computed of a thread that linear theory has break beyond `DOMAIN_MAX` for a disturbance of 1e-4 (and beyond half of it for one of
/// 1e-2), in the larger of the radii of tip and thread: enough to see that it passes. Both lengths are ours.
const DOMAIN_UNBROKEN: f64 = 200.0;
/// Longest cell of a mesh in units of fineness times radius: keeps forced waves shorter than the natural one resolved.
const CELL_LONGEST: f64 = 6.0;

impl Setup {
    /// Whether a thread that fills its glass ends the run: where drops were asked for.
    pub fn ends_when_filled(&self) -> bool {
        !self.half_wave && matches!(self.stop, Stop::Drops(_))
    }

    /// Go on with closures, and as many steps as a run with them has.
    pub fn leave_fields(&mut self) {
        self.step_budget = self.closures_budget;
        if let Some(outer) = &mut self.physics.outer {
            outer.fields = None;
        }
    }

    /// Two fields that may be left have so many steps for each breakup, `breakups` behind them.
    pub fn limit_fields(&mut self, case: &Case, breakups: usize) {
        if self.may_leave_fields(case) {
            self.step_budget = FIELDS_STEPS * (1 + breakups as u64);
        }
    }

    /// Whether two fields make the forces, and may be left where they come no further: where the case does not ask for them.
    pub fn may_leave_fields(&self, case: &Case) -> bool {
        case.model.section.is_none() && self.physics.outer.as_ref().is_some_and(|outer| outer.fields.is_some())
    }

    /// Scale a case.
    pub fn new(case: &Case) -> Setup {
        let length = case.layout.segment().map_or(case.device.pinned_radius(), |s| s.radius);
        let (rho, mu, gamma) = (case.inner.density, case.inner.viscosity, case.tension);
        let time = (rho * length.powi(3) / gamma).sqrt();
        let scales = Scales { length, time, tension: gamma };
        let ohnesorge = mu / (rho * gamma * length).sqrt();
        let rho_outer = case.outer.as_ref().map_or(0.0, |o| o.density);
        let bond = (rho - rho_outer) * case.gravity * length * length / gamma;
        let half_wave = matches!(case.layout, Layout::Segment(_));
        let u0 = if half_wave { 0.0 } else { case.inner.flow / (PI * length * length) / scales.velocity() };
        let (c, tol) = match case.run.accuracy {
            Accuracy::Coarse => COARSE,
            Accuracy::Standard => STANDARD,
            Accuracy::Fine => FINE,
        };
        let thread = UniformThread::of(case).map_or(1.0, |t| t.radius / length);
        let neck_cut = if case.run.accuracy == Accuracy::Fine { NECK_CUT_FINE } else { NECK_CUT };
        let (neck_cut, rigid_radius) = match &case.outer {
            Some(_) => (neck_cut.min(NECK_CUT_OF_THREAD * thread), RIGID_RADIUS_OUTER * (2.0 * thread).min(1.0)),
            None => (neck_cut, RIGID_RADIUS),
        };
        let fineness = Fineness {
            c: if half_wave { SEGMENT_FINER * c } else { c },
            neck_cut,
            ohnesorge,
            longest: case.layout.segment().map_or(CELL_LONGEST, |s| 2.0 / s.wavenumber),
        };
        let drops = match case.run.stop {
            Stop::Drops(n) => u64::from(n),
            Stop::Until(_) => 100,
        };
        let most_viscous = case.outer.as_ref().map_or(mu, |o| o.viscosity.max(mu));
        let overdamped = most_viscous / (rho * gamma * length).sqrt() > FILLING_FROM;
        let mut outer = case.outer.as_ref().map(|o| outer_field(case, o, &scales, ohnesorge));
        let drop_volume_guess = drop_volume_guess(case, bond, u0 * u0, outer.as_ref(), &scales);
        let mut inflow = Inflow::steady(u0);
        if !half_wave {
            let band = NOISE_BAND.map(|share| share * PI * u0 / drop_volume_guess);
            inflow = pumps::inner(case, inflow, &scales, band);
            if let (Some(field), Some(o)) = (outer.as_mut(), &case.outer) {
                field.stream = pumps::stream(case, o.flow, &inflow, &scales, band);
            }
        }
        let age = if half_wave { 1.0 } else { drop_volume_guess / (PI * u0.max(1e-12)) };
        let domain_end = if half_wave {
            f64::INFINITY
        } else {
            // long enough at both ends of a ramp
            let goal = pumps::goal(case).map_or(0.0, |goal| domain_end(&goal, bond, &scales));
            domain_end(case, bond, &scales).max(goal)
        };
        Setup {
            scales,
            physics: Physics {
                ohnesorge,
                bond,
                artificial: Physics::artificial_for(ohnesorge),
                inflow,
                outer,
                rheology: rheology(case, &scales, age),
                parabolic: case.model.parabolic_inflow || case.outer.is_some(),
            },
            numerics: Numerics { tol, fineness },
            domain_end,
            half_wave,
            half_wavelength: case.layout.segment().map_or(0.0, |s| PI / s.wavenumber),
            has_outflow: !half_wave,
            collection_from: case.layout.orifice().map_or(0.0, |o| o.standoff + o.length + o.collection_length)
                / length,
            coalescence: case.model.coalescence && !half_wave,
            overdamped,
            rigid_radius,
            step_budget: step_budget(drops) / if case.two_fields() { FIELDS_COST } else { 1 },
            closures_budget: step_budget(drops),
            leaves_jets: matches!(case.run.stop, Stop::Drops(_)) && !half_wave && limits::crosses_its_drop(case),
            stop: match case.run.stop {
                Stop::Until(t) => Stop::Until(t / time),
                drops => drops,
            },
            drop_volume_guess,
        }
    }

    /// The body at the start: a hemisphere that moves with the nozzle's mean velocity, or half a wave at rest.
    pub fn start(&self, case: &Case) -> Body {
        let mut body = self.bare_start(case);
        if let Some(law) = self.law() {
            body.load = laden::at_rest(law, &body);
        }
        body
    }

    /// Whether surfaces carry a surfactant.
    pub fn carries_surfactant(&self) -> bool {
        self.physics.rheology.is_some_and(|r| r.surfactant.is_some())
    }

    /// What the liquid and its surface carry, if anything.
    pub fn law(&self) -> Option<Law> {
        let ohnesorge = self.physics.ohnesorge;
        self.physics.rheology.map(|rheology| Law { rheology, ohnesorge })
    }

    /// Length of the cap at the start, in R: round, but where a round one would reach through the orifice's plate as flat as the stream
    /// before it asks for.
    fn cap_length(&self, case: &Case) -> f64 {
        let (Some(orifice), Some(outer)) = (case.layout.orifice(), &self.physics.outer) else { return 1.0 };
        let (plane, hole) = (orifice.standoff / self.scales.length, 0.5 * orifice.bore / self.scales.length);
        if plane >= 1.0 || 1.0 - plane * plane < hole * hole {
            return 1.0;
        }
        let fits = |length: f64| {
            (1..40).map(|i| f64::from(i) / 40.0).all(|x| {
                let room = outer.wall.radius(x * length).map_or(f64::INFINITY, |wall| CAP_ROOM * wall);
                1.0 - x * x < room * room
            })
        };
        (0..8).map(|k| 0.5f64.powi(k)).find(|length| fits(*length)).unwrap_or(plane)
    }

    fn bare_start(&self, case: &Case) -> Body {
        match case.layout.segment() {
            Some(segment) => half_wave(&segment, self.numerics.fineness.c),
            None => {
                let length = self.cap_length(case);
                let z = (0..=40).map(|i| length * f64::from(i) / 40.0).collect();
                let u0 = self.physics.inflow.velocity(0.0);
                Body::from_profile(z, End::Nozzle, End::Tip, |z| 1.0 - (z / length).powi(2), |_| u0)
            }
        }
    }

    /// Up to where the mesh follows the attached thread, if it does ([`crate::thread::mesh::follow`]).
    pub fn follows_to(&self, body: &Body, waist: f64) -> Option<f64> {
        // what a surface carries goes on with its neck
        follow::follows_to(body, waist).filter(|to| body.load.amount.is_empty() || to.is_infinite())
    }

    /// Remove what has passed the end of the domain; returns its volume and energy. A drop on the end of the thread counts as one
    /// piece with it and has passed once all of it has: it may still come off or fill its tube.
    pub fn clip(&self, body: &mut Body) -> (f64, Energy) {
        let n = body.cells();
        if body.cells() < 20 || body.z[n] <= self.domain_end + DROP_LENGTH * body.radius_max() {
            return (0.0, Energy::default());
        }
        let keep = body.z.partition_point(|z| *z < self.domain_end).clamp(12, n);
        let gone = body.v[keep..].iter().sum();
        // the last cell that stays has another neighbour now
        let before = energy_of(body, keep - 1..n, self.physics.bond);
        body.right = End::Outflow;
        body.z.truncate(keep + 1);
        body.u.truncate(keep + 1);
        body.v.truncate(keep);
        if !body.load.is_empty() {
            body.load = body.load.part(0..keep, 1.0, 1.0);
        }
        (gone, before - energy_of(body, keep - 1..keep, self.physics.bond))
    }

    /// Time to pass the domain at velocity `u0`.
    pub fn transit(&self, u0: f64) -> f64 {
        self.domain_end / u0.max(1e-9)
    }

    /// Move a drop that is no longer followed in shape: free fall, or towards the velocity at which it drifts freely.
    pub fn fly(&self, sphere: &mut Sphere, target: f64) {
        let dt = target - sphere.time;
        sphere.time = target;
        let Some(outer) = &self.physics.outer else {
            sphere.position += dt * (sphere.velocity + 0.5 * dt * self.physics.bond);
            sphere.velocity += dt * self.physics.bond;
            return;
        };
        let flow = match &outer.stream {
            Some(stream) => stream.total(target - dt, dt),
            None => outer.liquids.total_flow,
        };
        let (resistance, drift) = outer.flight(sphere_radius(sphere.volume), sphere.position, sphere.velocity, flow);
        let drift = drift + self.physics.bond * sphere.volume / resistance;
        let memory = sphere.volume * (1.0 + 0.5 * outer.density_ratio) / resistance;
        let kept = (-dt / memory).exponential();
        sphere.position += drift * dt + (sphere.velocity - drift) * memory * (1.0 - kept);
        sphere.velocity = drift + (sphere.velocity - drift) * kept;
    }
}

/// What liquid and surface have beyond one viscosity and one tension, scaled; surfaces live about as long as `age`.
fn rheology(case: &Case, scales: &Scales, age: f64) -> Option<Rheology> {
    let real = &case.real;
    let spread = |diffusivity: f64| diffusivity * scales.time / (scales.length * scales.length);
    let rheology = Rheology {
        thinning: real.thinning.map(|t| t.law(case.inner.viscosity, scales.time)),
        polymer: real.polymer.map(|p| rheology::Polymer {
            share: p.viscosity / case.inner.viscosity,
            relaxation: p.relaxation_time / scales.time,
            inverse_extensibility: p.extensibility.map_or(0.0, |l2| 1.0 / l2),
        }),
        surfactant: real.surfactant.map(|s| match s {
            Surfactant::Insoluble { elasticity, coverage, diffusivity } => {
                surfactant::Surfactant::insoluble(elasticity, coverage.unwrap_or(0.0), spread(diffusivity))
            }
            Surfactant::Dissolved { phase, concentration, saturation, affinity, diffusivity, temperature } => {
                let exchange = Exchange::new(
                    concentration * scales.length / saturation,
                    affinity * concentration,
                    spread(diffusivity),
                    phase == Phase::Inner,
                    age,
                );
                surfactant::Surfactant::dissolved(GAS_CONSTANT * temperature * saturation / scales.tension, exchange)
            }
        }),
    };
    (rheology != Rheology::default()).then_some(rheology)
}

/// The outer stream, scaled.
fn outer_field(case: &Case, outer: &Stream, scales: &Scales, ohnesorge: f64) -> OuterField {
    let total = (case.inner.flow + outer.flow) / (scales.length * scales.length * scales.velocity());
    let wall = wall(&WallProfile::of(case).scaled(scales.length));
    let ratio = case.inner.viscosity / outer.viscosity;
    let mut field = OuterField::new(ohnesorge, ratio, outer.density / case.inner.density, wall, total);
    field.thinning = case.real.outer_thinning.map(|t| t.law(outer.viscosity, scales.time));
    field.end_share = case.model.end_drag;
    // no tip holds the liquid about a thread at rest
    field.wake = case.layout.segment().is_none();
    field.fields = if case.two_fields() { bare::fields(case) } else { None };
    field.tip = case.device.tip_outer.map_or(1.0, |outer| (0.5 * outer / scales.length).max(1.0));
    field
}

/// The profile as the solver reads it: sampled where it changes.
fn wall(profile: &WallProfile) -> Wall {
    match profile.extent() {
        None => profile.radius(0.0).map_or(Wall::Unbounded, Wall::Uniform),
        Some((narrow, end)) => {
            // a wide channel or a long widening must not take samples from the orifice, and no thread is behind the tip
            let mut places: Vec<f64> = evenly(0.0, narrow).collect();
            places.extend(evenly(narrow, end).skip(1).filter(|z| *z > narrow));
            let radii = places.iter().filter_map(|z| profile.radius(*z)).collect();
            Wall::profile(places, radii)
        }
    }
}

fn evenly(from: f64, to: f64) -> impl Iterator<Item = f64> {
    (0..=WALL_SAMPLES).map(move |k| from + (to - from) * k as f64 / WALL_SAMPLES as f64)
}

/// Half a wave from crest to trough, h = 1 + amplitude cos kz.
fn half_wave(segment: &Segment, c: f64) -> Body {
    let (k, eps) = (segment.wavenumber, segment.amplitude);
    let length = PI / k;
    let cells = ((2.5 * length / c.min(0.1)).ceil() as usize).max(24);
    let z = (0..=cells).map(|i| length * i as f64 / cells as f64).collect();
    Body::from_profile(z, End::Symmetry, End::Symmetry, |z| (1.0 + eps * (k * z).cosine()).powi(2), |_| 0.0)
}

/// Rough volume of a drop: Tate's weight with a factor 0.65 (Harkins & Brown 1919, recalled) where gravity pulls on what no
/// speed carries off; in an outer stream the drag balance d/D = 1 + 1/(3 Ca) or a drop twice the orifice's thread; else
/// one wave of a jet. Only slices of time, patience, the frame interval and the noise band hang on it.
fn drop_volume_guess(case: &Case, bond: f64, weber: f64, outer: Option<&OuterField>, scales: &Scales) -> f64 {
    let pulls = bond > 0.05 || bond > 0.0 && weber < 1.0;
    let weight = if pulls { 0.65 * 2.0 * PI / bond } else { f64::INFINITY };
    // a surrounding without a wall is at rest: nothing carries
    let outer = outer.filter(|_| case.layout != Layout::Pendant);
    let carried = match (outer, &case.layout.orifice()) {
        (Some(_), Some(orifice)) => {
            let share = case.outer.as_ref().map_or(1.0, |o| case.inner.flow / (case.inner.flow + o.flow));
            let thread = 0.5 * orifice.bore / scales.length * share.sqrt();
            4.0 / 3.0 * PI * (2.0 * thread).powi(3)
        }
        (Some(outer), None) if outer.liquids.total_flow > 0.0 => {
            let wall = outer.wall.radius(0.0).unwrap_or(f64::INFINITY);
            let capillary = outer.liquids.viscosity * 2.0 * outer.liquids.total_flow / (PI * wall * wall);
            let radius = (1.0 + 1.0 / (3.0 * capillary.max(1e-3))).min(0.9 * wall);
            4.0 / 3.0 * PI * radius.powi(3)
        }
        _ => JET_WAVE,
    };
    if weight.is_finite() && outer.is_none() { weight } else { carried.min(weight) }
}

/// Long enough for the jet to break up well inside: twice the linear estimate for a disturbance of 1e-4, plus the
/// device's own length and what gravity adds; no longer than it takes to see that it passes where that lies far beyond.
fn domain_end(case: &Case, bond: f64, scales: &Scales) -> f64 {
    let thread = UniformThread::of(case);
    let breakup = thread.as_ref().and_then(|t| t.breakup_length(1e-4)).unwrap_or(0.0) / scales.length;
    let width = thread.map_or(1.0, |t| (t.radius / scales.length).max(1.0));
    let device = case.layout.orifice().map_or(0.0, |o| o.standoff + o.length + o.collection_length) / scales.length;
    let look = if breakup > DOMAIN_MAX { DOMAIN_UNBROKEN * width } else { 2.0 * breakup };
    device + 60.0 + look.min(DOMAIN_MAX) + if bond > 0.0 { 300.0 } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};

    // The ten-micron example as it is, and with its tip 10 um before the hole: a hemisphere on a bore of 27 um would be wider there than
    // the hole of 16 um.
    #[test]
    fn the_cap_at_the_start_fits_the_glass_before_it() {
        let far = parse(examples::find("tenmicron").expect("an example").text, "tenmicron.toml").expect("a case");
        let near = far.with("device.standoff", 10e-6).expect("a case");
        for (case, round) in [(far, true), (near, false)] {
            let setup = Setup::new(&case);
            let start = setup.start(&case);
            let plane = case.layout.orifice().expect("an orifice").standoff / setup.scales.length;
            assert_eq!(start.length() > 0.99, round, "{}", start.length());
            assert!(start.length() < plane * (1.0 + 1e-12), "{} reaches the plate at {plane}", start.length());
        }
    }
}
