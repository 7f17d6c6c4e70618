//! `serve`: the screens in a browser on this machine.

use crate::bench::{Bench, BenchOptions};
use crate::ending::told_to_end;
use crate::key_store;
use crate::serve::Server;
use evenwire_core::verdict::words::Language;
use evenwire_core::view;
use evenwire_store::Glance;
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

/// Serves until the process is told to end, and ends when everything a meter sent is written. Exit code 0: ended as
/// told; 1: the ledger cannot be opened, the port is taken, or the last samples were not written in time.
pub fn run(options: BenchOptions, port: u16) -> ExitCode {
    let database = options.database.clone();
    let bench = match Bench::start(options) {
        Ok(bench) => bench,
        Err(error) => {
            eprintln!("{}", super::rescue::no_bench(&error));
            return ExitCode::FAILURE;
        }
    };
    let runtime = match tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => {
            eprintln!("the system gives no threads: {error}");
            return ExitCode::FAILURE;
        }
    };
    let served = runtime.block_on(async {
        // Before anybody can know that it runs, and tell it to end.
        let end = told_to_end()?;
        let server = Server::bind(bench, port).await?;
        println!("The record is kept in {}.", database.display());
        println!("{}", key_words(&database));
        println!("Open this address in a browser on this machine: {}", server.address()?);
        std::io::stdout().flush()?;
        server.run(end).await
    });
    runtime.shutdown_background();
    match served {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => {
            eprintln!(
                "{}: the bench did not end in time; the last second of what a meter sent may be missing",
                database.display()
            );
            ExitCode::FAILURE
        }
        Err(error) => {
            eprintln!("port {port}: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Where the key lies, and whether it is to be had.
fn key_words(database: &Path) -> String {
    let kept = Glance::at(database).and_then(|ledger| ledger.kept_key());
    let Ok(Some(kept)) = kept else { return "The key of this device cannot be read.".into() };
    let words = view::key_place(kept.seed().is_none(), Language::En);
    match key_store::held(&kept) {
        Some(_) => words,
        None => format!("{words} It cannot be read there now: what is closed is signed once it can."),
    }
}
