//! Snapshots by event: about every pinch-off of the thread, and without a trace in the state.

use slenderjet::case::{self, Accuracy, Case, Stop};
use slenderjet::outcome::{Frame, Moment, Outcome};
use slenderjet::simulate::{Observer, simulate};

struct Keep {
    frames: Vec<Frame>,
    events: bool,
}

impl Observer for Keep {
    fn frame(&mut self, frame: &Frame) {
        self.frames.push(frame.clone());
    }
    fn interval(&mut self, interval: f64) {
        self.frames.retain(|frame| frame.stays(interval));
    }
    fn wants_frames(&self) -> bool {
        self.events
    }
}

fn example(name: &str, drops: u32) -> Case {
    let mut case = case::parse(case::examples::find(name).unwrap().text, name).unwrap();
    case.run.stop = Stop::Drops(drops);
    case.run.accuracy = Accuracy::Coarse;
    case
}

fn run(case: &Case, events: bool) -> (Outcome, Vec<Frame>) {
    let mut keep = Keep { frames: Vec::new(), events };
    let outcome = simulate(case, None, &mut keep).unwrap();
    (outcome, keep.frames)
}

/// A frame within 1e-4 of a period of each pinch-off and, of the thread's, eight within 2 % of a period;
/// the period is that of the settled primary drops, or the mean one since the start.
fn each_pinch_off_is_covered(name: &str, drops: u32) {
    let (outcome, frames) = run(&example(name, drops), true);
    let primaries: Vec<f64> = outcome
        .summary
        .drops
        .iter()
        .filter(|d| d.kind == slenderjet::outcome::DropKind::Primary)
        .map(|d| d.time_s)
        .collect();
    let period = (primaries[primaries.len() - 1] - primaries[0]) / (primaries.len() - 1) as f64;
    assert!(frames.windows(2).all(|w| w[0].time < w[1].time), "{name}: two snapshots at one time");
    let end = frames[frames.len() - 1].time;
    let mut checked = 0;
    for (i, pinch) in outcome.pinch_offs.iter().enumerate().filter(|(_, p)| p.time + 0.02 * period < end) {
        let near = |share: f64| frames.iter().filter(|f| (f.time - pinch.time).abs() <= share * period).count();
        assert!(near(1e-4) >= 1, "{name}: no snapshot at pinch-off {i}");
        // of what a free ligament leaves there is the pinch-off alone
        if outcome.necks.iter().any(|n| n.pinch == Some(i)) {
            assert!(near(0.02) >= 8, "{name}: {} snapshots about pinch-off {i}", near(0.02));
            checked += 1;
        }
        let at = frames.iter().find(|f| f.pinch == Some(i) && f.moment == Moment::PinchOff).unwrap();
        assert_eq!(at.time, pinch.time, "{name}: the snapshot of pinch-off {i}");
    }
    assert!(checked >= drops as usize - 1, "{name}: {checked} pinch-offs");
    // broken after, whole before: the thread's end lies nearer to the nozzle once it has broken
    let length = |f: &Frame| f.bodies[0].z[f.bodies[0].z.len() - 1];
    for pair in frames.windows(2).filter(|w| w[0].moment == Moment::Approach && w[1].moment == Moment::PinchOff) {
        assert!(length(&pair[1]) < length(&pair[0]), "{name}: not broken at {}", pair[1].time);
        // drops that leave the domain at that moment do not count: look where the thread was
        let off = pair[1].bodies.iter().any(|b| !b.attached && b.z[0] < length(&pair[0]));
        assert!(off, "{name}: nothing came off at {}", pair[1].time);
    }
}

#[test]
fn bursts_about_each_pinch_off_of_a_tap() {
    each_pinch_off_is_covered("tap", 3);
}

#[test]
fn bursts_about_each_pinch_off_in_coflow() {
    each_pinch_off_is_covered("coflow", 4);
}

#[test]
fn bursts_about_each_pinch_off_in_counterflow() {
    each_pinch_off_is_covered("counterflow", 4);
}

/// A wave on a thread has no period; its one break-up is shown whole all the same, broken from its pinch-off on.
#[test]
fn a_burst_about_the_pinch_off_of_a_wave() {
    let (outcome, frames) = run(&example("segment", 1), true);
    let first = outcome.pinch_offs[0].time;
    let count = |moment| frames.iter().filter(|f| f.moment == moment && f.pinch == Some(0)).count();
    assert!(count(Moment::Approach) >= 5 && count(Moment::PinchOff) == 1, "{}", count(Moment::Approach));
    let at = frames.iter().position(|f| f.time == first).unwrap();
    assert!(frames[at].bodies.len() > frames[at - 1].bodies.len());
}

/// With few snapshots, with many and with none: the same drops, pinch-offs and counts, to the bit.
#[test]
fn snapshots_leave_the_state_alone() {
    let mut case = example("coflow", 4);
    let (without, none) = run(&case, false);
    assert!(none.is_empty());
    for frames in [2, 37, 900] {
        case.run.frames = frames;
        let (with, many) = run(&case, true);
        assert_eq!(with, without, "{frames} snapshots");
        let even = many.iter().filter(|f| f.moment == Moment::Even).count();
        assert!(even <= frames && even >= frames / 2, "{even} of {frames}");
    }
}

/// Evenly spaced snapshots lie where they were asked for, whatever the steps.
#[test]
fn snapshots_until_a_time_are_evenly_spaced() {
    let mut case = example("coflow", 1);
    (case.run.stop, case.run.frames) = (Stop::Until(3e-3), 61);
    let (_, frames) = run(&case, true);
    let even: Vec<f64> = frames.iter().filter(|f| f.moment == Moment::Even).map(|f| f.time).collect();
    assert_eq!(even.len(), 61);
    assert!(even.iter().enumerate().all(|(i, t)| (t - 5e-5 * i as f64).abs() < 1e-12), "{even:?}");
}

/// The length of a run that asks for drops is not known when it starts: evenly spaced they are all the same, from its start to its end.
#[test]
fn snapshots_of_a_run_that_asks_for_drops_are_evenly_spaced() {
    for (name, drops, frames) in [("coflow", 4, 60), ("tap", 3, 61), ("jet", 6, 400), ("segment", 1, 100)] {
        let mut case = example(name, drops);
        case.run.frames = frames;
        let (_, all) = run(&case, true);
        let even: Vec<f64> = all.iter().filter(|f| f.moment == Moment::Even).map(|f| f.time).collect();
        assert!((frames.div_ceil(2)..=frames).contains(&even.len()), "{name}: {} of {frames}", even.len());
        let interval = even[1];
        for (i, time) in even.iter().enumerate() {
            assert!((time - interval * i as f64).abs() < 1e-9 * interval * (i + 1) as f64, "{name}: {even:?}");
        }
        let end = all[all.len() - 1].time;
        assert!(even[even.len() - 1] + interval > end * (1.0 - 1e-9), "{name}: {} s of {end}", even[even.len() - 1]);
    }
}

/// Drops in the order of detachment, each dated by its pinch-off, which is one of those listed in order of time.
#[test]
fn drops_come_in_order_and_name_their_pinch_off() {
    let (outcome, _) = run(&example("tap", 3), false);
    assert!(outcome.pinch_offs.windows(2).all(|w| w[0].time <= w[1].time));
    assert!(outcome.summary.drops.windows(2).all(|w| w[0].time_s <= w[1].time_s));
    for drop in &outcome.summary.drops {
        assert_eq!(drop.time_s, outcome.pinch_offs[drop.pinch.unwrap()].time);
    }
    let mut made: Vec<_> = outcome.summary.drops.iter().map(|d| d.pinch).collect();
    made.dedup();
    assert_eq!(made.len(), outcome.summary.drops.len(), "two drops of one pinch-off");
}

/// The budget beside the evenly spaced snapshots: it starts at nothing, viscosity only takes, and at every row the changes equal
/// what went in and out up to what the row itself calls open (which is over the energy turned over: at least the largest entry, at
/// most the sum of twice all of them).
#[test]
fn theory_the_budget_closes_at_every_row() {
    let (outcome, frames) = run(&example("coflow", 4), true);
    let rows: Vec<_> = frames.iter().filter_map(|f| f.budget.map(|b| (f, b))).collect();
    let even = frames.iter().filter(|f| f.moment == Moment::Even).count();
    assert!(rows.len() >= even && even > 50, "{} rows for {even} even snapshots", rows.len());
    assert_eq!((rows[0].1.surface_j, rows[0].1.viscous_j), (0.0, 0.0));
    assert!(rows.windows(2).all(|w| w[1].1.viscous_j <= w[0].1.viscous_j));
    for (frame, b) in &rows {
        let change = b.kinetic_j + b.surface_j + b.potential_j;
        let causes = [
            b.inlet_j,
            b.outflow_j,
            b.outer_drag_j,
            b.outer_stress_j,
            b.film_j,
            b.added_mass_j,
            b.viscous_j,
            b.artificial_j,
            b.cuts_j,
            b.regrids_j,
        ];
        let open = (change - causes.iter().sum::<f64>()).abs();
        let turned_over = 2.0 * causes.iter().map(|c| c.abs()).sum::<f64>() + change.abs();
        assert!(open <= b.open_relative * turned_over + 1e-20, "{open} J open at {} s", frame.time);
    }
    let last = rows[rows.len() - 1].1;
    assert!(last.surface_j > 0.0 && last.surface_j <= outcome.summary.budget.surface_j * 1.01);
}

/// A filling drop is drawn as it was: where nothing breaks, the radius at each place is no more than 7 % above those a snapshot before and
/// after, and not below them by more than a neck on its way through the place. (Where the mesh had changed between two long steps it once was drawn up to 2.5 times as wide.)
#[test]
fn a_filling_drop_is_drawn_as_it_was() {
    for name in ["coflow", "tap"] {
        let case = example(name, 3);
        let tip = 0.5 * case.device.tip_bore;
        let (_, frames) = run(&case, true);
        let radius = |f: &Frame, z: f64| {
            let body = f.bodies.iter().find(|b| b.attached)?;
            let i = body.z.partition_point(|x| *x < z);
            let (left, right) = (i.checked_sub(1)?, (i < body.z.len()).then_some(i)?);
            let x = (z - body.z[left]) / (body.z[right] - body.z[left]);
            Some(body.h[left] + x * (body.h[right] - body.h[left]))
        };
        let mut checked = 0;
        for three in frames.windows(3).filter(|w| w.iter().all(|f| f.moment == Moment::Even)) {
            for z in [0.3, 1.0, 2.0, 3.0, 5.0].map(|x| x * tip) {
                let (Some(before), Some(now), Some(after)) =
                    (radius(&three[0], z), radius(&three[1], z), radius(&three[2], z))
                else {
                    continue;
                };
                let (low, high) = (0.8 * f64::min(before, after), 1.07 * f64::max(before, after));
                assert!((low..=high).contains(&now), "{name} at {} s, z = {z}: {before} {now} {after}", three[1].time);
                checked += 1;
            }
        }
        assert!(checked > 300, "{name}: {checked} places");
    }
}
