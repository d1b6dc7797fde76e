//! One self-contained page from a record: the movie of the drops being made, figures, numbers, provenance, cautions.
//!
//! The page asks nothing of the network (its policy forbids it), plays nothing unasked, and holds every text of the user
//! escaped. A report is made of a record alone; nothing is simulated.
//!
//! ```text
//! run      movie, summary in words, warnings, figures, drops, the case as typed, cautions, provenance
//! several  a table side by side, the comparison figure, a movie for each
//! map      the map, its rows, the case as typed, provenance
//! ```

mod html;
mod map;
mod movie;
mod run;
mod several;
mod table;
mod words;

use crate::figures::{FigureError, Source};

/// A page for what was recorded.
///
/// # Errors
/// Where the sources do not belong together, or hold nothing to show.
pub fn page(sources: &[Source], command: &str) -> Result<String, FigureError> {
    match sources {
        [] => Err(FigureError::Nothing("there is nothing to report on".into())),
        [Source::Run(run)] => run::page(run, command),
        [Source::Map(map)] => map::page(map, command),
        [Source::Growth(_) | Source::Measured(_)] => {
            Err(FigureError::Nothing("a report is made from the record of a run or from a map".into()))
        }
        several => several::page(several, command),
    }
}
