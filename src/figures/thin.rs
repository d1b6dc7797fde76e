//! Thins a curve to what can be seen: no recorded point lies further than the tolerance from the curve that is drawn.
//!
//! The rule is the split at the farthest point (Ramer 1972, Comput. Graph. Image Process. 1, 244; Douglas & Peucker 1973,
//! Cartographica 10, 112), with a stack instead of recursion so that a long curve cannot exhaust it.

/// Tolerance on paper, points: 7 um, below what a printer of 3,600 dpi resolves.
pub const TOLERANCE: f64 = 0.02;

/// Indices of the points to keep, first and last among them.
pub fn kept(points: &[(f64, f64)], tolerance: f64) -> Vec<usize> {
    if points.len() < 3 {
        return (0..points.len()).collect();
    }
    let last = points.len() - 1;
    let mut keep = vec![false; points.len()];
    (keep[0], keep[last]) = (true, true);
    let mut open = vec![(0, last)];
    while let Some((a, b)) = open.pop() {
        let Some((far, distance)) = farthest(points, a, b) else { continue };
        if distance > tolerance {
            keep[far] = true;
            open.extend([(a, far), (far, b)]);
        }
    }
    (0..points.len()).filter(|i| keep[*i]).collect()
}

fn farthest(points: &[(f64, f64)], a: usize, b: usize) -> Option<(usize, f64)> {
    let ((ax, ay), (bx, by)) = (points[a], points[b]);
    let (dx, dy) = (bx - ax, by - ay);
    let square = dx * dx + dy * dy;
    let distance = |i: usize| {
        let (px, py) = (points[i].0 - ax, points[i].1 - ay);
        let along = if square > 0.0 { ((px * dx + py * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
        (px - along * dx).hypot(py - along * dy)
    };
    (a + 1..b).map(|i| (i, distance(i))).max_by(|p, q| p.1.total_cmp(&q.1))
}

/// How many nodes a figure drew of how many recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Thinned {
    pub drawn: usize,
    pub recorded: usize,
}

impl Thinned {
    pub fn add(&mut self, drawn: usize, recorded: usize) {
        self.drawn += drawn;
        self.recorded += recorded;
    }

    /// What the metadata say.
    pub fn statement(&self, what: &str) -> Option<String> {
        (self.drawn < self.recorded).then(|| {
            format!(
                "{what}: {} of {} recorded nodes drawn; no recorded node is further than {TOLERANCE} pt from what is drawn",
                self.drawn, self.recorded
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_straight_line_needs_its_ends() {
        let line: Vec<_> = (0..1000).map(|i| (f64::from(i), 2.0 * f64::from(i))).collect();
        assert_eq!(kept(&line, 1e-9), [0, 999]);
    }

    proptest! {
        #[test]
        fn no_point_is_further_than_the_tolerance(ys in prop::collection::vec(-1.0..1.0f64, 3..200), tol in 0.001..0.5f64) {
            let points: Vec<_> = ys.iter().enumerate().map(|(i, y)| (i as f64 * 0.1, *y)).collect();
            for pair in kept(&points, tol).windows(2) {
                let worst = farthest(&points, pair[0], pair[1]).map_or(0.0, |(_, d)| d);
                prop_assert!(worst <= tol);
            }
        }
    }

    #[test]
    fn a_million_points_that_all_matter_do_not_exhaust_the_stack() {
        let zigzag: Vec<_> = (0..20_000).map(|i| (f64::from(i), f64::from(i % 2))).collect();
        assert_eq!(kept(&zigzag, 0.01).len(), zigzag.len());
    }
}
