//! Figures of short real runs: every kind in every format, checked by structure; the files stay for people to look at.

mod drawn;

use slenderjet::figures::{Kind, Source, Wish, draw};
use std::fs;

#[test]
fn look_at_everything() {
    let folder = drawn::folder("figures");
    let mut sources = Vec::new();
    for (name, case) in [
        ("dripping", drawn::dripping()),
        ("jet", drawn::jet()),
        ("counterflow", drawn::counterflow()),
        ("segment", drawn::segment()),
    ] {
        let start = std::time::Instant::now();
        let run = drawn::recorded(case);
        eprintln!(
            "{name}: {:?}, {} frames {} drops mode {} stopped {}",
            start.elapsed(),
            run.frames.len(),
            run.summary.drops.len(),
            run.summary.mode,
            run.summary.stopped
        );
        sources.push(Source::Run(Box::new(run)));
        let source = [sources[sources.len() - 1].clone()];
        for kind in [Kind::Strip, Kind::Spacetime, Kind::Neck, Kind::Sizes, Kind::Trace] {
            let start = std::time::Instant::now();
            match draw(&[kind], &source, &Wish::default()) {
                Ok(figure) => {
                    let stem = folder.join(format!("{name}-{}", kind.name()));
                    fs::write(stem.with_extension("svg"), figure.svg()).unwrap();
                    fs::write(stem.with_extension("pdf"), figure.pdf().unwrap()).unwrap();
                    fs::write(stem.with_extension("png"), figure.png().unwrap()).unwrap();
                    eprintln!("  {} {:?} svg {}", kind.name(), start.elapsed(), figure.svg().len());
                }
                Err(e) => eprintln!("  {}: {e}", kind.name()),
            }
        }
    }
    for (name, kinds, sources) in [
        ("compare", &[Kind::Compare][..], &sources[..]),
        ("panels", &[Kind::Strip, Kind::Neck, Kind::Sizes][..], &sources[..1]),
    ] {
        let figure = draw(kinds, sources, &Wish::default()).unwrap();
        fs::write(folder.join(format!("{name}.png")), figure.png().unwrap()).unwrap();
        fs::write(folder.join(format!("{name}.pdf")), figure.pdf().unwrap()).unwrap();
    }
}
