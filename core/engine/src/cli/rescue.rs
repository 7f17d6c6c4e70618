//! `rescue`: a damaged ledger is moved aside, and what can be read of it goes on.

use crate::bench::StartError;
use evenwire_store::{Rescue, Store, StoreError};
use std::path::Path;
use std::process::ExitCode;

/// Does it. Exit code 0: rescued, or there was nothing to rescue; 1: not, and nothing is lost by it.
pub fn run(database: &Path) -> ExitCode {
    let mut fresh = [0u8; 16];
    if let Err(error) = getrandom::fill(&mut fresh) {
        eprintln!("the system gives no random bytes: {error}");
        return ExitCode::FAILURE;
    }
    match Store::rescue(database, uuid::Builder::from_random_bytes(fresh).into_uuid()) {
        Ok(rescue) => {
            told(database, &rescue).iter().for_each(|line| println!("{line}"));
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{}: {error}", database.display());
            ExitCode::FAILURE
        }
    }
}

fn told(database: &Path, rescue: &Rescue) -> Vec<String> {
    let database = database.display();
    let (Some(aside), Some(beside)) = (&rescue.aside, &rescue.told) else {
        return vec![format!("{database} is whole ({} entries). Nothing was changed.", rescue.entries)];
    };
    let Rescue { entries, loose, chunks, details, people, pictures, left, .. } = rescue;
    vec![
        format!("The damaged file was kept: {}", aside.display()),
        format!("A new ledger stands in its place: {database}"),
        format!("  {entries} entries that are whole, from the first on"),
        format!("  {chunks} stretches of samples, {pictures} photos, {details} personal details, {people} people"),
        format!("Not in it: {loose} later entries, and {left} rows that are not whole or belong to those."),
        format!("What could be read of the later entries: {}", beside.display()),
        "Look through the jobs of the last days before you go on: their last steps may be missing.".into(),
    ]
}

/// Why there is no bench, and what helps where the record is damaged.
pub(super) fn no_bench(error: &StartError) -> String {
    match error {
        StartError::Store { path, source: StoreError::Damaged { .. } } => format!(
            "{error}\nNothing in it was changed. This keeps the file and goes on with what can be read of it:\n  \
             evenwire-cli rescue --db \"{}\"",
            path.display()
        ),
        error => error.to_string(),
    }
}
