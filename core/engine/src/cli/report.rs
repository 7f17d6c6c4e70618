//! `report`: a job of a ledger as a PDF. The ledger is only read; another may have it open.

use crate::report::{self, Form};
use std::path::PathBuf;
use std::process::ExitCode;
use uuid::Uuid;

/// What is asked for on the command line.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The ledger.
    pub database: PathBuf,
    /// The job.
    pub job: Uuid,
    /// Where the file goes.
    pub out: PathBuf,
    /// How it is to look.
    pub form: Form,
}

/// Writes the report. Exit code 0: done. 1: there is no such job, or a file cannot be read or written.
pub fn run(wanted: &Wanted) -> ExitCode {
    match write(wanted) {
        Ok(bytes) => {
            println!("{}: {bytes} bytes", wanted.out.display());
            ExitCode::SUCCESS
        }
        Err(words) => {
            eprintln!("{words}");
            ExitCode::FAILURE
        }
    }
}

fn write(wanted: &Wanted) -> Result<usize, String> {
    let made = report::pdf(&wanted.database, wanted.job, &wanted.form);
    let pdf = made.map_err(|e| format!("{}: {e}", wanted.database.display()))?;
    std::fs::write(&wanted.out, &pdf).map_err(|e| format!("{}: {e}", wanted.out.display()))?;
    Ok(pdf.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::practice;
    use crate::practice::PartModel;
    use crate::practice::rehearsal::Beside;
    use evenwire_core::verdict::words::Language;
    use evenwire_paper::PageSize;
    use evenwire_store::Store;

    #[test]
    fn a_practised_job_is_written_while_another_has_its_ledger_open() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("bench.db");
        let practised = practice::Wanted {
            seed: 8,
            places: 2,
            database: Some(database.clone()),
            beside: Beside { zero: true, sweep: false },
            json: false,
        };
        practice::run(PartModel::built_in("first-practice").unwrap(), &practised);
        let open = Store::open(&database, Uuid::from_u128(1)).unwrap();
        let job = open.newest_job().unwrap().unwrap();
        let out = folder.path().join("report.pdf");
        let mut wanted = Wanted {
            database,
            job,
            out: out.clone(),
            form: Form { language: Language::De, size: PageSize::A4, shop: None, zone: None },
        };
        let bytes = write(&wanted).unwrap();
        let pdf = std::fs::read(&out).unwrap();
        assert_eq!((pdf.len(), &pdf[..5]), (bytes, &b"%PDF-"[..]));
        wanted.job = Uuid::from_u128(7);
        assert!(write(&wanted).unwrap_err().contains("there is no job"), "and nothing is written of it");
        assert_eq!(std::fs::read(&out).unwrap(), pdf);
    }
}
