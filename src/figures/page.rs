//! From pieces to a page: panels in rows, letters before them, metadata around them.

use super::about::About;
use super::drawing::{Anchor, Drawing, Type};
use super::export::{self, Letters, points};
use super::letters::Label;
use super::palette::INK;
use super::table::Numbers;
use super::{FigureError, Kind, Piece, Room, Source, Wish};
use super::{compare, growth, map, neck, sizes, spacetime, strip, trace};

/// Widths of one and two columns of a page, mm.
pub const ONE_COLUMN: f64 = 85.0;
pub const TWO_COLUMNS: f64 = 170.0;
/// From this width on, two narrow panels stand side by side.
const SIDE_BY_SIDE: f64 = 130.0;

const EDGE: f64 = 3.0;
const GUTTER: f64 = 10.0;
const LETTER_SIZE: f64 = 9.0;
const LETTER_ROOM: f64 = 13.0;

/// A figure ready to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    body: String,
    /// Width and height, points.
    pub size: (f64, f64),
    pub about: About,
    /// The numbers of each panel as plotted.
    pub panels: Vec<(Kind, Numbers)>,
}

impl Figure {
    /// A document that looks the same everywhere.
    pub fn svg(&self) -> String {
        export::svg(&self.body, self.size, &self.about, Letters::Embedded)
    }

    /// For a page that defines the faces itself.
    pub fn inline_svg(&self) -> String {
        export::svg(&self.body, self.size, &self.about, Letters::Given)
    }

    /// Shapes and letters as SVG elements.
    pub fn body(&self) -> &str {
        &self.body
    }

    /// # Errors
    /// Where the renderer fails.
    pub fn pdf(&self) -> Result<Vec<u8>, FigureError> {
        export::pdf(&self.body, self.size, &self.about)
    }

    /// # Errors
    /// Where the renderer fails, or the picture is too large for memory.
    pub fn png(&self) -> Result<Vec<u8>, FigureError> {
        export::png(&self.body, self.size, &self.about)
    }
}

fn piece(kind: Kind, sources: &[Source], wish: &Wish, room: &Room) -> Result<Piece, FigureError> {
    let Some(first) = sources.first() else {
        return Err(FigureError::Nothing("there is nothing to draw from".into()));
    };
    let wrong = |wanted| FigureError::WrongSource { kind, wanted, found: first.what() };
    match (kind, first) {
        (Kind::Compare, _) => compare::draw(sources, room),
        (Kind::Map, Source::Map(map)) => map::draw(map, wish, room),
        (Kind::Map, _) => Err(wrong("a map (`slenderjet map ... -o MAP.h5`)")),
        (Kind::Growth, Source::Growth(growth)) => growth::draw(growth, wish, room),
        (Kind::Growth, Source::Run(run)) => growth::draw(&growth::of_run(run)?, wish, room),
        (Kind::Growth, _) => Err(wrong("the record of a run or the output of `slenderjet growth --json`")),
        (Kind::Strip, Source::Run(run)) => strip::draw(run, wish, room),
        (Kind::Spacetime, Source::Run(run)) => spacetime::draw(run, room),
        (Kind::Neck, Source::Run(run)) => neck::draw(run, room),
        (Kind::Sizes, Source::Run(run)) => sizes::draw(run, room),
        (Kind::Sizes, Source::Measured(measured)) => sizes::draw_measured(measured, room),
        (Kind::Trace, Source::Run(run)) => trace::draw(run, room),
        _ => Err(wrong("the record of a run (`slenderjet run ... -o RUN.h5`)")),
    }
}

/// Draws panels of the given kinds into one figure.
///
/// # Errors
/// Where a source is of the wrong sort or holds nothing to draw.
pub fn draw(kinds: &[Kind], sources: &[Source], wish: &Wish) -> Result<Figure, FigureError> {
    let wide = kinds.len() > 1 || kinds.iter().any(|k| k.is_wide());
    let width = points(wish.width_mm.unwrap_or(if wide { TWO_COLUMNS } else { ONE_COLUMN }));
    let lettered = kinds.len() > 1;
    let mut page =
        Page { width, lettered, y: EDGE, drawing: Drawing::default(), panels: Vec::new(), notes: Vec::new() };
    for row in rows(kinds, width) {
        page.row(&row, sources, wish)?;
    }
    let about = About {
        title: kinds.iter().map(|k| k.meaning()).collect::<Vec<_>>().join("; "),
        command: wish.command.clone(),
        origins: sources.iter().filter_map(Source::origin).collect(),
        notes: page.notes,
    };
    Ok(Figure { body: page.drawing.body().to_owned(), size: (width, page.y), about, panels: page.panels })
}

/// Wide kinds have a row of their own, except where there are just two panels; others go in pairs on a wide page.
fn rows(kinds: &[Kind], width: f64) -> Vec<Vec<Kind>> {
    if width < points(SIDE_BY_SIDE) {
        return kinds.iter().map(|k| vec![*k]).collect();
    }
    let mut rows: Vec<Vec<Kind>> = Vec::new();
    for &kind in kinds {
        match rows.last_mut() {
            Some(row) if row.len() == 1 && !kind.is_wide() && !row[0].is_wide() => row.push(kind),
            _ => rows.push(vec![kind]),
        }
    }
    rows
}

struct Page {
    width: f64,
    lettered: bool,
    y: f64,
    drawing: Drawing,
    panels: Vec<(Kind, Numbers)>,
    notes: Vec<String>,
}

impl Page {
    fn row(&mut self, kinds: &[Kind], sources: &[Source], wish: &Wish) -> Result<(), FigureError> {
        let columns = kinds.len() as f64;
        let width = (self.width - 2.0 * EDGE - GUTTER * (columns - 1.0)) / columns;
        let room = |i: usize, height| Room { width, height, prefix: format!("{}{i}-", kinds[i].name()) };
        let top = if self.lettered { LETTER_ROOM } else { 0.0 };
        let mut tallest: f64 = 0.0;
        let first = piece(kinds[0], sources, wish, &room(0, None))?;
        let height = first.size.1;
        for (i, &kind) in kinds.iter().enumerate() {
            let drawn = if i == 0 { first.clone() } else { piece(kind, sources, wish, &room(i, Some(height)))? };
            let x = EDGE + i as f64 * (width + GUTTER);
            if self.lettered {
                let letter = (b'a' + (self.panels.len() % 26) as u8) as char;
                let how = Type::new(LETTER_SIZE, INK, Anchor::Start).bold();
                self.drawing.text((x, self.y + LETTER_SIZE), &Label::plain(format!("({letter})")), how);
                self.notes.extend(drawn.notes.iter().map(|n| format!("({letter}) {n}")));
            } else {
                self.notes.extend(drawn.notes.iter().cloned());
            }
            self.drawing.place(&drawn.drawing, x, self.y + top);
            tallest = tallest.max(drawn.size.1);
            self.panels.push((kind, drawn.numbers));
        }
        self.y += top + tallest + EDGE;
        Ok(())
    }
}
