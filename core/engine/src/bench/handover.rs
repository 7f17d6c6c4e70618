//! A job from another device, as a file or from the shop, fetched and looked at beside the bench's thread.

use super::faults;
use crate::hub::{self, Fetched};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::claim::{ClaimFault, Handed, NotHanded, handed};
use evenwire_core::job::{HandRefusal, Refusal};
use evenwire_core::record::HandedFault;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{self, Reply};
use std::path::Path;
use uuid::Uuid;

/// The job in a file, base64 of it; or what is wrong with it, in words. Takes as long as reading and hashing all of it.
pub(super) fn read(file: &str) -> Result<Box<Handed>, HandRefusal> {
    let bytes =
        STANDARD.decode(file.trim()).map_err(|_| HandRefusal::File { what: "it did not arrive whole".into() })?;
    looked_at(&bytes)
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

/// A job that waits at the shop, or what is said instead.
pub(super) async fn from_shop(
    (ledger, job): (&Path, Uuid),
    anyway: bool,
    language: Language,
) -> Result<Box<Handed>, Reply> {
    let said = |refusal: HandRefusal| Reply::refused(refusal.into(), language);
    match hub::fetch(ledger, job, anyway).await {
        Ok(Fetched::File(bytes)) => match tokio::task::spawn_blocking(move || looked_at(&bytes)).await {
            Ok(looked) => looked.map_err(said),
            Err(_) => Err(Reply::Failed { notice: faults::bug(language) }),
        },
        Ok(Fetched::Taken { by }) => Err(said(HandRefusal::Taken { by })),
        Ok(Fetched::Gone) => Err(Reply::refused(Refusal::NoSuchJob, language)),
        Err(trouble) => Err(Reply::Failed { notice: view::hub_notice(trouble, language) }),
    }
}
