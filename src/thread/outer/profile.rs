//! Wall radius along the thread.
//!
//! Equation: R_w(z), sampled and joined by cubic Hermite pieces with slopes from the neighbours, held beyond the ends. The
//! wall's own length is `L_w = 1/sqrt((R_w'/R_w)^2 + |R_w''/R_w|)`, felt as far as it is long: |dL_w/dz| <= 1.
//! The stream is a parabola, 2 Q_T/(pi R_w^2) on the axis; it stretches there by (2 Q_T/pi) times `-2 R_w'/R_w^3`.
//! Symbols: z from the tip, both in units of the pinned radius (any consistent unit will do).
//! Source: standard interpolation; the length is that of the thread's profile ([`crate::thread::mesh::size`]).
//! Holds for: samples in order of z.

/// Wall radius against z.
#[derive(Debug, Clone, PartialEq)]
pub enum Wall {
    /// No wall: liquid at rest.
    Unbounded,
    /// The same everywhere.
    Uniform(f64),
    /// Sampled places with the radii, the wall's own length there ([`Wall::profile`]), the narrowest radius from there on, and the
    /// stretch of the stream on the axis over 2 Q_T/pi.
    Profile { places: Vec<f64>, radii: Cubics, lengths: Vec<f64>, ahead: Vec<f64>, stretches: Cubics },
}

/// Cubics between samples: their coefficients by the way from the sample before.
#[derive(Debug, Clone, PartialEq)]
pub struct Cubics {
    between: Vec<[f64; 4]>,
    /// What holds before the first sample and beyond the last.
    held: [f64; 2],
}

impl Cubics {
    /// Through the samples `y` at the places `x`, at least two.
    fn new(x: &[f64], y: &[f64]) -> Cubics {
        let n = x.len();
        let piece = |i: usize| {
            let h = x[i + 1] - x[i];
            let (rise, before, after) = ((y[i + 1] - y[i]) / h, slope_at(x, y, i), slope_at(x, y, i + 1));
            [y[i], before, (3.0 * rise - 2.0 * before - after) / h, (before + after - 2.0 * rise) / (h * h)]
        };
        Cubics { between: (0..n - 1).map(piece).collect(), held: [y[0], y[n - 1]] }
    }

    /// Value and slope at `z` in front of place `k`, the first beyond it.
    #[inline(always)]
    fn at(&self, places: &[f64], z: f64, k: usize) -> (f64, f64) {
        match k.checked_sub(1).and_then(|i| Some((self.between.get(i)?, places.get(i)?))) {
            Some(([c0, c1, c2, c3], place)) => {
                let t = z - place;
                (c0 + t * (c1 + t * (c2 + t * c3)), c1 + t * (2.0 * c2 + t * (3.0 * c3)))
            }
            None => (self.held[usize::from(k > 0)], 0.0),
        }
    }
}

impl Wall {
    /// A wall through samples in order of z, at least two.
    pub fn profile(places: Vec<f64>, radii: Vec<f64>) -> Wall {
        let lengths = lengths(&places, &radii);
        let mut ahead = radii.clone();
        for i in (1..ahead.len()).rev() {
            ahead[i - 1] = ahead[i - 1].min(ahead[i]);
        }
        let stretches: Vec<f64> =
            (0..radii.len()).map(|i| -2.0 * slope_at(&places, &radii, i) / radii[i].powi(3)).collect();
        // beyond the samples the wall is straight
        let stretches = Cubics { held: [0.0; 2], ..Cubics::new(&places, &stretches) };
        Wall::Profile { radii: Cubics::new(&places, &radii), places, lengths, ahead, stretches }
    }

    /// The wall at `z` as in [`Wall::next`], and the stretch of the stream on the axis over 2 Q_T/pi there with its slope.
    #[inline(always)]
    pub fn with_stretch(&self, z: f64, from: &mut usize) -> (Option<(f64, f64)>, (f64, f64)) {
        let Wall::Profile { places, radii, stretches, .. } = self else { return (self.at(z), (0.0, 0.0)) };
        *from = found(places, z, *from);
        (Some(radii.at(places, z, *from)), stretches.at(places, z, *from))
    }

    /// The wall's radius at `z` and its narrowest from there on downstream; `None` where the wall is straight. `from` as in [`Wall::next`].
    pub fn passage(&self, z: f64, from: &mut usize) -> Option<(f64, f64)> {
        let Wall::Profile { places, radii, ahead, .. } = self else { return None };
        *from = found(places, z, *from);
        let here = radii.at(places, z, *from).0;
        Some((here, ahead.get(*from).map_or(here, |ahead| here.min(*ahead))))
    }

    /// The wall's own length at `z`; infinite where it is straight. `from` as in [`Wall::next`].
    pub fn length(&self, z: f64, from: &mut usize) -> f64 {
        let Wall::Profile { places, lengths, .. } = self else { return f64::INFINITY };
        *from = found(places, z, *from);
        let last = lengths.len() - 1;
        lengths[from.saturating_sub(1)].min(lengths[(*from).min(last)])
    }

    /// Wall radius and its slope at `z`; `None` without a wall.
    #[inline]
    pub fn at(&self, z: f64) -> Option<(f64, f64)> {
        match self {
            Wall::Unbounded => None,
            Wall::Uniform(radius) => Some((*radius, 0.0)),
            Wall::Profile { places, radii, .. } => {
                Some(radii.at(places, z, places.partition_point(|place| *place <= z)))
            }
        }
    }

    /// The same for places that follow each other: `from` is where the last one was found (any number will do at first).
    #[inline]
    pub fn next(&self, z: f64, from: &mut usize) -> Option<(f64, f64)> {
        let Wall::Profile { places, radii, .. } = self else { return self.at(z) };
        *from = found(places, z, *from);
        Some(radii.at(places, z, *from))
    }

    /// Wall radius alone.
    pub fn radius(&self, z: f64) -> Option<f64> {
        self.at(z).map(|(radius, _)| radius)
    }
}

/// First place beyond `z`, looked for from where the last one was found.
#[inline]
fn found(places: &[f64], z: f64, from: usize) -> usize {
    let mut k = from.min(places.len());
    while k > 0 && places[k - 1] > z {
        k -= 1;
    }
    while k < places.len() && places[k] <= z {
        k += 1;
    }
    k
}

/// The wall's own length at every sample.
fn lengths(z: &[f64], r: &[f64]) -> Vec<f64> {
    let n = z.len();
    let slope = |i: usize| (r[i + 1] - r[i]) / (z[i + 1] - z[i]);
    let mut lengths: Vec<f64> = (0..n)
        .map(|i| {
            // where the samples end the wall does not turn: a tip stands there, or the wall is straight already
            let (before, after) = (slope(i.saturating_sub(1)), slope(i.min(n - 2)));
            let apart = 0.5 * (z[(i + 1).min(n - 1)] - z[i.saturating_sub(1)]);
            let (turn, bend) = (0.5 * (before + after) / r[i], (after - before) / (apart * r[i]));
            (turn * turn + bend.abs()).sqrt().recip()
        })
        .collect();
    for i in 1..n {
        lengths[i] = lengths[i].min(lengths[i - 1] + z[i] - z[i - 1]);
    }
    for i in (1..n).rev() {
        lengths[i - 1] = lengths[i - 1].min(lengths[i] + z[i] - z[i - 1]);
    }
    lengths
}

/// Slope at a sample from its neighbours, none at the ends.
fn slope_at(x: &[f64], y: &[f64], i: usize) -> f64 {
    if i == 0 || i + 1 == x.len() { 0.0 } else { (y[i + 1] - y[i - 1]) / (x[i + 1] - x[i - 1]) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_sampled_cone_is_met_at_the_samples_and_between_and_held_outside() {
        let places: Vec<f64> = (0..=60).map(|i| 0.1 * f64::from(i) - 3.0).collect();
        let radii = places.iter().map(|z: &f64| (1.2 + 1.5 * z * z).sqrt()).collect();
        let wall = Wall::profile(places, radii);
        for z in [-2.85f64, -1.0, 0.03, 0.66, 2.7] {
            let (radius, slope) = wall.at(z).expect("a wall");
            let exact = (1.2 + 1.5 * z * z).sqrt();
            assert_relative_eq!(radius, exact, max_relative = 1e-4);
            assert_relative_eq!(slope, 1.5 * z / exact, epsilon = 3e-3);
        }
        let mut from = 7;
        for z in [-9.0, -2.85f64, -2.8, -1.0, 0.03, 2.7, 2.65, 9.0, -1.0, -9.0, 0.3] {
            assert_eq!(wall.next(z, &mut from), wall.at(z), "{z}");
        }
        assert_eq!(wall.at(9.0), Some(((1.2 + 13.5f64).sqrt(), 0.0)));
        assert_eq!(wall.at(-9.0), Some(((1.2 + 13.5f64).sqrt(), 0.0)));
        assert_eq!(Wall::Unbounded.at(0.0), None);
    }

    #[test]
    fn what_lies_ahead_is_the_narrowest_of_the_wall_downstream() {
        let wall = Wall::profile(vec![0.0, 1.0, 2.0, 3.0, 4.0], vec![6.0, 4.0, 2.0, 3.0, 5.0]);
        let at = |z: f64| wall.passage(z, &mut 0).expect("a passage").1;
        assert_eq!((at(-1.0), at(0.5), at(2.0), at(4.5)), (2.0, 2.0, 2.0, 5.0));
        assert!(at(3.4) > 3.0 && at(3.4) == wall.radius(3.4).expect("a wall"));
        assert_eq!((Wall::Uniform(2.0).passage(0.0, &mut 0), Wall::Unbounded.passage(0.0, &mut 0)), (None, None));
    }

    // R_w = e^(-z/4): the stream on the axis goes as e^(z/2), so that it stretches by half its velocity.
    #[test]
    fn theory_stretch_of_the_stream() {
        let places: Vec<f64> = (0..=400).map(|i| 0.01 * f64::from(i)).collect();
        let radii = places.iter().map(|z| (-0.25 * z).exp()).collect();
        let wall = Wall::profile(places, radii);
        let mut from = 0;
        for z in [0.5f64, 2.003, 3.2] {
            let (rate, slope) = wall.with_stretch(z, &mut from).1;
            assert_relative_eq!(rate, 0.5 * (0.5 * z).exp(), max_relative = 1e-4);
            assert_relative_eq!(slope, 0.25 * (0.5 * z).exp(), max_relative = 1e-3);
        }
        assert_eq!(Wall::Uniform(2.0).with_stretch(1.0, &mut 0), (Some((2.0, 0.0)), (0.0, 0.0)));
    }

    // R_w = e^z: R_w'/R_w and R_w''/R_w are 1, so L_w = 1/sqrt(2); a straight wall has none.
    #[test]
    fn theory_own_length_of_a_wall() {
        let places: Vec<f64> = (0..=400).map(|i| 0.01 * f64::from(i)).collect();
        let radii = places.iter().map(|z| z.exp()).collect();
        let wall = Wall::profile(places, radii);
        let mut from = 0;
        for z in [1.0, 2.003, 1.5] {
            assert_relative_eq!(wall.length(z, &mut from), 0.5f64.sqrt(), max_relative = 1e-2);
        }
        let flat = Wall::profile(vec![0.0, 1.0, 2.0], vec![3.0; 3]);
        assert_eq!((flat.length(0.5, &mut 0), Wall::Uniform(2.0).length(0.5, &mut 0)), (f64::INFINITY, f64::INFINITY));
    }
}
