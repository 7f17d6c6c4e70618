//! What stands beside the entries: what they name, what is here of it, and what has to go.

use super::connection::Connection;
use super::devices::{self, DeviceNumber};
use super::row::{all, change, hash, one};
use super::{Storage, StorageError, batches, stale};
use evenwire_core::record::Hash;
use evenwire_core::sync::{Beside, BesideChange, BesideKind, Change, MOST_ASKED};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Whether something may be brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// It may, and is not here.
    Missing,
    /// It is here already.
    Here,
    /// No entry of that device wants it (any more).
    No,
    /// The device may not come any more.
    Revoked,
}

/// A kind as it stands in a row.
fn word(kind: BesideKind) -> &'static str {
    match kind {
        BesideKind::Photo => "photo",
        BesideKind::Samples => "samples",
        BesideKind::Details => "details",
        BesideKind::Person => "person",
    }
}

/// Whether any of what entries say changes more than rows of their own device, or is numbered: whoever does it has the
/// shop alone, so that nobody names meanwhile what is let go.
pub(super) fn are_of_shop<'a>(
    conn: &Connection,
    means: impl Iterator<Item = &'a BesideChange>,
) -> Result<bool, StorageError> {
    let mut named = BTreeSet::new();
    for one in means {
        match one {
            BesideChange::Superseded(_) | BesideChange::Erased(_) => return Ok(true),
            // Its device is told.
            BesideChange::Named(beside) if is_personal(beside) => named.extend(beside.job),
            BesideChange::Named(_) => {}
        }
    }
    for job in named {
        if is_erased(conn, job)? {
            return Ok(true);
        }
    }
    Ok(false)
}

fn is_personal(beside: &Beside) -> bool {
    matches!(beside.kind, BesideKind::Photo | BesideKind::Details)
}

/// What is personal of that job was erased.
fn is_erased(conn: &Connection, job: Uuid) -> Result<bool, StorageError> {
    let sql = "SELECT 1 FROM erased WHERE job = ?1";
    Ok(one(conn, (sql, (job.into_bytes(),)), |_| Ok(()), "noting what an entry names")?.is_some())
}

/// Does what an entry says about what stands beside the entries.
pub(super) fn change_by(
    conn: &Connection,
    (number, sequence): (DeviceNumber, u64),
    one: BesideChange,
    at_ms: i64,
) -> Result<(), StorageError> {
    match one {
        BesideChange::Named(beside) => name(conn, (number, sequence), beside, at_ms),
        BesideChange::Superseded(job) => {
            let sql = "UPDATE beside SET wanted = 0 WHERE device = ?1 AND job = ?2 AND kind = 'details'";
            change(conn, (sql, (number.0, job.as_bytes())), "letting earlier details go")?;
            doom(conn, job)
        }
        BesideChange::Erased(job) => erase(conn, job, Some(number), at_ms).map(drop),
    }
}

fn name(
    conn: &Connection,
    (number, sequence): (DeviceNumber, u64),
    beside: Beside,
    at_ms: i64,
) -> Result<(), StorageError> {
    let during = "noting what an entry names";
    let job = beside.job.map(Uuid::into_bytes);
    let job = job.as_ref().map_or(&[][..], |job| &job[..]);
    let erased = match beside.job {
        Some(job) if is_personal(&beside) => is_erased(conn, job)?,
        _ => false,
    };
    // What is personal of a job that was erased is not wanted again, whoever names it.
    let sql = "INSERT INTO beside (device, hash, job, kind, named_by, wanted, present)
               VALUES (?1, ?2, ?3, ?4, ?5, ?6, CASE WHEN EXISTS (SELECT 1 FROM blob WHERE hash = ?2) THEN 1 ELSE 0 END)
               ON CONFLICT (device, hash, job, kind) DO UPDATE SET wanted = excluded.wanted";
    let values = (number.0, beside.hash.0, job, word(beside.kind), sequence as i64, !erased);
    change(conn, (sql, values), during)?;
    match beside.job {
        // A ledger that comes after the erasure: its device does not know of it.
        Some(job) if erased => super::changes::add(conn, Some(number), &Change::DetailsErased { job }, at_ms),
        _ => Ok(()),
    }
}

/// Erases what is personal of a job, in every ledger that has it: it is one job and one person, whoever says it.
/// Devices that did not say it themselves are told. `false`: it was erased before.
pub(super) fn erase(
    conn: &Connection,
    job: Uuid,
    said_by: Option<DeviceNumber>,
    at_ms: i64,
) -> Result<bool, StorageError> {
    let during = "erasing what is personal of a job";
    let id = job.into_bytes();
    let sql = "INSERT INTO erased (job, at_ms) VALUES (?1, ?2) ON CONFLICT DO NOTHING";
    let fresh = change(conn, (sql, (id, at_ms)), during)? > 0;
    let sql = "UPDATE beside SET wanted = 0 WHERE job = ?1 AND kind IN ('photo', 'details')";
    change(conn, (sql, (id,)), during)?;
    doom(conn, job)?;
    for number in batches::devices_of(conn, job)? {
        stale::mark(conn, number, job)?;
        if fresh && Some(number) != said_by {
            super::changes::add(conn, Some(number), &Change::DetailsErased { job }, at_ms)?;
        }
    }
    Ok(fresh)
}

/// Files of this job that nothing wants any more have to go: those that are noted as being there, and those that may be
/// there without a note, because the hub ended between the two.
fn doom(conn: &Connection, job: Uuid) -> Result<(), StorageError> {
    let during = "letting go of files";
    let sql = "SELECT DISTINCT hash FROM beside AS gone WHERE job = ?1 AND wanted = 0
               AND NOT EXISTS (SELECT 1 FROM beside WHERE hash = gone.hash AND wanted = 1)";
    for hash in all(conn, (sql, (job.into_bytes(),)), |row| hash(row, 0), during)? {
        change(conn, ("DELETE FROM blob WHERE hash = ?1", (hash.0,)), during)?;
        change(conn, ("UPDATE beside SET present = 0 WHERE hash = ?1", (hash.0,)), during)?;
        change(conn, ("INSERT INTO doomed (hash) VALUES (?1) ON CONFLICT DO NOTHING", (hash.0,)), during)?;
    }
    Ok(())
}

fn wanted(conn: &Connection, number: DeviceNumber, hash: Hash) -> Result<Wanted, StorageError> {
    if devices::is_revoked(conn, number)? {
        return Ok(Wanted::Revoked);
    }
    let sql = "SELECT max(present) FROM beside WHERE device = ?1 AND hash = ?2 AND wanted = 1";
    let found = one(conn, (sql, (number.0, hash.0)), |row| row.get::<Option<bool>>(0), "looking for a file")?;
    Ok(match found.flatten() {
        None => Wanted::No,
        Some(true) => Wanted::Here,
        Some(false) => Wanted::Missing,
    })
}

impl Storage {
    /// Whether a device may bring the bytes of `hash`.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn wants(&self, number: DeviceNumber, hash: Hash) -> Result<Wanted, StorageError> {
        self.read(move |conn| wanted(conn, number, hash)).await
    }

    /// Notes that the file of `hash` is there, `bytes` long, unless nobody wants it any more: then it has to go.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn note_blob(
        &self,
        number: DeviceNumber,
        (hash, bytes): (Hash, usize),
        at_ms: i64,
    ) -> Result<Wanted, StorageError> {
        self.write(move |conn| {
            let during = "noting a file";
            let wanted = wanted(conn, number, hash)?;
            let here = one(conn, ("SELECT 1 FROM blob WHERE hash = ?1", (hash.0,)), |_| Ok(()), during)?.is_some();
            if wanted == Wanted::Missing {
                let sql = "INSERT INTO blob (hash, bytes, stored_ms) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING";
                change(conn, (sql, (hash.0, bytes as i64, at_ms)), during)?;
                change(conn, ("DELETE FROM doomed WHERE hash = ?1", (hash.0,)), during)?;
                change(conn, ("UPDATE beside SET present = 1 WHERE hash = ?1", (hash.0,)), during)?;
                stale::mark_named(conn, hash)?;
            } else if !here {
                change(conn, ("INSERT INTO doomed (hash) VALUES (?1) ON CONFLICT DO NOTHING", (hash.0,)), during)?;
            }
            Ok(wanted)
        })
        .await
    }

    /// Those of `hashes` that the device should bring, in the order asked, each once.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn missing(&self, number: DeviceNumber, hashes: Vec<Hash>) -> Result<Vec<Hash>, StorageError> {
        self.read(move |conn| {
            let mut missing = Vec::new();
            for hash in hashes.into_iter().take(MOST_ASKED) {
                if !missing.contains(&hash) && wanted(conn, number, hash)? == Wanted::Missing {
                    missing.push(hash);
                }
            }
            Ok(missing)
        })
        .await
    }

    /// Erases what is personal of a job, as the office wants it; devices that have it are told. `false`: it was erased
    /// before, or nobody has it.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn erase_job(&self, job: Uuid, at_ms: i64) -> Result<bool, StorageError> {
        self.write(move |conn| {
            let nobody = batches::devices_of(conn, job)?.is_empty();
            if nobody { Ok(false) } else { erase(conn, job, None, at_ms) }
        })
        .await
    }

    /// Files that have to go, at most 500.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn doomed(&self) -> Result<Vec<Hash>, StorageError> {
        let sql = "SELECT hash FROM doomed LIMIT 500";
        self.read(move |conn| all(conn, (sql, ()), |row| hash(row, 0), "reading which files have to go")).await
    }

    /// The file of `hash` is gone.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn note_gone(&self, hash: Hash) -> Result<(), StorageError> {
        let sql = "DELETE FROM doomed WHERE hash = ?1";
        self.write(move |conn| change(conn, (sql, (hash.0,)), "noting that a file is gone").map(drop)).await
    }
}
