//! The movie: contours of the snapshots in 16-bit steps of the shown window, for the page to play.
//!
//! Layout of `data` (base64, little endian): for each frame its bodies, for each body the points of its outline (as
//! figures draw it, see [`crate::figures::contour`]), for each point z then h, as shares of the window (`z = from + (to - from) i/65535`, `h = rim i/65535`). Step: the window over 65,535, some nanometres.

use super::html::script_json;
use crate::case::Layout;
use crate::figures::contour::outline;
use crate::figures::glass::Glass;
use crate::figures::rounding::Rounding;
use crate::figures::snapshots::{at_break, shown_break};
use crate::figures::solid::{Solid, Told, drawn};
use crate::outcome::{BodyFrame, DropKind, Moment};
use crate::record::Recorded;
use base64::Engine as _;

/// Most snapshots and points in a movie: its size on disk is four bytes a point and a third more in base64.
const FRAMES: usize = 600;
const NODES: usize = 250_000;
/// Of these, at most so many evenly spaced ones; the rest are about break-ups.
const EVEN: usize = 350;
/// Tolerance of thinning as a share of the window's length; doubled until the movie is small enough.
const FINEST: f64 = 1.0 / 6000.0;
/// Bodies that start within so many lengths of the longest thread are shown.
const BEYOND: f64 = 1.35;
const FULL: f64 = 65_535.0;

/// The movie of a run: the element with its data, and what was left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Movie {
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

fn window(shown: &[Solid], glass: &Glass) -> Window {
    let bodies = || shown.iter().flat_map(|s| s.bodies.iter());
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

/// Indices of the snapshots in the movie: evenly spaced ones, each pinch-off, and bursts about the latest of them.
fn shown(run: &Recorded) -> Vec<usize> {
    let even: Vec<usize> = (0..run.frames.len()).filter(|i| run.frames[*i].moment == Moment::Even).collect();
    let mut chosen: Vec<usize> = even.iter().copied().step_by(even.len().div_ceil(EVEN).max(1)).collect();
    chosen.extend(run.frames.len().checked_sub(1));
    let of = |moments: &[Moment]| -> Vec<usize> {
        (0..run.frames.len()).rev().filter(|i| moments.contains(&run.frames[*i].moment)).collect()
    };
    let opening = shown_break(run)
        .map_or(Vec::new(), |pinch| (0..run.frames.len()).filter(|i| run.frames[*i].pinch == Some(pinch)).collect());
    let events = [opening, of(&[Moment::PinchOff]), of(&[Moment::Approach, Moment::Recoil])].concat();
    for i in events {
        if chosen.len() < FRAMES {
            chosen.push(i);
        }
    }
    chosen.sort_unstable();
    chosen.dedup();
    chosen
}

/// Outlines of the bodies that are seen in each snapshot.
type Outlines = Vec<Vec<Vec<(f64, f64)>>>;

fn outlines(frames: &[Solid], w: &Window, tolerance: f64) -> Outlines {
    let length = w.to - w.from;
    let seen = |b: &&BodyFrame| b.z.first().is_some_and(|z| *z < w.to);
    let of = |s: &Solid| s.bodies.iter().filter(seen).map(|b| outline(b, 1.0 / length, tolerance).upper).collect();
    frames.iter().map(of).collect()
}

/// The movie of a run; `None` where nothing was recorded.
pub fn movie(run: &Recorded) -> Option<Movie> {
    run.frames.last()?;
    let chosen = shown(run);
    let glass = Glass::of(&run.case);
    let rounding = Rounding::of(run);
    let solids: Vec<Solid> = chosen.iter().map(|i| drawn(&run.frames[*i], &glass, &rounding)).collect();
    let told = solids.iter().fold(Told::default(), |all, s| all.and(s.told));
    let w = window(&solids, &glass);
    let mut tolerance = FINEST;
    let mut points = outlines(&solids, &w, tolerance);
    let count = |o: &Outlines| o.iter().flatten().map(Vec::len).sum::<usize>();
    while count(&points) > NODES && tolerance < 0.01 {
        tolerance *= 2.0;
        points = outlines(&solids, &w, tolerance);
    }
    let mut notes = vec![format!("outlines of {} points for {} recorded nodes", count(&points), recorded_nodes(run))];
    if chosen.len() < run.frames.len() {
        notes.push(format!("{} of {} recorded snapshots are in the movie", chosen.len(), run.frames.len()));
    }
    notes.extend(told.notes());
    let opening = shown_break(run).map(|pinch| at_break(run, pinch));
    let opening = opening.and_then(|i| chosen.iter().position(|k| *k >= i)).unwrap_or(0);
    let times = chosen.iter().map(|i| run.frames[*i].time).collect();
    Some(Movie { json: json(run, times, &points, (&w, &glass), opening), notes })
}

fn recorded_nodes(run: &Recorded) -> usize {
    run.frames.iter().flat_map(|f| f.bodies.iter()).map(|b| b.z.len()).sum()
}

fn json(run: &Recorded, times: Vec<f64>, points: &Outlines, (w, glass): (&Window, &Glass), opening: usize) -> String {
    let share = |v: f64| (FULL * v).round().clamp(0.0, FULL) as u16;
    let mut bytes: Vec<u8> = Vec::new();
    for (z, h) in points.iter().flatten().flatten() {
        bytes.extend(share((z - w.from) / (w.to - w.from)).to_le_bytes());
        bytes.extend(share(h / w.rim).to_le_bytes());
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
        "times": times,
        "opening": opening,
        "bodies": points.iter().map(Vec::len).collect::<Vec<_>>(),
        "nodes": points.iter().flatten().map(Vec::len).collect::<Vec<_>>(),
        "breakups": breakups,
        "tip": glass.tip.map(|(bore, _)| bore),
        "glass": loops,
        "data": data,
    }))
}

/// What came off at each break-up.
fn breakup_kinds(run: &Recorded) -> Vec<&'static str> {
    let kind = |i: usize| match run.summary.drops.iter().find(|d| d.pinch == Some(i)).map(|d| d.kind) {
        Some(DropKind::Primary) => "primary",
        Some(DropKind::Satellite) => "satellite",
        None => "breakup",
    };
    (0..run.pinch_offs.len()).map(kind).collect()
}

/// The player around a movie's data.
pub fn player(movie: &Movie, id: &str, label: &str) -> String {
    let label = crate::figures::drawing::escaped(label);
    format!(
        "<div class=\"player\" id=\"{id}\" role=\"group\" aria-label=\"Movie: {label}\">\n\
         <canvas tabindex=\"0\" role=\"img\" aria-label=\"{label}: thread and drops in the glass. Space plays, arrow keys step.\"></canvas>\n\
         <div class=\"line\"><svg class=\"breakups\" aria-hidden=\"true\" preserveAspectRatio=\"none\"></svg>\n\
         <input type=\"range\" min=\"0\" max=\"10000\" value=\"0\" step=\"any\" aria-label=\"Time\"></div>\n\
         <div class=\"buttons\">\n\
         <button type=\"button\" data-do=\"previous\" aria-label=\"Previous breakup\" title=\"Previous breakup (P)\">|◂</button>\n\
         <button type=\"button\" data-do=\"back\" aria-label=\"One snapshot back\" title=\"One snapshot back (←)\">◂</button>\n\
         <button type=\"button\" data-do=\"play\" aria-pressed=\"false\" title=\"Play or pause (Space)\">Play</button>\n\
         <button type=\"button\" data-do=\"forward\" aria-label=\"One snapshot on\" title=\"One snapshot on (→)\">▸</button>\n\
         <button type=\"button\" data-do=\"next\" aria-label=\"Next breakup\" title=\"Next breakup (N)\">▸|</button>\n\
         <label>Slow motion <input type=\"range\" data-do=\"speed\" min=\"-20\" max=\"20\" value=\"0\" step=\"1\"></label>\n\
         <output class=\"speed\"></output>\n\
         <output class=\"time\"></output>\n\
         </div>\n\
         <p class=\"keys\">Keys: Space plays and pauses, ← and → step, Home and End jump, N and P go to the next and previous \
         breakup, + and − change the speed, from anywhere on the page. The time line is true in time; its marks are break-ups (tall: \
         primary drop, short: satellite).</p>\n\
         <script type=\"application/json\">{}</script>\n</div>\n",
        movie.json
    )
}
