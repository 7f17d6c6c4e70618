//! `hub`: what the page does about the shop's hub, without a screen.

use crate::bench::{Bench, BenchOptions};
use clap::Subcommand;
use evenwire_core::sync::{AtShop, Paired, Trouble};
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{Ask, HubView, Pushed, Reply, hub_of};
use evenwire_store::{DeliveryGlance, Glance, StoreError};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What is done about the hub.
#[derive(Clone, Debug, Subcommand)]
pub enum Deed {
    /// Ask a shop to take this device in, and wait until its office says yes or no.
    Pair {
        /// The text the office gave; - is standard input.
        invitation: String,
        /// What the device is to be called there.
        #[arg(long)]
        name: String,
    },
    /// Send what is not at the shop yet, and wait until all of it is there.
    Send,
    /// Say what is at the shop. The ledger is only read; another program may have it open.
    Status,
    /// Forget the shop. What was sent stays there.
    Unpair,
}

/// Does it. Exit code 0: done; for `status`: everything is there. 1: it could not be done, or something is not there.
pub fn run(database: PathBuf, deed: &Deed) -> ExitCode {
    if !database.is_file() {
        return failed(&format!("{}: there is no such ledger", database.display()));
    }
    let came = match deed {
        Deed::Status => status(&database),
        deed => at_bench(database, deed),
    };
    match came {
        Ok(words) => {
            println!("{words}");
            ExitCode::SUCCESS
        }
        Err(words) => failed(&words),
    }
}

fn status(database: &Path) -> Result<String, String> {
    let at = said(database).map_err(|e| format!("{}: {e}", database.display()))?;
    let view = hub_of(&at, Language::En);
    let words = format!("{} {}", view.words, view.progress);
    if view.complete { Ok(words) } else { Err(words.trim_end().to_owned()) }
}

fn said(database: &Path) -> Result<AtShop, StoreError> {
    let Some(book) = DeliveryGlance::at(database)? else { return Ok(AtShop::default()) };
    let Some(paired) = book.paired()? else { return Ok(AtShop::default()) };
    let (delivered, head) = (book.standing()?, Glance::at(database)?.head()?);
    let trouble = (head.device != paired.device).then_some(Trouble::OtherIdentity);
    Ok(AtShop {
        paired: Some(Paired { shop: paired.shop, device: paired.device_name }),
        entries: (delivered.stored_through, head.sequence),
        beside: (delivered.there, delivered.named),
        lost: delivered.lost,
        again: delivered.again,
        complete: delivered.complete,
        trouble,
        ..AtShop::default()
    })
}

fn at_bench(database: PathBuf, deed: &Deed) -> Result<String, String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|error| format!("the system gives no threads: {error}"))?;
    let bench = Bench::start(BenchOptions { radio: false, ..BenchOptions::on(database) });
    let bench = bench.map_err(|error| super::rescue::no_bench(&error))?;
    runtime.block_on(async {
        let done = perform(&bench, deed).await;
        if bench.close().await { done } else { Err("the bench did not end in time".into()) }
    })
}

async fn perform(bench: &Bench, deed: &Deed) -> Result<String, String> {
    match deed {
        Deed::Pair { invitation, name } => {
            let invitation = match invitation.as_str() {
                "-" => std::io::read_to_string(std::io::stdin()).map_err(|error| format!("standard input: {error}"))?,
                text => text.to_owned(),
            };
            told(bench.ask(Ask::PairWithShop { invitation, name: name.clone() }).await)?;
            taken_in(bench).await
        }
        Deed::Send => sent(bench).await,
        Deed::Unpair => told(bench.ask(Ask::LeaveShop).await).map(|()| "Not paired any more.".to_owned()),
        Deed::Status => Ok(String::new()),
    }
}

fn told(reply: Reply) -> Result<(), String> {
    match reply {
        Reply::Refused { notice, .. } | Reply::Failed { notice } => Err(format!("{} {}", notice.words, notice.remedy)),
        _ => Ok(()),
    }
}

/// Waits until the office said yes, and shows the six digits meanwhile.
async fn taken_in(bench: &Bench) -> Result<String, String> {
    let mut listener = bench.listen();
    let mut digits = String::new();
    while let Some(pushed) = listener.next().await {
        let Pushed::View { view } = pushed else { continue };
        let HubView { state, words, trouble, digits: shown, .. } = view.hub;
        if state == "asked" && shown != digits {
            eprintln!("{words}\n{shown}");
            digits = shown;
        }
        match (trouble, state.as_str()) {
            (None, "paired") => return Ok(words),
            // Before it is asked, this is what stood there before.
            (Some(trouble), "none" | "paired") if !digits.is_empty() => {
                return Err(format!("{} {}", trouble.words, trouble.remedy));
            }
            _ => {}
        }
    }
    Err("the bench has ended".into())
}

/// Waits until everything is there, and tells how far it is meanwhile.
async fn sent(bench: &Bench) -> Result<String, String> {
    let mut listener = bench.listen();
    let sent = bench.send_to_shop();
    tokio::pin!(sent);
    let mut before = String::new();
    loop {
        let pushed = tokio::select! {
            came = &mut sent => {
                came.map_err(|notice| format!("{} {}", notice.words, notice.remedy))?;
                return Ok("Everything on this device is at the shop.".to_owned());
            }
            pushed = listener.next() => pushed,
        };
        let Some(Pushed::View { view }) = pushed else { continue };
        if view.hub.sending && view.hub.progress != before {
            eprintln!("{}", view.hub.progress);
            before = view.hub.progress;
        }
    }
}

fn failed(words: &str) -> ExitCode {
    eprintln!("{words}");
    ExitCode::FAILURE
}
