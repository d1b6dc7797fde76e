//! A drawing as PDF: lines stay lines, letters stay letters, with their faces embedded.
//!
//! The drawing comes as the tree that `usvg` reads from our SVG, so that everything lies where the PNG has it. Only what
//! [`super::drawing`] can draw is known here; anything else is an error and no gap in a figure.

use super::FigureError;
use super::about::About;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Paint, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};
use resvg::tiny_skia::{Path as Outline, PathSegment};
use resvg::usvg::{self, Node, fontdb};

/// Letters of one run lie on one line within this share of their size.
const ON_LINE: f32 = 1e-3;

/// A document of one page of `size` points.
///
/// # Errors
/// Where the drawing holds what this file does not know, or the document cannot be written.
pub fn document(tree: &usvg::Tree, size: (f64, f64), about: &About) -> Result<Vec<u8>, FigureError> {
    let page = PageSettings::from_wh(size.0 as f32, size.1 as f32).ok_or_else(|| failed("the page has no size"))?;
    let mut document = Document::new_with(SerializeSettings::default());
    document.set_metadata(
        Metadata::new()
            .title(about.title.clone())
            .description(about.description())
            .keywords(vec![about.hashes()])
            .creator(About::program())
            .producer("krilla".into()),
    );
    let mut page = document.start_page_with(page);
    let mut surface = page.surface();
    let drawn = Writer { surface: &mut surface, tree, faces: Vec::new() }.group(tree.root());
    surface.finish();
    page.finish();
    drawn?;
    document.finish().map_err(|e| failed(format!("{e:?}")))
}

fn failed(why: impl Into<String>) -> FigureError {
    FigureError::Rendering(why.into().into())
}

/// One page under way.
struct Writer<'a, 'page> {
    surface: &'a mut Surface<'page>,
    tree: &'a usvg::Tree,
    faces: Vec<(fontdb::ID, Font)>,
}

impl Writer<'_, '_> {
    fn group(&mut self, group: &usvg::Group) -> Result<(), FigureError> {
        if group.opacity() != usvg::Opacity::ONE || group.mask().is_some() || !group.filters().is_empty() {
            return Err(failed("a layer is see-through"));
        }
        self.surface.push_transform(&placed(group.transform()));
        if let Some(clip) = group.clip_path() {
            let [Node::Path(outline)] = clip.root().children() else { return Err(failed("a clip is no one shape")) };
            let outline = outline.data().clone().transform(clip.transform());
            self.surface
                .push_clip_path(&traced(&outline.ok_or_else(|| failed("a clip has no place"))?)?, &FillRule::NonZero);
        }
        for node in group.children() {
            match node {
                Node::Group(inner) => self.group(inner)?,
                Node::Path(shape) => self.shape(shape)?,
                Node::Text(text) => self.text(text)?,
                Node::Image(_) => return Err(failed("a picture within a drawing")),
            }
        }
        if group.clip_path().is_some() {
            self.surface.pop();
        }
        self.surface.pop();
        Ok(())
    }

    fn shape(&mut self, shape: &usvg::Path) -> Result<(), FigureError> {
        let fill = shape.fill().map(filled).transpose()?;
        let stroke = shape.stroke().map(stroked).transpose()?;
        // without either the library would fill it black
        if fill.is_some() || stroke.is_some() {
            self.surface.set_fill(fill);
            self.surface.set_stroke(stroke);
            self.surface.draw_path(&traced(shape.data())?);
        }
        Ok(())
    }

    /// Letters that stand beside each other on one line are written as one run, so that a reader can mark and search words.
    fn text(&mut self, text: &usvg::Text) -> Result<(), FigureError> {
        for span in text.layouted() {
            self.surface.set_fill(span.fill.as_ref().map(filled).transpose()?);
            self.surface.set_stroke(None);
            let mut letters = &span.positioned_glyphs[..];
            while let Some(first) = letters.first() {
                let font = self.face(first.font)?;
                let size = span.font_size.get();
                // the tree's place of a letter holds its scale
                let em = font.units_per_em() / size;
                let place = first.transform().pre_scale(em, em);
                let back = place.invert().ok_or_else(|| failed("letters without size"))?;
                let along = |letter: &usvg::layout::PositionedGlyph| {
                    let to = letter.transform().pre_scale(em, em);
                    let turned = [to.sx - place.sx, to.sy - place.sy, to.kx - place.kx, to.ky - place.ky];
                    let mut at = [usvg::tiny_skia_path::Point::from_xy(to.tx, to.ty)];
                    back.map_points(&mut at);
                    let level = at[0].y.abs() < ON_LINE * size && turned.iter().all(|t| t.abs() < ON_LINE);
                    (letter.font == first.font && level).then_some(at[0].x / size)
                };
                let places: Vec<f32> = letters.iter().map_while(along).collect();
                let (run, rest) = letters.split_at(places.len().max(1));
                let mut words = String::new();
                let mut glyphs = Vec::with_capacity(run.len());
                for (i, letter) in run.iter().enumerate() {
                    let from = words.len();
                    words.push_str(&letter.text);
                    let advance = places.get(i + 1).map_or(0.0, |next| next - places[i]);
                    let id = GlyphId::new(letter.id.0);
                    glyphs.push(KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, from..words.len(), None));
                }
                self.surface.push_transform(&placed(place));
                self.surface.draw_glyphs(Point::from_xy(0.0, 0.0), &glyphs, font, &words, size, false);
                self.surface.pop();
                letters = rest;
            }
        }
        Ok(())
    }

    fn face(&mut self, id: fontdb::ID) -> Result<Font, FigureError> {
        if let Some((_, font)) = self.faces.iter().find(|(known, _)| *known == id) {
            return Ok(font.clone());
        }
        let read = |data: &[u8], index: u32| Font::new(data.to_vec().into(), index);
        let font = self.tree.fontdb().with_face_data(id, read).flatten().ok_or_else(|| failed("a face is missing"))?;
        self.faces.push((id, font.clone()));
        Ok(font)
    }
}

fn placed(t: usvg::Transform) -> Transform {
    Transform::from_row(t.sx, t.ky, t.kx, t.sy, t.tx, t.ty)
}

fn traced(outline: &Outline) -> Result<Path, FigureError> {
    let mut path = PathBuilder::new();
    for segment in outline.segments() {
        match segment {
            PathSegment::MoveTo(p) => path.move_to(p.x, p.y),
            PathSegment::LineTo(p) => path.line_to(p.x, p.y),
            PathSegment::QuadTo(a, p) => path.quad_to(a.x, a.y, p.x, p.y),
            PathSegment::CubicTo(a, b, p) => path.cubic_to(a.x, a.y, b.x, b.y, p.x, p.y),
            PathSegment::Close => path.close(),
        }
    }
    path.finish().ok_or_else(|| failed("a shape has no points"))
}

fn coloured(paint: &usvg::Paint) -> Result<Paint, FigureError> {
    match paint {
        usvg::Paint::Color(c) => Ok(rgb::Color::new(c.red, c.green, c.blue).into()),
        _ => Err(failed("a colour is no plain one")),
    }
}

fn share(opacity: usvg::Opacity) -> NormalizedF32 {
    NormalizedF32::new(opacity.get()).unwrap_or(NormalizedF32::ONE)
}

fn filled(fill: &usvg::Fill) -> Result<Fill, FigureError> {
    let rule = match fill.rule() {
        usvg::FillRule::NonZero => FillRule::NonZero,
        usvg::FillRule::EvenOdd => FillRule::EvenOdd,
    };
    Ok(Fill { paint: coloured(fill.paint())?, opacity: share(fill.opacity()), rule })
}

fn stroked(stroke: &usvg::Stroke) -> Result<Stroke, FigureError> {
    let line_cap = match stroke.linecap() {
        usvg::LineCap::Butt => LineCap::Butt,
        usvg::LineCap::Round => LineCap::Round,
        usvg::LineCap::Square => LineCap::Square,
    };
    let line_join = match stroke.linejoin() {
        usvg::LineJoin::Miter | usvg::LineJoin::MiterClip => LineJoin::Miter,
        usvg::LineJoin::Round => LineJoin::Round,
        usvg::LineJoin::Bevel => LineJoin::Bevel,
    };
    Ok(Stroke {
        paint: coloured(stroke.paint())?,
        width: stroke.width().get(),
        miter_limit: stroke.miterlimit().get(),
        line_cap,
        line_join,
        opacity: share(stroke.opacity()),
        dash: stroke.dasharray().map(|lengths| StrokeDash { array: lengths.to_vec(), offset: stroke.dashoffset() }),
    })
}
