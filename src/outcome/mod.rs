//! What a run gives back: the facts a user reads, the snapshots a figure draws, the counts a developer checks.
//!
//! All SI. The field names of [`Summary`] are the keys of `run --json`; a missing value is `None`, never NaN.

mod mode;
mod stopped;

pub use mode::{Instability, Mode};
pub use stopped::{End, Stopped};

use serde::{Deserialize, Serialize};

/// Version of the summary's and the record's layout.
pub const SCHEMA: &str = "slenderjet-run-3";

/// Dimensionless groups on the radius that pins the contact line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Groups {
    pub ohnesorge: f64,
    pub bond: f64,
    pub weber_inner: f64,
    pub capillary_outer: Option<f64>,
    pub reynolds_inner: f64,
    pub reynolds_outer: Option<f64>,
    pub viscosity_ratio: Option<f64>,
    pub flow_ratio: Option<f64>,
    pub density_ratio: Option<f64>,
    /// Of liquids that thin, at the rate of the flow; those above are at rest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_rate: Option<GroupsAtRate>,
}

/// Groups of liquids that thin with the viscosities at the rates of the flow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct GroupsAtRate {
    /// Rate at the wall of a tube of the tip's radius, 4 Q_i/(pi R^3), 1/s; of an inner liquid that thins.
    pub inner_rate_per_s: Option<f64>,
    /// Its viscosity by that tube's pressure (Rabinowitsch), Pa s.
    pub inner_viscosity_pa_s: Option<f64>,
    /// Rate about a drop of the tip's radius in the stream, U_o/(4 R), 1/s; of an outer liquid that thins.
    pub outer_rate_per_s: Option<f64>,
    /// Its viscosity there, Pa s.
    pub outer_viscosity_pa_s: Option<f64>,
    pub ohnesorge: f64,
    pub capillary_outer: Option<f64>,
    pub reynolds_inner: f64,
    pub reynolds_outer: Option<f64>,
    pub viscosity_ratio: Option<f64>,
}

/// Large drop or one of the small ones between.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum DropKind {
    Primary,
    Satellite,
}

/// A detached drop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Drop {
    /// When it came off, s.
    pub time_s: f64,
    pub kind: DropKind,
    pub volume_m3: f64,
    pub diameter_m: f64,
    /// Centre of volume when it came off, from the tip along the flow.
    pub position_m: f64,
    pub velocity_m_per_s: f64,
    /// Indices (into the list of drops) of drops that merged into it.
    pub merged_from: Vec<usize>,
    /// True where the step had to be rolled back while it formed.
    pub flagged: bool,
    /// Index of the pinch-off that made it, in order of time.
    #[serde(default)]
    pub pinch: Option<usize>,
}

/// First breakup.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct FirstPinch {
    pub time_s: f64,
    pub position_m: f64,
    /// Nozzle to tip at that instant.
    pub length_m: f64,
    /// What lies beyond the neck.
    pub volume_m3: f64,
}

/// Settled primary drops.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Primary {
    pub count: usize,
    pub mean_diameter_m: Option<f64>,
    /// The model's own error of that diameter (relative, one standard deviation); `None` without evidence. [`Summary::model_error`]
    /// says how it is known and whether it is a lower bound.
    #[serde(default)]
    pub model_error_relative: Option<f64>,
    pub cv: Option<f64>,
    pub cv_interval95: Option<[f64; 2]>,
    pub rate_per_s: Option<f64>,
    /// How many leading primaries were left out as transients.
    pub settled_after: Option<usize>,
}

/// Whether the device has come to a state that repeats itself: only then are mean, rate, spread and jet length answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Established {
    pub is: bool,
    /// From when on, s.
    pub since_s: Option<f64>,
    /// Share of the pumped inner flow that settled drops and their satellites carry.
    pub flow_share: Option<f64>,
    pub why: String,
}

/// Where the diameter of a bench drop is expected to lie: one interval that holds 90 % of what is not known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Size {
    pub low_m: Option<f64>,
    pub high_m: Option<f64>,
    /// True where some cause has no number: the interval is then no wider than known, and may be too narrow.
    #[serde(default)]
    pub at_least: bool,
    pub share: Vec<SizeCause>,
    /// Why there is no interval although causes have numbers: so wide a one would tell nothing. With what to do.
    #[serde(default)]
    pub why: Option<String>,
}

/// One cause of not knowing the diameter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct SizeCause {
    pub cause: String,
    /// Half width of its own 90 % interval over the diameter; negative where it can only make drops smaller; `None` where it
    /// is not known.
    pub relative: Option<f64>,
}

/// Small drops of one size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct SatelliteClass {
    /// How many for each primary drop.
    pub per_primary: f64,
    pub mean_diameter_m: f64,
    pub smallest_m: f64,
    pub largest_m: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Satellites {
    pub per_primary: Option<f64>,
    pub volume_fraction: Option<f64>,
    pub mean_diameter_m: Option<f64>,
    /// Largest first.
    #[serde(default)]
    pub classes: Vec<SatelliteClass>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Jet {
    pub length_m: f64,
    pub diameter_m: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Pressure {
    pub inner_pa: Option<f64>,
    pub outer_pa: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct ErrorBar {
    pub diameter_relative: f64,
    pub how: String,
}

/// How far the model itself, not its numbers, is from the full equations where the case lies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct ModelError {
    /// Of the mean diameter, one standard deviation; `None` without evidence.
    pub relative: Option<f64>,
    /// True where the case lies outside the reference: the error is unknown, and no less than this.
    pub at_least: bool,
    pub how: String,
}

impl ModelError {
    /// The amount in words, `about 5 %` or `at least 5 %`; `None` without evidence.
    pub fn amount(&self) -> Option<String> {
        let percent = 100.0 * self.relative?;
        let digits = if percent < 1.0 { 1 } else { 0 };
        Some(format!("{} {percent:.digits$} %", if self.at_least { "at least" } else { "about" }))
    }

    /// The amount and how it is known.
    pub fn words(&self) -> String {
        self.amount().map_or_else(|| self.how.clone(), |amount| format!("{amount}: {}", self.how))
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Conservation {
    pub volume_relative: f64,
    pub energy_relative: f64,
    /// Insoluble surfactant on all surfaces against what was there and came in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surfactant_relative: Option<f64>,
}

/// The surface when settled drops came off, and what a dissolved surfactant was still to do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Surface {
    /// Mean tension of the neck, and of the drop's whole surface, at detachment.
    pub neck_tension_n_per_m: f64,
    pub drop_tension_n_per_m: f64,
    /// Of the clean surface, and at equilibrium with the liquid that holds the surfactant; of a dissolved one.
    pub clean_tension_n_per_m: Option<f64>,
    pub equilibrium_tension_n_per_m: Option<f64>,
    /// Mean age of the drop's surface at detachment, s; of a dissolved one.
    pub age_s: Option<f64>,
    /// How much of the fall from the clean tension to that at equilibrium the drop's surface has made by then (1: all).
    pub equilibrium_share: Option<f64>,
}

/// By how much thinning, a polymer and a surfactant have moved the mean diameter, against further runs without.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Moved {
    /// What the run without all of them was of (with a dissolved surfactant: at the tension of equilibrium).
    pub against: String,
    /// Diameter over that of the run without, less one; `None` where it is not told (see `why`).
    pub diameter_relative: Option<f64>,
    /// The same of each effect by itself, the others kept.
    #[serde(default)]
    pub effects: Vec<MovedBy>,
    /// Why some number is missing, and how to have it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

/// By how much one effect has moved the mean diameter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct MovedBy {
    /// The effect, in words.
    pub effect: String,
    /// What the run without it was of.
    pub against: String,
    /// Diameter over that of the run without, less one; `None` where it is not told.
    pub diameter_relative: Option<f64>,
}

/// Energy budget by name, J: what each cause has put into the liquid since the start (negative: taken out). The changes of
/// kinetic, surface and potential energy equal the sum of all other entries up to what stays open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Budget {
    /// Changes of the three forms; what flew on as drops or left the domain is counted as it was then.
    pub kinetic_j: f64,
    pub surface_j: f64,
    pub potential_j: f64,
    /// Pressure and speed of the liquid that enters.
    pub inlet_j: f64,
    /// Pull of the thread beyond the end of the domain.
    pub outflow_j: f64,
    /// Drag, normal stress and wall film of the outer liquid.
    pub outer_drag_j: f64,
    pub outer_stress_j: f64,
    pub film_j: f64,
    /// Kinetic energy that the outer liquid took up as added mass.
    pub added_mass_j: f64,
    /// Dissipation by the inner and by the artificial viscosity.
    pub viscous_j: f64,
    pub artificial_j: f64,
    /// What cuts with their caps, joints and new meshes brought.
    pub cuts_j: f64,
    pub regrids_j: f64,
    /// What stays open, over the energy turned over.
    pub open_relative: f64,
}

impl Budget {
    /// The budget at a share of the way to a later one, each entry in proportion; as open as the more open of the two.
    pub fn towards(&self, later: &Budget, share: f64) -> Budget {
        let mix = |of: fn(&Budget) -> f64| of(self) + share * (of(later) - of(self));
        Budget {
            kinetic_j: mix(|b| b.kinetic_j),
            surface_j: mix(|b| b.surface_j),
            potential_j: mix(|b| b.potential_j),
            inlet_j: mix(|b| b.inlet_j),
            outflow_j: mix(|b| b.outflow_j),
            outer_drag_j: mix(|b| b.outer_drag_j),
            outer_stress_j: mix(|b| b.outer_stress_j),
            film_j: mix(|b| b.film_j),
            added_mass_j: mix(|b| b.added_mass_j),
            viscous_j: mix(|b| b.viscous_j),
            artificial_j: mix(|b| b.artificial_j),
            cuts_j: mix(|b| b.cuts_j),
            regrids_j: mix(|b| b.regrids_j),
            open_relative: self.open_relative.max(later.open_relative),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Cost {
    pub wall_s: f64,
    pub steps: u64,
    pub cells_max: usize,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Warning {
    /// Stable word for scripts, for example `outer_inertia`.
    pub code: String,
    pub text: String,
}

/// When the first neck passed given fractions of R, and what the body looked like then.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct NeckTime {
    pub h_over_r: f64,
    pub time_s: f64,
    pub position_m: f64,
    /// Nozzle to tip (crest to trough for `segment`).
    pub length_m: f64,
    /// Volume beyond the neck (of one half wave for `segment`).
    pub volume_m3: f64,
}

/// Estimate from linear theory beside the simulated answer, labelled an estimate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct LinearEstimate {
    /// What a small disturbance does.
    pub character: Instability,
    pub text: String,
}

/// Everything that differs between two equal runs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Provenance {
    pub case_sha256: String,
    pub version: String,
    pub command: String,
    pub started: String,
    pub host_threads: usize,
    /// Platform for which the program was built, for example `x86_64-unknown-linux-gnu`.
    #[serde(default)]
    pub platform: String,
    /// Compiler that built it.
    #[serde(default)]
    pub compiler: String,
    /// Commit of its sources; a `+` behind it where they were changed since.
    #[serde(default)]
    pub commit: String,
}

/// The summary object of `run --json` and of the record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Summary {
    pub schema: String,
    pub version: String,
    pub title: String,
    pub layout: String,
    pub groups: Groups,
    pub mode: Mode,
    pub mode_evidence: String,
    #[serde(default)]
    pub established: Established,
    #[serde(default)]
    pub size: Size,
    /// What was taken without being typed and moves the answer.
    #[serde(default)]
    pub assumed: Vec<String>,
    pub linear_estimate: Option<LinearEstimate>,
    pub first_pinch: Option<FirstPinch>,
    pub drops: Vec<Drop>,
    pub primary: Primary,
    pub satellites: Satellites,
    pub jet: Option<Jet>,
    pub necks: Option<Vec<NeckTime>>,
    pub pressure: Pressure,
    pub error_bar: Option<ErrorBar>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface: Option<Surface>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moved: Option<Moved>,
    #[serde(default)]
    pub model_error: ModelError,
    pub conservation: Conservation,
    #[serde(default)]
    pub budget: Budget,
    pub cost: Cost,
    pub warnings: Vec<Warning>,
    pub cautions: Vec<String>,
    pub stopped: Stopped,
    /// Where and why, unless the run reached what was asked for.
    #[serde(default)]
    pub end: Option<End>,
    pub provenance: Provenance,
}

impl Summary {
    /// Mean diameter of the settled primary drops, m, also where the run is not established: a reading, no answer.
    pub fn mean_of_settled(&self) -> Option<f64> {
        let of_drops = || {
            let primary = self.drops.iter().filter(|d| d.kind == DropKind::Primary);
            let settled = primary.skip(self.primary.settled_after.unwrap_or(0));
            let sizes: Vec<f64> = settled.map(|d| d.diameter_m).collect();
            (!sizes.is_empty()).then(|| sizes.iter().sum::<f64>() / sizes.len() as f64)
        };
        self.primary.mean_diameter_m.or_else(of_drops)
    }

    /// Why the run tells no settled drop.
    pub fn why_no_drop(&self) -> String {
        match self.stopped {
            Stopped::DropsReached | Stopped::Until if !self.established.is => {
                format!("not established: {}", self.established.why)
            }
            end => end.words().to_owned(),
        }
    }
}

/// One body (thread or drop) at one instant: nodes from tip side to free end.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BodyFrame {
    /// True for the thread that hangs on the nozzle (or the periodic thread).
    pub attached: bool,
    /// Axial position of the nodes, m.
    pub z: Vec<f64>,
    /// Radius there, m.
    pub h: Vec<f64>,
    /// Axial velocity there, m/s.
    pub u: Vec<f64>,
}

/// Why a snapshot was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Moment {
    /// One of the evenly spaced snapshots.
    #[default]
    Even,
    /// The attached thread's neck on its way to a pinch-off.
    Approach,
    /// The pinch-off itself.
    PinchOff,
    /// Both ends draw back after it.
    Recoil,
}

impl Moment {
    /// All, in the order of their codes in a record.
    pub const ALL: [Moment; 4] = [Moment::Even, Moment::Approach, Moment::PinchOff, Moment::Recoil];

    /// The word for it, as in a record.
    pub fn name(self) -> &'static str {
        match self {
            Moment::Even => "even",
            Moment::Approach => "approach",
            Moment::PinchOff => "pinch_off",
            Moment::Recoil => "recoil",
        }
    }
}

/// All bodies at one instant.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Frame {
    pub time: f64,
    pub bodies: Vec<BodyFrame>,
    pub moment: Moment,
    /// Index of the pinch-off that the snapshot belongs to.
    pub pinch: Option<usize>,
    /// The energy budget until then; of evenly spaced snapshots. In proportion between the ends of the stretch of time that was
    /// computed in one go.
    pub budget: Option<Budget>,
}

impl Frame {
    /// Whether it is one of the evenly spaced snapshots at this interval in s, or none of that kind.
    pub fn stays(&self, interval: f64) -> bool {
        let intervals = self.time / interval;
        self.moment != Moment::Even || (intervals - intervals.round()).abs() < crate::tolerances::BETWEEN
    }
}

/// One breakup.
#[derive(Debug, Clone, PartialEq)]
pub struct PinchOff {
    pub time: f64,
    pub position: f64,
    /// Nozzle to free end of the body that broke.
    pub length: f64,
    /// Volume beyond the neck.
    pub volume: f64,
}

/// Smallest neck of the attached body against time (densely sampled near pinch-off).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeckSample {
    pub time: f64,
    pub position: f64,
    pub radius: f64,
    /// Length of the attached body, m.
    pub length: f64,
    /// Which pinch-off this neck leads to (index into the list), if it got there.
    pub pinch: Option<usize>,
}

/// Counts by cause, for developers and for `/solver` of the record.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct SolverCounts {
    pub steps_accepted: u64,
    pub steps_rejected_error: u64,
    pub steps_rejected_pivot: u64,
    pub steps_rejected_crossing: u64,
    pub regrids: u64,
    pub pinches: u64,
    pub coalescences: u64,
    pub rollbacks: u64,
    pub frozen: u64,
    pub cells_max: u64,
}

/// What a finished (or interrupted) run hands over.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    pub summary: Summary,
    pub pinch_offs: Vec<PinchOff>,
    pub necks: Vec<NeckSample>,
    pub counts: SolverCounts,
}
