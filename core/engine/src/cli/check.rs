//! `check`: is a meter profile or a practice part file right, and if not, where and what to write instead.

use crate::practice::PartModel;
use evenwire_core::meter::Profile;
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
    // Only a part has connectors and conductors, and no profile has.
    let of_part = |line: &str| ["connector", "conductor"].iter().any(|word| line.starts_with(word));
    let is_part = text.lines().any(|line| of_part(line.trim_start().trim_start_matches('[').trim_start()));
    let found = if is_part { PartModel::parse(&text).err() } else { Profile::parse(&text).err() };
    let Some(errors) = found else {
        println!("{name}: {} is right", if is_part { "the part" } else { "the profile" });
        return ExitCode::SUCCESS;
    };
    errors.iter().for_each(|error| eprintln!("{name}:{error}"));
    ExitCode::FAILURE
}
