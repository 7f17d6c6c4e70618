//! `handover`: a job goes to another device as a file, without a screen.

use crate::bench::{Bench, BenchOptions};
use crate::claim;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use clap::Subcommand;
use evenwire_core::job::Command;
use evenwire_core::view::{Ask, Pushed, Reply};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use uuid::Uuid;

/// What is done about handing over.
#[derive(Clone, Debug, Subcommand)]
pub enum Deed {
    /// Hand a job over: the ledger does not go on with it, and the file goes to whoever does.
    Give {
        /// The job, by its id.
        job: Uuid,
        /// The file to write; nothing is written over.
        out: PathBuf,
        /// To whom, in a few words.
        #[arg(long, default_value = "")]
        to: String,
    },
    /// Write the file of a job that was handed over once more. The ledger is only read.
    Again {
        /// The job, by its id.
        job: Uuid,
        /// The file to write; nothing is written over.
        out: PathBuf,
    },
    /// Go on with a job that was handed over after all. Where it was taken over there are two versions from then on.
    Back {
        /// The job, by its id.
        job: Uuid,
    },
    /// Take over the job in a file that another device wrote. The ledger is made if it is not there.
    Take {
        /// The file.
        file: PathBuf,
    },
}

/// Does it. Exit code 0: done. 1: refused, or a file or the ledger cannot be read or written; nothing was recorded then.
pub fn run(database: PathBuf, deed: &Deed) -> ExitCode {
    if !database.is_file() && !matches!(deed, Deed::Take { .. }) {
        return failed(&format!("{}: there is no such ledger", database.display()));
    }
    let came = match deed {
        Deed::Again { job, out } => write((&database, *job), out),
        Deed::Take { file } => match std::fs::read(file) {
            Ok(bytes) => at_bench(database, Ask::TakeOver { file: STANDARD.encode(bytes) }, None),
            Err(error) => Err(format!("{}: {error}", file.display())),
        },
        // Before anything is recorded: what is there already is not written over.
        Deed::Give { out, .. } if out.exists() => Err(format!("{}: something is there already", out.display())),
        Deed::Give { job, out, to } => {
            let command = Command::ReleaseJob { job: *job, to: to.clone() };
            at_bench(database.clone(), Ask::Do { command }, Some(*job)).and_then(|_| write((&database, *job), out))
        }
        Deed::Back { job } => at_bench(database, Ask::Do { command: Command::TakeJobBack { job: *job } }, Some(*job)),
    };
    match came {
        Ok(words) => {
            println!("{words}");
            ExitCode::SUCCESS
        }
        Err(words) => failed(&words),
    }
}

fn write((database, job): (&Path, Uuid), out: &Path) -> Result<String, String> {
    let bytes = claim::handed((database, job)).map_err(|e| format!("{}: {e}", database.display()))?;
    let written = std::fs::File::create_new(out).and_then(|mut file| {
        std::io::Write::write_all(&mut file, &bytes)?;
        file.sync_all()
    });
    written.map_err(|error| format!("{}: {error}", out.display()))?;
    Ok(format!("{}: handed over. Whoever takes it over needs this file and nothing else.", out.display()))
}

/// Asks a bench at the ledger, with `job` on it first.
fn at_bench(database: PathBuf, ask: Ask, job: Option<Uuid>) -> Result<String, String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|error| format!("the system gives no threads: {error}"))?;
    let bench = Bench::start(BenchOptions { radio: false, ..BenchOptions::on(database) });
    let bench = bench.map_err(|error| super::rescue::no_bench(&error))?;
    runtime.block_on(async {
        let done = perform(&bench, ask, job).await;
        if bench.close().await { done } else { Err("the bench did not end in time".into()) }
    })
}

async fn perform(bench: &Bench, ask: Ask, job: Option<Uuid>) -> Result<String, String> {
    if let Some(job) = job {
        told(bench.ask(Ask::Do { command: Command::OpenJob { job } }).await)?;
    }
    told(bench.ask(ask).await)?;
    let Some(Pushed::View { view }) = bench.listen().next().await else { return Err("the bench has ended".into()) };
    let on = view.bench.ok_or("no job is on the bench")?;
    let words = on.hand.taken_over.join("\n");
    Ok(format!("{} ({}) is on this ledger.\n{words}", on.order, on.job).trim_end().to_owned())
}

fn told(reply: Reply) -> Result<(), String> {
    match reply {
        Reply::Refused { notice, .. } | Reply::Failed { notice } => Err(format!("{} {}", notice.words, notice.remedy)),
        _ => Ok(()),
    }
}

fn failed(words: &str) -> ExitCode {
    eprintln!("{words}");
    ExitCode::FAILURE
}
