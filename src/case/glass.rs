//! What the glass of a case is to the functions of [`crate::device`].

use super::{Bore, Case, Layout};
use crate::device::wall::{SQUARE_AS_ROUND, WallProfile};

impl WallProfile {
    /// The wall that the thread of a case sees, lengths in m.
    pub fn of(case: &Case) -> WallProfile {
        let channel = match case.device.bore {
            Bore::Square(side) => SQUARE_AS_ROUND * side,
            Bore::Round(diameter) => 0.5 * diameter,
            Bore::Unbounded => return WallProfile::Unbounded,
        };
        match (case.layout, case.device.orifice) {
            (Layout::Counterflow, Some(orifice)) => WallProfile::Orifice {
                channel,
                orifice: 0.5 * orifice.bore,
                standoff: orifice.standoff,
                length: orifice.length,
                collection: 0.5 * orifice.collection_bore,
                collection_length: orifice.collection_length,
            },
            (Layout::Coflow | Layout::Counterflow, _) => WallProfile::Tube { radius: channel },
            (Layout::Pendant | Layout::Segment, _) => WallProfile::Unbounded,
        }
    }
}
