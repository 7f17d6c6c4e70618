//! Batches as they came, a row each: their entries one behind the other. With a row for each entry a burst came in at three
//! quarters of the rate, and at a server at half of it. Where the entries of one job stand in a batch, or those of one kind that belong to no job, is noted as a run.

use super::cell::Read;
use super::connection::{Connection, Row};
use super::devices::DeviceNumber;
use super::error::During;
use super::row::{MOST_SEQUENCE, PLACES, all, change, one, place, sequence_at};
use super::stream::From;
use super::{Storage, StorageError};
use evenwire_core::record::{Hash, Sealed, Telling};
use evenwire_core::sync::Gist;
use std::collections::BTreeMap;
use std::ops::Range;
use uuid::Uuid;

/// What stands before an entry in a batch: how many bytes it has (4, the highest first), and its hash.
const BEFORE: usize = 4 + 32;
/// Bytes of a kind that are noted.
const MOST_KIND: usize = 200;

/// Entries in a row that belong to one job, or are of one kind and belong to none.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Run {
    /// The job; none: the device.
    job: Option<Uuid>,
    /// The kind of what belongs to no job; else empty.
    kind: String,
    /// Place of the first entry.
    first: i64,
    entries: i64,
    /// Where they begin among the bytes of the batch, and how many bytes they are there.
    begins: i64,
    length: i64,
}

/// Entries as they are kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Packed {
    bytes: Vec<u8>,
    runs: Vec<Run>,
    entries: i64,
}

/// Entries of a device's ledger that follow each other, as they are kept.
pub(super) fn pack<'a>(number: DeviceNumber, entries: impl Iterator<Item = (&'a Gist, &'a [u8])> + Clone) -> Packed {
    let room = entries.clone().map(|(_, bytes)| BEFORE + bytes.len()).sum();
    let mut packed = Packed { bytes: Vec::with_capacity(room), ..Packed::default() };
    for (gist, bytes) in entries {
        packed.push(number, gist, bytes);
    }
    packed
}

impl Packed {
    fn push(&mut self, number: DeviceNumber, gist: &Gist, bytes: &[u8]) {
        let begins = self.bytes.len() as i64;
        self.bytes.extend((bytes.len() as u32).to_be_bytes());
        self.bytes.extend(gist.link.hash.0);
        self.bytes.extend(bytes);
        self.entries += 1;
        let length = self.bytes.len() as i64 - begins;
        let kind = gist.kind.as_ref().filter(|_| gist.job.is_none()).map_or("", |(kind, _)| kind);
        // No kind of ours is longer, and what is longer still no index takes.
        let kind = &kind[..kind.floor_char_boundary(MOST_KIND)];
        match self.runs.last_mut() {
            Some(run) if run.job == gist.job && run.kind == kind => {
                run.entries += 1;
                run.length += length;
            }
            _ => {
                let (job, kind, first) = (gist.job, kind.to_owned(), place(number.0, gist.link.sequence));
                self.runs.push(Run { job, kind, first, entries: 1, begins, length });
            }
        }
    }
}

/// Noted hashes and bytes of so many entries that were packed one behind the other, of which `place` is the first one's.
fn parts(mut packed: &[u8], (place, entries): (i64, u64)) -> Result<Vec<(Hash, &[u8])>, StorageError> {
    let broken = || {
        let (device, sequence) = (place >> PLACES, sequence_at(place));
        StorageError::damaged(format!("what device {device} sent from entry {sequence} on is not as it was written"))
    };
    let next = |packed: &mut &'_ [u8]| -> Option<(Hash, usize)> {
        let (length, rest) = packed.split_first_chunk()?;
        let (hash, rest) = rest.split_first_chunk()?;
        *packed = rest;
        Some((Hash(*hash), u32::from_be_bytes(*length) as usize))
    };
    let mut found = Vec::new();
    while !packed.is_empty() {
        let (hash, length) = next(&mut packed).ok_or_else(broken)?;
        let (bytes, rest) = packed.split_at_checked(length).ok_or_else(broken)?;
        found.push((hash, bytes));
        packed = rest;
    }
    if found.len() as u64 == entries { Ok(found) } else { Err(broken()) }
}

/// The entry of these bytes, compared with the hash that was noted with them.
fn sealed((hash, bytes): (Hash, &[u8])) -> Result<Sealed, StorageError> {
    let read = Sealed::read(bytes.to_vec()).ok().filter(|sealed| sealed.hash() == hash);
    read.ok_or_else(|| StorageError::damaged(format!("entry {hash} is not as it was written")))
}

fn id_of(job: Option<&Uuid>) -> &[u8] {
    job.map_or(&[], |job| job.as_bytes())
}

/// Writes entries that are not here yet, as they came.
pub(super) fn write(conn: &Connection, from: From, (packed, jws): (&Packed, &str)) -> Result<(), StorageError> {
    let during = "storing entries";
    let Some(batch) = packed.runs.first().map(|run| run.first) else { return Ok(()) };
    let (count, bytes) = (packed.entries, &packed.bytes);
    match conn {
        // Bound as a value it would be copied three times before it is where it stays.
        Connection::Sqlite(file) => {
            let sql =
                "INSERT INTO batch (place, entries, received_ms, jws, bytes) VALUES (?1, ?2, ?3, ?4, zeroblob(?5))";
            change(conn, (sql, (batch, count, from.at_ms, jws, bytes.len() as i64)), during)?;
            let mut blob = file.blob_open("main", "batch", "bytes", batch, false).during(during)?;
            blob.write_at(bytes, 0).during(during)?;
            blob.close().during(during)?;
        }
        Connection::Postgres(_) => {
            let sql = "INSERT INTO batch (place, entries, received_ms, jws, bytes) VALUES (?1, ?2, ?3, ?4, ?5)";
            change(conn, (sql, (batch, count, from.at_ms, jws, bytes)), during)?;
        }
    }
    let runs = &packed.runs;
    if let Connection::Postgres(session) = conn {
        let jobs: Vec<&[u8]> = runs.iter().map(|run| id_of(run.job.as_ref())).collect();
        let kinds: Vec<String> = runs.iter().map(|run| run.kind.replace('\0', "\u{fffd}")).collect();
        let number = |of: fn(&Run) -> i64| runs.iter().map(of).collect::<Vec<i64>>();
        let [firsts, counts] = [number(|run| run.first), number(|run| run.entries)];
        let [begins, lengths] = [number(|run| run.begins), number(|run| run.length)];
        let sql = "INSERT INTO run (batch, job, kind, first, entries, begins, length)
                   SELECT ?1::bigint, * FROM unnest(?2::bytea[], ?3::text[], ?4::bigint[], ?5::bigint[], ?6::bigint[],
                       ?7::bigint[])";
        return session.change_many((sql, &[&batch, &jobs, &kinds, &firsts, &counts, &begins, &lengths]), during);
    }
    for run in runs {
        let sql = "INSERT INTO run (batch, job, kind, first, entries, begins, length)
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
        let values = (batch, id_of(run.job.as_ref()), &run.kind, run.first, run.entries, run.begins, run.length);
        change(conn, (sql, values), during)?;
    }
    Ok(())
}

/// Which devices have entries of that job.
pub(super) fn devices_of(conn: &Connection, job: Uuid) -> Result<Vec<DeviceNumber>, StorageError> {
    let sql = "SELECT DISTINCT first >> 40 FROM run WHERE job = ?1 ORDER BY 1";
    all(conn, (sql, (job.into_bytes(),)), |row| row.get(0).map(DeviceNumber), "looking for a job")
}

/// A job's entries in one ledger up to number `through`, in their order.
pub(super) fn of_job(
    conn: &Connection,
    number: DeviceNumber,
    (job, through): (Uuid, u64),
) -> Result<Vec<Sealed>, StorageError> {
    let mut found = Vec::new();
    for stretch in stretches(conn, of(number, (job.as_bytes(), ""), through), "reading a job")? {
        for part in stretch.parts()? {
            found.push(sealed(part)?);
        }
    }
    found.retain(|sealed| sealed.entry().sequence <= through);
    match found.iter().find(|sealed| sealed.entry().job != Some(job)) {
        Some(other) => Err(StorageError::damaged(format!("entry {} stands where one of {job} should", other.hash()))),
        None => Ok(found),
    }
}

/// The hashes of a job's entries in one ledger up to number `through`, as they are signed and compared: see [`Telling`]. Of
/// an entry that is not as it was written the hash is the one that was noted.
pub(super) fn told(
    conn: &Connection,
    number: DeviceNumber,
    (job, through): (Uuid, u64),
) -> Result<Vec<Hash>, StorageError> {
    let mut telling = Telling::default();
    for stretch in stretches(conn, of(number, (job.as_bytes(), ""), through), "reading what a job's entries tell")? {
        for (_, part) in (sequence_at(stretch.first)..=through).zip(stretch.parts()?) {
            match sealed(part) {
                Ok(sealed) => telling.add(&sealed.told().entry().kind, sealed.told().hash()),
                Err(_) => telling.add("", part.0),
            };
        }
    }
    Ok(telling.into_hashes())
}

/// A device's own entries of that kind, in their order.
pub(super) fn of_kind(conn: &Connection, number: DeviceNumber, kind: &str) -> Result<Vec<Sealed>, StorageError> {
    let mut found = Vec::new();
    for stretch in stretches(conn, of(number, (&[], kind), MOST_SEQUENCE), "reading entries of a device")? {
        for part in stretch.parts()? {
            found.push(sealed(part)?);
        }
    }
    Ok(found)
}

/// Which runs are meant: their job, their kind, and places of which they begin at or between.
type Meant<'a> = (&'a [u8], &'a str, i64, i64);

fn of<'a>(number: DeviceNumber, (job, kind): (&'a [u8], &'a str), through: u64) -> Meant<'a> {
    (job, kind, place(number.0, 0), place(number.0, through))
}

/// Entries in a row, of a job or a kind.
struct Stretch {
    first: i64,
    entries: u64,
    bytes: Vec<u8>,
}

impl Stretch {
    fn parts(&self) -> Result<Vec<(Hash, &[u8])>, StorageError> {
        parts(&self.bytes, (self.first, self.entries))
    }
}

/// Runs and their bytes, in their order.
fn stretches(conn: &Connection, meant: Meant<'_>, during: &'static str) -> Result<Vec<Stretch>, StorageError> {
    let which = "FROM run WHERE job = ?1 AND kind = ?2 AND first >= ?3 AND first <= ?4";
    // A file gives a part of a batch only with all that stands before it, and jobs in turn have many parts of one: it is
    // asked once for what lies between the first and the last of them.
    let sql = format!(
        "SELECT place, least, substr(bytes, CAST(least + 1 AS INTEGER), CAST(most - least AS INTEGER))
         FROM (SELECT batch, min(begins) AS least, max(begins + length) AS most {which} GROUP BY batch) AS meant
         JOIN batch ON place = meant.batch"
    );
    let read = |row: &Row<'_>| Ok((row.get(0)?, (row.get::<usize>(1)?, row.get(2)?)));
    let between: BTreeMap<i64, (usize, Vec<u8>)> = all(conn, (&sql, meant), read, during)?.into_iter().collect();
    let sql = format!("SELECT batch, first, entries, begins, length {which} ORDER BY first");
    let read = |row: &Row<'_>| {
        let (batch, first, entries): (i64, i64, u64) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let (begins, length): (usize, usize) = (row.get(3)?, row.get(4)?);
        let bytes = between.get(&batch).and_then(|(least, bytes)| bytes.get(begins - least..)?.get(..length));
        Ok(Stretch { first, entries, bytes: bytes.unwrap_or_default().to_vec() })
    };
    all(conn, (&sql, meant), read, during)
}

/// Hashes of the entries with these numbers, as far as they are here.
pub(super) fn hashes(conn: &Connection, number: DeviceNumber, wanted: Range<u64>) -> Result<Vec<Hash>, StorageError> {
    let (mut found, mut next) = (Vec::new(), wanted.start);
    while next < wanted.end
        && let Some(row) = with(conn, number, next)?
    {
        let there = (row.first_sequence()..).zip(row.parts()?);
        found.extend(there.filter(|(sequence, _)| wanted.contains(sequence)).map(|(_, (hash, _))| hash));
        next = row.end();
    }
    Ok(found)
}

/// Entries of a device from number `first` on, at least `most` of them if there are as many.
pub(super) fn entries(
    conn: &Connection,
    number: DeviceNumber,
    (first, most): (u64, usize),
) -> Result<Vec<Sealed>, StorageError> {
    let (mut found, mut next) = (Vec::new(), first);
    while found.len() < most
        && let Some(row) = with(conn, number, next)?
    {
        for (sequence, part) in (row.first_sequence()..).zip(row.parts()?) {
            if sequence >= first {
                found.push(sealed(part)?);
            }
        }
        next = row.end();
    }
    Ok(found)
}

/// A batch as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BatchRow {
    place: i64,
    entries: u64,
    bytes: Vec<u8>,
    /// The signature of its end.
    pub jws: String,
}

impl BatchRow {
    /// Number of its first entry.
    pub fn first_sequence(&self) -> u64 {
        sequence_at(self.place)
    }

    /// Number that comes after its last entry.
    pub fn end(&self) -> u64 {
        self.first_sequence().saturating_add(self.entries)
    }

    /// Hashes as they were noted, and bytes, of as many entries as it is said to have. Neither is looked at.
    ///
    /// # Errors
    /// [`StorageError::Damaged`] when they cannot be told apart.
    pub fn parts(&self) -> Result<Vec<(Hash, &[u8])>, StorageError> {
        parts(&self.bytes, (self.place, self.entries))
    }
}

const BATCHES: &str = "SELECT place, entries, bytes, jws FROM batch WHERE place >= ?1 AND place <= ?2 ORDER BY place";

fn row(row: &Row<'_>) -> Read<BatchRow> {
    Ok(BatchRow { place: row.get(0)?, entries: row.get(1)?, bytes: row.get(2)?, jws: row.get(3)? })
}

/// The batch that has entry `sequence` of a device.
fn with(conn: &Connection, number: DeviceNumber, sequence: u64) -> Result<Option<BatchRow>, StorageError> {
    let sql = format!("{BATCHES} DESC LIMIT 1");
    let found = one(conn, (&sql, (place(number.0, 0), place(number.0, sequence))), row, "reading a ledger")?;
    Ok(found.filter(|row| row.end() > sequence))
}

impl Storage {
    /// The first batch of a device that begins with number `first` or a higher one, without trusting any of it.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn batch(&self, number: DeviceNumber, first: u64) -> Result<Option<BatchRow>, StorageError> {
        self.read(move |conn| {
            let sql = format!("{BATCHES} LIMIT 1");
            let places = (place(number.0, first), place(number.0, MOST_SEQUENCE));
            one(conn, (&sql, places), row, "reading a ledger")
        })
        .await
    }

    /// How many runs are noted of that batch if these are its entries; `None`: not those that should be.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn runs_noted(
        &self,
        number: DeviceNumber,
        batch: &BatchRow,
        entries: &[Sealed],
    ) -> Result<Option<u64>, StorageError> {
        let gists: Vec<Gist> = entries.iter().map(Gist::of).collect();
        let wanted = pack(number, gists.iter().zip(entries.iter().map(Sealed::bytes))).runs;
        let batch = batch.place;
        self.read(move |conn| {
            for run in &wanted {
                let sql =
                    "SELECT 1 FROM run WHERE job = ?1 AND kind = ?2 AND first = ?3 AND batch = ?4 AND entries = ?5
                           AND begins = ?6 AND length = ?7";
                let id = id_of(run.job.as_ref());
                let values = (id, &run.kind, run.first, batch, run.entries, run.begins, run.length);
                if one(conn, (sql, values), |_| Ok(()), "reading what is noted of a batch")?.is_none() {
                    return Ok(None);
                }
            }
            Ok(Some(wanted.len() as u64))
        })
        .await
    }

    /// How many runs are noted of all batches.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn all_runs(&self) -> Result<u64, StorageError> {
        let sql = "SELECT count(*) FROM run";
        let count = self.read(move |conn| one(conn, (sql, ()), |row| row.get::<i64>(0), "counting what is noted"));
        Ok(count.await?.unwrap_or_default() as u64)
    }
}
