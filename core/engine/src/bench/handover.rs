//! A job from another device, as a file, from the shop or over the network, fetched and looked at beside the bench's thread.

use super::{Bench, faults};
use crate::hub::{self, Fetched};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::claim::{ClaimFault, Handed, NotHanded, handed};
use evenwire_core::job::{HandRefusal, Refusal};
use evenwire_core::record::HandedFault;
use evenwire_core::session::beyond;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{self, Ask, BenchView, Reply};
use evenwire_store::Glance;
use std::path::Path;
use uuid::Uuid;

impl Bench {
    /// The job that somebody wants to take over, looked at; or what is said instead.
    pub(super) async fn handed(&self, ask: Ask) -> Result<Box<Handed>, Reply> {
        match ask {
            Ask::TakeOver { file } => {
                let language = self.language();
                let read = move || match STANDARD.decode(file.trim()) {
                    Ok(bytes) => looked_at(&bytes),
                    Err(_) => Err(HandRefusal::File { what: "it did not arrive whole".into() }),
                };
                beside(read, language).await
            }
            Ask::TakeFromShop { job, anyway } => self.handed_by_shop(job, anyway).await,
            Ask::TakeOffer { text } => self.handed_nearby(&text).await,
            _ => Err(Reply::refused(Refusal::NoSuchJob, self.language())),
        }
    }

    /// A job that waits at the shop.
    async fn handed_by_shop(&self, job: Uuid, anyway: bool) -> Result<Box<Handed>, Reply> {
        let language = self.language();
        match hub::fetch(&self.papers.database, job, anyway).await {
            Ok(Fetched::File(bytes)) => beside(move || looked_at(&bytes), language).await,
            Ok(Fetched::Taken { by }) => Err(Reply::refused(HandRefusal::Taken { by }.into(), language)),
            Ok(Fetched::Gone) => Err(Reply::refused(Refusal::NoSuchJob, language)),
            Err(trouble) => Err(Reply::Failed { notice: view::hub_notice(trouble, language) }),
        }
    }

    /// A job that a device on the same network offers. That device is asked whether it may be kept when all of it was
    /// looked at and nothing here stands in the way, for it says yes only once.
    async fn handed_nearby(&self, text: &str) -> Result<Box<Handed>, Reply> {
        let language = self.language();
        let failed = |trouble| Reply::Failed { notice: view::offer_notice(trouble, language) };
        let mut fetched = self.near.fetch(text).await.map_err(failed)?;
        let file = std::mem::take(&mut fetched.file);
        let database = self.papers.database.clone();
        let look = move || {
            let handed = looked_at(&file)?;
            // What cannot be read is said by the bench, which reads it again.
            let here = Glance::at(&database).and_then(|ledger| ledger.entries_of(handed.job)).unwrap_or_default();
            beyond(&here, &handed.entries)?;
            Ok(handed)
        };
        let handed = beside(look, language).await?;
        let other = |on: &BenchView| on.job != handed.job.to_string();
        if self.views.borrow().bench.as_ref().is_some_and(other) {
            return Err(Reply::refused(Refusal::BenchTaken, language));
        }
        fetched.keep().await.map_err(failed)?;
        Ok(handed)
    }
}

/// Looking at every byte of a job is not the bench's: it takes as long as reading and hashing all of it.
async fn beside(
    look: impl FnOnce() -> Result<Box<Handed>, HandRefusal> + Send + 'static,
    language: Language,
) -> Result<Box<Handed>, Reply> {
    match tokio::task::spawn_blocking(look).await {
        Ok(looked) => looked.map_err(|refusal| Reply::refused(refusal.into(), language)),
        Err(_) => Err(Reply::Failed { notice: faults::bug(language) }),
    }
}

fn looked_at(bytes: &[u8]) -> Result<Box<Handed>, HandRefusal> {
    handed(bytes).map(Box::new).map_err(|fault| refused(&fault))
}

/// What is said to the person of a fault.
fn refused(fault: &NotHanded) -> HandRefusal {
    match fault {
        NotHanded::File(ClaimFault::Newer(_)) => HandRefusal::NewerFile,
        NotHanded::Entries(HandedFault::NotReleased) => HandRefusal::NotReleased,
        fault => HandRefusal::File { what: fault.to_string() },
    }
}

/// What waits at the shop.
pub(super) async fn waiting(ledger: &Path, language: Language) -> Reply {
    match hub::waiting(ledger).await {
        Ok(jobs) => view::waiting(jobs, language),
        Err(trouble) => Reply::Failed { notice: view::hub_notice(trouble, language) },
    }
}
