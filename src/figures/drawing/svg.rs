//! A picture as SVG.

use super::canvas::{Anchor, Picture, Shape, Stroke};
use std::fmt::Write;

/// The picture as an SVG document. It has neither ids nor a style sheet, so that it can stand inside a
/// page beside others.
pub(super) fn svg(picture: &Picture) -> String {
    let [width, height] = picture.size;
    let (title, desc) = (escaped(&picture.title), escaped(&picture.desc));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" \
         width=\"{width:.0}\" height=\"{height:.0}\" role=\"img\" aria-label=\"{desc}\" \
         font-family=\"DejaVu Sans, Verdana, Arial, sans-serif\">\n\
         <title>{title}</title>\n<desc>{desc}</desc>\n\
         <rect width=\"{width:.0}\" height=\"{height:.0}\" fill=\"#ffffff\"/>\n"
    );
    for shape in &picture.shapes {
        element(&mut out, shape);
    }
    out.push_str("</svg>\n");
    out
}

// Writing to a string cannot fail, so the results of `write!` are let go.
fn element(out: &mut String, shape: &Shape) {
    match shape {
        Shape::Line { from, to, stroke } => {
            let _ = writeln!(
                out,
                "<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" {}/>",
                from[0],
                from[1],
                to[0],
                to[1],
                stroked(stroke),
            );
        }
        Shape::Polygon {
            points,
            fill,
            stroke,
        } => {
            let points: Vec<String> = points
                .iter()
                .map(|p| format!("{:.1},{:.1}", p[0], p[1]))
                .collect();
            let _ = writeln!(
                out,
                "<polygon points=\"{}\" fill=\"{}\" {}/>",
                points.join(" "),
                fill.unwrap_or("none"),
                stroked(stroke),
            );
        }
        Shape::Circle {
            at,
            radius,
            fill,
            stroke,
        } => {
            let _ = writeln!(
                out,
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius}\" fill=\"{}\" {}/>",
                at[0],
                at[1],
                fill.unwrap_or("none"),
                stroked(stroke),
            );
        }
        Shape::Quarters {
            at: [x, y],
            radius: r,
            fill,
        } => {
            let _ = writeln!(
                out,
                "<path d=\"M{x:.1} {y:.1}v-{r}a{r} {r} 0 0 1 {r} {r}z M{x:.1} {y:.1}v{r}a{r} {r} 0 0 \
                 1 -{r} -{r}z\" fill=\"{fill}\"/>",
            );
        }
        Shape::Text {
            at,
            anchor,
            class,
            text,
        } => {
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let (size, bold, fill) = class.look();
            let weight = if bold { "bold" } else { "normal" };
            let place = format!(
                "x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"{anchor}\" font-size=\"{size}\" \
                 font-weight=\"{weight}\"",
                at[0], at[1],
            );
            let text = escaped(text);
            // The edge is a text of its own below the other: not every viewer can paint one under its
            // own letters.
            let _ = writeln!(
                out,
                "<text {place} fill=\"#ffffff\" stroke=\"#ffffff\" stroke-width=\"4\" \
                 stroke-linejoin=\"round\" aria-hidden=\"true\">{text}</text>\n\
                 <text {place} fill=\"{fill}\">{text}</text>",
            );
        }
    }
}

fn stroked(stroke: &Stroke) -> String {
    let mut out = format!(
        "stroke=\"{}\" stroke-width=\"{}\"",
        stroke.colour, stroke.width
    );
    if !stroke.dash.is_empty() {
        let dash: Vec<String> = stroke.dash.iter().map(f32::to_string).collect();
        let _ = write!(out, " stroke-dasharray=\"{}\"", dash.join(" "));
    }
    out
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
