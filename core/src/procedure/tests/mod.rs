//! Procedure files: the built-in ones, what damaged ones are told, and what a changed one must keep.

mod builtin;

use super::{Procedure, built_in};
use crate::meter::FileError;

fn text(name: &str) -> &'static str {
    built_in().into_iter().find(|(known, _)| *known == name).expect("built in").1
}

fn parsed(name: &str) -> Procedure {
    Procedure::parse(text(name)).unwrap_or_else(|errors| panic!("{name}: {}", told(&errors)))
}

fn told(errors: &[FileError]) -> String {
    errors.iter().map(|error| format!("{error}\n")).collect()
}
