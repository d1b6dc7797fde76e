//! Glass capillaries: the wall that the thread sees, and the pressures that the streams need.

pub mod wall;
