//! The plane of a map between its cells: where each mode is, the border between them, and contours of a number.
//!
//! Everything is told square by square between four neighbouring cells, so nothing is drawn beyond what was computed. Where
//! the mode changes along a side, the border crosses it where it was bisected, or half-way where it was not; tint and line
//! share these points. Contours are straight across a square whose corners are of one mode (marching squares; a saddle is
//! decided by the mean of the corners).

use super::axis::MapAxis;
use super::source::MapTable;
use crate::figures::axes::Axes;
use crate::outcome::Mode;
use std::collections::BTreeMap;

type Point = (f64, f64);

/// The cells of a map of two quantities by their places in the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Lattice {
    xs: Vec<f64>,
    ys: Vec<f64>,
    log: (bool, bool),
    /// Row of cell (i, j) at `i + xs.len() * j`.
    rows: Vec<usize>,
}

/// A side of a square: its two cells.
type Side = (usize, usize);

impl Lattice {
    /// `None` where the rows are no full grid over the first two keys.
    pub fn of(map: &MapTable, log: (bool, bool)) -> Option<Lattice> {
        let [a, b] = map.keys.get(..2)? else { return None };
        let (xs, ys) = (super::axis::distinct(&a.values), super::axis::distinct(&b.values));
        let place = |list: &[f64], v: f64| list.iter().position(|x| (x - v).abs() <= 1e-9 * x.abs().max(v.abs()));
        let mut found = vec![None; xs.len() * ys.len()];
        for row in 0..map.rows() {
            let cell = place(&xs, a.values[row])? + xs.len() * place(&ys, b.values[row])?;
            if found[cell].replace(row).is_some() {
                return None;
            }
        }
        let rows = found.into_iter().collect::<Option<Vec<usize>>>()?;
        (xs.len() > 1 && ys.len() > 1).then_some(Lattice { xs, ys, log, rows })
    }

    /// Rows of the four corners of each square, around it.
    fn squares(&self) -> Vec<[usize; 4]> {
        let n = self.xs.len();
        let at = |i: usize, j: usize| self.rows[i + n * j];
        let mut list = Vec::new();
        for j in 0..self.ys.len() - 1 {
            for i in 0..n - 1 {
                list.push([at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
            }
        }
        list
    }

    /// How far along the way between two cells the mode changes.
    fn crossing(&self, map: &MapTable, (p, q): Side) -> f64 {
        let value = |key: usize, row: usize| map.keys[key].values[row];
        let same = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs().max(b.abs());
        let along = usize::from(same(value(0, p), value(0, q)));
        let (from, to, across) = (value(along, p), value(along, q), value(1 - along, p));
        let log = if along == 0 { self.log.0 } else { self.log.1 };
        let share = |v: f64| if log { (v / from).ln() / (to / from).ln() } else { (v - from) / (to - from) };
        let on_side = |b: &&Vec<f64>| same(b[1 - along], across) && (0.0..=1.0).contains(&share(b[along]));
        map.border.iter().filter(|b| b.len() >= 2).find(on_side).map_or(0.5, |b| share(b[along]))
    }
}

/// Areas of one mode, and the border's lines, on the page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Regions {
    pub areas: Vec<(Option<Mode>, Vec<Point>)>,
    pub border: Vec<[Point; 2]>,
}

fn between(a: Point, b: Point, share: f64) -> Point {
    (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
}

fn middle(points: &[Point]) -> Point {
    let n = points.len() as f64;
    (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n)
}

/// Place of each row on the page.
pub fn places(axes: &Axes, x: &MapAxis, y: &MapAxis, rows: usize) -> Vec<Point> {
    (0..rows).map(|i| axes.point(x.shown(i), y.shown(i))).collect()
}

/// Where each mode is.
pub fn regions(map: &MapTable, lattice: &Lattice, places: &[Point]) -> Regions {
    let mut found = Regions::default();
    for square in lattice.squares() {
        let corner: [Point; 4] = square.map(|row| places[row]);
        let mode = |k: usize| map.mode[square[k % 4]];
        let cross: Vec<Option<Point>> = (0..4)
            .map(|k| {
                let next = (k + 1) % 4;
                let share = || lattice.crossing(map, (square[k], square[next]));
                (mode(k) != mode(next)).then(|| between(corner[k], corner[next], share()))
            })
            .collect();
        let crossings: Vec<Point> = cross.iter().flatten().copied().collect();
        let heart = (crossings.len() > 2).then(|| middle(&crossings));
        if crossings.is_empty() {
            found.areas.push((mode(0), corner.to_vec()));
            continue;
        }
        // from each crossing on, the corners up to the next one
        for start in (0..4).filter(|k| cross[*k].is_some()) {
            let mut area: Vec<Point> = cross[start].into_iter().collect();
            for k in start + 1..=start + 4 {
                area.push(corner[k % 4]);
                if let Some(end) = cross[k % 4] {
                    area.push(end);
                    break;
                }
            }
            area.extend(heart);
            found.areas.push((mode(start + 1), area));
        }
        if (0..4).all(|k| mode(k).is_some()) {
            match heart {
                None => found.border.push([crossings[0], crossings[1]]),
                Some(heart) => found.border.extend(crossings.iter().map(|c| [*c, heart])),
            }
        }
    }
    found
}

/// Lines of equal value, each as joined points.
pub fn contours(map: &MapTable, lattice: &Lattice, places: &[Point], values: &[f64], level: f64) -> Vec<Vec<Point>> {
    let mut pieces: Vec<[Point; 2]> = Vec::new();
    for square in lattice.squares() {
        let v = square.map(|row| values[row]);
        let one_mode = square.iter().all(|row| map.mode[*row] == map.mode[square[0]]);
        if !one_mode || v.iter().any(|v| !v.is_finite()) {
            continue;
        }
        let corner = square.map(|row| places[row]);
        let cut: Vec<(usize, Point)> = (0..4)
            .filter(|k| (v[*k] < level) != (v[(k + 1) % 4] < level))
            .map(|k| {
                let n = (k + 1) % 4;
                (k, between(corner[k], corner[n], (level - v[k]) / (v[n] - v[k])))
            })
            .collect();
        match cut.as_slice() {
            [a, b] => pieces.push([a.1, b.1]),
            [a, b, c, d] => {
                // a saddle: the middle belongs to the first corner or not
                let with_first = (v.iter().sum::<f64>() / 4.0 < level) == (v[0] < level);
                let pairs = if with_first { [[a.1, b.1], [c.1, d.1]] } else { [[d.1, a.1], [b.1, c.1]] };
                pieces.extend(pairs);
            }
            _ => {}
        }
    }
    joined(pieces)
}

/// Pieces that share an end become one line.
fn joined(pieces: Vec<[Point; 2]>) -> Vec<Vec<Point>> {
    let key = |p: Point| ((p.0 * 1e4).round() as i64, (p.1 * 1e4).round() as i64);
    let mut at: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (i, piece) in pieces.iter().enumerate() {
        piece.iter().for_each(|p| at.entry(key(*p)).or_default().push(i));
    }
    let mut used = vec![false; pieces.len()];
    let mut lines = Vec::new();
    let ends_first = (0..pieces.len()).filter(|i| pieces[*i].iter().any(|p| at[&key(*p)].len() == 1));
    for start in ends_first.chain(0..pieces.len()).collect::<Vec<_>>() {
        if used[start] {
            continue;
        }
        used[start] = true;
        let [mut a, mut b] = pieces[start];
        if at[&key(b)].len() == 1 {
            std::mem::swap(&mut a, &mut b);
        }
        let mut line = vec![a, b];
        while let Some(&next) = at[&key(line[line.len() - 1])].iter().find(|i| !used[**i]) {
            used[next] = true;
            let end = line[line.len() - 1];
            let [p, q] = pieces[next];
            line.push(if key(p) == key(end) { q } else { p });
        }
        lines.push(line);
    }
    lines
}

/// Round values that a quantity's contours are drawn at: about six.
pub fn levels(values: &[f64]) -> Vec<f64> {
    let finite = || values.iter().copied().filter(|v| v.is_finite());
    let (low, high) = finite().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)));
    if !(low < high) {
        return Vec::new();
    }
    if low > 0.0 && high / low > 6.0 {
        let decades = low.log10().floor() as i32..=high.log10().floor() as i32;
        let many = high / low > 100.0;
        let steps: &[f64] = if many { &[1.0, 3.0] } else { &[1.0, 1.5, 2.0, 3.0, 5.0, 7.0] };
        return decades
            .flat_map(|d| steps.iter().map(move |s| s * 10f64.powi(d)))
            .filter(|v| *v > low && *v < high)
            .collect();
    }
    let step = crate::figures::scale::nice_step((high - low) / 7.0);
    let first = (low / step).floor() as i64 + 1;
    (first..).map(|k| k as f64 * step).take_while(|v| *v < high).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::map::MapKey;

    /// A plane of 3 by 3 cells whose mode changes along x; the border was bisected at 1.2 in the middle row.
    fn table() -> MapTable {
        let (x, y): (Vec<f64>, Vec<f64>) = (0..9).map(|i| (f64::from(i % 3), f64::from(i / 3))).unzip();
        let key = |values: &[f64]| MapKey { key: "a".into(), units: "1".into(), values: values.to_vec() };
        MapTable {
            mode: x.iter().map(|x| Some(if *x < 1.5 { Mode::Dripping } else { Mode::Jetting })).collect(),
            diameter: x.iter().zip(&y).map(|(x, y)| 10.0 + x + 2.0 * y).collect(),
            border: vec![vec![1.2, 1.0]],
            keys: vec![key(&x), key(&y)],
            ..MapTable::default()
        }
    }

    fn places(map: &MapTable) -> Vec<Point> {
        map.keys[0].values.iter().copied().zip(map.keys[1].values.iter().copied()).collect()
    }

    #[test]
    fn tint_and_border_meet_where_it_was_bisected() {
        let map = table();
        let lattice = Lattice::of(&map, (false, false)).unwrap();
        let found = regions(&map, &lattice, &places(&map));
        let ends: Vec<Point> = found.border.iter().flatten().copied().collect();
        assert!(ends.contains(&(1.2, 1.0)) && ends.contains(&(1.5, 0.0)) && ends.contains(&(1.5, 2.0)), "{ends:?}");
        let area = |of: Mode| -> f64 {
            let shoelace = |p: &[Point]| {
                (0..p.len()).map(|i| p[i].0 * p[(i + 1) % p.len()].1 - p[(i + 1) % p.len()].0 * p[i].1).sum::<f64>()
            };
            found.areas.iter().filter(|(m, _)| *m == Some(of)).map(|(_, p)| 0.5 * shoelace(p).abs()).sum()
        };
        // four unit squares; left of the border: mean of 1.5, 1.2 | 1.2, 1.5 over two rows
        assert!((area(Mode::Dripping) - 2.7).abs() < 1e-12 && (area(Mode::Jetting) - 1.3).abs() < 1e-12);
    }

    /// Contours of a linear function are straight and lie where its formula says.
    #[test]
    fn theory_contours_of_a_plane_are_straight() {
        let mut map = table();
        map.mode = vec![Some(Mode::Dripping); 9];
        let lattice = Lattice::of(&map, (false, false)).unwrap();
        let lines = contours(&map, &lattice, &places(&map), &map.diameter, 13.0);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].len() >= 3 && lines[0].iter().all(|(x, y)| (10.0 + x + 2.0 * y - 13.0).abs() < 1e-9));
    }

    #[test]
    fn contours_do_not_cross_from_mode_to_mode() {
        let map = table();
        let lattice = Lattice::of(&map, (false, false)).unwrap();
        for line in contours(&map, &lattice, &places(&map), &map.diameter, 13.0) {
            assert!(line.iter().all(|p| p.0 <= 1.0), "{line:?}");
        }
    }

    #[test]
    fn levels_are_round_and_inside() {
        assert_eq!(levels(&[10.0, 24.0]), [12.0, 14.0, 16.0, 18.0, 20.0, 22.0]);
        assert_eq!(levels(&[1.2, 11.0]), [1.5, 2.0, 3.0, 5.0, 7.0, 10.0]);
        assert!(levels(&[3.0, f64::NAN]).is_empty());
    }
}
