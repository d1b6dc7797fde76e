//! Glass capillaries: the wall that the thread sees, and the pressures that the streams need.

pub mod core_annular;
pub mod hole;
pub mod pressure;
pub mod strength;
pub mod thinning;
pub mod wall;
