//! Malformed and hostile case files: each gets its clear error, all problems in one go, never a panic.

use proptest::prelude::*;
use slenderjet::case::examples::EXAMPLES;
use slenderjet::case::{Case, CaseErrors, parse, read};
use std::fs;

fn errors(text: &str) -> CaseErrors {
    parse(text, "case.toml").expect_err("malformed")
}

/// A good co-flow case with one line replaced (or removed, where `with` is empty).
fn coflow(line: &str, with: &str) -> String {
    let good = "title = \"t\"\nlayout = \"coflow\"\n[inner]\nviscosity = \"52 mPa.s\"\ndensity = \"917 kg/m3\"\nflow = \"150 uL/h\"\n\
        [outer]\nviscosity = \"10.7 mPa.s\"\ndensity = \"1153 kg/m3\"\nflow = \"6 mL/h\"\n[interface]\ntension = \"7.5 mN/m\"\n\
        [device]\nsquare_bore = \"1.05 mm\"\nround_outer = \"1.00 mm\"\ntip_bore = \"30 um\"\ntip_outer = \"45 um\"\n[run]\ndrops = 20\n";
    assert!(parse(good, "case.toml").is_ok());
    assert_eq!(good.matches(&format!("{line}\n")).count(), 1, "{line}");
    good.replace(&format!("{line}\n"), &if with.is_empty() { String::new() } else { format!("{with}\n") })
}

fn counterflow(change: (&str, &str)) -> String {
    let text = EXAMPLES.iter().find(|e| e.name == "counterflow").expect("an example").text;
    assert!(text.contains(change.0), "{}", change.0);
    text.replace(change.0, change.1)
}

/// What users get wrong, each with its golden text.
fn malformed() -> Vec<(&'static str, String)> {
    let segment = "layout = \"segment\"\n[inner]\nviscosity = \"8 mPa.s\"\ndensity = \"1080 kg/m3\"\n[interface]\ntension = \"65 mN/m\"\n";
    vec![
        ("01_bare_number", coflow("flow = \"150 uL/h\"", "flow = 150")),
        ("02_no_quotes", coflow("flow = \"150 uL/h\"", "flow = 150 uL/h")),
        ("03_wrong_dimension", coflow("flow = \"150 uL/h\"", "flow = \"150 uL\"")),
        ("04_unknown_unit", coflow("viscosity = \"52 mPa.s\"", "viscosity = \"52 mPax\"")),
        ("05_decimal_comma", coflow("tension = \"7.5 mN/m\"", "tension = \"7,5 mN/m\"")),
        ("06_misspelt_key", coflow("tip_bore = \"30 um\"", "tip_boer = \"30 um\"")),
        ("07_missing_key", coflow("density = \"917 kg/m3\"", "")),
        ("08_misspelt_section", coflow("[interface]", "[interfase]")),
        ("09_no_layout", coflow("layout = \"coflow\"", "")),
        ("10_unknown_layout", coflow("layout = \"coflow\"", "layout = \"co-flow\"")),
        ("11_list_for_text", coflow("square_bore = \"1.05 mm\"", "square_bore = [\"1.05 mm\"]")),
        ("12_table_for_text", coflow("title = \"t\"", "title = { a = 1 }")),
        ("13_duplicate_key", coflow("drops = 20", "drops = 20\ndrops = 30")),
        ("14_negative_flow", coflow("flow = \"150 uL/h\"", "flow = \"-150 uL/h\"")),
        ("15_absurd_bore", coflow("tip_bore = \"30 um\"", "tip_bore = \"30 m\"")),
        ("16_tip_wider_than_bore", coflow("tip_bore = \"30 um\"", "tip_bore = \"1.2 mm\"")),
        ("17_tip_inside_out", coflow("tip_outer = \"45 um\"", "tip_outer = \"25 um\"")),
        ("18_tube_does_not_fit", coflow("round_outer = \"1.00 mm\"", "round_outer = \"1.10 mm\"")),
        ("19_orifice_wider_than_channel", counterflow(("orifice_bore      = \"100 um\"", "orifice_bore = \"2 mm\""))),
        ("20_collection_narrows", counterflow(("collection_bore   = \"300 um\"", "collection_bore = \"50 um\""))),
        ("21_thread_fills_channel", coflow("flow = \"6 mL/h\"", "flow = \"0.2 uL/h\"")),
        ("22_two_bores", coflow("[run]", "round_bore = \"1 mm\"\n[run]")),
        ("23_drops_and_until", coflow("drops = 20", "drops = 20\nuntil = \"50 ms\"")),
        ("24_fraction_of_a_drop", coflow("drops = 20", "drops = 2.5")),
        ("25_unknown_liquid", coflow("viscosity = \"52 mPa.s\"", "liquid = \"sunflwer oil\"")),
        ("26_liquid_too_hot", coflow("viscosity = \"52 mPa.s\"", "liquid = \"water\"\ntemperature = \"150 degC\"")),
        ("27_kinematic_without_density", coflow("density = \"917 kg/m3\"", "").replace("52 mPa.s", "57 cSt")),
        ("28_pendant_with_orifice", "layout = \"pendant\"\n[inner]\nliquid = \"water\"\nflow = \"1 mL/h\"\n[device]\ntip_bore = \"1 mm\"\nstandoff = \"1 mm\"\n".into()),
        ("29_segment_without_wave", format!("{segment}[thread]\nradius = \"20 um\"\namplitude = 0.01\n")),
        ("30_segment_both_waves", format!("{segment}[thread]\nradius = \"20 um\"\namplitude = 0.01\nwavenumber = 0.7\nwavelength = \"180 um\"\n")),
        ("31_flow_turns_round", coflow("[run]", "[forcing]\namplitude = \"90 %\"\nfrequency = \"400 Hz\"\nnoise = \"5 %\"\n[run]")),
        ("32_modulation_without_frequency", coflow("[run]", "[forcing]\namplitude = \"1 %\"\n[run]")),
        ("33_not_a_number", coflow("drops = 20", "drops = 20\n[model]\nend_drag = nan")),
        ("34_too_large_a_number", coflow("density = \"1153 kg/m3\"", "density = \"1e999 kg/m3\"")),
        ("35_key_of_another_section", coflow("square_bore = \"1.05 mm\"", "square_bore = \"1.05 mm\"\ntension = \"5 mN/m\"")),
        ("36_section_missing", coflow("[outer]", "").replace("viscosity = \"10.7 mPa.s\"\ndensity = \"1153 kg/m3\"\nflow = \"6 mL/h\"\n", "")),
        ("37_not_toml_at_all", "PK\u{3}\u{4} this is a spreadsheet".into()),
        ("38_empty", String::new()),
        ("39_unclosed_quote", coflow("title = \"t\"", "title = \"t")),
        ("40_supersonic", coflow("flow = \"150 uL/h\"", "flow = \"150 L/h\"").replace("6 mL/h", "6000 L/h")),
        ("41_many_at_once", coflow("flow = \"150 uL/h\"", "flow = 150").replace("52 mPa.s", "52 furlong").replace("tip_outer", "tip_outre").replace("7.5 mN/m", "-7.5 mN/m")),
    ]
}

#[test]
fn malformed_cases_get_their_golden_errors() {
    let cases = malformed();
    assert!(cases.len() >= 20);
    for (name, text) in cases {
        let errors = errors(&text);
        for p in &errors.problems {
            assert!(p.line > 0 && p.column > 0, "{name}: no place");
            assert!(!p.found.is_empty() && !p.right.is_empty(), "{name}: says nothing");
        }
        insta::assert_snapshot!(name, errors.rendered(false));
    }
}

#[test]
fn many_problems_come_in_one_go_and_in_the_files_order() {
    let (_, text) = malformed().pop().expect("the last case");
    let problems = errors(&text).problems;
    let keys: Vec<&str> = problems.iter().map(|p| p.key.as_str()).collect();
    assert_eq!(keys, ["inner.viscosity", "inner.flow", "interface.tension", "device.tip_outre"]);
    assert!(problems.windows(2).all(|w| w[0].line <= w[1].line));
}

#[test]
fn problems_are_plain_data_too() {
    let problems = errors(&coflow("tip_bore = \"30 um\"", "tip_boer = \"30 um\""));
    let data = serde_json::to_value(&problems).expect("plain data");
    let first = &data["problems"][0];
    assert_eq!(data["file"], "case.toml");
    assert_eq!((&first["code"], &first["key"]), (&"unknown_key".into(), &"device.tip_boer".into()));
    assert_eq!((first["line"].as_u64(), first["column"].as_u64()), (Some(16), Some(1)));
    assert_eq!(first["nearest"], "device.tip_bore");
}

#[test]
fn units_are_read_however_the_micro_sign_is_typed_and_lines_may_end_in_cr_lf() {
    let plain = coflow("drops = 20", "drops = 20");
    for text in
        [plain.replace("um", "µm"), plain.replace("um", "μm"), plain.replace('\n', "\r\n"), format!("\u{feff}{plain}")]
    {
        let case = parse(&text, "case.toml").unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(case.device.tip_bore, 30e-6);
    }
}

#[test]
fn no_escape_code_of_a_file_reaches_the_screen() {
    for text in [
        "title = \"\u{1b}[31mred\"\n",
        "\u{1b}[2J = 3\n",
        "layout = \"\\u001b[31m\"\n[\"\\u001b[2J\"]\n\"\\u001b[1m\" = 1\n",
    ] {
        let shown = errors(text).rendered(false);
        assert!(!shown.contains('\u{1b}'), "{shown:?}");
    }
}

#[test]
fn what_cannot_be_read_is_refused_with_its_reason() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let said = |name: &str| read(&at(name)).expect_err("no case").to_string();
    assert!(said("nothing.toml").contains("there is no such file"));
    assert!(read(folder.path()).expect_err("a folder").to_string().contains("is a folder"));
    fs::write(at("latin1.toml"), b"title = \"caf\xe9\"\n").expect("written");
    assert!(said("latin1.toml").contains("not UTF-8 text (line 1, byte 12)"));
    fs::write(at("run.h5"), b"\x89HDF\r\n\x1a\n\xff\xfe").expect("written");
    assert!(said("run.h5").contains("this is a record (HDF5)"));
    fs::write(at("zeros.toml"), [0u8; 4096]).expect("written");
    assert!(said("zeros.toml").contains("not TOML"));
    // A gigabyte in one line: a sparse file, of which a megabyte is read.
    fs::File::create(at("huge.toml")).expect("made").set_len(1 << 30).expect("sparse");
    assert!(said("huge.toml").contains("larger than 1 MB"));
}

#[cfg(unix)]
#[test]
fn endless_input_is_bounded() {
    let said = read(std::path::Path::new("/dev/zero")).expect_err("no case").to_string();
    assert!(said.contains("larger than 1 MB"), "{said}");
}

/// Just below the limit of size, made to be costly.
#[test]
fn pathological_files_end_in_an_error() {
    let size = 900_000;
    let many = |piece: &str| piece.repeat(size / piece.len());
    let distinct: String = (0..30_000).map(|i| format!("k{i} = {i}\n")).collect();
    let sections: String = (0..30_000).map(|i| format!("[s{i}]\na = 1\n")).collect();
    for text in [
        many("["),
        format!("a = {}", many("[")),
        format!("a = {}", many("{a=")),
        many("a."),
        format!("{} = 1", "a.".repeat(400_000) + "a"),
        many("\"\"\"\n"),
        many("a = 1\n"),
        many("[inner]\n"),
        many("[[inner]]\n"),
        many("\u{1F331}"),
        many("= \n"),
        format!("title = \"{}\"", "x".repeat(size)),
        format!("layout = \"{}\"", "x".repeat(size)),
        format!("[inner]\nflow = \"{}\"", "9".repeat(size)),
        format!("[inner]\nflow = {}", "9".repeat(size)),
        format!("[inner]\nliquid = \"{}\"", "x".repeat(size)),
        format!("[{}]\n", "x".repeat(size)),
        distinct,
        sections,
    ] {
        let shown = errors(&text).rendered(false);
        assert!(shown.len() < 200_000, "{} bytes of error text", shown.len());
        assert!(shown.lines().all(|l| l.chars().count() < 2000), "a line too long to read");
    }
}

fn is_sane(case: &Case) -> bool {
    let mut numbers = vec![case.inner.viscosity, case.inner.density, case.tension, case.device.tip_bore];
    numbers.extend(case.outer.iter().flat_map(|o| [o.viscosity, o.density]));
    numbers.iter().all(|x| x.is_finite() && *x > 0.0)
        && case.gravity.is_finite()
        && case.typed.iter().all(|t| t.si.is_finite())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_text_is_a_case_or_an_error(text in "\\PC{0,200}") {
        if let Err(errors) = parse(&text, "any") {
            prop_assert!(!errors.problems.is_empty());
            errors.rendered(true);
        }
    }

    #[test]
    fn any_bytes_are_an_error(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        if let Ok(text) = std::str::from_utf8(&bytes)
            && let Err(errors) = parse(text, "any")
        {
            errors.rendered(false);
        }
    }

    /// A good file with a piece cut out, doubled or overwritten.
    #[test]
    fn a_damaged_example_is_a_sane_case_or_an_error(
        which in 0..EXAMPLES.len(), from in 0usize..1500, length in 0usize..40, with in "[ -~\\n]{0,12}", twice in any::<bool>(),
    ) {
        let text = EXAMPLES[which].text;
        let boundary = |at: usize| (at.min(text.len())..=text.len()).find(|i| text.is_char_boundary(*i)).unwrap_or(text.len());
        let (from, to) = (boundary(from), boundary(from + length));
        let piece = if twice { &text[from..to] } else { "" };
        let damaged = format!("{}{with}{piece}{}{}", &text[..from], if twice { piece } else { "" }, &text[to..]);
        match parse(&damaged, "damaged") {
            Ok(case) => prop_assert!(is_sane(&case)),
            Err(errors) => {
                let lines = damaged.lines().count() + 1;
                for p in &errors.problems {
                    prop_assert!(p.line <= lines && p.column > 0);
                }
                errors.rendered(true);
            }
        }
    }

    /// Every number of an example replaced by any number.
    #[test]
    fn any_number_is_accepted_with_sense_or_refused(which in 0..EXAMPLES.len(), index in 0usize..20, value in any::<f64>()) {
        let case = parse(EXAMPLES[which].text, "example").expect("an example");
        let key = case.typed[index % case.typed.len()].key.clone();
        if let Ok(changed) = case.with(&key, value) {
            prop_assert!(is_sane(&changed));
        }
    }
}
