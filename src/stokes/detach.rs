//! An interface cut at its neck: what stays and what comes off.
//!
//! Equation: on either side of the neck, `SIDE` neck radii away, an arc of a circle about the axis goes on from the meridian without a kink:
//! radius r_c/t_z, centre z_c + r_c t_r/t_z.
//!
//! Symbols: (t_z, t_r) tangent at the cut.
//!
//! Source: common practice, no source. The caps hold 1e-4 of a drop's volume; the volumes of both parts are then set to what the
//! neck's closing tells.
//!
//! Holds for: necks small against the drops.

use super::differences::End;
use super::interface::Interface;
use super::neck::Neck;

/// Distance of the cuts from the neck in its radii: the caps then stay apart.
const SIDE: f64 = 2.5;
/// Nodes of a cap.
const CAP: usize = 8;
/// Fewest nodes of a part before its cap.
const LEAST: usize = 4;

/// The part behind the neck and the part ahead of it, capped; `None` where one of them has too few nodes.
pub fn cut(now: &Interface, neck: &Neck) -> Option<(Interface, Interface)> {
    let s = now.arc();
    let at = s[neck.node];
    let behind = (0..now.nodes()).rev().find(|i| at - s[*i] >= SIDE * neck.r)?;
    let ahead = (0..now.nodes()).find(|i| s[*i] - at >= SIDE * neck.r)?;
    if behind < LEAST || ahead + LEAST >= now.nodes() {
        return None;
    }
    // the circle that goes on: radius, centre, and the angle from +z to the meridian's point
    let circle = |i: usize| {
        let (tz, tr) = now.tangent[i];
        (tz > 0.2).then(|| (now.r[i] / tz, now.z[i] + now.r[i] * tr / tz, tz.atan2(-tr)))
    };
    let (radius, centre, angle) = circle(behind)?;
    let (mut z, mut r) = (now.z[..=behind].to_vec(), now.r[..=behind].to_vec());
    for k in 1..=CAP {
        let (sin, cos) = (angle * (1.0 - k as f64 / CAP as f64)).sin_cos();
        z.push(centre + radius * cos);
        r.push(if k == CAP { 0.0 } else { radius * sin });
    }
    let rear = Interface::new(z, r, (now.ends.0, End::Axis));
    let (radius, centre, angle) = circle(ahead)?;
    let (mut z, mut r) = (Vec::new(), Vec::new());
    for k in 0..CAP {
        let (sin, cos) = (std::f64::consts::PI + (angle - std::f64::consts::PI) * k as f64 / CAP as f64).sin_cos();
        z.push(centre + radius * cos);
        r.push(if k == 0 { 0.0 } else { radius * sin });
    }
    z.extend_from_slice(&now.z[ahead..]);
    r.extend_from_slice(&now.r[ahead..]);
    Some((rear, Interface::new(z, r, (End::Axis, now.ends.1))))
}

/// A sphere of the same volume about the middle of a closed interface: what a satellite becomes, at once.
pub fn rounded(now: &Interface, volume: f64) -> Interface {
    const NODES: usize = 17;
    let middle = 0.5 * (now.z[0] + now.z[now.nodes() - 1]);
    let radius = (0.75 * volume / std::f64::consts::PI).cbrt();
    let angle = |i: usize| std::f64::consts::PI * i as f64 / (NODES as f64 - 1.0);
    let z = (0..NODES).map(|i| middle - radius * angle(i).cos()).collect();
    let r = (0..NODES).map(|i| if i == 0 || i + 1 == NODES { 0.0 } else { radius * angle(i).sin() }).collect();
    Interface::new(z, r, (End::Axis, End::Axis))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    // r = 0.52 + 0.48 cos(pi z) from the rim to z = 2, then half a sphere: the neck of 0.04 at z = 1; both parts keep their volume.
    #[test]
    fn theory_parts_hold_what_lies_on_their_side() {
        let (mut z, mut r) = (Vec::new(), Vec::new());
        for i in 0..=120 {
            let at = 2.0 * i as f64 / 120.0;
            z.push(at);
            r.push(0.52 + 0.48 * (PI * at).cos());
        }
        for i in 1..30 {
            let a = 0.5 * PI * i as f64 / 29.0;
            z.push(2.0 + a.sin());
            r.push(if i == 29 { 0.0 } else { a.cos() });
        }
        let s = Interface::new(z, r, (End::Pinned, End::Axis));
        let found = super::super::neck::neck(&s).expect("a neck");
        let (rear, front) = cut(&s, &found).expect("two parts");
        assert_eq!((rear.ends, front.ends), ((End::Pinned, End::Axis), (End::Axis, End::Axis)));
        let (before, after) = (rear.volume_from(0), front.volume_from(0));
        assert!((after / found.volume_ahead - 1.0).abs() < 2e-3, "{after} {}", found.volume_ahead);
        assert!(((before + after) / s.volume_from(0) - 1.0).abs() < 2e-3);
        assert!(rear.z[rear.nodes() - 1] < 1.0 && front.z[0] > 1.0, "apart");
    }
}
