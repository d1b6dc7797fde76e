//! The neck of a drop and its radius carried to zero.
//!
//! Equation: at the neck dr/dxi = 0 on the spline; what follows from a closing neck (volume ahead, place, time) is linear in its
//! radius in the last viscous stage and is carried to zero by a straight line through its last halving.
//!
//! Symbols: xi index along the nodes.
//!
//! Source: linear thinning of viscous necks: Lister & Stone, Phys. Fluids 10 (1998) 2758; Papageorgiou, Phys. Fluids 7 (1995)
//! 1529 (both recalled).
//!
//! Holds for: necks that thin linearly, as all do without inertia.

use super::interface::Interface;
use super::rule::{bend, slope, value};

/// How much wider the part ahead of a neck has to be.
const BULGE: f64 = 1.02;

/// The narrowest place with something wider ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neck {
    /// Node next to it.
    pub node: usize,
    pub z: f64,
    pub r: f64,
    /// Volume between it and the drop's end.
    pub volume_ahead: f64,
}

/// The neck, if there is one.
pub fn neck(interface: &Interface) -> Option<Neck> {
    let r = &interface.r;
    let n = r.len();
    let mut ahead = 0.0f64;
    let mut least: Option<usize> = None;
    for i in (1..n - 1).rev() {
        ahead = ahead.max(r[i + 1]);
        if i + 3 < n && r[i] <= r[i - 1] && r[i] < r[i + 1] && ahead > BULGE * r[i] && least.is_none_or(|j| r[i] < r[j])
        {
            least = Some(i);
        }
    }
    least.map(|node| exactly(interface, node))
}

fn exactly(interface: &Interface, node: usize) -> Neck {
    let last = interface.nodes() - 2;
    let mut x = node as f64;
    for _ in 0..20 {
        let e = (x.floor().max(0.0) as usize).min(last);
        let (_, rc) = interface.piece(e);
        let t = x - e as f64;
        let curve = bend(&rc, t);
        if !(curve > 0.0) {
            break;
        }
        let step = (-slope(&rc, t) / curve).clamp(-0.5, 0.5);
        x = (x + step).clamp(node as f64 - 1.0, node as f64 + 1.0);
        if step.abs() < 1e-11 {
            break;
        }
    }
    let e = (x.floor().max(0.0) as usize).min(last);
    let (zc, rc) = interface.piece(e);
    let t = x - e as f64;
    Neck {
        node,
        z: value(&zc, t),
        r: value(&rc, t),
        volume_ahead: interface.volume_of_piece(e, t, 1.0) + interface.volume_from(e + 1),
    }
}

/// One instant of a closing neck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Closing {
    pub time: f64,
    pub neck: Neck,
    /// Place of the drop's end.
    pub end: f64,
}

/// The instant at which the neck's radius is zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pinch {
    pub time: f64,
    pub z: f64,
    pub volume: f64,
    pub end: f64,
    /// Speed at which the neck closed.
    pub speed: f64,
}

/// Carries the last stretch, in which the radius halves, to zero radius; `None` without three instants.
pub fn pinch(closing: &[Closing]) -> Option<Pinch> {
    let last = closing.last()?;
    let from = closing.iter().rposition(|c| c.neck.r > 2.2 * last.neck.r).map_or(0, |i| i + 1);
    let stretch = &closing[from.min(closing.len().saturating_sub(4))..];
    if stretch.len() < 3 {
        return None;
    }
    let (time, slope) = at_zero(stretch, |c| c.time);
    Some(Pinch {
        time,
        z: at_zero(stretch, |c| c.neck.z).0,
        volume: at_zero(stretch, |c| c.neck.volume_ahead).0,
        end: at_zero(stretch, |c| c.end).0,
        speed: -1.0 / slope,
    })
}

/// Least-squares line in the neck's radius: its value at zero and its slope.
fn at_zero(stretch: &[Closing], y: impl Fn(&Closing) -> f64) -> (f64, f64) {
    let n = stretch.len() as f64;
    let mean_r = stretch.iter().map(|c| c.neck.r).sum::<f64>() / n;
    let mean_y = stretch.iter().map(&y).sum::<f64>() / n;
    let (mut top, mut below) = (0.0, 0.0);
    for c in stretch {
        top += (c.neck.r - mean_r) * (y(c) - mean_y);
        below += (c.neck.r - mean_r).powi(2);
    }
    let slope = top / below;
    (mean_y - slope * mean_r, slope)
}

#[cfg(test)]
mod tests {
    use super::super::differences::End;
    use super::*;

    // r = 0.6 + 0.4 cos(pi z) - 0.05 z from a rim of 1 to z = 2: a neck where 0.4 pi sin(pi z) = -0.05, then closed by an arc.
    #[test]
    fn theory_neck_of_a_known_meridian() {
        let outline = |z: f64| 0.6 + 0.4 * (std::f64::consts::PI * z).cos();
        let (mut z, mut r) = (Vec::new(), Vec::new());
        for i in 0..60 {
            let at = 2.0 * i as f64 / 59.0;
            z.push(at);
            r.push(outline(at));
        }
        for i in 1..40 {
            let a = std::f64::consts::FRAC_PI_2 * i as f64 / 39.0;
            z.push(2.0 + a.sin());
            r.push(if i == 39 { 0.0 } else { a.cos() });
        }
        let s = Interface::new(z, r, (End::Pinned, End::Axis));
        let found = neck(&s).expect("a neck");
        assert!((found.z - 1.0).abs() < 1e-5 && (found.r - 0.2).abs() < 1e-6, "{found:?}");
        // pi int_1^2 (0.6 + 0.4 cos)^2 dz + half a sphere
        let exact = std::f64::consts::PI * (0.36 + 0.08 + 2.0 / 3.0);
        assert!((found.volume_ahead / exact - 1.0).abs() < 1e-4, "{}", found.volume_ahead / exact);
    }

    #[test]
    fn theory_a_linear_closing_is_carried_to_its_end() {
        let closing: Vec<Closing> = (0..20)
            .map(|i| {
                let r = 0.5 * 0.86f64.powi(i);
                let neck = Neck { node: 0, z: 3.0 + 2.0 * r, r, volume_ahead: 7.0 - r };
                Closing { time: 9.0 - r / 0.03, neck, end: 5.0 }
            })
            .collect();
        let p = pinch(&closing).expect("a pinch");
        assert!((p.time - 9.0).abs() < 1e-9 && (p.z - 3.0).abs() < 1e-9 && (p.volume - 7.0).abs() < 1e-9);
        assert!((p.speed - 0.03).abs() < 1e-9);
    }
}
