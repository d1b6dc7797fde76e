//! A pair of axes: frame, ticks with numbers, titles with units, and the way from values to points.

use super::drawing::{Anchor, Area, Drawing, Look, Type};
use super::letters::Label;
use super::palette::{INK, PAPER, SLATE};
use super::scale::{Scale, Ticks};

/// Sizes of letters in points, at print size.
pub const TITLE_SIZE: f64 = 8.0;
pub const TICK_SIZE: f64 = 7.0;
pub const NOTE_SIZE: f64 = 6.5;

const TICK_LENGTH: f64 = 3.0;
const MINOR_LENGTH: f64 = 1.7;
const FRAME_WIDTH: f64 = 0.6;

/// One axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    pub scale: Scale,
    pub title: Label,
}

impl Axis {
    /// An axis whose title is in markup.
    pub fn new(scale: Scale, title: &str) -> Axis {
        Axis { scale, title: Label::marked(title) }
    }
}

/// Axes laid out in a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Axes {
    x: Axis,
    y: Axis,
    /// The rectangle of the data.
    pub inside: Area,
    /// Room at its left.
    left: f64,
    /// Whether numbers and title stand below the frame.
    named_x: bool,
}

/// Wishes for the layout of axes beyond the area they get.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Fit {
    /// More room at the right side.
    pub right: f64,
    /// Least room at the left, to line up with axes above or below.
    pub left: f64,
    /// No numbers and title below: axes that share them stand beneath.
    pub shares_x: bool,
}

/// Room above the data's rectangle, and for a title at its left.
const TOP: f64 = 4.0;
const TITLE_ROOM: f64 = TITLE_SIZE + 2.5;

/// Distance of numbered ticks on paper at the left, and least distance below.
const TICK_EVERY_Y: f64 = 18.0;
const TICK_EVERY_X: f64 = 24.0;
/// White between two numbers below, and most numbers.
const TICK_GAP: f64 = 9.0;
const TICKS_MAX: usize = 7;

impl Axes {
    /// Fits axes into `outside`, leaving room for numbers and titles.
    pub fn fit(x: Axis, y: Axis, outside: Area, wish: Fit) -> Axes {
        let Fit { right, left, shares_x } = wish;
        let height = inner_height(outside.height, shares_x);
        let left = left.max(Axes::left_of(&y, outside.height, shares_x));
        let last = widest_half_number(&x.scale, outside.width - left);
        let width = (outside.width - left - last.max(4.0) - right).max(20.0);
        let inside = Area { x: outside.x + left, y: outside.y + TOP, width, height };
        Axes { x, y, inside, left, named_x: !shares_x }
    }

    /// Room that an axis in an area of this height takes at the left.
    pub fn left_of(y: &Axis, outside_height: f64, shares_x: bool) -> f64 {
        TITLE_ROOM + widest_number(&y.scale, inner_height(outside_height, shares_x)) + TICK_LENGTH + 1.5 + 5.0
    }

    /// The point of a value; not a number where it has none.
    pub fn point(&self, x: f64, y: f64) -> (f64, f64) {
        let a = self.inside;
        (a.x + a.width * self.x.scale.at(x), a.y + a.height * (1.0 - self.y.scale.at(y)))
    }

    /// Whether a value is inside the frame.
    pub fn hold(&self, x: f64, y: f64) -> bool {
        self.x.scale.holds(x) && self.y.scale.holds(y)
    }

    pub fn x_scale(&self) -> Scale {
        self.x.scale
    }

    pub fn y_scale(&self) -> Scale {
        self.y.scale
    }

    /// Frame, ticks, numbers, titles.
    pub fn draw(&self, to: &mut Drawing) {
        let a = self.inside;
        to.rect(a, Look::line(SLATE, FRAME_WIDTH));
        let numbers = |anchor| Type::new(TICK_SIZE, INK, anchor);
        let tick = Look::line(SLATE, FRAME_WIDTH);
        let base = a.y + a.height;
        let ticks = x_ticks(&self.x.scale, a.width);
        for (value, label) in &ticks.major {
            let x = a.x + a.width * self.x.scale.at(*value);
            to.line((x, base), (x, base + TICK_LENGTH), tick);
            if self.named_x {
                to.text((x, base + TICK_LENGTH + TICK_SIZE + 0.5), label, numbers(Anchor::Middle));
            }
        }
        for value in &ticks.minor {
            let x = a.x + a.width * self.x.scale.at(*value);
            to.line((x, base), (x, base + MINOR_LENGTH), tick);
        }
        let ticks = self.y.scale.ticks((a.height / TICK_EVERY_Y) as usize);
        for (value, label) in &ticks.major {
            let y = base - a.height * self.y.scale.at(*value);
            to.line((a.x, y), (a.x - TICK_LENGTH, y), tick);
            to.text((a.x - TICK_LENGTH - 1.5, y + 0.34 * TICK_SIZE), label, numbers(Anchor::End));
        }
        for value in &ticks.minor {
            let y = base - a.height * self.y.scale.at(*value);
            to.line((a.x, y), (a.x - MINOR_LENGTH, y), tick);
        }
        let title = Type::new(TITLE_SIZE, INK, Anchor::Middle);
        if self.named_x {
            to.text((a.x + 0.5 * a.width, base + TICK_LENGTH + TICK_SIZE + 4.0 + TITLE_SIZE), &self.x.title, title);
        }
        to.text_upward((a.x - self.left + TITLE_ROOM, a.y + 0.5 * a.height), &self.y.title, title);
    }
}

/// Height of the data's rectangle in an area.
fn inner_height(outside: f64, shares_x: bool) -> f64 {
    let bottom = if shares_x { TICK_LENGTH + 1.0 } else { 4.0 + TICK_SIZE + 5.0 + TITLE_SIZE + 2.0 };
    (outside - bottom - TOP).max(20.0)
}

fn widest_number(scale: &Scale, height: f64) -> f64 {
    let ticks = scale.ticks((height / TICK_EVERY_Y) as usize);
    ticks.major.iter().map(|(_, l)| l.width(TICK_SIZE, false)).fold(0.0, f64::max)
}

/// As many ticks below as have room for their numbers.
fn x_ticks(scale: &Scale, width: f64) -> Ticks {
    let most = ((width / TICK_EVERY_X) as usize).clamp(2, TICKS_MAX);
    let fits = |ticks: &Ticks| {
        let widths = || ticks.major.iter().map(|(_, l)| l.width(TICK_SIZE, false));
        let places: Vec<f64> = ticks.major.iter().map(|(v, _)| width * scale.at(*v)).collect();
        let closest = places.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min);
        closest >= widths().fold(0.0, f64::max) + TICK_GAP && ticks.major.len() <= TICKS_MAX
    };
    let mut tried = (2..=most).rev().map(|wanted| scale.ticks(wanted));
    tried.find(fits).unwrap_or_else(|| scale.ticks(2))
}

/// How far the number of the last tick reaches beyond the frame.
fn widest_half_number(scale: &Scale, width: f64) -> f64 {
    let ticks = x_ticks(scale, width);
    ticks.major.last().map_or(0.0, |(v, l)| 0.5 * l.width(TICK_SIZE, false) - width * (1.0 - scale.at(*v)))
}

/// How a series is marked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mark<'a> {
    Line(Look<'a>),
    Dot { radius: f64, look: Look<'a> },
    Square { side: f64, look: Look<'a> },
    Triangle { side: f64, look: Look<'a> },
    Diamond { side: f64, look: Look<'a> },
    Cross { side: f64, look: Look<'a> },
    Bar(Look<'a>),
}

/// Draws a mark with its middle at a point (a line or a bar as a short piece).
pub fn mark(to: &mut Drawing, at: (f64, f64), mark: Mark<'_>) {
    let (x, y) = at;
    let shape = |points: &[(f64, f64)]| super::drawing::trace(points, true);
    match mark {
        Mark::Line(look) => to.line((x - 7.0, y), (x + 7.0, y), look),
        Mark::Bar(look) => to.rect(Area { x: x - 4.0, y: y - 2.5, width: 8.0, height: 5.0 }, look),
        Mark::Dot { radius, look } => to.circle(at, radius, look),
        Mark::Square { side, look } => {
            let s = 0.5 * side;
            to.path(&shape(&[(x - s, y - s), (x + s, y - s), (x + s, y + s), (x - s, y + s)]), look);
        }
        Mark::Triangle { side, look } => {
            let s = 0.58 * side;
            to.path(&shape(&[(x, y - s), (x + 0.9 * s, y + 0.6 * s), (x - 0.9 * s, y + 0.6 * s)]), look);
        }
        Mark::Diamond { side, look } => {
            let s = 0.66 * side;
            to.path(&shape(&[(x, y - s), (x + s, y), (x, y + s), (x - s, y)]), look);
        }
        Mark::Cross { side, look } => {
            let s = 0.5 * side;
            to.line((x - s, y - s), (x + s, y + s), look);
            to.line((x - s, y + s), (x + s, y - s), look);
        }
    }
}

/// A corner of the data rectangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Corner {
    TopLeft,
    TopRight,
    BottomLeft,
    BottomRight,
}

/// Room for a line with a raised exponent at print size.
const LEGEND_LINE: f64 = 10.8;

/// The corner in which a legend of this size hides the fewest points.
pub fn emptiest_corner(inside: Area, size: (f64, f64), points: impl Iterator<Item = (f64, f64)> + Clone) -> Corner {
    use Corner::*;
    let hidden = |corner: &Corner| {
        let area = corner_area(inside, size, *corner);
        let within =
            |&(x, y): &(f64, f64)| x >= area.x && x <= area.x + area.width && y >= area.y && y <= area.y + area.height;
        points.clone().filter(within).count()
    };
    [TopRight, TopLeft, BottomRight, BottomLeft].into_iter().min_by_key(hidden).unwrap_or(TopRight)
}

fn corner_area(inside: Area, size: (f64, f64), corner: Corner) -> Area {
    let gap = 4.0;
    let left = inside.x + gap;
    let right = inside.x + inside.width - gap - size.0;
    let top = inside.y + gap;
    let bottom = inside.y + inside.height - gap - size.1;
    let (x, y) = match corner {
        Corner::TopLeft => (left, top),
        Corner::TopRight => (right, top),
        Corner::BottomLeft => (left, bottom),
        Corner::BottomRight => (right, bottom),
    };
    Area { x, y, width: size.0, height: size.1 }
}

/// Width and height of a legend.
pub fn legend_size(entries: &[(Mark<'_>, Label)]) -> (f64, f64) {
    let widest = entries.iter().map(|(_, l)| l.width(NOTE_SIZE, false)).fold(0.0, f64::max);
    (20.0 + widest + 2.0, LEGEND_LINE * entries.len() as f64 + 2.0)
}

/// Marks and what they mean, in a corner, on a sheet of paper so that lines do not run through the letters.
pub fn legend(to: &mut Drawing, inside: Area, corner: Corner, entries: &[(Mark<'_>, Label)]) {
    if entries.is_empty() {
        return;
    }
    let area = corner_area(inside, legend_size(entries), corner);
    to.rect(area, Look::filled(PAPER));
    for (i, (m, label)) in entries.iter().enumerate() {
        let y = area.y + LEGEND_LINE * (i as f64 + 0.5) + 1.0;
        mark(to, (area.x + 9.0, y), *m);
        to.text((area.x + 20.0, y + 0.34 * NOTE_SIZE), label, Type::new(NOTE_SIZE, INK, Anchor::Start));
    }
}
