//! A case in, what happens out: `cargo run --release --example break_up`. Invented data. Needs no feature (no HDF5).

use slenderjet::prelude::*;

const CASE: &str = r#"
title = "Nutrient oil over a seedling tray (invented)"
layout = "pendant"
[inner]
viscosity = "24 mPa.s"
density = "920 kg/m3"
flow = "60 mL/h"
[interface]
tension = "32 mN/m"
[device]
tip_bore = "1 mm"
[gravity]
along = "down"
[run]
drops = 3
accuracy = "coarse"
"#;

/// Counts the recorded snapshots and stops after a while: what any observer may do.
struct Listener {
    frames: usize,
}

impl Observer for Listener {
    fn frame(&mut self, _: &Frame) {
        self.frames += 1;
    }

    fn progress(&mut self, at: &Progress) -> Next {
        if at.steps > 1_000_000 { Next::Interrupt } else { Next::Continue }
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let case = parse(CASE, "nursery.toml")?;
    let mut listener = Listener { frames: 0 };
    let outcome = simulate(&case, None, &mut listener)?;
    let summary = &outcome.summary;
    println!("{} after {} snapshots: {} drops", summary.mode, listener.frames, summary.drops.len());
    for drop in &summary.drops {
        println!("{:8.2} ms  {:7.1} um  {:?}", 1e3 * drop.time_s, 1e6 * drop.diameter_m, drop.kind);
    }
    for warning in &summary.warnings {
        println!("limit exceeded: {}", warning.text);
    }
    Ok(())
}
