//! Where the next thing stands: a cursor over pages.

use crate::PageSize;
use crate::face::{Faces, Shaped, Style};
use crate::lines::Breaker;
use crate::sheet::{Belongs, Mark, Sheet, TagId};
use evenwire_core::verdict::words::Language;

/// Left and right margin, points.
pub const SIDE: f32 = 48.0;
/// Above the text of a page.
pub const TOP: f32 = 54.0;
/// Below it: room for the foot.
pub const BOTTOM: f32 = 62.0;

/// The cursor, and all that was put down.
pub struct Flow<'a> {
    pub breaker: Breaker<'a>,
    pub sheet: Sheet,
    pub size: PageSize,
    /// Where the next line may begin, from the top.
    pub y: f32,
    /// Where things are put into the tree of tags.
    pub parent: TagId,
}

impl<'a> Flow<'a> {
    /// An empty first page.
    pub fn new(faces: &'a Faces, size: PageSize, language: Language) -> Flow<'a> {
        let mut sheet = Sheet::new();
        sheet.pages.push(Vec::new());
        let parent = sheet.root();
        Flow { breaker: Breaker { faces, language }, sheet, size, y: TOP, parent }
    }

    /// The page that is written on.
    pub fn page(&self) -> usize {
        self.sheet.pages.len() - 1
    }

    /// Width of the text, points.
    pub fn width(&self) -> f32 {
        self.size.points().0 - 2.0 * SIDE
    }

    /// Where the text of a page ends.
    pub fn end(&self) -> f32 {
        self.size.points().1 - BOTTOM
    }

    /// Height of the text of a page.
    pub fn full(&self) -> f32 {
        self.end() - TOP
    }

    /// Height left on this page.
    pub fn left(&self) -> f32 {
        self.end() - self.y
    }

    /// Goes to the top of a new page.
    pub fn new_page(&mut self) {
        self.sheet.pages.push(Vec::new());
        self.y = TOP;
    }

    /// Goes to a new page unless `height` is left here. What is higher than a page stays where it is.
    pub fn room_for(&mut self, height: f32) {
        if self.left() < height && self.y > TOP && height <= self.full() {
            self.new_page();
        }
    }

    /// Moves down; at the top of a page there is nothing to keep away from.
    pub fn gap(&mut self, height: f32) {
        if self.y > TOP {
            self.y += height;
        }
    }

    /// Puts marks on this page.
    pub fn put(&mut self, belongs: Belongs, marks: impl IntoIterator<Item = Mark>) {
        let page = self.page();
        self.sheet.put(page, belongs, marks.into_iter().collect());
    }

    /// Puts lines one below the other, from `x`; goes to new pages as it has to, never leaving one line alone where
    /// there are more than three.
    pub fn lines(&mut self, lines: Vec<Shaped>, (x, style): (f32, Style), belongs: Belongs) {
        let mut rest = lines;
        while !rest.is_empty() {
            let mut fits = ((self.left() + 0.1) / style.leading) as usize;
            if fits < rest.len() && rest.len() > 3 && rest.len() - fits == 1 {
                fits -= 1;
            }
            let lonely = fits == 1 && rest.len() > 3;
            if (fits == 0 || lonely) && self.y > TOP {
                self.new_page();
                continue;
            }
            let after = rest.split_off(fits.clamp(1, rest.len()));
            let marks = stacked(rest, (x, self.y), style);
            self.y += style.leading * marks.len() as f32;
            self.put(belongs, marks);
            rest = after;
        }
    }
}

/// Lines one below the other; the first one hangs from `y`.
pub fn stacked(lines: Vec<Shaped>, (x, y): (f32, f32), style: Style) -> Vec<Mark> {
    let base = y + style.leading * 0.5 + style.size * 0.36;
    let line = |(index, line): (usize, Shaped)| Mark::Text { x, y: base + style.leading * index as f32, line, style };
    lines.into_iter().enumerate().map(line).collect()
}
