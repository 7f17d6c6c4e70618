//! `erase`: the personal details and photos of one job, or of all that are old, go for ever.

use crate::bench::{Bench, BenchOptions};
use evenwire_core::job::Command;
use evenwire_core::view::{Ask, Reply};
use std::path::PathBuf;
use std::process::ExitCode;

/// Does it at the ledger, which no other program may have open. Exit code 0: done; 1: refused, or the ledger cannot be
/// opened.
pub fn run(database: PathBuf, command: Command) -> ExitCode {
    // A ledger is not made here: erasing in a new one would look like having erased.
    if !database.is_file() {
        return failed(&format!("{}: there is no such ledger", database.display()));
    }
    let options = BenchOptions { radio: false, ..BenchOptions::on(database) };
    let bench = match Bench::start(options) {
        Ok(bench) => bench,
        Err(error) => return failed(&error.to_string()),
    };
    let runtime = match tokio::runtime::Builder::new_current_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => return failed(&format!("the system gives no threads: {error}")),
    };
    runtime.block_on(async {
        let done = at(&bench, command).await;
        let closed = bench.close().await;
        match done {
            Ok(words) if closed => {
                println!("{words}");
                ExitCode::SUCCESS
            }
            Ok(_) => failed("the bench did not end in time"),
            Err(words) => failed(&words),
        }
    })
}

async fn at(bench: &Bench, command: Command) -> Result<String, String> {
    let words = match command {
        Command::EraseOlder { months } => match bench.ask(Ask::LookAtErasing { months }).await {
            Reply::Erasing { words, .. } => words,
            _ => String::new(),
        },
        _ => String::new(),
    };
    match bench.ask(Ask::Do { command }).await {
        Reply::Refused { notice, .. } | Reply::Failed { notice } => Err(format!("{} {}", notice.words, notice.remedy)),
        _ => Ok(format!("Erased. {words}").trim_end().to_owned()),
    }
}

fn failed(words: &str) -> ExitCode {
    eprintln!("{words}");
    ExitCode::FAILURE
}
