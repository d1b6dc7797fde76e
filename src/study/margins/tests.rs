use super::*;
use crate::outcome::Outcome;
use crate::study::evaluate::Length;
use crate::study::synthetic;

/// Invented: d = D (tension/outer flow)^(1/2), jetting above an inner flow 12 % higher, no answer for tiny tips.
fn invented(case: &Case, _length: Length) -> Result<Outcome, String> {
    let base = synthetic::case();
    let outer = case.outer.as_ref().map_or(1.0, |o| o.flow) / base.outer.as_ref().map_or(1.0, |o| o.flow);
    let tip = case.device.tip_bore / base.device.tip_bore;
    if tip < 0.75 {
        return Err("too small a tip".into());
    }
    let diameter = 60e-6 * (case.tension / base.tension / outer).sqrt();
    let mode = if case.inner.flow > 1.12 * base.inner.flow { "jetting" } else { "dripping" };
    Ok(synthetic::outcome(case, mode, Some(diameter), 0.0))
}

#[test]
fn margins_end_where_the_invented_answer_changes() {
    let ask = Counted::new(&invented);
    let found = margins(&synthetic::case(), None, 8, &ask, 2).expect("an answer");
    let of = |input| found.iter().find(|m| m.input == input).expect("every input");
    let inner = of(Input::InnerFlow);
    assert_eq!((&inner.up.end, &inner.down.end), (&End::Mode("jetting".into()), &End::Beyond));
    assert!(inner.up.change <= 0.12 && inner.up.beyond >= 0.12 && inner.up.beyond < 0.13, "{inner:?}");
    let outer = of(Input::OuterFlow);
    for (side, exact) in [(&outer.up, 0.95f64.powi(-2) - 1.0), (&outer.down, 1.05f64.powi(-2) - 1.0)] {
        let (change, beyond) = (side.change / exact, side.beyond / exact);
        assert!((0.89..=1.0).contains(&change) && (1.0..1.06).contains(&beyond), "{side:?} around {exact}");
    }
    assert_eq!(of(Input::Tension).up.end, End::Diameter);
    let tip = of(Input::Tip);
    assert!(matches!(tip.down.end, End::NoAnswer(_)) && tip.down.change > -0.26, "{tip:?}");
    assert!(ask.count() > 16 && ask.count() < 40, "{}", ask.count());
    assert_eq!(found, margins(&synthetic::case(), None, 8, &ask, 1).expect("an answer"));
    let words = in_words(&found);
    assert!(words[0].starts_with("outer flow -"), "{words:?}");
}

// What the margin promises: at `change` the answer is the same one, at `beyond` it is not.
#[test]
fn margins_agree_with_reruns() {
    let ask = Counted::new(&invented);
    let case = quick(&synthetic::case(), 8);
    let level = Level { case: case.clone(), mode: "dripping".into(), diameter: 60e-6, cv: 0.0, error: 0.0 };
    for margin in margins(&case, None, 8, &ask, 2).expect("an answer") {
        for side in [&margin.down, &margin.up] {
            let at = |change| judged(&level, margin.input, change, &ask).expect("not interrupted");
            assert_eq!(at(side.change).end, None);
            assert!(side.end == End::Beyond || at(side.beyond).end.is_some(), "{side:?}");
        }
    }
}

// Invented: drops fall off faster along every input than coarse runs show, so that the coarse bracket is wrong on purpose.
#[test]
fn what_is_answered_was_run_at_the_cases_own_accuracy() {
    for steeper in [0.4, 1.0, 2.5] {
        let answer = move |case: &Case, _: Length| {
            let base = synthetic::case();
            let power = if case.run.accuracy == Accuracy::Coarse { 0.5 } else { 0.5 * steeper };
            let diameter = 60e-6 * (case.inner.flow / base.inner.flow * case.tension / base.tension).powf(power);
            Ok(synthetic::outcome(case, "dripping", Some(diameter), 0.0))
        };
        let mut case = synthetic::case();
        case.run.accuracy = Accuracy::Standard;
        let found = margins(&case, None, 8, &Counted::new(&answer), 1).expect("an answer");
        let side = &found[0].up;
        let exact = 1.05f64.powf(1.0 / (0.5 * steeper)) - 1.0;
        assert_eq!(side.end, End::Diameter);
        assert!(side.change <= exact + 1e-12 && exact <= side.beyond + 1e-12, "{side:?} around {exact}");
        assert!(side.beyond - side.change <= (1.0 - AT_BORDER * bracket::INSIDE) * side.beyond, "{side:?}");
    }
}

#[test]
fn coarse_runs_of_another_mode_are_not_asked_where_it_ends() {
    let answer = |case: &Case, _: Length| {
        let base = synthetic::case();
        let coarse = case.run.accuracy == Accuracy::Coarse;
        let diameter = 60e-6 * (case.tension / base.tension).powf(0.5);
        Ok(synthetic::outcome(case, if coarse { "jetting" } else { "dripping" }, Some(diameter), 0.0))
    };
    let mut case = synthetic::case();
    case.run.accuracy = Accuracy::Standard;
    let found = margins(&case, None, 8, &Counted::new(&answer), 1).expect("an answer");
    let tension = found.iter().find(|m| m.input == Input::Tension).expect("every input");
    assert_eq!(tension.up.end, End::Diameter);
    let exact = 1.05f64.powi(2) - 1.0;
    assert!(tension.up.change <= exact + 1e-12 && exact <= tension.up.beyond + 1e-12, "{tension:?}");
}

// Invented jet: d grows with the square root of the inner flow, drops of CV 3.6 %, each mean off by its own chance.
#[test]
fn drops_that_scatter_end_a_margin_in_few_runs_and_inside_what_they_can_tell() {
    let jet = |case: &Case, _: Length| {
        let factor = case.inner.flow / synthetic::case().inner.flow;
        let bits = (1e9 * factor) as u64;
        let chance = (bits.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 40) as f64 / f64::from(1 << 24) - 0.5;
        let diameter = 60e-6 * factor.sqrt() * (1.0 + 0.04 * chance);
        let mut outcome = synthetic::outcome(case, "jetting", Some(diameter), 0.0);
        outcome.summary.primary.cv = Some(0.036);
        Ok(outcome)
    };
    let mut case = synthetic::case();
    case.run.accuracy = Accuracy::Standard;
    let ask = Counted::new(&jet);
    let own = jet(&case, Length::Whole).expect("an answer").summary;
    let found = margins(&case, Some(&own), 8, &ask, 2).expect("an answer");
    // The coarse case, sixteen for the lines, one or a few for each side.
    assert!((1 + 16 + 8..=1 + 16 + 8 * 3).contains(&ask.count()), "{}", ask.count());
    let inner = found.iter().find(|m| m.input == Input::InnerFlow).expect("every input");
    for side in [&inner.down, &inner.up] {
        assert_eq!(side.end, End::Diameter);
        // 5 % lie at 9.75 and 10.25 %.
        assert!((0.05..0.16).contains(&side.change.abs()) && (0.07..0.16).contains(&side.beyond.abs()), "{side:?}");
        let at = jet(&Input::InnerFlow.scaled(&case, 1.0 + side.change), Length::Whole).expect("an answer").summary;
        let of = |s: &Summary| s.primary.mean_diameter_m.expect("drops");
        assert!((of(&at) / of(&own) - 1.0).abs() <= DIAMETER_BAND, "what is answered was run and is good");
    }
}

#[test]
fn a_case_without_drops_has_no_margins() {
    let none = |case: &Case, _| Ok(synthetic::outcome(case, "none", None, 0.0));
    assert!(margins(&synthetic::case(), None, 8, &Counted::new(&none), 1).is_err());
}
