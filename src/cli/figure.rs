//! `figure`: paper figures from records, as PDF, SVG or PNG.

use super::points;
use super::{output, source};
use super::{Failure, Output};
use crate::figures::{self, Figure, FigureError, Kind, MapAxes, Source, Wish};
use crate::study::map::score::Score;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// What to draw (strip, spacetime, neck, growth, map, sizes, compare, trace), then the files to draw it from;
    /// the kind may be left out where --panels names several
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
    /// Instants of a strip, for example '1 ms,2 ms'
    #[arg(long, value_name = "TIMES", value_delimiter = ',', value_parser = super::case_file::time)]
    at: Vec<f64>,
    /// Axes of a map: the varied quantities, or the groups Ca_o and We_i
    #[arg(long, value_enum, default_value_t = AxesWord::Raw)]
    axes: AxesWord,
    /// Measured points to lay over a map (CSV with its keys as columns, `KEY [unit]` in any order, and `diameter [um]`, `mode` where
    /// known) or over growth rates (`wavenumber`, `growth_rate`)
    #[arg(long, value_name = "POINTS.csv")]
    points: Option<PathBuf>,
    /// Also write the plotted numbers as CSV in SI units (one file a panel)
    #[arg(long, value_name = "NUMBERS.csv")]
    data: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum AxesWord {
    Raw,
    Groups,
}

/// Widths of a figure, mm: in less than a column the letters, whose size is fixed, would lie on the data.
const WIDTH_MIN: f64 = 80.0;
const WIDTH_MAX: f64 = 400.0;

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
    let (kinds, paths) = asked(args)?;
    let sources: Vec<Source> = paths.iter().map(|p| source::load(p, how)).collect::<Result<_, _>>()?;
    if sources.len() > 1 && !kinds.contains(&Kind::Compare) {
        return Err(Failure::Input(format!("only `compare` draws from several files; {} were given", sources.len())));
    }
    let axes = if args.axes == AxesWord::Raw { MapAxes::Raw } else { MapAxes::Groups };
    let laid_over = args.points.as_deref().map(|path| points::over(path, &sources[0], axes)).transpose()?.unwrap_or_default();
    let wish = Wish {
        width_mm: args.width,
        at: args.at.clone(),
        axes,
        points: laid_over.rows,
        point_modes: laid_over.modes,
        command: source::command_line(),
    };
    let figure = figures::draw(&kinds, &sources, &wish).map_err(|e| failure(&e, &paths[0]))?;
    let bytes = format.bytes(&figure).map_err(|e| failure(&e, &paths[0]))?;
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

/// Kinds and sources out of the words typed.
fn asked(args: &Args) -> Result<(Vec<Kind>, Vec<PathBuf>), Failure> {
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
    Ok((kinds, paths))
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

fn tell(figure: &Figure, written: &[PathBuf], score: Option<&Score>, how: &Output) -> Result<(), Failure> {
    if how.json {
        let files: Vec<String> = written.iter().map(|p| p.display().to_string()).collect();
        let kinds: Vec<&str> = figure.panels.iter().map(|(k, _)| k.name()).collect();
        return super::print_json(&serde_json::json!({
            "files": files,
            "panels": kinds,
            "width_mm": (figure.size.0 * 25.4 / 72.0 * 100.0).round() / 100.0,
            "height_mm": (figure.size.1 * 25.4 / 72.0 * 100.0).round() / 100.0,
            "notes": figure.about.notes,
            "score": score,
        }));
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
    fn widths_are_in_millimetres() {
        assert_eq!(width("85"), Ok(85.0));
        assert_eq!(width("170 mm"), Ok(170.0));
        assert!(width("17 cm").is_err() && width("1e9").is_err() && width("NaN").is_err());
    }
}
