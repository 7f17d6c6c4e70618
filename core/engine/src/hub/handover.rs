//! What other devices of the shop handed over, asked for beside the thread that sends.

use super::client::{Client, Fault, Meant, Who};
use super::line::{Network, Outside};
use super::round::on_disk;
use crate::key_store;
use evenwire_core::sync::{Trouble, WaitingJob};
use evenwire_store::{DeliveryGlance, Glance};
use std::path::Path;
use std::sync::Arc;
use uuid::Uuid;

/// What came of taking a job over.
#[derive(Debug)]
pub enum Fetched {
    /// The file, as the device wrote it that handed the job over.
    File(Vec<u8>),
    /// This device said so first, and it is its own.
    Taken {
        /// As the shop calls it.
        by: String,
    },
    /// It does not wait any more.
    Gone,
}

/// Jobs that wait to be taken over.
///
/// # Errors
/// [`Trouble`].
pub async fn waiting(ledger: &Path) -> Result<Vec<WaitingJob>, Trouble> {
    let (mut client, who) = reach(ledger, Arc::new(Network)).await?;
    Ok(client.handovers(&who).await.map_err(Fault::trouble)?.jobs)
}

/// Says that this device takes the job over, and fetches it. `anyway`: although another one said so first.
///
/// # Errors
/// [`Trouble`]; whether it was said is not known then, and it may be said again.
pub async fn fetch(ledger: &Path, job: Uuid, anyway: bool) -> Result<Fetched, Trouble> {
    let (mut client, who) = reach(ledger, Arc::new(Network)).await?;
    let taken = match client.take_over(&who, job).await {
        Err(fault) if fault.is("not-found") => return Ok(Fetched::Gone),
        taken => taken.map_err(Fault::trouble)?,
    };
    match taken.taken_by.filter(|_| !taken.yours && !anyway) {
        Some(by) => Ok(Fetched::Taken { by }),
        None => match client.handed_over(&who, job).await {
            Err(fault) if fault.is("not-found") => Ok(Fetched::Gone),
            file => file.map(Fetched::File).map_err(Fault::trouble),
        },
    }
}

/// The hub this device is paired with, and who asks.
async fn reach(ledger: &Path, outside: Arc<dyn Outside>) -> Result<(Client, Who), Trouble> {
    let book = DeliveryGlance::at(ledger).map_err(|e| on_disk(&e))?.ok_or(Trouble::NotPaired)?;
    let paired = book.paired().map_err(|e| on_disk(&e))?.ok_or(Trouble::NotPaired)?;
    let kept = Glance::at(ledger).and_then(|glance| glance.kept_key()).map_err(|e| on_disk(&e))?;
    let kept = kept.filter(|kept| kept.device == paired.device).ok_or(Trouble::OtherIdentity)?;
    let key = tokio::task::spawn_blocking(move || key_store::key_of(&kept).ok()).await;
    let key = key.ok().flatten().ok_or(Trouble::KeyAway)?;
    // Nothing of either file is held while the network is waited for.
    drop(book);
    let meant = Meant { hub: paired.hub, addresses: paired.addresses, authority: paired.authority };
    let client = Client::reach(&outside, &meant).await?;
    Ok((client, Who { device: paired.device, key }))
}
