//! `claim`: a job of a ledger as one file that proves itself. The ledger is only read; another may have it open.

use super::report::Wanted;
use crate::claim;
use std::process::ExitCode;

/// Writes the claim file and checks what was written. Exit code 0: done. 1: there is no such job, the key is not here,
/// or a file cannot be read or written. `personal`: customer, vehicle, photos and names go along.
pub fn run(wanted: &Wanted, personal: bool) -> ExitCode {
    let made = claim::file((&wanted.database, wanted.job), &wanted.form, personal);
    let written = made
        .map_err(|e| format!("{}: {e}", wanted.database.display()))
        .and_then(|bytes| std::fs::write(&wanted.out, &bytes).map_err(|e| format!("{}: {e}", wanted.out.display())));
    match written {
        Ok(()) => super::verify::run(&wanted.out, None),
        Err(words) => {
            eprintln!("{words}");
            ExitCode::FAILURE
        }
    }
}
