//! Wall radius along the thread.
//!
//! Equation: R_w(z), sampled and joined by cubic Hermite pieces with slopes from the neighbours, held beyond the ends.
//! Symbols: z from the tip, both in units of the pinned radius (any consistent unit will do).
//! Source: standard interpolation.
//! Holds for: samples in order of z.

/// Wall radius against z.
#[derive(Debug, Clone, PartialEq)]
pub enum Wall {
    /// No wall: liquid at rest.
    Unbounded,
    /// The same everywhere.
    Uniform(f64),
    /// Sampled places and radii.
    Profile { places: Vec<f64>, radii: Vec<f64> },
}

impl Wall {
    /// Wall radius and its slope at `z`; `None` without a wall.
    #[inline]
    pub fn at(&self, z: f64) -> Option<(f64, f64)> {
        match self {
            Wall::Unbounded => None,
            Wall::Uniform(radius) => Some((*radius, 0.0)),
            Wall::Profile { places, radii } => {
                Some(interpolate(places, radii, z, places.partition_point(|place| *place <= z)))
            }
        }
    }

    /// The same for places that follow each other: `from` is where the last one was found (any number will do at first).
    #[inline]
    pub fn next(&self, z: f64, from: &mut usize) -> Option<(f64, f64)> {
        let Wall::Profile { places, radii } = self else { return self.at(z) };
        let mut k = (*from).min(places.len());
        while k > 0 && places[k - 1] > z {
            k -= 1;
        }
        while k < places.len() && places[k] <= z {
            k += 1;
        }
        *from = k;
        Some(interpolate(places, radii, z, k))
    }

    /// Wall radius alone.
    pub fn radius(&self, z: f64) -> Option<f64> {
        self.at(z).map(|(radius, _)| radius)
    }
}

/// Cubic between samples `k - 1` and `k`, the first beyond `at`; held outside.
fn interpolate(x: &[f64], y: &[f64], at: f64, k: usize) -> (f64, f64) {
    let n = x.len();
    if k == 0 || k == n {
        return (y[k.saturating_sub(1)], 0.0);
    }
    let slope = |i: usize| if i == 0 || i + 1 == n { 0.0 } else { (y[i + 1] - y[i - 1]) / (x[i + 1] - x[i - 1]) };
    let (i, h) = (k - 1, x[k] - x[k - 1]);
    let (s, m0, m1) = ((at - x[i]) / h, slope(i) * h, slope(k) * h);
    let rise = y[k] - y[i];
    let (c2, c3) = (3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise);
    (y[i] + s * (m0 + s * (c2 + s * c3)), (m0 + s * (2.0 * c2 + s * 3.0 * c3)) / h)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_sampled_cone_is_met_at_the_samples_and_between_and_held_outside() {
        let places: Vec<f64> = (0..=60).map(|i| 0.1 * f64::from(i) - 3.0).collect();
        let radii = places.iter().map(|z: &f64| (1.2 + 1.5 * z * z).sqrt()).collect();
        let wall = Wall::Profile { places, radii };
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
}
