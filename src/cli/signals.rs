//! Ctrl-C, hang-ups and closed pipes.

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Exit code of an interrupted program, by the shells' convention 128 + SIGINT.
const INTERRUPTED: i32 = 130;

/// Set by the first Ctrl-C (or SIGTERM); the second one ends the program at once.
#[derive(Debug, Clone)]
pub struct Interrupt(Arc<AtomicBool>);

impl Interrupt {
    /// Starts to listen.
    pub fn listen() -> Interrupt {
        let asked = Arc::new(AtomicBool::new(false));
        for signal in [SIGINT, SIGTERM] {
            // The order matters: the shutdown looks at the flag before the first signal sets it. Where a handler
            // cannot be registered the signal simply keeps its usual effect.
            let _ = flag::register_conditional_shutdown(signal, INTERRUPTED, Arc::clone(&asked));
            let _ = flag::register(signal, Arc::clone(&asked));
        }
        hear_hangup(&asked);
        Interrupt(asked)
    }

    /// Whether the user asked to stop.
    pub fn asked(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// A terminal that closes or a connection that breaks asks as Ctrl-C does, but never a second time: shell and system both send it.
/// Under `nohup` the signal is ignored and stays so.
#[cfg(unix)]
fn hear_hangup(asked: &Arc<AtomicBool>) {
    if !hangup_is_ignored() {
        let _ = flag::register(signal_hook::consts::SIGHUP, Arc::clone(asked));
    }
}

#[cfg(not(unix))]
fn hear_hangup(_: &Arc<AtomicBool>) {}

/// Linux tells; elsewhere a process without a terminal on its output is taken for one under `nohup`.
#[cfg(unix)]
fn hangup_is_ignored() -> bool {
    use std::io::IsTerminal;
    let told = std::fs::read_to_string("/proc/self/status").ok();
    let mask = told.as_deref().and_then(|text| text.lines().find_map(|line| line.strip_prefix("SigIgn:")));
    match mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()) {
        Some(mask) => mask & (1 << (signal_hook::consts::SIGHUP - 1)) != 0,
        None => !std::io::stdout().is_terminal() && !std::io::stderr().is_terminal(),
    }
}

/// `slenderjet liquids | head` should end quietly, as other programs do, when `head` has seen enough.
#[cfg(unix)]
pub fn end_on_closed_pipe() {
    let always = Arc::new(AtomicBool::new(true));
    // Without the handler a closed pipe is reported as an error instead: no harm.
    let _ = flag::register_conditional_default(signal_hook::consts::SIGPIPE, always);
}

#[cfg(not(unix))]
pub fn end_on_closed_pipe() {}
