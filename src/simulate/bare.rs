//! The flow of one liquid through the device of a case, as a table for the thread, and the outline of its glass.

use crate::case::Case;
use crate::math::Pinned as _;
use crate::stokes::case::device_of;
use crate::stokes::channel::Channel;
use crate::stokes::device::{Device, Panels};
use crate::stokes::streams::Streams;
use crate::thread::fields;
use crate::thread::fields::glass::Glass;
use crate::thread::fields::stream::{Bare, Frame, Passage};

/// How fine the table is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Of the glass.
    pub panels: Panels,
    /// Spaces between rows: to the hole's plane, in the hole, in the widening, behind it.
    pub along: [usize; 4],
    /// Spaces between radii.
    pub across: usize,
    /// Spaces between rows and between radii in a tube without a hole.
    pub behind_tip: [usize; 2],
}

impl Fineness {
    /// For a run.
    pub const RUN: Fineness =
        Fineness { panels: Panels(0.7), along: [24, 12, 20, 6], across: 20, behind_tip: [48, 48] };
}

/// How far behind the last corner the table goes, in radii of the collection tube: the flow has become a parabola.
const BEHIND: f64 = 1.5;
/// How far behind a tip in a tube without a hole, in radii of the tube.
const BEHIND_TIP: f64 = 2.0;

/// Distance from the tip's plane from which on such rows stand apart like their distance.
const NEAR_TIP: f64 = 0.3;
/// Share x that stands for the axis where the table has a ratio of two flows that vanish there.
const ON_AXIS: f64 = 1e-6;

/// Greatest share x at the tip that a place of the table is laid on: in a channel hardly wider than the tip.
const WIDEST: f64 = 0.9;

/// What the fields of a thread need of the device of a case; `None` without a channel.
pub fn fields(case: &Case) -> Option<fields::Device> {
    let device = device_of(case)?;
    let stream = table(&device, &Fineness::RUN)?;
    let channel = device.channel.as_ref()?;
    let glass = match channel.orifice {
        Some(orifice) => Glass::new(outline(channel), channel.radius, orifice.plane),
        None => Glass::tube(channel.radius, device.outside),
    };
    Some(fields::Device { glass, stream })
}

/// The table of a device with a channel; `None` without one and where its glass is singular.
pub fn table(device: &Device, how: &Fineness) -> Option<Bare> {
    let frame = frame(device)?;
    let streams = Streams::new(device, how.panels)?;
    let rows = rows(device.channel.as_ref()?, &frame, how);
    let tube = matches!(frame, Frame::Tube { .. });
    let across = if tube { how.behind_tip[1] } else { how.across };
    let x = shares(frame.place(0.0, 1.0).min(WIDEST), across);
    let axis = tube.then_some(ON_AXIS);
    let columns: Vec<f64> = axis.iter().chain(&x[1..]).copied().collect();
    let mut z = Vec::with_capacity(rows.len() * columns.len());
    let mut r = Vec::with_capacity(rows.len() * columns.len());
    for row in &rows {
        for x in &columns {
            z.push(*row);
            r.push(frame.area(*row, *x).sqrt());
        }
    }
    let mut within = streams.within(&z, &r);
    within.iter_mut().zip(&r).for_each(|([_, outer], r)| *outer /= frame.whole(r * r).0);
    let mut shares = Vec::with_capacity(rows.len() * x.len());
    for row in within.chunks_exact(columns.len()) {
        let (axis, others) = row.split_at(columns.len() - across);
        shares.push([0.0, axis.first().map_or(0.0, |axis| axis[1])]);
        shares.extend_from_slice(others);
    }
    Bare::new(frame, rows, x, &shares)
}

/// Places of the table's rows.
fn rows(channel: &Channel, frame: &Frame, how: &Fineness) -> Vec<f64> {
    let Some([plane, end, wide]) = frame.corners() else {
        let whole: f64 = (1.0 + BEHIND_TIP * channel.radius / NEAR_TIP).logarithm();
        let at = |i: usize| NEAR_TIP * ((whole * i as f64 / how.behind_tip[0] as f64).exponential() - 1.0);
        return (0..=how.behind_tip[0]).map(at).collect();
    };
    let stops: [f64; 5] = [0.0, plane, end, wide, wide + BEHIND * channel.end_radius()];
    let mut rows = Vec::new();
    for (k, many) in how.along.iter().enumerate() {
        let (from, to) = (stops[k], stops[k + 1]);
        if to > from {
            rows.extend((0..*many).map(|i| from + (to - from) * crowded(i as f64 / *many as f64)));
            rows.push(to);
        }
    }
    rows
}

/// Crowds towards both ends.
fn crowded(t: f64) -> f64 {
    t * t * (3.0 - 2.0 * t)
}

/// Shares x that crowd towards the axis like squares of radii, one of them at the tip's pinned radius, where the flow
/// has an edge.
fn shares(rim: f64, spaces: usize) -> Vec<f64> {
    let n = spaces as f64;
    let at = (n * rim.sqrt()).round().clamp(1.0, n - 1.0);
    let power = rim.logarithm() / (at / n).logarithm();
    let mut x: Vec<f64> = (0..spaces).map(|j| (j as f64 / n).power(power)).collect();
    x.push(1.0);
    x
}

fn frame(device: &Device) -> Option<Frame> {
    let channel = device.channel.as_ref()?;
    let Some(o) = channel.orifice else { return Frame::tube(channel.radius) };
    Frame::hole(Passage {
        standoff: o.plane,
        radius: o.radius,
        length: o.length,
        widening: o.widening,
        collection: o.collection,
        channel: channel.radius,
    })
}

/// The glass about the thread, (z, r) over R, from one channel radius behind the tip's plane to the end of the table's
/// reach.
pub fn outline(channel: &Channel) -> Vec<[f64; 2]> {
    let to = channel.last_corner() + 3.0 * channel.end_radius();
    let mut corners: Vec<[f64; 2]> = Vec::new();
    for (z, r) in channel.outline(-channel.radius, to) {
        if corners.last() != Some(&[z, r]) {
            corners.push([z, r]);
        }
    }
    corners
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};
    use crate::stokes::case::device_of;
    use crate::stokes::channel::Orifice;
    use std::f64::consts::PI;

    /// Rows device-1 and orifice-24 of the reference table.
    fn device(standoff: f64, length: f64) -> Device {
        let orifice = Orifice { plane: standoff, radius: 0.5, length, widening: 3.0, collection: 2.5, edge: 0.05 };
        Device {
            ratio: 1.0,
            bond: 0.0,
            inner_flow: 1.0,
            outer_flow: 1.0,
            stream: 0.0,
            channel: Some(Channel::with_orifice(4.0, orifice)),
            bore: 1.0,
            outside: 1.5,
            tip_length: 13.0,
        }
    }

    fn of_run(device: &Device) -> Bare {
        table(device, &Fineness::RUN).expect("a table")
    }

    // Poiseuille flow, F = 2 x - x^2: in the middle of a hole two diameters long and at the end of the table.
    #[test]
    fn theory_in_a_long_hole_the_stream_is_a_parabola() {
        let bare = of_run(&device(1.5, 2.0));
        for (z, glass) in [(2.5, 0.5), (1e3, 2.5f64)] {
            for x in [0.01, 0.1, 0.3, 0.6, 0.9, 1.0] {
                let square = glass * glass;
                let f = bare.at(z, x * square).of(0.4, 0.6);
                assert!((f.share - x * (2.0 - x)).abs() < 3e-3, "{z} {x}: {f:?}");
                assert!((f.by_area * square - 2.0 * (1.0 - x)).abs() < 0.03, "{z} {x}: {f:?}");
            }
        }
    }

    // At the tip's edge all of the inner flow and nothing of the outer one is within. The velocity rises there like the
    // root of the distance, which no cubic follows: its zero at the edge is met to a tenth of that on the axis (2).
    #[test]
    fn theory_the_table_begins_with_the_flows_at_the_tips_edge() {
        for standoff in [1.5, 3.0] {
            let rim = of_run(&device(standoff, 1.0)).at(0.0, 1.0);
            assert!((rim.inner.share - 1.0).abs() < 1e-3 && rim.outer.share.abs() < 1e-3, "{rim:?}");
            assert!(rim.inner.by_area.abs() < 0.2 && rim.outer.by_area.abs() < 0.2, "{rim:?}");
        }
    }

    // Against the elements themselves, twice as fine, between the table's places: shares of the flow of both.
    #[test]
    fn theory_the_table_is_as_exact_as_it_says() {
        for device in [device(1.5, 1.0), device(3.0, 1.0)] {
            let bare = of_run(&device);
            let fine = Streams::new(&device, Panels(2.0 * Fineness::RUN.panels.0)).expect("regular");
            let frame = frame(&device).expect("a hole");
            let (mut z, mut r) = (Vec::new(), Vec::new());
            for i in 0..61 {
                for j in 1..12 {
                    let place = 9.0 * i as f64 / 60.0;
                    z.push(place);
                    r.push(frame.area(place, (j as f64 / 12.0).powi(2)).sqrt());
                }
            }
            let mut worst = [0.0f64; 2];
            for ((z, r), [inner, outer]) in z.iter().zip(&r).zip(fine.within(&z, &r)) {
                let off = (bare.at(*z, r * r).of(0.3, 0.7).share - 0.3 * inner - 0.7 * outer).abs();
                let far = usize::from(*r > 1.8);
                worst[far] = worst[far].max(off);
            }
            println!("within 1.8 R {:.1e}, beyond {:.1e}", worst[0], worst[1]);
            assert!(worst[0] < 3e-3 && worst[1] < 6e-3, "{worst:?}");
        }
    }

    // Another program, other elements (`validation/reference/slender/bare.py`, `Bare.share`): rows device-1 and
    // orifice-24, of the whole flow.
    #[test]
    fn reference_shares_of_the_python_program() {
        // (tip to plane, inner share of the flow, z, a, share); the Python table, whose spline runs through the
        // corners of the glass, is off by up to 0.016 on them, and its whole flow by 0.003
        let rows = [
            (3.0, 0.230769, 0.1, 0.810000, 0.21054),
            (3.0, 0.230769, 0.1, 2.073600, 0.23603),
            (3.0, 0.230769, 1.0, 0.810000, 0.23060),
            (3.0, 0.230769, 1.0, 2.073600, 0.41855),
            (3.0, 0.230769, 2.7, 0.224439, 0.63245),
            (3.0, 0.230769, 2.7, 0.574564, 0.89683),
            (3.0, 0.230769, 3.7, 0.061877, 0.43363),
            (3.0, 0.230769, 3.7, 0.158404, 0.86809),
            (3.0, 0.230769, 6.5, 1.161904, 0.53253),
            (3.0, 0.230769, 6.5, 2.974475, 0.91904),
            (1.5, 0.307692, 0.1, 0.810000, 0.30226),
            (1.5, 0.307692, 0.1, 2.073600, 0.32297),
            (1.5, 0.307692, 0.6, 0.810000, 0.50146),
            (1.5, 0.307692, 0.6, 2.073600, 0.60803),
            (1.5, 0.307692, 1.2, 0.224439, 0.62836),
            (1.5, 0.307692, 1.2, 0.574564, 0.88567),
            (1.5, 0.307692, 1.8, 0.061877, 0.43280),
            (1.5, 0.307692, 1.8, 0.158404, 0.86794),
            (1.5, 0.307692, 3.5, 0.336884, 0.52510),
            (1.5, 0.307692, 3.5, 0.862422, 0.91396),
            (1.5, 0.307692, 6.5, 1.546914, 0.45844),
            (1.5, 0.307692, 6.5, 3.960100, 0.87868),
        ];
        let tables = [1.5, 3.0].map(|standoff| (standoff, of_run(&device(standoff, 1.0))));
        for (standoff, inner, z, a, share) in rows {
            let bare = &tables.iter().find(|(s, _)| *s == standoff).expect("its table").1;
            let ours = bare.at(z, a).of(inner, 1.0 - inner).share;
            println!("{standoff}, z {z}, r {:.2}: {ours:.4} {:+.4}", a.sqrt(), ours - share);
            assert!((ours - share).abs() < 5e-3, "{standoff}, z {z}, a {a}: {ours} {share}");
        }
    }

    /// A tip in a tube without an orifice.
    fn tube(wall: f64, outside: f64) -> Device {
        let tip_length = crate::stokes::device::long_tip(Some(wall));
        Device { channel: Some(Channel::tube(wall)), outside, tip_length, ..device(1.5, 1.0) }
    }

    // Against the elements themselves, twice as fine: the inner flow's share and the outer flow's over that of a parabola, to 1.5 radii of the tip
    // and as far from the axis as from the tip. Two tube radii on both are parabolas, F = 2 x - x^2.
    #[test]
    fn theory_behind_a_tip_in_a_tube_the_table_is_as_exact_as_it_says() {
        for (wall, outside) in [(3.0, 1.0), (10.0, 1.0), (57.75, 1.0), (10.0, 2.0)] {
            let device = tube(wall, outside);
            let bare = of_run(&device);
            let fine = Streams::new(&device, Panels(2.0 * Fineness::RUN.panels.0)).expect("regular");
            let (mut z, mut r) = (Vec::new(), Vec::new());
            for i in 0..41 {
                for j in 1..16 {
                    let place = 0.05 * (1.0 + 40.0 * wall).powf(f64::from(i) / 40.0) - 0.05;
                    z.push(place);
                    r.push(f64::from(j) / 15.0 * (1.5 + place).min(0.99 * wall));
                }
            }
            for ((z, r), [inner, outer]) in z.iter().zip(&r).zip(fine.within(&z, &r)) {
                let x = (r / wall).powi(2);
                let (whole, ours) = (x * (2.0 - x), bare.at(*z, r * r));
                let off = (ours.inner.share - inner).abs().max((ours.outer.share - outer).abs() / whole);
                assert!(off < 3e-3, "{wall} {outside}: {z} {r}: {off:e}");
            }
            for x in [0.01, 0.3, 0.9, 1.0] {
                let end = bare.at(1e3, x * wall * wall);
                for share in [end.inner.share, end.outer.share] {
                    assert!((share - x * (2.0 - x)).abs() < 3e-3, "{wall} {x}: {end:?}");
                }
            }
            let rim = bare.at(0.0, 1.0);
            assert!((rim.inner.share - 1.0).abs() < 1e-3 && rim.outer.share.abs() < 1e-3, "{rim:?}");
        }
    }

    // Another program, other elements (`validation/reference/results/stream_behind_tip.csv`): velocity on the axis over that of the parabola.
    #[test]
    fn reference_the_stream_on_the_axis_behind_a_tip_in_a_tube() {
        for (wall, axis) in [
            (57.75, [(0.5, 0.03557), (1.0, 0.15479), (2.0, 0.36622), (4.0, 0.58585), (8.0, 0.76202), (20.0, 0.92114)]),
            (10.0, [(0.5, 0.05370), (1.0, 0.23052), (2.0, 0.53476), (4.0, 0.81693), (8.0, 0.96830), (20.0, 0.99999)]),
        ] {
            let bare = of_run(&tube(wall, 1.0));
            for (z, velocity) in axis {
                let ours = 0.5 * wall * wall * bare.at(z, 0.0).outer.by_area;
                assert!((ours - velocity).abs() < 5e-4, "{wall} {z}: {ours} {velocity}");
            }
        }
    }

    // Boundary elements (`tests/data/first_principles/held_drop.csv`, aspect 1, gap 0.1, equal viscosities): pull over 6 pi mu R U on a sphere that
    // is held behind the tip, here on one that hangs on it: half a radius nearer at most, so a little less. No ray crosses another.
    #[test]
    fn reference_pulls_on_wide_drops_at_a_tip() {
        for (wall, radius, held) in
            [(10.0, 5.0f64, 14.7568), (20.0, 5.0, 6.40873), (20.0, 8.0, 16.6002), (57.75, 8.0, 7.8344)]
        {
            let device = tube(wall, 1.0);
            let fields = fields::Device { glass: Glass::tube(wall, 1.0), stream: of_run(&device) };
            let (centre, n) = ((radius * radius - 1.0).sqrt(), 160);
            let from = (-centre / radius).acos();
            let mut z: Vec<f64> =
                (0..=n).map(|i| centre + radius * (from * (1.0 - f64::from(i) / f64::from(n))).cos()).collect();
            z[0] = 0.0;
            let within = |z: f64| PI * (radius * radius * z - (z - centre).powi(3) / 3.0);
            let v: Vec<f64> = z.windows(2).map(|z| within(z[1]) - within(z[0])).collect();
            let (mut found, rest, mut force) = (fields::Fields::default(), vec![0.0; z.len()], vec![0.0; z.len()]);
            let liquids = fields::Liquids { flows: [0.0, 0.5 * PI * wall * wall], viscosities: [1.0, 1.0] };
            found.begin(&fields, &liquids, (&z, &v), 0).expect("a thread");
            found.settle(&rest);
            found.add_forces(&rest, &mut force);
            let ours = force.iter().sum::<f64>() / (6.0 * PI);
            println!("{wall} {radius}: {ours} {held}");
            assert!(ours / held > 0.9 && ours / held < 1.01, "{wall} {radius}: {ours} {held}");
        }
    }

    // From a case: the table, and glass from a channel's radius behind the tip's plane through the plate and the hole
    // to the collection tube.
    #[test]
    fn cases_in_a_channel_have_a_table_and_others_none() {
        let case = |name: &str| parse(examples::find(name).expect("an example").text, name).expect("a case");
        let device = device_of(&case("counterflow")).expect("a device");
        let channel = device.channel.as_ref().expect("glass");
        let orifice = channel.orifice.expect("an orifice");
        assert!(table(&device, &Fineness::RUN).is_some());
        let corners = outline(channel);
        assert_eq!(corners[0], [-channel.radius, channel.radius]);
        assert_eq!(corners[1], [orifice.plane, channel.radius]);
        assert_eq!(corners.last().map(|c| c[1]), Some(orifice.collection));
        assert!(corners.windows(2).all(|w| w[0] != w[1] && w[0][0] <= w[1][0]), "{corners:?}");
        assert!(corners.iter().any(|c| (c[1] - orifice.radius).abs() < 1e-12), "{corners:?}");
        let tube = fields(&case("coflow")).expect("a table");
        assert!(tube.glass.is_from_tip() && tube.glass.is_sound());
        let open = Device { channel: None, ..device };
        assert!(table(&open, &Fineness::RUN).is_none());
    }
}
