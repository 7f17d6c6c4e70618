//! Procedure files: the built-in ones, what damaged ones are told, and what a changed one must keep.

mod amounts;
mod builtin;
mod damaged;
mod hostile;
mod mutated;
mod schema_file;
mod strict;

use super::{Procedure, built_in};
use crate::meter::FileError;

fn text(name: &str) -> &'static str {
    built_in().into_iter().find(|(known, _)| *known == name).expect("built in").1
}

fn parsed(name: &str) -> Procedure {
    right(text(name))
}

fn right(text: &str) -> Procedure {
    Procedure::parse(text).unwrap_or_else(|errors| panic!("{}", told(&errors)))
}

fn told(errors: &[FileError]) -> String {
    errors.iter().map(|error| format!("{error}\n")).collect()
}

/// `text` with the first `from` in the step `id` (or in the whole file, if `id` is empty) replaced by `to`. A `¦` in
/// `to` is taken out; its place is told.
fn changed(text: &str, id: &str, (from, to): (&str, &str)) -> (String, Option<usize>) {
    let (start, end) = if id.is_empty() { (0, text.len()) } else { step_range(text, id) };
    let at = start + text[start..end].find(from).unwrap_or_else(|| panic!("{id}: no {from:?}"));
    let mark = to.find('¦').map(|mark| at + mark);
    (format!("{}{}{}", &text[..at], to.replace('¦', ""), &text[at + from.len()..]), mark)
}

/// Where the step with this id stands, from its `[[steps]]` to the next.
fn step_range(text: &str, id: &str) -> (usize, usize) {
    let inside = text.find(&format!("\nid = \"{id}\"\nkind")).unwrap_or_else(|| panic!("no step {id}"));
    let start = text[..inside + 1].rfind("[[steps]]").expect("its header");
    let end = text[inside..].find("\n[[steps]]").map_or(text.len(), |next| inside + next + 1);
    (start, end)
}

/// Line and column of a byte, both from 1.
fn line_and_column(text: &str, at: usize) -> (usize, usize) {
    let line_start = text[..at].rfind('\n').map_or(0, |newline| newline + 1);
    (text[..at].matches('\n').count() + 1, text[line_start..at].chars().count() + 1)
}
