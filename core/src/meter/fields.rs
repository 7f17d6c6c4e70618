//! Reading a hand-written TOML file key by key, so that every mistake is told with its line, and all of
//! them at once.

use super::spelling::nearest;
use crate::unit::{Quantity, Unit};
use serde::Serialize;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fmt;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Longest file that is read unless told otherwise, bytes.
pub const MAX_FILE: usize = 64 * 1024;
/// Most mistakes that are told of one file: nobody mends more at a time, and each costs a look through the text.
const MAX_MISTAKES: usize = 200;
/// Most entries of a list unless told otherwise.
const MAX_LIST: usize = 64;

/// What sort of mistake a file has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FileErrorCode {
    /// Not TOML, or too long.
    Syntax,
    /// A key that means nothing here.
    UnknownKey,
    /// A key that has to be there.
    MissingKey,
    /// A text where a number is wanted, and the like.
    WrongType,
    /// A number or list beyond its limits.
    OutOfRange,
    /// A word that is not one of those known.
    UnknownWord,
    /// Right by itself, wrong beside another key.
    Conflict,
    /// Breaks a safety rule that no file can switch off.
    Interlock,
}

impl fmt::Display for FileErrorCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            FileErrorCode::Syntax => "syntax",
            FileErrorCode::UnknownKey => "unknown-key",
            FileErrorCode::MissingKey => "missing-key",
            FileErrorCode::WrongType => "wrong-type",
            FileErrorCode::OutOfRange => "out-of-range",
            FileErrorCode::UnknownWord => "unknown-word",
            FileErrorCode::Conflict => "conflict",
            FileErrorCode::Interlock => "interlock",
        })
    }
}

/// One mistake in a file. Shown as `line:column: code: what: what to write instead`; whoever knows the
/// file's name puts it before.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, thiserror::Error)]
#[error("{line}:{column}: {code}: {what}: {instead}")]
pub struct FileError {
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
    /// Sort of mistake.
    pub code: FileErrorCode,
    /// What is wrong.
    pub what: String,
    /// What to write instead.
    pub instead: String,
}

/// The mistakes found so far in one text.
pub(crate) struct Mistakes<'t> {
    text: &'t str,
    found: RefCell<Vec<FileError>>,
}

impl<'t> Mistakes<'t> {
    pub(crate) fn new(text: &'t str) -> Mistakes<'t> {
        Mistakes { text, found: RefCell::new(Vec::new()) }
    }

    pub(crate) fn add(&self, at: usize, code: FileErrorCode, what: impl Into<String>, instead: impl Into<String>) {
        if self.found.borrow().len() >= MAX_MISTAKES {
            return;
        }
        let before = self.text.get(..at).unwrap_or(self.text);
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        self.found.borrow_mut().push(FileError {
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
            code,
            what: what.into(),
            instead: instead.into(),
        });
    }

    /// The parsed file, or nothing after the mistake was added.
    pub(crate) fn parse(&self) -> Option<Spanned<DeTable<'t>>> {
        self.parse_up_to(MAX_FILE)
    }

    /// As [`Mistakes::parse`] with another limit, bytes.
    pub(crate) fn parse_up_to(&self, most: usize) -> Option<Spanned<DeTable<'t>>> {
        if self.text.len() > most {
            self.add(0, FileErrorCode::Syntax, "the file is too long", format!("at most {most} bytes"));
            return None;
        }
        match DeTable::parse(self.text) {
            Ok(table) => Some(table),
            Err(error) => {
                let at = error.span().map_or(0, |span| span.start);
                self.add(at, FileErrorCode::Syntax, error.message(), "a line like `key = value` or `[section]`");
                None
            }
        }
    }

    /// Nothing wrong was found so far.
    pub(crate) fn is_empty(&self) -> bool {
        self.found.borrow().is_empty()
    }

    /// All mistakes by line, each once; empty if there are none.
    pub(crate) fn into_sorted(self) -> Vec<FileError> {
        let mut found = self.found.into_inner();
        found.sort();
        found.dedup();
        found
    }
}

/// A value of a file with the byte it begins at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Placed<T> {
    pub(crate) value: T,
    pub(crate) at: usize,
}

/// One table of a file. Every key that may stand in it is asked for; [`Fields::finish`] reports the others.
pub(crate) struct Fields<'f, 't> {
    mistakes: &'f Mistakes<'t>,
    table: &'f DeTable<'t>,
    /// Where the table begins: mistakes of the whole table are told here.
    pub(crate) at: usize,
    asked: BTreeSet<&'static str>,
}

impl<'f, 't> Fields<'f, 't> {
    pub(crate) fn new(mistakes: &'f Mistakes<'t>, table: &'f DeTable<'t>, span: Range<usize>) -> Fields<'f, 't> {
        Fields { mistakes, table, at: span.start, asked: BTreeSet::new() }
    }

    pub(crate) fn mistake(&self, at: usize, code: FileErrorCode, what: impl Into<String>, instead: impl Into<String>) {
        self.mistakes.add(at, code, what, instead);
    }

    /// Where `key` begins, or the table if it is not there.
    pub(crate) fn place(&self, key: &str) -> usize {
        self.table.get_key_value(key).map_or(self.at, |(name, _)| name.span().start)
    }

    pub(crate) fn missing(&self, key: &str, instead: &str) {
        self.mistake(self.at, FileErrorCode::MissingKey, format!("`{key}` is missing"), instead);
    }

    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The text at `key`, if it is one; the key counts as not asked for.
    pub(crate) fn word_at(&self, key: &str) -> Option<&'f str> {
        self.table.get(key)?.get_ref().as_str()
    }

    /// What stands at `key`, of whatever type.
    pub(crate) fn get(&mut self, key: &'static str) -> Option<&'f Spanned<DeValue<'t>>> {
        self.asked.insert(key);
        self.table.get(key)
    }

    pub(crate) fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) {
        let what = format!("`{key}` is {} {}", article(value.get_ref()), value.get_ref().type_str());
        self.mistake(value.span().start, FileErrorCode::WrongType, what, wanted);
    }

    pub(crate) fn text(&mut self, key: &'static str, wanted: &str) -> Option<Placed<String>> {
        let value = self.get(key)?;
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_type(key, value, wanted);
            return None;
        };
        Some(Placed { value: text.to_owned(), at: value.span().start })
    }

    pub(crate) fn yes_or_no(&mut self, key: &'static str) -> Option<bool> {
        let value = self.get(key)?;
        let answer = value.get_ref().as_bool();
        if answer.is_none() {
            self.wrong_type(key, value, "true or false");
        }
        answer
    }

    pub(crate) fn whole(&mut self, key: &'static str, range: RangeInclusive<i64>) -> Option<Placed<i64>> {
        let value = self.get(key)?;
        let number = self.whole_of(key, value, &range)?;
        Some(Placed { value: number, at: value.span().start })
    }

    /// A whole number as a place or count.
    pub(crate) fn count(&mut self, key: &'static str, range: RangeInclusive<i64>) -> Option<usize> {
        usize::try_from(self.whole(key, range)?.value).ok()
    }

    /// A whole number of 8 bits.
    pub(crate) fn byte(&mut self, key: &'static str) -> Option<u8> {
        u8::try_from(self.whole(key, 0..=255)?.value).ok()
    }

    fn whole_of(&self, key: &str, value: &Spanned<DeValue<'_>>, range: &RangeInclusive<i64>) -> Option<i64> {
        let wanted = format!("a whole number from {} to {}", range.start(), range.end());
        let Some(integer) = value.get_ref().as_integer() else {
            self.wrong_type(key, value, &wanted);
            return None;
        };
        let number = i64::from_str_radix(integer.as_str(), integer.radix()).ok().filter(|n| range.contains(n));
        if number.is_none() {
            let what = format!("`{key}` is {}", integer.as_str());
            self.mistake(value.span().start, FileErrorCode::OutOfRange, what, wanted);
        }
        number
    }

    /// An exact decimal above zero in `unit`, as text (`"0.10"` keeps its last zero) or as a number.
    pub(crate) fn decimal(&mut self, key: &'static str, unit: Unit) -> Option<Placed<Quantity>> {
        let wanted = "a decimal above zero with a point, such as \"0.01\"";
        let value = self.get(key)?;
        let at = value.span().start;
        let written = match value.get_ref() {
            DeValue::String(text) => text.to_string(),
            DeValue::Float(float) => float.as_str().to_owned(),
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str().to_owned(),
            _ => {
                self.wrong_type(key, value, wanted);
                return None;
            }
        };
        match Quantity::parse(&written, unit) {
            Ok(quantity) if quantity.digits() > 0 => Some(Placed { value: quantity, at }),
            _ => {
                self.mistake(at, FileErrorCode::OutOfRange, format!("`{key}` is {written:?}"), wanted);
                None
            }
        }
    }

    /// As [`Fields::decimal`], in thousandths.
    pub(crate) fn thousandths(&mut self, key: &'static str) -> Option<Placed<u32>> {
        // The unit plays no part: only the digits are taken.
        let given = self.decimal(key, Unit::Ohm)?;
        let thousandths = given.value.with_places(3).and_then(|q| u32::try_from(q.digits()).ok());
        if thousandths.is_none() {
            let what = format!("`{key}` is {}", given.value);
            self.mistake(given.at, FileErrorCode::OutOfRange, what, "at most three decimal places, below 4000000");
        }
        thousandths.map(|value| Placed { value, at: given.at })
    }

    /// One of some known words.
    pub(crate) fn word<T: Copy>(&mut self, key: &'static str, known: &[(&'static str, T)]) -> Option<T> {
        let names = || known.iter().map(|(word, _)| format!("\"{word}\"")).collect::<Vec<_>>().join(", ");
        let text = self.text(key, &names())?;
        let hit = known.iter().find(|(word, _)| *word == text.value).map(|(_, means)| *means);
        if hit.is_none() {
            let instead = match nearest(&text.value, known.iter().map(|(word, _)| *word)) {
                Some(word) => format!("did you mean \"{word}\"? known are {}", names()),
                None => names(),
            };
            let what = format!("`{key}` is {:?}", text.value);
            self.mistake(text.at, FileErrorCode::UnknownWord, what, instead);
        }
        hit
    }

    fn list(&mut self, key: &'static str, wanted: &str) -> Option<&'f [Spanned<DeValue<'t>>]> {
        self.list_up_to(key, wanted, MAX_LIST)
    }

    /// A list of at most so many entries of whatever type.
    pub(crate) fn list_up_to(
        &mut self,
        key: &'static str,
        wanted: &str,
        most: usize,
    ) -> Option<&'f [Spanned<DeValue<'t>>]> {
        let value = self.get(key)?;
        let Some(array) = value.get_ref().as_array() else {
            self.wrong_type(key, value, wanted);
            return None;
        };
        if array.len() > most {
            let what = format!("`{key}` has {} entries", array.len());
            self.mistake(value.span().start, FileErrorCode::OutOfRange, what, format!("at most {most}"));
            return None;
        }
        Some(array)
    }

    /// A list of whole numbers; wrong ones are reported and left out.
    pub(crate) fn wholes(&mut self, key: &'static str, range: RangeInclusive<i64>) -> Option<Vec<i64>> {
        let list = self.list(key, "a list of whole numbers, such as [0x0D, 0x0A]")?;
        Some(list.iter().filter_map(|value| self.whole_of(key, value, &range)).collect())
    }

    /// A list of texts that are not empty; wrong ones are reported and left out.
    pub(crate) fn texts(&mut self, key: &'static str) -> Option<Vec<String>> {
        let wanted = "a list of words, such as [\"OL\"]";
        let list = self.list(key, wanted)?;
        let texts = list.iter().filter_map(|value| match value.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() => Some(text.to_owned()),
            _ => {
                self.wrong_type(key, value, wanted);
                None
            }
        });
        Some(texts.collect())
    }

    pub(crate) fn table(&mut self, key: &'static str) -> Option<Fields<'f, 't>> {
        let value = self.get(key)?;
        let Some(table) = value.get_ref().as_table() else {
            self.wrong_type(key, value, "a section or { … }");
            return None;
        };
        Some(Fields::new(self.mistakes, table, value.span()))
    }

    /// A list of tables, `[[key]]`.
    pub(crate) fn tables(&mut self, key: &'static str) -> Vec<Fields<'f, 't>> {
        self.tables_up_to(key, MAX_LIST)
    }

    /// As [`Fields::tables`] with another limit.
    pub(crate) fn tables_up_to(&mut self, key: &'static str, most: usize) -> Vec<Fields<'f, 't>> {
        let wanted = "sections written as [[…]]";
        let list = self.list_up_to(key, wanted, most).unwrap_or_default();
        let tables = list.iter().filter_map(|value| match value.get_ref().as_table() {
            Some(table) => Some(Fields::new(self.mistakes, table, value.span())),
            None => {
                self.wrong_type(key, value, wanted);
                None
            }
        });
        tables.collect()
    }

    /// The table at an entry of a list, if it is one.
    pub(crate) fn inner(&self, value: &'f Spanned<DeValue<'t>>) -> Option<Fields<'f, 't>> {
        value.get_ref().as_table().map(|table| Fields::new(self.mistakes, table, value.span()))
    }

    /// Takes `keys` as known without reading them: what they mean depends on a key that is wrong.
    pub(crate) fn let_pass(&mut self, keys: &[&'static str]) {
        self.asked.extend(keys);
    }

    /// Reports every key that was not asked for.
    pub(crate) fn finish(self) {
        for name in self.table.keys().filter(|name| !self.asked.contains(name.get_ref().as_ref())) {
            let instead = match nearest(name.get_ref(), self.asked.iter().copied()) {
                Some(key) => format!("did you mean `{key}`?"),
                None => format!("known here: {}", self.asked.iter().copied().collect::<Vec<_>>().join(", ")),
            };
            let what = format!("`{}` is not a key here", name.get_ref());
            self.mistake(name.span().start, FileErrorCode::UnknownKey, what, instead);
        }
    }
}

fn article(value: &DeValue<'_>) -> &'static str {
    if matches!(value, DeValue::Integer(_) | DeValue::Array(_)) { "an" } else { "a" }
}
