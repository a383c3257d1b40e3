//! Breaks content into lines and pages: what to draw where, and the structure that it has for a
//! reader who cannot see it. Points, from the upper left corner.

mod table;

pub(super) use table::{Column, Row};

use super::fonts::{Face, Fonts};
use crate::figures::canvas::{Anchor, Picture, Shape};
use std::collections::BTreeSet;

/// Left and right margin.
pub(super) const MARGIN: f32 = 48.0;
const TOP: f32 = 48.0;
const BOTTOM: f32 = 56.0;
const PADDING: f32 = 2.5;
/// Line height over size.
const LEADING: f32 = 1.35;
/// Size of running text and tables.
pub(super) const TEXT: f32 = 9.0;

/// Something drawn.
#[derive(Clone, Debug)]
pub(super) enum Ink {
    /// A line of text with its baseline at `y`.
    Text {
        x: f32,
        y: f32,
        face: Face,
        size: f32,
        text: String,
        /// White on a dark shape.
        white: bool,
    },
    /// A stroke.
    Rule {
        from: [f32; 2],
        to: [f32; 2],
        width: f32,
    },
    /// A closed shape, black or white.
    Shape { points: Vec<[f32; 2]>, filled: bool },
    /// A picture with its upper left corner at a place, points for each of its pixels.
    Picture {
        at: [f32; 2],
        scale: f32,
        picture: Picture,
    },
}

/// What a drawn thing belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Owner {
    /// Nothing: it only looks good.
    Decoration,
    /// The leaf of that number.
    Text(usize),
    /// The drawing of that number; all that it is made of is one thing.
    Drawing(usize),
}

/// A node of the document's structure.
#[derive(Clone, Debug)]
pub(super) enum Tree {
    /// A group.
    Group(Role, Vec<Tree>),
    /// Drawn things, by number.
    Leaf(usize),
}

/// What a group is.
#[derive(Clone, Debug)]
pub(super) enum Role {
    Bullet,
    Cell,
    ColumnHead,
    Drawing(String),
    Heading(u16, String),
    Item,
    ItemBody,
    List,
    Paragraph,
    Row,
    RowHead,
    Table,
}

/// A laid out document.
pub(super) struct Layout {
    pub pages: Vec<Vec<(Owner, Ink)>>,
    pub tree: Vec<Tree>,
    /// Number of leaves.
    pub leaves: usize,
    /// Headings with page and height, for the outline.
    pub outline: Vec<(String, usize, f32)>,
}

/// Fills pages from top to bottom.
pub(super) struct Flow<'f> {
    fonts: &'f Fonts,
    width: f32,
    height: f32,
    y: f32,
    layout: Layout,
}

impl<'f> Flow<'f> {
    pub(super) fn new(fonts: &'f Fonts, width: f32, height: f32) -> Self {
        Self {
            fonts,
            width,
            height,
            y: TOP,
            layout: Layout {
                pages: vec![Vec::new()],
                tree: Vec::new(),
                leaves: 0,
                outline: Vec::new(),
            },
        }
    }

    pub(super) fn finish(self) -> Layout {
        self.layout
    }

    /// Pages so far.
    pub(super) fn pages(&self) -> usize {
        self.layout.pages.len()
    }

    pub(super) fn body_width(&self) -> f32 {
        self.width - 2.0 * MARGIN
    }

    pub(super) fn space(&mut self, points: f32) {
        self.y += points;
    }

    /// How many different letters of a text the fonts do not have.
    pub(super) fn lost(&self, text: &str) -> usize {
        let letters: BTreeSet<char> = text.chars().filter(|c| !c.is_ascii()).collect();
        let is_lost = |c: &&char| self.fonts.clean(Face::Regular, &c.to_string()) == "?";
        letters.iter().filter(is_lost).count()
    }

    pub(super) fn new_page(&mut self) {
        self.layout.pages.push(Vec::new());
        self.y = TOP;
    }

    /// Starts a new page unless so much is left on this one.
    pub(super) fn keep(&mut self, points: f32) {
        if self.y + points > self.height - BOTTOM && self.y > TOP {
            self.new_page();
        }
    }

    pub(super) fn heading(&mut self, level: u16, text: &str) {
        let size = heading_size(level);
        self.keep(heading_keep(level));
        self.y += match level {
            1 => 0.0,
            2 => 10.0,
            _ => 6.0,
        };
        let page = self.layout.pages.len() - 1;
        let clean = self.fonts.clean(Face::Bold, text).replace('\n', " ");
        self.layout.outline.push((clean.clone(), page, self.y));
        self.block(Role::Heading(level, clean), Face::Bold, size, text);
        if level == 2 {
            let y = self.y + 1.0;
            self.rule([MARGIN, y], [self.width - MARGIN, y], 0.8);
            self.y += 4.0;
        }
    }

    pub(super) fn paragraph(&mut self, face: Face, size: f32, text: &str) {
        self.block(Role::Paragraph, face, size, text);
    }

    /// A paragraph in a frame.
    pub(super) fn framed(&mut self, size: f32, text: &str) {
        let lines = self
            .fonts
            .wrap(Face::Bold, size, text, self.body_width() - 16.0);
        let high = lines.len() as f32 * size * LEADING + 10.0;
        self.keep(high);
        let (left, right) = (MARGIN, self.width - MARGIN);
        let (top, bottom) = (self.y, self.y + high);
        let points = vec![[left, top], [right, top], [right, bottom], [left, bottom]];
        self.put(
            Owner::Decoration,
            Ink::Shape {
                points,
                filled: false,
            },
        );
        self.y += 5.0;
        let leaf = self.lines(&lines, Face::Bold, size, MARGIN + 8.0);
        self.group(Role::Paragraph, vec![leaf]);
        self.y += 5.0;
    }

    pub(super) fn list(&mut self, lines: &[String]) {
        if lines.is_empty() {
            return;
        }
        let mut items = Vec::new();
        for line in lines {
            self.keep(TEXT * LEADING);
            let y = self.y;
            let bullet = self.lines(&["\u{2022} ".to_owned()], Face::Regular, TEXT, MARGIN);
            self.y = y;
            let width = self.body_width() - 10.0;
            let wrapped = self.fonts.wrap(Face::Regular, TEXT, line, width);
            let text = self.lines(&wrapped, Face::Regular, TEXT, MARGIN + 10.0);
            items.push(Tree::Group(
                Role::Item,
                vec![
                    Tree::Group(Role::Bullet, vec![bullet]),
                    Tree::Group(Role::ItemBody, vec![text]),
                ],
            ));
        }
        self.group(Role::List, items);
        self.y += 3.0;
    }

    /// A drawing at the left with lines of text beside it; 0, 0 is the drawing's upper left corner.
    pub(super) fn drawing(
        &mut self,
        alt: String,
        size: [f32; 2],
        parts: Vec<Ink>,
        beside: &[String],
    ) {
        let x = MARGIN + size[0] + 18.0;
        let width = self.width - MARGIN - x;
        let lines: Vec<Vec<String>> = beside
            .iter()
            .map(|line| self.fonts.wrap(Face::Regular, TEXT, line, width))
            .collect();
        let high = lines.iter().map(Vec::len).sum::<usize>() as f32 * TEXT * LEADING;
        self.keep(size[1].max(high));
        let leaf = self.leaf();
        let top = self.y;
        for part in parts {
            self.put(Owner::Drawing(leaf), shifted(part, MARGIN, top));
        }
        self.group(Role::Drawing(alt), vec![Tree::Leaf(leaf)]);
        let mut items = Vec::new();
        for line in &lines {
            let text = self.lines(line, Face::Regular, TEXT, x);
            items.push(Tree::Group(
                Role::Item,
                vec![Tree::Group(Role::ItemBody, vec![text])],
            ));
        }
        if !items.is_empty() {
            self.group(Role::List, items);
        }
        self.y = self.y.max(top + size[1]) + 3.0;
    }

    /// A picture as wide as the page takes it, at most a pixel a point.
    pub(super) fn picture(&mut self, mut picture: Picture) {
        for shape in &mut picture.shapes {
            if let Shape::Text {
                at,
                anchor,
                class,
                text,
            } = shape
            {
                let (size, bold, _) = class.look();
                let face = if bold { Face::Bold } else { Face::Regular };
                *text = self.fonts.clean(face, text);
                let width = f64::from(self.fonts.width(face, size as f32, text));
                at[0] -= match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => width / 2.0,
                    Anchor::End => width,
                };
                *anchor = Anchor::Start;
            }
        }
        let [width, height] = picture.size.map(|s| s as f32);
        let room = self.height - BOTTOM - TOP - 60.0;
        let scale = (self.body_width() / width).min(room / height).min(1.0);
        self.keep(height * scale);
        let leaf = self.leaf();
        let alt = self.fonts.clean(Face::Regular, &picture.desc);
        let at = [MARGIN, self.y];
        self.put(Owner::Drawing(leaf), Ink::Picture { at, scale, picture });
        self.group(Role::Drawing(alt), vec![Tree::Leaf(leaf)]);
        self.y += height * scale + 6.0;
    }

    /// A line to sign on, with what it is for below.
    pub(super) fn signature(&mut self, columns: &[String]) {
        self.keep(52.0);
        self.y += 30.0;
        let gap = 18.0;
        let wide = (self.body_width() - gap * (columns.len() - 1) as f32) / columns.len() as f32;
        let top = self.y;
        let mut lowest = top;
        for (i, text) in columns.iter().enumerate() {
            let x = MARGIN + i as f32 * (wide + gap);
            self.rule([x, top], [x + wide, top], 0.8);
            self.y = top + 2.0;
            let lines = self.fonts.wrap(Face::Regular, TEXT, text, wide);
            let leaf = self.lines(&lines, Face::Regular, TEXT, x);
            self.group(Role::Paragraph, vec![leaf]);
            lowest = lowest.max(self.y);
        }
        self.y = lowest + 6.0;
    }

    fn block(&mut self, role: Role, face: Face, size: f32, text: &str) {
        let lines = self.fonts.wrap(face, size, text, self.body_width());
        let leaf = self.lines(&lines, face, size, MARGIN);
        self.group(role, vec![leaf]);
        self.y += size * 0.25;
    }

    fn lines(&mut self, lines: &[String], face: Face, size: f32, x: f32) -> Tree {
        let leaf = self.leaf();
        self.lines_of(leaf, lines, face, size, x);
        Tree::Leaf(leaf)
    }

    fn lines_of(&mut self, leaf: usize, lines: &[String], face: Face, size: f32, x: f32) {
        for line in lines {
            self.keep(size * LEADING);
            let ink = Ink::Text {
                x,
                y: self.y + size,
                face,
                size,
                text: line.clone(),
                white: false,
            };
            self.put(Owner::Text(leaf), ink);
            self.y += size * LEADING;
        }
    }

    fn rule(&mut self, from: [f32; 2], to: [f32; 2], width: f32) {
        self.put(Owner::Decoration, Ink::Rule { from, to, width });
    }

    fn leaf(&mut self) -> usize {
        self.layout.leaves += 1;
        self.layout.leaves - 1
    }

    fn group(&mut self, role: Role, children: Vec<Tree>) {
        self.layout.tree.push(Tree::Group(role, children));
    }

    fn put(&mut self, owner: Owner, ink: Ink) {
        if let Some(page) = self.layout.pages.last_mut() {
            page.push((owner, ink));
        }
    }
}

fn heading_size(level: u16) -> f32 {
    match level {
        1 => 18.0,
        2 => 12.5,
        _ => 10.5,
    }
}

/// Room below which a heading is not begun, so that it is not alone at the foot of a page: a table's head and first row want
/// more than a line.
fn heading_keep(level: u16) -> f32 {
    heading_size(level) * 2.0 + if level > 2 { 84.0 } else { 52.0 }
}

/// Room that a heading wants with so much behind it that stays with it.
pub(super) fn heading_with(level: u16, below: f32) -> f32 {
    (heading_room(level) + below).max(heading_keep(level))
}

/// Room that a heading of a level takes with what lies round it, at most.
fn heading_room(level: u16) -> f32 {
    heading_size(level) * 2.0 + 12.0
}

fn shifted(ink: Ink, dx: f32, dy: f32) -> Ink {
    let point = |[x, y]: [f32; 2]| [x + dx, y + dy];
    match ink {
        Ink::Text {
            x,
            y,
            face,
            size,
            text,
            white,
        } => Ink::Text {
            x: x + dx,
            y: y + dy,
            face,
            size,
            text,
            white,
        },
        Ink::Rule { from, to, width } => Ink::Rule {
            from: point(from),
            to: point(to),
            width,
        },
        Ink::Shape { points, filled } => Ink::Shape {
            points: points.into_iter().map(point).collect(),
            filled,
        },
        Ink::Picture { at, scale, picture } => Ink::Picture {
            at: point(at),
            scale,
            picture,
        },
    }
}
