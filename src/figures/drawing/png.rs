//! A picture as PNG, its letters from a font in the program: every machine makes the same pixels.

use super::canvas::{Anchor, Class, Picture, Shape, Stroke};
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, MetadataProvider};
use thiserror::Error;
use tiny_skia::{
    Color, FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, StrokeDash, Transform,
};

/// Why there is no PNG.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum PngError {
    /// No picture of that size can be made.
    #[error("a picture of {width:.0} by {height:.0} pixels cannot be made; choose a scale near 2")]
    Size {
        /// Pixels across.
        width: f64,
        /// Pixels down.
        height: f64,
    },
    /// A font is damaged, or the picture could not be packed.
    #[error("the PNG was not made ({0}); this is a fault in loadwalk, take the SVG instead")]
    Fault(String),
}

/// The picture with `scale` pixels for each of its own.
pub(super) fn png(picture: &Picture, scale: f64) -> Result<Vec<u8>, PngError> {
    // The SVG's size is whole pixels.
    let [width, height] = picture.size.map(|s| (s.round() * scale).round());
    let mut sheet = Pixmap::new(width as u32, height as u32)
        .filter(|_| scale > 0.0)
        .ok_or(PngError::Size { width, height })?;
    sheet.fill(Color::WHITE);
    let fault = |e: &dyn std::error::Error| PngError::Fault(e.to_string());
    let mut pen = Pen {
        sheet,
        turn: Transform::from_scale(scale as f32, scale as f32),
        regular: FontRef::new(notosans::REGULAR_TTF).map_err(|e| fault(&e))?,
        bold: FontRef::new(notosans::BOLD_TTF).map_err(|e| fault(&e))?,
    };
    for shape in &picture.shapes {
        pen.draw(shape);
    }
    pen.sheet.encode_png().map_err(|e| fault(&e))
}

struct Pen {
    sheet: Pixmap,
    turn: Transform,
    regular: FontRef<'static>,
    bold: FontRef<'static>,
}

impl Pen {
    fn draw(&mut self, shape: &Shape) {
        match shape {
            Shape::Line { from, to, stroke } => {
                let mut path = PathBuilder::new();
                move_to(&mut path, *from);
                line_to(&mut path, *to);
                self.line(path.finish(), stroke);
            }
            Shape::Polygon {
                points,
                fill,
                stroke,
            } => {
                let mut path = PathBuilder::new();
                for (i, point) in points.iter().enumerate() {
                    if i == 0 {
                        move_to(&mut path, *point);
                    } else {
                        line_to(&mut path, *point);
                    }
                }
                path.close();
                let path = path.finish();
                self.fill(path.as_ref(), *fill);
                self.line(path, stroke);
            }
            Shape::Circle {
                at,
                radius,
                fill,
                stroke,
            } => {
                let path = PathBuilder::from_circle(at[0] as f32, at[1] as f32, *radius as f32);
                self.fill(path.as_ref(), *fill);
                self.line(path, stroke);
            }
            Shape::Quarters { at, radius, fill } => {
                for sign in [1.0, -1.0] {
                    let path = quarter(*at, *radius, sign);
                    self.fill(path.as_ref(), Some(fill));
                }
            }
            Shape::Text {
                at,
                anchor,
                class,
                text,
            } => self.text(*at, *anchor, *class, text),
        }
    }

    fn fill(&mut self, path: Option<&Path>, colour: Option<&str>) {
        if let (Some(path), Some(colour)) = (path, colour) {
            self.sheet
                .fill_path(path, &paint(colour), FillRule::Winding, self.turn, None);
        }
    }

    fn line(&mut self, path: Option<Path>, stroke: &Stroke) {
        let Some(path) = path else { return };
        let stroking = tiny_skia::Stroke {
            width: stroke.width as f32,
            line_cap: LineCap::Butt,
            line_join: LineJoin::Miter,
            dash: StrokeDash::new(even(stroke.dash), 0.0),
            ..tiny_skia::Stroke::default()
        };
        let paint = paint(stroke.colour);
        self.sheet
            .stroke_path(&path, &paint, &stroking, self.turn, None);
    }

    fn text(&mut self, at: [f64; 2], anchor: Anchor, class: Class, text: &str) {
        let (size, bold, colour) = class.look();
        let font = if bold { &self.bold } else { &self.regular };
        let Some(path) = letters(font, at, anchor, size as f32, text) else {
            return;
        };
        let edge = tiny_skia::Stroke {
            width: 4.0,
            line_join: LineJoin::Round,
            ..tiny_skia::Stroke::default()
        };
        let white = paint("#ffffff");
        self.sheet
            .stroke_path(&path, &white, &edge, self.turn, None);
        self.fill(Some(&path), Some(colour));
    }
}

/// The outlines of a text, `None` where it has none. A letter that the font lacks leaves its place
/// empty.
fn letters(
    font: &FontRef<'_>,
    at: [f64; 2],
    anchor: Anchor,
    size: f32,
    text: &str,
) -> Option<Path> {
    let em = Size::new(size);
    let place = LocationRef::default();
    let characters = font.charmap();
    let advances = font.glyph_metrics(em, place);
    let outlines = font.outline_glyphs();
    let glyphs: Vec<_> = text.chars().filter_map(|c| characters.map(c)).collect();
    let advance = |g| advances.advance_width(g).unwrap_or(0.0);
    let wide: f32 = glyphs.iter().map(|&g| advance(g)).sum();
    let start = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => wide / 2.0,
        Anchor::End => wide,
    };
    let mut outline = Outline {
        path: PathBuilder::new(),
        x: at[0] as f32 - start,
        y: at[1] as f32,
    };
    for glyph in glyphs {
        if let Some(shape) = outlines.get(glyph) {
            // What cannot be drawn is left out.
            let _ = shape.draw(DrawSettings::unhinted(em, place), &mut outline);
        }
        outline.x += advance(glyph);
    }
    outline.path.finish()
}

/// Takes a glyph's outline, which runs upward, at a place on paper, which runs downward.
struct Outline {
    path: PathBuilder,
    x: f32,
    y: f32,
}

impl OutlinePen for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        self.path.move_to(self.x + x, self.y - y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.path.line_to(self.x + x, self.y - y);
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        self.path
            .quad_to(self.x + cx, self.y - cy, self.x + x, self.y - y);
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        let (ox, oy) = (self.x, self.y);
        self.path
            .cubic_to(ox + ax, oy - ay, ox + bx, oy - by, ox + x, oy - y);
    }

    fn close(&mut self) {
        self.path.close();
    }
}

/// A quarter of a disc: the upper right one, or the lower left one with `sign` -1.
fn quarter([x, y]: [f64; 2], radius: f64, sign: f32) -> Option<Path> {
    // Handle of a cubic that follows a quarter of a circle.
    const HANDLE: f32 = 0.552_284_8;
    let (x, y, r) = (x as f32, y as f32, radius as f32 * sign);
    let mut path = PathBuilder::new();
    path.move_to(x, y);
    path.line_to(x, y - r);
    path.cubic_to(x + r * HANDLE, y - r, x + r, y - r * HANDLE, x + r, y);
    path.close();
    path.finish()
}

fn move_to(path: &mut PathBuilder, [x, y]: [f64; 2]) {
    path.move_to(x as f32, y as f32);
}

fn line_to(path: &mut PathBuilder, [x, y]: [f64; 2]) {
    path.line_to(x as f32, y as f32);
}

/// Dashes and gaps in pairs, as SVG repeats an odd list.
fn even(dash: &[f32]) -> Vec<f32> {
    let times = 1 + dash.len() % 2;
    dash.repeat(times)
}

/// A colour written `#rrggbb`; black where it is not.
fn paint(colour: &str) -> Paint<'static> {
    let number = u32::from_str_radix(colour.trim_start_matches('#'), 16).unwrap_or(0);
    let [_, red, green, blue] = number.to_be_bytes();
    let mut paint = Paint::default();
    paint.set_color_rgba8(red, green, blue, 255);
    paint
}
