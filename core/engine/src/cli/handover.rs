//! `handover`: a job goes to another device, as a file or over the network, without a screen.

use crate::bench::{Bench, BenchOptions};
use crate::claim;
use crate::ending::told_to_end;
use crate::near::NearSetting;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use clap::Subcommand;
use evenwire_core::job::Command;
use evenwire_core::view::{Ask, BenchView, Pushed, Reply};
use std::io::Write;
use std::net::IpAddr;
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
    /// Offer a job to a device on the same network: hands it over, if it is still here, prints the text which the other
    /// device needs, and waits until one has the job, ten minutes at most.
    Offer {
        /// The job, by its id.
        job: Uuid,
        /// To whom, in a few words.
        #[arg(long, default_value = "")]
        to: String,
        /// Where it is offered: an address of this machine that only a network near by has, or several; by default those
        /// it finds.
        #[arg(long)]
        address: Vec<IpAddr>,
    },
    /// Take over the job that a device on the same network offers. The ledger is made if it is not there.
    Fetch {
        /// The text that device shows, or - for standard input.
        text: String,
    },
}

/// Does it. Exit code 0: done. 1: refused, or a file, the ledger or the other device cannot be read or written to; nothing
/// was recorded then, but that a job which was offered and not fetched is handed over.
pub fn run(database: PathBuf, deed: &Deed) -> ExitCode {
    if !database.is_file() && !matches!(deed, Deed::Take { .. } | Deed::Fetch { .. }) {
        return failed(&format!("{}: there is no such ledger", database.display()));
    }
    match done(database, deed) {
        Ok(words) => {
            println!("{words}");
            ExitCode::SUCCESS
        }
        Err(words) => failed(&words),
    }
}

fn done(database: PathBuf, deed: &Deed) -> Result<String, String> {
    let options = BenchOptions { radio: false, ..BenchOptions::on(database.clone()) };
    let command = |command| Ask::Do { command };
    match deed {
        Deed::Again { job, out } => write((&database, *job), out),
        Deed::Take { file } => {
            let bytes = std::fs::read(file).map_err(|error| format!("{}: {error}", file.display()))?;
            let ask = Ask::TakeOver { file: STANDARD.encode(bytes) };
            at_bench(options, async |bench| perform(bench, ask, None).await)
        }
        // Before anything is recorded: what is there already is not written over.
        Deed::Give { out, .. } if out.exists() => Err(format!("{}: something is there already", out.display())),
        Deed::Give { job, out, to } => {
            let ask = command(Command::ReleaseJob { job: *job, to: to.clone() });
            at_bench(options, async |bench| perform(bench, ask, Some(*job)).await)?;
            write((&database, *job), out)
        }
        Deed::Back { job } => {
            let ask = command(Command::TakeJobBack { job: *job });
            at_bench(options, async |bench| perform(bench, ask, Some(*job)).await)
        }
        Deed::Offer { job, to, address } => {
            let addresses = Some(address.clone()).filter(|told| !told.is_empty());
            let near = NearSetting { addresses, ..NearSetting::default() };
            at_bench(BenchOptions { near, ..options }, async |bench| offer(bench, *job, to).await)
        }
        Deed::Fetch { text } => {
            let text = if text == "-" { std::io::read_to_string(std::io::stdin()) } else { Ok(text.clone()) };
            let ask = Ask::TakeOffer { text: text.map_err(|error| format!("standard input: {error}"))? };
            at_bench(options, async |bench| perform(bench, ask, None).await)
        }
    }
}

fn write((database, job): (&Path, Uuid), out: &Path) -> Result<String, String> {
    let bytes = claim::handed((database, job)).map_err(|e| format!("{}: {e}", database.display()))?;
    let written = std::fs::File::create_new(out).and_then(|mut file| {
        file.write_all(&bytes)?;
        file.sync_all()
    });
    written.map_err(|error| format!("{}: {error}", out.display()))?;
    Ok(format!("{}: handed over. Whoever takes it over needs this file and nothing else.", out.display()))
}

/// Does something at a bench.
fn at_bench(options: BenchOptions, deed: impl AsyncFnOnce(&Bench) -> Result<String, String>) -> Result<String, String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|error| format!("the system gives no threads: {error}"))?;
    let bench = Bench::start(options).map_err(|error| super::rescue::no_bench(&error))?;
    runtime.block_on(async {
        let done = deed(&bench).await;
        if bench.close().await { done } else { Err("the bench did not end in time".into()) }
    })
}

/// Asks it, with `job` on the bench first.
async fn perform(bench: &Bench, ask: Ask, job: Option<Uuid>) -> Result<String, String> {
    if let Some(job) = job {
        told(bench.ask(Ask::Do { command: Command::OpenJob { job } }).await)?;
    }
    told(bench.ask(ask).await)?;
    let on = shown(bench).await?;
    let words = on.hand.taken_over.join("\n");
    Ok(format!("{} ({}) is on this ledger.\n{words}", on.order, on.job).trim_end().to_owned())
}

/// The job on the bench.
async fn shown(bench: &Bench) -> Result<BenchView, String> {
    let Some(Pushed::View { view }) = bench.listen().next().await else { return Err("the bench has ended".into()) };
    view.bench.ok_or_else(|| "no job is on the bench".to_owned())
}

/// Offers a job, and waits for how that ends.
async fn offer(bench: &Bench, job: Uuid, to: &str) -> Result<String, String> {
    let ended = told_to_end().map_err(|error| format!("the system does not tell of its end: {error}"))?;
    told(bench.ask(Ask::Do { command: Command::OpenJob { job } }).await)?;
    if shown(bench).await?.hand.away.is_empty() {
        told(bench.ask(Ask::Do { command: Command::ReleaseJob { job, to: to.to_owned() } }).await)?;
    }
    told(bench.ask(Ask::Offer { job }).await)?;
    tokio::select! {
        how = waits(bench) => how,
        () = ended => Err("Ended. The job is handed over; whether somebody has it by this, the other device shows.".to_owned()),
    }
}

async fn waits(bench: &Bench) -> Result<String, String> {
    let (mut listener, mut text) = (bench.listen(), String::new());
    while let Some(pushed) = listener.next().await {
        let Pushed::View { view } = pushed else { continue };
        match (view.bench.and_then(|on| on.hand.offer), text.is_empty()) {
            (Some(offer), true) if offer.state == "open" => {
                println!("{}\n{}", offer.words, offer.text);
                std::io::stdout().flush().map_err(|error| format!("standard output: {error}"))?;
                text = offer.text;
            }
            (Some(offer), _) if offer.state == "handed-out" => return Ok(offer.words),
            (Some(offer), _) if offer.state == "over" => return Err(offer.words),
            (None, false) => return Err("It is not offered any more.".to_owned()),
            // A view of before it was offered, or one in which nothing came of it yet.
            _ => {}
        }
    }
    Err("the bench has ended".to_owned())
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
