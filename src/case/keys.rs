//! Every key of a case file: what it takes, for which layouts, in which range.

use super::LayoutKind;
use crate::units::Kind;

/// What a key takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Takes {
    /// Free text.
    Text,
    /// One of these words.
    Word(&'static [&'static str]),
    /// A whole number between two bounds.
    Whole(u64, u64),
    /// A quantity between two bounds, written as a user would.
    Quantity(Kind, &'static str, &'static str),
}

/// A key of the case file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// Dotted name.
    pub name: &'static str,
    pub takes: Takes,
    layouts: u8,
    /// What it means, for error texts.
    pub about: &'static str,
    /// A value as a user would write it.
    pub example: &'static str,
}

const C: u8 = 1;
const F: u8 = 2;
const P: u8 = 4;
const S: u8 = 8;
const STREAMS: u8 = C | F | P;
const TUBES: u8 = C | F;
const ALL: u8 = C | F | P | S;

impl Key {
    /// Whether a layout has a use for it.
    pub fn belongs_to(&self, layout: LayoutKind) -> bool {
        let bit = match layout {
            LayoutKind::Coflow => C,
            LayoutKind::Counterflow => F,
            LayoutKind::Pendant => P,
            LayoutKind::Segment => S,
        };
        self.layouts & bit != 0
    }

    /// The layouts that have a use for it.
    pub fn layouts(&self) -> Vec<&'static str> {
        LAYOUTS.iter().filter(|l| self.belongs_to(**l)).map(|l| l.name()).collect()
    }
}

/// All layouts.
pub const LAYOUTS: [LayoutKind; 4] =
    [LayoutKind::Coflow, LayoutKind::Counterflow, LayoutKind::Pendant, LayoutKind::Segment];

const fn text(name: &'static str, layouts: u8, about: &'static str, example: &'static str) -> Key {
    Key { name, takes: Takes::Text, layouts, about, example }
}

const fn word(name: &'static str, layouts: u8, words: &'static [&'static str], about: &'static str) -> Key {
    Key { name, takes: Takes::Word(words), layouts, about, example: words[0] }
}

const fn whole(name: &'static str, layouts: u8, range: (u64, u64), about: &'static str, example: &'static str) -> Key {
    Key { name, takes: Takes::Whole(range.0, range.1), layouts, about, example }
}

const fn real(
    name: &'static str,
    layouts: u8,
    kind: Kind,
    range: (&'static str, &'static str),
    about: &'static str,
    example: &'static str,
) -> Key {
    Key { name, takes: Takes::Quantity(kind, range.0, range.1), layouts, about, example }
}

const BORE: (&str, &str) = ("100 nm", "100 mm");
const VISCOSITY: (&str, &str) = ("1 uPa.s", "100 kPa.s");
const DENSITY: (&str, &str) = ("0.01 kg/m3", "30 g/mL");
const FLOW: (&str, &str) = ("1e-6 nL/h", "10 m3/s");
/// Wider than any capillary, so that model problems in units of one metre can be typed.
const NOZZLE: (&str, &str) = ("100 nm", "2 m");
const HERTZ: (&str, &str) = ("1e-6 Hz", "1e9 Hz");
const STEP: (&str, &str) = ("1e-9 nL", "1 mL");
const RAMP: (&str, &str) = ("1 ns", "1e9 s");
const RELAXATION: (&str, &str) = ("1 ns", "1e5 s");
const TEMPERATURE: (&str, &str) = ("-100 degC", "300 degC");

/// The table. Order: as in the file.
pub const KEYS: &[Key] = &[
    text("title", ALL, "free text that names the case", "Nutrient-oil drops for a seedling tray"),
    word("layout", ALL, &["coflow", "counterflow", "pendant", "segment"], "which device it is"),
    text("inner.liquid", ALL, "a liquid of `slenderjet liquids`", "sunflower oil"),
    real("inner.temperature", ALL, Kind::Temperature, TEMPERATURE, "temperature of the inner liquid", "25 degC"),
    real("inner.viscosity", ALL, Kind::Viscosity, VISCOSITY, "viscosity of the inner liquid", "52 mPa.s"),
    real("inner.density", ALL, Kind::Density, DENSITY, "density of the inner liquid", "917 kg/m3"),
    real("inner.flow", STREAMS, Kind::Flow, FLOW, "volume flow of the inner liquid", "150 uL/h"),
    real(
        "inner.thinning_exponent",
        ALL,
        Kind::Number,
        ("0.1", "1"),
        "n of a shear-thinning inner liquid (Carreau); `viscosity` is that at rest",
        "0.7",
    ),
    real(
        "inner.thinning_time",
        ALL,
        Kind::Time,
        RELAXATION,
        "time whose inverse is the rate where it begins to thin",
        "2 ms",
    ),
    real(
        "inner.viscosity_infinite",
        ALL,
        Kind::Viscosity,
        ("0 Pa.s", "100 kPa.s"),
        "viscosity it thins down to",
        "5 mPa.s",
    ),
    real(
        "inner.polymer_viscosity",
        ALL,
        Kind::Viscosity,
        VISCOSITY,
        "the dissolved polymer's part of the inner liquid's `viscosity`",
        "20 mPa.s",
    ),
    real("inner.relaxation_time", ALL, Kind::Time, RELAXATION, "longest relaxation time of the polymer", "3 ms"),
    real(
        "inner.extensibility",
        ALL,
        Kind::Number,
        ("4", "1e8"),
        "L^2 of FENE-P: square of the polymer's full length over its length at rest per axis; left out: Oldroyd-B",
        "1000",
    ),
    text("outer.liquid", ALL, "a liquid of `slenderjet liquids`", "glycerol-water 40 %"),
    real("outer.temperature", ALL, Kind::Temperature, TEMPERATURE, "temperature of the outer liquid", "25 degC"),
    real("outer.viscosity", ALL, Kind::Viscosity, VISCOSITY, "viscosity of the outer liquid", "10.7 mPa.s"),
    real("outer.density", ALL, Kind::Density, DENSITY, "density of the outer liquid", "1153 kg/m3"),
    real("outer.flow", TUBES, Kind::Flow, FLOW, "volume flow of the outer liquid", "6 mL/h"),
    real(
        "outer.thinning_exponent",
        ALL,
        Kind::Number,
        ("0.1", "1"),
        "n of a shear-thinning outer liquid (Carreau); `viscosity` is that at rest",
        "0.7",
    ),
    real(
        "outer.thinning_time",
        ALL,
        Kind::Time,
        RELAXATION,
        "time whose inverse is the rate where it begins to thin",
        "2 ms",
    ),
    real(
        "outer.viscosity_infinite",
        ALL,
        Kind::Viscosity,
        ("0 Pa.s", "100 kPa.s"),
        "viscosity it thins down to",
        "5 mPa.s",
    ),
    real(
        "interface.tension",
        ALL,
        Kind::Tension,
        ("0.1 uN/m", "2 N/m"),
        "interfacial tension; with a dissolved surfactant that of the clean interface",
        "7.5 mN/m",
    ),
    word(
        "interface.tension_at",
        ALL,
        &["rest", "drop"],
        "rest: the tension may be another one at the age of a drop; drop: it was found on drops of about this age, as `calibrate` does",
    ),
    word("surfactant.kind", ALL, &["insoluble", "dissolved"], "whether the surfactant stays on the interface"),
    real(
        "surfactant.elasticity",
        ALL,
        Kind::Number,
        ("0", "10"),
        "insoluble: E = -(Gamma_0/tension) d tension/d Gamma at the amount at rest Gamma_0, where the tension is [interface]'s",
        "0.3",
    ),
    word("surfactant.isotherm", ALL, &["linear", "langmuir"], "insoluble: how tension falls with the amount"),
    real(
        "surfactant.coverage",
        ALL,
        Kind::Number,
        ("0.1 %", "99 %"),
        "insoluble, langmuir: share of the closest packing that Gamma_0 is",
        "0.5",
    ),
    real(
        "surfactant.surface_diffusivity",
        ALL,
        Kind::Diffusivity,
        ("0 m2/s", "1e-4 m2/s"),
        "insoluble: diffusivity along the interface",
        "5e-10 m2/s",
    ),
    word("surfactant.phase", ALL, &["outer", "inner"], "dissolved: the liquid that holds it"),
    real(
        "surfactant.concentration",
        ALL,
        Kind::Concentration,
        ("1e-9 mol/m3", "1e5 mol/m3"),
        "dissolved: concentration of single molecules (below the micelle limit)",
        "2 mol/m3",
    ),
    real(
        "surfactant.saturation",
        ALL,
        Kind::SurfaceConcentration,
        ("1e-9 mol/m2", "1e-3 mol/m2"),
        "dissolved: amount at the closest packing, Gamma_inf",
        "3e-6 mol/m2",
    ),
    real(
        "surfactant.affinity",
        ALL,
        Kind::Affinity,
        ("1e-6 m3/mol", "1e9 m3/mol"),
        "dissolved: Langmuir constant K in K c = theta/(1 - theta)",
        "5 m3/mol",
    ),
    real(
        "surfactant.diffusivity",
        ALL,
        Kind::Diffusivity,
        ("1e-15 m2/s", "1e-4 m2/s"),
        "dissolved: diffusivity in its liquid",
        "4e-10 m2/s",
    ),
    real("device.square_bore", TUBES, Kind::Length, BORE, "inside width of the square capillary", "1.05 mm"),
    real("device.round_bore", TUBES | S, Kind::Length, BORE, "inside diameter of a round outer capillary", "1.0 mm"),
    real(
        "device.round_outer",
        STREAMS,
        Kind::Length,
        BORE,
        "outside diameter of the round capillary before its taper",
        "1.00 mm",
    ),
    real("device.tip_bore", STREAMS, Kind::Length, NOZZLE, "inside diameter of the inner nozzle tip", "30 um"),
    real("device.tip_outer", STREAMS, Kind::Length, NOZZLE, "outside diameter of the inner nozzle tip", "45 um"),
    word("device.wetting", STREAMS, &["tip_bore", "tip_outer"], "which rim pins the contact line"),
    real("device.orifice_bore", F, Kind::Length, BORE, "diameter of the collection orifice", "60 um"),
    real("device.orifice_length", F, Kind::Length, BORE, "length of the orifice's narrow part", "200 um"),
    real("device.standoff", F, Kind::Length, BORE, "distance from nozzle tip to orifice plane", "90 um"),
    real("device.collection_bore", F, Kind::Length, BORE, "diameter that the collection tube widens to", "150 um"),
    real("device.collection_length", F, Kind::Length, ("100 nm", "1 m"), "length over which it widens", "450 um"),
    real("thread.radius", S, Kind::Length, NOZZLE, "radius of the thread", "20 um"),
    real("thread.wavenumber", S, Kind::Number, ("0.01", "5"), "reduced wavenumber x = k R", "0.7"),
    real("thread.wavelength", S, Kind::Length, ("100 nm", "1 km"), "wavelength of the wave", "180 um"),
    real("thread.amplitude", S, Kind::Number, ("1e-9", "0.9"), "amplitude of the wave over the radius", "1 %"),
    word("gravity.along", ALL, &["none", "down", "up"], "direction of the flow relative to gravity"),
    real("gravity.g", ALL, Kind::Acceleration, ("0 m/s2", "1e5 m/s2"), "acceleration of gravity", "9.81 m/s2"),
    real("forcing.amplitude", STREAMS, Kind::Number, ("0", "99 %"), "modulation of the inner flow", "1 %"),
    real("forcing.frequency", STREAMS, Kind::Frequency, HERTZ, "frequency of the modulation", "400 Hz"),
    real("forcing.noise", STREAMS, Kind::Number, ("0", "25 %"), "noise of the inner flow", "0.2 %"),
    real(
        "forcing.step",
        STREAMS,
        Kind::Volume,
        STEP,
        "volume that a step of the inner pump's motor delivers",
        "0.5 nL",
    ),
    real("forcing.outer_amplitude", TUBES, Kind::Number, ("0", "99 %"), "modulation of the outer flow", "1 %"),
    real("forcing.outer_frequency", TUBES, Kind::Frequency, HERTZ, "frequency of that modulation", "2 Hz"),
    real("forcing.outer_noise", TUBES, Kind::Number, ("0", "25 %"), "noise of the outer flow", "0.2 %"),
    real(
        "forcing.outer_step",
        TUBES,
        Kind::Volume,
        STEP,
        "volume that a step of the outer pump's motor delivers",
        "20 nL",
    ),
    real(
        "forcing.step_share",
        STREAMS,
        Kind::Number,
        ("5 %", "100 %"),
        "share of the time between two steps in which liquid flows",
        "50 %",
    ),
    whole("forcing.seed", STREAMS, (0, i64::MAX as u64), "seed of the noise", "1"),
    real("ramp.inner", STREAMS, Kind::Flow, FLOW, "inner flow that the ramp goes to", "300 mL/min"),
    real("ramp.outer", TUBES, Kind::Flow, FLOW, "outer flow that the ramp goes to", "30 mL/h"),
    real("ramp.start", STREAMS, Kind::Time, ("0 s", "1e9 s"), "when the ramp begins", "50 ms"),
    real("ramp.over", STREAMS, Kind::Time, RAMP, "time that the ramp takes", "2 s"),
    real("ramp.hold", STREAMS, Kind::Time, ("0 s", "1e9 s"), "time that the flow stays there", "0.5 s"),
    real("ramp.back", STREAMS, Kind::Time, RAMP, "time that the way back takes", "2 s"),
    real("model.end_drag", ALL, Kind::Number, ("0", "2"), "share of the free-drop drag on a drop-shaped end", "1"),
    word("model.coalescence", ALL, &["off", "on"], "whether touching drops merge"),
    word(
        "model.radial_inertia",
        ALL,
        &["off", "on"],
        "whether `growth` keeps the inertia of the radial motion (a run never does)",
    ),
    word(
        "model.inflow_profile",
        P,
        &["plug", "parabola"],
        "how the liquid leaves its bore into a gas: as a plug (short bore) or as a parabola (long needle)",
    ),
    word(
        "model.section",
        TUBES,
        &["two_fields", "closures"],
        "viscous forces on the thread: the fields of its mean and its surface by least dissipation (clean Newtonian liquids), or closures \
         for its mean velocity (faster)",
    ),
    whole("run.drops", ALL, (1, 1_000_000), "stop after this many detached primary drops", "20"),
    real("run.until", ALL, Kind::Time, ("1 ps", "1e7 s"), "stop at this time", "50 ms"),
    word("run.accuracy", ALL, &["standard", "coarse", "fine"], "mesh and tolerance"),
    whole(
        "run.frames",
        ALL,
        (2, 100_000),
        "snapshots recorded at equal intervals (half as many at least where `drops` end the run)",
        "400",
    ),
    real("supply.inner_syringe", STREAMS, Kind::Volume, ("1 uL", "1 L"), "syringe of the inner liquid", "1 mL"),
    real("supply.outer_syringe", TUBES, Kind::Volume, ("1 uL", "1 L"), "syringe of the outer liquid", "10 mL"),
    real("supply.trapped_air", STREAMS, Kind::Volume, ("0 uL", "1 L"), "air left in the inner feed line", "10 uL"),
    real("supply.inner_bore", STREAMS, Kind::Length, BORE, "bore of the inner capillary before its taper", "0.58 mm"),
    real("supply.taper_length", STREAMS, Kind::Length, ("1 um", "1 m"), "length of the nozzle's taper", "5 mm"),
    real(
        "supply.inner_length",
        STREAMS,
        Kind::Length,
        ("0 mm", "10 m"),
        "length of capillary before the taper",
        "50 mm",
    ),
    real("supply.outer_length", TUBES, Kind::Length, ("0 mm", "10 m"), "length of the outer stream's gap", "30 mm"),
];

/// A key by its dotted name.
pub fn find(name: &str) -> Option<&'static Key> {
    KEYS.iter().find(|k| k.name == name)
}

/// What holds where an optional key is left out, for help texts; empty where the layout decides or nothing is assumed.
pub fn left_out(name: &str) -> &'static str {
    match name {
        "device.wetting" => "tip_bore",
        "device.collection_bore" => "as orifice_bore",
        "gravity.along" => "none",
        "gravity.g" => "9.80665 m/s2",
        "inner.temperature" | "outer.temperature" => "25 degC",
        "inner.viscosity_infinite" | "outer.viscosity_infinite" => "0",
        "interface.tension_at" => "rest",
        "surfactant.isotherm" => "linear",
        "surfactant.surface_diffusivity" => "0",
        "surfactant.phase" => "outer",
        "forcing.amplitude" | "forcing.noise" | "forcing.seed" => "0",
        "forcing.outer_amplitude" | "forcing.outer_noise" => "0",
        "forcing.step_share" => "50 %",
        "ramp.start" | "ramp.hold" => "0 s",
        "model.end_drag" => "1",
        "model.coalescence" | "model.radial_inertia" => "off",
        "model.inflow_profile" => "plug",
        "model.section" => "two_fields in counterflow with clean Newtonian liquids, else closures",
        "run.drops" => "20",
        "run.accuracy" => "standard",
        "run.frames" => "400",
        "supply.trapped_air" => "10 uL",
        "supply.inner_bore" => "0.58 of round_outer",
        "supply.taper_length" => "half-angle 5 degrees",
        "supply.inner_length" => "50 mm",
        "supply.outer_length" => "30 mm",
        _ => "",
    }
}

/// Names of the sections.
pub fn sections() -> Vec<&'static str> {
    let mut names: Vec<&str> = KEYS.iter().filter_map(|k| k.name.split_once('.').map(|(s, _)| s)).collect();
    names.dedup();
    names
}

/// Similarity from which a name counts as near.
const NEAR: f64 = 0.6;
/// Similarity of a name that is part of the other (`flowrate` and `flow`).
const CONTAINED: f64 = 0.8;

/// Longer names than this are no slip of the pen (and costly to compare).
const NAME_MAX: usize = 60;

/// The known key that a wrong one most likely stands for: the same name in another section, else the most similar.
pub fn nearest(wrong: &str, layout: Option<LayoutKind>) -> Option<&'static str> {
    if wrong.len() > NAME_MAX {
        return None;
    }
    let (section, name) = wrong.split_once('.').unwrap_or(("", wrong));
    let usable = |key: &&Key| layout.is_none_or(|l| key.belongs_to(l));
    let score = |key: &Key| {
        let (own_section, own_name) = key.name.split_once('.').unwrap_or(("", key.name));
        let wrong = name.to_lowercase();
        let contained =
            own_name.len() >= 4 && wrong.contains(own_name) || wrong.len() >= 4 && own_name.contains(&wrong);
        let names = strsim::normalized_levenshtein(&wrong, own_name).max(if contained { CONTAINED } else { 0.0 });
        let sections = strsim::normalized_levenshtein(&section.to_lowercase(), own_section);
        names + 0.25 * sections - 0.25
    };
    let best = KEYS.iter().filter(usable).max_by(|a, b| score(a).total_cmp(&score(b)))?;
    (score(best) >= NEAR).then_some(best.name)
}

/// The word of a list that a wrong one most likely stands for.
pub fn nearest_word<'a>(wrong: &str, words: &[&'a str]) -> Option<&'a str> {
    if wrong.len() > NAME_MAX {
        return None;
    }
    let score = |word: &str| strsim::normalized_levenshtein(&wrong.to_lowercase(), word);
    let best = words.iter().max_by(|a, b| score(a).total_cmp(&score(b)))?;
    (score(best) >= 0.5).then_some(best)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units;

    #[test]
    fn bounds_and_examples_of_every_key_can_be_read_and_agree() {
        for key in KEYS {
            match key.takes {
                Takes::Quantity(kind, least, most) => {
                    let si = |text| units::read(text, kind).unwrap_or_else(|e| panic!("{}: {e}", key.name)).si;
                    let (least, example, most) = (si(least), si(key.example), si(most));
                    assert!(least <= example && example <= most, "{}", key.name);
                }
                Takes::Whole(least, most) => {
                    let example: u64 = key.example.parse().expect("a whole number");
                    assert!((least..=most).contains(&example), "{}", key.name);
                }
                Takes::Word(words) => assert!(words.contains(&key.example)),
                Takes::Text => {}
            }
        }
    }

    #[test]
    fn what_help_texts_say_of_keys_left_out_is_what_happens() {
        let text =
            "layout = \"pendant\"\n[inner]\nliquid = \"water\"\nflow = \"300 mL/min\"\n[device]\ntip_bore = \"1 mm\"\n";
        let parsed = |text: &str| crate::case::parse(text, "plain").unwrap_or_else(|e| panic!("{e}"));
        let ramped = parsed(&format!("{text}[ramp]\ninner = \"400 mL/min\"\nover = \"1 s\"\nback = \"1 s\"\n"));
        let plain = parsed(text);
        // a key of the surfactant needs the others of its kind
        let apart = |name: &str| name.starts_with("outer.") || name.starts_with("surfactant.");
        for key in KEYS.iter().filter(|k| k.belongs_to(LayoutKind::Pendant) && !apart(k.name)) {
            let said = left_out(key.name);
            let value = match key.takes {
                Takes::Quantity(kind, ..) if units::read(said, kind).is_ok() => said.to_owned(),
                Takes::Word(_) | Takes::Whole(..) if !said.is_empty() => said.to_owned(),
                _ => continue,
            };
            let plain = if key.name.starts_with("ramp.") { &ramped } else { &plain };
            let told = plain.with_text(key.name, &value).unwrap_or_else(|e| panic!("{}: {e}", key.name));
            let same = crate::case::Case { typed: plain.typed.clone(), text: plain.text.clone(), ..told.clone() };
            assert_eq!(&same, plain, "{} is not {said} where it is left out", key.name);
            let (a, b) = (told.supply(), plain.supply());
            assert_eq!((a.trapped_air, a.inner_length), (b.trapped_air, b.inner_length), "{}", key.name);
        }
    }

    #[test]
    fn slips_find_their_key() {
        assert_eq!(nearest("device.tip_boer", None), Some("device.tip_bore"));
        assert_eq!(nearest("inner.flowrate", None), Some("inner.flow"));
        assert_eq!(nearest("interface.tention", None), Some("interface.tension"));
        assert_eq!(nearest("inner.tension", None), Some("interface.tension"));
        assert_eq!(nearest("device.Tip_bore", None), Some("device.tip_bore"));
        assert_eq!(nearest("tite", None), Some("title"));
        assert_eq!(nearest("device.qqqq", None), None);
        assert_eq!(nearest("thread.radiu", Some(LayoutKind::Coflow)), None);
        assert_eq!(nearest_word("Coflow", &["coflow", "pendant"]), Some("coflow"));
        assert_eq!(nearest_word("zzz", &["coflow", "pendant"]), None);
    }
}
