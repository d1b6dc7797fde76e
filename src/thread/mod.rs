//! The one-dimensional thread: equations stated once, state, mesh, and one time step.
//!
//! Units inside this module: lengths in the radius R that pins the contact line, times in sqrt(rho_i R^3/gamma),
//! so rho_i = gamma = R = 1; the viscosity of the inner liquid is the Ohnesorge number, gravity is the Bond number and
//! the mean velocity at the nozzle is sqrt(We). A case scaled to other units gives the same numbers here, bit for bit.
//!
//! Equations, whole (with a = h^2, T the tensions, and primes along z; `docs/equations.md` typesets them with sources and ranges):
//!   a_t + (a u)' = 0,
//!   pi a (1 + C_m) (u_t + u u') =
//!       T_cap'                            capillary tension of full curvature            [`cells`]
//!     + (3 Oh f pi a u')'                 inner extension (Trouton; f of a steep thread) [`force`], [`foot`]
//!     + (pi a C d^2 |u'| u')', u' < 0     artificial viscosity, d the cell               [`force`]
//!     + pi a Bo                           weight less buoyancy                           [`force`]
//!     + pi mu_o D (V - u)                 drag of the outer liquid, with the ends        [`outer`], [`closures`]
//!     - d/du of pi a mu_o c_E cos^2 (w - b)^2/2  its normal stress, the slope of what it takes  [`outer`], [`closures`]
//!     - (3 m pi a b)'                     the stream's own stretch b along the wall      [`outer`]
//!     - pi a p_film'                      film between thread and wall                   [`closures::wall`]
//!     - lag of the inner liquid's surface: 3 mu_i pi a f w_i^2 dissipated and not 3 mu_i pi a f u'^2 [`outer`]
//!     + (pi Oh u_0 kappa exp(-kappa z))'  viscous stresses of the bore's profile        [`profile`]
//!     - (pi E)'                           its momentum, a jet's where it crosses a drop [`crossing`]
//! with C_m the added mass of the outer liquid (closures::inertia). Discretely, v_j the volumes of the cells, u_i at the nodes,
//! q_i the way of the liquid past node i:
//!   dq_i/dt = u_i,  z_i = z_i(0) + theta_i q_i,  v_j = v_j(0) + f_j q_j - f_(j+1) q_(j+1)                [`mesh::follow`]
//!   I_i du_i/dt = T_i - T_(i-1) + m_i Bo + outer liquid - momentum carried past the node                 [`force`]
//! by an L-stable scheme of order 3 ([`step`]) whose matrix is the derivative of that force ([`jacobian`]). Where theta = 1
//! and f = 0 nodes move with the liquid; the volume is conserved to round-off always. What each term does to the
//! energy: [`power`], [`energy`].
//! Source: Eggers & Dupont 1994, J. Fluid Mech. 262, 205, for the thread in a gas; the outer terms are closures.

pub mod adsorption;
pub mod advance;
pub mod body;
pub mod cells;
pub mod chains;
pub mod closures;
pub mod crossing;
pub mod dispersion;
pub mod energy;
pub mod estimate;
pub mod fields;
pub mod foot;
pub mod force;
pub mod inflow;
pub mod jacobian;
pub mod laden;
pub mod load;
pub mod mesh;
pub mod outer;
pub mod passing;
pub mod polymer;
pub mod power;
pub mod profile;
pub mod rheology;
pub mod rows;
pub mod step;
pub mod stream;
pub mod surfactant;
