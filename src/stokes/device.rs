//! The device of a case in the solver's units, and its glass.
//!
//! Equation: lengths over R, the radius that pins the contact line; velocities over gamma/mu_o; flows over R^2 gamma/mu_o.
//! Undisturbed flow in a tube of radius R_w: Poiseuille with 2 Q_o/(pi R_w^2) on the axis.
//!
//! Symbols: tip of bore b and outside radius a (one of them 1); plug where the inner liquid's Poiseuille flow is prescribed, 3 b
//! inside the tip, so that the drop cannot feel it (5 b moves its diameter by less than 0.01 %, validation/reference).
//!
//! Source: see [`super::flow`].
//!
//! Holds for: a straight tip as long as `tip_length`; its taper is left out.

use super::channel::Channel;
use super::flow::{Undisturbed, Walls};
use super::glass::{Builder, Edges, growing};
use crate::device::core_annular::axis_velocity;

/// Depth of the plug in bores' radii.
pub(super) const PLUG: f64 = 3.0;
/// Longest tip, in R: what it slows of the stream grows with its logarithm only.
const TIP_LONGEST: f64 = 60.0;

/// A tip in a stream, scaled.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    /// mu_i/mu_o.
    pub ratio: f64,
    /// (rho_i - rho_o) g R^2/gamma along the flow.
    pub bond: f64,
    /// Flow of the inner liquid.
    pub inner_flow: f64,
    /// Flow of the outer liquid where there is a tube.
    pub outer_flow: f64,
    /// Velocity of the outer liquid where there is no tube.
    pub stream: f64,
    /// The outer wall.
    pub channel: Option<Channel>,
    /// Bore and outside radius of the tip.
    pub bore: f64,
    pub outside: f64,
    /// Length of the tip upstream.
    pub tip_length: f64,
}

/// Length of the tip that stands for one without end: two tube radii upstream the stream no longer knows that it ends.
pub fn long_tip(tube: Option<f64>) -> f64 {
    tube.map_or(20.0, |wall| (5.0 + 2.0 * wall).min(TIP_LONGEST))
}

/// How fine the glass is resolved: panels over those of the base resolution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Panels(pub f64);

impl Panels {
    /// How many panels where the base resolution has `base`.
    pub fn of(self, base: f64) -> usize {
        (base * self.0).round().max(1.0) as usize
    }
}

impl Device {
    /// Where the closing disk has to stand at first.
    pub fn first_reach(&self) -> f64 {
        self.channel
            .as_ref()
            .map_or(0.0, |c| c.last_corner() + 3.0 * c.end_radius() + if c.orifice.is_some() { 4.0 } else { 10.0 })
    }

    /// How far from the closing disk the drop must stay.
    pub fn margin(&self) -> f64 {
        1.5 * self.channel.as_ref().map_or(0.0, Channel::end_radius)
    }

    /// Distance of a point to the outer wall, negative outside.
    pub fn room(&self, z: f64, r: f64) -> f64 {
        self.channel.as_ref().map_or(f64::MAX, |c| c.distance(z, r))
    }

    /// The glass, closed downstream at `reach`.
    pub fn walls(&self, reach: f64, panels: Panels) -> Walls {
        let mut b = Builder::default();
        let plug = -PLUG * self.bore;
        b.straight((plug, 0.0), (plug, self.bore), panels.of(2.0), Edges::Last);
        let plug_nodes = b.nodes();
        b.straight((plug, self.bore), (0.0, self.bore), panels.of(4.0), Edges::Last);
        self.outside_of_tip(&mut b, plug, panels);
        let mut end = 0;
        if let Some(channel) = &self.channel {
            end = channel.build(&mut b, -(self.tip_length + channel.radius), reach, panels);
        }
        Walls {
            boundary: b.done(),
            plug: plug_nodes,
            bore: self.bore,
            end,
            end_radius: self.channel.as_ref().map_or(1.0, Channel::end_radius),
            undisturbed: self.undisturbed(),
            inner_flow: self.inner_flow,
            total_flow: self.inner_flow + self.outer_flow,
            ratio: self.ratio,
        }
    }

    fn outside_of_tip(&self, b: &mut Builder, plug: f64, panels: Panels) {
        if self.outside > self.bore {
            let wide = self.outside - self.bore;
            b.straight(
                (0.0, self.bore),
                (0.0, self.outside),
                panels.of(2.0 + (wide / self.bore).min(4.0)),
                Edges::Both,
            );
            let near = -(2.0 * self.outside).max(3.0);
            b.straight((0.0, self.outside), (near, self.outside), panels.of(4.0), Edges::First);
            b.cylinder(self.outside, &growing(near, -self.tip_length, 2.0 / panels.0, 1.8, f64::MAX));
        } else {
            b.cylinder(self.outside, &growing(plug, -self.tip_length, 1.5 / panels.0, 1.8, f64::MAX));
        }
    }

    fn undisturbed(&self) -> Undisturbed {
        match self.channel.as_ref().map(|c| c.radius) {
            Some(wall) => Undisturbed::Tube(axis_velocity(self.outer_flow, wall), wall),
            None if self.stream == 0.0 => Undisturbed::Rest,
            None => Undisturbed::Uniform(self.stream),
        }
    }
}
