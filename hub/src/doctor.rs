//! Looks at everything a hub keeps, and says what is not as it was written.

use crate::behind;
use crate::blobs::Blobs;
use crate::storage::{DeviceRow, EntryRow, Storage, StorageError};
use evenwire_core::record::{Hash, Head, Sealed};
use evenwire_core::sync::PushHead;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Entries looked at between two reads.
const AT_ONCE: u32 = 500;

/// What was looked at, and what was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Found {
    /// Ledgers.
    pub ledgers: u64,
    /// Entries, each with its hash, its place in the chain and what is noted of it.
    pub entries: u64,
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
    files(storage, blobs, &mut found).await?;
    if found.wrong.is_empty() {
        lines(storage, blobs, &mut found).await?;
    }
    Ok(found)
}

async fn ledger(storage: &Storage, (device, hub): (&DeviceRow, Uuid), found: &mut Found) -> Result<(), StorageError> {
    found.ledgers += 1;
    let mut ends: BTreeMap<u64, String> = storage.push_heads(device.number).await?.into_iter().collect();
    let mut head: Option<Head> = None;
    loop {
        let from = head.as_ref().map_or(1, |head| head.sequence + 1);
        let rows = storage.rows(device.number, from, AT_ONCE).await?;
        if rows.is_empty() {
            break;
        }
        for row in rows {
            match follow(head.as_ref(), &row) {
                Ok(next) => head = Some(next),
                Err(why) => {
                    found.wrong.push(format!("device {}, entry {}: {why}", device.id, row.sequence));
                    return Ok(());
                }
            }
            found.entries += 1;
            let Some(jws) = ends.remove(&row.sequence) else { continue };
            found.signatures += 1;
            let expected = PushHead { hub, device: device.id, sequence: row.sequence, hash: row.hash };
            if PushHead::verify(&device.key, &jws).ok() != Some(expected) {
                let what = format!("device {}, entry {}: its batch is not signed", device.id, row.sequence);
                found.wrong.push(what);
            }
        }
    }
    let end = head.unwrap_or_else(|| Head::empty(device.id));
    if (end.sequence, end.hash) != (device.tail.sequence, device.tail.hash) {
        let (said, there) = (device.tail.sequence, end.sequence);
        found.wrong.push(format!("device {}: its ledger ends with {there}, but {said} is noted", device.id));
    }
    Ok(())
}

/// The end of the ledger with that entry, if it follows and is noted as what it is.
fn follow(head: Option<&Head>, row: &EntryRow) -> Result<Head, String> {
    let sealed = Sealed::read(row.bytes.clone()).map_err(|error| error.to_string())?;
    let entry = sealed.entry();
    if sealed.hash() != row.hash {
        return Err("its bytes are not those that came".to_owned());
    }
    if (entry.sequence, &entry.kind, entry.job) != (row.sequence, &row.kind, row.job) {
        return Err("it stands under another number, kind or job than its own".to_owned());
    }
    let empty = Head::empty(entry.device);
    head.unwrap_or(&empty).after(&sealed).map_err(|error| error.to_string())
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
