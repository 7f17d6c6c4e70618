//! `people`: the roster of a ledger.

use crate::bench::{Bench, BenchOptions};
use clap::Subcommand;
use evenwire_core::job::Command;
use evenwire_core::record::Pin;
use evenwire_core::view::{Ask, PersonLine, Pushed, Reply};
use std::io::BufRead;
use std::path::PathBuf;
use std::process::ExitCode;

/// What is done with the roster.
#[derive(Clone, Debug, Subcommand)]
pub enum Deed {
    /// Print who may sign, one JSON object a line: person, name, role, locked.
    List,
    /// Add somebody. The PIN, 4 to 12 digits, is the first line of standard input: on a command line others could read it.
    Add {
        /// The name.
        name: String,
        /// What the person does in the shop.
        #[arg(long, default_value = "")]
        role: String,
    },
    /// Take somebody off. What was signed stays signed.
    Remove {
        /// The name, as listed.
        name: String,
    },
}

/// Does it at the ledger, which no other program may have open. Exit code 0: done; 1: refused, or the ledger cannot be
/// opened.
pub fn run(database: PathBuf, deed: &Deed) -> ExitCode {
    let options = BenchOptions { radio: false, ..BenchOptions::on(database) };
    let bench = match Bench::start(options) {
        Ok(bench) => bench,
        Err(error) => return failed(&super::rescue::no_bench(&error)),
    };
    let runtime = match tokio::runtime::Builder::new_current_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => return failed(&format!("the system gives no threads: {error}")),
    };
    runtime.block_on(async {
        let done = at(&bench, deed).await;
        let closed = bench.close().await;
        match done {
            Ok(()) if closed => ExitCode::SUCCESS,
            Ok(()) => failed("the bench did not end in time"),
            Err(words) => failed(&words),
        }
    })
}

async fn at(bench: &Bench, deed: &Deed) -> Result<(), String> {
    match deed {
        Deed::List => {
            for line in people(bench).await? {
                println!("{}", serde_json::to_string(&line).expect("texts only"));
            }
            Ok(())
        }
        Deed::Add { name, role } => {
            let mut typed = String::new();
            std::io::stdin().lock().read_line(&mut typed).map_err(|error| format!("standard input: {error}"))?;
            tell(bench, Command::AddPerson { name: name.clone(), pin: Pin::typed(&typed), role: role.clone() }).await
        }
        Deed::Remove { name } => {
            let line = people(bench).await?.into_iter().find(|line| line.name == *name);
            let line = line.ok_or_else(|| format!("Nobody called {name} is on the roster."))?;
            let person = line.person.parse().map_err(|_| format!("{} is no id", line.person))?;
            tell(bench, Command::RemovePerson { person }).await
        }
    }
}

async fn people(bench: &Bench) -> Result<Vec<PersonLine>, String> {
    match bench.listen().next().await {
        Some(Pushed::View { view }) => Ok(view.people),
        _ => Err("the bench shows nothing".into()),
    }
}

async fn tell(bench: &Bench, command: Command) -> Result<(), String> {
    match bench.ask(Ask::Do { command }).await {
        Reply::Refused { notice, .. } | Reply::Failed { notice } => Err(format!("{} {}", notice.words, notice.remedy)),
        _ => Ok(()),
    }
}

fn failed(words: &str) -> ExitCode {
    eprintln!("{words}");
    ExitCode::FAILURE
}
