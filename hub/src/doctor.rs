//! Looks at everything a hub keeps, and says what is not as it was written.

use crate::behind;
use crate::blobs::Blobs;
use crate::storage::{BatchRow, DeviceRow, Storage, StorageError};
use evenwire_core::record::{Hash, Head, Sealed};
use evenwire_core::sync::PushHead;
use uuid::Uuid;

/// What was looked at, and what was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Found {
    /// Ledgers.
    pub ledgers: u64,
    /// Entries, each with its hash and its place in the chain.
    pub entries: u64,
    /// What is noted of where entries of one job stand, compared with the entries.
    pub runs: u64,
    /// Signatures of batches.
    pub signatures: u64,
    /// Files, each with its hash.
    pub blobs: u64,
    /// Lines, compared with what the entries tell.
    pub lines: u64,
    /// Files that devices should bring again: they were here and are not, or are not what they were.
    pub lost: Vec<Hash>,
    /// What is wrong, a line each.
    pub wrong: Vec<String>,
}

/// Looks at all of it. Lines that are stale are made first.
///
/// # Errors
/// [`StorageError`] when it cannot be looked at.
pub async fn examine(storage: &Storage, blobs: &Blobs, hub: Uuid) -> Result<Found, StorageError> {
    let mut found = Found { wrong: storage.sound().await?, ..Found::default() };
    for device in storage.devices().await? {
        ledger(storage, (&device, hub), &mut found).await?;
    }
    let noted = storage.all_runs().await?;
    if found.wrong.is_empty() && noted != found.runs {
        found.wrong.push(format!("{noted} places of jobs are noted where {} are", found.runs));
    }
    files(storage, blobs, &mut found).await?;
    if found.wrong.is_empty() {
        lines(storage, blobs, &mut found).await?;
    }
    Ok(found)
}

async fn ledger(storage: &Storage, (device, hub): (&DeviceRow, Uuid), found: &mut Found) -> Result<(), StorageError> {
    found.ledgers += 1;
    let mut head: Option<Head> = None;
    while let Some(batch) = storage.batch(device.number, head.as_ref().map_or(1, |head| head.sequence + 1)).await? {
        let entries = match followed(head.as_ref(), &batch) {
            Ok((entries, end)) => {
                head = Some(end);
                entries
            }
            Err(why) => {
                found.wrong.push(format!("device {}, {why}", device.id));
                return Ok(());
            }
        };
        found.entries += entries.len() as u64;
        let Some(last) = entries.last() else { continue };
        let (sequence, hash) = (last.entry().sequence, last.hash());
        let mut wrong = |what| found.wrong.push(format!("device {}, entry {sequence}: {what}", device.id));
        found.signatures += 1;
        let expected = PushHead { hub, device: device.id, sequence, hash };
        if PushHead::verify(&device.key, &batch.jws).ok() != Some(expected) {
            wrong("its batch is not signed");
        }
        match storage.runs_noted(device.number, &batch, &entries).await? {
            Some(runs) => found.runs += runs,
            None => wrong("what is noted of its batch is not what stands there"),
        }
    }
    let end = head.unwrap_or_else(|| Head::empty(device.id));
    if (end.sequence, end.hash) != (device.tail.sequence, device.tail.hash) {
        let (said, there) = (device.tail.sequence, end.sequence);
        found.wrong.push(format!("device {}: its ledger ends with {there}, but {said} is noted", device.id));
    }
    Ok(())
}

/// The entries of a batch and the end of the ledger with them, if they are what came and follow.
fn followed(head: Option<&Head>, batch: &BatchRow) -> Result<(Vec<Sealed>, Head), String> {
    let first = batch.first_sequence();
    let parts = batch.parts().map_err(|error| format!("entry {first}: {error}"))?;
    let (mut entries, mut head) = (Vec::with_capacity(parts.len()), head.cloned());
    for (sequence, (hash, bytes)) in (first..).zip(parts) {
        let sealed = Sealed::read(bytes.to_vec()).map_err(|error| format!("entry {sequence}: {error}"))?;
        if sealed.hash() != hash {
            return Err(format!("entry {sequence}: its bytes are not those that came"));
        }
        if sealed.entry().sequence != sequence {
            return Err(format!("entry {sequence}: entry {} stands there", sealed.entry().sequence));
        }
        let before = head.unwrap_or_else(|| Head::empty(sealed.entry().device));
        head = Some(before.after(&sealed).map_err(|error| format!("entry {sequence}: {error}"))?);
        entries.push(sealed);
    }
    Ok((entries, head.ok_or_else(|| format!("entry {first}: nothing is in its batch"))?))
}

async fn files(storage: &Storage, blobs: &Blobs, found: &mut Found) -> Result<(), StorageError> {
    let mut after = None;
    loop {
        let noted = storage.noted_blobs(after).await?;
        let Some(last) = noted.last().copied() else { return Ok(()) };
        for hash in noted {
            found.blobs += 1;
            match blobs.get(hash).await {
                Ok(Some(_)) => {}
                Ok(None) => found.lost.push(hash),
                Err(StorageError::Damaged { .. }) => found.lost.push(hash),
                Err(error) => return Err(error),
            }
        }
        after = Some(last);
    }
}

/// What is kept is what would be made anew.
async fn lines(storage: &Storage, blobs: &Blobs, found: &mut Found) -> Result<(), StorageError> {
    behind::make_lines(storage, blobs).await?;
    let before = storage.all_lines().await?;
    storage.forget_lines().await?;
    behind::make_lines(storage, blobs).await?;
    let after = storage.all_lines().await?;
    found.lines = after.len() as u64;
    if before != after {
        let differ = before.iter().filter(|row| !after.contains(row)).count().max(1);
        found.wrong.push(format!("{differ} lines were not as their entries tell; they were made anew"));
    }
    Ok(())
}
