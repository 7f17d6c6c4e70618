//! Devices' ledgers as they are here, and what a batch adds.

use super::batches::{self, Packed};
use super::connection::{Connection, Row};
use super::devices::{self, DeviceNumber};
use super::group::Claim;
use super::row::{MOST_SEQUENCE, all, change, id_or_none, one, place, sequence_at};
use super::{Storage, StorageError, beside, stale};
use evenwire_core::record::{Hash, PublicKey, Sealed};
use evenwire_core::sync::{Batch, PushRefused, Stored, Tail, Taken, take};
use std::collections::BTreeSet;
use std::sync::Arc;
use uuid::Uuid;

/// Whose batch it is and whom it is for.
#[derive(Clone, Copy, Debug)]
pub struct From {
    /// This hub.
    pub hub: Uuid,
    /// The device's number here.
    pub number: DeviceNumber,
    /// Its id.
    pub device: Uuid,
    /// Its key.
    pub key: PublicKey,
    /// Now.
    pub at_ms: i64,
}

/// Why a batch is not stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotStored {
    /// It does not go on from what is here.
    Refused(PushRefused),
    /// The device may not come any more.
    Revoked,
    /// Its numbers are higher than any ledger gets.
    Number,
}

/// A batch, and all its entries as they are kept.
struct Read {
    batch: Batch,
    packed: Packed,
}

fn read(from: From, sent: Vec<u8>) -> Result<Read, NotStored> {
    let batch = Batch::read(sent, (from.hub, from.device, &from.key)).map_err(NotStored::Refused)?;
    // Before its numbers become places.
    if batch.first_sequence().saturating_add(batch.len() as u64) > MOST_SEQUENCE {
        return Err(NotStored::Number);
    }
    let packed = batches::pack(from.number, batch.entries());
    Ok(Read { batch, packed })
}

impl Storage {
    /// Where a device's ledger ends here, and how much is missing beside it.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn tail(&self, number: DeviceNumber) -> Result<Tail, StorageError> {
        self.read(move |conn| {
            let row = devices::by_number(conn, number)?;
            Ok(Tail { next_sequence: row.tail.sequence + 1, hash: row.tail.hash, missing: row.missing })
        })
        .await
    }

    /// Takes a batch (JSON of a `PushAsk`): all of it is on the disk when this says so, or nothing of it is there.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn push(&self, from: From, sent: Vec<u8>) -> Result<Result<Stored, NotStored>, StorageError> {
        let reading = tokio::task::spawn_blocking(move || read(from, sent));
        let read = match reading.await.map_err(|_| StorageError::Closed)? {
            Ok(read) => Arc::new(read),
            Err(refused) => return Ok(Err(refused)),
        };
        let mut claim = Claim::Device(from.number);
        loop {
            // Held here until it is written: to let go of it is not the writer's work.
            let held = read.clone();
            let written = self.write_under((read.batch.len(), claim), move |conn| put(conn, from, (&held, claim)));
            if let Some(done) = written.await? {
                return Ok(done);
            }
            claim = Claim::Shop;
        }
    }

    /// Entries of a device's ledger from number `first` on, at most `most`, as they came.
    ///
    /// # Errors
    /// [`StorageError::Damaged`] when one is not as it was written.
    pub async fn entries(&self, number: DeviceNumber, first: u64, most: u32) -> Result<Vec<Sealed>, StorageError> {
        self.read(move |conn| {
            let mut found = batches::entries(conn, number, (first.clamp(1, MOST_SEQUENCE), most as usize))?;
            found.truncate(most as usize);
            Ok(found)
        })
        .await
    }

    /// A job's entries in each ledger that has some, as they came.
    ///
    /// # Errors
    /// [`StorageError::Damaged`] when one is not as it was written.
    pub async fn versions(&self, job: Uuid) -> Result<Vec<(DeviceNumber, Vec<Sealed>)>, StorageError> {
        self.read(move |conn| {
            let numbers = batches::devices_of(conn, job)?;
            let whole = |number| Ok((number, batches::of_job(conn, number, (job, MOST_SEQUENCE))?));
            numbers.into_iter().map(whole).collect()
        })
        .await
    }

    /// The first entry that differs of every batch that parted from a device's ledger, with the signature of its batch.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn forks(&self, number: DeviceNumber) -> Result<Vec<(u64, Vec<u8>, String)>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT sequence, bytes, jws FROM fork WHERE device = ?1 ORDER BY number";
            let read = |row: &Row<'_>| Ok((row.get::<i64>(0)? as u64, row.get(1)?, row.get(2)?));
            all(conn, (sql, (number.0,)), read, "reading forks")
        })
        .await
    }

    /// Entries of a device that this program does not understand: number, job, and why.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn quarantine(&self, number: DeviceNumber) -> Result<Vec<(u64, Option<Uuid>, String)>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT place, job, why FROM quarantine WHERE place >= ?1 AND place < ?2 ORDER BY place";
            let read = |row: &Row<'_>| Ok((sequence_at(row.get(0)?), id_or_none(row, 1)?, row.get(2)?));
            all(conn, (sql, (place(number.0, 0), place(number.0 + 1, 0))), read, "reading what is not understood")
        })
        .await
    }
}

/// Stores a batch, if it goes on from what is here. `None`: something follows from it that the claim does not let it write;
/// nothing was written.
fn put(
    conn: &Connection,
    from: From,
    (read, claim): (&Read, Claim),
) -> Result<Option<Result<Stored, NotStored>>, StorageError> {
    let Some(tail) = devices::tail_to_go_on(conn, from.number)? else { return Ok(Some(Err(NotStored::Revoked))) };
    let end = read.batch.first_sequence() + read.batch.len() as u64;
    let known = batches::hashes(conn, from.number, read.batch.first_sequence()..end.min(tail.sequence + 1))?;
    let taken = take((&tail, &known), &read.batch);
    let of_shop = match &taken {
        Ok(taken) => {
            let fresh = read.batch.entries().skip(taken.here);
            beside::are_of_shop(conn, fresh.flat_map(|(gist, _)| gist.means.iter().flatten()))?
        }
        // Evidence is numbered.
        Err(refused) => matches!(refused, PushRefused::Fork { .. }),
    };
    if of_shop && claim != Claim::Shop {
        return Ok(None);
    }
    match taken {
        Ok(taken) => keep(conn, from, (&taken, read)).map(|stored| Some(Ok(stored))),
        Err(refused) => {
            keep_fork(conn, from, (&refused, &read.batch))?;
            Ok(Some(Err(NotStored::Refused(refused))))
        }
    }
}

/// Writes what is fresh, and all that follows from it.
fn keep(conn: &Connection, from: From, (taken, read): (&Taken, &Read)) -> Result<Stored, StorageError> {
    let during = "storing entries";
    let number = from.number;
    let stored = Stored { stored_through: taken.head.sequence, hash: taken.head.hash };
    let fresh = || read.batch.entries().skip(taken.here);
    if fresh().len() == 0 {
        return devices::heard(conn, number, from.at_ms).map(|()| stored);
    }
    let packed_anew = (taken.here > 0).then(|| batches::pack(number, read.batch.entries().skip(taken.here)));
    batches::write(conn, from, (packed_anew.as_ref().unwrap_or(&read.packed), read.batch.head()))?;
    let mut jobs = BTreeSet::new();
    for (gist, _) in fresh() {
        let sequence = gist.link.sequence;
        for one in gist.means.iter().flatten() {
            beside::change_by(conn, (number, sequence), *one, from.at_ms)?;
        }
        if let (None, Some((kind, version))) = (&gist.means, &gist.kind) {
            let (here, job) = (place(number.0, sequence), gist.job.map(Uuid::into_bytes));
            let sql = "INSERT INTO quarantine (place, job, why) VALUES (?1, ?2, ?3)";
            change(conn, (sql, (here, job, format!("{kind} {version} is not known here"))), during)?;
        }
        jobs.extend(gist.job);
    }
    stale::mark_all(conn, number, jobs)?;
    devices::reach(conn, number, &taken.head, from.at_ms)?;
    Ok(stored)
}

/// Evidence of a fork: what came where another entry is, once.
fn keep_fork(conn: &Connection, from: From, (refused, batch): (&PushRefused, &Batch)) -> Result<(), StorageError> {
    let PushRefused::Fork { sequence } = refused else { return Ok(()) };
    let differs = batch.entries().find(|(gist, _)| gist.link.sequence == *sequence);
    let Some((_, bytes)) = differs else { return Ok(()) };
    let during = "keeping evidence of a fork";
    let kept =
        one(conn, ("SELECT count(*) FROM fork WHERE device = ?1", (from.number.0,)), |row| row.get::<i64>(0), during)?;
    // Whoever sends ever new ones tells nothing more with them.
    if kept.unwrap_or_default() >= MOST_FORKS {
        return Ok(());
    }
    let sql = "INSERT INTO fork (device, sequence, hash, bytes, jws, seen_ms) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
               ON CONFLICT DO NOTHING";
    let values = (from.number.0, *sequence as i64, Hash::of(bytes).0, bytes, batch.head(), from.at_ms);
    change(conn, (sql, values), during).map(drop)
}

/// Pieces of evidence kept for one device at most.
const MOST_FORKS: i64 = 100;
