//! `figure`: paper figures from records, as PDF, SVG or PNG.

use super::points;
use super::{output, source};
use super::{Failure, Output};
use crate::figures::beside::Over;
use crate::figures::{self, Contours, Figure, FigureError, Kind, MapAxes, PanelLetters, Source, Wish};
use crate::study::map::score::Score;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// What to draw (strip, spacetime, neck, growth, map, sizes, compare, trace, budget, calibrated), then the files to draw it from;
    /// the kind may be left out where --panels names several. Panels from different files: KIND:FILE for each
    #[arg(required = true, value_name = "KIND SOURCE", num_args = 1..)]
    words: Vec<PathBuf>,
    /// File to write; its ending decides: .pdf, .svg or .png
    #[arg(short, long, value_name = "FIG.{pdf,svg,png}")]
    output: PathBuf,
    /// Several panels in one figure, lettered (a), (b), ...
    #[arg(long, value_name = "KIND,KIND", value_delimiter = ',', value_parser = kind)]
    panels: Vec<Kind>,
    /// Width in mm: 85 for one column of a page, 170 for two
    #[arg(long, value_name = "MM", value_parser = width)]
    width: Option<f64>,
    /// Snapshots of a strip, for example '1 ms,2 ms'
    #[arg(long, value_name = "TIMES", value_delimiter = ',', value_parser = super::case_file::time)]
    at: Vec<f64>,
    /// Axes of a map: the varied quantities, or the groups Ca_o and We_i
    #[arg(long, value_enum, default_value_t = AxesWord::Raw)]
    axes: AxesWord,
    /// What the contours of a map show
    #[arg(long, value_enum, default_value_t = ContoursWord::Diameter)]
    contours: ContoursWord,
    /// Letters of the panels
    #[arg(long, value_enum, default_value_t = LettersWord::Bracketed)]
    letters: LettersWord,
    /// Size of the axes' titles in points (8 where not given); all else keeps its proportion to it
    #[arg(long, value_name = "PT", value_parser = font_size)]
    font_size: Option<f64>,
    /// Dots per inch of a PNG (300 where not given)
    #[arg(long, value_name = "DPI", value_parser = dpi)]
    dpi: Option<f64>,
    /// Measured points to lay over a map (CSV with its keys as columns, `KEY [unit]` in any order, and `diameter [um]`, `mode` where
    /// known) or over growth rates (`wavenumber`, `growth_rate`)
    #[arg(long, value_name = "POINTS.csv")]
    points: Option<PathBuf>,
    /// Outlines of the full equations to lay over a strip at equal times (`slenderjet confirm CASE -o FULL.h5`); those of
    /// `slenderjet run --confirm` lie in the record itself
    #[arg(long, value_name = "FULL.h5")]
    confirmed: Option<PathBuf>,
    /// Also write the plotted numbers as CSV in SI units (one file a panel)
    #[arg(long, value_name = "NUMBERS.csv")]
    data: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum AxesWord {
    Raw,
    Groups,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum ContoursWord {
    Diameter,
    Cv,
    Rate,
    Satellites,
    None,
}

impl ContoursWord {
    fn meant(self) -> Contours {
        match self {
            ContoursWord::Diameter => Contours::Diameter,
            ContoursWord::Cv => Contours::Cv,
            ContoursWord::Rate => Contours::Rate,
            ContoursWord::Satellites => Contours::Satellites,
            ContoursWord::None => Contours::None,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum LettersWord {
    /// (a), (b), ...
    Bracketed,
    /// a, b, ...
    Small,
    /// A, B, ...
    Large,
    None,
}

impl LettersWord {
    fn meant(self) -> PanelLetters {
        match self {
            LettersWord::Bracketed => PanelLetters::Bracketed,
            LettersWord::Small => PanelLetters::Small,
            LettersWord::Large => PanelLetters::Large,
            LettersWord::None => PanelLetters::None,
        }
    }
}

/// Sizes of the axes' titles, points: below, the numbers would fall under 6 pt at print size.
const FONT_MIN: f64 = 7.5;
const FONT_MAX: f64 = 14.0;
/// Dots per inch: from a screen's to a line drawing's.
const DPI_MIN: f64 = 72.0;
const DPI_MAX: f64 = 1200.0;

fn within(text: &str, unit: &str, (low, high): (f64, f64)) -> Result<f64, String> {
    let wrong = || format!("a number from {low} to {high}");
    let value: f64 = text.trim().trim_end_matches(unit).trim().parse().map_err(|_| wrong())?;
    if (low..=high).contains(&value) { Ok(value) } else { Err(wrong()) }
}

fn font_size(text: &str) -> Result<f64, String> {
    within(text, "pt", (FONT_MIN, FONT_MAX))
}

fn dpi(text: &str) -> Result<f64, String> {
    within(text, "dpi", (DPI_MIN, DPI_MAX))
}

/// Widths of a figure, mm: in less than a column the letters, whose size is fixed, would lie on the data.
const WIDTH_MIN: f64 = 80.0;
const WIDTH_MAX: f64 = 400.0;
/// Width of a figure of one column, and the least one in units of its letters' size over 8 pt.
const WIDTH_OF_ONE: f64 = 85.0;
const WIDTH_LETTERED: f64 = 66.0;

fn kind(word: &str) -> Result<Kind, String> {
    Kind::named(word.trim()).ok_or_else(|| format!("no such kind of figure; there are {}", kinds()))
}

fn kinds() -> String {
    Kind::ALL.map(Kind::name).join(", ")
}

fn width(text: &str) -> Result<f64, String> {
    let number = text.trim().trim_end_matches("mm").trim();
    let mm: f64 = number.parse().map_err(|_| "a width in mm, for example 85 or 170".to_owned())?;
    let fits = (WIDTH_MIN..=WIDTH_MAX).contains(&mm);
    if fits { Ok(mm) } else { Err(format!("between {WIDTH_MIN} and {WIDTH_MAX} mm; 85 and 170 are usual")) }
}

/// Draws a figure.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let format = Format::of(&args.output)?;
    if let Some(size) = args.font_size.filter(|size| args.width.unwrap_or(WIDTH_OF_ONE) * 8.0 / size < WIDTH_LETTERED) {
        return Err(Failure::Input(format!(
            "letters of {size} pt lie on the data in a figure this narrow; give it more --width, or smaller letters"
        )));
    }
    let asked = asked(args)?;
    let loaded: Vec<(Kind, Vec<Source>)> = asked
        .iter()
        .map(|(kind, paths)| Ok((*kind, paths.iter().map(|p| source::load(p, how)).collect::<Result<_, _>>()?)))
        .collect::<Result<_, Failure>>()?;
    if let Some((_, sources)) = loaded.iter().find(|(kind, sources)| sources.len() > 1 && *kind != Kind::Compare) {
        let text = "only `compare` draws one panel from several files; for a panel of each give KIND:FILE";
        return Err(Failure::Input(format!("{text}; {} were given", sources.len())));
    }
    let axes = if args.axes == AxesWord::Raw { MapAxes::Raw } else { MapAxes::Groups };
    let over = loaded.iter().find(|(kind, _)| matches!(kind, Kind::Map | Kind::Growth)).unwrap_or(&loaded[0]).1.first();
    let over = over.ok_or_else(|| Failure::Input("no file to draw from".into()))?;
    let laid_over = args.points.as_deref().map(|path| points::over(path, over, axes)).transpose()?.unwrap_or_default();
    if args.confirmed.is_some() && !loaded.iter().any(|(kind, _)| *kind == Kind::Strip) {
        return Err(Failure::Input("--confirmed lays outlines over a `strip`; no other figure shows them".into()));
    }
    let wish = Wish {
        width_mm: args.width,
        at: args.at.clone(),
        beside: match &args.confirmed {
            Some(path) => Over::These(crate::record::full::read(path)?.outlines),
            None => Over::Own,
        },
        axes,
        points: laid_over.rows,
        errors: laid_over.errors,
        point_modes: laid_over.modes,
        contours: args.contours.meant(),
        letters: args.letters.meant(),
        font_size: args.font_size,
        dpi: args.dpi,
        command: source::command_line(),
    };
    let named = &asked[0].1[0];
    let panels: Vec<figures::Panel<'_>> = loaded.iter().map(|(kind, sources)| (*kind, sources.as_slice())).collect();
    let figure = figures::draw_panels(&panels, &wish).map_err(|e| failure(&e, named))?;
    let bytes = format.bytes(&figure).map_err(|e| failure(&e, named))?;
    output::write(&args.output, &bytes, how)?;
    let mut written = vec![args.output.clone()];
    if let Some(data) = &args.data {
        written.extend(write_numbers(data, &figure, how)?);
    }
    if written.iter().any(|path| output::is_stdout(path)) {
        return Ok(());
    }
    tell(&figure, &written, laid_over.score.as_ref(), how)
}

/// Draws a figure that another command was asked for with `-o`.
pub fn write(target: &Path, kinds: &[Kind], sources: &[Source], how: &Output) -> Result<(), Failure> {
    if output::is_stdout(target) {
        return Err(Failure::Input("standard output has the command's own answer; name a file for the figure".into()));
    }
    let format = Format::of(target)?;
    let wish = Wish { command: source::command_line(), ..Wish::default() };
    let figure = figures::draw(kinds, sources, &wish).map_err(|e| failure(&e, target))?;
    output::write(target, &format.bytes(&figure).map_err(|e| failure(&e, target))?, how)?;
    how.remark(&format!("written to {}", target.display()));
    Ok(())
}

fn failure(error: &FigureError, source: &Path) -> Failure {
    match error {
        FigureError::Rendering(_) => Failure::Unfinished(error.to_string()),
        _ => Failure::Input(format!("{}: {error}", source.display())),
    }
}

/// Each panel's kind and files out of the words typed.
fn asked(args: &Args) -> Result<Vec<(Kind, Vec<PathBuf>)>, Failure> {
    let own: Vec<Option<(Kind, PathBuf)>> = args.words.iter().map(|w| kind_and_file(w)).collect();
    if own[0].is_some() && args.panels.is_empty() {
        let panels: Option<Vec<(Kind, PathBuf)>> = own.into_iter().collect();
        let panels = panels.ok_or_else(|| {
            Failure::Input("give each file its kind, as in strip:a.h5 neck:b.h5, or one kind for all".into())
        })?;
        // neighbours of one `compare` go together
        let mut grouped: Vec<(Kind, Vec<PathBuf>)> = Vec::new();
        for (kind, path) in panels {
            match grouped.last_mut() {
                Some((Kind::Compare, paths)) if kind == Kind::Compare => paths.push(path),
                _ => grouped.push((kind, vec![path])),
            }
        }
        return Ok(grouped);
    }
    let first = args.words[0].to_string_lossy();
    let named = Kind::named(&first);
    if named.is_none() && args.panels.is_empty() {
        let hint = if args.words[0].exists() {
            format!("say first what to draw: slenderjet figure strip {first} -o {}", args.output.display())
        } else {
            format!("there are {}", kinds())
        };
        return Err(Failure::Input(format!("`{first}` is no kind of figure; {hint}")));
    }
    let paths = args.words[usize::from(named.is_some())..].to_vec();
    if paths.is_empty() {
        return Err(Failure::Input("no file to draw from; give one, for example run.h5".into()));
    }
    let mut kinds = args.panels.clone();
    if let Some(kind) = named.filter(|k| !kinds.contains(k)) {
        kinds.insert(0, kind);
    }
    Ok(kinds.into_iter().map(|kind| (kind, paths.clone())).collect())
}

/// `KIND:FILE`, unless there is a file of that whole name.
fn kind_and_file(word: &Path) -> Option<(Kind, PathBuf)> {
    let text = word.to_str()?;
    let (kind, file) = text.split_once(':')?;
    let kind = Kind::named(kind).filter(|_| !file.is_empty() && !word.exists())?;
    Some((kind, PathBuf::from(file)))
}

/// What to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Pdf,
    Svg,
    Png,
}

impl Format {
    fn of(path: &Path) -> Result<Format, Failure> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
        match ending.as_str() {
            "pdf" => Ok(Format::Pdf),
            "svg" => Ok(Format::Svg),
            "png" => Ok(Format::Png),
            // text, fit for standard output
            _ if output::is_stdout(path) => Ok(Format::Svg),
            _ => Err(Failure::Input(format!("{}: a figure ends in .pdf, .svg or .png", path.display()))),
        }
    }

    fn bytes(self, figure: &Figure) -> Result<Vec<u8>, FigureError> {
        match self {
            Format::Pdf => figure.pdf(),
            Format::Svg => Ok(figure.svg().into_bytes()),
            Format::Png => figure.png(),
        }
    }
}

/// One CSV, or one for each panel with its letter and kind in the name.
fn write_numbers(path: &Path, figure: &Figure, how: &Output) -> Result<Vec<PathBuf>, Failure> {
    let mut written = Vec::new();
    for (i, (kind, numbers)) in figure.panels.iter().enumerate() {
        let target = if figure.panels.len() == 1 || output::is_stdout(path) { path.to_owned() } else { lettered(path, i, *kind) };
        output::write(&target, numbers.csv().as_bytes(), how)?;
        written.push(target);
    }
    Ok(written)
}

fn lettered(path: &Path, i: usize, kind: Kind) -> PathBuf {
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let ending = path.extension().map_or(String::from("csv"), |e| e.to_string_lossy().into_owned());
    let letter = (b'a' + (i % 26) as u8) as char;
    path.with_file_name(format!("{stem}-{letter}-{}.{ending}", kind.name()))
}

/// What was drawn; the keys of `figure --json`.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Drawn {
    /// Files written.
    files: Vec<String>,
    /// Kinds of the panels, in order.
    panels: Vec<&'static str>,
    width_mm: f64,
    height_mm: f64,
    /// What the reader of the figure should know.
    notes: Vec<String>,
    /// How many measured points a map gets right, where points were given.
    score: Option<Score>,
}

fn tell(figure: &Figure, written: &[PathBuf], score: Option<&Score>, how: &Output) -> Result<(), Failure> {
    if how.json {
        let mm = |points: f64| (points * 25.4 / 72.0 * 100.0).round() / 100.0;
        return super::print_answer(&Drawn {
            files: written.iter().map(|p| p.display().to_string()).collect(),
            panels: figure.panels.iter().map(|(k, _)| k.name()).collect(),
            width_mm: mm(figure.size.0),
            height_mm: mm(figure.size.1),
            notes: figure.about.notes.clone(),
            score: score.cloned(),
        });
    }
    written.iter().for_each(|path| how.remark(&format!("written to {}", path.display())));
    score.iter().for_each(|score| how.remark(&score.text));
    if figure.is_tall() {
        let mm = figure.size.1 / figures::export::points(1.0);
        how.remark(&format!("it is {mm:.0} mm tall, which leaves no room for a caption on most pages: draw fewer panels"));
    }
    figure.about.notes.iter().for_each(|note| how.detail(note));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_panels_get_names_of_their_own() {
        assert_eq!(lettered(Path::new("out/n.csv"), 1, Kind::Neck), Path::new("out/n-b-neck.csv"));
    }

    #[test]
    fn a_panel_may_name_its_file() {
        assert_eq!(kind_and_file(Path::new("neck:a/b.h5")), Some((Kind::Neck, PathBuf::from("a/b.h5"))));
        assert_eq!(kind_and_file(Path::new("C:run.h5")), None);
        assert_eq!(kind_and_file(Path::new("neck:")), None);
    }

    #[test]
    fn widths_are_in_millimetres() {
        assert_eq!(width("85"), Ok(85.0));
        assert_eq!(width("170 mm"), Ok(170.0));
        assert!(width("17 cm").is_err() && width("1e9").is_err() && width("NaN").is_err());
    }
}
