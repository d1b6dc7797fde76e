//! Reduced-order simulation of drop formation in glass-capillary devices: a case in, what happens out.
//!
//! ```
//! use slenderjet::prelude::*;
//!
//! let case = parse(
//!     r#"
//!     title = "Invented thread for an example"
//!     layout = "segment"
//!     [inner]
//!     viscosity = "52 mPa.s"
//!     density = "917 kg/m3"
//!     [interface]
//!     tension = "33 mN/m"
//!     [thread]
//!     radius = "100 um"
//!     wavenumber = 0.6
//!     amplitude = 0.05
//!     [run]
//!     drops = 1
//!     accuracy = "coarse"
//!     "#,
//!     "thread.toml",
//! )?;
//! let outcome = simulate(&case, None, &mut Silent)?;
//! let pinch = outcome.summary.first_pinch.expect("a thread of this length breaks");
//! assert!(pinch.time_s > 0.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! A case travels one way: text, [`case::Case`], [`simulate::simulate()`], [`outcome::Outcome`], `record`, `figures`; [`study`] asks many
//! cases and sums up. What [`prelude`] names is meant to last; enums and errors that will grow are `non_exhaustive`, and every error is a
//! type with variants and, where there is one, its source.
//!
//! The equations, whole, stand in [`thread`], their closures in [`thread::closures`], exact theory in [`theory`], the full equations
//! without inertia in [`stokes`], properties of liquids in [`liquids`], the limits of it all in [`limits`]: each file opens with
//! equation, symbols, source and what it holds for. These modules are open for those who build on them and may change. Everything is SI
//! in `f64`; units are read at the border ([`units`]).
//!
//! Features: without any, the model alone (no HDF5, no CMake); `record` adds the HDF5 file, `figures` drawings and reports, `cli` (the
//! default) the program.

// Hidden from the docs: the program, and what only the tests of this package reach into.
// Modules whose results enter a run's numbers: transcendental functions from `math`, so that every processor gives the same bits.
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod case;
#[cfg(feature = "cli")]
#[doc(hidden)]
pub mod cli;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod device;
#[doc(hidden)]
pub mod drops;
#[cfg(feature = "figures")]
pub mod figures;
#[cfg(feature = "record")]
mod files;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod groups;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod limits;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod liquids;
#[doc(hidden)]
pub mod math;
pub mod outcome;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
#[doc(hidden)]
pub mod pinch_off;
#[cfg(feature = "record")]
pub mod record;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
mod regime;
#[cfg(feature = "figures")]
pub mod report;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod simulate;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
#[doc(hidden)]
pub mod solver;
pub mod stokes;
pub mod study;
pub mod theory;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod thread;
#[doc(hidden)]
pub mod tolerances;
#[cfg_attr(not(test), deny(clippy::disallowed_methods))]
pub mod units;

/// What most programs need.
pub mod prelude {
    pub use crate::case::{Case, CaseErrors, Layout, parse, read};
    pub use crate::outcome::{Frame, Outcome, Summary};
    #[cfg(feature = "record")]
    pub use crate::record::{RecordError, Recorded, Recorder};
    pub use crate::simulate::{Checkpoint, Next, Observer, Progress, Silent, SimulateError, simulate};
    pub use crate::study::StudyError;
}
