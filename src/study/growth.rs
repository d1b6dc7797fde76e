//! Growth rate against wavenumber for a case's thread: the model beside exact theory.
//!
//! The two are computed apart: the model by [`crate::thread::dispersion`], theory by [`crate::theory`].

use crate::case::rheology::Surfactant;
use crate::case::{Case, Layout};
use crate::math::Pinned as _;
use crate::outcome::Instability;
use crate::theory::stokes_thread::StokesThread;
use crate::theory::surfactant_jet::{Jet, Surface};
use crate::theory::viscoelastic::{Liquid, growth_by};
use crate::theory::{convective, roots, viscous_jet};
use crate::thread::dispersion::Relation;
use crate::thread::estimate::{UniformThread, linear_estimate};
use serde::Serialize;

/// A mode: reduced wavenumber and rate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Mode {
    /// x = k R.
    pub x: f64,
    /// In units of `rate_scale_per_s`.
    pub rate: f64,
}

/// Fastest modes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Fastest {
    pub model: Mode,
    pub exact: Option<Mode>,
}

/// The answer of `growth`, in the words of its JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Growth {
    /// x = k R.
    pub wavenumber: Vec<f64>,
    /// Rates of this model, in units of `rate_scale_per_s`.
    pub model: Vec<f64>,
    /// Rates of exact theory; `None` where there is no theory (see `exact_missing`).
    pub exact: Option<Vec<f64>>,
    pub exact_source: Option<String>,
    /// Why there is no exact theory.
    pub exact_missing: Option<String>,
    /// sqrt(gamma/(rho_i R^3)) in a gas, gamma/(mu_o R) in a liquid.
    pub rate_scale_per_s: f64,
    pub fastest: Fastest,
    /// By the model's saddle point; null where it was not found.
    pub character: Option<Instability>,
    /// The same in words, with the known error of the estimate.
    pub character_text: Option<String>,
    /// The same by exact theory (jets in a gas).
    pub character_exact: Option<Instability>,
    /// R of the thread that is judged, m.
    pub radius_m: f64,
    /// Confinement: R/R_w, if there is a wall.
    pub confinement: Option<f64>,
    /// Groups that decide: Oh in a gas, mu_i/mu_o in a liquid.
    pub ohnesorge: Option<f64>,
    pub viscosity_ratio: Option<f64>,
    /// What the reader should know about validity.
    pub remarks: Vec<String>,
}

/// Exact theory of a thread, where there is one.
enum Theory {
    Jet {
        ohnesorge: f64,
    },
    /// With a polymer or a surfactant.
    Real(Jet),
    Stokes(StokesThread),
    /// The same with a polymer in the thread.
    Elastic(StokesThread, Elastic),
    None(String),
}

/// Gap to the wall below which six boundary conditions in double precision are not trusted (x = 0.995).
const CONFINEMENT_LIMIT: f64 = 0.995;
/// Thread over wall radius below which long waves of the model are too slow.
const WIDE: f64 = 0.15;
/// Laplace number above which inertia changes the fastest growth by more than a few percent.
const LAPLACE_NOTICED: f64 = 0.3;

/// What this command cannot do with a case's keys: the key and why.
pub fn refusal(case: &Case) -> Option<(&'static str, String)> {
    let effects = case.real.effects();
    let (_, what) = *effects.first()?;
    if case.outer.is_some() {
        // a liquid that thins has its viscosity at rest while waves are small, here as in a gas
        let stops = |key: &str| {
            key == "surfactant.kind" || key == "inner.polymer_viscosity" && !matches!(case.layout, Layout::Segment(_))
        };
        let (key, what) = *effects.iter().find(|(key, _)| stops(key))?;
        let why = if key == "surfactant.kind" {
            format!("the growth of waves with {what} is computed in a gas, not yet in a liquid outside")
        } else {
            format!(
                "the growth of waves with {what} is computed in a liquid for a thread at rest: a stream outside shears the chains"
            )
        };
        return Some((key, why));
    }
    if case.model.radial_inertia {
        return Some(("model.radial_inertia", format!("is not kept with {what}; leave it out")));
    }
    let dissolved = matches!(case.real.surfactant, Some(Surfactant::Dissolved { .. }));
    dissolved.then(|| {
        let why =
            "the growth of waves is computed with an insoluble surfactant, not yet with one that adsorbs meanwhile";
        ("surfactant.kind", why.into())
    })
}

/// The jet of a case with a polymer or a surfactant; `None` where theory of clean Newtonian jets serves.
fn real_jet(case: &Case, thread: &UniformThread) -> Option<Jet> {
    if case.real.is_plain() || case.outer.is_some() {
        return None;
    }
    let ohnesorge = ohnesorge(case, thread.radius);
    // A liquid that thins is Newtonian as long as it is at rest.
    let liquid = case.real.polymer.map_or(Liquid::newtonian(ohnesorge), |polymer| Liquid {
        ohnesorge,
        solvent_share: 1.0 - polymer.viscosity / case.inner.viscosity,
        deborah: polymer.relaxation_time / thread.time,
    });
    let surface = match case.real.surfactant {
        Some(Surfactant::Insoluble { elasticity, diffusivity, .. }) => {
            Surface::Laden { elasticity, inverse_peclet: diffusivity * thread.time / (thread.radius * thread.radius) }
        }
        _ => Surface::CLEAN,
    };
    Some(Jet { liquid, surface })
}

/// A polymer in a thread at rest in another liquid.
#[derive(Debug, Clone, Copy)]
struct Elastic {
    /// Solvent's share of the inner viscosity.
    solvent_share: f64,
    /// Relaxation time in units of mu_o h/gamma.
    deborah: f64,
    /// mu_i/mu_o.
    viscosity_ratio: f64,
}

impl Elastic {
    fn of(case: &Case, thread: &UniformThread) -> Option<Elastic> {
        let (polymer, outer) = (case.real.polymer?, case.outer.as_ref()?);
        Some(Elastic {
            solvent_share: 1.0 - polymer.viscosity / case.inner.viscosity,
            deborah: polymer.relaxation_time / thread.time,
            viscosity_ratio: case.inner.viscosity / outer.viscosity,
        })
    }

    /// The model's: its tension 3 mu_i u_z by the rate, its drag that of the viscosity at rest.
    fn model(&self, relation: &Relation, x: f64) -> f64 {
        let rate = |m: f64| {
            let stretch = relation.stretch - 3.0 * self.viscosity_ratio * (1.0 - m);
            Relation { stretch, ..*relation }.growth(x)
        };
        growth_by(rate, self.solvent_share, self.deborah)
    }

    fn exact(&self, thread: &StokesThread, x: f64) -> f64 {
        let rate = |m: f64| StokesThread { viscosity_ratio: m * self.viscosity_ratio, ..*thread }.growth(x);
        growth_by(rate, self.solvent_share, self.deborah)
    }

    /// Fastest of one of them.
    fn fastest(growth: impl Fn(f64) -> f64) -> Mode {
        let at = |i: u32| (SLOWEST.logarithm() * (1.0 - f64::from(i) / f64::from(SECTIONS))).exponential();
        let best = (1..SECTIONS).max_by(|&a, &b| growth(at(a)).total_cmp(&growth(at(b)))).unwrap_or(1);
        let x = roots::maximum(&growth, at(best - 1), at(best + 1).min(0.999_9));
        Mode { x, rate: growth(x) }
    }
}

/// Sections in ln x among which the fastest is sought, and the smallest x.
const SECTIONS: u32 = 60;
const SLOWEST: f64 = 1e-4;

/// Growth rates of the case's thread at the given reduced wavenumbers; `None` if the case has no thread (no flow).
pub fn growth(case: &Case, wavenumber: &[f64]) -> Option<Growth> {
    let thread = UniformThread::of(case)?;
    let relation = model(case, &thread);
    let theory = theory(case, &thread);
    let (exact, exact_source, exact_missing) = match &theory {
        Theory::None(why) => (None, None, Some(why.clone())),
        known => (Some(wavenumber.iter().map(|x| known.growth(*x)).collect()), Some(known.source()), None),
    };
    let (real, elastic) = (real_jet(case, &thread), Elastic::of(case, &thread));
    let own = |x: f64| match (real, elastic) {
        (Some(jet), _) => jet.long_wave_growth(x),
        (None, Some(elastic)) => elastic.model(&relation, x),
        (None, None) => relation.growth(x),
    };
    let fastest = match (real, elastic) {
        (Some(jet), _) => {
            let mode = jet.fastest_long_wave();
            Mode { x: mode.wavenumber, rate: mode.rate }
        }
        (None, Some(_)) => Elastic::fastest(own),
        (None, None) => {
            let mode = relation.fastest();
            Mode { x: mode.wavenumber, rate: mode.rate }
        }
    };
    // Saddle points are those of a clean Newtonian thread.
    let plain = real.is_none() && elastic.is_none();
    let instability = if plain { thread.relation.instability() } else { None };
    Some(Growth {
        wavenumber: wavenumber.to_vec(),
        model: wavenumber.iter().map(|x| own(*x)).collect(),
        exact,
        exact_source,
        exact_missing,
        rate_scale_per_s: 1.0 / thread.time,
        fastest: Fastest { model: fastest, exact: theory.fastest() },
        character: instability,
        character_text: match plain {
            true => linear_estimate(case).map(|estimate| estimate.text),
            false => Some("not computed with a polymer, a thinning liquid or a surfactant".into()),
        },
        character_exact: theory.instability(&thread),
        radius_m: thread.radius,
        confinement: thread.wall.map(|wall| thread.radius / wall),
        ohnesorge: case.outer.is_none().then(|| ohnesorge(case, thread.radius)),
        viscosity_ratio: case.outer.as_ref().map(|outer| case.inner.viscosity / outer.viscosity),
        remarks: remarks(case, &thread),
    })
}

/// The relation of the equations that a run of this case solves: with radial inertia only if the case asks for it.
fn model(case: &Case, thread: &UniformThread) -> Relation {
    let radial = if case.model.radial_inertia { thread.relation.radial } else { 0.0 };
    Relation { radial, ..thread.relation }
}

fn theory(case: &Case, thread: &UniformThread) -> Theory {
    if let Some(jet) = real_jet(case, thread) {
        return Theory::Real(jet);
    }
    let Some(outer) = &case.outer else {
        return Theory::Jet { ohnesorge: ohnesorge(case, thread.radius) };
    };
    if let Some(x) = thread.wall.map(|wall| thread.radius / wall).filter(|x| *x > CONFINEMENT_LIMIT) {
        return Theory::None(format!(
            "the thread fills {:.2} % of the bore's radius; two-layer theory is evaluated up to {:.1} %",
            100.0 * x,
            100.0 * CONFINEMENT_LIMIT
        ));
    }
    let wall = thread.wall.map(|wall| wall / thread.radius);
    let plain = StokesThread { viscosity_ratio: case.inner.viscosity / outer.viscosity, wall };
    Elastic::of(case, thread).map_or(Theory::Stokes(plain), |elastic| Theory::Elastic(plain, elastic))
}

fn ohnesorge(case: &Case, radius: f64) -> f64 {
    case.inner.viscosity / (case.inner.density * case.tension * radius).sqrt()
}

impl Theory {
    fn growth(&self, x: f64) -> f64 {
        match self {
            Theory::Jet { ohnesorge } => viscous_jet::growth(*ohnesorge, x),
            Theory::Real(jet) => jet.growth(x),
            Theory::Stokes(thread) => thread.growth(x),
            Theory::Elastic(thread, elastic) => elastic.exact(thread, x),
            Theory::None(_) => f64::NAN,
        }
    }

    fn fastest(&self) -> Option<Mode> {
        let mode = match self {
            Theory::Elastic(thread, elastic) => return Some(Elastic::fastest(|x| elastic.exact(thread, x))),
            Theory::Jet { ohnesorge } => viscous_jet::fastest(*ohnesorge),
            Theory::Real(jet) => jet.fastest(),
            Theory::Stokes(thread) => thread.fastest(),
            Theory::None(_) => return None,
        };
        Some(Mode { x: mode.wavenumber, rate: mode.rate })
    }

    fn source(&self) -> String {
        match self {
            Theory::Jet { .. } => {
                "viscous jet with inertia in a passive gas (Rayleigh 1892; Chandrasekhar 1961)".into()
            }
            Theory::Real(jet) => {
                let surfactant = if jet.surface == Surface::CLEAN { "" } else { " with insoluble surfactant" };
                let polymer =
                    if jet.liquid.deborah > 0.0 { " of Oldroyd-B liquid (viscosity by the growth rate)" } else { "" };
                format!(
                    "viscous jet{polymer} with inertia{surfactant} in a passive gas (linearised Navier-Stokes equations)"
                )
            }
            Theory::Elastic(..) => {
                "thread of Oldroyd-B liquid at rest in another liquid, both without inertia (Tomotika 1935, inner viscosity by the growth rate)"
                    .into()
            }
            Theory::Stokes(StokesThread { wall: None, .. }) => {
                "thread in an unbounded liquid, both without inertia (Tomotika 1935)".into()
            }
            Theory::Stokes(_) => {
                "thread on the axis of a tube, both liquids without inertia (two-layer Stokes flow, six \
                                  boundary conditions; the base flow changes the phase speed, not the growth)"
                    .into()
            }
            Theory::None(_) => String::new(),
        }
    }

    /// Exact theory of absolute and convective instability exists here for jets in a gas.
    fn instability(&self, thread: &UniformThread) -> Option<Instability> {
        let Theory::Jet { ohnesorge } = self else { return None };
        let weber = thread.relation.velocity * thread.relation.velocity;
        let critical = convective::critical_weber(*ohnesorge)?;
        Some(if weber < critical { Instability::Absolute } else { Instability::Convective })
    }
}

fn remarks(case: &Case, thread: &UniformThread) -> Vec<String> {
    let mut remarks = real_remarks(case, thread);
    let Some(outer) = &case.outer else {
        if !case.model.radial_inertia {
            remarks.push(
                "the model is the long-wave relation (Weber 1931); it grows up to 2.98 % too fast at low Oh".into(),
            );
        }
        return remarks;
    };
    let wide = thread.wall.is_none_or(|wall| thread.radius / wall < WIDE);
    if wide {
        remarks.push(format!(
            "known errors of the model without inertia: fastest growth within 8.3 %, its wavenumber within 13 % (27 % at viscosity \
             ratio 0.001); with the wall farther than {:.0} thread radii, waves well longer than the fastest grow up to 60 % too slowly",
            1.0 / WIDE
        ));
    }
    let laplace = case.tension * thread.radius / (outer.viscosity * outer.viscosity);
    let (inner, outside) = (case.inner.density * laplace, outer.density * laplace);
    if inner.max(outside) > LAPLACE_NOTICED {
        remarks.push(format!(
            "exact theory here leaves out inertia, the model keeps it: Laplace numbers rho gamma h/mu_o^2 are {inner:.3} inside \
             and {outside:.3} outside; above about 1 the exact column is too fast"
        ));
    }
    remarks
}

/// What small waves do not see of the liquid, and where the model's own relation is poor.
fn real_remarks(case: &Case, thread: &UniformThread) -> Vec<String> {
    let mut remarks = Vec::new();
    let rate = thread.relation.fastest().rate / thread.time;
    if let Some(law) = case.real.thinning {
        // stretching at the rate at which a wave as large as the thread grows
        let own = law.law(case.inner.viscosity, 1.0).viscosity(3.0 * (law.time * rate).powi(2)).0;
        remarks.push(format!(
            "a thinning liquid has its viscosity at rest here: waves that start small do not thin it; as large as the thread the fastest \
             stretches it at its own growth rate, {rate:.3} /s, where it has {own:.3} of that"
        ));
    }
    if let (Some(law), Some(outer)) = (case.real.outer_thinning, &case.outer) {
        let groups = crate::groups::groups(case).at_rate;
        let stream =
            groups.and_then(|g| g.outer_rate_per_s.zip(g.outer_viscosity_pa_s)).map_or_else(String::new, |(at, mu)| {
                format!("; at the stream's rate about the tip, {at:.3} /s, it has {:.3} of that", mu / outer.viscosity)
            });
        let own = law.law(outer.viscosity, 1.0).viscosity((law.time * rate).powi(2)).0;
        remarks.push(format!(
            "a thinning outer liquid has its viscosity at rest here, in the model and in exact theory{stream}, and {own:.3} at the fastest \
             wave's own rate, {rate:.3} /s: where either is well below 1, waves grow faster than told"
        ));
    }
    if case.real.polymer.is_some() {
        remarks.push(
            "the polymer is not stretched yet; FENE-P and Oldroyd-B are the same to first order. A jet whose nozzle has \
             stretched it grows more slowly"
                .into(),
        );
    }
    let Some(jet) = real_jet(case, thread).filter(|jet| jet.surface != Surface::CLEAN) else { return remarks };
    let (own, exact) = (jet.fastest_long_wave(), jet.fastest());
    remarks.push(format!(
        "the model puts the Marangoni stress on the thread's whole section, exact theory on a layer that viscosity reaches: its \
         fastest wave grows at {:.3} of the exact rate here, less the smaller Oh is; for E > 1 - x^2 without surface diffusion \
         the model's thread is stable while a real one still grows",
        own.rate.max(0.0) / exact.rate
    ));
    remarks
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{Bore, Layout, Segment, Stream};
    use approx::assert_relative_eq;

    const WAVE: Layout = Layout::Segment(Segment { radius: 2.5e-5, wavenumber: 0.7, amplitude: 0.01 });

    fn case(layout: Layout, viscosity: f64, outer: Option<Stream>) -> Case {
        let inner = Stream { liquid: None, viscosity, density: 1000.0, flow: 1e-10 };
        let mut case = Case::bare("growth", layout, inner, 0.04, 5e-5);
        case.outer = outer;
        case.device.bore = if case.layout.segment().is_some() { Bore::Unbounded } else { Bore::Round(2e-4) };
        case
    }

    // viscous_jet.csv of validation/: Oh 0.1, x 0.5.
    #[test]
    fn theory_jet_at_ohnesorge_one_tenth() {
        let viscosity = 0.1 * (1000.0f64 * 0.04 * 2.5e-5).sqrt();
        let answer = growth(&case(WAVE, viscosity, None), &[0.5]).expect("a thread");
        assert_relative_eq!(answer.exact.expect("theory")[0], 0.26723370478, max_relative = 1e-10);
        assert_relative_eq!(answer.model[0], 0.27097406698133, max_relative = 1e-10);
        assert_eq!(answer.character, Some(Instability::Absolute));
        assert_eq!(answer.character_exact, Some(Instability::Absolute));
    }

    // tomotika_stokes.csv of validation/: ratio 0.1, x 0.5.
    #[test]
    fn theory_thread_in_a_liquid_without_walls() {
        let outer = Stream { liquid: None, viscosity: 0.5, density: 900.0, flow: 0.0 };
        let answer = growth(&case(WAVE, 0.05, Some(outer)), &[0.5]).expect("a thread");
        assert_relative_eq!(answer.exact.expect("theory")[0], 0.10541455640654, max_relative = 1e-10);
        assert_relative_eq!(answer.rate_scale_per_s, 0.04 / (0.5 * 2.5e-5), max_relative = 1e-12);
    }

    #[test]
    fn theory_coflow_takes_the_radius_of_the_core() {
        let outer = Stream { liquid: None, viscosity: 0.5, density: 900.0, flow: 1e-9 };
        let answer = growth(&case(Layout::Coflow, 0.05, Some(outer)), &[0.3, 0.6]).expect("a thread");
        let x = crate::device::core_annular::core_share(0.1, 0.1).sqrt();
        assert_relative_eq!(answer.confinement.expect("a wall"), x, max_relative = 1e-9);
        let thread = StokesThread { viscosity_ratio: 0.1, wall: Some(1.0 / x) };
        assert_relative_eq!(answer.exact.as_ref().expect("theory")[1], thread.growth(0.6), max_relative = 1e-9);
        let fastest = answer.fastest.exact.expect("theory");
        assert!((answer.fastest.model.rate / fastest.rate - 1.0).abs() < 0.09, "{answer:?}");
    }

    // tests/data/real_liquids: lin_surfactant.csv (Oh 1, E 0.3, Pe inf, x 0.7), lin_oldroydb.csv (Oh 0.1, De 1, b 0.25, x 0.9).
    #[test]
    fn reference_jets_with_surfactant_and_with_polymer() {
        use crate::case::rheology::{Polymer, Surfactant};
        let unit = (1000.0 * 2.5e-5f64.powi(3) / 0.04).sqrt();
        let mut laden = case(WAVE, (1000.0f64 * 0.04 * 2.5e-5).sqrt(), None);
        laden.real.surfactant = Some(Surfactant::Insoluble { elasticity: 0.3, coverage: None, diffusivity: 0.0 });
        assert_eq!(refusal(&laden), None);
        let answer = growth(&laden, &[0.7]).expect("a thread");
        assert_relative_eq!(answer.exact.expect("theory")[0], 0.0580813451010173, max_relative = 1e-10);
        assert_relative_eq!(answer.model[0], 0.0342041341542569, max_relative = 1e-10);
        assert_eq!(answer.character, None);
        let mut polymer = case(WAVE, 0.1 * (1000.0f64 * 0.04 * 2.5e-5).sqrt(), None);
        polymer.real.polymer = Some(Polymer {
            viscosity: 0.75 * polymer.inner.viscosity,
            relaxation_time: unit,
            extensibility: Some(100.0),
        });
        let answer = growth(&polymer, &[0.9]).expect("a thread");
        assert_relative_eq!(answer.exact.expect("theory")[0], 0.183592877843358, max_relative = 1e-10);
        assert_relative_eq!(answer.model[0], 0.190366390923365, max_relative = 1e-10);
        polymer.model.radial_inertia = true;
        assert_eq!(refusal(&polymer).expect("refused").0, "model.radial_inertia");
    }

    // Exact: where De makes the thread's viscosity at its own rate the outer one, b + (1 - b)/(1 + De s) = 1/lambda, it grows as at equal
    // viscosities (tomotika_stokes.csv of validation/ holds those). The model beside it keeps the drag of the viscosity at rest.
    #[test]
    fn theory_a_polymer_thread_in_a_liquid() {
        use crate::case::rheology::Polymer;
        let outer = Stream { liquid: None, viscosity: 0.5, density: 900.0, flow: 0.0 };
        let mut elastic = case(WAVE, 1.0, Some(outer));
        let x = 0.6;
        let equal = StokesThread { viscosity_ratio: 1.0, wall: None }.growth(x);
        // b = 0.25, lambda = 2: De s = 2
        let relaxation_time = 2.0 / equal * 0.5 * 2.5e-5 / 0.04;
        elastic.real.polymer = Some(Polymer { viscosity: 0.75, relaxation_time, extensibility: None });
        assert_eq!(refusal(&elastic), None);
        let answer = growth(&elastic, &[x]).expect("a thread");
        assert_relative_eq!(answer.exact.expect("theory")[0], equal, max_relative = 1e-9);
        let (model, exact) = (answer.fastest.model, answer.fastest.exact.expect("theory"));
        assert!((model.rate / exact.rate - 1.0).abs() < 0.13, "{model:?} {exact:?}");
        let mut plain = elastic.clone();
        plain.real.polymer = None;
        let slower = growth(&plain, &[x]).expect("a thread").exact.expect("theory")[0];
        assert!(slower < 0.9 * equal, "{slower} {equal}");
        elastic.layout = Layout::Coflow;
        assert_eq!(refusal(&elastic).expect("refused").0, "inner.polymer_viscosity");
    }

    // Small waves on liquids that thin: at rest, in a liquid too.
    #[test]
    fn theory_thinning_liquids_side_by_side_have_their_viscosities_at_rest() {
        use crate::case::rheology::Thinning;
        let outer = Stream { liquid: None, viscosity: 0.5, density: 900.0, flow: 1e-9 };
        let mut thinning = case(Layout::Coflow, 0.05, Some(outer));
        let plain = growth(&thinning, &[0.3]).expect("a thread");
        let law = Some(Thinning { exponent: 0.6, time: 1e-3, viscosity_infinite: 0.0 });
        (thinning.real.thinning, thinning.real.outer_thinning) = (law, law);
        assert_eq!(refusal(&thinning), None);
        let answer = growth(&thinning, &[0.3]).expect("a thread");
        assert_eq!((&answer.model, &answer.exact), (&plain.model, &plain.exact));
        let told = answer.remarks.join(" ");
        assert!(
            told.contains("outer liquid has its viscosity at rest") && told.contains("a thinning liquid has"),
            "{told}"
        );
    }

    // A thread at rest in a tube: two-layer Stokes flow with its wall, which slows the wave.
    #[test]
    fn theory_a_thread_at_rest_in_a_tube_grows_as_two_layers_do() {
        let outer = Stream { liquid: None, viscosity: 0.5, density: 900.0, flow: 0.0 };
        let free = case(WAVE, 1.0, Some(outer));
        let mut held = free.clone();
        held.device.bore = Bore::Round(1.5e-4);
        let told = |case: &Case| growth(case, &[0.6]).expect("a thread");
        let (free, held) = (told(&free), told(&held));
        assert_eq!((free.confinement, held.confinement, held.radius_m), (None, Some(2.5e-5 / 7.5e-5), 2.5e-5));
        let exact = StokesThread { viscosity_ratio: 2.0, wall: Some(3.0) }.growth(0.6);
        assert_relative_eq!(held.exact.expect("theory")[0], exact, max_relative = 1e-9);
        assert!(
            held.model[0] < 0.8 * free.model[0] && (held.model[0] / exact - 1.0).abs() < 0.13,
            "{:?} {exact}",
            held.model
        );
    }

    #[test]
    fn says_why_where_there_is_no_theory() {
        let outer = Stream { liquid: None, viscosity: 0.5, density: 900.0, flow: 1e-16 };
        let answer = growth(&case(Layout::Coflow, 0.05, Some(outer)), &[0.3]).expect("a thread");
        assert_eq!(answer.exact, None);
        assert!(answer.exact_missing.expect("a reason").contains("fills"));
    }
}
