//! A small plot for the suite's figures: lines and open symbols on linear or logarithmic axes, as SVG.

use std::fmt::Write;

const WIDTH: f64 = 460.0;
const HEIGHT: f64 = 330.0;
const LEFT: f64 = 66.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 50.0;
/// Distinguishable in grey and by colour-blind readers (Okabe & Ito 2008).
const COLOURS: [&str; 6] = ["#000000", "#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00"];

/// One axis.
#[derive(Debug, Clone)]
pub struct Axis {
    pub title: String,
    pub log: bool,
    /// Left out: from the data.
    pub range: Option<[f64; 2]>,
}

/// A set of points.
#[derive(Debug, Clone)]
pub struct Series {
    pub name: String,
    pub points: Vec<(f64, f64)>,
    pub line: bool,
}

/// A figure.
#[derive(Debug, Clone)]
pub struct Plot {
    pub x: Axis,
    pub y: Axis,
    pub series: Vec<Series>,
}

/// A linear axis.
pub fn linear(title: &str) -> Axis {
    Axis { title: title.into(), log: false, range: None }
}

/// A logarithmic axis.
pub fn log(title: &str) -> Axis {
    Axis { title: title.into(), log: true, range: None }
}

/// A line.
pub fn line(name: impl Into<String>, points: Vec<(f64, f64)>) -> Series {
    Series { name: name.into(), points, line: true }
}

/// Open symbols.
pub fn symbols(name: impl Into<String>, points: Vec<(f64, f64)>) -> Series {
    Series { name: name.into(), points, line: false }
}

/// An axis with its range and ticks worked out.
struct Scale {
    low: f64,
    high: f64,
    log: bool,
    from: f64,
    to: f64,
    ticks: Vec<f64>,
    /// Ticks between powers of ten, without a number.
    minor: Vec<f64>,
}

impl Scale {
    fn new(axis: &Axis, values: impl Iterator<Item = f64>, from: f64, to: f64) -> Scale {
        let usable = values.filter(|v| v.is_finite() && (!axis.log || *v > 0.0));
        let (low, high) = usable.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        let [low, high] = axis.range.unwrap_or([low, high]);
        if axis.log {
            let (low, high) = (low.log10().floor(), high.log10().ceil().max(low.log10().floor() + 1.0));
            let every = (((high - low) / 7.0).ceil() as i32).max(1);
            let ticks = (low as i32..=high as i32).step_by(every as usize).map(|p| 10f64.powi(p)).collect();
            let minor = (low as i32..high as i32).flat_map(|p| (2..10).map(move |m| f64::from(m) * 10f64.powi(p)));
            let minor = if every == 1 { minor.collect() } else { Vec::new() };
            return Scale { low, high, log: true, from, to, ticks, minor };
        }
        let span = (high - low).max(1e-12 * high.abs()).max(1e-300);
        let raw = span / 5.0;
        let unit = 10f64.powf(raw.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * unit).into_iter().find(|s| *s >= raw).unwrap_or(unit);
        let (low, high) = ((low / step).floor(), (high / step).ceil());
        let ticks = (low as i64..=high as i64).map(|i| i as f64 * step).collect();
        Scale { low: low * step, high: high * step, log: false, from, to, ticks, minor: Vec::new() }
    }

    fn place(&self, value: f64) -> f64 {
        let value = if self.log { value.log10() } else { value };
        self.from + (self.to - self.from) * (value - self.low) / (self.high - self.low)
    }

    fn label(&self, tick: f64) -> String {
        if self.log {
            return format!("10<tspan dy=\"-5\" font-size=\"9\">{}</tspan>", tick.log10().round() as i32);
        }
        let step = self.ticks.get(1).map_or(1.0, |t| t - self.ticks[0]);
        format!("{tick:.*}", (-step.log10().floor()).max(0.0) as usize)
    }
}

impl Plot {
    /// The figure as SVG text; numbers are rounded to 0.1 px so that the same data give the same bytes.
    pub fn svg(&self) -> String {
        let points = || self.series.iter().flat_map(|series| series.points.iter());
        let x = Scale::new(&self.x, points().map(|p| p.0), LEFT, WIDTH - RIGHT);
        let y = Scale::new(&self.y, points().map(|p| p.1), HEIGHT - BOTTOM, TOP);
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" \
             font-family=\"'Source Sans 3', 'DejaVu Sans', sans-serif\" font-size=\"12\">\n\
             <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#ffffff\"/>\n\
             <clipPath id=\"frame\"><rect x=\"{LEFT}\" y=\"{TOP}\" width=\"{}\" height=\"{}\"/></clipPath>\n",
            WIDTH - LEFT - RIGHT,
            HEIGHT - TOP - BOTTOM
        );
        axes(&mut out, &x, &y, &self.x.title, &self.y.title);
        for (i, series) in self.series.iter().enumerate() {
            draw(&mut out, series, i, &x, &y);
        }
        legend(&mut out, &self.series, &x, &y);
        out + "</svg>\n"
    }
}

fn axes(out: &mut String, x: &Scale, y: &Scale, x_title: &str, y_title: &str) {
    let (floor, middle) = (HEIGHT - BOTTOM, 0.5 * (TOP + HEIGHT - BOTTOM));
    for &tick in &x.ticks {
        let at = x.place(tick);
        let _ = writeln!(out, "<path d=\"M{at:.1} {floor}v-5\" stroke=\"#000\"/>");
        let label = x.label(tick);
        let _ = writeln!(out, "<text x=\"{at:.1}\" y=\"{}\" text-anchor=\"middle\">{label}</text>", floor + 16.0);
    }
    for &tick in &y.ticks {
        let at = y.place(tick);
        let _ = writeln!(out, "<path d=\"M{LEFT} {at:.1}h5\" stroke=\"#000\"/>");
        let label = y.label(tick);
        let _ = writeln!(out, "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{label}</text>", LEFT - 6.0, at + 4.0);
    }
    for &tick in &x.minor {
        let _ = writeln!(out, "<path d=\"M{:.1} {floor}v-3\" stroke=\"#000\" stroke-width=\"0.6\"/>", x.place(tick));
    }
    for &tick in &y.minor {
        let _ = writeln!(out, "<path d=\"M{LEFT} {:.1}h3\" stroke=\"#000\" stroke-width=\"0.6\"/>", y.place(tick));
    }
    let (w, h) = (WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM);
    let _ =
        writeln!(out, "<rect x=\"{LEFT}\" y=\"{TOP}\" width=\"{w}\" height=\"{h}\" fill=\"none\" stroke=\"#000\"/>");
    let centre = LEFT + 0.5 * w;
    let _ = writeln!(out, "<text x=\"{centre}\" y=\"{}\" text-anchor=\"middle\">{x_title}</text>", HEIGHT - 12.0);
    let _ =
        writeln!(out, "<text transform=\"translate(16 {middle}) rotate(-90)\" text-anchor=\"middle\">{y_title}</text>");
}

fn draw(out: &mut String, series: &Series, index: usize, x: &Scale, y: &Scale) {
    let colour = COLOURS[index % COLOURS.len()];
    let usable = series
        .points
        .iter()
        .filter(|p| p.0.is_finite() && p.1.is_finite() && (!x.log || p.0 > 0.0) && (!y.log || p.1 > 0.0));
    let places: Vec<_> = usable.map(|p| (x.place(p.0), y.place(p.1))).collect();
    if series.line {
        let text: Vec<_> = places.iter().map(|(a, b)| format!("{a:.1},{b:.1}")).collect();
        let dash = ["", "6 3", "2 2", "8 3 2 3", "1 3", "10 4"][index % 6];
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.5\" stroke-dasharray=\"{dash}\" clip-path=\"url(#frame)\"/>",
            text.join(" ")
        );
    } else {
        for (a, b) in places {
            symbol(out, index, a, b, colour);
        }
    }
}

fn symbol(out: &mut String, index: usize, a: f64, b: f64, colour: &str) {
    // Not clipped: a point on the frame is drawn whole.
    let path = match index % 6 {
        0 => format!("M{:.1} {b:.1}a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0", a - 3.5),
        1 => format!("M{:.1} {:.1}h6v6h-6z", a - 3.0, b - 3.0),
        2 => format!("M{a:.1} {:.1}l4.5 4.5l-4.5 4.5l-4.5 -4.5z", b - 4.5),
        3 => format!("M{a:.1} {:.1}l4 7h-8z", b - 4.5),
        4 => format!("M{:.1} {b:.1}h8m-4 -4v8", a - 4.0),
        _ => format!("M{:.1} {:.1}l6 6m0 -6l-6 6", a - 3.0, b - 3.0),
    };
    let _ = writeln!(out, "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.2\"/>");
}

/// The corner with the fewest points holds the legend.
fn legend(out: &mut String, series: &[Series], x: &Scale, y: &Scale) {
    let named: Vec<_> = series.iter().enumerate().filter(|(_, s)| !s.name.is_empty()).collect();
    if named.is_empty() {
        return;
    }
    let longest = named.iter().map(|(_, s)| s.name.chars().count()).max().unwrap_or(0);
    let (w, h) = (34.0 + 6.3 * longest as f64, 16.0 * named.len() as f64 + 6.0);
    let spots = [(LEFT + 8.0, TOP + 6.0), (WIDTH - RIGHT - w - 8.0, TOP + 6.0)]
        .into_iter()
        .flat_map(|(a, b)| [(a, b), (a, HEIGHT - BOTTOM - h - 8.0)]);
    let crowd = |spot: &(f64, f64)| {
        let inside = |p: &&(f64, f64)| {
            let (a, b) = (x.place(p.0), y.place(p.1));
            a > spot.0 - 6.0 && a < spot.0 + w + 6.0 && b > spot.1 - 6.0 && b < spot.1 + h + 6.0
        };
        series.iter().map(|s| s.points.iter().filter(inside).count()).sum::<usize>()
    };
    let (left, top) = spots.min_by_key(crowd).unwrap_or((LEFT + 8.0, TOP + 6.0));
    for (row, (index, series)) in named.iter().enumerate() {
        let b = top + 12.0 + 16.0 * row as f64;
        let key = Series { points: Vec::new(), ..(*series).clone() };
        if key.line {
            let dash = ["", "6 3", "2 2", "8 3 2 3", "1 3", "10 4"][index % 6];
            let colour = COLOURS[index % COLOURS.len()];
            let _ = writeln!(
                out,
                "<path d=\"M{left:.1} {b:.1}h24\" stroke=\"{colour}\" stroke-width=\"1.5\" stroke-dasharray=\"{dash}\"/>"
            );
        } else {
            symbol(out, *index, left + 12.0, b, COLOURS[index % COLOURS.len()]);
        }
        let _ = writeln!(out, "<text x=\"{:.1}\" y=\"{:.1}\">{}</text>", left + 30.0, b + 4.0, series.name);
    }
}
