//! `readings`: every reading of a job as CSV or JSON on standard output. The ledger is only read.

use crate::report;
use evenwire_core::report::export;
use evenwire_store::Glance;
use jiff::tz::TimeZone;
use std::path::Path;
use std::process::ExitCode;
use uuid::Uuid;

/// Prints them. Exit code 0: done. 1: there is no such job, or the ledger cannot be read.
pub fn run((database, job): (&Path, Uuid), zone: Option<&TimeZone>, json: bool) -> ExitCode {
    let told = || -> Result<String, String> {
        let ledger = Glance::at(database).map_err(|e| format!("{}: {e}", database.display()))?;
        let entries = report::entries(&ledger, job).map_err(|e| format!("{}: {e}", database.display()))?;
        let rows = export::rows(&entries, zone).ok_or("the entries of this job do not begin with its opening")?;
        Ok(if json { export::json(&rows) + "\n" } else { export::csv(&rows) })
    };
    match told() {
        Ok(text) => {
            print!("{text}");
            ExitCode::SUCCESS
        }
        Err(words) => {
            eprintln!("{words}");
            ExitCode::FAILURE
        }
    }
}
