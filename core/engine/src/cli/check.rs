//! `check`: is a procedure, a meter profile or a practice part file right, and if not, where and what to write instead.

use crate::practice::PartModel;
use evenwire_core::meter::{FileError, Profile};
use evenwire_core::procedure::Procedure;
use std::path::Path;
use std::process::ExitCode;

/// Prints every mistake as `file:line:column: code: what: what to write instead`. Exit code 0: none; 1: some;
/// 2: the file cannot be read.
pub fn run(path: &Path) -> ExitCode {
    let name = path.display();
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) => {
            eprintln!("{name}: {error}");
            return ExitCode::from(2);
        }
    };
    let (sort, found) = checked(&text);
    let Some(errors) = found else {
        println!("{name}: the {sort} is right");
        return ExitCode::SUCCESS;
    };
    errors.iter().for_each(|error| eprintln!("{name}:{error}"));
    ExitCode::FAILURE
}

/// What sort of file it is, told by the sections only that sort has, and what is wrong with it.
fn checked(text: &str) -> (&'static str, Option<Vec<FileError>>) {
    let section = |line: &str, words: &[&str]| {
        let line = line.trim_start().trim_start_matches('[').trim_start();
        words.iter().any(|word| line.starts_with(word))
    };
    let has = |words: &[&str]| text.lines().any(|line| section(line, words));
    if has(&["steps", "languages", "applies_to"]) {
        ("procedure", Procedure::parse(text).err())
    } else if has(&["connector", "conductor"]) {
        ("part", PartModel::parse(text).err())
    } else {
        ("profile", Profile::parse(text).err())
    }
}
