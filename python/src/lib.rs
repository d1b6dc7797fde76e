//! The model for Python: cases as text in, JSON text and bytes of doubles out. Everything a user sees is in `slenderjet/__init__.py`.
//!
//! Work runs on a thread of its own with the interpreter lock released; the caller's thread looks for Ctrl-C twenty times a second.

use pyo3::exceptions::{PyRuntimeError, PyValueError};
use pyo3::prelude::*;
use pyo3::types::PyBytes;
use serde_json::json;
use slenderjet::case::{Case, CaseErrors, Layout, Stop, parse_with};
use slenderjet::device::strength::GUIDE_JOINTS;
use slenderjet::outcome::{Frame, Outcome};
use slenderjet::simulate::{Next, Observer, Progress, simulate};
use slenderjet::study::StudyError;
use slenderjet::study::aim::start::written;
use slenderjet::study::aim::{DROPS, Wish};
use slenderjet::study::calibrate::Question;
use slenderjet::study::crossings::{borders, told};
use slenderjet::study::evaluate::{Counted, Length, simulated};
use slenderjet::study::map::fill::in_parallel;
use slenderjet::study::measured;
use slenderjet::study::spread::{self, DropReadings, Known};
use slenderjet::units::{self, Kind};
use slenderjet::{groups, limits, study};
use std::sync::{Arc, Mutex};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

/// How often the caller's thread looks for Ctrl-C.
const LOOK: Duration = Duration::from_millis(50);

/// What went wrong, in the library's own words for Python's `ValueError`.
type Fault = Box<dyn std::error::Error + Send + Sync>;

/// Runs `work` beside the interpreter; Ctrl-C raises `KeyboardInterrupt` once the work has seen it.
fn beside<T: Send + 'static>(
    py: Python<'_>,
    work: impl FnOnce(&AtomicBool) -> Result<T, Fault> + Send + 'static,
) -> PyResult<T> {
    let stop = Arc::new(AtomicBool::new(false));
    let (sender, receiver) = channel();
    // shared with the part of the call that runs without the interpreter's lock
    let receiver = Mutex::new(receiver);
    let heard = Arc::clone(&stop);
    let worker = std::thread::spawn(move || {
        let done = work(&heard);
        // The receiver is gone only where the caller is.
        let _ = sender.send(done);
    });
    let mut interrupt = None;
    loop {
        let answer = py.detach(|| receiver.lock().map_or(Err(RecvTimeoutError::Disconnected), |r| r.recv_timeout(LOOK)));
        match answer {
            Ok(done) => {
                let _ = worker.join();
                return match interrupt {
                    Some(error) => Err(error),
                    None => done.map_err(|fault| PyValueError::new_err(fault.to_string())),
                };
            }
            Err(RecvTimeoutError::Timeout) => {
                if let Err(error) = py.check_signals() {
                    stop.store(true, Ordering::Relaxed);
                    interrupt.get_or_insert(error);
                }
            }
            Err(RecvTimeoutError::Disconnected) => {
                return Err(PyRuntimeError::new_err("the computation ended without an answer; please report this case"));
            }
        }
    }
}

fn case_of(text: &str, name: &str, changes: &[String]) -> Result<Case, CaseErrors> {
    parse_with(text, name, changes)
}

struct Kept<'a> {
    frames: Vec<Frame>,
    stop: &'a AtomicBool,
}

impl Observer for Kept<'_> {
    fn frame(&mut self, frame: &Frame) {
        self.frames.push(frame.clone());
    }

    fn interval(&mut self, interval: f64) {
        self.frames.retain(|frame| frame.stays(interval));
    }

    fn progress(&mut self, _: &Progress) -> Next {
        if self.stop.load(Ordering::Relaxed) { Next::Interrupt } else { Next::Continue }
    }
}

fn bytes_of(values: impl Iterator<Item = f64>) -> Vec<u8> {
    values.flat_map(f64::to_le_bytes).collect()
}

/// Summary (JSON), times, bodies in each frame, nodes in each body, attached or not, then z, h, u of all nodes (doubles, little end first).
type Told<'py> = (
    String,
    Bound<'py, PyBytes>,
    Vec<usize>,
    Vec<usize>,
    Vec<bool>,
    Bound<'py, PyBytes>,
    Bound<'py, PyBytes>,
    Bound<'py, PyBytes>,
);

#[pyfunction]
fn run<'py>(py: Python<'py>, text: String, name: String, changes: Vec<String>) -> PyResult<Told<'py>> {
    let (summary, frames) = beside(py, move |stop| {
        let case = case_of(&text, &name, &changes)?;
        let mut kept = Kept { frames: Vec::new(), stop };
        let outcome = simulate(&case, None, &mut kept)?;
        Ok((serde_json::to_string(&outcome.summary)?, kept.frames))
    })?;
    let bodies = || frames.iter().flat_map(|frame| &frame.bodies);
    let bytes = |values: Vec<u8>| PyBytes::new(py, &values);
    Ok((
        summary,
        bytes(bytes_of(frames.iter().map(|f| f.time))),
        frames.iter().map(|f| f.bodies.len()).collect(),
        bodies().map(|b| b.z.len()).collect(),
        bodies().map(|b| b.attached).collect(),
        bytes(bytes_of(bodies().flat_map(|b| b.z.iter().copied()))),
        bytes(bytes_of(bodies().flat_map(|b| b.h.iter().copied()))),
        bytes(bytes_of(bodies().flat_map(|b| b.u.iter().copied()))),
    ))
}

/// Runs one case for each list of changes, side by side. Each answer is a summary (JSON), or an error in words; with the SI values of
/// the keys that were changed.
#[pyfunction]
fn sweep(
    py: Python<'_>,
    text: String,
    name: String,
    changes: Vec<String>,
    rows: Vec<Vec<String>>,
    threads: usize,
) -> PyResult<Vec<(Vec<f64>, Option<String>, Option<String>)>> {
    beside(py, move |stop| {
        // What is wrong with the case itself is told once and as such.
        case_of(&text, &name, &changes)?;
        in_parallel(threads, &rows, |row| {
            let all: Vec<String> = changes.iter().chain(row).cloned().collect();
            let case = match case_of(&text, &name, &all) {
                Ok(case) => case,
                Err(errors) => return (Vec::new(), None, Some(errors.to_string())),
            };
            let si = |change: &String| {
                let key = change.split('=').next().unwrap_or_default().trim();
                case.typed.iter().find(|typed| typed.key == key).map_or(f64::NAN, |typed| typed.si)
            };
            let values = row.iter().map(si).collect();
            let answer = simulate(&case, None, &mut Kept { frames: Vec::new(), stop }).map_err(Fault::from);
            match answer.and_then(|outcome| Ok(serde_json::to_string(&outcome.summary)?)) {
                Ok(summary) => (values, Some(summary), None),
                Err(why) => (values, None, Some(why.to_string())),
            }
        })
        .map_err(Fault::from)
    })
}

/// Is the case well posed? Groups, base flow, warnings, cautions, as JSON. No simulation.
#[pyfunction]
fn check(py: Python<'_>, text: String, name: String, changes: Vec<String>) -> PyResult<String> {
    beside(py, move |_| {
        let case = case_of(&text, &name, &changes)?;
        let streams = !matches!(case.layout, Layout::Segment(_));
        let stop = match case.run.stop {
            Stop::Drops(n) => json!({ "drops": n }),
            Stop::Until(time) => json!({ "until_s": time }),
        };
        let inputs: Vec<_> =
            case.typed.iter().map(|t| json!({ "key": t.key, "typed": t.text, "si": t.si, "unit": t.unit })).collect();
        Ok(json!({
            "valid": true,
            "title": case.title,
            "layout": case.layout.name(),
            "inputs": inputs,
            "groups": groups::groups(&case),
            "base_flow": streams.then(|| limits::base_flow::base_flow(&case)),
            "jet": if streams { limits::base_flow::jet(&case) } else { None },
            "expected": limits::expected::expected(&case),
            "stop": stop,
            "warnings": limits::warnings(&case),
            "cautions": limits::cautions::cautions(&case),
        })
        .to_string())
    })
}

/// Growth rate against wavenumber as JSON.
#[pyfunction]
fn growth(py: Python<'_>, text: String, name: String, changes: Vec<String>, at: Vec<f64>) -> PyResult<String> {
    beside(py, move |_| {
        let case = case_of(&text, &name, &changes)?;
        let answer = study::growth::growth(&case, &at).ok_or("this case has no thread: nothing flows")?;
        Ok(serde_json::to_string(&answer)?)
    })
}

/// True spread of measured drops: readings in metres, one list a drop.
#[pyfunction]
fn true_spread(py: Python<'_>, readings: Vec<Vec<f64>>, reading_sd: Option<f64>, rate: Option<f64>, flow: Option<f64>) -> PyResult<String> {
    beside(py, move |_| {
        if readings.iter().flatten().any(|d| !(*d > 0.0 && d.is_finite())) {
            return Err("diameters are numbers above zero, in metres".into());
        }
        let drops: Vec<DropReadings> =
            readings.iter().enumerate().map(|(i, list)| DropReadings::from_diameters((i + 1).to_string(), list)).collect();
        if drops.is_empty() {
            return Err("no drop was given".into());
        }
        let known = Known { reading_sd, rate, flow, satellites_below: None, pixel: None, scale_tolerance: None };
        Ok(serde_json::to_string(&spread::analyse(&drops, &known))?)
    })
}

/// Answers the cases of a study until the caller wants to stop.
fn bench(stop: &AtomicBool) -> impl Fn(&Case, Length) -> Result<Outcome, StudyError> + Sync {
    move |case, length| simulated(case, length, &|| stop.load(Ordering::Relaxed))
}

fn quantity(text: &str, kind: Kind) -> Result<f64, Fault> {
    let si = units::read(text, kind)?.si;
    if si > 0.0 { Ok(si) } else { Err(format!("{} above zero is needed", kind.name()).into()) }
}

/// What a wish is made of, as text with units.
type Wished = (String, Option<String>, bool, Option<String>, bool);

/// Which flows give a wished drop? The answer as JSON, and the case with those flows.
#[pyfunction]
fn aim(
    py: Python<'_>,
    text: String,
    name: String,
    changes: Vec<String>,
    wish: Wished,
    threads: usize,
) -> PyResult<(String, Option<String>)> {
    beside(py, move |stop| {
        let case = case_of(&text, &name, &changes)?;
        let (diameter, rate, no_satellites, pressure, margins) = wish;
        let wish = Wish {
            diameter: quantity(&diameter, Kind::Length)?,
            rate: rate.map(|text| quantity(&text, Kind::Frequency)).transpose()?,
            no_satellites,
            pressure: Some(pressure.map_or(Ok(GUIDE_JOINTS), |text| quantity(&text, Kind::Pressure))?),
            range: None,
            margins,
        };
        let (aimed, found) = study::aim::aim(&case, &wish, &bench(stop), threads)?;
        let found = found.map(|best| -> Result<String, CaseErrors> {
            let set = |case: &Case, key: &str, flow: f64| case.with_text(key, &written(flow));
            let changed = set(&case, "inner.flow", best.inner.flow)?;
            match &best.outer {
                Some(outer) if outer.flow > 0.0 => Ok(set(&changed, "outer.flow", outer.flow)?.text),
                _ => Ok(changed.text),
            }
        });
        Ok((serde_json::to_string(&aimed)?, found.transpose()?))
    })
}

/// How far each input may drift, and the borders of the mode within a factor, as JSON.
#[pyfunction]
fn margins(
    py: Python<'_>,
    text: String,
    name: String,
    changes: Vec<String>,
    within: Option<f64>,
    threads: usize,
) -> PyResult<String> {
    beside(py, move |stop| {
        let case = case_of(&text, &name, &changes)?;
        let answer = bench(stop);
        let ask = Counted::new(&answer);
        let size = study::margins::margins(&case, None, DROPS, &ask, threads)?;
        let border = within.map(|factor| borders(&case, factor, DROPS, &ask, threads)).transpose()?;
        Ok(serde_json::to_string(&told(&case, &size, border.as_ref(), ask.count()))?)
    })
}

/// Which tension, tip or scale explains measured drops? The table as CSV text; the answer as JSON.
#[pyfunction]
fn calibrate(
    py: Python<'_>,
    text: String,
    name: String,
    changes: Vec<String>,
    table: String,
    free: Vec<String>,
    scale: Option<(f64, f64)>,
    model_error: Option<f64>,
    threads: usize,
) -> PyResult<String> {
    beside(py, move |stop| {
        let case = case_of(&text, &name, &changes)?;
        let table = measured::read(table.as_bytes(), measured::DROPS)?;
        let question = Question::new(&case, &table, &free, scale, model_error)?;
        let answer = bench(stop);
        let found = study::calibrate::calibrate(&case, &table, &question, &Counted::new(&answer), threads)?;
        Ok(serde_json::to_string(&found)?)
    })
}

/// Properties of one liquid or surfactant or of all, at a temperature, as JSON.
#[pyfunction]
fn liquids(name: Option<String>, at: Option<String>) -> PyResult<String> {
    let at = at.map(|text| units::read(&text, Kind::Temperature).map(|r| r.si)).transpose();
    let at = at.map_err(|e| PyValueError::new_err(e.to_string()))?;
    let found = slenderjet::liquids::told::listed(name.as_deref(), at).map_err(|e| PyValueError::new_err(e.to_string()))?;
    serde_json::to_string(&slenderjet::liquids::told::told(&found)).map_err(|e| PyValueError::new_err(e.to_string()))
}

/// Names and texts of the ready cases.
#[pyfunction]
fn examples() -> Vec<(&'static str, &'static str)> {
    slenderjet::case::examples::EXAMPLES.iter().map(|e| (e.name, e.text)).collect()
}

#[pymodule]
fn _core(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add_function(wrap_pyfunction!(run, module)?)?;
    module.add_function(wrap_pyfunction!(sweep, module)?)?;
    module.add_function(wrap_pyfunction!(check, module)?)?;
    module.add_function(wrap_pyfunction!(growth, module)?)?;
    module.add_function(wrap_pyfunction!(true_spread, module)?)?;
    module.add_function(wrap_pyfunction!(aim, module)?)?;
    module.add_function(wrap_pyfunction!(margins, module)?)?;
    module.add_function(wrap_pyfunction!(calibrate, module)?)?;
    module.add_function(wrap_pyfunction!(liquids, module)?)?;
    module.add_function(wrap_pyfunction!(examples, module)?)
}
