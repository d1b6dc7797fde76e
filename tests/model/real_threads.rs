//! Threads of liquids that thin, hold a polymer or carry a surfactant, run from a small wave to their neck, against tables of two
//! other methods (tests/data/real_liquids). `segment` at `standard`.

use slenderjet::case::{Case, parse};
use slenderjet::outcome::Summary;
use slenderjet::simulate::{Silent, simulate};

const RADIUS: f64 = 1e-3;
const DENSITY: f64 = 1000.0;
const TENSION: f64 = 0.05;

/// Unit of time of the tables, s.
fn unit() -> f64 {
    (DENSITY * RADIUS.powi(3) / TENSION).sqrt()
}

fn viscosity(ohnesorge: f64) -> f64 {
    ohnesorge * (DENSITY * TENSION * RADIUS).sqrt()
}

fn case(ohnesorge: f64, inner: &str, rest: &str, stop: &str) -> Case {
    let text = format!(
        "layout = \"segment\"\n[inner]\nviscosity = \"{} Pa.s\"\ndensity = \"{DENSITY} kg/m3\"\n{inner}\n[interface]\n\
         tension = \"{TENSION} N/m\"\n[thread]\nradius = \"{RADIUS} m\"\nwavenumber = 0.7\namplitude = 0.01\n[run]\n{stop}\n{rest}\n",
        viscosity(ohnesorge)
    );
    parse(&text, "thread").unwrap_or_else(|e| panic!("{e}"))
}

fn run(case: &Case) -> Summary {
    simulate(case, None, &mut Silent).expect("a run").summary
}

fn rows(text: &'static str) -> Vec<Vec<&'static str>> {
    text.lines().filter(|l| !l.starts_with('#')).skip(1).map(|l| l.split(',').collect()).collect()
}

fn number(cell: &str) -> f64 {
    if cell == "inf" { f64::INFINITY } else { cell.parse().expect("a number") }
}

/// Times of the marks of the table's rows against the run's, with the largest relative difference allowed; how many were compared.
fn compare(summary: &Summary, table: &[(f64, f64)], allowed: f64, what: &str) -> usize {
    let necks = summary.necks.as_ref().expect("marks");
    let mut compared = 0;
    for (radius, time) in table {
        let Some(mark) = necks.iter().find(|mark| (mark.h_over_r / radius - 1.0).abs() < 1e-9) else { continue };
        let difference = mark.time_s / unit() / time - 1.0;
        assert!(difference.abs() < allowed, "{what}: h = {radius} at {:.5} instead of {time}", mark.time_s / unit());
        compared += 1;
    }
    compared
}

// nl_carreau.csv.
#[test]
fn reference_necks_of_a_thinning_liquid() {
    let table = rows(include_str!("../data/real_liquids/nl_carreau.csv"));
    for (ohnesorge, n, time) in [("0.1", "0.6", "1.0"), ("1.0", "0.8", "10.0")] {
        let wanted: Vec<_> = table.iter().filter(|r| r[1] == ohnesorge && r[2] == n && r[3] == time).collect();
        let inner = format!("thinning_exponent = {n}\nthinning_time = \"{} s\"", number(time) * unit());
        let summary = run(&case(number(ohnesorge), &inner, "", "drops = 1"));
        let marks: Vec<_> = wanted.iter().map(|r| (number(r[4]), number(r[5]))).collect();
        assert_eq!(compare(&summary, &marks, 0.001, &inner), 5);
        assert!(summary.conservation.energy_relative < 0.005);
    }
}

// nl_polymer.csv, down to h = 0.05 (a thread that thins exponentially).
#[test]
fn reference_necks_of_a_polymer_solution() {
    let table = rows(include_str!("../data/real_liquids/nl_polymer.csv"));
    for (b, de, l2, end) in [("0.25", "1.0", "inf", 21.9), ("0.5", "2.0", "400", 24.1)] {
        let wanted: Vec<_> = table.iter().filter(|r| r[1] == "0.2" && r[2] == b && r[3] == de && r[4] == l2).collect();
        let polymer = (1.0 - number(b)) * viscosity(0.2);
        let mut inner =
            format!("polymer_viscosity = \"{polymer} Pa.s\"\nrelaxation_time = \"{} s\"", number(de) * unit());
        if l2 != "inf" {
            inner.push_str(&format!("\nextensibility = {l2}"));
        }
        let summary = run(&case(0.2, &inner, "", &format!("until = \"{} s\"", end * unit())));
        let marks: Vec<_> = wanted.iter().map(|r| (number(r[5]), number(r[6]))).collect();
        assert_eq!(compare(&summary, &marks, 0.002, &inner), 3);
        assert!(summary.conservation.energy_relative < 0.005);
    }
}

// nl_surfactant.csv: variant M is this form, the whole axial force; P and L differ from it in higher order of the slope.
#[test]
fn reference_necks_with_an_insoluble_surfactant() {
    let table = rows(include_str!("../data/real_liquids/nl_surfactant.csv"));
    for (ohnesorge, eos, e, x, pe) in
        [("0.1", "lin", "0.1", "", "inf"), ("1.0", "lin", "0.3", "", "10.0"), ("0.1", "lang", "0.5", "0.3", "inf")]
    {
        let mut rest = "[surfactant]\nkind = \"insoluble\"\n".to_owned();
        if eos == "lang" {
            let (b, x) = (number(e), number(x));
            rest.push_str(&format!("elasticity = {}\nisotherm = \"langmuir\"\ncoverage = {x}\n", b * x / (1.0 - x)));
        } else {
            rest.push_str(&format!("elasticity = {e}\n"));
        }
        if pe != "inf" {
            let diffusivity = RADIUS * RADIUS / unit() / number(pe);
            rest.push_str(&format!("surface_diffusivity = \"{diffusivity} m2/s\"\n"));
        }
        let summary = run(&case(number(ohnesorge), "", &rest, "drops = 1"));
        let mut compared = 0;
        for (variant, allowed) in [("M", 0.004), ("L", 0.015), ("P", 0.012)] {
            let wanted = |r: &&Vec<&str>| r[1..7] == [ohnesorge, eos, e, x, pe, variant];
            let marks: Vec<_> = table.iter().filter(wanted).map(|r| (number(r[7]), number(r[8]))).collect();
            compared += compare(&summary, &marks, allowed, &rest);
        }
        assert!(compared >= 10, "{compared}");
        assert!(summary.conservation.surfactant_relative.expect("a surfactant") < 1e-12);
        assert!(summary.conservation.energy_relative < 0.005);
    }
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

fn sound(summary: &Summary) {
    let held = &summary.conservation;
    assert!(held.surfactant_relative.expect("a surfactant") < 1e-12, "{held:?}");
    assert!(held.volume_relative < 1e-12, "{held:?}");
    // the surface's books at the rim do not close to 0.5 % yet: no worse than what a run keeps quiet about
    let said = summary.warnings.iter().any(|w| w.code == "energy_open");
    assert!(said || held.energy_relative < 0.05, "{held:?}");
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
    // the kernel's modes end at a ten-thousandth of a drop's age, longer than a neck's last stretching
    assert!((surface.neck_tension_n_per_m / equilibrium - 1.0).abs() < 0.05, "{surface:?}");
    assert!(surface.equilibrium_share.expect("a share") > 0.99 && surface.age_s.expect("an age") > 0.0);
    let moved = summary.moved.as_ref().expect("a second run");
    assert!((moved.diameter_relative - difference).abs() < 1e-3, "{moved:?}");
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
    pairs.for_each(|(a, b)| {
        assert!((a.diameter_m / b.diameter_m - 1.0).abs() < 1e-6, "{} {}", a.diameter_m, b.diameter_m)
    });
    assert!(summary.drops.len() == clean.drops.len() && clean.surface.is_none() && clean.moved.is_none());
}

// Between the two: new surface is cleaner than old, the drop is larger than at equilibrium, and the answer says both.
#[test]
fn a_surfactant_on_its_way_leaves_the_tension_between_clean_and_equilibrium() {
    let text = slenderjet::case::examples::find("surfactant").expect("an example").text;
    let mut case = parse(text, "surfactant").unwrap_or_else(|e| panic!("{e}"));
    case.run.accuracy = slenderjet::case::Accuracy::Coarse;
    case.run.stop = slenderjet::case::Stop::Drops(4);
    let summary = run(&case);
    sound(&summary);
    let surface = summary.surface.as_ref().expect("a surface");
    let [clean, equilibrium] =
        [surface.clean_tension_n_per_m, surface.equilibrium_tension_n_per_m].map(|x| x.expect("of a dissolved one"));
    assert!(clean > surface.neck_tension_n_per_m && surface.neck_tension_n_per_m > surface.drop_tension_n_per_m);
    assert!(surface.drop_tension_n_per_m > 1.2 * equilibrium, "{surface:?}");
    let period = 1.0 / summary.primary.rate_per_s.expect("a rate");
    assert!(between(surface.age_s.expect("an age"), 0.3 * period, 4.0 * period), "{surface:?}");
    assert!(summary.moved.as_ref().expect("a second run").diameter_relative > 0.02);
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
    let moved = summary.moved.as_ref().expect("a second run").diameter_relative;
    assert!(between(moved, 0.0, 0.25), "{moved}");
}
