//! What the cells of a body carry along: conformation of a polymer, and what is on their surface.
//!
//! Equation: with m the volume (of the conformation) or the surface (of the surfactant) up to a place, each carried quantity is a
//! density q(m) that liquid or surface keeps where nothing else acts; a new cell from m to m' receives the integral of q over it, q
//! linear within an old cell with a limited slope. A cell gives what it has once and whole, so that amounts are kept to round-off
//! through regrids, cuts and joins.
//! Source: piecewise linear remap with the monotonised central limiter, van Leer 1977, J. Comput. Phys. 23, 276 (recalled).
//! Holds for: any two lists of cells of one total; nothing is carried by a clean Newtonian body (empty lists).

use super::rheology::Rheology;

/// What the carried quantities do, and the Ohnesorge number of the whole viscosity at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    pub rheology: Rheology,
    pub ohnesorge: f64,
}

/// Carried quantities, one entry a cell; empty lists where there is nothing to carry.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Load {
    /// What the carried quantities do.
    pub law: Option<Law>,
    /// X and Y of the polymer (see [`super::rheology`]), per volume.
    pub state: [Vec<f64>; 2],
    /// Surfactant of each cell.
    pub amount: Vec<f64>,
    /// Of a dissolved one, per cell: the modes that make up the amount ([`super::adsorption`]), the surface's area when it was new,
    /// and that area times its age.
    pub memory: Vec<Vec<f64>>,
}

/// How old cells became new ones.
#[derive(Debug, Clone, Copy)]
pub struct Remap<'a> {
    /// Volumes before and after, of one total.
    pub volumes: [&'a [f64]; 2],
    /// Surfaces before and after, of one total; empty where there is no surfactant.
    pub surfaces: [&'a [f64]; 2],
}

impl Load {
    /// Whether there is nothing to carry.
    pub fn is_empty(&self) -> bool {
        self.state[0].is_empty() && self.amount.is_empty()
    }

    /// Which lists there are: 1 for a polymer, 2 for a surfactant, 4 for a dissolved one, added.
    pub fn kinds(&self) -> u64 {
        u64::from(!self.state[0].is_empty())
            + 2 * u64::from(!self.amount.is_empty())
            + 4 * u64::from(!self.memory.is_empty())
    }

    /// The same liquid and surface in other cells.
    pub fn carried(&self, to: &Remap) -> Load {
        let [from, into] = to.volumes;
        let intensive = |q: &Vec<f64>| {
            if q.is_empty() {
                return Vec::new();
            }
            let held: Vec<f64> = q.iter().zip(from).map(|(q, v)| q * v).collect();
            remapped(&held, from, into).iter().zip(into).map(|(held, v)| held / v).collect()
        };
        let [from, into] = to.surfaces;
        let state = [intensive(&self.state[0]), intensive(&self.state[1])];
        self.surfaces(state, |list| remapped(list, from, into))
    }

    /// With this state, and each list of the surface changed alike.
    fn surfaces(&self, state: [Vec<f64>; 2], change: impl Fn(&[f64]) -> Vec<f64>) -> Load {
        let amount = if self.amount.is_empty() { Vec::new() } else { change(&self.amount) };
        Load { law: self.law, state, amount, memory: self.memory.iter().map(|list| change(list)).collect() }
    }

    /// Cells `range` alone, and of the first and last of them these shares of what they hold.
    pub fn part(&self, range: std::ops::Range<usize>, first: f64, last: f64) -> Load {
        let cut = |list: &[f64]| if list.is_empty() { Vec::new() } else { list[range.clone()].to_vec() };
        self.surfaces([cut(&self.state[0]), cut(&self.state[1])], |list| {
            let mut held = cut(list);
            if let Some(a) = held.first_mut() {
                *a *= first;
            }
            if let Some(a) = held.last_mut() {
                *a *= last;
            }
            held
        })
    }

    /// This load and another behind it.
    pub fn followed_by(mut self, other: &Load) -> Load {
        self.state[0].extend(&other.state[0]);
        self.state[1].extend(&other.state[1]);
        self.amount.extend(&other.amount);
        self.memory.iter_mut().zip(&other.memory).for_each(|(list, other)| list.extend(other));
        self
    }

    /// The other way round.
    pub fn reverse(&mut self) {
        self.lists().for_each(|list| list.reverse());
    }

    /// Cells `j` and `j + 1` become one; their volumes are given.
    pub fn merge(&mut self, j: usize, volumes: [f64; 2]) {
        for list in self.state.iter_mut().filter(|list| !list.is_empty()) {
            let other = list.remove(j + 1);
            list[j] = (list[j] * volumes[0] + other * volumes[1]) / (volumes[0] + volumes[1]);
        }
        let surfaces = std::iter::once(&mut self.amount).chain(&mut self.memory);
        for list in surfaces.filter(|list| !list.is_empty()) {
            let other = list.remove(j + 1);
            list[j] += other;
        }
    }

    /// What is on the whole surface, as one cell; the liquid's own state is left out.
    pub fn pooled(&self) -> Load {
        self.surfaces(Default::default(), |list| vec![list.iter().sum()])
    }

    /// The surfaces of two pooled loads together.
    pub fn joined(&self, other: &Load) -> Load {
        self.clone().followed_by(other).pooled()
    }

    /// A pooled load spread over `cells` cells of equal surface.
    pub fn spread(&self, cells: usize) -> Load {
        self.surfaces(Default::default(), |list| vec![list.iter().sum::<f64>() / cells as f64; cells])
    }

    fn lists(&mut self) -> impl Iterator<Item = &mut Vec<f64>> {
        self.state.iter_mut().chain(std::iter::once(&mut self.amount)).chain(&mut self.memory)
    }

    /// All surfactant.
    pub fn total_amount(&self) -> f64 {
        self.amount.iter().sum()
    }

    /// Mean age of the surface; `None` where it is not kept.
    pub fn age(&self) -> Option<f64> {
        let [.., label, age] = &self.memory[..] else { return None };
        let whole: f64 = label.iter().sum();
        (whole > 0.0).then(|| age.iter().sum::<f64>() / whole)
    }
}

/// Rise of a density across the middle one of three cells over its volume, limited; of each cell density and volume.
pub fn limited_slope([(low, from), (here, own), (high, to)]: [(f64, f64); 3]) -> f64 {
    let before = (here - low) / (0.5 * (own + from));
    let after = (high - here) / (0.5 * (own + to));
    let central = (high - low) / (0.5 * (from + to) + own);
    if before * after <= 0.0 {
        0.0
    } else {
        central.signum() * central.abs().min(2.0 * before.abs()).min(2.0 * after.abs())
    }
}

/// What each new cell receives of what the old ones hold.
fn remapped(held: &[f64], from: &[f64], to: &[f64]) -> Vec<f64> {
    let n = from.len();
    let density = |j: usize| held[j] / from[j];
    let slope = |j: usize| {
        if j == 0 || j + 1 == n {
            return 0.0;
        }
        limited_slope([j - 1, j, j + 1].map(|j| (density(j), from[j])))
    };
    let mut out = Vec::with_capacity(to.len());
    let (mut j, mut passed, mut given) = (0, 0.0, 0.0);
    for (k, &volume) in to.iter().enumerate() {
        let mut wanted = volume;
        let mut sum = 0.0;
        let last = k + 1 == to.len();
        while j < n && (last || wanted >= from[j] - passed) {
            if j + 1 == n && !last {
                break;
            }
            wanted -= from[j] - passed;
            sum += held[j] - given;
            (passed, given) = (0.0, 0.0);
            j += 1;
        }
        if j < n && !last && wanted > 0.0 {
            let end = (passed + wanted).min(from[j]);
            // integral of density + slope (m - middle) from 0 to `end`, less what was given
            let upto = density(j) * end + 0.5 * slope(j) * end * (end - from[j]);
            sum += upto - given;
            (passed, given) = (end, upto);
        }
        out.push(sum);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn uneven(n: usize, phase: f64) -> Vec<f64> {
        let raw: Vec<f64> = (0..n).map(|i| 1.2 + (3.0 * i as f64 + phase).sin()).collect();
        let total: f64 = raw.iter().sum();
        raw.iter().map(|v| v / total).collect()
    }

    #[test]
    fn amounts_are_kept_to_round_off_and_linear_densities_exactly() {
        let (from, to) = (uneven(37, 0.3), uneven(53, 1.7));
        let mut middle = 0.0;
        let field: Vec<f64> = from
            .iter()
            .map(|v| {
                middle += v;
                2.0 + 3.0 * (middle - 0.5 * v)
            })
            .collect();
        let amount: Vec<f64> = field.iter().zip(&from).map(|(q, v)| q * v).collect();
        let load = Load { law: None, state: [field, vec![1.0; 37]], memory: vec![amount.clone()], amount };
        let new = load.carried(&Remap { volumes: [&from, &to], surfaces: [&from, &to] });
        assert_eq!(new.memory[0], new.amount);
        assert_relative_eq!(new.total_amount(), load.total_amount(), max_relative = 1e-15);
        let mut middle = 0.0;
        for (k, v) in to.iter().enumerate() {
            middle += v;
            let inside = middle - v > from[0] && middle < 1.0 - from[36];
            if inside {
                assert_relative_eq!(new.state[0][k], 2.0 + 3.0 * (middle - 0.5 * v), max_relative = 1e-12);
                assert_relative_eq!(new.amount[k] / v, new.state[0][k], max_relative = 1e-12);
            }
            assert_relative_eq!(new.state[1][k], 1.0, max_relative = 1e-13);
        }
    }

    #[test]
    fn parts_joins_and_mergers_keep_what_they_hold() {
        let list = vec![1.0, 2.0, 3.0, 4.0];
        let load = Load { amount: list.clone(), memory: vec![list.clone(), list], ..Load::default() };
        let (left, right) = (load.part(0..3, 1.0, 0.5), load.part(2..4, 0.5, 1.0));
        assert_eq!((left.total_amount(), right.total_amount()), (4.5, 5.5));
        let both = left.joined(&right);
        assert_eq!((both.total_amount(), both.amount.len(), both.memory[1][0]), (10.0, 1, 10.0));
        let spread = both.spread(5);
        assert_eq!((spread.total_amount(), spread.memory[0][4]), (10.0, 2.0));
        let mut merged = left.followed_by(&right);
        merged.merge(1, [1.0, 2.0]);
        assert_eq!((&merged.amount[..2], merged.amount.len(), merged.total_amount()), (&[1.0, 3.5][..], 4, 10.0));
        let remap = Remap { volumes: [&[1.0], &[0.5, 0.5]], surfaces: [&[], &[]] };
        assert!(Load::default().is_empty() && Load::default().carried(&remap).is_empty());
    }
}
