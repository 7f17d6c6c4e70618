//! The app's process, and what it left in its ledger.

use super::app;
use evenwire_core::job::Job;
use evenwire_store::Store;
use std::fs;
use std::path::Path;
use std::process::Command;
use uuid::Uuid;

/// Sends `signal` to the app that keeps its record in `folder`: `-KILL` ends it without warning, as a flat battery
/// would, `-TERM` is what logging off does.
///
/// # Panics
/// When it is not exactly one app.
pub fn signal_app(signal: &str, folder: &Path) {
    let program = fs::canonicalize(app()).expect("it was just run");
    let database = format!("EVENWIRE_DB={}", folder.join("evenwire.db").display());
    let is_ours = |process: &Path| {
        let environment = fs::read(process.join("environ")).unwrap_or_default();
        fs::read_link(process.join("exe")).is_ok_and(|exe| exe == program)
            && environment.split(|byte| *byte == 0).any(|set| set == database.as_bytes())
    };
    let processes = fs::read_dir("/proc").expect("this is a Linux").filter_map(|entry| Some(entry.ok()?.path()));
    let ours: Vec<_> = processes.filter(|process| is_ours(process)).collect();
    let [ours] = ours.as_slice() else { panic!("one app keeps its record there, not {ours:?}") };
    let id = ours.file_name().expect("a process has a number");
    assert!(Command::new("kill").arg(signal).arg(id).status().expect("kill is there").success());
}

/// The one job in the ledger in `folder`, read from its entries.
///
/// # Panics
/// When there is another number of them, or something in the ledger is damaged.
pub fn job_in(folder: &Path) -> Job {
    let store = Store::open(&folder.join("evenwire.db"), Uuid::nil()).expect("the ledger can be opened");
    let (lines, more) = store.jobs("", 0, 10).expect("the list can be read");
    assert_eq!((lines.len(), more), (1, false));
    assert!(store.check().expect("it can be looked through").is_whole());
    Job::from_entries(&store.entries_of(lines[0].job).expect("its entries can be read")).expect("they make a job")
}
