//! A progress bar on stderr: drops, simulated time, time left.

use super::quantity;
use crate::simulate::Progress;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Steps of the bar: finer than any terminal shows.
const LENGTH: u64 = 1_000;
/// Redraws a second.
const REDRAWS: u8 = 8;

/// The bar of a run.
pub struct Bar(ProgressBar);

impl Bar {
    /// An empty bar on stderr.
    pub fn new() -> Bar {
        let bar = ProgressBar::with_draw_target(Some(LENGTH), ProgressDrawTarget::stderr_with_hz(REDRAWS));
        let shape = "{bar:30.cyan} {percent:>3} %  {msg}  {elapsed} gone, {eta} left";
        if let Ok(style) = ProgressStyle::with_template(shape) {
            bar.set_style(style.progress_chars("=> "));
        }
        Bar(bar)
    }

    /// Shows where a run has got to.
    pub fn show(&self, at: &Progress) {
        self.0.set_message(format!("{} drops, t = {}", at.primaries, quantity::time(at.time)));
        self.0.set_position((at.fraction.clamp(0.0, 1.0) * LENGTH as f64) as u64);
    }

    /// Wipes the bar, so that the answer stands alone.
    pub fn close(self) {
        self.0.finish_and_clear();
    }
}

impl Default for Bar {
    fn default() -> Self {
        Bar::new()
    }
}
