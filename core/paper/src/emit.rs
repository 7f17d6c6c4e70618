//! The sheet as a PDF: marks page by page, then the tree of tags over them.

use crate::PaperError;
use crate::face::Faces;
use crate::flow::Flow;
use crate::sheet::{Belongs, Child, Kind, Mark, Piece, Sheet, TagId};
use evenwire_core::report::Report;
use evenwire_core::verdict::words::Language;
use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::luma;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Point, Size, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, Node, SpanTag, TableHeaderScope, Tag, TagGroup,
    TagTree,
};
use std::num::NonZeroU16;

/// Writes all of it.
pub fn pdf(flow: Flow<'_>, report: &Report) -> Result<Vec<u8>, PaperError> {
    let failed = |what: &dyn std::fmt::Debug| PaperError::Pdf(format!("{what:?}"));
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| failed(&error))?;
    let settings = SerializeSettings { configuration, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let (width, height) = flow.size.points();
    let faces = flow.breaker.faces;
    let Sheet { pages, tags, titles } = flow.sheet;
    let mut names: Vec<Vec<Option<Identifier>>> = Vec::with_capacity(pages.len());
    for pieces in pages {
        let settings = PageSettings::from_wh(width, height).expect("paper is wider and higher than nothing");
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        names.push(pieces.into_iter().map(|piece| put(&mut surface, faces, piece)).collect());
        surface.finish();
        page.finish();
    }
    let lang = lang(report.language).to_owned();
    let mut tree = TagTree::new().with_lang(Some(lang));
    for node in group(&tags, TagId(0), &mut names).children {
        tree.push(node);
    }
    document.set_tag_tree(tree);
    document.set_outline(outline(&titles));
    document.set_metadata(metadata(report));
    document.finish().map_err(|error| failed(&error))
}

fn lang(language: Language) -> &'static str {
    match language {
        Language::En => "en",
        Language::De => "de",
    }
}

fn metadata(report: &Report) -> Metadata {
    let metadata = Metadata::new()
        .title(format!("{} {}", report.title, report.order))
        .language(lang(report.language).to_owned())
        .creator("Evenwire".to_owned())
        .producer("Evenwire".to_owned());
    match date(report.printed.as_str()) {
        Some(date) => metadata.creation_date(date),
        None => metadata,
    }
}

/// The moment of an RFC 3339 text as a PDF writes it.
fn date(text: &str) -> Option<DateTime> {
    let number = |from: usize, to: usize| text.get(from..to)?.parse::<u8>().ok();
    let date = DateTime::new(text.get(..4)?.parse().ok()?)
        .month(number(5, 7)?)
        .day(number(8, 10)?)
        .hour(number(11, 13)?)
        .minute(number(14, 16)?)
        .second(number(17, 19)?);
    let offset = text.get(text.len().checked_sub(6)?..)?;
    let Some(sign @ ('+' | '-')) = offset.chars().next() else {
        return Some(date.utc_offset_hour(0).utc_offset_minute(0));
    };
    let hours: i8 = offset.get(1..3)?.parse().ok()?;
    let hours = if sign == '-' { -hours } else { hours };
    Some(date.utc_offset_hour(hours).utc_offset_minute(offset.get(4..6)?.parse().ok()?))
}

/// Draws a piece; gives its name in the tree of tags, if it has one.
fn put(surface: &mut Surface<'_>, faces: &Faces, piece: Piece) -> Option<Identifier> {
    let tag = match piece.belongs {
        Belongs::To(_) if piece.marks.iter().all(|mark| matches!(mark, Mark::Text { .. })) => {
            ContentTag::Span(SpanTag::empty())
        }
        Belongs::To(_) => ContentTag::Other,
        Belongs::Nothing => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
        Belongs::Page => ContentTag::Artifact(Artifact::with_kind(ArtifactType::PaginationOther)),
    };
    let name = surface.start_tagged(tag);
    piece.marks.into_iter().for_each(|mark| draw(surface, faces, mark));
    surface.end_tagged();
    matches!(piece.belongs, Belongs::To(_)).then_some(name)
}

fn grey(tone: u8) -> krilla::paint::Paint {
    luma::Color::new(tone).into()
}

fn fill(tone: u8) -> Option<Fill> {
    Some(Fill { paint: grey(tone), ..Fill::default() })
}

fn draw(surface: &mut Surface<'_>, faces: &Faces, mark: Mark) {
    match mark {
        Mark::Text { x, y, line, style } => {
            if line.glyphs.is_empty() {
                return;
            }
            surface.set_stroke(None);
            surface.set_fill(fill(style.grey));
            let at = Point::from_xy(x, y);
            surface.draw_glyphs(at, &line.glyphs, faces.font(style.bold), &line.text, style.size, false);
        }
        Mark::Fill { path, grey } => {
            surface.set_stroke(None);
            surface.set_fill(fill(grey));
            surface.draw_path(&path);
        }
        Mark::Line { path, width, grey: tone, dash } => {
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke {
                paint: grey(tone),
                width,
                line_cap: LineCap::Butt,
                line_join: LineJoin::Round,
                dash: dash.map(|dash| StrokeDash { array: vec![dash, dash], offset: 0.0 }),
                ..Stroke::default()
            }));
            surface.draw_path(&path);
            surface.set_stroke(None);
        }
        Mark::Picture { x, y, width, height, image } => {
            let Some(size) = Size::from_wh(width, height) else { return };
            surface.push_transform(&Transform::from_translate(x, y));
            surface.draw_image(image, size);
            surface.pop();
        }
    }
}

/// A tag with everything in it. Each name is handed out once.
fn group(tags: &[crate::sheet::TagNode], id: TagId, names: &mut [Vec<Option<Identifier>>]) -> TagGroup {
    let node = &tags[id.0];
    let mut made = new_group(&node.kind);
    for child in &node.children {
        match child {
            Child::Tag(inner) => made.push(Node::Group(group(tags, *inner, names))),
            Child::Piece(page, at) => {
                if let Some(name) = names[*page][*at].take() {
                    made.push(name);
                }
            }
        }
    }
    made
}

fn new_group(kind: &Kind) -> TagGroup {
    let text = |text: &String| Some(text.clone()).filter(|text| !text.trim().is_empty());
    match kind {
        Kind::Root | Kind::Section => TagGroup::new(Tag::Section),
        Kind::Heading(level, title) => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            TagGroup::new(Tag::Hn(level, text(title).or_else(|| Some("–".to_owned()))))
        }
        Kind::Paragraph => TagGroup::new(Tag::P),
        Kind::List => TagGroup::new(Tag::L(ListNumbering::None)),
        Kind::Item => TagGroup::new(Tag::LI),
        Kind::Label => TagGroup::new(Tag::Lbl),
        Kind::Body => TagGroup::new(Tag::LBody),
        Kind::Table(caption) => TagGroup::new(Tag::Table.with_summary(text(caption))),
        Kind::Head => TagGroup::new(Tag::THead),
        Kind::Rows => TagGroup::new(Tag::TBody),
        Kind::Row => TagGroup::new(Tag::TR),
        Kind::ColumnTitle => TagGroup::new(Tag::TH(TableHeaderScope::Column)),
        Kind::Cell => TagGroup::new(Tag::TD),
        Kind::Figure(alternative) => TagGroup::new(Tag::Figure(text(alternative).or_else(|| Some("–".to_owned())))),
    }
}

/// Titles up to the third level; each below the nearest higher one before it.
fn outline(titles: &[(u16, String, usize, f32)]) -> Outline {
    let mut outline = Outline::new();
    let mut open: Vec<(u16, OutlineNode)> = Vec::new();
    let close = |open: &mut Vec<(u16, OutlineNode)>, outline: &mut Outline| {
        if let Some((_, done)) = open.pop() {
            match open.last_mut() {
                Some((_, parent)) => parent.push_child(done),
                None => outline.push_child(done),
            }
        }
    };
    for (level, text, page, y) in titles.iter().filter(|title| title.0 <= 3) {
        while open.last().is_some_and(|(other, _)| other >= level) {
            close(&mut open, &mut outline);
        }
        let destination = XyzDestination::new(*page, Point::from_xy(0.0, (*y - 10.0).max(0.0)));
        open.push((*level, OutlineNode::new(text.clone(), destination)));
    }
    while !open.is_empty() {
        close(&mut open, &mut outline);
    }
    outline
}
