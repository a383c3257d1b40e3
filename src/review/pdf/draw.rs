//! Draws a layout into a PDF/A-3a and PDF/UA-1 document. The writer checks both standards and
//! refuses what does not keep to them. The same layout gives the same bytes.

use super::fonts::Face;
use super::layout::{Ink, Layout, MARGIN, Owner, Role, Tree};
use super::picture::paint;
use super::{Paper, PdfError};
use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::luma;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::embed::{AssociationKind, EmbeddedFile, MimeType};
use krilla::geom::{Path, PathBuilder, Point, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, Node, SpanTag, TableHeaderScope,
    Tag, TagGroup, TagKind, TagTree,
};
use krilla::text::{Font, TextDirection};
use std::num::NonZeroU16;

/// What a document says of itself.
pub(super) struct About {
    pub title: String,
    pub author: String,
    /// Stands at the foot of each page, before the page's number.
    pub foot: String,
    pub when: Option<DateTime>,
    /// Embedded as `record.json`.
    pub json: String,
}

/// Size of the foot's letters, in points.
pub(super) const FOOT: f32 = 7.5;

pub(super) struct Faces {
    regular: Font,
    bold: Font,
}

impl Faces {
    pub(super) fn get(&self, face: Face) -> Font {
        match face {
            Face::Regular => self.regular.clone(),
            Face::Bold => self.bold.clone(),
        }
    }
}

pub(super) fn draw(layout: &Layout, about: About, paper: Paper) -> Result<Vec<u8>, PdfError> {
    let failed = |what: &str| PdfError::Writer(what.to_owned());
    let font = |face: Face| {
        Font::new(face.bytes().into(), 0).ok_or_else(|| failed("a font file is damaged"))
    };
    let faces = Faces {
        regular: font(Face::Regular)?,
        bold: font(Face::Bold)?,
    };
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A3_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|e| PdfError::Writer(format!("{e:?}")))?;
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        ..SerializeSettings::default()
    });
    let (width, height) = paper.points();
    let mut leaves: Vec<Vec<Identifier>> = vec![Vec::new(); layout.leaves];
    let pages = layout.pages.len();
    for (i, items) in layout.pages.iter().enumerate() {
        let settings = PageSettings::from_wh(width, height).ok_or_else(|| failed("page size"))?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        draw_page(&mut surface, &faces, items, &mut leaves);
        let foot = Ink::Text {
            x: MARGIN,
            y: height - 28.0,
            face: Face::Regular,
            size: FOOT,
            text: format!("{}   page {} of {pages}", about.foot, i + 1),
            white: false,
        };
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(
            ArtifactType::Footer,
        )));
        draw_ink(&mut surface, &faces, &foot);
        surface.end_tagged();
        surface.finish();
        page.finish();
    }
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for node in &layout.tree {
        tree.push(tagged(node, &mut leaves));
    }
    document.set_tag_tree(tree);
    document.set_outline(outline(layout));
    document.set_metadata(metadata(&about));
    let embedded = EmbeddedFile {
        path: "record.json".to_owned(),
        mime_type: MimeType::new("application/json"),
        description: Some("the record that this report was made from".to_owned()),
        association_kind: AssociationKind::Source,
        data: about.json.into_bytes().into(),
        modification_date: about.when,
        compress: Some(true),
        location: None,
    };
    document
        .embed_file(embedded)
        .ok_or_else(|| failed("record.json was not embedded"))?;
    document
        .finish()
        .map_err(|e| PdfError::Writer(format!("{e:?}")))
}

fn metadata(about: &About) -> Metadata {
    let metadata = Metadata::new()
        .title(about.title.clone())
        .authors(vec![about.author.clone()])
        .creator("loadwalk".to_owned())
        .language("en".to_owned());
    match about.when {
        Some(when) => metadata.creation_date(when),
        None => metadata,
    }
}

fn outline(layout: &Layout) -> Outline {
    let mut outline = Outline::new();
    for (text, page, y) in &layout.outline {
        let place = XyzDestination::new(*page, Point::from_xy(MARGIN, *y));
        outline.push_child(OutlineNode::new(text.clone(), place));
    }
    outline
}

fn draw_page(
    surface: &mut Surface<'_>,
    faces: &Faces,
    items: &[(Owner, Ink)],
    leaves: &mut [Vec<Identifier>],
) {
    let mut i = 0;
    while i < items.len() {
        let owner = items[i].0;
        let tag = match owner {
            Owner::Decoration => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
            Owner::Text(_) => ContentTag::Span(SpanTag::empty()),
            Owner::Drawing(_) => ContentTag::Other,
        };
        let id = surface.start_tagged(tag);
        draw_ink(surface, faces, &items[i].1);
        i += 1;
        while matches!(owner, Owner::Drawing(_)) && items.get(i).is_some_and(|next| next.0 == owner)
        {
            draw_ink(surface, faces, &items[i].1);
            i += 1;
        }
        surface.end_tagged();
        if let Owner::Text(leaf) | Owner::Drawing(leaf) = owner {
            leaves[leaf].push(id);
        }
    }
}

fn draw_ink(surface: &mut Surface<'_>, faces: &Faces, ink: &Ink) {
    let black = luma::Color::black();
    match ink {
        Ink::Text {
            x,
            y,
            face,
            size,
            text,
            white,
        } => {
            let paint = if *white { luma::Color::new(255) } else { black };
            surface.set_stroke(None);
            surface.set_fill(Some(Fill {
                paint: paint.into(),
                ..Fill::default()
            }));
            let start = Point::from_xy(*x, *y);
            surface.draw_text(
                start,
                faces.get(*face),
                *size,
                text,
                false,
                TextDirection::Auto,
            );
        }
        Ink::Rule { from, to, width } => {
            stroke(surface, *width);
            if let Some(path) = path(&[*from, *to], false) {
                surface.draw_path(&path);
            }
        }
        Ink::Shape { points, filled } => {
            stroke(surface, 1.2);
            let paint = if *filled {
                black
            } else {
                luma::Color::new(255)
            };
            surface.set_fill(Some(Fill {
                paint: paint.into(),
                ..Fill::default()
            }));
            if let Some(path) = path(points, true) {
                surface.draw_path(&path);
            }
        }
        Ink::Picture { at, scale, picture } => {
            let place = Transform::from_row(*scale, 0.0, 0.0, *scale, at[0], at[1]);
            surface.push_transform(&place);
            for shape in &picture.shapes {
                paint(surface, faces, shape);
            }
            surface.pop();
        }
    }
}

fn stroke(surface: &mut Surface<'_>, width: f32) {
    surface.set_fill(None);
    surface.set_stroke(Some(Stroke {
        paint: luma::Color::black().into(),
        width,
        ..Stroke::default()
    }));
}

pub(super) fn path(points: &[[f32; 2]], closed: bool) -> Option<Path> {
    let (first, others) = points.split_first()?;
    let mut path = PathBuilder::new();
    path.move_to(first[0], first[1]);
    for point in others {
        path.line_to(point[0], point[1]);
    }
    if closed {
        path.close();
    }
    path.finish()
}

fn tagged(tree: &Tree, leaves: &mut [Vec<Identifier>]) -> Node {
    match tree {
        Tree::Leaf(leaf) => {
            let ids = std::mem::take(&mut leaves[*leaf]);
            let children: Vec<Node> = ids.into_iter().map(Node::from).collect();
            TagGroup::with_children(Tag::Span, children).into()
        }
        Tree::Group(role, children) => {
            let mut nodes = Vec::new();
            for child in children {
                match child {
                    // What is drawn hangs on its group directly.
                    Tree::Leaf(leaf) => {
                        let ids = std::mem::take(&mut leaves[*leaf]);
                        nodes.extend(ids.into_iter().map(Node::from));
                    }
                    group => nodes.push(tagged(group, leaves)),
                }
            }
            TagGroup::with_children(kind(role), nodes).into()
        }
    }
}

fn kind(role: &Role) -> TagKind {
    match role {
        Role::Bullet => Tag::Lbl.into(),
        Role::Cell => Tag::TD.into(),
        Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
        Role::Drawing(alt) => Tag::Figure(Some(alt.clone())).into(),
        Role::Heading(level, title) => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            Tag::Hn(level, Some(title.clone())).into()
        }
        Role::Item => Tag::LI.into(),
        Role::ItemBody => Tag::LBody.into(),
        Role::List => Tag::L(ListNumbering::Disc).into(),
        Role::Paragraph => Tag::P.into(),
        Role::Row => Tag::TR.into(),
        Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
        Role::Table => Tag::Table.into(),
    }
}
