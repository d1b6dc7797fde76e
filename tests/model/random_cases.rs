//! Random physically possible cases over all layouts: no panic, no NaN, volume kept, energy accounted for, every end named.
//!
//! A few hundred in every test run, the costly ones left out (see [`random::Drawn::heavy`]); thousands by
//! `scripts/random_cases.sh`. Read from the environment:
//! `SLENDERJET_RANDOM_CASES` how many, `SLENDERJET_RANDOM_SEED`, `SLENDERJET_RANDOM_STEPS` patience with a case,
//! `SLENDERJET_RANDOM_HEAVY` 1 for the costly ones too, `SLENDERJET_RANDOM_THREADS`, `SLENDERJET_RANDOM_LOG` a file of one
//! JSON object a line, from which a broken run goes on, `SLENDERJET_RANDOM_SHOW` number of a case to print instead.

use crate::random;
use serde::{Deserialize, Serialize};
use slenderjet::outcome::{Frame, Stopped};
use slenderjet::simulate::{Next, Observer, Progress, simulate};
use std::collections::BTreeMap;
use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

/// Cases in an ordinary test run: some minutes of one core (300 until a counter-flow came to cost five times as much by two fields;
/// `scripts/random_cases.sh` runs thousands).
const CASES: u64 = 160;
const SEED: u64 = 1;
/// Steps a case may take in an ordinary test run, and as many on a thread of so many cells are as costly: one that needs more is
/// counted as cut short, not as a success.
const STEPS: u64 = 100_000;
const USUAL_CELLS: u64 = 400;
/// Share of the cases that may end without their drops, by whatever named reason, where each has the whole budget of a run ...
const SHORT: f64 = 0.005;
const WHOLE_BUDGET: u64 = 400_000;
/// ... and where patience is short: 2 %. Of the first 300 six end so (2026-12-01), four of them counter-flows: two whose steps become too short, two
/// whose threads creep.
const SHORT_IN_HASTE: f64 = 0.02;
/// Volume is the coordinate: what is lost is round-off of sums.
const VOLUME: f64 = 1e-10;
/// Energy: the residual is measured against the energy turned over, and both the surface energy and the powers are
/// second-order sums on a coarse mesh, so it shrinks with the mesh but has no small bound of its own: a thin liquid that
/// dissipates next to nothing, or a creeping thread whose outer and inner powers cancel, turns over so little that the
/// ratio says little. Held are the median and the 90 % quantile, in a gas and in a liquid, at three times what was
/// measured (gas 3e-4 and 0.02, liquid 0.01 and 0.08; 2026): a lost term of the budget moves both.
const ENERGY_IN_GAS: [f64; 2] = [1e-3, 0.06];
const ENERGY_IN_LIQUID: [f64; 2] = [0.03, 0.25];
/// Every way in which a run may end.
const ENDS: [&str; 10] = [
    "drops_reached",
    "plug",
    "touches_wall",
    "leaves_tube",
    "unbroken_jet",
    "no_breakup",
    "time_budget",
    "step_budget",
    "step_underflow",
    "patience",
];
/// Physical ends that are answers: the device gives no drops.
const ANSWERS: [&str; 5] = ["drops_reached", "plug", "touches_wall", "leaves_tube", "unbroken_jet"];

/// What came of a case.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Fate {
    index: u64,
    layout: String,
    stopped: String,
    drops: usize,
    flagged: usize,
    rollbacks: u64,
    steps: u64,
    cells: u64,
    wall_s: f64,
    volume: f64,
    energy: f64,
    ohnesorge: f64,
    bond: f64,
    weber: f64,
    capillary: Option<f64>,
    viscosity_ratio: Option<f64>,
    refused: u32,
    heavy: bool,
    /// What must never be: a panic's words, a number that is none, a frame out of order.
    broken: Option<String>,
}

struct Watch {
    patience: u64,
    last: f64,
    broken: Option<String>,
}

impl Observer for Watch {
    fn frame(&mut self, frame: &Frame) {
        let sound = |x: &f64| x.is_finite();
        let finite = frame.bodies.iter().all(|b| b.z.iter().chain(&b.h).chain(&b.u).all(sound));
        let thick = frame.bodies.iter().all(|b| b.h.iter().all(|h| *h >= 0.0));
        let ordered = frame.bodies.iter().all(|b| b.z.windows(2).all(|z| z[0] < z[1]));
        if !(finite && thick && ordered && frame.time >= self.last) {
            let what = format!("frame at {:e}: finite {finite}, thick {thick}, ordered {ordered}", frame.time);
            self.broken.get_or_insert(what);
        }
        self.last = frame.time;
    }

    fn progress(&mut self, at: &Progress) -> Next {
        if at.steps.max(at.steps * at.cells as u64 / USUAL_CELLS) > self.patience {
            Next::Interrupt
        } else {
            Next::Continue
        }
    }
}

fn live(seed: u64, index: u64, patience: u64) -> Fate {
    let drawn = random::draw(seed, index);
    let groups = slenderjet::groups::groups(&drawn.case);
    let mut fate = Fate {
        index,
        layout: drawn.case.layout.name().into(),
        stopped: String::new(),
        drops: 0,
        flagged: 0,
        rollbacks: 0,
        steps: 0,
        cells: 0,
        wall_s: 0.0,
        volume: 0.0,
        energy: 0.0,
        ohnesorge: groups.ohnesorge,
        bond: groups.bond,
        weber: groups.weber_inner,
        capillary: groups.capillary_outer,
        viscosity_ratio: groups.viscosity_ratio,
        refused: drawn.refused,
        heavy: drawn.heavy,
        broken: None,
    };
    let mut watch = Watch { patience, last: 0.0, broken: None };
    let began = Instant::now();
    let run = catch_unwind(AssertUnwindSafe(|| simulate(&drawn.case, None, &mut watch)));
    fate.wall_s = began.elapsed().as_secs_f64();
    fate.broken = watch.broken;
    let outcome = match run {
        Ok(Ok(outcome)) => outcome,
        Ok(Err(error)) => {
            fate.broken = Some(format!("refused after `check` took it: {error}"));
            return fate;
        }
        Err(panic) => {
            let words = panic.downcast_ref::<String>().map(String::as_str);
            let words = words.or(panic.downcast_ref::<&str>().copied()).unwrap_or("?");
            fate.broken = Some(format!("panic: {words}"));
            return fate;
        }
    };
    let s = &outcome.summary;
    // `Debug` writes what JSON would hide as null.
    let written = format!("{outcome:?}");
    if ["NaN", "inf,", "inf)", "inf ", "inf]"].iter().any(|word| written.contains(word)) {
        let at = written.find("NaN").or(written.find("inf")).unwrap_or(0);
        let near: String = written.chars().skip(at.saturating_sub(60)).take(80).collect();
        fate.broken.get_or_insert(format!("not a number: {near}"));
    }
    fate.stopped = if s.stopped == Stopped::Interrupted { "patience".into() } else { s.stopped.to_string() };
    fate.drops = s.drops.len();
    fate.flagged = s.drops.iter().filter(|d| d.flagged).count();
    fate.rollbacks = outcome.counts.rollbacks;
    (fate.steps, fate.cells) = (outcome.counts.steps_accepted, outcome.counts.cells_max);
    (fate.volume, fate.energy) = (s.conservation.volume_relative, s.conservation.energy_relative);
    fate
}

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().unwrap_or_else(|e| panic!("{name}: {e}")))
}

/// An ordinary test run leaves the costly cases out.
fn light_only() -> bool {
    number("SLENDERJET_RANDOM_HEAVY", 0) == 0
}

/// Fates known from an earlier, broken run.
fn known(log: Option<&std::path::Path>) -> BTreeMap<u64, Fate> {
    let text = log.and_then(|path| std::fs::read_to_string(path).ok()).unwrap_or_default();
    text.lines().filter_map(|line| serde_json::from_str::<Fate>(line).ok()).map(|fate| (fate.index, fate)).collect()
}

/// Numbers of the first `cases` cases, with or without the costly ones.
fn numbers(seed: u64, cases: u64) -> Vec<u64> {
    let wanted = |index: &u64| !light_only() || !random::draw(seed, *index).heavy;
    (0..).filter(wanted).take(cases as usize).collect()
}

/// All fates, on all cores; each is logged as soon as it is known.
fn live_all(seed: u64, indices: &[u64], patience: u64) -> Vec<Fate> {
    let log = std::env::var_os("SLENDERJET_RANDOM_LOG").map(std::path::PathBuf::from);
    let fates = Mutex::new(known(log.as_deref()));
    let file = log.map(|path| std::fs::OpenOptions::new().create(true).append(true).open(path).expect("the log"));
    let (file, next) = (Mutex::new(file), AtomicUsize::new(0));
    let cores = std::thread::available_parallelism().map_or(1, |n| n.get() as u64);
    std::thread::scope(|scope| {
        for _ in 0..number("SLENDERJET_RANDOM_THREADS", cores) {
            scope.spawn(|| {
                while let Some(&index) = indices.get(next.fetch_add(1, Ordering::Relaxed)) {
                    if fates.lock().expect("no panic inside").contains_key(&index) {
                        continue;
                    }
                    let fate = live(seed, index, patience);
                    if let Some(file) = file.lock().expect("no panic inside").as_mut() {
                        let line = serde_json::to_string(&fate).expect("plain") + "\n";
                        file.write_all(line.as_bytes()).expect("logged");
                    }
                    fates.lock().expect("no panic inside").insert(index, fate);
                }
            });
        }
    });
    let mut fates = fates.into_inner().expect("no panic inside");
    indices.iter().filter_map(|index| fates.remove(index)).collect()
}

/// Quantile of a list.
fn quantile(mut list: Vec<f64>, share: f64) -> f64 {
    list.sort_by(f64::total_cmp);
    list.get((share * list.len() as f64) as usize).copied().unwrap_or(0.0)
}

#[test]
fn random_possible_cases_come_to_a_named_end() {
    let seed = number("SLENDERJET_RANDOM_SEED", SEED);
    if std::env::var_os("SLENDERJET_RANDOM_SHOW").is_some() {
        return println!("{}", random::draw(seed, number("SLENDERJET_RANDOM_SHOW", 0)).text);
    }
    let indices = numbers(seed, number("SLENDERJET_RANDOM_CASES", CASES));
    let patience = number("SLENDERJET_RANDOM_STEPS", STEPS);
    let fates = live_all(seed, &indices, patience);
    assert_eq!(fates.len(), indices.len());
    tell(&fates);
    let broken: Vec<_> = fates.iter().filter_map(|f| Some((f.index, f.broken.as_ref()?))).collect();
    assert!(broken.is_empty(), "{broken:?}");
    let leaks: Vec<_> = fates.iter().filter(|f| !(f.volume <= VOLUME)).map(|f| (f.index, f.volume)).collect();
    assert!(leaks.is_empty(), "volume lost: {leaks:?}");
    let nameless: Vec<_> = fates.iter().filter(|f| !ENDS.contains(&f.stopped.as_str())).map(|f| f.index).collect();
    assert!(nameless.is_empty(), "ended without a known name: {nameless:?}");
    for (in_liquid, bounds) in [(false, ENERGY_IN_GAS), (true, ENERGY_IN_LIQUID)] {
        let list = || fates.iter().filter(|f| f.viscosity_ratio.is_some() == in_liquid).map(|f| f.energy).collect();
        let found = [quantile(list(), 0.5), quantile(list(), 0.9)];
        println!("energy residual, in a liquid: {in_liquid}: median {:.2e}, 90 % {:.2e}", found[0], found[1]);
        assert!(found[0] <= bounds[0] && found[1] <= bounds[1], "energy: {found:?} against {bounds:?}");
    }
    let short: Vec<u64> = fates.iter().filter(|f| !ANSWERS.contains(&f.stopped.as_str())).map(|f| f.index).collect();
    let allowed = if patience < WHOLE_BUDGET { SHORT_IN_HASTE } else { SHORT };
    let count = short.len();
    assert!(count as f64 <= (allowed * fates.len() as f64).ceil(), "{count} of {} without their drops", fates.len());
}

/// How they ended, and every one that ended without its drops.
fn tell(fates: &[Fate]) {
    let mut ends: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for fate in fates {
        *ends.entry((&fate.layout, &fate.stopped)).or_default() += 1;
    }
    for ((layout, stopped), n) in &ends {
        println!("{layout:12} {stopped:16} {n}");
    }
    for fate in fates.iter().filter(|f| f.stopped != "drops_reached" || f.broken.is_some()) {
        println!("{}", serde_json::to_string(fate).expect("plain"));
    }
}
