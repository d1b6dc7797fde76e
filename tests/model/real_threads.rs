//! Liquids that thin and interfaces with a surfactant at nozzles: limits, amounts and energy kept, what the answer says. Threads of them
//! and of polymer solutions are held against tables in the validation suite (necks_of_real_liquids).

use slenderjet::case::{Accuracy, Case, Section, Stop, examples, parse};
use slenderjet::outcome::{DropKind, Summary};
use slenderjet::simulate::{Comparison, Observer, Silent, simulate};
use slenderjet::study::evaluate::{Length, simulated};

const TENSION: f64 = 0.05;

fn run(case: &Case) -> Summary {
    simulate(case, None, &mut Silent).expect("a run").summary
}

/// Without the second run that tells by how much the size has moved.
fn run_alone(case: &Case) -> Summary {
    struct Alone;
    impl Observer for Alone {
        fn wants_frames(&self) -> bool {
            false
        }
        fn comparison(&self) -> Comparison {
            Comparison::None
        }
    }
    simulate(case, None, &mut Alone).expect("a run").summary
}

/// A tap in a gas: R = 1 mm, Oh 0.9 at rest, Bo 0.2, four drops.
fn tap(inner: &str) -> Case {
    let text = format!(
        "layout = \"pendant\"\n[inner]\nviscosity = \"200 mPa.s\"\ndensity = \"1000 kg/m3\"\nflow = \"4 mL/min\"\n{inner}\n\
         [interface]\ntension = \"{TENSION} N/m\"\n[device]\ntip_bore = \"2 mm\"\n[gravity]\nalong = \"down\"\n\
         [run]\ndrops = 4\n"
    );
    parse(&text, "tap").unwrap_or_else(|e| panic!("{e}"))
}

fn diameter(summary: &Summary) -> f64 {
    summary.primary.mean_diameter_m.expect("settled drops")
}

fn between(x: f64, a: f64, b: f64) -> bool {
    x > a.min(b) && x < a.max(b)
}

// A liquid that hardly thins is that of its viscosity at rest; one that has thinned long before a drop stretches is that of its
// viscosity at high rates; between the two lies its drop. Elementary limits of the Carreau law.
#[test]
fn drops_of_a_thinning_liquid_lie_between_its_two_viscosities() {
    let thin = run(&{
        let mut case = tap("");
        case.inner.viscosity = 0.02;
        case
    });
    let thick = run(&tap(""));
    let law = |time: &str, last: &str| {
        run(&tap(&format!(
            "thinning_exponent = 0.3\nthinning_time = \"{time}\"\nviscosity_infinite = \"{last} mPa.s\""
        )))
    };
    let (hardly, wholly, between_them) = (law("1 us", "20"), law("1000 s", "20"), law("50 ms", "20"));
    for (found, limit) in [(&hardly, &thick), (&wholly, &thin)] {
        let difference = diameter(found) / diameter(limit) - 1.0;
        assert!(difference.abs() < 2e-3, "{difference}");
    }
    let times = [&thick, &between_them, &thin].map(|s| s.first_pinch.as_ref().expect("a pinch").time_s);
    assert!(between(times[1], times[0], times[2]), "{times:?}");
    for summary in [&hardly, &wholly, &between_them] {
        assert!(summary.conservation.volume_relative < 1e-10);
        assert!(summary.conservation.energy_relative < 0.005, "{}", summary.conservation.energy_relative);
    }
    assert!(between_them.warnings.iter().any(|w| w.code == "thinning_at_rest"));
}

/// Co-flow from a 30 um tip, four drops at `coarse`; `tension` in mN/m.
fn coflow(tension: f64, surfactant: &str) -> Case {
    let text = format!(
        "layout = \"coflow\"\n[inner]\nviscosity = \"50 mPa.s\"\ndensity = \"910 kg/m3\"\nflow = \"30 uL/h\"\n\
         [outer]\nviscosity = \"60 mPa.s\"\ndensity = \"1210 kg/m3\"\nflow = \"20 mL/h\"\n[interface]\ntension = \"{tension} mN/m\"\n\
         {surfactant}\n[device]\nround_bore = \"1 mm\"\nround_outer = \"0.9 mm\"\ntip_bore = \"30 um\"\ntip_outer = \"45 um\"\n\
         [run]\ndrops = 4\naccuracy = \"coarse\"\n"
    );
    parse(&text, "coflow").unwrap_or_else(|e| panic!("{e}"))
}

// The limits of an outer liquid that thins: hardly, wholly, and between; n = 1 whatever its time. Elementary limits of the Carreau law.
#[test]
fn drops_in_a_thinning_outer_liquid_lie_between_its_two_viscosities() {
    let with = |viscosity: f64, law: Option<(f64, &str)>| {
        let mut case = coflow(15.0, "");
        case.run.stop = Stop::Drops(3);
        if let Some(outer) = case.outer.as_mut() {
            outer.viscosity = 1e-3 * viscosity;
        }
        let Some((exponent, time)) = law else { return run_alone(&case) };
        let thinning = slenderjet::case::rheology::Thinning {
            exponent,
            time: time.parse().expect("a number"),
            viscosity_infinite: 20e-3,
        };
        case.real.outer_thinning = Some(thinning);
        run_alone(&case)
    };
    let (thick, thin) = (with(60.0, None), with(20.0, None));
    let limits = [
        (with(60.0, Some((1.0, "1e-3"))), &thick),
        (with(60.0, Some((0.4, "1e-9"))), &thick),
        (with(60.0, Some((0.3, "1e6"))), &thin),
    ];
    for (found, limit) in &limits {
        let difference = diameter(found) / diameter(limit) - 1.0;
        assert!(difference.abs() < 2e-3, "{difference}");
    }
    let between_them = with(60.0, Some((0.4, "0.1")));
    assert!(between(diameter(&between_them), diameter(&thick), diameter(&thin)));
    assert!(between_them.conservation.volume_relative < 1e-12 && between_them.conservation.energy_relative < 0.01);
    assert!(between_them.warnings.iter().any(|w| w.code == "outer_thinning"));
    let cause = |s: &Summary| s.size.share.iter().find(|c| c.cause.contains("thinning outer")).map(|c| c.relative);
    assert!(cause(&between_them).is_some() && cause(&thick).is_none());
}

// A wave on a thread of a polymer solution at rest in another liquid grows as the model's linear theory says (its tension with the
// viscosity by the growth rate) and within a tenth of exact theory (Tomotika 1935 with that viscosity): of two waves whose starts differ by
// ten, the smaller comes to any neck ln(10)/rate later.
#[test]
fn theory_a_polymer_thread_in_a_liquid_grows_as_linear_theory_says() {
    let x = 0.6;
    let case = |amplitude: f64, wall: &str| {
        let text = format!(
            "layout = \"segment\"\n[inner]\nviscosity = \"1 Pa.s\"\ndensity = \"1000 kg/m3\"\npolymer_viscosity = \"0.75 Pa.s\"\n\
             relaxation_time = \"5 ms\"\n[outer]\nviscosity = \"0.5 Pa.s\"\ndensity = \"900 kg/m3\"\n[interface]\n\
             tension = \"40 mN/m\"\n[thread]\nradius = \"25 um\"\nwavenumber = {x}\namplitude = {amplitude}\n{wall}[run]\nuntil = \"1 s\"\n"
        );
        parse(&text, "thread").unwrap_or_else(|e| panic!("{e}"))
    };
    for wall in ["", "[device]\nround_bore = \"150 um\"\n"] {
        let linear = slenderjet::study::growth::growth(&case(1e-3, wall), &[x]).expect("a thread");
        let told = |rates: &[f64]| rates[0] * linear.rate_scale_per_s;
        let necks = [1e-3, 1e-4].map(|amplitude| {
            let summary = run_alone(&case(amplitude, wall));
            assert!(summary.conservation.energy_relative < 0.005, "{:?}", summary.conservation);
            summary.necks.expect("a thread")[0].time_s
        });
        let rate = 10f64.ln() / (necks[1] - necks[0]);
        let (model, exact) = (told(&linear.model), told(linear.exact.as_ref().expect("theory")));
        assert!((rate / model - 1.0).abs() < 0.01, "{rate} {model} {exact}");
        assert!((rate / exact - 1.0).abs() < 0.13, "{rate} {model} {exact}");
    }
}

// A polymer in the drops of a co-flow. One that forgets within a twelfth of the tip's capillary time, or of which there is hardly any, leaves
// the drop of a Newtonian liquid of the same viscosity at rest (elementary limits); one that holds its thread leaves no satellite, at no more than
// twice the steps. The budget is as closed as that of a Newtonian liquid.
#[test]
fn drops_of_a_polymer_solution_in_a_liquid() {
    let with = |polymer: Option<(f64, f64)>| {
        let mut case = coflow(20.0, "");
        (case.run.stop, case.run.accuracy) = (Stop::Drops(2), Accuracy::Standard);
        case.real.polymer = polymer.map(|(viscosity, relaxation_time)| slenderjet::case::rheology::Polymer {
            viscosity,
            relaxation_time,
            extensibility: None,
        });
        run_alone(&case)
    };
    let plain = with(None);
    let (fast, weak, held) = (with(Some((0.025, 1e-6))), with(Some((5e-6, 2e-4))), with(Some((0.01, 4e-4))));
    for limit in [&fast, &weak] {
        let difference = diameter(limit) / diameter(&plain) - 1.0;
        assert!(difference.abs() < 2e-3, "{difference}");
    }
    for summary in [&fast, &weak, &held] {
        let kept = &summary.conservation;
        assert!(kept.volume_relative < 1e-12 && kept.energy_relative < 0.005, "{kept:?}");
    }
    // at equal numbers of drops: the satellites of a run that leaves some come between them
    assert!(plain.drops.iter().any(|d| d.diameter_m < 0.1 * diameter(&plain)), "{:?}", plain.drops.len());
    assert!(held.drops.iter().all(|d| d.diameter_m > 0.5 * diameter(&held)), "{:?}", held.drops);
    assert!(held.cost.steps < 2 * plain.cost.steps, "{:?} {:?}", held.cost, plain.cost);
}

// After a held thread is divided its halves retract into caps; a finer mesh goes on from them, to the same drops.
#[test]
fn a_divided_thread_goes_on_at_every_accuracy() {
    let with = |accuracy: Accuracy| {
        let mut case = coflow(15.0, "");
        (case.run.stop, case.run.accuracy) = (Stop::Drops(4), accuracy);
        case.real.polymer =
            Some(slenderjet::case::rheology::Polymer { viscosity: 0.025, relaxation_time: 2e-4, extensibility: None });
        run_alone(&case)
    };
    let (standard, fine) = (with(Accuracy::Standard), with(Accuracy::Fine));
    for summary in [&standard, &fine] {
        assert!(summary.stopped == slenderjet::outcome::Stopped::DropsReached, "{:?}", summary.stopped);
        assert!(summary.conservation.energy_relative < 0.005, "{:?}", summary.conservation);
    }
    assert!((diameter(&fine) / diameter(&standard) - 1.0).abs() < 1e-3);
}

// The same behind an orifice, bounded chains (FENE-P) of a relaxation time near the tip's capillary one: no satellites where the Newtonian liquid
// leaves one with each drop.
#[test]
fn a_polymer_suppresses_satellites_behind_an_orifice() {
    let text = slenderjet::case::examples::find("tenmicron").expect("an example").text;
    let mut case = parse(text, "tenmicron").unwrap_or_else(|e| panic!("{e}"));
    (case.run.stop, case.run.accuracy) = (Stop::Drops(4), Accuracy::Coarse);
    // a polymer's thread has the closures
    case.model.section = Some(Section::Closures);
    let plain = run_alone(&case);
    case.real.polymer =
        Some(slenderjet::case::rheology::Polymer { viscosity: 2e-4, relaxation_time: 2e-5, extensibility: Some(1e4) });
    let held = run_alone(&case);
    let small = |s: &Summary| s.drops.iter().filter(|d| d.diameter_m < 0.5 * diameter(s)).count();
    assert!(small(&plain) >= 3 && small(&held) == 0, "{} {}", small(&plain), small(&held));
    assert!(held.conservation.energy_relative < 0.002, "{:?}", held.conservation);
    assert!((diameter(&held) / diameter(&plain) - 1.0).abs() < 0.02);
}

/// A surfactant with kappa = 10: the tension at equilibrium is 25 - R T Gamma_inf ln 11 mN/m.
fn dissolved(phase: &str, saturation: f64, diffusivity: f64) -> String {
    format!(
        "[surfactant]\nkind = \"dissolved\"\nphase = \"{phase}\"\nconcentration = \"2 mol/m3\"\nsaturation = \"{saturation} mol/m2\"\n\
         affinity = \"5 m3/mol\"\ndiffusivity = \"{diffusivity} m2/s\""
    )
}

/// R T Gamma_inf ln(1 + kappa), mN/m, at 298.15 K.
fn fall(saturation: f64) -> f64 {
    1e3 * 8.314_462_618 * 298.15 * saturation * 11f64.ln()
}

/// Kept to round-off, and the energy as well as that of a clean run at `coarse` (0.2 to 0.4 %) and what a surface changes in a step.
fn sound(summary: &Summary) {
    let held = &summary.conservation;
    assert!(held.surfactant_relative.expect("a surfactant") < 1e-12, "{held:?}");
    assert!(held.volume_relative < 1e-12, "{held:?}");
    assert!(held.energy_relative < 0.01, "{held:?}");
}

// The budget with a surface that nothing leaves and with one that is fed from a small volume, the two that were most open.
#[test]
fn the_energy_of_surfaces_with_surfactant_closes_at_standard() {
    let insoluble = "[surfactant]\nkind = \"insoluble\"\nelasticity = 0.2".to_owned();
    for surfactant in [insoluble, dissolved("inner", 3e-6, 1e-8)] {
        let mut case = coflow(25.0, &surfactant);
        case.run.accuracy = Accuracy::Standard;
        let summary = run(&case);
        sound(&summary);
        assert!(summary.conservation.energy_relative < 0.005, "{:?}", summary.conservation);
    }
}

// However much is in the liquid, on a surface it comes to rest with it at once: the drop is that of the tension at equilibrium.
#[test]
fn theory_a_very_fast_surfactant_is_its_tension_at_equilibrium() {
    let saturation = 3e-6;
    let summary = run(&coflow(25.0, &dissolved("outer", saturation, 1e-4)));
    sound(&summary);
    let plain = diameter(&run(&coflow(25.0 - fall(saturation), "")));
    let difference = diameter(&summary) / plain - 1.0;
    assert!(difference.abs() < 0.005, "{difference}");
    let surface = summary.surface.as_ref().expect("a surface");
    let equilibrium = surface.equilibrium_tension_n_per_m.expect("of a dissolved one");
    assert!((1e3 * equilibrium / (25.0 - fall(saturation)) - 1.0).abs() < 1e-6);
    assert!((surface.neck_tension_n_per_m / equilibrium - 1.0).abs() < 0.05, "{surface:?}");
    assert!(surface.equilibrium_share.expect("a share") > 0.99 && surface.age_s.expect("an age") > 0.0);
    let moved = summary.moved.as_ref().expect("a second run");
    assert!((moved.diameter_relative.expect("told") - difference).abs() < 1e-3, "{moved:?}");
    // the clean drop is the larger one, and what is at equilibrium lacks nothing of it
    let effects: Vec<(&str, f64)> =
        moved.effects.iter().map(|by| (by.effect.as_str(), by.diameter_relative.expect("told"))).collect();
    let [("surfactant", clean), ("its lack of equilibrium", lack)] = effects[..] else { panic!("{moved:?}") };
    let direct = diameter(&summary) / diameter(&run(&coflow(25.0, ""))) - 1.0;
    assert!((clean - direct).abs() < 1e-9 && clean < -0.1 && (lack - difference).abs() < 1e-3, "{moved:?} {direct}");
}

// A neck stretches faster than diffusion feeds it. Near equilibrium what it lacks falls as (Gamma/c)/sqrt(D t): with ten and a hundred
// times the concentration at the same kappa to a tenth and a hundredth (Ward & Tordai's integral, scaling of its unit of time).
#[test]
fn theory_a_necks_lack_of_surfactant_falls_with_the_concentration() {
    let lack = |concentration: f64| {
        let case = coflow(25.0, &dissolved("outer", 3e-6, 1e-4));
        // the affinity first: more at the old one would take the whole tension
        let case = case
            .with_text("surfactant.affinity", &format!("{} m3/mol", 10.0 / concentration))
            .and_then(|c| c.with_text("surfactant.concentration", &format!("{concentration} mol/m3")));
        let mut case = case.expect("a case");
        // the steps at `coarse` leave a thousandth of the tension, at `standard` half of one
        case.run.accuracy = Accuracy::Fine;
        let summary = run_alone(&case);
        let surface = summary.surface.as_ref().expect("a surface");
        surface.neck_tension_n_per_m / surface.equilibrium_tension_n_per_m.expect("of a dissolved one") - 1.0
    };
    let [some, more, most] = [2.0, 20.0, 200.0].map(lack);
    assert!(between(some / more, 7.0, 14.0) && between(more / most, 7.0, 14.0), "{some} {more} {most}");
    assert!(most < 5e-4, "{most}");
}

// So little diffuses that the surface stays clean: the same drops.
#[test]
fn theory_a_very_slow_surfactant_leaves_the_surface_clean() {
    let summary = run(&coflow(25.0, &dissolved("outer", 3e-6, 1e-15))
        .with_text("surfactant.concentration", "1e-9 mol/m3")
        .expect("a case"));
    sound(&summary);
    let clean = run(&coflow(25.0, ""));
    let pairs = summary.drops.iter().zip(&clean.drops);
    // A laden surface's steps are judged otherwise (`mesh::follow`), which moves drops by 1.2e-4.
    let drop = clean.drops.iter().map(|d| d.diameter_m).fold(0.0, f64::max);
    pairs.for_each(|(a, b)| {
        assert!((a.diameter_m - b.diameter_m).abs() < 3e-4 * drop, "{} {}", a.diameter_m, b.diameter_m)
    });
    assert!(summary.drops.len() == clean.drops.len() && clean.surface.is_none() && clean.moved.is_none());
}

// Between the two: new surface is cleaner than old, the drop is larger than at equilibrium, and the answer says both.
#[test]
fn a_surfactant_on_its_way_leaves_the_tension_between_clean_and_equilibrium() {
    let text = examples::find("surfactant").expect("an example").text;
    let mut case = parse(text, "surfactant").unwrap_or_else(|e| panic!("{e}"));
    // 1.05 % of the energy is open at `coarse`
    case.run.accuracy = Accuracy::Standard;
    case.run.stop = Stop::Drops(4);
    let summary = run(&case);
    sound(&summary);
    let surface = summary.surface.as_ref().expect("a surface");
    let [clean, equilibrium] =
        [surface.clean_tension_n_per_m, surface.equilibrium_tension_n_per_m].map(|x| x.expect("of a dissolved one"));
    assert!(clean > surface.neck_tension_n_per_m && surface.neck_tension_n_per_m > surface.drop_tension_n_per_m);
    assert!(surface.drop_tension_n_per_m > 1.2 * equilibrium, "{surface:?}");
    let period = 1.0 / summary.primary.rate_per_s.expect("a rate");
    assert!(between(surface.age_s.expect("an age"), 0.3 * period, 4.0 * period), "{surface:?}");
    assert!(summary.moved.as_ref().and_then(|m| m.diameter_relative).expect("a second run") > 0.02);
    let told = summary.warnings.iter().find(|w| w.code == "surfactant_age").expect("told");
    let numbers = [
        format!("{:.2} mN/m at the neck", 1e3 * surface.neck_tension_n_per_m),
        format!("{:.3} ms old", 1e3 * surface.age_s.expect("an age")),
    ];
    numbers.iter().for_each(|number| assert!(told.text.contains(number), "{}", told.text));
}

// What the volume of a drop holds is all that can come from within: with a hundredth of what its surface takes, it stays clean.
#[test]
fn a_small_volume_is_depleted_from_within() {
    let rich = run(&coflow(25.0, &dissolved("inner", 3e-6, 1e-8)));
    let poor = coflow(25.0, &dissolved("inner", 3e-6, 1e-8));
    let poor = poor
        .with_text("surfactant.concentration", "2e-3 mol/m3")
        .and_then(|c| c.with_text("surfactant.affinity", "5e3 m3/mol"));
    let poor = run(&poor.expect("a case"));
    [&rich, &poor].into_iter().for_each(sound);
    let share = |s: &Summary| s.surface.as_ref().and_then(|s| s.equilibrium_share).expect("a share");
    // of the drop's c_b d/6 per area over the saturation no more than this is on it: theta < 0.05
    let most = 2e-3 * diameter(&poor) / 6.0 / 3e-6;
    assert!(share(&poor) < -(-most).ln_1p() / 11f64.ln() * 1.1 && share(&poor) > 0.0, "{} {most}", share(&poor));
    assert!(share(&rich) > 5.0 * share(&poor), "{} {}", share(&rich), share(&poor));
}

// Nothing comes past the contact line while a drop fills: what is on its surface is stretched, and the answer says so.
#[test]
fn an_insoluble_surfactant_is_kept_to_round_off_on_a_nozzle() {
    let summary = run(&coflow(25.0, "[surfactant]\nkind = \"insoluble\"\nelasticity = 0.2"));
    sound(&summary);
    let surface = summary.surface.as_ref().expect("a surface");
    assert!(surface.drop_tension_n_per_m > 0.025 && surface.drop_tension_n_per_m <= 0.03 + 1e-12, "{surface:?}");
    assert!(surface.age_s.is_none() && surface.equilibrium_tension_n_per_m.is_none());
    assert!(summary.warnings.iter().any(|w| w.code == "surfactant_stretched"));
    let moved = summary.moved.as_ref().and_then(|m| m.diameter_relative).expect("a second run");
    assert!(between(moved, 0.0, 0.25), "{moved}");
}

// Maps, aims, margins and calibrations ask for many runs and read no comparison.
#[test]
fn studies_do_without_the_second_run_and_have_the_same_numbers() {
    let case = coflow(25.0, &dissolved("outer", 3e-6, 4e-10));
    let mut whole = run(&case);
    assert!(whole.moved.take().is_some());
    let studied = simulated(&case, Length::Whole, &|| false).expect("a run").summary;
    assert_eq!(studied, whole);
}

/// The limits of a dissolved surfactant with kappa = 10 that takes three tenths of the tension of `text` (a case without surfactant):
/// all of it at once, and none of it.
fn limits(text: &str, phase: &str) {
    let plain = parse(text, "plain").unwrap_or_else(|e| panic!("{e}"));
    let saturation = 0.3 * 1e3 * plain.tension / fall(1.0);
    let with = |concentration: f64, diffusivity: f64| {
        let section = format!(
            "{text}\n[surfactant]\nkind = \"dissolved\"\nphase = \"{phase}\"\nconcentration = \"{concentration} mol/m3\"\n\
             saturation = \"{saturation} mol/m2\"\naffinity = \"{} m3/mol\"\ndiffusivity = \"{diffusivity} m2/s\"",
            10.0 / concentration
        );
        run_alone(&parse(&section, "laden").unwrap_or_else(|e| panic!("{e}")))
    };
    let fast = with(200.0, 1e-4);
    sound(&fast);
    let equilibrium = fast.surface.as_ref().and_then(|s| s.equilibrium_tension_n_per_m).expect("of a dissolved one");
    assert!((equilibrium / (0.7 * plain.tension) - 1.0).abs() < 1e-6, "{equilibrium}");
    let mut settled = plain.clone();
    settled.tension = equilibrium;
    let difference = diameter(&fast) / diameter(&run(&settled)) - 1.0;
    assert!(difference.abs() < 0.01, "{phase}: {difference}");
    let neck = fast.surface.as_ref().expect("a surface").neck_tension_n_per_m;
    assert!((neck / equilibrium - 1.0).abs() < 0.02, "{neck} {equilibrium}");
    let slow = with(1e-6, 1e-15);
    sound(&slow);
    let clean = run(&plain);
    assert_eq!(slow.drops.len(), clean.drops.len());
    for (a, b) in slow.drops.iter().zip(&clean.drops) {
        // a satellite depends on where the jet in its drop begins, which steps from cell to cell
        let near = if b.kind == DropKind::Primary { 1e-6 } else { 1e-5 };
        assert!((a.diameter_m / b.diameter_m - 1.0).abs() < near, "{phase}: {} {}", a.diameter_m, b.diameter_m);
    }
}

#[test]
fn theory_limits_of_a_surfactant_in_a_dripping_tap() {
    let text = "layout = \"pendant\"\n[inner]\nviscosity = \"200 mPa.s\"\ndensity = \"1000 kg/m3\"\nflow = \"4 mL/min\"\n\
                [interface]\ntension = \"50 mN/m\"\n[device]\ntip_bore = \"2 mm\"\n[gravity]\nalong = \"down\"\n\
                [run]\ndrops = 4\naccuracy = \"coarse\"\n";
    limits(text, "inner");
}

#[test]
fn theory_limits_of_a_surfactant_in_counter_flow() {
    let text = examples::find("tenmicron").expect("an example").text;
    let drops = text.lines().find(|l| l.starts_with("drops")).expect("a number of drops");
    // a laden thread has the closures
    let text = text.replace("[run]", "[model]\nsection = \"closures\"\n[run]");
    limits(&text.replace(drops, "drops = 3\naccuracy = \"coarse\""), "outer");
}

/// A tap of a dilute polymer solution in a gas: R = 0.5 mm, 30 mPa.s at rest of which the polymer has `share`, four drops at `coarse`.
fn polymer_tap(polymer: &str) -> Case {
    let text = format!(
        "layout = \"pendant\"\n[inner]\nviscosity = \"30 mPa.s\"\ndensity = \"1050 kg/m3\"\nflow = \"1 mL/min\"\n{polymer}\n\
         [interface]\ntension = \"60 mN/m\"\n[device]\ntip_bore = \"1 mm\"\n[gravity]\nalong = \"down\"\n\
         [run]\ndrops = 4\naccuracy = \"coarse\"\n"
    );
    parse(&text, "polymer tap").unwrap_or_else(|e| panic!("{e}"))
}

// Elasto-capillary balance: the thread between drop and tip thins as exp(-t/3 lambda) (Entov & Hinch 1997, J. Non-Newtonian Fluid Mech. 72,
// 31; recalled) once the polymer holds it, from 0.1 R on: the first radius of a held thread is (G R/2 gamma)^(1/3) = 0.14 R where its stress is all
// and inertia has not carried it further. 5 % leave room for the drop's weight on the thread (seen: 3 %). The satellite that the same liquid
// without a polymer leaves is not there, and nothing is lost.
#[test]
fn theory_a_polymer_at_a_tap_thins_exponentially_and_leaves_no_satellite() {
    let relaxation = 8e-3;
    let polymer = format!("polymer_viscosity = \"5 mPa.s\"\nrelaxation_time = \"{relaxation} s\"");
    let outcome = simulate(&polymer_tap(&polymer), None, &mut Silent).expect("a run");
    let plain = run(&polymer_tap(""));
    let summary = &outcome.summary;
    let radius = 0.5e-3;
    let thin = |n: &&slenderjet::outcome::NeckSample| {
        n.pinch == Some(0) && n.radius < 0.09 * radius && n.radius > 0.052 * radius
    };
    let seen: Vec<_> = outcome.necks.iter().filter(thin).collect();
    let (first, last) = (seen.first().expect("a neck"), seen.last().expect("a neck"));
    let rate = (first.radius / last.radius).ln() / (last.time - first.time);
    assert!(
        seen.len() > 10 && (3.0 * relaxation * rate - 1.0).abs() < 0.05,
        "{} {}",
        seen.len(),
        3.0 * relaxation * rate
    );
    let satellites = [&plain, summary].map(|s| s.satellites.per_primary.unwrap_or(0.0));
    assert!(satellites[0] > 0.5 && satellites[1] == 0.0, "{satellites:?}");
    assert!(
        summary.conservation.volume_relative < 1e-10 && summary.conservation.energy_relative < 0.005,
        "{:?}",
        summary.conservation
    );
    assert!(summary.warnings.iter().any(|w| w.code == "polymer_string"));
    // a drop of a tap weighs what its tension bears: the polymer holds it longer, by little more liquid
    let moved = diameter(summary) / diameter(&plain) - 1.0;
    assert!(moved > -0.005 && moved < 0.05, "{moved}");
}

// A polymer that is too weak to hold a neck leaves drops and satellites of a Newtonian liquid of its viscosity.
#[test]
fn theory_a_polymer_that_holds_nothing_is_a_newtonian_liquid() {
    let weak = "polymer_viscosity = \"0.001 mPa.s\"\nrelaxation_time = \"0.1 ms\"";
    let (weak, plain) = (run_alone(&polymer_tap(weak)), run_alone(&polymer_tap("")));
    assert!((diameter(&weak) / diameter(&plain) - 1.0).abs() < 1e-3);
    assert_eq!(weak.satellites.per_primary, plain.satellites.per_primary);
}
