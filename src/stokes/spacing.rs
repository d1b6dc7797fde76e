//! Where the interface wants its nodes, and how they are laid anew.
//!
//! Equation: wanted distance of neighbours h(s) = min(c/max(|k1|, 0.6 |k2|), h_rim + g s, largest), made to change by no more than
//! g a length; the nodes then lie at equal steps of int ds/h.
//!
//! Symbols: s arc length from the rim, k1 and k2 the curvatures, c, h_rim, g the fineness.
//!
//! Source: common practice, no source. A thread's own radius (k2) may be resolved more coarsely than its outline: what grows on
//! it is several radii long.
//!
//! Holds for: any meridian that a run meets.

use super::differences::End;
use super::interface::Interface;
use super::rule::{slope, value};

/// Growth of the distance a length.
const GROWTH: f64 = 0.25;
/// Share of the thread's own curvature that counts.
const THREAD: f64 = 0.42;
/// Fewest nodes.
const FEWEST: usize = 12;
/// Error in spacing above which nodes are laid anew.
const SLACK: f64 = 0.25;

/// How fine the interface is resolved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Distance of nodes over the radius of curvature.
    pub by_curvature: f64,
    /// Distance of nodes at the rim.
    pub at_rim: f64,
}

/// Arc length and wanted distance at the nodes. `room` gives the largest distance wanted at a point.
fn wanted(interface: &Interface, fine: &Fineness, room: &dyn Fn(f64, f64) -> f64) -> (Vec<f64>, Vec<f64>) {
    let s = interface.arc();
    let n = interface.nodes();
    let mut h: Vec<f64> = (0..n)
        .map(|i| {
            let bend = interface.k1[i].abs().max(THREAD * interface.k2[i].abs()).max(1e-9);
            (fine.by_curvature / bend).min(room(interface.z[i], interface.r[i]))
        })
        .collect();
    if interface.ends.0 == End::Pinned {
        for i in 0..n {
            // next to the rim the curvature is the mesh's own: the rim's distance rules there
            if i < 3 {
                h[i] = h[i].max(fine.at_rim);
            }
            h[i] = h[i].min(fine.at_rim + GROWTH * s[i]);
        }
    }
    for i in 1..n {
        h[i] = h[i].min(h[i - 1] + GROWTH * (s[i] - s[i - 1]));
    }
    for i in (0..n - 1).rev() {
        h[i] = h[i].min(h[i + 1] + GROWTH * (s[i + 1] - s[i]));
    }
    (s, h)
}

/// Whether some distance is off what is wanted by more than the slack.
pub fn is_off(interface: &Interface, fine: &Fineness, room: &dyn Fn(f64, f64) -> f64) -> bool {
    let (s, h) = wanted(interface, fine, room);
    let mut ratio: Vec<f64> = (1..s.len()).map(|i| 2.0 * (s[i] - s[i - 1]) / (h[i] + h[i - 1])).collect();
    let (least, most) = ratio.iter().fold((f64::MAX, 0.0f64), |(a, b), x| (a.min(*x), b.max(*x)));
    ratio.sort_by(f64::total_cmp);
    let median = ratio[ratio.len() / 2];
    most > 1.0 + SLACK || least < (1.0 - SLACK) * median.min(1.0)
}

/// The same meridian with its nodes at the wanted distances.
pub fn laid_anew(interface: &Interface, fine: &Fineness, room: &dyn Fn(f64, f64) -> f64) -> Interface {
    let (s, h) = wanted(interface, fine, room);
    let mut index = vec![0.0; s.len()];
    for i in 1..s.len() {
        index[i] = index[i - 1] + (s[i] - s[i - 1]) * 0.5 * (1.0 / h[i] + 1.0 / h[i - 1]);
    }
    let whole = index[s.len() - 1];
    let n = FEWEST.max(whole.ceil() as usize + 1);
    let target = smooth_steps(&s, &h, &index, n);
    place(interface, &s, &target)
}

/// Arc lengths of `n` nodes: log h as a function of the new index is smoothed, so that distances vary smoothly.
fn smooth_steps(s: &[f64], h: &[f64], index: &[f64], n: usize) -> Vec<f64> {
    const OVER: usize = 8;
    let points = OVER * (n - 1) + 1;
    let (last, whole) = (s.len() - 1, index[index.len() - 1]);
    let mut at = 0;
    let mut log: Vec<f64> = (0..points)
        .map(|k| {
            let x = whole * k as f64 / (points - 1) as f64;
            while at + 1 < last && index[at + 1] < x {
                at += 1;
            }
            let t = ((x - index[at]) / (index[at + 1] - index[at])).clamp(0.0, 1.0);
            (1.0 - t) * h[at].ln() + t * h[at + 1].ln()
        })
        .collect();
    // twelve running means over one step: close to a bell of one step's width
    for _ in 0..12 {
        let before = log.clone();
        for k in 0..points {
            let window = (OVER / 2).min(k).min(points - 1 - k);
            log[k] = before[k - window..=k + window].iter().sum::<f64>() / (2 * window + 1) as f64;
        }
    }
    let mut sum = vec![0.0; points];
    for k in 1..points {
        sum[k] = sum[k - 1] + 0.5 * (log[k].exp() + log[k - 1].exp());
    }
    let scale = s[last] / sum[points - 1];
    (0..n).map(|i| scale * sum[i * OVER]).collect()
}

/// Nodes of the old meridian's spline at these arc lengths.
fn place(interface: &Interface, s: &[f64], target: &[f64]) -> Interface {
    let (n, last) = (target.len(), s.len() - 1);
    let (mut z, mut r) = (Vec::with_capacity(n), Vec::with_capacity(n));
    let mut e = 0;
    for (i, want) in target.iter().enumerate() {
        if i == 0 || i + 1 == n {
            let at = if i == 0 { 0 } else { last };
            z.push(interface.z[at]);
            r.push(interface.r[at]);
            continue;
        }
        while e + 1 < last && s[e + 1] < *want {
            e += 1;
        }
        let (zc, rc) = interface.piece(e);
        let mut t = ((want - s[e]) / (s[e + 1] - s[e])).clamp(0.0, 1.0);
        for _ in 0..6 {
            let speed = (slope(&zc, t).powi(2) + slope(&rc, t).powi(2)).sqrt();
            let step = (interface.arc_of_piece(e, t) - (want - s[e])) / speed;
            t = (t - step).clamp(0.0, 1.0);
            if step.abs() < 1e-13 {
                break;
            }
        }
        z.push(value(&zc, t));
        r.push(value(&rc, t));
    }
    Interface::new(z, r, interface.ends)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::FRAC_PI_2;

    #[test]
    fn theory_new_nodes_lie_on_the_old_curve_at_smooth_distances() {
        let angle = |i: usize| FRAC_PI_2 * i as f64 / 29.0;
        let cap = Interface::new(
            (0..30).map(|i| angle(i).sin()).collect(),
            (0..30).map(|i| if i == 29 { 0.0 } else { angle(i).cos() }).collect(),
            (End::Pinned, End::Axis),
        );
        let fine = Fineness { by_curvature: 0.2, at_rim: 0.05 };
        let new = laid_anew(&cap, &fine, &|_, _| f64::MAX);
        for (z, r) in new.z.iter().zip(&new.r) {
            assert!((z.hypot(*r) - 1.0).abs() < 1e-8);
        }
        let s = new.arc();
        let step: Vec<f64> = s.windows(2).map(|w| w[1] - w[0]).collect();
        assert!(step[0] < 0.06 && step.windows(2).all(|w| (w[1] / w[0]).ln().abs() < 0.3), "{step:?}");
        assert!(!is_off(&new, &fine, &|_, _| f64::MAX));
        let volume = new.volume_from(0) / cap.volume_from(0) - 1.0;
        assert!(volume.abs() < 1e-6, "{volume:e}");
    }
}
