//! From pieces to a page: panels in rows, letters before them, metadata around them.

use super::about::{About, Origin};
use super::axes::TITLE_SIZE;
use super::drawing::{Anchor, Drawing, Type};
use super::export::{self, Letters, points};
use super::letters::Label;
use super::palette::INK;
use super::table::Numbers;
use super::{FigureError, Kind, PanelLetters, Piece, Room, Source, Wish};
use super::{budget, calibrated, compare, growth, map, neck, sizes, spacetime, strip, trace};

/// Widths of one and two columns of a page, mm.
pub const ONE_COLUMN: f64 = 85.0;
pub const TWO_COLUMNS: f64 = 170.0;
/// From this width on, two narrow panels stand side by side.
const SIDE_BY_SIDE: f64 = 130.0;

/// Width of a wide kind over that of the panel beside it.
const WIDE_SHARE: f64 = 1.4;
/// Height over width that a panel may be given by its neighbour.
const PANEL_MIN: f64 = 0.7;
const PANEL_MAX: f64 = 1.3;
/// A figure taller than this (mm) leaves no room for its caption on a page of A4 or letter size.
const TALL: f64 = 240.0;

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
    /// Dots per inch of its PNG.
    dpi: f64,
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

    /// Whether it leaves no room for its caption on a page.
    pub fn is_tall(&self) -> bool {
        self.size.1 > points(TALL)
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
        export::png(&self.body, self.size, &self.about, self.dpi)
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
        (Kind::Budget, Source::Run(run)) => budget::draw(run, room),
        (Kind::Calibrated, Source::Calibrated(rows)) => calibrated::draw(rows, room),
        (Kind::Calibrated, _) => Err(wrong("the output of `slenderjet calibrate --json`")),
        _ => Err(wrong("the record of a run (`slenderjet run ... -o RUN.h5`)")),
    }
}

/// A panel: its kind and what it is drawn from.
pub type Panel<'a> = (Kind, &'a [Source]);

/// Draws panels of the given kinds into one figure, all from the same sources.
///
/// # Errors
/// Where a source is of the wrong sort or holds nothing to draw.
pub fn draw(kinds: &[Kind], sources: &[Source], wish: &Wish) -> Result<Figure, FigureError> {
    let panels: Vec<Panel<'_>> = kinds.iter().map(|k| (*k, sources)).collect();
    draw_panels(&panels, wish)
}

/// Draws panels into one figure, each from its own sources.
///
/// # Errors
/// Where a source is of the wrong sort or holds nothing to draw.
pub fn draw_panels(panels: &[Panel<'_>], wish: &Wish) -> Result<Figure, FigureError> {
    let wide = panels.len() > 1 || panels.iter().any(|(k, _)| k.is_wide());
    let whole = points(wish.width_mm.unwrap_or(if wide { TWO_COLUMNS } else { ONE_COLUMN }));
    let larger = wish.font_size.map_or(1.0, |size| size / TITLE_SIZE);
    let width = whole / larger;
    let lettered = panels.len() > 1 && wish.letters != PanelLetters::None;
    let mut page =
        Page { width, lettered, y: EDGE, drawing: Drawing::default(), panels: Vec::new(), notes: Vec::new() };
    for row in rows(panels, width) {
        page.row(&row, wish)?;
    }
    let mut origins: Vec<Origin> = Vec::new();
    for origin in panels.iter().flat_map(|(_, sources)| sources.iter()).filter_map(Source::origin) {
        if !origins.contains(&origin) {
            origins.push(origin);
        }
    }
    let about = About {
        title: panels.iter().map(|(k, _)| k.meaning()).collect::<Vec<_>>().join("; "),
        command: wish.command.clone(),
        origins,
        notes: page.notes,
    };
    let drawing = if larger == 1.0 { page.drawing } else { page.drawing.scaled(larger) };
    Ok(Figure {
        body: drawing.body().to_owned(),
        size: (whole, larger * page.y),
        about,
        dpi: wish.dpi.unwrap_or(export::DPI),
        panels: page.panels,
    })
}

/// On a wide page two panels share a row; of more, wide kinds have a row of their own and others go in pairs.
fn rows<'a>(panels: &[Panel<'a>], width: f64) -> Vec<Vec<Panel<'a>>> {
    if width < points(SIDE_BY_SIDE) {
        return panels.iter().map(|p| vec![*p]).collect();
    }
    if panels.len() == 2 && panels.iter().all(|(k, _)| *k != Kind::Compare) {
        return vec![panels.to_vec()];
    }
    let mut rows: Vec<Vec<Panel<'a>>> = Vec::new();
    for &panel in panels {
        match rows.last_mut() {
            Some(row) if row.len() == 1 && !panel.0.is_wide() && !row[0].0.is_wide() => row.push(panel),
            _ => rows.push(vec![panel]),
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
    fn row(&mut self, row: &[Panel<'_>], wish: &Wish) -> Result<(), FigureError> {
        let share = |(k, _): &Panel<'_>| if k.is_wide() { WIDE_SHARE } else { 1.0 };
        let free = self.width - 2.0 * EDGE - GUTTER * (row.len() - 1) as f64;
        let whole: f64 = row.iter().map(share).sum();
        let widths: Vec<f64> = row.iter().map(|p| free * share(p) / whole).collect();
        // two panels of one kind must not share the names of their parts
        let before = self.panels.len();
        let room = |i: usize, height| {
            let prefix = format!("{}{}-", row[i].0.name(), before + i);
            Room { width: widths[i], height, beside: row.len() > 1, prefix }
        };
        let top = if self.lettered { LETTER_ROOM } else { 0.0 };
        let mut tallest: f64 = 0.0;
        let first = piece(row[0].0, row[0].1, wish, &room(0, None))?;
        let mut x = EDGE;
        for (i, &(kind, sources)) in row.iter().enumerate() {
            let height = first.size.1.clamp(PANEL_MIN * widths[i], PANEL_MAX * widths[i]);
            let drawn = if i == 0 { first.clone() } else { piece(kind, sources, wish, &room(i, Some(height)))? };
            if self.lettered {
                let letter = wish.letters.of(self.panels.len());
                let how = Type::new(LETTER_SIZE, INK, Anchor::Start).bold();
                self.drawing.text((x, self.y + LETTER_SIZE), &Label::plain(letter.clone()), how);
                self.notes.extend(drawn.notes.iter().map(|n| format!("{letter} {n}")));
            } else {
                self.notes.extend(drawn.notes.iter().cloned());
            }
            self.drawing.place(&drawn.drawing, x, self.y + top);
            tallest = tallest.max(drawn.size.1);
            self.panels.push((kind, drawn.numbers));
            x += widths[i] + GUTTER;
        }
        self.y += top + tallest + EDGE;
        Ok(())
    }
}
