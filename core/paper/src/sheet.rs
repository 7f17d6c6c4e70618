//! What stands on the pages before any PDF is written: marks, and the tags they belong to.

use crate::face::{Shaped, Style};
use krilla::geom::Path;
use krilla::image::Image;

/// Pages with their pieces, and the tree of tags over them.
#[derive(Default)]
pub struct Sheet {
    pub pages: Vec<Vec<Piece>>,
    pub tags: Vec<TagNode>,
    /// Titles for the outline: level, text, page, height.
    pub titles: Vec<(u16, String, usize, f32)>,
}

/// Marks that are read as one.
pub struct Piece {
    pub marks: Vec<Mark>,
    pub belongs: Belongs,
}

/// What a piece is for somebody who hears the page.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Belongs {
    /// To a tag.
    To(TagId),
    /// It says nothing: a line, a frame, a repeated table head.
    Nothing,
    /// The head or foot of a page.
    Page,
}

/// Names a tag of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TagId(pub usize);

/// A tag with what is in it, in reading order.
pub struct TagNode {
    pub kind: Kind,
    pub children: Vec<Child>,
}

/// What is in a tag.
#[derive(Clone, Copy)]
pub enum Child {
    Tag(TagId),
    /// A piece: page, index on it.
    Piece(usize, usize),
}

/// What a tag is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    Root,
    Section,
    Heading(u16, String),
    Paragraph,
    List,
    Item,
    Label,
    Body,
    Table(String),
    Head,
    Rows,
    Row,
    ColumnTitle,
    Cell,
    Figure(String),
}

/// Something drawn. Points from the top left corner.
pub enum Mark {
    Text {
        x: f32,
        y: f32,
        line: Shaped,
        style: Style,
    },
    /// Filled with a grey.
    Fill {
        path: Path,
        grey: u8,
    },
    /// A line of a width in a grey, dashed or not.
    Line {
        path: Path,
        width: f32,
        grey: u8,
        dash: Option<f32>,
    },
    Picture {
        x: f32,
        y: f32,
        width: f32,
        height: f32,
        image: Image,
    },
}

impl Sheet {
    /// An empty sheet with its root.
    pub fn new() -> Sheet {
        Sheet { tags: vec![TagNode { kind: Kind::Root, children: Vec::new() }], ..Sheet::default() }
    }

    /// The root of the tags.
    pub fn root(&self) -> TagId {
        TagId(0)
    }

    /// A new tag at the end of another.
    pub fn tag(&mut self, parent: TagId, kind: Kind) -> TagId {
        let id = TagId(self.tags.len());
        self.tags.push(TagNode { kind, children: Vec::new() });
        self.tags[parent.0].children.push(Child::Tag(id));
        id
    }

    /// Puts marks on a page.
    pub fn put(&mut self, page: usize, belongs: Belongs, marks: Vec<Mark>) {
        if marks.is_empty() {
            return;
        }
        let at = self.pages[page].len();
        self.pages[page].push(Piece { marks, belongs });
        if let Belongs::To(tag) = belongs {
            self.tags[tag.0].children.push(Child::Piece(page, at));
        }
    }
}
