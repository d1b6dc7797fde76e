//! Pinch-off: find the neck, cut it, close the caps; volume and momentum kept.

pub mod coalesce;
pub mod cut;
pub mod neck;
pub mod string;
