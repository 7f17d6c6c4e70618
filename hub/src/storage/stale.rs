//! Jobs whose line has to be made anew.

use super::connection::{Connection, Row};
use super::devices::DeviceNumber;
use super::row::{MOST_SEQUENCE, all, change, id};
use super::{Storage, StorageError, batches};
use evenwire_core::record::{Hash, Sealed};
use std::collections::BTreeSet;
use uuid::Uuid;

/// A job in a device's ledger whose line is to be made anew.
#[derive(Clone, Debug)]
pub struct Stale {
    /// Whose ledger.
    pub device: DeviceNumber,
    /// Which job.
    pub job: Uuid,
    /// Its entries in that ledger.
    pub entries: Vec<Sealed>,
    /// What is personal of the job was erased, whether or not its entries in that ledger say so.
    pub erased: bool,
    /// One of its entries is not as it was written: no line can be made of them.
    pub damaged: bool,
    marks: i64,
}

impl Stale {
    /// A job nobody marked: its line is made all the same.
    pub fn unmarked(device: DeviceNumber, job: Uuid, entries: Vec<Sealed>) -> Stale {
        Stale { device, job, entries, erased: false, damaged: false, marks: 0 }
    }
}

impl Storage {
    /// Jobs whose lines are to be made anew, at most `most`.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn stale(&self, most: u32) -> Result<Vec<Stale>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT device, job, marks, EXISTS (SELECT 1 FROM erased WHERE erased.job = stale.job)
                       FROM stale LIMIT ?1";
            let read = |row: &Row<'_>| {
                let (device, job) = (DeviceNumber(row.get(0)?), id(row, 1)?);
                let (erased, marks) = (row.get(3)?, row.get(2)?);
                Ok(Stale { device, job, entries: Vec::new(), erased, damaged: false, marks })
            };
            let marked = all(conn, (sql, (most,)), read, "reading what is stale")?;
            let with_entries = |of: Stale| match batches::of_job(conn, of.device, (of.job, MOST_SEQUENCE)) {
                Ok(entries) => Ok(Stale { entries, ..of }),
                // One job that decayed keeps no other from the list; the doctor tells of it.
                Err(StorageError::Damaged { .. }) => Ok(Stale { damaged: true, ..of }),
                Err(error) => Err(error),
            };
            marked.into_iter().map(with_entries).collect()
        })
        .await
    }

    /// The line of `of` stays as it is until an entry comes.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn leave_line(&self, of: Stale) -> Result<(), StorageError> {
        self.write(move |conn| no_longer_stale(conn, &of)).await
    }
}

/// What a job is marked with that was not, or was and is no longer. Another number each time: of two hubs that made its line at
/// once, one may have let go of the mark when something comes, and the other must not take the new mark for the old one.
pub(super) fn first_marks() -> i64 {
    (crate::app::random_id().as_u128() >> 66) as i64
}

/// The lines of those jobs have to be made anew.
pub(super) fn mark_all(conn: &Connection, number: DeviceNumber, jobs: BTreeSet<Uuid>) -> Result<(), StorageError> {
    if let Connection::Postgres(session) = conn {
        let jobs: Vec<&[u8]> = jobs.iter().map(|job| &job.as_bytes()[..]).collect();
        let sql =
            "INSERT INTO stale (device, job, marks) SELECT ?1::bigint, job, ?3::bigint FROM unnest(?2::bytea[]) AS job
             ON CONFLICT (device, job) DO UPDATE SET marks = stale.marks + 1";
        return session.change_many((sql, &[&number.0, &jobs, &first_marks()]), "marking lines");
    }
    jobs.into_iter().try_for_each(|job| mark(conn, number, job))
}

/// The line of that job has to be made anew.
pub(super) fn mark(conn: &Connection, number: DeviceNumber, job: Uuid) -> Result<(), StorageError> {
    let sql = "INSERT INTO stale (device, job, marks) VALUES (?1, ?2, ?3)
               ON CONFLICT (device, job) DO UPDATE SET marks = stale.marks + 1";
    change(conn, (sql, (number.0, job.into_bytes(), first_marks())), "marking a line").map(drop)
}

/// Lines are made with details: those of jobs whose details came just now are stale.
pub(super) fn mark_named(conn: &Connection, hash: Hash) -> Result<(), StorageError> {
    let sql = "INSERT INTO stale (device, job, marks) SELECT DISTINCT device, job, CAST(?2 AS BIGINT) FROM beside
               WHERE hash = ?1 AND kind = 'details' AND wanted = 1
               ON CONFLICT (device, job) DO UPDATE SET marks = stale.marks + 1";
    change(conn, (sql, (hash.0, first_marks())), "marking a line").map(drop)
}

/// Unless something came in the meantime.
pub(super) fn no_longer_stale(conn: &Connection, of: &Stale) -> Result<(), StorageError> {
    let sql = "DELETE FROM stale WHERE device = ?1 AND job = ?2 AND marks = ?3";
    change(conn, (sql, (of.device.0, of.job.into_bytes(), of.marks)), "noting that a line was made").map(drop)
}
