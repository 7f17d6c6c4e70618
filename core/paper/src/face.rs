//! The two faces: what they cover, and a text as glyphs.

use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::ttf_parser::Tag;
use rustybuzz::{Face, Feature, UnicodeBuffer};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Range;

const REGULAR: &[u8] = include_bytes!("../fonts/Inter-Regular.otf");
const BOLD: &[u8] = include_bytes!("../fonts/Inter-Bold.otf");

/// What stands for a character without a glyph, so that nobody takes the text for whole.
pub const UNKNOWN: char = '□';

/// Regular and bold.
pub struct Faces {
    regular: OneFace,
    bold: OneFace,
    /// Widths that were asked for, em: the same words come again and again.
    known: RefCell<BTreeMap<(bool, String), f32>>,
}

struct OneFace {
    font: Font,
    face: Face<'static>,
    units: f32,
}

/// A text at a size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Bold or regular.
    pub bold: bool,
    /// Points.
    pub size: f32,
    /// From baseline to baseline, points.
    pub leading: f32,
    /// 0 is black, 255 white.
    pub grey: u8,
}

impl Style {
    /// Regular, black, with the leading that reads well.
    pub const fn plain(size: f32) -> Style {
        Style { bold: false, size, leading: size * 1.38, grey: 0 }
    }

    /// The same in grey; still dark enough to be read (contrast over 7 to 1).
    pub const fn grey(self) -> Style {
        Style { grey: 85, ..self }
    }
}

/// Glyphs of a single line.
#[derive(Clone, Debug)]
pub struct Shaped {
    /// What is extracted from the PDF; clusters of the glyphs point into it.
    pub text: String,
    /// The glyphs, advances in em.
    pub glyphs: Vec<KrillaGlyph>,
    /// Points, trailing blanks not counted.
    pub width: f32,
}

impl Faces {
    /// Reads the built-in faces.
    pub fn load() -> Option<Faces> {
        let one = |bytes: &'static [u8]| {
            let face = Face::from_slice(bytes, 0)?;
            let units = face.units_per_em() as f32;
            Some(OneFace { font: Font::new(bytes.into(), 0)?, face, units })
        };
        Some(Faces { regular: one(REGULAR)?, bold: one(BOLD)?, known: RefCell::default() })
    }

    fn one(&self, bold: bool) -> &OneFace {
        if bold { &self.bold } else { &self.regular }
    }

    /// The face as the PDF knows it.
    pub fn font(&self, bold: bool) -> Font {
        self.one(bold).font.clone()
    }

    /// `text` without what cannot be drawn: a character without a glyph becomes [`UNKNOWN`], one that only steers
    /// (joiners, direction marks, variants) goes, blanks of all sorts become a space. Lines are kept.
    pub fn drawable(&self, text: &str) -> String {
        let mut drawn = String::with_capacity(text.len());
        for character in text.chars() {
            match character {
                '\n' => drawn.push('\n'),
                c if c.is_whitespace() => drawn.push(' '),
                c if steers(c) => {}
                c if self.covers(c) => drawn.push(c),
                _ => drawn.push(UNKNOWN),
            }
        }
        drawn
    }

    fn covers(&self, character: char) -> bool {
        let has = |one: &OneFace| one.face.glyph_index(character).is_some_and(|glyph| glyph.0 != 0);
        !character.is_control() && has(&self.regular) && has(&self.bold)
    }

    /// A drawable text as glyphs of one line. A hyphen that only breaks a word is told by `breaks`.
    pub fn shape(&self, text: &str, style: Style, breaks: bool) -> Shaped {
        let one = self.one(style.bold);
        let mut buffer = UnicodeBuffer::new();
        // In one piece: clusters are counted anew with every piece.
        buffer.push_str(&if breaks { format!("{text}-") } else { text.to_owned() });
        buffer.guess_segment_properties();
        buffer.set_direction(rustybuzz::Direction::LeftToRight);
        // Figures of one width; no arrow made of two signs, no × made of an x.
        let features = [Feature::new(Tag::from_bytes(b"tnum"), 1, ..), Feature::new(Tag::from_bytes(b"calt"), 0, ..)];
        let glyphs = rustybuzz::shape(&one.face, &features, buffer);
        let mut told = text.to_owned();
        if breaks {
            told.push('\u{AD}');
        }
        let infos = glyphs.glyph_infos();
        let starts: Vec<usize> = infos.iter().map(|info| info.cluster as usize).collect();
        let em = |units: i32| units as f32 / one.units;
        let all = infos.iter().zip(glyphs.glyph_positions()).map(|(info, at)| KrillaGlyph {
            glyph_id: GlyphId::new(info.glyph_id),
            text_range: cluster(&starts, info.cluster as usize, told.len()),
            x_advance: em(at.x_advance),
            x_offset: em(at.x_offset),
            y_offset: em(at.y_offset),
            y_advance: em(at.y_advance),
            location: None,
        });
        let glyphs: Vec<KrillaGlyph> = all.collect();
        let inked = told.trim_end().len();
        let advances = glyphs.iter().filter(|glyph| glyph.text_range.start < inked).map(|glyph| glyph.x_advance);
        let width = advances.sum::<f32>() * style.size;
        Shaped { text: told, glyphs, width }
    }

    /// Width of a drawable text on one line, points.
    pub fn width(&self, text: &str, style: Style) -> f32 {
        let asked = (style.bold, text.to_owned());
        if let Some(em) = self.known.borrow().get(&asked) {
            return em * style.size;
        }
        let em = self.shape(text, Style { size: 1.0, ..style }, false).width;
        self.known.borrow_mut().insert(asked, em);
        em * style.size
    }
}

/// From the start of a cluster to the start of the next one.
fn cluster(starts: &[usize], start: usize, end: usize) -> Range<usize> {
    let next = starts.iter().copied().filter(|other| *other > start).min();
    start..next.unwrap_or(end)
}

/// It has no shape of its own.
fn steers(c: char) -> bool {
    matches!(
        c,
        '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{206F}'
            | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{1F3FB}'..='\u{1F3FF}' | '\u{E0000}'..='\u{E0FFF}'
    )
}
