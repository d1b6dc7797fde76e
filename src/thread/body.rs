//! A body of liquid: the thread on the nozzle, a filament, a drop.
//!
//! Invariants: z strictly increasing; z.len() == u.len() == v.len() + 1; every v > 0; a fixed end has a fixed node.

use super::load::Load;
use super::power::Powers;
use std::f64::consts::PI;

/// What closes a body at one side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Contact line pinned at radius 1, node at rest, liquid enters.
    Nozzle,
    /// Free round end.
    Tip,
    /// Mirror plane.
    Symmetry,
    /// The thread goes on beyond what is computed.
    Outflow,
}

impl End {
    /// True if the node at this end does not move.
    pub fn is_fixed(self) -> bool {
        matches!(self, End::Nozzle | End::Symmetry)
    }

    /// True if the cell's mirror image stands for what lies beyond this end: it moves with the cell.
    pub fn mirrors(self) -> bool {
        matches!(self, End::Symmetry | End::Outflow)
    }

    /// Length and squared radius of the neighbour that stands for what lies beyond this end, `inner` those of the cell before it.
    pub fn beyond(self, inner: (f64, f64)) -> (f64, f64) {
        match self {
            End::Nozzle => (0.0, 1.0),
            End::Tip => (0.0, 0.0),
            End::Symmetry | End::Outflow => inner,
        }
    }

    fn code(self) -> u64 {
        match self {
            End::Nozzle => 0,
            End::Tip => 1,
            End::Symmetry => 2,
            End::Outflow => 3,
        }
    }

    fn from_code(code: u64) -> Option<End> {
        [End::Nozzle, End::Tip, End::Symmetry, End::Outflow].into_iter().find(|e| e.code() == code)
    }
}

/// Most intervals between rays.
const RAYS_MAX: usize = super::fields::rays::MOST;
/// Most lists of a surface's memory.
const MEMORY_MAX: u64 = super::adsorption::MODES as u64 + 2;

/// Nodes, velocities, cell volumes and the body's own clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Node positions.
    pub z: Vec<f64>,
    /// Node velocities.
    pub u: Vec<f64>,
    /// Cell volumes.
    pub v: Vec<f64>,
    /// What the cells carry along (nothing in a clean Newtonian thread).
    pub load: Load,
    /// What closes the first node.
    pub left: End,
    /// What closes the last node.
    pub right: End,
    /// Its own time.
    pub time: f64,
    /// The step it would like to take next.
    pub dt: f64,
    /// When it came off (zero for what was there at the start).
    pub born: f64,
    /// Where its centre was then, and how fast it went.
    pub born_at: [f64; 2],
    /// Time since when it has had no waist.
    pub plain_since: f64,
    /// True while it hangs on the nozzle without a neck and viscosity makes it forget its errors.
    pub filling: bool,
    /// True while its mesh follows the shape and lets liquid through ([`super::mesh::follow`]).
    pub follows: bool,
    /// Up to where it does.
    pub follows_to: f64,
    /// True once its shape is no longer followed.
    pub abandoned: bool,
    /// True if a step underflow had to be mended while it formed.
    pub flagged: bool,
    /// Accepted steps since the mesh was last looked at.
    pub since_regrid: u32,
    /// Intervals between the rays about it at the last step ([`super::fields`]); 0 where there were none.
    pub rays: usize,
    /// Number of the pinch-off that made it (counted from 1; 0 for the thread on the nozzle).
    pub parent_pinch: u64,
    /// Powers at the last stage of the step that ended here; `None` where anything else has changed the body since.
    pub last_powers: Option<Powers>,
}

impl Body {
    /// A body from nodes, velocities and a squared-radius profile that is integrated exactly by Gauss points.
    pub fn from_profile(z: Vec<f64>, left: End, right: End, area: impl Fn(f64) -> f64, u: impl Fn(f64) -> f64) -> Body {
        let v = z.windows(2).map(|w| PI * gauss(w[0], w[1], &area)).collect();
        let u = z.iter().map(|&z| u(z)).collect();
        Body {
            z,
            u,
            v,
            load: Load::default(),
            left,
            right,
            time: 0.0,
            dt: 1e-6,
            born: 0.0,
            born_at: [0.0; 2],
            plain_since: 0.0,
            filling: false,
            follows: false,
            follows_to: f64::INFINITY,
            abandoned: false,
            flagged: false,
            since_regrid: 0,
            rays: 0,
            parent_pinch: 0,
            last_powers: None,
        }
    }

    /// The same ends, clock and history with no nodes.
    pub fn without_nodes(&self) -> Body {
        Body { z: Vec::new(), u: Vec::new(), v: Vec::new(), load: Load::default(), last_powers: None, ..*self }
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.v.len()
    }

    /// Mean squared radius of cell `j`.
    pub fn area(&self, j: usize) -> f64 {
        self.v[j] / (PI * (self.z[j + 1] - self.z[j]))
    }

    /// Middle of cell `j`.
    pub fn middle(&self, j: usize) -> f64 {
        0.5 * (self.z[j] + self.z[j + 1])
    }

    /// Total volume.
    pub fn volume(&self) -> f64 {
        self.v.iter().sum()
    }

    /// First to last node.
    pub fn length(&self) -> f64 {
        self.z[self.z.len() - 1] - self.z[0]
    }

    /// Momentum over density, with half of each cell at each node.
    pub fn momentum(&self) -> f64 {
        self.v.iter().enumerate().map(|(j, v)| 0.5 * v * (self.u[j] + self.u[j + 1])).sum()
    }

    /// Centre of volume.
    pub fn centre(&self) -> f64 {
        self.v.iter().enumerate().map(|(j, v)| v * self.middle(j)).sum::<f64>() / self.volume()
    }

    /// Largest cell radius.
    pub fn radius_max(&self) -> f64 {
        (0..self.cells()).map(|j| self.area(j)).fold(0.0, f64::max).sqrt()
    }

    /// Length of cell `j` and its mean squared radius.
    pub fn cell(&self, j: usize) -> (f64, f64) {
        (self.z[j + 1] - self.z[j], self.area(j))
    }

    /// Squared radius at the first node, where it is known, else that of the first cell.
    pub fn area_left(&self) -> f64 {
        self.left.beyond(self.cell(0)).1
    }

    /// The same at the last.
    pub fn area_right(&self) -> f64 {
        self.right.beyond(self.cell(self.cells() - 1)).1
    }

    /// Radii at the nodes, for drawing: between two cells the mean squared radius weighted by the other cell's length.
    pub fn node_radii(&self) -> Vec<f64> {
        let n = self.cells();
        let mut h = Vec::with_capacity(n + 1);
        h.push(self.area_left().sqrt());
        for i in 1..n {
            let (dl, dr) = (self.z[i] - self.z[i - 1], self.z[i + 1] - self.z[i]);
            h.push(((self.area(i - 1) * dr + self.area(i) * dl) / (dl + dr)).sqrt());
        }
        h.push(self.area_right().sqrt());
        h
    }

    /// Append the state to flat lists (see [`crate::simulate::Checkpoint`]).
    pub fn save(&self, reals: &mut Vec<f64>, counts: &mut Vec<u64>) {
        counts.extend([
            self.v.len() as u64,
            self.left.code(),
            self.right.code(),
            self.flagged as u64
                + 2 * self.filling as u64
                + 4 * self.abandoned as u64
                + 8 * self.follows as u64
                + 16 * self.load.kinds()
                + 128 * self.last_powers.is_some() as u64,
            self.since_regrid as u64,
            self.parent_pinch,
            self.rays as u64,
        ]);
        reals.extend([self.time, self.dt, self.born, self.plain_since, self.follows_to]);
        reals.extend(self.born_at);
        reals.extend(self.last_powers.into_iter().flat_map(Powers::to_array));
        reals.extend(&self.z);
        reals.extend(&self.u);
        reals.extend(&self.v);
        if !self.load.memory.is_empty() {
            counts.push(self.load.memory.len() as u64);
        }
        self.load.state.iter().chain([&self.load.amount]).chain(&self.load.memory).for_each(|list| reals.extend(list));
    }

    /// Read back what [`Body::save`] wrote; `None` if the lists do not hold a body.
    pub fn load(reals: &mut impl Iterator<Item = f64>, counts: &mut impl Iterator<Item = u64>) -> Option<Body> {
        let n = usize::try_from(counts.next()?).ok().filter(|n| *n >= 1 && *n < 100_000_000)?;
        let left = End::from_code(counts.next()?)?;
        let right = End::from_code(counts.next()?)?;
        let flags = counts.next()?;
        let [flagged, filling, abandoned, follows] = [1, 2, 4, 8].map(|bit| flags & bit != 0);
        let since_regrid = u32::try_from(counts.next()?).ok()?;
        let parent_pinch = counts.next()?;
        let rays = usize::try_from(counts.next()?).ok().filter(|n| *n <= RAYS_MAX)?;
        let (time, dt, born, plain_since) = (reals.next()?, reals.next()?, reals.next()?, reals.next()?);
        let (follows_to, born_at) = (reals.next()?, [reals.next()?, reals.next()?]);
        let mut last_powers = None;
        if flags & 128 != 0 {
            let mut powers = [0.0; 9];
            for power in &mut powers {
                *power = reals.next()?;
            }
            last_powers = Some(Powers::from_array(powers));
        }
        let z: Vec<f64> = reals.by_ref().take(n + 1).collect();
        let u: Vec<f64> = reals.by_ref().take(n + 1).collect();
        let v: Vec<f64> = reals.by_ref().take(n).collect();
        if v.len() != n || !z.windows(2).all(|w| w[1] > w[0]) || !v.iter().all(|v| *v > 0.0) {
            return None;
        }
        let loads = (flags & 127) >> 4;
        let lists = if loads & 4 != 0 { counts.next().filter(|n| *n <= MEMORY_MAX)? } else { 0 };
        let mut list = |there: bool| if there { reals.by_ref().take(n).collect() } else { Vec::new() };
        let state = [list(loads & 1 != 0), list(loads & 1 != 0)];
        let amount = list(loads & 2 != 0);
        let memory: Vec<Vec<f64>> = (0..lists).map(|_| list(true)).collect();
        let load = Load { law: None, state, amount, memory };
        let whole = |q: &Vec<f64>| q.is_empty() || q.len() == n;
        let sound = load.state.iter().chain(&load.memory).all(whole) && whole(&load.amount);
        if flags > 255 || !sound {
            return None;
        }
        Some(Body {
            z,
            u,
            v,
            load,
            left,
            right,
            time,
            dt,
            born,
            born_at,
            plain_since,
            filling,
            follows,
            follows_to,
            abandoned,
            flagged,
            since_regrid,
            rays,
            parent_pinch,
            last_powers,
        })
    }
}

/// Three-point Gauss integral.
fn gauss(lo: f64, hi: f64, f: &impl Fn(f64) -> f64) -> f64 {
    let (mid, half) = (0.5 * (lo + hi), 0.5 * (hi - lo));
    let off = half * 0.6f64.sqrt();
    half * (5.0 * f(mid - off) + 8.0 * f(mid) + 5.0 * f(mid + off)) / 9.0
}
