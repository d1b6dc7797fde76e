use super::*;
use approx::assert_relative_eq;
use proptest::prelude::*;

fn si(text: &str, kind: Kind) -> f64 {
    read(text, kind).unwrap_or_else(|e| panic!("{text}: {e}")).si
}

// Values from the definitions of the SI brochure (9th edition) and NIST SP 811 (2008), appendix B.
#[test]
fn published_conversions() {
    let cases = [
        ("120 uL/h", Kind::Flow, 120e-9 / 3600.0),
        ("120 µL/h", Kind::Flow, 120e-9 / 3600.0),
        ("120 μL/h", Kind::Flow, 120e-9 / 3600.0),
        ("6 mL/h", Kind::Flow, 6e-6 / 3600.0),
        ("6 ml/hr", Kind::Flow, 6e-6 / 3600.0),
        ("2 cc/min", Kind::Flow, 2e-6 / 60.0),
        ("2 mL.min-1", Kind::Flow, 2e-6 / 60.0),
        ("1e-10 m3/s", Kind::Flow, 1e-10),
        ("1e-10 m³/s", Kind::Flow, 1e-10),
        ("1e-10 m^3 s^-1", Kind::Flow, 1e-10),
        ("1e-10 m³·s⁻¹", Kind::Flow, 1e-10),
        ("50 mPa.s", Kind::Viscosity, 0.05),
        ("50 mPa s", Kind::Viscosity, 0.05),
        ("50mPa·s", Kind::Viscosity, 0.05),
        ("50 cP", Kind::Viscosity, 0.05),
        ("1 P", Kind::Viscosity, 0.1),
        ("1 kg/(m.s)", Kind::Viscosity, 1.0),
        ("6.5 mN/m", Kind::Tension, 6.5e-3),
        ("6.5 dyn/cm", Kind::Tension, 6.5e-3),
        ("6.5 dyne/cm", Kind::Tension, 6.5e-3),
        ("6.5 mJ/m2", Kind::Tension, 6.5e-3),
        ("20 um", Kind::Length, 20e-6),
        ("20 micron", Kind::Length, 20e-6),
        ("1.5 psi", Kind::Pressure, 1.5 * 6_894.757_293_168),
        ("1 atm", Kind::Pressure, 101_325.0),
        ("760 Torr", Kind::Pressure, 101_325.0),
        ("20 mbar", Kind::Pressure, 2000.0),
        ("917 kg/m3", Kind::Density, 917.0),
        ("0.917 g/mL", Kind::Density, 917.0),
        ("0.917 g/cm3", Kind::Density, 917.0),
        ("9.81 m/s2", Kind::Acceleration, 9.81),
        ("25 degC", Kind::Temperature, 298.15),
        ("25 °C", Kind::Temperature, 298.15),
        ("77 degF", Kind::Temperature, 298.15),
        ("300 K", Kind::Temperature, 300.0),
        ("50 ms", Kind::Time, 0.05),
        ("2 min", Kind::Time, 120.0),
        ("400 Hz", Kind::Frequency, 400.0),
        ("60 1/min", Kind::Frequency, 1.0),
        ("1 %", Kind::Number, 0.01),
        ("0.7", Kind::Number, 0.7),
        ("−3 um", Kind::Length, -3e-6),
        (".5 um", Kind::Length, 0.5e-6),
        ("5. um", Kind::Length, 5e-6),
        ("5 mPas", Kind::Viscosity, 5e-3),
        ("5 cps", Kind::Viscosity, 5e-3),
        ("5 centipoise", Kind::Viscosity, 5e-3),
        ("5 millipascal seconds", Kind::Viscosity, 5e-3),
        ("30 mcL/h", Kind::Flow, 30e-9 / 3600.0),
        ("30 microlitres per hour", Kind::Flow, 30e-9 / 3600.0),
        ("30 Microliters per minute", Kind::Flow, 30e-9 / 60.0),
        ("30 microns", Kind::Length, 30e-6),
        ("30 micrometres", Kind::Length, 30e-6),
        ("500/s", Kind::Frequency, 500.0),
        ("500 /s", Kind::Frequency, 500.0),
        ("500 per second", Kind::Frequency, 500.0),
        ("60/min", Kind::Frequency, 1.0),
        ("\u{201c}120 uL/h\u{201d}", Kind::Flow, 120e-9 / 3600.0),
        ("\u{201e}120 uL/h\u{201c}", Kind::Flow, 120e-9 / 3600.0),
    ];
    for (text, kind, expected) in cases {
        assert_relative_eq!(si(text, kind), expected, max_relative = 1e-12);
    }
}

#[test]
fn decimals_stay_what_they_are() {
    for (text, kind, expected) in [
        ("30 um", Kind::Length, 3e-5),
        ("1.05 mm", Kind::Length, 1.05e-3),
        ("7.5 mN/m", Kind::Tension, 7.5e-3),
        ("10.7 mPa.s", Kind::Viscosity, 10.7e-3),
        ("10.7 cP", Kind::Viscosity, 10.7e-3),
        ("0.2 %", Kind::Number, 0.002),
    ] {
        assert_eq!(si(text, kind), expected, "{text}");
    }
}

#[test]
fn a_kinematic_viscosity_needs_the_density() {
    let known = read_viscosity("50 cSt", Some(960.0)).expect("a viscosity");
    assert_relative_eq!(known.si, 50e-6 * 960.0, max_relative = 1e-12);
    let error = read_viscosity("50 cSt", None).expect_err("no density");
    assert!(error.to_string().contains("density"), "{error}");
    assert_relative_eq!(read_viscosity("50 mPa.s", None).expect("a viscosity").si, 0.05, max_relative = 1e-12);
}

#[test]
fn tolerances_are_relative() {
    let tolerance = |text| read(text, Kind::Tension).unwrap_or_else(|e| panic!("{text}: {e}")).tolerance;
    assert_eq!(tolerance("5 mN/m"), None);
    for text in ["5 mN/m +- 30 %", "5 mN/m +/- 1.5 mN/m", "5 mN/m ± 1.5 mN/m", "5 +- 1.5 mN/m", "5 mN/m +- 1.5"] {
        assert_relative_eq!(tolerance(text).expect("a tolerance"), 0.3, max_relative = 1e-12);
        assert_relative_eq!(si(text, Kind::Tension), 5e-3, max_relative = 1e-12);
    }
    assert!(read("5 mN/m +- 130 %", Kind::Tension).is_err());
    assert!(read("5 mN/m +- -3 %", Kind::Tension).is_err());
    assert!(read("0 mN/m +- 1 mN/m", Kind::Tension).is_err());
}

#[test]
fn errors_say_what_was_found_and_what_would_be_right() {
    let said = |text, kind| read(text, kind).expect_err("wrong").to_string();
    assert_eq!(
        said("150", Kind::Flow),
        "`150` has no unit; a volume flow is needed, in uL/h, mL/h, uL/min, mL/min, nL/s, m3/s"
    );
    assert_eq!(
        said("150 uL", Kind::Flow),
        "`150 uL` is a volume; a volume flow is needed, in uL/h, mL/h, uL/min, mL/min, nL/s, m3/s"
    );
    assert!(said("50 mPa.sec.", Kind::Viscosity).ends_with("(did you mean `mPa.s`?)"));
    assert!(said("7,5 mN/m", Kind::Tension).contains("decimal comma"));
    assert!(said("7,5 mN/m", Kind::Tension).ends_with("(did you mean `7.5 mN/m`?)"));
    assert!(said("fast", Kind::Flow).contains("does not begin with a number"));
    assert!(said("1e999 um", Kind::Length).contains("too large"));
    assert!(said("nan um", Kind::Length).contains("does not begin with a number"));
    assert!(said("5 kg/m.s", Kind::Viscosity).contains("has the dimension kg.m-1.s"));
    assert!(said("5 m99", Kind::Length).contains("exponent"));
    assert!(said("5 ((((((m))))))", Kind::Length).contains("no unit"));
    assert!(said("5 (m", Kind::Length).contains("closing bracket"));
    assert!(said("5 degC/s", Kind::Temperature).contains("no unit"));
    assert!(said("5 \u{1b}[31m", Kind::Length).contains("\\u{1b}"), "no escape codes reach the terminal");
    assert!(said(&"9".repeat(100_000), Kind::Length).len() < 300);
}

/// A hint that is off by a factor of a thousand is worse than none.
#[test]
fn what_can_mean_two_things_is_told_with_both() {
    let said = |text, kind| read(text, kind).expect_err("wrong").to_string();
    let both = said("1,210 kg/m3", Kind::Density);
    assert!(both.contains("`1210 kg/m3` or `1.210 kg/m3`") && !both.contains("did you mean"), "{both}");
    for (text, hint) in [
        ("0,210 g/mL", "0.210 g/mL"),
        ("1,21 g/mL", "1.21 g/mL"),
        ("1,210.5 kg/m3", "1210.5 kg/m3"),
        ("1,210,000 g/m3", "1210000 g/m3"),
        ("1.210,5 kg/m3", "1210.5 kg/m3"),
        ("1 210 kg/m3", "1210 kg/m3"),
        ("1'210 kg/m3", "1210 kg/m3"),
    ] {
        assert!(
            said(text, Kind::Density).ends_with(&format!("(did you mean `{hint}`?)")),
            "{}",
            said(text, Kind::Density)
        );
    }
    for (text, hint) in [
        ("1/2 mm", "0.5 mm"),
        ("30-40 um", "35 um +- 5 um"),
        ("30\u{2013}40 um", "35 um +- 5 um"),
        ("30 \u{43c}m", "mm"),
        ("30 u\u{43c}", "um"),
    ] {
        assert!(
            said(text, Kind::Length).ends_with(&format!("(did you mean `{hint}`?)")),
            "{}",
            said(text, Kind::Length)
        );
    }
    assert!(said("30 u\u{43c}", Kind::Length).contains("Cyrillic"));
    // what was hinted must be what is read
    assert_relative_eq!(si("35 um +- 5 um", Kind::Length), 35e-6, max_relative = 1e-12);
}

#[test]
fn a_hint_is_given_only_where_one_unit_is_nearest() {
    let nearest = |text, kind| read(text, kind).expect_err("wrong").nearest;
    // as near to uL/h as to mL/h and nL/s
    assert_eq!(nearest("30 xL/h", Kind::Flow), None);
    assert_eq!(nearest("30 xm", Kind::Length), None);
    assert_eq!(nearest("3 mN/x", Kind::Tension).as_deref(), Some("mN/m"));
    assert_eq!(nearest("3 dxn/cm", Kind::Tension).as_deref(), Some("dyn/cm"));
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,40}") {
        for kind in [Kind::Number, Kind::Length, Kind::Viscosity] {
            if let Ok(reading) = read(&text, kind) {
                prop_assert!(reading.si.is_finite());
            }
        }
    }

    #[test]
    fn si_values_survive_the_way_out_and_in(value in proptest::num::f64::NORMAL, kind in 0usize..8) {
        let kinds = [Kind::Number, Kind::Length, Kind::Time, Kind::Frequency, Kind::Flow, Kind::Density, Kind::Viscosity, Kind::Tension];
        let kind = kinds[kind];
        prop_assert_eq!(si(&format!("{value:e} {}", kind.si_unit()), kind), value);
    }

    #[test]
    fn units_scale(value in 1e-6f64..1e6) {
        let (mm, um) = (format!("{value} mm"), format!("{value} um"));
        let ratio = si(&mm, Kind::Length) / si(&um, Kind::Length);
        prop_assert!((ratio - 1000.0).abs() < 1e-9);
    }
}
