//! `run`: a whole procedure without a screen, at the practice bench, into a real ledger. No clock is waited for: the
//! time of a practice job is counted, and it is marked as practice wherever it is kept.

use crate::clock;
use crate::photo;
use crate::practice::MeterModel;
use crate::practice::errand::{self, Errand, Worked};
use crate::practice::rehearsal::{self, Beside, Ledger, Setting};
use evenwire_core::job::Job;
use evenwire_core::procedure::{Procedure, built_in};
use evenwire_core::session::Batch;
use evenwire_store::Store;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Sides of the photo that is taken at every step that asks for one, pixels.
const PHOTO: (u32, u32) = (640, 480);

/// What is asked for on the command line.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// A procedure that comes with the program: its id, or the word of its file.
    pub procedure: String,
    /// Seed of meter and hands.
    pub seed: u64,
    /// The ledger; a new one in the temporary folder if none.
    pub database: Option<PathBuf>,
    /// A step before which the machine goes down, once.
    pub reboot_before: Option<String>,
}

/// Does it. Exit code 0: done to its last step and read back the same. 1: not. 2: there is no such procedure.
pub fn run(wanted: &Wanted) -> ExitCode {
    let Some(procedure) = found(&wanted.procedure) else {
        let words: Vec<&str> = built_in().iter().map(|(word, _)| *word).collect();
        eprintln!("{}: no procedure of that name comes with the program: {}", wanted.procedure, words.join(", "));
        return ExitCode::from(2);
    };
    if let Some(step) = wanted.reboot_before.as_deref().filter(|step| procedure.step(step).is_none()) {
        eprintln!("{step}: the procedure {} has no such step", procedure.head.id);
        return ExitCode::from(2);
    }
    let path = wanted.database.clone().unwrap_or_else(|| {
        std::env::temp_dir().join(format!("evenwire-run-{}-{}.db", wanted.seed, std::process::id()))
    });
    match follow(wanted, &procedure.head.id, &path) {
        Ok(worked) => {
            tell(&worked, &path);
            ExitCode::SUCCESS
        }
        Err(words) => {
            eprintln!("{words}");
            ExitCode::FAILURE
        }
    }
}

fn found(named: &str) -> Option<Procedure> {
    let all = built_in().into_iter().filter_map(|(word, text)| Some((word, Procedure::parse(text).ok()?)));
    all.into_iter().find(|(word, procedure)| *word == named || procedure.head.id == named).map(|(_, found)| found)
}

fn follow(wanted: &Wanted, procedure: &str, path: &Path) -> Result<Worked, String> {
    let at = |e: evenwire_store::StoreError| format!("{}: {e}", path.display());
    let mut store = Store::open(path, rehearsal::device(wanted.seed)).map_err(at)?;
    if store.head().map_err(at)?.sequence > 0 {
        return Err(format!("{}: a ledger that is in use; name a new file", path.display()));
    }
    let ledger = Ledger::settled(&mut store).map_err(|e| e.to_string())?;
    let mut commit = |batch: &Batch| store.append(batch).map_err(|e| e.to_string());
    let (seed, wall) = (rehearsal::seed_bytes(wanted.seed), clock::wall());
    let setting = Setting { ledger, seed, wall, beside: Beside::default(), commit: &mut commit };
    let photo = photo::drawn(PHOTO).ok_or("the photo cannot be drawn")?;
    let errand = Errand { procedure, reboot_before: wanted.reboot_before.as_deref(), photo };
    let worked = errand::work_through(&errand, MeterModel::default(), wanted.seed, setting);
    let worked = worked.map_err(|e| e.to_string())?;
    let reopened = store.entries_of(worked.job.id).map_err(at)?;
    if Job::from_entries(&reopened).as_ref() != Some(&worked.job) {
        return Err("the job read back from the ledger is not the job that was done".into());
    }
    Ok(worked)
}

fn tell(worked: &Worked, path: &Path) {
    let Some((photos, work)) = worked.view.bench.as_ref().and_then(|b| Some((b.photos.len(), b.work.as_ref()?))) else {
        return;
    };
    for (number, line) in (1..).zip(&work.steps) {
        let second = if line.second.is_empty() { String::new() } else { format!(" {}", line.second) };
        println!("{number:>3}  {:<8} {}: {}{second}", line.state, line.title, line.proof);
    }
    println!("\n{} {}", work.ended, work.technician);
    println!("Photos: {photos}. Restarts of the machine: {}.", worked.restarts);
    println!("Job {} is stored in {}.", worked.job.id, path.display());
}
