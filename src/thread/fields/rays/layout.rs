//! Where the rays of a thread stand and where on the glass they end.
//!
//! Equation: rays stand on the thread's meridian by the density e^(m), m the mean of -ln(1/10 + b/2) about each place
//! along the meridian (a Gaussian of a twentieth of its length), b the least of the distance of the nearest glass, of
//! the envelope, max over z' of h(z') - |z - z'|/2, and (but where the chain of the glass begins at the outside of the
//! tip) of 1/20 + s, for at the tip the flow turns round an edge. A ray ends at the mean place x of what its point faces, along
//! the glass and its image beyond the axis,
//!   sum x w / sum w,   w = (max(cos, 0) + 1/50)^2/d^4,
//! d the distance of a point of the glass and cos that of its direction to the normal, in order, evened six times; by
//! the tip they go back along it, (1 - k) x, k = exp(-(s/0.3)^2), which is their bend too (four fifths of it where the chain of the glass
//! begins at the outside of the tip; what lies beyond the axis behind its plane is hidden then).
//! Symbols: s the way along the meridian, h its radius; lengths in R.
//! Source: own, no number fitted: any rays that do not cross give a bound of the dissipation, good ones a close one.
//! Holds for: threads from a tip to a pole.

use super::super::glass::{Glass, Outline};
use super::MOST;
use super::operator::Lines;
use super::splines::{LANES, Side, evaluate, interval, slopes};
use crate::math::{exponential_in_line, logarithm_in_line};
use multiversion::multiversion;

/// Places along the meridian at which density and envelope are looked at.
const PLACES: usize = 160;
/// Points of the glass that rays look at.
const POINTS: usize = 32 * LANES;
/// Fewest intervals between rays, and by how many more at once.
const FEWEST: f64 = 28.0;
const AT_ONCE: f64 = 4.0;
/// As many rays as there were stay as long as more than this share of them are needed.
const KEPT: f64 = 0.7;
/// A thread is too long for rays that would have to be this many times as many; one about which none stand has them again from fewer on.
const SPARSE: f64 = 2.0;
const SPARSE_AGAIN: f64 = 1.6;
/// Rays to an interval of the density.
const FINE: f64 = 0.7;
/// Share of the bend of rays that begin at the outside of a tip: the first ray lies along it and needs a direction.
const ALONG_TIP: f64 = 0.8;
/// Scale of such rays over that of the surface. The dissipation of a sphere that moves in glass 50 times as wide is then 2 % above the exact (5 %
/// with 1), that of waves of 63 radii 1.4 % (9 %); surfaces that deform far from glass are up to 3 % below it (0.2 %), short waves 4 % above (`tests`).
/// With 3 the worst of these is off by 16 %.
const WIDER: f64 = 2.0;
/// Slope of the envelope.
const ENVELOPE_SLOPE: f64 = 0.5;
/// Scale of the flow at the tip's edge, where rays end in liquid at rest about the tip. Of rays that begin along it a wide drop's pull would be a fourth
/// too weak (`simulate/bare.rs`, a drop of 5 R in a tube of 20 R).
const AT_EDGE: f64 = 0.05;
/// Least scale of a surface.
const LEAST_SCALE: f64 = 0.02;
/// What is seen of glass that a point does not face.
const UNSEEN: f64 = 0.02;
/// Square of the least distance of glass.
const NEAREST: f64 = 1e-6;
/// How far along the thread rays feel the tip.
const TIP: f64 = 0.3;
/// How often the rays' ends are evened.
const EVENED: usize = 6;

/// The rays of a thread, with the buffers that are needed on the way.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    /// Way along the meridian, of the nodes and of the rays.
    pub arc: Vec<f64>,
    pub at: Vec<f64>,
    pub lines: Lines,
    h: Vec<f64>,
    slope_z: Vec<f64>,
    slope_h: Vec<f64>,
    upper: Vec<f64>,
    fine: [Vec<f64>; 3],
    gap: Vec<f64>,
    radius: Vec<f64>,
    envelope: Vec<f64>,
    density: Vec<f64>,
    kernel: Vec<f64>,
    count: Vec<f64>,
    normal: [Vec<f64>; 2],
    outline: Outline,
    aim: Vec<f64>,
    evened: Vec<f64>,
}

/// Fills `into` anew with `n` values.
fn fill(into: &mut Vec<f64>, n: usize, of: impl FnMut(usize) -> f64) {
    into.clear();
    into.extend((0..n).map(of));
}

impl Layout {
    /// Lays the rays of the thread through nodes at `z` of the squared radii `a`; none where that is no shape.
    pub fn lay(&mut self, glass: &Glass, (z, a): (&[f64], &[f64]), held: usize) -> Option<()> {
        let n = z.len();
        fill(&mut self.h, n, |i| a[i].max(0.0).sqrt());
        self.arc.clear();
        let mut way = 0.0;
        for i in 0..n {
            if i > 0 {
                let (dz, dh) = (z[i] - z[i - 1], self.h[i] - self.h[i - 1]);
                way += (dz * dz + dh * dh).sqrt();
            }
            self.arc.push(way);
        }
        slopes(&self.arc, z, Side::Even, &mut self.slope_z, &mut self.upper);
        slopes(&self.arc, &self.h, Side::Odd, &mut self.slope_h, &mut self.upper);
        self.count(glass, z)?;
        self.surface(z, held)?;
        self.aims(glass, *z.last()?)
    }

    /// Envelope and how many rays stand before each place of the meridian.
    fn count(&mut self, glass: &Glass, z: &[f64]) -> Option<()> {
        let whole = *self.arc.last()?;
        let [fine, fine_z, fine_h] = &mut self.fine;
        fill(fine, PLACES, |i| whole * i as f64 / (PLACES - 1) as f64);
        fine_z.clear();
        fine_h.clear();
        let mut k = 0;
        for &at in fine.iter() {
            k = interval(&self.arc, at, k);
            fine_z.push(evaluate(&self.arc, z, &self.slope_z, k, at).0);
            fine_h.push(evaluate(&self.arc, &self.h, &self.slope_h, k, at).0.max(0.0));
        }
        glass.distances(fine_z, fine_h, &mut self.gap, &mut self.radius);
        fill(&mut self.envelope, PLACES, |i| fine_h[i]);
        let fall = |i: usize| ENVELOPE_SLOPE * (fine_z[i] - fine_z[i - 1]).abs();
        for i in 1..PLACES {
            self.envelope[i] = self.envelope[i].max(self.envelope[i - 1] - fall(i));
        }
        for i in (1..PLACES).rev() {
            self.envelope[i - 1] = self.envelope[i - 1].max(self.envelope[i] - fall(i));
        }
        let width = (0.05 * whole).max(0.1) * (PLACES - 1) as f64 / whole;
        if !(width > 0.0 && width.is_finite()) {
            return None;
        }
        // by the distance in places, from -(PLACES - 1) on
        fill(&mut self.kernel, 2 * PLACES - 1, |i| {
            let x = (i as f64 - (PLACES - 1) as f64) / width;
            exponential_in_line((-0.5 * x * x).max(-700.0))
        });
        let edge = if glass.is_from_tip() { f64::INFINITY } else { AT_EDGE };
        for ((gap, envelope), at) in self.gap.iter_mut().zip(&self.envelope).zip(&*fine) {
            *gap = -logarithm_in_line(0.1 + 0.5 * gap.min(*envelope).min(edge + at));
        }
        self.density.clear();
        self.density.resize(PLACES, 0.0);
        smear(&self.kernel, &self.gap, &mut self.density);
        // what a window of the kernel sums up to, moved by one place at a time
        let mut norm: f64 = self.kernel[PLACES - 1..].iter().sum();
        for i in 0..PLACES {
            if i > 0 {
                norm += self.kernel[PLACES - 1 - i] - self.kernel[2 * PLACES - 1 - i];
            }
            self.density[i] = exponential_in_line(self.density[i] / norm);
        }
        let step = whole / (PLACES - 1) as f64;
        self.count.clear();
        let mut sum = 0.0;
        for i in 0..PLACES {
            if i > 0 {
                sum += 0.5 * (self.density[i] + self.density[i - 1]) * step;
            }
            self.count.push(sum);
        }
        sum.is_finite().then_some(())
    }

    /// The rays' ends on the thread.
    fn surface(&mut self, z: &[f64], held: usize) -> Option<()> {
        let (all, whole) = (*self.count.last()?, *self.arc.last()?);
        let wanted = AT_ONCE * (FINE * all).ceil();
        if wanted > MOST as f64 * if held == 0 { SPARSE_AGAIN } else { SPARSE } {
            return None;
        }
        let needed = wanted.clamp(FEWEST, MOST as f64) as usize;
        let still = needed <= held && needed as f64 > KEPT * held as f64;
        let intervals = if still { held } else { needed };
        let Lines { surface: [on_z, on_h], scale, bend, .. } = &mut self.lines;
        let [normal_z, normal_r] = &mut self.normal;
        for side in [&mut *on_z, &mut *on_h, &mut *scale, &mut *bend, &mut self.at, &mut *normal_z, &mut *normal_r] {
            side.clear();
        }
        let (mut k, mut node) = (0, 0);
        for i in 0..=intervals {
            let wanted = all * i as f64 / intervals as f64;
            k = interval(&self.count, wanted, k);
            let part = ((wanted - self.count[k]) / (self.count[k + 1] - self.count[k])).clamp(0.0, 1.0);
            let at =
                if i < intervals { self.fine[0][k] + part * (self.fine[0][k + 1] - self.fine[0][k]) } else { whole };
            node = interval(&self.arc, at, node);
            let (place, along) = evaluate(&self.arc, z, &self.slope_z, node, at);
            let (radius, steep) = evaluate(&self.arc, &self.h, &self.slope_h, node, at);
            let length = (along * along + steep * steep).sqrt().max(f64::MIN_POSITIVE);
            let envelope = self.envelope[k] + part * (self.envelope[k + 1] - self.envelope[k]);
            self.at.push(at);
            on_z.push(place);
            on_h.push(if i < intervals { radius.max(0.0) } else { 0.0 });
            normal_z.push(-steep / length);
            normal_r.push(along / length);
            scale.push(envelope.max(LEAST_SCALE));
            bend.push(exponential_in_line((-(at / TIP) * (at / TIP)).max(-700.0)));
        }
        Some(())
    }

    /// The rays' ends on the glass.
    fn aims(&mut self, glass: &Glass, pole: f64) -> Option<()> {
        glass.outline(pole, POINTS, &mut self.outline);
        let Outline { place, z, r, .. } = &self.outline;
        let (end, rays) = (*place.last()?, self.at.len());
        let Lines { surface, glass: ends, bend, scale } = &mut self.lines;
        // behind its plane the tip hides what lies beyond the axis
        let hides = if glass.is_from_tip() { 0.0 } else { f64::NEG_INFINITY };
        self.aim.clear();
        let (mut seen, mut last) = (0.0f64, 0.0f64);
        for i in 0..rays {
            let point = [surface[0][i], surface[1][i]];
            let facing = faced(&self.outline, hides, point, [self.normal[0][i], self.normal[1][i]]);
            seen = seen.max(facing.min(end));
            last = last.max(seen * (1.0 - bend[i]));
            self.aim.push(last);
        }
        self.aim[rays - 1] = end;
        for _ in 0..EVENED {
            self.evened.clear();
            self.evened.extend_from_slice(&self.aim);
            for i in 1..rays - 1 {
                self.aim[i] = 0.25 * (self.evened[i + 1] + self.evened[i - 1]) + 0.5 * self.evened[i];
            }
        }
        let between = (POINTS - 1) as f64 / end;
        if !between.is_finite() {
            return None;
        }
        let on = |x: &[f64], aim: f64| {
            let k = ((aim * between) as usize).min(POINTS - 2);
            let t = (aim * between - k as f64).clamp(0.0, 1.0);
            x[k] + t * (x[k + 1] - x[k])
        };
        fill(&mut ends[0], rays, |i| on(z, self.aim[i]));
        fill(&mut ends[1], rays, |i| on(r, self.aim[i]));
        ends[1][rays - 1] = 0.0;
        if glass.is_from_tip() {
            bend.iter_mut().for_each(|bend| *bend *= ALONG_TIP);
            scale.iter_mut().for_each(|scale| *scale *= WIDER);
        }
        Some(())
    }
}

/// out_i += sum_j kernel(j - i) x_j.
#[multiversion(targets("x86_64+avx2"))]
fn smear(kernel: &[f64], x: &[f64], out: &mut [f64]) {
    let n = x.len();
    let out = &mut out[..n];
    for (j, &x) in x.iter().enumerate() {
        // of an even kernel
        let by = &kernel[n - 1 - j..][..n];
        for i in 0..n {
            out[i] += by[i] * x;
        }
    }
}

/// Mean place of the glass and its image that a point faces.
#[multiversion(targets("x86_64+avx2"))]
fn faced(outline: &Outline, hides: f64, [z, r]: [f64; 2], [normal_z, normal_r]: [f64; 2]) -> f64 {
    let Outline { place, z: glass_z, r: glass_r, .. } = outline;
    let end = 2.0 * place.last().copied().unwrap_or(0.0);
    // (d cos + d/50)^2 and d^6
    let seen = |dz: f64, dr: f64| {
        let square = dz * dz + dr * dr;
        let square = if square < NEAREST { NEAREST } else { square };
        let along = dz * normal_z + dr * normal_r;
        let facing = if along > 0.0 { along } else { 0.0 } + UNSEEN * square.sqrt();
        (facing * facing, square * square * square)
    };
    let (mut moment, mut weight) = ([0.0; LANES], [0.0; LANES]);
    let chunks = place.chunks_exact(LANES).zip(glass_z.chunks_exact(LANES)).zip(glass_r.chunks_exact(LANES));
    for ((place, glass_z), glass_r) in chunks {
        for l in 0..LANES {
            let dz = glass_z[l] - z;
            let ((here, far), (image, image_far)) = (seen(dz, glass_r[l] - r), seen(dz, -glass_r[l] - r));
            let both = 1.0 / (far * image_far);
            let image = if glass_z[l] < hides { 0.0 } else { image };
            let (here, image) = (here * image_far * both, image * far * both);
            moment[l] += here * place[l] + image * (end - place[l]);
            weight[l] += here + image;
        }
    }
    // the point on the axis is its own image
    let once = glass_z.last().map(|last| seen(last - z, -r)).map_or(0.0, |(here, far)| here / far);
    (moment.iter().sum::<f64>() - once * 0.5 * end) / (weight.iter().sum::<f64>() - once)
}
