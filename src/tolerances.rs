//! Every "close enough" of the program, each with the reason for its size.
//!
//! Lengths are in units of the radius that pins the contact line, times in capillary times, unless said otherwise.

/// Neck radius at which the thread is cut at `coarse` and `standard`: between 1e-3 and 1e-2 the drop's volume changes
/// by less than 0.02 % and a satellite's by less than 0.2 %; 0.01 is also where the independent reference cases stop.
pub const NECK_CUT: f64 = 1e-2;
/// The same at `fine`.
pub const NECK_CUT_FINE: f64 = 5e-3;
/// Radius at which a thread that a polymer holds is divided: it thins on as exp(-t/3 relaxation times) while cells and steps grow as 1/h
/// each. What it holds then is a few thousandths of a drop.
pub const STRING_CUT: f64 = 0.05;
/// Stress of the polymer over the capillary one from which it holds a neck: 1.2 to 2 in threads that it holds, falling with the radius
/// where it is too weak.
pub const STRING_HELD: f64 = 0.5;
/// A neck thinner than this share of the cut radius is cut whatever hangs on it.
pub const NECK_CUT_ALWAYS: f64 = 0.2;
/// Both sides must swell to this multiple of the neck before it is cut.
pub const NECK_BULGE: f64 = 1.5;
/// Smallest fragment that a cut may leave, as a sphere in units of the cut radius: smaller ones are regrid noise at
/// Ohnesorge below 0.01 (hundreds of spurious pinch-offs without it).
pub const FRAGMENT_RADIUS_IN_CUTS: f64 = 4.0;
/// Detached bodies smaller than this (as spheres) are moved as rigid spheres: their own time step would rule the run.
pub const RIGID_RADIUS: f64 = 0.05;
/// The same with an outer liquid, in units of the smaller of 1 and twice the undisturbed thread's radius: less than
/// 1e-4 of a drop, and viscous filaments would cascade through ever smaller beads.
pub const RIGID_RADIUS_OUTER: f64 = 0.1;
/// Neck cut in units of the undisturbed thread's radius, at most, with an outer liquid.
pub const NECK_CUT_OF_THREAD: f64 = 0.03;
/// A detached body whose excess energy (relative motion and surface) is below this share of its sphere's surface energy
/// cannot shed more than about 1 % of its volume (f^(2/3) + (1-f)^(2/3) - 1 = 0.04 at f = 0.01): it is final.
pub const FINAL_EXCESS_ENERGY: f64 = 0.04;

/// Mesh fineness c and error tolerance of a step for the three accuracies. The first dripping drop at Oh 0.1, Bo 0.5,
/// We 1e-3 is off its limit by 0.22, 0.03 and 0.01 % in volume (measured, validation page). Mesh and step are in balance:
/// with (0.05, 3e-5) and (0.03, 1e-5) the steps cost more than their errors mattered beside those of the mesh; the change left
/// or improved every row of the page (47 closer, 34 farther, all by less than 1.5 %; one more passed).
pub const COARSE: (f64, f64) = (0.1, 3e-4);
/// See [`COARSE`].
pub const STANDARD: (f64, f64) = (0.04, 1e-4);
/// See [`COARSE`].
pub const FINE: (f64, f64) = (0.025, 3e-5);
/// A `segment` is one wave: it can afford, and its satellites need, a mesh finer by this factor.
pub const SEGMENT_FINER: f64 = 0.6;

/// While a viscous thread has no neck, its errors are forgotten as fast as they are made: steps may err this much more (with 20
/// the `coflow` example's drop came out 0.1 % too small, with 6 it is 0.06 %, at a fifth more steps).
pub const FILLING_TOLERANCE: f64 = 6.0;
/// ... but not more than this: a filling drop is stepped past the volume at which it lets go by as much (at 2e-2 a small
/// drop at Ca 0.3 came out 10 % too large).
pub const FILLING_TOLERANCE_MAX: f64 = 4e-3;
/// In a gas: nothing but its own viscosity forgets for a drop there. At 4e-3 a step the first drops at Bo 0.3 and coarse mesh
/// were 12 % too large at Oh 2, We 1e-3 and 29 % at Oh 0.5, We 1; at 6e-4, which is coarse now, it is 0.8 and 0.4 %. A finer
/// accuracy errs less in proportion (6e-4 at `standard` too left it 0.7 % off at Oh 0.5, We 1).
pub const FILLING_TOLERANCE_IN_GAS: f64 = 2.0;
/// Ohnesorge number (of the more viscous liquid) from which that holds.
pub const FILLING_FROM: f64 = 0.3;
/// Neck radius, in units of the pinned radius, below which it no longer holds.
pub const FILLING_NECK: f64 = 0.8;

/// Regrid when a cell is this many times longer than wanted ...
pub const REGRID_STRETCH: f64 = 1.4;
/// The cell at a nozzle takes in all liquid that enters and may grow longer: little happens in it, and every regrid
/// of a slowly filling drop is a small shock that has to be stepped through.
pub const REGRID_STRETCH_FIRST: f64 = 1.6;
/// The same while the drop fills without a neck. At 15 a wide drop takes half the steps, but six more rows of the boundary-element
/// table fail and a drop at Oh 1, Bo 0.3 in a gas comes out 21 % too large (tried 2026).
pub const REGRID_STRETCH_FILLING: f64 = 5.0;
/// ... or when there are this many times more cells than needed.
pub const REGRID_EXCESS: f64 = 1.3;
/// The mesh follows the shape and lets the liquid through ([`crate::thread::mesh::follow`]) while the thread's mean squared radius
/// is above this: then less than half of the liquid's way at the nozzle is a way of the tip, and a mesh that moves with the
/// liquid would need a new first cell every few steps. A jet stays below it.
pub const FOLLOW_FROM: f64 = 2.0;
/// ... and no neck is thinner than this: from there on a neck moves and thins with its liquid. (At 0.8 the `coflow` example takes
/// 840 steps a drop, at 0.5 and at 0.1 it takes 540.)
pub const FOLLOW_NECK: f64 = 0.5;
/// By how much the step is shortened after a regrid of such a mesh: its first step meets what the transfer left.
pub const STEP_AFTER_REGRID: f64 = 0.3;
/// Accepted steps between looks at the mesh.
pub const REGRID_EVERY: u32 = 3;
/// Cell floor in units of fineness times local radius.
pub const CELL_FLOOR: f64 = 0.05;

/// Steps shorter than this share of the time that has passed (or of one capillary time) are an underflow: a few bits
/// above the round-off of the clock.
pub const STEP_MIN: f64 = 1e-13;

/// A snapshot this close to a multiple of the interval between them, in intervals, is one of the evenly spaced ones: intervals double,
/// so that one in between is off by 2^-26 even after 26 doublings, and round-off in 100,000 of them is 1e-11.
pub const BETWEEN: f64 = 1e-8;

/// Fewest primary drops after which a run of a study may end early: the fewest that tell a transient from a settled state.
pub const ALIKE_FROM: usize = 4;
/// Late drops that differ from their mean by less than this are alike: the band within which a drop counts as settled.
pub const ALIKE_RELATIVE: f64 = 0.005;
/// Share of the volume in satellites below which a setting counts as free of them: one satellite of 4.6 % of the drop's
/// diameter (1 um beside 22 um), smaller than a picture shows and than a coarse mesh resolves.
pub const SATELLITE_FREE: f64 = 1e-4;

const _: () = assert!(NECK_CUT_FINE < NECK_CUT);
const _: () = assert!(NECK_CUT_ALWAYS < 1.0 && NECK_BULGE > 1.0);
const _: () = assert!(NECK_CUT * FRAGMENT_RADIUS_IN_CUTS < 2.0 * RIGID_RADIUS);
const _: () = assert!(FINE.0 < STANDARD.0 && STANDARD.0 < COARSE.0);
const _: () = assert!(FINE.1 < STANDARD.1 && STANDARD.1 < COARSE.1);
const _: () = assert!(REGRID_STRETCH > 1.0 && REGRID_EXCESS > 1.0);
