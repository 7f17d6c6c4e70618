//! Devices' ledgers as they are here, and what a batch adds.

use super::connection::{Connection, Row};
use super::devices::{self, DeviceNumber};
use super::row::{MOST_SEQUENCE, all, change, hash, id_or_none, one, place, sequence_at};
use super::{Storage, StorageError, beside};
use evenwire_core::record::{Hash, Head, PublicKey, Sealed, Telling};
use evenwire_core::sync::{Batch, BesideChange, PushAsk, PushRefused, Stored, Tail, Taken, meaning, take};
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

/// A batch, and what each of its entries does to what stands beside the entries, if it is understood.
struct Read {
    batch: Batch,
    means: Vec<Option<Vec<BesideChange>>>,
}

/// What was looked at before the writer is asked, so that it only has to write.
struct Looked {
    tail: Head,
    found: Result<Taken, PushRefused>,
}

/// What is here of a device's ledger, as far as a batch touches it.
fn known(conn: &Connection, number: DeviceNumber, batch: &Batch) -> Result<(Head, Vec<Hash>), StorageError> {
    let tail = devices::tail(conn, number)?;
    let from = batch.first_sequence().clamp(1, MOST_SEQUENCE);
    let to = from.saturating_add(batch.entries().len() as u64).min(MOST_SEQUENCE);
    let sql = "SELECT hash FROM entry WHERE place >= ?1 AND place < ?2 ORDER BY place";
    let places = (place(number.0, from), place(number.0, to));
    let hashes = all(conn, (sql, places), |row| hash(row, 0), "reading what is here of a batch")?;
    Ok((tail, hashes))
}

fn look(conn: &Connection, from: From, batch: &Batch) -> Result<Looked, StorageError> {
    let (tail, known) = known(conn, from.number, batch)?;
    let found = take((&tail, &known), (from.hub, from.device, &from.key), batch);
    Ok(Looked { tail, found })
}

fn read(ask: PushAsk) -> Result<Read, PushRefused> {
    let batch = Batch::read(ask)?;
    let means = batch.entries().iter().map(meaning).collect();
    Ok(Read { batch, means })
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

    /// Takes a batch: all of it is on the disk when this says so, or nothing of it is there.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn push(&self, from: From, ask: PushAsk) -> Result<Result<Stored, NotStored>, StorageError> {
        let last = ask.first_sequence.saturating_add(ask.entries.len() as u64);
        if last > MOST_SEQUENCE {
            return Ok(Err(NotStored::Number));
        }
        let reading = tokio::task::spawn_blocking(move || read(ask)).await.map_err(|_| StorageError::Closed)?;
        let read = match reading {
            Ok(read) => Arc::new(read),
            Err(refused) => return Ok(Err(NotStored::Refused(refused))),
        };
        let asked = read.clone();
        let looked = self.read(move |conn| look(conn, from, &asked.batch)).await?;
        // Held until it is written: to let go of it is not the writer's work.
        let held = read.clone();
        let written = self.write(move |conn| {
            if devices::is_revoked(conn, from.number)? {
                return Ok(Err(NotStored::Revoked));
            }
            // The same device may have sent by two ways at once; then it is looked at again where nobody else writes.
            let still = devices::tail(conn, from.number)? == looked.tail;
            let looked = if still { looked } else { look(conn, from, &read.batch)? };
            match looked.found {
                Err(refused) => {
                    keep_fork(conn, from, (&refused, &read.batch))?;
                    Ok(Err(NotStored::Refused(refused)))
                }
                Ok(taken) => keep(conn, from, (&taken, &read)).map(Ok),
            }
        });
        let written = written.await;
        drop(held);
        written
    }

    /// Entries of a device's ledger from number `first` on, at most `most`, as they came.
    ///
    /// # Errors
    /// [`StorageError::Damaged`] when one is not as it was written.
    pub async fn entries(&self, number: DeviceNumber, first: u64, most: u32) -> Result<Vec<Sealed>, StorageError> {
        self.read(move |conn| {
            let first = first.clamp(1, MOST_SEQUENCE);
            let sql = "SELECT bytes, hash FROM entry WHERE place >= ?1 AND place < ?2 ORDER BY place LIMIT ?3";
            let places = (place(number.0, first), place(number.0 + 1, 0), most);
            whole(all(conn, (sql, places), |row| Ok((row.get(0)?, hash(row, 1)?)), "reading a ledger")?)
        })
        .await
    }

    /// A job's entries in each ledger that has some, as they came.
    ///
    /// # Errors
    /// [`StorageError::Damaged`] when one is not as it was written.
    pub async fn versions(&self, job: Uuid) -> Result<Vec<(DeviceNumber, Vec<Sealed>)>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT DISTINCT place >> 40 FROM entry WHERE job = ?1 ORDER BY 1";
            let numbers = all(conn, (sql, (job.into_bytes(),)), |row| row.get(0).map(DeviceNumber), "reading a job")?;
            numbers.into_iter().map(|number| Ok((number, of_job(conn, number, job)?))).collect()
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

    /// Ends of batches as the device signed them: number of the last entry, and the signature. Oldest first.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn push_heads(&self, number: DeviceNumber) -> Result<Vec<(u64, String)>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT place, jws FROM push_head WHERE place >= ?1 AND place < ?2 ORDER BY place";
            let read = |row: &Row<'_>| Ok((sequence_at(row.get(0)?), row.get(1)?));
            all(conn, (sql, (place(number.0, 0), place(number.0 + 1, 0))), read, "reading signatures")
        })
        .await
    }
}

/// A job's entries in one ledger.
pub(super) fn of_job(conn: &Connection, number: DeviceNumber, job: Uuid) -> Result<Vec<Sealed>, StorageError> {
    let sql = "SELECT bytes, hash FROM entry WHERE job = ?1 AND place >= ?2 AND place < ?3 ORDER BY place";
    let values = (job.into_bytes(), place(number.0, 0), place(number.0 + 1, 0));
    whole(all(conn, (sql, values), |row| Ok((row.get(0)?, hash(row, 1)?)), "reading a job")?)
}

/// The hashes of a job's entries in one ledger up to one of them, as they are signed and compared: see [`Telling`].
pub(super) fn told(
    conn: &Connection,
    number: DeviceNumber,
    (job, through): (Uuid, u64),
) -> Result<Vec<Hash>, StorageError> {
    // Only of what came from another device the bytes are needed: its own hash stands in them.
    let sql = "SELECT kind, hash, CASE WHEN kind = 'carried' THEN bytes END FROM entry
               WHERE job = ?1 AND place > ?2 AND place <= ?3 ORDER BY place";
    let values = (job.into_bytes(), place(number.0, 0), place(number.0, through));
    let read = |row: &Row<'_>| Ok((row.get::<String>(0)?, hash(row, 1)?, row.get::<Option<Vec<u8>>>(2)?));
    let mut telling = Telling::default();
    for (kind, hash, bytes) in all(conn, (sql, values), read, "reading what a job's entries tell")? {
        let carried = bytes.and_then(|bytes| Sealed::read(bytes).ok());
        match &carried {
            Some(sealed) => telling.add(&sealed.told().entry().kind, sealed.told().hash()),
            None => telling.add(&kind, hash),
        };
    }
    Ok(telling.into_hashes())
}

/// Entries from their bytes, compared with the hashes that were written with them.
pub(super) fn whole(rows: Vec<(Vec<u8>, Hash)>) -> Result<Vec<Sealed>, StorageError> {
    let read = |(bytes, hash): (Vec<u8>, Hash)| match Sealed::read(bytes) {
        Ok(sealed) if sealed.hash() == hash => Ok(sealed),
        _ => Err(StorageError::damaged(format!("entry {hash} is not as it was written"))),
    };
    rows.into_iter().map(read).collect()
}

fn insert(conn: &Connection, number: DeviceNumber, fresh: &[Sealed]) -> Result<(), StorageError> {
    let during = "storing entries";
    let row = |sealed: &Sealed| (place(number.0, sealed.entry().sequence), sealed.entry().job.map(Uuid::into_bytes));
    if let Connection::Postgres(session) = conn {
        let (places, jobs): (Vec<i64>, Vec<Option<[u8; 16]>>) = fresh.iter().map(row).unzip();
        let jobs: Vec<Option<&[u8]>> = jobs.iter().map(|job| job.as_ref().map(|job| &job[..])).collect();
        let kinds: Vec<String> = fresh.iter().map(|sealed| sealed.entry().kind.replace('\0', "\u{fffd}")).collect();
        let hashes: Vec<Hash> = fresh.iter().map(Sealed::hash).collect();
        let hashes: Vec<&[u8]> = hashes.iter().map(|hash| &hash.0[..]).collect();
        let bytes: Vec<&[u8]> = fresh.iter().map(Sealed::bytes).collect();
        let sql = "INSERT INTO entry (place, job, kind, hash, bytes)
                   SELECT * FROM unnest(?1::bigint[], ?2::bytea[], ?3::text[], ?4::bytea[], ?5::bytea[])";
        return session.change_many((sql, &[&places, &jobs, &kinds, &hashes, &bytes]), during);
    }
    for sealed in fresh {
        let (here, job) = row(sealed);
        let sql = "INSERT INTO entry (place, job, kind, hash, bytes) VALUES (?1, ?2, ?3, ?4, ?5)";
        change(conn, (sql, (here, job, &sealed.entry().kind, sealed.hash().0, sealed.bytes())), during)?;
    }
    Ok(())
}

/// Writes what is fresh, and all that follows from it.
fn keep(conn: &Connection, from: From, (taken, read): (&Taken, &Read)) -> Result<Stored, StorageError> {
    let during = "storing entries";
    let number = from.number;
    let stored = Stored { stored_through: taken.head.sequence, hash: taken.head.hash };
    devices::heard(conn, number, from.at_ms)?;
    let (fresh, means) = (&read.batch.entries()[taken.here..], &read.means[taken.here..]);
    if fresh.is_empty() {
        return Ok(stored);
    }
    insert(conn, number, fresh)?;
    let mut jobs = BTreeSet::new();
    for (sealed, meaning) in fresh.iter().zip(means) {
        let entry = sealed.entry();
        let (here, job) = (place(number.0, entry.sequence), entry.job.map(Uuid::into_bytes));
        for one in meaning.iter().flatten() {
            beside::change_by(conn, (number, entry.sequence), *one, from.at_ms)?;
        }
        if meaning.is_none() {
            let why = format!("{} {} is not known here", entry.kind, entry.version);
            let sql = "INSERT INTO quarantine (place, job, why) VALUES (?1, ?2, ?3)";
            change(conn, (sql, (here, job, why)), during)?;
        }
        jobs.extend(entry.job);
    }
    for job in jobs {
        mark_stale(conn, number, job)?;
    }
    let (sequence, hash) = (taken.head.sequence, taken.head.hash);
    let sql = "UPDATE device SET tail_device = ?2, tail_sequence = ?3, tail_hash = ?4 WHERE number = ?1";
    change(conn, (sql, (number.0, taken.head.device.into_bytes(), sequence as i64, hash.0)), during)?;
    let sql = "INSERT INTO push_head (place, received_ms, jws) VALUES (?1, ?2, ?3)";
    change(conn, (sql, (place(number.0, sequence), from.at_ms, read.batch.head())), during)?;
    Ok(stored)
}

/// The line of that job has to be made anew.
pub(super) fn mark_stale(conn: &Connection, number: DeviceNumber, job: Uuid) -> Result<(), StorageError> {
    let sql = "INSERT INTO stale (device, job, marks) VALUES (?1, ?2, 1) ON CONFLICT (device, job) DO UPDATE SET marks = stale.marks + 1";
    change(conn, (sql, (number.0, job.into_bytes())), "marking a line").map(drop)
}

/// Evidence of a fork: what came where another entry is, once.
fn keep_fork(conn: &Connection, from: From, (refused, batch): (&PushRefused, &Batch)) -> Result<(), StorageError> {
    let PushRefused::Fork { sequence } = refused else { return Ok(()) };
    let differs = batch.entries().iter().find(|sealed| sealed.entry().sequence == *sequence);
    let Some(bytes) = differs.map(Sealed::bytes) else { return Ok(()) };
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
