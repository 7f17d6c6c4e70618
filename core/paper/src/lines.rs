//! A text broken into lines of a width.

use crate::face::{Faces, Shaped, Style};
use evenwire_core::verdict::words::Language;
use hypher::Lang;

/// Shortest word that is hyphenated, letters.
const HYPHENATED: usize = 8;
/// Titles above this size are not hyphenated, points.
const LARGEST_HYPHENATED: f32 = 10.0;
/// Units that stay with their number.
const UNITS: [&str; 14] = ["Ω", "kΩ", "MΩ", "V", "A", "°C", "N·m", "lbf·ft", "lbf·in", "s", "mm", "%", "±", "Ω,"];

/// Breaks texts in one language.
#[derive(Clone, Copy)]
pub struct Breaker<'a> {
    pub faces: &'a Faces,
    pub language: Language,
}

/// A piece of text that is not broken before it has to be.
struct Word<'t> {
    text: &'t str,
    /// A blank follows.
    blank: bool,
}

/// A line as it grows.
#[derive(Default)]
struct Growing {
    text: String,
    width: f32,
}

impl Breaker<'_> {
    /// `text` as lines at most `width` points wide; at least one line. Nothing is lost: what fits nowhere is broken
    /// anywhere.
    pub fn lines(&self, text: &str, style: Style, width: f32) -> Vec<Shaped> {
        let drawn = self.faces.drawable(text);
        let mut lines = Vec::new();
        for paragraph in drawn.split('\n') {
            self.paragraph(paragraph.trim(), (style, width), &mut lines);
        }
        if lines.is_empty() {
            lines.push(self.faces.shape("", style, false));
        }
        lines
    }

    /// One line, however wide.
    pub fn line(&self, text: &str, style: Style) -> Shaped {
        self.faces.shape(&self.faces.drawable(text).replace('\n', " "), style, false)
    }

    /// One line at most `width` points wide, its end cut off visibly where it does not fit.
    pub fn cut(&self, text: &str, style: Style, width: f32) -> Shaped {
        let whole = self.line(text, style);
        if whole.width <= width {
            return whole;
        }
        let mut kept: Vec<char> = self.faces.drawable(text).replace('\n', " ").chars().collect();
        while kept.pop().is_some() {
            let short: String = kept.iter().collect::<String>().trim_end().to_owned() + "…";
            let short = self.faces.shape(&short, style, false);
            if short.width <= width {
                return short;
            }
        }
        self.faces.shape("…", style, false)
    }

    /// The widest piece that is not broken, and the whole on one line, points.
    pub fn widths(&self, text: &str, style: Style) -> (f32, f32) {
        let drawn = self.faces.drawable(text);
        let least = words(&drawn).iter().map(|word| self.faces.width(word.text, style)).fold(0.0, f32::max);
        let most = drawn.split('\n').map(|line| self.faces.width(line, style)).fold(0.0, f32::max);
        (least, most)
    }

    fn paragraph(&self, text: &str, (style, width): (Style, f32), lines: &mut Vec<Shaped>) {
        let blank = self.faces.width("n n", style) - self.faces.width("nn", style);
        let whole = self.faces.shape(text, style, false);
        if whole.width <= width {
            lines.push(whole);
            return;
        }
        let mut line = Growing::default();
        for word in words(text) {
            let mut rest = word.text;
            loop {
                let needed = self.faces.width(rest, style);
                if line.width + needed <= width {
                    line.text.push_str(rest);
                    line.width += needed;
                    break;
                }
                let room = width - line.width;
                if let Some(at) = self.hyphen(rest, style, room) {
                    line.text.push_str(&rest[..at]);
                    lines.push(self.faces.shape(&line.text, style, true));
                    rest = &rest[at..];
                } else if line.text.is_empty() {
                    let at = self.anywhere(rest, style, width);
                    lines.push(self.faces.shape(&rest[..at], style, false));
                    rest = &rest[at..];
                } else {
                    lines.push(self.faces.shape(&line.text, style, false));
                }
                line = Growing::default();
            }
            if word.blank {
                line.text.push(' ');
                line.width += blank;
            }
        }
        if !line.text.is_empty() || text.is_empty() {
            lines.push(self.faces.shape(&line.text, style, false));
        }
    }

    /// The last place where `word` may be hyphenated within `room`, bytes.
    fn hyphen(&self, word: &str, style: Style, room: f32) -> Option<usize> {
        if style.size > LARGEST_HYPHENATED {
            return None;
        }
        let core = word.trim_matches(|c: char| !c.is_alphabetic());
        if core.chars().count() < HYPHENATED || !core.chars().all(char::is_alphabetic) {
            return None;
        }
        let from = word.find(core)?;
        let language = match self.language {
            Language::En => Lang::English,
            Language::De => Lang::German,
        };
        let mut at = from;
        let mut best = None;
        for syllable in hypher::hyphenate(core, language) {
            at += syllable.len();
            let fits = self.faces.shape(&word[..at], style, true).width <= room;
            // At least three letters on either side.
            let far = word[from..at].chars().count() >= 3 && word[at..].chars().count() >= 3;
            if fits && far {
                best = Some(at);
            }
        }
        best
    }

    /// As many characters as fit, at least one, bytes.
    fn anywhere(&self, word: &str, style: Style, width: f32) -> usize {
        let ends = word.char_indices().map(|(at, c)| at + c.len_utf8());
        let fits = |at: &usize| self.faces.width(&word[..*at], style) <= width;
        let first = word.chars().next().map_or(0, char::len_utf8);
        ends.take_while(fits).last().unwrap_or(first)
    }
}

/// The pieces of a line. A number stays with its unit; a dash or stroke may end a line.
fn words(text: &str) -> Vec<Word<'_>> {
    let mut found: Vec<Word> = Vec::new();
    let mut start = 0;
    let pieces: Vec<&str> = text.split(' ').collect();
    let mut at = 0;
    for (index, piece) in pieces.iter().enumerate() {
        let end = at + piece.len();
        let next = pieces.get(index + 1);
        let is_unit = |piece: &&&str| UNITS.contains(&piece.trim_end_matches(['.', ',', ';', ':', ')']));
        let number = piece.ends_with(|c: char| c.is_ascii_digit()) || *piece == "±";
        let of_a_day = is_day(piece) && next.is_some_and(|next| next.starts_with(is_figure) && next.contains(':'));
        if of_a_day || (number && next.as_ref().is_some_and(is_unit)) {
            at = end + 1;
            continue;
        }
        found.push(Word { text: &text[start..end], blank: next.is_some() });
        at = end + 1;
        start = at;
    }
    found.into_iter().flat_map(parts).filter(|word| !word.text.is_empty() || word.blank).collect()
}

/// A word may be broken after a hyphen or stroke inside of it.
fn parts(word: Word<'_>) -> Vec<Word<'_>> {
    let mut found = Vec::new();
    let mut start = 0;
    let mut letters = 0;
    for (at, c) in word.text.char_indices() {
        let end = at + c.len_utf8();
        let inside = letters >= 3 && word.text[end..].chars().count() >= 3;
        if matches!(c, '-' | '/' | '–') && inside && !word.text.contains(' ') && !word.text.starts_with(is_figure) {
            found.push(Word { text: &word.text[start..end], blank: false });
            (start, letters) = (end, 0);
        } else {
            letters += 1;
        }
    }
    found.push(Word { text: &word.text[start..], blank: word.blank });
    found
}

/// "2026-03-02": its time stays with it.
fn is_day(piece: &str) -> bool {
    piece.len() == 10 && piece.starts_with(is_figure) && piece.matches('-').count() == 2
}

/// Dates and numbers are not broken at their strokes.
fn is_figure(c: char) -> bool {
    c.is_ascii_digit()
}
