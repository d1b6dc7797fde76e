//! Reports: what is in the page, and that a real browser plays it. The pages and screenshots stay in `target/tmp/report`.

use crate::drawn;
use slenderjet::figures::Source;
use slenderjet::figures::glass::Glass;
use slenderjet::figures::map::MapTable;
use slenderjet::figures::rounding::Rounding;
use slenderjet::figures::snapshots::shown_break;
use slenderjet::figures::solid;
use slenderjet::record::Recorded;
use slenderjet::report::page;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

const COMMAND: &str = "slenderjet report run.h5 -o report.html";

fn jet() -> &'static Recorded {
    static JET: OnceLock<Recorded> = OnceLock::new();
    JET.get_or_init(|| drawn::recorded(drawn::jet()))
}

fn dripping() -> &'static Recorded {
    static DRIPPING: OnceLock<Recorded> = OnceLock::new();
    DRIPPING.get_or_init(|| drawn::recorded(drawn::dripping()))
}

fn source(run: &Recorded) -> Source {
    Source::Run(Box::new(run.clone()))
}

fn map() -> Source {
    Source::Map(Box::new(MapTable::of(&drawn::map()).unwrap()))
}

fn body(html: &str) -> &str {
    html.split_once("<main").unwrap().1.split_once("</main>").unwrap().0
}

#[test]
fn the_page_of_a_run_holds_all_its_parts_and_is_small() {
    let html = page(&[source(jet())], COMMAND).unwrap();
    for id in ["movie", "summary", "warnings", "figures", "drops", "case", "cautions", "provenance"] {
        assert!(html.contains(&format!("<section id=\"{id}\"")), "no {id}");
    }
    let s = &jet().summary;
    assert!(html.contains(&s.provenance.case_sha256) && html.contains(&s.provenance.command));
    assert!(html.contains(COMMAND));
    assert_eq!(html.matches("<figure class=").count(), 6);
    assert_eq!(body(&html).matches("<tr><td class=\"n\"").count(), s.drops.len());
    assert!(html.len() < 3_000_000, "{} bytes", html.len());
}

/// Nothing is fetched: the only addresses are names of XML vocabularies.
#[test]
fn the_page_asks_nothing_of_the_network() {
    for sources in [vec![source(jet())], vec![map()], vec![source(jet()), source(dripping())]] {
        let html = page(&sources, COMMAND).unwrap();
        for (at, _) in html.match_indices("://") {
            let start = html[..at].rfind(['"', '\'', ' ']).unwrap() + 1;
            let address = &html[start..at + 20];
            assert!(
                address.starts_with("http://www.w3.org/") || address.starts_with("http://purl.org/dc"),
                "{address}"
            );
        }
        for way in [" src=\"", "url(http", "@import", "fetch(", "XMLHttpRequest", "import("] {
            assert!(!html.contains(way), "{way}");
        }
        assert!(html.contains("default-src 'none'"));
    }
}

#[test]
fn every_text_of_the_user_is_escaped() {
    let bad = "</script><script>alert(1)</script><img src=x onerror=alert(2)> \"quoted' & \u{202e}";
    let mut run = jet().clone();
    run.summary.title = bad.into();
    run.summary.mode_evidence = bad.into();
    run.summary.warnings = vec![slenderjet::outcome::Warning { code: "a".into(), text: bad.into() }];
    run.summary.cautions = vec![bad.into()];
    run.summary.provenance.command = bad.into();
    run.case_text = format!("title = \"{bad}\"");
    let mut map = MapTable::of(&drawn::map()).unwrap();
    map.title = bad.into();
    map.case_text = bad.into();
    map.reason[3] = bad.into();
    for sources in [vec![source(&run)], vec![Source::Map(Box::new(map))], vec![source(&run), source(&run)]] {
        let html = page(&sources, bad).unwrap();
        assert!(!html.contains("<script>alert") && !html.contains("<img"), "a user's text became a tag");
        let own = html.matches("<script").count();
        let movies = html.matches("class=\"player\"").count();
        assert_eq!(own, 1 + movies);
    }
}

#[test]
fn a_map_and_several_runs_have_pages_of_their_own() {
    let html = page(&[map()], COMMAND).unwrap();
    assert!(html.contains("MADE UP") && html.matches("<figure").count() == 1);
    assert_eq!(body(&html).matches("<tr><td").count(), 56);
    let html = page(&[source(jet()), source(dripping())], COMMAND).unwrap();
    assert_eq!(html.matches("class=\"player\"").count(), 2);
    assert!(html.contains("Side by side") && html.contains("class=\"compare\""));
    assert!(page(&[source(jet()), map()], COMMAND).is_err() && page(&[], COMMAND).is_err());
}

#[test]
fn a_run_without_snapshots_or_drops_still_has_a_page() {
    let mut bare = jet().clone();
    (bare.frames, bare.necks, bare.pinch_offs) = (vec![], vec![], vec![]);
    bare.summary.drops.clear();
    let html = page(&[source(&bare)], COMMAND).unwrap();
    assert!(html.contains("there is no movie") && html.contains("No drop came off"));
}

#[test]
fn a_long_movie_is_thinned_and_said_to_be() {
    let html = page(&[source(&drawn::large(jet().clone(), 1000, 1000))], COMMAND).unwrap();
    assert!(html.contains("recorded snapshots are in the movie"));
    assert!(html.len() < 6_000_000, "{} bytes", html.len());
}

fn expected(name: &str, title: &str, runs: &[&Recorded], sort_column: usize) -> serde_json::Value {
    let last = runs.first().map(|run| {
        let frame = run.frames.last().unwrap();
        let drawn = solid::drawn(frame, &Glass::of(&run.case), &Rounding::of(run)).bodies;
        let bodies: Vec<_> = drawn.iter().map(|b| serde_json::json!([b.z, b.h])).collect();
        serde_json::json!({ "time": frame.time, "bodies": bodies })
    });
    let opening = runs.first().map(|run| run.pinch_offs[shown_break(run).unwrap()].time);
    serde_json::json!({
        "name": name,
        "title": title,
        "movies": runs.len(),
        "breakups": runs.first().map_or(0, |r| r.pinch_offs.len()),
        "sort_column": sort_column,
        "last": last,
        "opening": opening,
    })
}

/// Where chromium or playwright-core is missing the test says so and passes, unless SLENDERJET_REQUIRE_BROWSER is set.
#[test]
fn a_real_browser_plays_the_page() {
    let folder = drawn::folder("report");
    let mut hostile = dripping().clone();
    hostile.summary.title = "<script>alert(1)</script>".into();
    let pages = [
        (vec![source(jet())], expected("run", &jet().summary.title, &[jet()], 3)),
        (vec![source(&hostile)], expected("hostile", "<script>alert(1)</script>", &[&hostile], 3)),
        (vec![map()], expected("map", "MADE UP: modes of a drawing test", &[], 3)),
        (vec![source(jet()), source(dripping())], expected("several", "Comparison of 2 runs", &[jet(), dripping()], 0)),
    ];
    let tools = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/browser");
    let chromium = std::env::var("SLENDERJET_CHROMIUM").unwrap_or_else(|_| "/usr/bin/chromium".into());
    let missing = [
        (Path::new(&chromium).to_owned(), "chromium (apt-get install chromium)"),
        (tools.join("node_modules/playwright-core"), "playwright-core (npm ci --prefix tests/browser)"),
    ]
    .into_iter()
    .find(|(path, _)| !path.exists());
    for (sources, expected) in &pages {
        let path = folder.join(format!("{}.html", expected["name"].as_str().unwrap()));
        fs::write(&path, page(sources, COMMAND).unwrap()).unwrap();
        fs::write(path.with_extension("json"), expected.to_string()).unwrap();
        if missing.is_some() {
            continue;
        }
        let script = tools.join("page.mjs");
        let run = Command::new("node").arg(script).args([&path, &path.with_extension("json"), &folder]).output();
        let run = run.expect("node runs");
        let (out, err) = (String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
        assert!(run.status.success(), "{}\n{out}\n{err}", path.display());
    }
    if let Some((_, what)) = missing {
        assert!(std::env::var_os("SLENDERJET_REQUIRE_BROWSER").is_none(), "no {what}");
        eprintln!("skipped: no {what}");
    }
}
