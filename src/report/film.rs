//! The film: contours of every instant in 16-bit steps of the shown window, for the page to play.
//!
//! Layout of `data` (base64, little endian): for each frame its bodies, for each body its nodes, for each node z then h, as
//! shares of the window (`z = from + (to - from) i/65535`, `h = rim i/65535`). Step: the window over 65,535, some nanometres.

use super::html::script_json;
use crate::case::Layout;
use crate::figures::glass::Glass;
use crate::figures::thin::kept;
use crate::outcome::{BodyFrame, DropKind, Frame};
use crate::record::Recorded;
use base64::Engine as _;

/// Most instants and nodes in a film: its size on disk is four bytes a node and a third more in base64.
const FRAMES: usize = 600;
const NODES: usize = 250_000;
/// Tolerance of thinning as a share of the window's length; doubled until the film is small enough.
const FINEST: f64 = 1.0 / 6000.0;
/// Bodies that start within so many lengths of the longest thread are shown.
const BEYOND: f64 = 1.35;
const FULL: f64 = 65_535.0;

/// The film of a run: the element with its data, and what was left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Film {
    pub json: String,
    pub notes: Vec<String>,
}

struct Window {
    from: f64,
    to: f64,
    rim: f64,
}

fn end(body: &BodyFrame) -> f64 {
    body.z.last().copied().unwrap_or(0.0)
}

fn window(run: &Recorded, glass: &Glass) -> Window {
    let bodies = || run.frames.iter().flat_map(|f| f.bodies.iter());
    let thread = bodies().filter(|b| b.attached).map(end).fold(0.0, f64::max);
    let farthest = bodies().map(end).fold(0.0, f64::max);
    let (from, to) = match glass.tip {
        Some((bore, _)) => (-1.5 * bore, farthest.min(BEYOND * thread).max(3.0 * bore)),
        None => (bodies().filter_map(|b| b.z.first().copied()).fold(0.0, f64::min), farthest.max(f64::MIN_POSITIVE)),
    };
    let thick =
        bodies().filter(|b| b.z.first().is_some_and(|z| *z < to)).flat_map(|b| b.h.iter().copied()).fold(0.0, f64::max);
    let rim = 1.12 * thick.max(glass.reach(from, to, thick));
    Window { from, to, rim: rim.max(1e-3 * (to - from)) }
}

/// Nodes to keep of each body that is seen.
fn thinned(frames: &[&Frame], w: &Window, tolerance: f64) -> Vec<Vec<(usize, Vec<usize>)>> {
    let length = w.to - w.from;
    let nodes = |b: &BodyFrame| {
        let points: Vec<(f64, f64)> = b.z.iter().zip(&b.h).map(|(z, h)| (z / length, h / length)).collect();
        kept(&points, tolerance)
    };
    let seen = |b: &&BodyFrame| b.z.first().is_some_and(|z| *z < w.to);
    let of = |f: &&Frame| {
        let bodies = f.bodies.iter().enumerate().filter(|(_, b)| seen(b));
        bodies.map(|(i, b)| (i, nodes(b))).collect()
    };
    frames.iter().map(of).collect()
}

/// The film of a run; `None` where nothing was recorded.
pub fn film(run: &Recorded) -> Option<Film> {
    let stride = run.frames.len().div_ceil(FRAMES).max(1);
    let mut frames: Vec<&Frame> = run.frames.iter().step_by(stride).collect();
    let last = run.frames.last()?;
    if frames.last().is_none_or(|f| f.time < last.time) {
        frames.push(last);
    }
    let glass = Glass::of(&run.case);
    let w = window(run, &glass);
    let mut tolerance = FINEST;
    let mut nodes = thinned(&frames, &w, tolerance);
    let count = |n: &Vec<Vec<(usize, Vec<usize>)>>| n.iter().flatten().map(|(_, kept)| kept.len()).sum::<usize>();
    while count(&nodes) > NODES && tolerance < 0.01 {
        tolerance *= 2.0;
        nodes = thinned(&frames, &w, tolerance);
    }
    let mut notes = vec![format!("{} of {} recorded nodes are in the film", count(&nodes), recorded_nodes(run))];
    if frames.len() < run.frames.len() {
        notes.push(format!("{} of {} recorded instants are in the film", frames.len(), run.frames.len()));
    }
    Some(Film { json: json(run, &frames, &nodes, &w, &glass), notes })
}

fn recorded_nodes(run: &Recorded) -> usize {
    run.frames.iter().flat_map(|f| f.bodies.iter()).map(|b| b.z.len()).sum()
}

fn json(run: &Recorded, frames: &[&Frame], nodes: &[Vec<(usize, Vec<usize>)>], w: &Window, glass: &Glass) -> String {
    let share = |v: f64| (FULL * v).round().clamp(0.0, FULL) as u16;
    let mut bytes: Vec<u8> = Vec::new();
    for (frame, bodies) in frames.iter().zip(nodes) {
        for (i, kept) in bodies {
            let body = &frame.bodies[*i];
            for &k in kept {
                bytes.extend(share((body.z[k] - w.from) / (w.to - w.from)).to_le_bytes());
                bytes.extend(share(body.h[k] / w.rim).to_le_bytes());
            }
        }
    }
    let data = base64::engine::general_purpose::STANDARD.encode(&bytes);
    let kinds = breakup_kinds(run);
    let breakups: Vec<_> =
        run.pinch_offs.iter().zip(&kinds).map(|(p, kind)| serde_json::json!([p.time, kind])).collect();
    let loops = glass.loops(w.from, w.to, 1.02 * w.rim);
    let slim = (w.to - w.from) / (2.0 * w.rim);
    script_json(&serde_json::json!({
        "from": w.from,
        "to": w.to,
        "rim": w.rim,
        "down": run.case.layout == Layout::Pendant && run.case.gravity > 0.0 && slim < 9.0,
        "times": frames.iter().map(|f| f.time).collect::<Vec<_>>(),
        "bodies": nodes.iter().map(Vec::len).collect::<Vec<_>>(),
        "nodes": nodes.iter().flatten().map(|(_, kept)| kept.len()).collect::<Vec<_>>(),
        "breakups": breakups,
        "tip": glass.tip.map(|(bore, _)| bore),
        "glass": loops,
        "data": data,
    }))
}

/// What came off at each breakup: the drop nearest in time, if it is nearer than half-way to the next breakup.
fn breakup_kinds(run: &Recorded) -> Vec<&'static str> {
    let times: Vec<f64> = run.pinch_offs.iter().map(|p| p.time).collect();
    let gap = |i: usize| {
        let before = i.checked_sub(1).map_or(f64::INFINITY, |b| times[i] - times[b]);
        let after = times.get(i + 1).map_or(f64::INFINITY, |t| t - times[i]);
        before.min(after)
    };
    let kind = |(i, time): (usize, &f64)| {
        let near = run.summary.drops.iter().map(|d| ((d.time_s - time).abs(), d.kind));
        match near.min_by(|a, b| a.0.total_cmp(&b.0)) {
            Some((apart, DropKind::Primary)) if apart <= 0.5 * gap(i) => "primary",
            Some((apart, DropKind::Satellite)) if apart <= 0.5 * gap(i) => "satellite",
            _ => "breakup",
        }
    };
    times.iter().enumerate().map(kind).collect()
}

/// The player around a film's data.
pub fn player(film: &Film, id: &str, label: &str) -> String {
    let label = crate::figures::drawing::escaped(label);
    format!(
        "<div class=\"player\" id=\"{id}\" role=\"group\" aria-label=\"Film: {label}\">\n\
         <canvas tabindex=\"0\" role=\"img\" aria-label=\"{label}: thread and drops in the glass. Space plays, arrow keys step.\"></canvas>\n\
         <div class=\"line\"><svg class=\"breakups\" aria-hidden=\"true\" preserveAspectRatio=\"none\"></svg>\n\
         <input type=\"range\" min=\"0\" value=\"0\" step=\"1\" aria-label=\"Instant\"></div>\n\
         <div class=\"buttons\">\n\
         <button type=\"button\" data-do=\"previous\" aria-label=\"Previous breakup\" title=\"Previous breakup (P)\">|◂</button>\n\
         <button type=\"button\" data-do=\"back\" aria-label=\"One instant back\" title=\"One instant back (←)\">◂</button>\n\
         <button type=\"button\" data-do=\"play\" aria-pressed=\"false\" title=\"Play or pause (Space)\">Play</button>\n\
         <button type=\"button\" data-do=\"forward\" aria-label=\"One instant on\" title=\"One instant on (→)\">▸</button>\n\
         <button type=\"button\" data-do=\"next\" aria-label=\"Next breakup\" title=\"Next breakup (N)\">▸|</button>\n\
         <label>Slow motion <input type=\"range\" data-do=\"speed\" min=\"-20\" max=\"20\" value=\"0\" step=\"1\"></label>\n\
         <output class=\"speed\"></output>\n\
         <output class=\"time\"></output>\n\
         </div>\n\
         <p class=\"keys\">Keys: Space plays and pauses, ← and → step, Home and End jump, N and P go to the next and previous \
         breakup, + and − change the speed. Marks on the time line: breakups (tall: primary drop, short: satellite).</p>\n\
         <script type=\"application/json\">{}</script>\n</div>\n",
        film.json
    )
}
