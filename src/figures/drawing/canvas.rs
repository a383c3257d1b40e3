//! What a picture is made of. Positions are pixels, right and down.

/// One element of a picture.
#[derive(Clone, Debug)]
pub(crate) enum Shape {
    Line {
        from: [f64; 2],
        to: [f64; 2],
        stroke: Stroke,
    },
    /// Without a fill where there is none.
    Polygon {
        points: Vec<[f64; 2]>,
        fill: Option<&'static str>,
        stroke: Stroke,
    },
    Circle {
        at: [f64; 2],
        radius: f64,
        fill: Option<&'static str>,
        stroke: Stroke,
    },
    /// Two quarters of a disc, upper right and lower left.
    Quarters {
        at: [f64; 2],
        radius: f64,
        fill: &'static str,
    },
    /// With a white edge, readable over lines.
    Text {
        at: [f64; 2],
        anchor: Anchor,
        class: Class,
        text: String,
    },
}

/// Collects the elements of a picture.
#[derive(Default)]
pub(super) struct Canvas {
    shapes: Vec<Shape>,
}

/// A picture ready to be written.
#[derive(Clone, Debug)]
pub(crate) struct Picture {
    pub shapes: Vec<Shape>,
    /// Pixels, white where nothing is drawn.
    pub size: [f64; 2],
    /// For those who cannot see it.
    pub title: String,
    pub desc: String,
}

/// Where a text stands against its position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a line looks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stroke {
    pub colour: &'static str,
    pub width: f64,
    /// Lengths of dash, gap and so on, pixels; empty for a whole line.
    pub dash: &'static [f32],
}

impl Stroke {
    pub const fn solid(colour: &'static str, width: f64) -> Stroke {
        Stroke {
            colour,
            width,
            dash: &[],
        }
    }
}

impl Canvas {
    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], stroke: Stroke) {
        self.shapes.push(Shape::Line { from, to, stroke });
    }

    pub fn polygon(&mut self, points: &[[f64; 2]], fill: Option<&'static str>, stroke: Stroke) {
        let points = points.to_vec();
        self.shapes.push(Shape::Polygon {
            points,
            fill,
            stroke,
        });
    }

    pub fn circle(
        &mut self,
        at: [f64; 2],
        radius: f64,
        fill: Option<&'static str>,
        stroke: Stroke,
    ) {
        self.shapes.push(Shape::Circle {
            at,
            radius,
            fill,
            stroke,
        });
    }

    /// The sign for a centre of gravity: a disc with two dark quarters.
    pub fn centre_of_gravity(&mut self, at: [f64; 2]) {
        let radius = 9.0;
        self.circle(at, radius, Some("#ffffff"), Stroke::solid(super::INK, 1.5));
        let fill = super::INK;
        self.shapes.push(Shape::Quarters { at, radius, fill });
    }

    pub fn text(&mut self, at: [f64; 2], anchor: Anchor, class: Class, text: &str) {
        self.shapes.push(Shape::Text {
            at,
            anchor,
            class,
            text: text.to_owned(),
        });
    }

    /// The picture with its frame. `title` and `desc` are for those who cannot see it.
    pub fn finish(self, size: [f64; 2], title: String, desc: String) -> Picture {
        Picture {
            shapes: self.shapes,
            size,
            title,
            desc,
        }
    }
}

/// How a text is set.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Class {
    Title,
    Bold,
    Plain,
    Small,
}

impl Class {
    /// Size in pixels, whether bold, and colour.
    pub fn look(self) -> (f64, bool, &'static str) {
        match self {
            Class::Title => (19.0, true, super::INK),
            Class::Bold => (13.0, true, super::INK),
            Class::Plain => (13.0, false, super::INK),
            Class::Small => (11.5, false, "#444444"),
        }
    }
}
