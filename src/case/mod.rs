//! A checked case in SI units: everything a run needs to know, and nothing it has to look up.
//!
//! Text becomes a [`Case`] in the parser; after that nobody asks again whether a value is there or sane.

mod build;
mod contradictions;
mod document;
mod edit;
pub mod examples;
mod file;
pub mod glass;
pub mod keys;
mod problem;
mod reader;
pub mod rheology;
mod set;
mod write;

pub use file::{parse, parse_with, read, read_from, read_with};
pub use problem::{CaseErrors, Code, Problem};
pub use rheology::RealLiquids;

use serde::{Deserialize, Serialize};

/// Which device, and so which wall, start and end the thread has; each with what only it has.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub enum Layout {
    /// Both liquids run the same way past a tapered tip.
    Coflow,
    /// The liquids meet from opposite ends and leave through one collection orifice.
    Counterflow(Orifice),
    /// A nozzle from which the liquid hangs or jets.
    Pendant,
    /// One wavelength of a periodic thread at rest.
    Segment(Segment),
}

/// A layout by name, as a case file has it before its other keys are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum LayoutKind {
    /// [`Layout::Coflow`]
    Coflow,
    /// [`Layout::Counterflow`]
    Counterflow,
    /// [`Layout::Pendant`]
    Pendant,
    /// [`Layout::Segment`]
    Segment,
}

impl LayoutKind {
    /// The word used in case files, summaries and records.
    pub fn name(self) -> &'static str {
        match self {
            LayoutKind::Coflow => "coflow",
            LayoutKind::Counterflow => "counterflow",
            LayoutKind::Pendant => "pendant",
            LayoutKind::Segment => "segment",
        }
    }
}

impl Layout {
    /// Which of the four it is.
    pub fn kind(&self) -> LayoutKind {
        match self {
            Layout::Coflow => LayoutKind::Coflow,
            Layout::Counterflow(_) => LayoutKind::Counterflow,
            Layout::Pendant => LayoutKind::Pendant,
            Layout::Segment(_) => LayoutKind::Segment,
        }
    }

    /// The word used in case files, summaries and records.
    pub fn name(&self) -> &'static str {
        self.kind().name()
    }

    /// The collection orifice of a counter-flow.
    pub fn orifice(&self) -> Option<Orifice> {
        if let Layout::Counterflow(orifice) = self { Some(*orifice) } else { None }
    }

    /// The periodic thread of a segment.
    pub fn segment(&self) -> Option<Segment> {
        if let Layout::Segment(segment) = self { Some(*segment) } else { None }
    }
}

/// A liquid stream: properties and volume flow (SI). `flow` is zero for `segment` and for a quiescent surrounding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stream {
    /// Name as typed, if the properties came from the built-in table.
    pub liquid: Option<String>,
    /// Dynamic viscosity, Pa s.
    pub viscosity: f64,
    /// Density, kg/m3.
    pub density: f64,
    /// Volume flow, m3/s.
    pub flow: f64,
}

/// Inside of the outer channel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Bore {
    /// Square capillary, inside width in m.
    Square(f64),
    /// Round capillary, inside diameter in m.
    Round(f64),
    /// No wall (pendant, segment).
    Unbounded,
}

/// Which rim of the tip pins the contact line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Wetting {
    /// The inner rim.
    TipBore,
    /// The outer rim.
    TipOuter,
}

/// The collection orifice of the counter-flow layout, lengths in m.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Orifice {
    /// Inside diameter of its narrow part.
    pub bore: f64,
    /// Length of its narrow part.
    pub length: f64,
    /// Nozzle tip to orifice plane.
    pub standoff: f64,
    /// Diameter to which the collection tube has widened (equal to `bore` if it does not).
    pub collection_bore: f64,
    /// Length over which it widens (zero if it does not).
    pub collection_length: f64,
}

/// The glass, lengths in m.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Device {
    /// Outer channel.
    pub bore: Bore,
    /// Outside diameter of the round capillary before its taper.
    pub round_outer: Option<f64>,
    /// Inside diameter of the inner nozzle tip (diameter of the thread for `segment`).
    pub tip_bore: f64,
    /// Outside diameter of the tip.
    pub tip_outer: Option<f64>,
    /// Which rim pins the contact line.
    pub wetting: Wetting,
}

impl Device {
    /// Radius that pins the contact line, m: the length on which all groups are built.
    pub fn pinned_radius(&self) -> f64 {
        match (self.wetting, self.tip_outer) {
            (Wetting::TipOuter, Some(outer)) => 0.5 * outer,
            _ => 0.5 * self.tip_bore,
        }
    }
}

/// The periodic thread of the `segment` layout.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Segment {
    /// Mean radius R, m.
    pub radius: f64,
    /// Reduced wavenumber x = k R.
    pub wavenumber: f64,
    /// Amplitude over R: h = R (1 + amplitude cos kz).
    pub amplitude: f64,
}

/// Pump pulsation, deliberate modulation and noise of the inner flow.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Forcing {
    /// Relative amplitude of the modulation of the inner flow.
    pub amplitude: f64,
    /// Its frequency, 1/s.
    pub frequency: f64,
    /// Relative root-mean-square of the band-limited noise.
    pub noise: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// Volume that a step of the inner pump's motor delivers, m3; zero where it runs smoothly.
    pub step: f64,
    /// The same of the outer flow.
    pub outer: OuterForcing,
    /// Share of the time between two steps in which liquid flows.
    pub step_share: f64,
    /// Flows that change within a run.
    pub ramp: Option<Ramp>,
}

/// Pulsation, noise and steps of the outer flow.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct OuterForcing {
    /// Relative amplitude, and frequency (1/s).
    pub amplitude: f64,
    pub frequency: f64,
    /// Relative root-mean-square of the band-limited noise.
    pub noise: f64,
    /// Volume of a motor's step, m3.
    pub step: f64,
}

/// Flows that go in straight lines from those of the case to others and, if they are to, back.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Ramp {
    /// m3/s; `None` where the flow stays.
    pub inner: Option<f64>,
    pub outer: Option<f64>,
    /// When it begins, how long it takes, how long the flow stays there and how long the way back takes, s.
    pub start: f64,
    pub over: f64,
    pub hold: f64,
    pub back: Option<f64>,
}

impl Ramp {
    /// When nothing changes any more, s.
    pub fn end(&self) -> f64 {
        self.start + self.over + self.back.map_or(0.0, |back| self.hold + back)
    }
}

/// Share of the time between two steps of a motor in which liquid flows, where none is told (common practice, no source).
const STEP_SHARE_DEFAULT: f64 = 0.5;

impl Default for Forcing {
    fn default() -> Forcing {
        Forcing {
            amplitude: 0.0,
            frequency: 0.0,
            noise: 0.0,
            seed: 0,
            step: 0.0,
            outer: OuterForcing::default(),
            step_share: STEP_SHARE_DEFAULT,
            ramp: None,
        }
    }
}

impl Forcing {
    /// Whether anything drives the flows.
    pub fn drives(&self) -> bool {
        self.amplitude > 0.0 || self.noise > 0.0 || self.step > 0.0 || self.drives_outer() || self.ramp.is_some()
    }

    /// Whether anything drives the outer flow.
    pub fn drives_outer(&self) -> bool {
        let outer = &self.outer;
        outer.amplitude > 0.0 || outer.noise > 0.0 || outer.step > 0.0
    }

    /// Periods of what repeats, s, and what it is, longest first: modulations, and the steps of motors at these flows (m3/s).
    pub fn periods(&self, inner: f64, outer: Option<f64>) -> Vec<(f64, &'static str)> {
        let wave = |amplitude: f64, frequency: f64| (amplitude > 0.0 && frequency > 0.0).then(|| 1.0 / frequency);
        let steps = |volume: f64, flow: f64| (volume > 0.0 && flow > 0.0).then(|| volume / flow);
        let found = [
            (wave(self.amplitude, self.frequency), "inner pulsation"),
            (steps(self.step, inner), "inner pump's steps"),
            (wave(self.outer.amplitude, self.outer.frequency), "outer pulsation"),
            (steps(self.outer.step, outer.unwrap_or(0.0)), "outer pump's steps"),
        ];
        let mut periods: Vec<(f64, &str)> = found.into_iter().filter_map(|(t, what)| Some((t?, what))).collect();
        periods.sort_by(|a, b| b.0.total_cmp(&a.0));
        periods
    }
}

/// Switches of the closures (each documented in the case-file reference).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Model {
    /// Share of the free-drop drag on a drop-shaped end: 1 is the physical value since the stream behind the tip comes from
    /// first principles; other values show how the answer hangs on it.
    pub end_drag: f64,
    /// Whether touching drops merge.
    pub coalescence: bool,
    /// Whether `growth` keeps the kinetic energy of the radial motion. The equations of a run never do: with it a free drop keeps
    /// so much more of its motion that its ends turn flat, which no h(z) carries (docs/equations.md); a run of a case that asks for it
    /// says so.
    pub radial_inertia: bool,
    /// Whether the inner liquid leaves its bore as a parabola, as from a long needle, or as a plug.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub parabolic_inflow: bool,
    /// Where the viscous forces on a thread come from, if the case says it; see [`Case::two_fields`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<Section>,
}

/// Where the viscous forces on a thread come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Section {
    /// Two velocities a section, by least dissipation ([`crate::thread::fields`]).
    TwoFields,
    /// Closures for the mean velocity ([`crate::thread::outer`]).
    Closures,
}

impl Default for Model {
    fn default() -> Self {
        Model { end_drag: 1.0, coalescence: false, radial_inertia: false, parabolic_inflow: false, section: None }
    }
}

/// When a run ends.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Stop {
    /// After this many detached primary drops.
    Drops(u32),
    /// At this time, s.
    Until(f64),
}

/// Mesh and tolerance in one word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Accuracy {
    /// For maps.
    Coarse,
    /// The default.
    Standard,
    /// With a Richardson error bar from a second, coarser run.
    Fine,
}

impl Accuracy {
    /// The word used in case files.
    pub fn name(self) -> &'static str {
        match self {
            Accuracy::Coarse => "coarse",
            Accuracy::Standard => "standard",
            Accuracy::Fine => "fine",
        }
    }
}

/// How long, how fine, how many snapshots.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RunControl {
    /// When to stop.
    pub stop: Stop,
    /// Mesh and tolerance.
    pub accuracy: Accuracy,
    /// How many snapshots are recorded at most.
    pub frames: usize,
}

/// One quantity as typed and what it became: echoed in reports and records.
#[derive(Debug, Clone, PartialEq)]
pub struct Typed {
    /// Dotted key, for example `inner.flow`.
    pub key: String,
    /// Text as typed.
    pub text: String,
    /// SI value.
    pub si: f64,
    /// SI unit, `1` for a plain number.
    pub unit: &'static str,
    /// Relative tolerance, if the user gave one (`"5 mN/m +- 30 %"` gives 0.3).
    pub tolerance: Option<f64>,
}

/// A case ready to run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Case {
    /// Free text of the user.
    pub title: String,
    /// Which device.
    pub layout: Layout,
    /// The liquid that becomes drops.
    pub inner: Stream,
    /// The liquid around it; `None` is a passive gas.
    pub outer: Option<Stream>,
    /// Interfacial tension, N/m.
    pub tension: f64,
    /// Whether the tension was found on drops of about their age here, so that a surfactant leaves nothing open beyond its tolerance.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub tension_of_drops: bool,
    /// What liquids and interface have beyond that.
    #[serde(default, skip_serializing_if = "RealLiquids::is_plain")]
    pub real: RealLiquids,
    /// The glass.
    pub device: Device,
    /// Component of gravity along the flow, m/s2 (zero for none, negative against the flow).
    pub gravity: f64,
    /// Modulation and noise.
    pub forcing: Forcing,
    /// Closure switches.
    pub model: Model,
    /// Run control.
    pub run: RunControl,
    /// Every quantity as typed, with its SI value (kept as a table in the record).
    #[serde(skip)]
    pub typed: Vec<Typed>,
    /// The case file, byte for byte (kept as a text in the record).
    #[serde(skip)]
    pub text: String,
}

impl Case {
    /// Whether the viscous forces on a thread are those of two fields: behind an orifice's tip with liquids of one viscosity and one tension,
    /// but where the case asks for closures.
    pub fn two_fields(&self) -> bool {
        let hold = matches!(self.layout, Layout::Counterflow(_)) && self.real.effects().is_empty();
        self.model.section.map_or(hold, |section| section == Section::TwoFields)
    }

    /// A case with nothing optional: no outer liquid, wall, gravity, forcing or wave, until the first drop at `standard`.
    /// Set what it has besides. `tip_bore` and `tension` in m and N/m.
    pub fn bare(title: &str, layout: Layout, inner: Stream, tension: f64, tip_bore: f64) -> Case {
        Case {
            title: title.into(),
            layout,
            inner,
            outer: None,
            tension,
            tension_of_drops: false,
            real: RealLiquids::default(),
            device: Device {
                bore: Bore::Unbounded,
                round_outer: None,
                tip_bore,
                tip_outer: None,
                wetting: Wetting::TipBore,
            },
            gravity: 0.0,
            forcing: Forcing::default(),
            model: Model::default(),
            run: RunControl { stop: Stop::Drops(1), accuracy: Accuracy::Standard, frames: 2 },
            typed: Vec::new(),
            text: String::new(),
        }
    }
}
