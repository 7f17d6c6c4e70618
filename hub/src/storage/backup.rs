//! A copy of the file, made while it is in use, and what a doctor asks of it.

use super::connection::Connection;
use super::error::{During, StorageError};
use super::row::{all, change, hash, one};
use super::{FILE, Storage};
use evenwire_core::record::Hash;
use rusqlite::OpenFlags;
use rusqlite::backup::Backup;
use std::path::Path;
use std::time::Duration;

/// Pages copied between two breaths of the writer.
const PAGES: std::ffi::c_int = 512;

/// Copies the database of a hub's folder into another folder, whole as of one moment, whoever writes meanwhile. The
/// copy is looked at before this says that it is one. Answers with the files of the folder of blobs that belong to it.
///
/// # Errors
/// [`StorageError`]; what was begun may be left in `to`.
pub fn copy(from: &Path, to: &Path) -> Result<Vec<Hash>, StorageError> {
    let during = "copying the database";
    let read_only = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let source = rusqlite::Connection::open_with_flags(from.join(FILE), read_only).during(during)?;
    source.busy_timeout(Duration::from_secs(5)).during(during)?;
    let mut target = rusqlite::Connection::open(to.join(FILE)).during(during)?;
    target.pragma_update(None, "synchronous", "FULL").during(during)?;
    let backup = Backup::new(&source, &mut target).during(during)?;
    backup.run_to_completion(PAGES, Duration::from_millis(5), None).during(during)?;
    drop(backup);
    let target = Connection::Sqlite(target);
    let said = sound(&target)?;
    if !said.is_empty() {
        return Err(StorageError::damaged(said.join("; ")));
    }
    all(&target, ("SELECT hash FROM blob ORDER BY hash", ()), |row| hash(row, 0), "reading which files belong to it")
}

/// What SQLite finds wrong with a file; nothing when it is whole.
/// A server looks after its own files; what it holds is compared with the entries by whoever asks.
fn sound(conn: &Connection) -> Result<Vec<String>, StorageError> {
    if let Connection::Postgres(_) = conn {
        return Ok(Vec::new());
    }
    let during = "looking at the whole file";
    let mut said = all(conn, ("PRAGMA integrity_check(20)", ()), |row| row.get::<String>(0), during)?;
    said.retain(|line| line != "ok");
    let foreign = one(conn, ("SELECT count(*) FROM pragma_foreign_key_check", ()), |row| row.get(0), during)?;
    let foreign: i64 = foreign.unwrap_or_default();
    if foreign > 0 {
        said.push(format!("{foreign} rows point to rows that are gone"));
    }
    Ok(said)
}

impl Storage {
    /// What the database finds wrong with itself; nothing when it is whole.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn sound(&self) -> Result<Vec<String>, StorageError> {
        self.read(sound).await
    }

    /// Files that are noted as being there, after `after` in the order of their hashes.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn noted_blobs(&self, after: Option<Hash>) -> Result<Vec<Hash>, StorageError> {
        self.read(move |conn| {
            let after = after.map(|hash| hash.0.to_vec()).unwrap_or_default();
            let sql = "SELECT hash FROM blob WHERE hash > ?1 ORDER BY hash LIMIT 500";
            all(conn, (sql, (after,)), |row| hash(row, 0), "reading which files are here")
        })
        .await
    }

    /// Notes that the file of `hash` is not there (any more), so that whoever has it brings it again.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn note_lost(&self, lost: Hash) -> Result<(), StorageError> {
        self.write(move |conn| {
            let during = "noting that a file is lost";
            change(conn, ("DELETE FROM blob WHERE hash = ?1", (lost.0,)), during)?;
            let sql = "UPDATE beside SET present = 0 WHERE hash = ?1";
            change(conn, (sql, (lost.0,)), during).map(drop)
        })
        .await
    }
}

#[cfg(test)]
mod tests;
