//! A run as surfaces over time in VTKHDF, the HDF5 layout that VTK's own readers open (VTK file formats, "VTK HDF",
//! version 2.0, PolyData with time steps).
//!
//! ```text
//! /VTKHDF                    Version, Type = "PolyData"
//!   NumberOfPoints           of each part (one part a time step)
//!   Points                   x, y, z in m; z along the axis, the surface is one of revolution
//!   Polygons/                NumberOfCells, NumberOfConnectivityIds, Offsets, Connectivity; Vertices, Lines, Strips are empty
//!   PointData/               radius (m), velocity (axial, m/s), body (0, 1, ... along the axis), attached (0 or 1)
//!   Steps/                   NSteps, Values (s), and where each step's rows start in the arrays above
//! ```
//! Each body becomes rings of points, one ring a node, joined by quadrilaterals; at a round end the ring shrinks to a point
//! that all its sides share.

use super::netcdf::{number, subgroup, text};
use super::{RecordError, Recorded, replace};
use crate::outcome::{BodyFrame, Frame};
use hdf5::types::FixedAscii;
use hdf5::{Group, H5Type};
use std::f64::consts::PI;
use std::path::Path;

/// Deflate level, as in records; rows of a chunk.
const DEFLATE: u8 = 1;
const CHUNK: usize = 16_384;
/// Kinds of cells of PolyData, in the order of VTK.
const CELLS: [&str; 4] = ["Vertices", "Lines", "Polygons", "Strips"];
/// Which of them is used.
const POLYGONS: usize = 2;

/// Surfaces of all steps, one after the other.
#[derive(Default)]
struct Surfaces {
    /// Of each step: points, polygons, entries of the connectivity.
    steps: Vec<[i64; 3]>,
    times: Vec<f64>,
    points: Vec<f32>,
    radius: Vec<f32>,
    velocity: Vec<f32>,
    body: Vec<i32>,
    attached: Vec<i8>,
    connectivity: Vec<i64>,
    offsets: Vec<i64>,
}

impl Surfaces {
    fn push(&mut self, frame: &Frame, sides: usize) {
        let points_before = self.radius.len();
        let (mut polygons, mut entries) = (0, 0);
        self.offsets.push(0);
        for (number, body) in frame.bodies.iter().enumerate().filter(|(_, b)| b.z.len() > 1) {
            let first = self.radius.len() - points_before;
            let rings = self.rings(number, body, sides);
            for quad in quads(&rings, first) {
                polygons += 1;
                entries += quad.len() as i64;
                self.connectivity.extend(quad);
                self.offsets.push(entries);
            }
        }
        self.steps.push([(self.radius.len() - points_before) as i64, polygons, entries]);
        self.times.push(frame.time);
    }

    /// The points of a body; of each ring how many there are.
    fn rings(&mut self, number: usize, body: &BodyFrame, sides: usize) -> Vec<usize> {
        let mut rings = Vec::with_capacity(body.z.len());
        for ((z, h), u) in body.z.iter().zip(&body.h).zip(&body.u) {
            let points = if *h == 0.0 { 1 } else { sides };
            for k in 0..points {
                let angle = 2.0 * PI * k as f64 / sides as f64;
                self.points.extend([(h * angle.cos()) as f32, (h * angle.sin()) as f32, *z as f32]);
                self.radius.push(*h as f32);
                self.velocity.push(*u as f32);
                self.body.push(number as i32);
                self.attached.push(i8::from(body.attached));
            }
            rings.push(points);
        }
        rings
    }
}

/// Polygons between neighbouring rings, outside up.
fn quads(rings: &[usize], first: usize) -> Vec<Vec<i64>> {
    let mut list = Vec::new();
    let mut start = first;
    for pair in rings.windows(2) {
        let (a, b) = (start, start + pair[0]);
        let of = |ring: usize, points: usize, k: usize| (ring + if points == 1 { 0 } else { k % points }) as i64;
        for k in 0..pair[0].max(pair[1]) {
            let corners = [of(a, pair[0], k), of(a, pair[0], k + 1), of(b, pair[1], k + 1), of(b, pair[1], k)];
            let mut polygon: Vec<i64> = corners.to_vec();
            polygon.dedup();
            if polygon.len() > 1 && polygon[0] == polygon[polygon.len() - 1] {
                polygon.pop();
            }
            if polygon.len() > 2 {
                list.push(polygon);
            }
        }
        start = b;
    }
    list
}

/// Writes the snapshots of a run as surfaces with so many sides around the axis.
///
/// # Errors
/// Where the record holds no snapshots, or the file cannot be written.
pub fn write(target: &Path, run: &Recorded, sides: usize) -> Result<(), RecordError> {
    if run.frames.is_empty() {
        let reason = "the record holds no snapshots to export; set [run] frames and run again".to_owned();
        return Err(RecordError::Unwritable { path: target.into(), reason });
    }
    let mut all = Surfaces::default();
    run.frames.iter().for_each(|frame| all.push(frame, sides));
    let refused = |cause: hdf5::Error| RecordError::hdf5(target, "compose it", cause);
    replace::hdf5_file(target, &crate::files::folder_of(target), |file| fill(file, &all, run).map_err(refused))
}

fn fill(file: &hdf5::File, all: &Surfaces, run: &Recorded) -> hdf5::Result<()> {
    let root = subgroup(file, "VTKHDF")?;
    root.new_attr_builder().with_data(&[2_i64, 0]).create("Version")?;
    // eight bytes without a NUL, as VTK compares them
    let kind = FixedAscii::<8>::from_ascii("PolyData").map_err(|e| hdf5::Error::from(e.to_string()))?;
    number(&root, "Type", kind)?;
    text(&root, "title", &run.summary.title)?;
    text(&root, "source", "slenderjet: one-dimensional long-wave simulation of drop formation, not a measurement")?;
    text(&root, "case_sha256", &run.summary.provenance.case_sha256)?;
    list(&root, "NumberOfPoints", &column(all, 0))?;
    table(&root, "Points", &all.points, 3)?;
    for (kind, name) in CELLS.iter().enumerate() {
        let group = subgroup(&root, name)?;
        let steps = all.steps.len();
        if kind == POLYGONS {
            list(&group, "NumberOfCells", &column(all, 1))?;
            list(&group, "NumberOfConnectivityIds", &column(all, 2))?;
            list(&group, "Offsets", &all.offsets)?;
            list(&group, "Connectivity", &all.connectivity)?;
        } else {
            list(&group, "NumberOfCells", &vec![0_i64; steps])?;
            list(&group, "NumberOfConnectivityIds", &vec![0_i64; steps])?;
            list(&group, "Offsets", &vec![0_i64; steps])?;
            list::<i64>(&group, "Connectivity", &[])?;
        }
    }
    let data = subgroup(&root, "PointData")?;
    list(&data, "radius", &all.radius)?;
    list(&data, "velocity", &all.velocity)?;
    list(&data, "body", &all.body)?;
    list(&data, "attached", &all.attached)?;
    steps(&subgroup(&root, "Steps")?, all)
}

fn steps(group: &Group, all: &Surfaces) -> hdf5::Result<()> {
    let n = all.steps.len();
    number(group, "NSteps", n as i64)?;
    list(group, "Values", &all.times)?;
    list(group, "PartOffsets", &(0..n as i64).collect::<Vec<_>>())?;
    list(group, "NumberOfParts", &vec![1_i64; n])?;
    let points = starts(&column(all, 0));
    list(group, "PointOffsets", &points)?;
    let of_polygons = |starts: &[i64]| -> Vec<i64> {
        starts.iter().flat_map(|s| (0..CELLS.len()).map(move |kind| if kind == POLYGONS { *s } else { 0 })).collect()
    };
    table(group, "CellOffsets", &of_polygons(&starts(&column(all, 1))), CELLS.len())?;
    table(group, "ConnectivityIdOffsets", &of_polygons(&starts(&column(all, 2))), CELLS.len())?;
    let data = subgroup(group, "PointDataOffsets")?;
    ["radius", "velocity", "body", "attached"].iter().try_for_each(|name| list(&data, name, &points))
}

fn column(all: &Surfaces, of: usize) -> Vec<i64> {
    all.steps.iter().map(|s| s[of]).collect()
}

/// Where each step's rows start.
fn starts(counts: &[i64]) -> Vec<i64> {
    counts
        .iter()
        .scan(0, |sum, n| {
            let start = *sum;
            *sum += n;
            Some(start)
        })
        .collect()
}

fn list<T: H5Type>(group: &Group, name: &str, values: &[T]) -> hdf5::Result<()> {
    put(group, name, values, &[values.len()])
}

fn table<T: H5Type>(group: &Group, name: &str, values: &[T], columns: usize) -> hdf5::Result<()> {
    put(group, name, values, &[values.len() / columns, columns])
}

fn put<T: H5Type>(group: &Group, name: &str, values: &[T], shape: &[usize]) -> hdf5::Result<()> {
    let builder = group.new_dataset::<T>();
    let data = if shape[0] == 0 {
        builder.shape(shape).obj_track_times(false).create(name)?
    } else {
        let mut chunk = shape.to_vec();
        chunk[0] = chunk[0].min(CHUNK);
        builder.shape(shape).chunk(chunk).shuffle().deflate(DEFLATE).obj_track_times(false).create(name)?
    };
    if values.is_empty() { Ok(()) } else { data.write_raw(values) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The surface of a ball of few rings is closed: every edge belongs to two polygons.
    #[test]
    fn a_drop_is_a_closed_surface() {
        let angle = |k: usize| PI * k as f64 / 12.0;
        let body = BodyFrame {
            attached: false,
            z: (0..=12).map(|k| -angle(k).cos()).collect(),
            h: (0..=12).map(|k| if k % 12 == 0 { 0.0 } else { angle(k).sin() }).collect(),
            u: vec![0.0; 13],
        };
        let mut all = Surfaces::default();
        all.push(&Frame { bodies: vec![body], ..Frame::default() }, 8);
        assert_eq!(all.steps, [[2 + 11 * 8, 12 * 8, (2 * 3 + 10 * 4) * 8]]);
        let mut edges = std::collections::BTreeMap::new();
        for w in all.offsets.windows(2) {
            let polygon = &all.connectivity[w[0] as usize..w[1] as usize];
            for (i, a) in polygon.iter().enumerate() {
                let b = polygon[(i + 1) % polygon.len()];
                *edges.entry((*a.min(&b), *a.max(&b))).or_insert(0) += if *a < b { 1 } else { -1 };
            }
        }
        // each edge is walked once in either direction: closed, and with one side out
        assert!(edges.values().all(|n| *n == 0));
    }
}
