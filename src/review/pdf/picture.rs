//! The shapes of a picture of the hanging load, in colour.

use super::draw::{Faces, path};
use super::fonts::Face;
use crate::figures::canvas::{Shape, Stroke};
use krilla::color::rgb;
use krilla::geom::Point;
use krilla::paint::{Fill, LineJoin, Stroke as Pen, StrokeDash};
use krilla::surface::Surface;
use krilla::text::TextDirection;

/// Corners of a round shape.
const ROUND: u32 = 48;
/// Width of the white edge round letters, pixels.
const EDGE: f32 = 4.0;

/// Draws one shape in the picture's own pixels. Texts must begin where they are placed.
pub(super) fn paint(surface: &mut Surface<'_>, faces: &Faces, shape: &Shape) {
    match shape {
        Shape::Line { from, to, stroke } => {
            outlined(surface, &[*from, *to], false, None, Some(stroke));
        }
        Shape::Polygon {
            points,
            fill,
            stroke,
        } => outlined(surface, points, true, *fill, Some(stroke)),
        Shape::Circle {
            at,
            radius,
            fill,
            stroke,
        } => outlined(
            surface,
            &arc(*at, *radius, 0.0, 1.0),
            true,
            *fill,
            Some(stroke),
        ),
        Shape::Quarters { at, radius, fill } => {
            // Turns run clockwise, as the picture's second axis is down.
            for from in [0.25, 0.75] {
                let mut points = arc(*at, *radius, from, 0.25);
                points.push(*at);
                outlined(surface, &points, true, Some(fill), None);
            }
        }
        Shape::Text {
            at, class, text, ..
        } => {
            let (size, bold, colour) = class.look();
            let face = if bold { Face::Bold } else { Face::Regular };
            let start = Point::from_xy(at[0] as f32, at[1] as f32);
            let mut write = |fill: &str, edge: Option<Pen>| {
                surface.set_fill(Some(filled(fill)));
                surface.set_stroke(edge);
                let font = faces.get(face);
                let direction = TextDirection::Auto;
                surface.draw_text(start, font, size as f32, text, false, direction);
            };
            write(
                "#ffffff",
                Some(Pen {
                    paint: colour_of("#ffffff").into(),
                    width: EDGE,
                    line_join: LineJoin::Round,
                    ..Pen::default()
                }),
            );
            write(colour, None);
        }
    }
}

fn outlined(
    surface: &mut Surface<'_>,
    points: &[[f64; 2]],
    closed: bool,
    fill: Option<&str>,
    stroke: Option<&Stroke>,
) {
    surface.set_fill(fill.map(filled));
    surface.set_stroke(stroke.map(|stroke| Pen {
        paint: colour_of(stroke.colour).into(),
        width: stroke.width as f32,
        dash: (!stroke.dash.is_empty()).then(|| StrokeDash {
            array: stroke.dash.to_vec(),
            offset: 0.0,
        }),
        ..Pen::default()
    }));
    let points: Vec<[f32; 2]> = points.iter().map(|p| p.map(|v| v as f32)).collect();
    if let Some(path) = path(&points, closed) {
        surface.draw_path(&path);
    }
}

/// Points on a circle: from so many turns, over so many.
fn arc(at: [f64; 2], radius: f64, from: f64, over: f64) -> Vec<[f64; 2]> {
    (0..=ROUND)
        .map(|i| {
            let turns = from + over * f64::from(i) / f64::from(ROUND);
            let angle = turns * std::f64::consts::TAU;
            [
                at[0] + radius * libm::cos(angle),
                at[1] + radius * libm::sin(angle),
            ]
        })
        .collect()
}

fn filled(colour: &str) -> Fill {
    Fill {
        paint: colour_of(colour).into(),
        ..Fill::default()
    }
}

/// A colour written as `#rrggbb`; black where it is not.
fn colour_of(text: &str) -> rgb::Color {
    let part = |at: usize| {
        text.get(at..at + 2)
            .and_then(|digits| u8::from_str_radix(digits, 16).ok())
            .unwrap_or(0)
    };
    rgb::Color::new(part(1), part(3), part(5))
}
