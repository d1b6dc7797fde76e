//! `aim`: which flow rates give a wished drop.

use super::quantity::{flow, length, number, percent, pressure, rate, time};
use super::studies::{self, Bench, Keeping};
use super::text::Page;
use super::{Failure, Output, answer, case_file, map, output, print_answer, print_page};
use crate::case::Case;
use crate::device::strength;
use crate::files::Kind;
use crate::study::aim::start::written;
use crate::outcome::Primary;
use crate::study::aim::choose::{Choice, Chosen, TriedGlass, choose, look_at_shard, tolerance};
use crate::study::aim::{Aimed, Traded, Wish, aim, searches_outer};
use crate::study::confirm::Confirmed;
use crate::study::map::Shard;
use crate::study::margins::Input;
use crate::units;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case file (TOML), or - for standard input; its flows are where the search begins
    case: PathBuf,
    #[command(flatten)]
    changes: case_file::Changes,
    /// Wished mean diameter of the primary drops, for example '80 um'
    #[arg(long, value_name = "LENGTH", value_parser = studies::above_zero(units::Kind::Length))]
    diameter: f64,
    /// Wished primary drops a second, for example '500 /s'; sets the inner flow by mass balance
    #[arg(long, value_name = "RATE", value_parser = studies::per_time)]
    rate: Option<f64>,
    /// Accept no setting with satellites
    #[arg(long)]
    no_satellites: bool,
    /// Highest pressure that an inlet may need (else the guide for joints and push-on tubing)
    #[arg(long, value_name = "PRESSURE", value_parser = studies::above_zero(units::Kind::Pressure))]
    pressure: Option<f64>,
    /// Leave out the margins, which take some 20 to 25 coarse runs and some 10 at the case's own accuracy
    #[arg(long)]
    no_margins: bool,
    /// Which glass too: a length of the device or a flow, in steps that can be made (repeat for more), for example
    /// 'device.tip_bore=5..40 um/5 um'; without a step, five values. What is not chosen stays, but for a tip's and a capillary's
    /// outside, which follow their bore
    #[arg(long, value_name = "KEY=FROM..TO[/STEP]")]
    choose: Vec<String>,
    /// With --choose and --keep: only look at part I of N of the combinations and keep their answers; joined, a run without --shard
    /// ends the search
    #[arg(long, value_name = "I/N", requires = "keep", requires = "choose")]
    shard: Option<Shard>,
    /// Case to write with the flows found, or of the best design
    #[arg(short, long, value_name = "CASE.toml")]
    output: Option<PathBuf>,
    /// Also solve the full two-liquid equations without inertia for the first drop of the setting found
    #[arg(long, conflicts_with = "choose")]
    confirm: bool,
    #[command(flatten)]
    keeping: Keeping,
    /// Worker threads (else all cores that this process may use)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

/// Searches, simulates what was found, tells it and writes the case.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = case_file::load(&args.case, &args.changes)?;
    if let Some(path) = &args.output {
        output::check(path, Some(&Kind::Case), how)?;
    }
    let wish = Wish {
        diameter: args.diameter,
        rate: args.rate,
        no_satellites: args.no_satellites,
        pressure: Some(args.pressure.unwrap_or(strength::GUIDE_JOINTS)),
        range: None,
        margins: !args.no_margins,
    };
    if !args.choose.is_empty() {
        return chosen(args, &case, &wish, how);
    }
    let bench = Bench::new(how, None).keeping(&args.keeping, how)?;
    let found = aim(&case, &wish, &|case, length| bench.answer(case, length), map::threads(args.threads));
    let (aimed, found) = bench.close(found)?;
    if let (Some(path), Some(found)) = (&args.output, &found) {
        write(path, &case, found, how)?;
        how.remark(&format!("case written to {}", path.display()));
    }
    let case_on_stdout = args.output.as_deref().is_some_and(output::is_stdout);
    let confirmed = found.as_ref().filter(|_| args.confirm).map(|case| super::confirm::alone(case, 1, how)).transpose()?.map(|(told, _)| told);
    if how.json {
        print_answer(&Told { aimed: &aimed, confirmed: confirmed.as_ref() })?;
    } else if !how.quiet && !case_on_stdout {
        let mut page = page(&aimed, &wish, case.run.accuracy.name());
        confirmed.iter().for_each(|told| page.item(&told.line()));
        print_page(page)?;
    }
    if aimed.found { Ok(()) } else { Err(Failure::Unfinished(format!("no setting found: {}", aimed.reason))) }
}

/// What `aim --json` tells.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Told<'a> {
    #[serde(flatten)]
    aimed: &'a Aimed,
    /// The answer by the full equations, where that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    confirmed: Option<&'a Confirmed>,
}

/// What `aim --choose --json` tells.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct DesignsTold<'a> {
    #[serde(flatten)]
    chosen: &'a Chosen,
    /// Flows and drops of the best design.
    inner_flow_m3_per_s: Option<f64>,
    outer_flow_m3_per_s: Option<f64>,
    predicted: Option<&'a Primary>,
}

/// `--choose`: designs, best first.
fn chosen(args: &Args, case: &Case, wish: &Wish, how: &Output) -> Result<(), Failure> {
    let choices: Vec<Choice> = args.choose.iter().map(|text| choice(text, case)).collect::<Result<_, _>>().map_err(Failure::Input)?;
    if let Some(twice) = (1..choices.len()).find(|i| choices[..*i].iter().any(|c| c.key == choices[*i].key)) {
        return Err(Failure::Input(format!("`{}` is chosen twice", choices[twice].key)));
    }
    if let Some(key) = choices.iter().map(|c| c.key.as_str()).find(|key| *key == "inner.flow" && wish.rate.is_some() && searches_outer(case)) {
        return Err(Failure::Input(format!("`{key}` follows from diameter and rate by mass: leave out --rate, or the choice of `{key}`")));
    }
    let searched = if searches_outer(case) { "outer.flow" } else { "inner.flow" };
    if args.choose.iter().any(|text| text.split_once('=').is_some_and(|(key, range)| key.trim() == searched && step_of(range).is_some())) {
        return Err(Failure::Input(format!("`{searched}` is searched between its ends, without its step: leave that out")));
    }
    let bench = Bench::new(how, None).keeping(&args.keeping, how)?;
    let answer = |case: &Case, length| bench.answer(case, length);
    if let Some(shard) = args.shard {
        let looked = look_at_shard(case, wish, &choices, (shard.index, shard.of), &answer, map::threads(args.threads));
        let looked = bench.close(looked)?;
        how.remark(&format!("{looked} combinations looked at, their answers kept; join the files and start again without --shard"));
        return Ok(());
    }
    let found = choose(case, wish, &choices, &answer, map::threads(args.threads));
    let (found, cases) = bench.close(found)?;
    if let (Some(path), Some(best)) = (&args.output, cases.first()) {
        let text = best.with_text("inner.flow", &written(best.inner.flow)).and_then(|case| match &best.outer {
            Some(outer) if outer.flow > 0.0 => case.with_text("outer.flow", &written(outer.flow)),
            _ => Ok(case),
        });
        output::write_case(path, &text.map_err(|errors| case_file::failure(&errors))?.text, how)?;
        how.remark(&format!("case of the best design written to {}", path.display()));
    }
    if how.json {
        let best = found.designs.first();
        print_answer(&DesignsTold {
            inner_flow_m3_per_s: best.and_then(|d| d.settings.get("inner.flow").copied()),
            outer_flow_m3_per_s: best.and_then(|d| d.settings.get("outer.flow").copied()),
            predicted: best.map(|d| &d.predicted),
            chosen: &found,
        })?;
    } else if !how.quiet {
        print_page(designs_page(&found, wish, case))?;
    }
    if found.found { Ok(()) } else { Err(Failure::Unfinished(format!("no design found: {}", found.reason))) }
}

/// Values of a choice without a step.
const VALUES: usize = 5;
/// Values of a choice at most.
const VALUES_MAX: usize = 200;

/// Where a step begins: a unit may hold a slash too (`uL/h`), a step has a number behind it.
fn step_of(range: &str) -> Option<usize> {
    let number_behind = |at: &usize| range[at + 1..].trim_start().starts_with(|c: char| c.is_ascii_digit() || c == '.');
    range.rmatch_indices('/').map(|(at, _)| at).find(number_behind)
}

/// `KEY=FROM..TO[/STEP]`; a unit written once, behind the last quantity, holds for all.
fn choice(text: &str, case: &Case) -> Result<Choice, String> {
    let wrong = |what: &str| format!("`{}`: {what}; write KEY=FROM..TO or KEY=FROM..TO/STEP, for example 'device.tip_bore=5..40 um/5 um'", units::quoted(text));
    let (key, range) = text.split_once('=').ok_or_else(|| wrong("there is no `=`"))?;
    let key = key.trim();
    if !key.starts_with("device.") && key != "inner.flow" && key != "outer.flow" {
        return Err(wrong("only lengths of the device and flows can be chosen"));
    }
    let (kind, _) = map::varied_kind(key, case)?;
    let (from, rest) = range.split_once("..").ok_or_else(|| wrong("there is no `..` between two ends"))?;
    let step_at = step_of(rest);
    let (to, step) = step_at.map_or((rest, None), |at| (&rest[..at], Some(&rest[at + 1..])));
    let behind = |quantity: &str| quantity.trim().trim_start_matches(|c: char| c.is_ascii_digit() || ".+-".contains(c)).trim().to_owned();
    let unit = [step.unwrap_or(""), to].map(behind).into_iter().find(|unit| !unit.is_empty()).unwrap_or_default();
    let value = |quantity: &str| {
        let whole = if behind(quantity).is_empty() { format!("{} {unit}", quantity.trim()) } else { quantity.trim().to_owned() };
        map::value(&whole, key, kind, case)
    };
    let (from, to) = (value(from)?, value(to)?);
    if !(from > 0.0 && to >= from) {
        return Err(wrong("two ends above zero, the smaller one first, are needed"));
    }
    let values: Vec<f64> = match step.map(value).transpose()? {
        Some(step) if !(step > 0.0) || (to - from) / step > VALUES_MAX as f64 => {
            return Err(wrong(&format!("a step above zero that makes at most {VALUES_MAX} values is needed")));
        }
        Some(step) => (0..).map(|i| from + f64::from(i) * step).take_while(|v| *v <= to * (1.0 + 1e-9)).collect(),
        None if to == from => vec![from],
        None => (0..VALUES).map(|i| from * (to / from).powf(i as f64 / (VALUES - 1) as f64)).collect(),
    };
    Ok(Choice { key: key.to_owned(), values })
}

/// The settings of a combination in one line.
fn settings(t: &TriedGlass) -> String {
    let of = |(key, value): (&String, &f64)| format!("{key} {}", map::in_unit(if key.ends_with("flow") { "m3/s" } else { "m" }, *value));
    t.settings.iter().map(of).collect::<Vec<_>>().join(", ")
}

fn designs_page(c: &Chosen, wish: &Wish, case: &Case) -> Page {
    let mut page = Page::new();
    page.title(&format!("Designs for drops of {}", length(wish.diameter)));
    page.paragraph(&c.reason);
    for (i, d) in c.designs.iter().enumerate() {
        page.heading(&format!("Design {} (score {}: least margin over its tolerance)", i + 1, number(d.score)));
        for (key, value) in &d.settings {
            page.fact(key, &map::in_unit(if key.ends_with("flow") { "m3/s" } else { "m" }, *value));
        }
        let off = |error: Option<f64>| error.map_or(String::new(), |e| format!(" ({:+.2} % of the wish)", 100.0 * e));
        page.fact("mode", d.mode.word());
        page.fact_if("mean diameter", d.predicted.mean_diameter_m.map(|v| format!("{}{}", length(v), off(d.diameter_error))));
        page.fact_if("90 % interval of it", d.size.as_ref().map(answer::interval));
        page.fact_if("primary drops", d.predicted.rate_per_s.map(|f| format!("{}{}", rate(f), off(d.rate_error))));
        page.fact_if("satellites' share of volume", d.satellites.as_ref().and_then(|s| s.volume_fraction).map(percent));
        page.fact_if("pressure, inner and outer inlet", d.pressure.map(|p| match p.outer_pa {
            Some(outer) => format!("{}, {}", pressure(p.inner_pa), pressure(outer)),
            None => pressure(p.inner_pa),
        }));
        page.fact("time for a millilitre", &time(d.seconds_per_ml));
        page.fact("limited by", &d.limited_by);
        if !d.margins_told.is_empty() {
            page.fact("margins", "by coarse runs");
            studies::margins(&mut page, &d.margins_told);
        }
        d.warnings.iter().for_each(|w| page.warning(&w.code, &w.text));
    }
    if !c.trade_off.is_empty() {
        page.heading("Size against satellites (short coarse runs; no combination beats these in both)");
        let row = |t: &TriedGlass| {
            let share = t.satellite_volume_fraction.map_or("-".into(), |s| percent(s.max(0.0)));
            vec![settings(t), t.mean_diameter_m.map_or("-".into(), length), share]
        };
        page.table(&["glass", "diameter", "satellites"], &c.trade_off.iter().map(row).collect::<Vec<_>>());
    }
    let failed: Vec<_> = c.tried.iter().filter(|t| !t.found).collect();
    if c.designs.is_empty() && !failed.is_empty() {
        page.heading("What was tried");
        for t in failed.iter().take(TRIED_SHOWN) {
            page.item(&format!("{}: {}", settings(t), t.reason));
        }
        if failed.len() > TRIED_SHOWN {
            page.item(&format!("and {} more (--json has all)", failed.len() - TRIED_SHOWN));
        }
    }
    page.heading("Notes");
    let own = |input: &Input| format!("{} {}", input.word(), percent(tolerance(case, *input)));
    let inputs: Vec<String> = Input::of(case).iter().map(own).collect();
    page.item(&format!("tolerances behind the scores: {} (from the case where it tells them, else common practice)", inputs.join(", ")));
    page.item("pressures are estimates for the glass alone; follow the laboratory's own rules, and the safety data sheets of the liquids");
    page.item(&format!("{} runs", c.evaluations));
    page
}

/// Combinations without an answer that are listed.
const TRIED_SHOWN: usize = 8;

/// What the runs were for.
fn margin_runs(a: &Aimed) -> String {
    if a.margins.is_empty() { a.reason.clone() } else { format!("{}, the others for the margins", a.reason) }
}

/// Writes the case with its comments, and the flows that were found in place of its own.
fn write(path: &Path, own: &Case, found: &Case, how: &Output) -> Result<(), Failure> {
    let changed = own.with_text("inner.flow", &written(found.inner.flow)).and_then(|case| match &found.outer {
        Some(outer) if outer.flow > 0.0 => case.with_text("outer.flow", &written(outer.flow)),
        _ => Ok(case),
    });
    let changed = changed.map_err(|errors| case_file::failure(&errors))?;
    output::write_case(path, &changed.text, how)
}

fn page(a: &Aimed, wish: &Wish, accuracy: &str) -> Page {
    let mut page = Page::new();
    let what = if a.found { "found" } else { "not found; the nearest setting simulated" };
    page.title(&format!("Drops of {}: {what}", length(wish.diameter)));
    if !a.found {
        page.paragraph(&a.reason);
        page.paragraph("Other glass may give it: --choose KEY=FROM..TO, for example of the tip's bore, looks for it, or names what stands in the way.");
    }
    page.heading("Setting");
    page.fact_if("inner flow", a.inner_flow_m3_per_s.map(flow));
    page.fact_if("outer flow", a.outer_flow_m3_per_s.map(flow));
    page.heading(&format!("What a run of it gives at `{}`", a.accuracy));
    let Some(primary) = &a.predicted else {
        page.paragraph("no flow tried gave a drop");
        return page;
    };
    let off = |error: Option<f64>| error.map_or(String::new(), |e| format!(" ({:+.2} % of the wish)", 100.0 * e));
    page.fact_if("mode", a.mode.map(|mode| mode.to_string()));
    page.fact_if("mean diameter", primary.mean_diameter_m.map(|d| format!("{}{}", length(d), off(a.diameter_error))));
    page.fact_if("90 % interval of it", a.size.as_ref().filter(|_| primary.mean_diameter_m.is_some()).map(answer::interval));
    page.fact_if("not established", a.established.as_ref().filter(|e| !e.is).map(|e| e.why.clone()));
    page.fact_if("CV (a lower bound)", primary.cv.map(percent));
    page.fact_if("of so many drops the mean is known to", a.diameter_scatter.map(|s| format!("+-{}, n = {}", percent(s), primary.count)));
    if let (true, Some(drops)) = (a.found, a.drops_for_one_percent) {
        page.fact("so many drops would tell to +-1 %", &drops.to_string());
    }
    page.fact_if("primary drops", primary.rate_per_s.map(|f| format!("{}{}", rate(f), off(a.rate_error))));
    page.fact_if("satellites a drop", a.satellites.as_ref().and_then(|s| s.per_primary).map(number));
    page.fact_if("their share of volume", a.satellites.as_ref().and_then(|s| s.volume_fraction).map(percent));
    page.fact("runs", &format!("{} in all{}", a.evaluations, if a.found { format!(": {}", margin_runs(a)) } else { String::new() }));
    if !a.trade_off.is_empty() {
        page.heading("Size against satellites (coarse runs; no setting tried beats these in both)");
        let row = |t: &Traded| {
            vec![
                flow(t.inner_flow_m3_per_s),
                t.outer_flow_m3_per_s.map_or("-".into(), flow),
                t.mode.to_string(),
                length(t.mean_diameter_m),
                percent(t.satellite_volume_fraction),
                number(t.satellites_per_primary),
            ]
        };
        page.table(&["inner", "outer", "mode", "diameter", "satellites", "a drop"], &a.trade_off.iter().map(row).collect::<Vec<_>>());
    }
    if !a.margins.is_empty() {
        page.heading(&format!("Margins at `{accuracy}`: change of one input until the mode changes or the diameter leaves 5 %"));
        studies::margins(&mut page, &a.margins);
    }
    if !a.warnings.is_empty() {
        page.heading("Limits of the model that this setting exceeds");
        a.warnings.iter().for_each(|w| page.warning(&w.code, &w.text));
    }
    if !a.cautions.is_empty() {
        page.heading("Cautions");
        a.cautions.iter().for_each(|c| page.item(c));
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};

    #[test]
    fn choices_are_ranges_in_steps_that_can_be_made() {
        let case = parse(examples::find("coflow").expect("an example").text, "coflow").unwrap_or_else(|e| panic!("{e}"));
        let values = |text: &str| choice(text, &case).map(|c| c.values.iter().map(|v| (1e9 * v).round() as i64).collect::<Vec<_>>());
        assert_eq!(values("device.tip_bore=10..40 um/10 um"), Ok(vec![10_000, 20_000, 30_000, 40_000]));
        assert_eq!(values("device.tip_bore=10..40/15 um"), Ok(vec![10_000, 25_000, 40_000]));
        assert_eq!(values("device.square_bore=0.1..1 mm").map(|v| (v.len(), v[0], v[4])), Ok((5, 100_000, 1_000_000)));
        let flows = choice("outer.flow=1..3 mL/h/1 mL/h", &case).expect("flows");
        assert!(flows.values.len() == 3 && (flows.values[2] / (3e-6 / 3600.0) - 1.0).abs() < 1e-12, "{flows:?}");
        for wrong in ["device.tip_bore=40..10 um", "device.tip_bore=10..40", "device.tip_bore", "interface.tension=1..2 mN/m", "device.tip_bore=1..2 um/0 um"] {
            assert!(choice(wrong, &case).is_err(), "{wrong}");
        }
    }
}
