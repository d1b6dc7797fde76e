//! The flow of one liquid through the device of a case, as a table for the thread, and the outline of its glass.

use crate::case::Case;
use crate::stokes::case::device_of;
use crate::stokes::channel::{Channel, Orifice};
use crate::stokes::device::{Device, Panels};
use crate::stokes::streams::Streams;
use crate::thread::fields;
use crate::thread::fields::glass::Glass;
use crate::thread::fields::stream::{Bare, Passage};

/// How fine the table is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Of the glass.
    pub panels: Panels,
    /// Spaces between rows: to the hole's plane, in the hole, in the widening, behind it.
    pub along: [usize; 4],
    /// Spaces between radii.
    pub across: usize,
}

impl Fineness {
    /// For a run.
    pub const RUN: Fineness = Fineness { panels: Panels(0.7), along: [24, 12, 14, 6], across: 16 };
}

/// How far behind the last corner the table goes, in radii of the collection tube: the flow has become a parabola.
const BEHIND: f64 = 1.5;

/// What the fields of a thread need of the device of a case; `None` without an orifice.
pub fn fields(case: &Case) -> Option<fields::Device> {
    let device = device_of(case)?;
    let stream = table(&device, &Fineness::RUN)?;
    let channel = device.channel.as_ref()?;
    let standoff = channel.orifice.map_or(0.0, |o| o.plane);
    Some(fields::Device { glass: Glass::new(outline(channel), channel.radius, standoff), stream })
}

/// The table of a device with an orifice; `None` without one and where its glass is singular.
pub fn table(device: &Device, how: &Fineness) -> Option<Bare> {
    let orifice = device.channel.as_ref()?.orifice?;
    let passage = passage(&orifice);
    let streams = Streams::new(device, how.panels)?;
    let [plane, end, wide] = passage.corners();
    let stops = [0.0, plane, end, wide, wide + BEHIND * orifice.collection];
    let mut rows = Vec::new();
    for (k, many) in how.along.iter().enumerate() {
        let (from, to) = (stops[k], stops[k + 1]);
        if to > from {
            rows.extend((0..=*many).map(|i| from + (to - from) * crowded(i as f64 / *many as f64)));
        }
    }
    let n = how.across as f64;
    let x: Vec<f64> = (0..=how.across).map(|j| (j as f64 / n).powi(2)).collect();
    let mut z = Vec::with_capacity(rows.len() * x.len());
    let mut r = Vec::with_capacity(rows.len() * x.len());
    for row in &rows {
        for x in &x[1..] {
            z.push(*row);
            r.push(passage.area(*row, *x).sqrt());
        }
    }
    let within = streams.within(&z, &r);
    let mut shares = Vec::with_capacity(rows.len() * x.len());
    for row in within.chunks_exact(how.across) {
        shares.push([0.0; 2]);
        shares.extend_from_slice(row);
    }
    Bare::new(passage, rows, x, &shares)
}

/// Crowds towards both ends, half as much as a cubic would.
fn crowded(t: f64) -> f64 {
    0.5 * (t + t * t * (3.0 - 2.0 * t))
}

fn passage(o: &Orifice) -> Passage {
    Passage { standoff: o.plane, radius: o.radius, length: o.length, widening: o.widening, collection: o.collection }
}

/// The glass about the thread, (z, r) over R, from one channel radius behind the tip's plane to the end of the table's reach.
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
mod scratch {
    use super::*;
    use std::time::Instant;
    pub fn device(standoff: f64, edge: f64, length: f64, tip_length: f64) -> Device {
        let o = Orifice { plane: standoff, radius: 0.5, length, widening: 3.0, collection: 2.5, edge };
        Device { ratio: 1.0, bond: 0.0, inner_flow: 1.0, outer_flow: 1.0, stream: 0.0, channel: Some(Channel::with_orifice(4.0, o)), bore: 1.0, outside: 1.5, tip_length }
    }
    #[test]
    fn scratch_times() {
        let d = device(1.5, 0.05, 1.0, 13.0);
        for p in [0.5, 0.7, 1.0, 2.0] {
            let t = Instant::now();
            let s = Streams::new(&d, Panels(p)).unwrap();
            let t1 = t.elapsed();
            let t = Instant::now();
            let b = table(&d, &Fineness { panels: Panels(p), ..Fineness::RUN }).unwrap();
            println!("panels {p} nodes {} solve {t1:?} all {:?} rows {}", s.nodes(), t.elapsed(), b.rows().len());
        }
        let best = Streams::new(&d, Panels(4.0)).unwrap();
        for z in [0.0, 0.03, 0.1, 0.5] {
            for r in [0.3, 0.6, 0.9, 1.0, 1.2f64] {
                let w = best.within(&[z], &[r])[0];
                println!("z {z} r {r}: {w:?} poiseuille {}", 2.0 * r * r - r.powi(4));
            }
        }
        let all = |s: &Streams| {
            let (mut z, mut r) = (Vec::new(), Vec::new());
            for i in 0..120 { for j in 1..40 {
                let zz = i as f64 / 119.0 * 8.0;
                let p = passage(&d.channel.as_ref().unwrap().orifice.unwrap());
                z.push(zz); r.push(p.area(zz, (j as f64 / 40.0).powi(2)).sqrt());
            } }
            let f = s.within(&z, &r); (z, r, f)
        };
        let (z, r, exact) = all(&best);
        for p in [0.5, 0.7, 1.0, 2.0] {
            let (_, _, f) = all(&Streams::new(&d, Panels(p)).unwrap());
            for k in 0..2 {
                let mut w = (0.0, 0);
                for i in 0..f.len() { let e: f64 = (f[i][k] - exact[i][k]).abs(); if e > w.0 { w = (e, i); } }
                println!("elements {p} flow {k}: worst {:.2e} at z {:.3} r {:.3}", w.0, z[w.1], r[w.1]);
            }
        }
        for how in [Fineness { panels: Panels(4.0), ..Fineness::RUN }, Fineness { panels: Panels(4.0), along: [48, 24, 28, 12], across: 16 }, Fineness { panels: Panels(4.0), along: [24, 12, 14, 6], across: 32 }, Fineness { panels: Panels(4.0), along: [48, 24, 28, 12], across: 32 }, Fineness::RUN] {
            let b = table(&d, &how).unwrap();
            for k in 0..2 {
                let mut w = [(0.0, 0); 2];
                for i in 0..exact.len() {
                    let f = b.at(z[i], r[i] * r[i]);
                    let f = if k == 0 { f.inner } else { f.outer };
                    let e: f64 = (f.share - exact[i][k]).abs(); let part = (z[i] > 0.25) as usize; if e > w[part].0 { w[part] = (e, i); }
                }
                for w in w { println!("table {how:?} flow {k}: worst {:.2e} at z {:.3} r {:.3}", w.0, z[w.1], r[w.1]); }
            }
        }
        let b = table(&d, &Fineness::RUN).unwrap();
        let t = Instant::now();
        let mut sum = 0.0;
        for i in 0..1_000_000 { sum += b.at((i % 1000) as f64 * 0.008, 0.2).outer.by_area; }
        println!("at: {:?} each {sum}", t.elapsed() / 1_000_000);
    }
}
