//! Plain SVG shapes. Positions are pixels, right and down.

use std::fmt::Write;

/// Collects the elements of a picture.
#[derive(Default)]
pub(super) struct Canvas {
    body: String,
}

/// Where a text stands against its position.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a line looks.
#[derive(Clone, Copy)]
pub(super) struct Stroke {
    pub colour: &'static str,
    pub width: f64,
    pub dash: &'static str,
}

impl Stroke {
    pub const fn solid(colour: &'static str, width: f64) -> Stroke {
        Stroke {
            colour,
            width,
            dash: "",
        }
    }
}

// Writing to a string cannot fail, so the results of `write!` are let go.
impl Canvas {
    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], stroke: Stroke) {
        let Stroke {
            colour,
            width,
            dash,
        } = stroke;
        let dash = if dash.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{dash}\"")
        };
        let _ = writeln!(
            self.body,
            "<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" stroke=\"{colour}\" \
             stroke-width=\"{width}\"{dash}/>",
            from[0], from[1], to[0], to[1],
        );
    }

    pub fn polygon(&mut self, points: &[[f64; 2]], fill: &str, stroke: Stroke) {
        let points: Vec<String> = points
            .iter()
            .map(|p| format!("{:.1},{:.1}", p[0], p[1]))
            .collect();
        let _ = writeln!(
            self.body,
            "<polygon points=\"{}\" fill=\"{fill}\" stroke=\"{}\" stroke-width=\"{}\"/>",
            points.join(" "),
            stroke.colour,
            stroke.width,
        );
    }

    pub fn circle(&mut self, at: [f64; 2], radius: f64, fill: &str, stroke: Stroke) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius}\" fill=\"{fill}\" stroke=\"{}\" \
             stroke-width=\"{}\"/>",
            at[0], at[1], stroke.colour, stroke.width,
        );
    }

    /// The sign for a centre of gravity: a disc with two dark quarters.
    pub fn centre_of_gravity(&mut self, at: [f64; 2]) {
        let r = 9.0;
        self.circle(at, r, "#ffffff", Stroke::solid(super::INK, 1.5));
        let [x, y] = at;
        let _ = writeln!(
            self.body,
            "<path d=\"M{x:.1} {y:.1}v-{r}a{r} {r} 0 0 1 {r} {r}z M{x:.1} {y:.1}v{r}a{r} {r} 0 0 1 \
             -{r} -{r}z\" fill=\"{}\"/>",
            super::INK,
        );
    }

    /// A text with a white edge, readable over lines. The edge is a text of its own below the other,
    /// as not every viewer can paint one under its own letters.
    pub fn text(&mut self, at: [f64; 2], anchor: Anchor, class: Class, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let (size, weight, fill) = match class {
            Class::Title => (19.0, "bold", super::INK),
            Class::Bold => (13.0, "bold", super::INK),
            Class::Plain => (13.0, "normal", super::INK),
            Class::Small => (11.5, "normal", "#444444"),
        };
        let place = format!(
            "x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"{anchor}\" font-size=\"{size}\" \
             font-weight=\"{weight}\"",
            at[0], at[1],
        );
        let text = escaped(text);
        let _ = writeln!(
            self.body,
            "<text {place} fill=\"#ffffff\" stroke=\"#ffffff\" stroke-width=\"4\" \
             stroke-linejoin=\"round\" aria-hidden=\"true\">{text}</text>\n\
             <text {place} fill=\"{fill}\">{text}</text>",
        );
    }

    /// The picture with its frame. `title` and `desc` are for those who cannot see it. It has neither
    /// ids nor a style sheet, so that it can stand inside a page beside others.
    pub fn finish(self, width: f64, height: f64, title: &str, desc: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" \
             width=\"{width:.0}\" height=\"{height:.0}\" role=\"img\" aria-label=\"{}\" \
             font-family=\"DejaVu Sans, Verdana, Arial, sans-serif\">\n\
             <title>{}</title>\n<desc>{}</desc>\n\
             <rect width=\"{width:.0}\" height=\"{height:.0}\" fill=\"#ffffff\"/>\n{}</svg>\n",
            escaped(desc),
            escaped(title),
            escaped(desc),
            self.body,
        )
    }
}

/// How a text is set.
#[derive(Clone, Copy)]
pub(super) enum Class {
    Title,
    Bold,
    Plain,
    Small,
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
