//! Surfactant, polymer and thinning as a user types them: growth by exact theory, keys that cannot stand together.

use assert_cmd::Command;
use serde_json::Value;

/// A thread at rest with R = 100 um, rho = 1000 kg/m3, tension 40 mN/m: unit of time 1.58e-4 s; Oh by the viscosity.
fn case(ohnesorge: f64, inner: &str, rest: &str) -> String {
    let viscosity = ohnesorge * (1000.0f64 * 0.04 * 1e-4).sqrt();
    format!(
        "title = \"thread\"\nlayout = \"segment\"\n[inner]\nviscosity = \"{viscosity} Pa.s\"\ndensity = \"1000 kg/m3\"\n{inner}\n\
         [interface]\ntension = \"40 mN/m\"\n[thread]\nradius = \"100 um\"\nwavenumber = 0.7\namplitude = 0.01\n{rest}\n"
    )
}

fn command(case: &str, arguments: &[&str]) -> assert_cmd::assert::Assert {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("case.toml");
    std::fs::write(&path, case).expect("a case");
    let mut command = Command::cargo_bin("slenderjet").expect("the program");
    command.arg(arguments[0]).arg(&path).args(&arguments[1..]);
    command.assert()
}

fn growth(case: &str, at: &str) -> Value {
    let done = command(case, &["growth", "--json", "--at", at]).success();
    serde_json::from_slice(&done.get_output().stdout).expect("JSON")
}

fn near(value: &Value, expected: f64) {
    let value = value.as_f64().expect("a number");
    assert!((value / expected - 1.0).abs() < 1e-9, "{value} instead of {expected}");
}

// tests/data/real_liquids/lin_surfactant.csv: Oh 0.01, E 0.3, x 0.7 and 0.2.
#[test]
fn reference_growth_with_an_insoluble_surfactant() {
    let text = case(0.01, "", "[surfactant]\nkind = \"insoluble\"\nelasticity = 0.3");
    let answer = growth(&text, "0.7,0.2");
    near(&answer["exact"][0], 0.321545798806302);
    near(&answer["model"][0], 0.219594976811561);
    near(&answer["exact"][1], 0.129166815402157);
    near(&answer["model"][1], 0.114292819618982);
    let remarks = answer["remarks"].to_string();
    assert!(remarks.contains("Marangoni"), "{remarks}");
    assert_eq!(answer["character"], Value::Null);
}

// The same numbers for Langmuir's equation of state: elasticity is that at rest.
#[test]
fn the_isotherm_does_not_change_small_waves() {
    let rest = "[surfactant]\nkind = \"insoluble\"\nelasticity = 0.3\nisotherm = \"langmuir\"\ncoverage = 0.5";
    near(&growth(&case(0.01, "", rest), "0.7")["exact"][0], 0.321545798806302);
}

// tests/data/real_liquids/lin_oldroydb.csv: Oh 0.1, De 1, b 0.25, x 0.9.
#[test]
fn reference_growth_with_a_polymer() {
    let unit = (1000.0f64 * 1e-12 / 0.04).sqrt();
    let viscosity = 0.1 * (1000.0f64 * 0.04 * 1e-4).sqrt();
    let inner = format!("polymer_viscosity = \"{} Pa.s\"\nrelaxation_time = \"{unit} s\"", 0.75 * viscosity);
    let answer = growth(&case(0.1, &inner, ""), "0.9");
    near(&answer["exact"][0], 0.183592877843358);
    near(&answer["model"][0], 0.190366390923365);
    let limited = format!("{inner}\nextensibility = 100");
    near(&growth(&case(0.1, &limited, ""), "0.9")["exact"][0], 0.183592877843358);
}

// A liquid that thins is Newtonian while it is at rest: viscous_jet.csv, Oh 0.1, x 0.5.
#[test]
fn reference_growth_of_a_thinning_liquid() {
    let inner = "thinning_exponent = 0.6\nthinning_time = \"1 ms\"";
    let answer = growth(&case(0.1, inner, ""), "0.5");
    near(&answer["exact"][0], 0.26723370478);
    assert!(answer["remarks"].to_string().contains("at rest"));
}

#[test]
fn growth_says_what_it_does_not_compute() {
    let outer = "[outer]\nviscosity = \"1 mPa.s\"\ndensity = \"1000 kg/m3\"\n";
    let text = case(0.1, "", &format!("{outer}[surfactant]\nkind = \"insoluble\"\nelasticity = 0.3"));
    command(&text, &["growth"]).code(2).stderr(predicates::str::contains("surfactant.kind"));
    let radial =
        case(0.1, "", "[model]\nradial_inertia = \"on\"\n[surfactant]\nkind = \"insoluble\"\nelasticity = 0.3");
    command(&radial, &["growth"]).code(2).stderr(predicates::str::contains("model.radial_inertia"));
}

#[test]
fn keys_that_cannot_stand_together_are_named() {
    let wrong = [
        ("", "[surfactant]\nkind = \"insoluble\"", "`surfactant.elasticity` is missing"),
        ("", "[surfactant]\nelasticity = 0.3", "`surfactant.kind` is missing"),
        (
            "",
            "[surfactant]\nkind = \"insoluble\"\nelasticity = 0.3\nconcentration = \"1 mM\"",
            "surfactant.concentration",
        ),
        ("", "[surfactant]\nkind = \"insoluble\"\nelasticity = 0.3\ncoverage = 0.3", "linear isotherm"),
        (
            "",
            "[surfactant]\nkind = \"dissolved\"\nphase = \"inner\"\nconcentration = \"1 mM\"",
            "surfactant.saturation",
        ),
        (
            "",
            "[surfactant]\nkind = \"dissolved\"\nconcentration = \"1 mM\"\nsaturation = \"3 umol/m2\"\naffinity = \"5 m3/mol\"\n\
             diffusivity = \"4e-10 m2/s\"",
            "no liquid outside",
        ),
        ("relaxation_time = \"1 ms\"", "", "`inner.polymer_viscosity` is missing"),
        ("relaxation_time = \"1 ms\"\npolymer_viscosity = \"1 Pa.s\"", "", "not below the liquid's viscosity"),
        ("thinning_exponent = 0.6", "", "`inner.thinning_time` is missing"),
        ("", "[outer]\nthinning_exponent = 0.6\nthinning_time = \"1 ms\"", "no liquid outside"),
        (
            "",
            "[outer]\nviscosity = \"1 mPa.s\"\ndensity = \"900 kg/m3\"\nthinning_exponent = 0.6\nthinning_time = \"1 ms\"\n\
             viscosity_infinite = \"2 mPa.s\"",
            "not below the liquid's viscosity",
        ),
        ("thinning_exponent = 1.6\nthinning_time = \"1 ms\"", "", "out of range"),
        ("thinning_exponent = 0.6\nthinning_time = \"1 mm\"", "", "inner.thinning_time"),
    ];
    for (inner, rest, said) in wrong {
        command(&case(0.1, inner, rest), &["growth"]).code(2).stderr(predicates::str::contains(said));
    }
}

#[test]
fn runs_refuse_by_name_what_they_do_not_compute() {
    // a polymer in a liquid runs; one that forgets within 1e-3 of its tip's capillary time does not
    let coflow = slenderjet::case::examples::find("coflow").expect("an example").text;
    let check = |time: &str| {
        let time = format!("inner.relaxation_time={time}");
        command(coflow, &["check", "--set", "inner.polymer_viscosity=5 mPa.s", "--set", &time])
    };
    check("1 ms").success();
    check("20 ns").code(2).stderr(predicates::str::contains("capillary time"));
    // on a tip one that has forgotten long before its drop moves: 5e-3 of sqrt(rho R^3/tension) = 1.44 ms
    let tap = slenderjet::case::examples::find("polymer").expect("an example").text;
    command(tap, &["check", "--set", "inner.relaxation_time=7 us"])
        .code(2)
        .stderr(predicates::str::contains("capillary time"));
    command(tap, &["check"]).success();
}

// A thread at rest with a surfactant dissolved in it runs, and says what its surface was like.
#[test]
fn a_thread_with_a_dissolved_surfactant_tells_its_tension_and_age() {
    let dissolved = "[surfactant]\nkind = \"dissolved\"\nphase = \"inner\"\nconcentration = \"1 mM\"\nsaturation = \"3 umol/m2\"\n\
                     affinity = \"5 m3/mol\"\ndiffusivity = \"4e-10 m2/s\"";
    let done = command(&case(0.1, "", dissolved), &["run", "--json"]).success();
    let answer: Value = serde_json::from_slice(&done.get_output().stdout).expect("JSON");
    let tension = answer["surface"]["drop_tension_n_per_m"].as_f64().expect("a tension");
    // 40 mN/m less at most R T Gamma_inf ln(1 + 5) = 13.3
    assert!(tension < 0.04 && tension > 0.0267, "{tension}");
    assert!(answer["surface"]["age_s"].as_f64().expect("an age") > 0.0);
    assert!(answer["conservation"]["surfactant_relative"].as_f64().expect("kept") < 1e-12);
}

// 8.314 J/(mol K) x 298.15 K x 3e-6 mol/m2 x ln(1 + 5 m3/mol c) reaches the example's 25 mN/m at c = 5.5 mol/m3.
#[test]
fn a_surfactant_that_takes_the_whole_tension_is_refused_with_the_concentration_that_would_do() {
    let text = slenderjet::case::examples::find("surfactant").expect("an example").text;
    let told = command(text, &["check", "--set", "surfactant.concentration=8 mol/m3"]).code(2);
    let told = String::from_utf8_lossy(&told.get_output().stderr).to_string();
    assert!(told.contains("27.617 mN/m") && told.contains("less than 5.5"), "{told}");
    command(text, &["check", "--set", "surfactant.concentration=5 mol/m3"]).success();
}

// Which effect moved the size: unasked no more than a third of the run is spent on it, one accuracy coarser; who asks has all of it at the
// run's own accuracy, and the rest of the answer is the same.
#[test]
fn each_effect_tells_by_how_much_it_moved_the_size() {
    let text = slenderjet::case::examples::find("surfactant").expect("an example").text;
    let text = format!("{text}\naccuracy = \"coarse\"\n")
        .replace("[outer]\n", "[outer]\nthinning_exponent = 0.7\nthinning_time = \"2 ms\"\n");
    let run = |more: &[&str]| -> Value {
        let arguments = [&["run", "--json", "--drops", "1"], more].concat();
        serde_json::from_slice(&command(&text, &arguments).success().get_output().stdout).expect("JSON")
    };
    let (unasked, asked) = (run(&[]), run(&["--effects"]));
    let names = |answer: &Value| -> Vec<String> {
        let effects = answer["moved"]["effects"].as_array().expect("effects");
        effects.iter().map(|by| by["effect"].as_str().expect("a name").to_owned()).collect()
    };
    assert_eq!(names(&unasked), ["surfactant", "its lack of equilibrium", "outer thinning"]);
    assert_eq!(names(&asked), names(&unasked));
    let told = |answer: &Value| -> Vec<Option<f64>> {
        let effects = answer["moved"]["effects"].as_array().expect("effects");
        effects.iter().map(|by| by["diameter_relative"].as_f64()).collect()
    };
    let all = told(&asked);
    // less tension than a clean surface has, more than at equilibrium: smaller and larger drops
    assert!(all[0].expect("told") < -0.05 && all[1].expect("told") > 0.01, "{all:?}");
    assert!(all[2].expect("told").abs() > 1e-4, "{all:?}");
    assert_eq!(asked["moved"]["why"], Value::Null);
    // three more runs of one drop cost more than a third of one
    let some = told(&unasked);
    assert!(some.iter().any(Option::is_none), "{some:?}");
    assert!(unasked["moved"]["why"].as_str().expect("why").contains("--effects"));
    assert!(some.iter().zip(&all).all(|(some, all)| some.is_none() || some == all), "{some:?} {all:?}");
    assert_eq!(unasked["primary"], asked["primary"]);
    let thinned = &asked["groups"]["at_rate"];
    assert!(thinned["capillary_outer"].as_f64() < asked["groups"]["capillary_outer"].as_f64(), "{thinned}");
}
