//! One drawing as SVG, PDF and PNG, each with the figure's metadata inside.

use super::about::About;
use super::letters::{FACES, FALLBACK, FAMILY, WEB_FACES};
use super::{FigureError, drawing::n};
use base64::Engine as _;
use resvg::{tiny_skia, usvg};

/// Dots per inch of a PNG where none are asked for.
pub const DPI: f64 = 300.0;
const POINTS_PER_INCH: f64 = 72.0;
const MM_PER_INCH: f64 = 25.4;
/// CSS pixels per inch, in which the readers of SVG count.
const CSS_PER_INCH: f32 = 96.0;

/// Points of a length in mm.
pub fn points(mm: f64) -> f64 {
    mm * POINTS_PER_INCH / MM_PER_INCH
}

/// Which faces a standalone SVG carries with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Letters {
    /// In the file, so that it looks the same everywhere.
    Embedded,
    /// Given by the page around it, or by the reader's fonts.
    Given,
}

/// CSS that defines the faces that a drawing uses.
pub fn font_faces(body: &str) -> String {
    let used = |weight: u16, style: &str| match (weight, style) {
        (600, _) => body.contains("font-weight=\"600\""),
        (_, "italic") => body.contains("font-style=\"italic\""),
        _ => true,
    };
    let faces = WEB_FACES.iter().filter(|(weight, style, _)| used(*weight, style));
    faces.map(|(weight, style, bytes)| font_face(*weight, style, bytes)).collect()
}

fn font_face(weight: u16, style: &str, bytes: &[u8]) -> String {
    let data = base64::engine::general_purpose::STANDARD.encode(bytes);
    format!(
        "@font-face{{font-family:'{FAMILY}';font-weight:{weight};font-style:{style};\
         src:url(data:font/woff2;base64,{data}) format('woff2')}}\n"
    )
}

/// A whole SVG document.
pub fn svg(body: &str, size: (f64, f64), about: &About, letters: Letters) -> String {
    let mm = |points: f64| format!("{}mm", n(points * MM_PER_INCH / POINTS_PER_INCH));
    let style = match letters {
        Letters::Embedded => format!("<style>{}</style>\n", font_faces(body)),
        Letters::Given => String::new(),
    };
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"{}\" height=\"{}\" viewBox=\"0 0 {} {}\" \
         font-family=\"{FALLBACK}\" stroke-linejoin=\"round\">\n{}{style}{body}</svg>\n",
        mm(size.0),
        mm(size.1),
        n(size.0),
        n(size.1),
        about.svg(),
    )
}

/// The drawing as the renderers see it: with the bundled faces only, so that it looks the same on any machine.
fn tree(body: &str, size: (f64, f64)) -> Result<usvg::Tree, FigureError> {
    let mut options = usvg::Options { font_family: FAMILY.into(), dpi: CSS_PER_INCH, ..usvg::Options::default() };
    for face in FACES {
        options.fontdb_mut().load_font_data(face.to_vec());
    }
    let page = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" \
         font-family=\"'{FAMILY}'\" stroke-linejoin=\"round\">{body}</svg>",
        w = n(size.0),
        h = n(size.1)
    );
    usvg::Tree::from_str(&page, &options).map_err(|e| FigureError::Rendering(e.into()))
}

/// A PDF of one page: vectors, letters as letters.
pub fn pdf(body: &str, size: (f64, f64), about: &About) -> Result<Vec<u8>, FigureError> {
    super::pdf::document(&tree(body, size)?, size, about)
}

/// A PNG on white.
pub fn png(body: &str, size: (f64, f64), about: &About, dpi: f64) -> Result<Vec<u8>, FigureError> {
    let tree = tree(body, size)?;
    let scale = dpi / POINTS_PER_INCH;
    let (width, height) = ((size.0 * scale).round() as u32, (size.1 * scale).round() as u32);
    let too_large = || FigureError::Rendering(format!("a picture of {width} by {height} dots is too large").into());
    let mut pixels = tiny_skia::Pixmap::new(width, height).ok_or_else(too_large)?;
    pixels.fill(tiny_skia::Color::WHITE);
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale as f32, scale as f32), &mut pixels.as_mut());
    let rgb: Vec<u8> = pixels.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    encode(&rgb, (width, height), about, dpi).map_err(|e| FigureError::Rendering(e.into()))
}

fn encode(rgb: &[u8], size: (u32, u32), about: &About, dpi: f64) -> Result<Vec<u8>, png::EncodingError> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, size.0, size.1);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    let per_metre = (dpi / MM_PER_INCH * 1000.0).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter }));
    let texts = [
        ("Title", about.title.clone()),
        ("Software", About::program()),
        ("Description", about.description()),
        ("Source", about.hashes()),
    ];
    for (keyword, text) in texts {
        if text.chars().all(|c| (c as u32) < 256) {
            encoder.add_text_chunk(keyword.into(), text)?;
        } else {
            encoder.add_itxt_chunk(keyword.into(), text)?;
        }
    }
    let mut writer = encoder.write_header()?;
    writer.write_image_data(rgb)?;
    writer.finish()?;
    Ok(out)
}
