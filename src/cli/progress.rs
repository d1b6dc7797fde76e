//! A progress bar on stderr: drops, simulated time, time left.

use super::quantity;
use crate::simulate::Progress;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::cell::Cell;
use std::time::Instant;

/// Steps of the bar: finer than any terminal shows.
const LENGTH: u64 = 1_000;
/// Redraws a second.
const REDRAWS: u8 = 8;

/// The bar of a run.
pub struct Bar {
    bar: ProgressBar,
    began: Instant,
    left: Cell<Left>,
}

/// Time left, foreseen at the last drop: between two of them it runs down and never up.
#[derive(Debug, Clone, Copy, Default)]
struct Left {
    /// Share done when the bar began, and now.
    start: Option<f64>,
    share: f64,
    /// When that was, and how long it would take from then, s.
    at: f64,
    takes: Option<f64>,
}

impl Left {
    /// After `gone` seconds with this share done.
    fn seen(self, share: f64, gone: f64) -> Left {
        let start = self.start.unwrap_or(share);
        let done = share - start;
        match done > 0.0 && share > self.share {
            true => Left { start: Some(start), share, at: gone, takes: Some(gone * (1.0 - share) / done) },
            false => Left { start: Some(start), ..self },
        }
    }

    fn words(self, gone: f64) -> String {
        match self.takes {
            Some(_) if self.share >= 1.0 => "until it settles".into(),
            Some(takes) => format!("about {} left", quantity::time((takes - (gone - self.at)).max(0.0).round())),
            None => String::new(),
        }
    }
}

impl Bar {
    /// An empty bar on stderr.
    pub fn new() -> Bar {
        let bar = ProgressBar::with_draw_target(Some(LENGTH), ProgressDrawTarget::stderr_with_hz(REDRAWS));
        let shape = "{bar:30.cyan} {percent:>3} %  {elapsed} gone  {msg}";
        if let Ok(style) = ProgressStyle::with_template(shape) {
            bar.set_style(style.progress_chars("=> "));
        }
        Bar { bar, began: Instant::now(), left: Cell::default() }
    }

    /// Shows where a run has got to.
    pub fn show(&self, at: &Progress) {
        let (gone, share) = (self.began.elapsed().as_secs_f64(), at.fraction.clamp(0.0, 1.0));
        let left = self.left.get().seen(share, gone);
        self.left.set(left);
        self.bar.set_message(format!("{} drops, t = {}  {}", at.primaries, quantity::time(at.time), left.words(gone)));
        self.bar.set_position((share * LENGTH as f64) as u64);
    }

    /// Wipes the bar, so that the answer stands alone.
    pub fn close(self) {
        self.bar.finish_and_clear();
    }
}

/// A line on stderr for a computation whose end nobody can foresee.
#[derive(Debug)]
pub struct Line(ProgressBar);

impl Line {
    /// An empty one.
    pub fn new() -> Line {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(REDRAWS));
        if let Ok(style) = ProgressStyle::with_template("{spinner} {elapsed} gone  {msg}") {
            bar.set_style(style);
        }
        Line(bar)
    }

    /// Where it has got to.
    pub fn say(&self, text: String) {
        self.0.set_message(text);
        self.0.tick();
    }

    /// Wipes the line.
    pub fn close(self) {
        self.0.finish_and_clear();
    }
}

impl Default for Line {
    fn default() -> Self {
        Line::new()
    }
}

impl Default for Bar {
    fn default() -> Self {
        Bar::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Ten drops, one a second: what is left runs down between them.
    #[test]
    fn time_left_never_rises_at_an_even_rate() {
        let (mut left, mut last) = (Left::default(), f64::INFINITY);
        for tenth in 0..100 {
            let gone = f64::from(tenth) / 10.0;
            left = left.seen(gone.floor() / 10.0, gone);
            if let Some(takes) = left.takes {
                let now = takes - (gone - left.at);
                assert!(now <= last + 1e-9 && (now - (10.0 - gone)).abs() < 1.01, "{gone}: {now}");
                last = now;
            }
        }
        assert!(last < 1.2 && left.words(9.9).contains("left"), "{last}");
        assert_eq!(left.seen(1.0, 10.0).words(12.0), "until it settles");
    }
}
