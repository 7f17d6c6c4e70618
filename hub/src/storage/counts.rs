//! How much there is.

use super::connection::Row;
use super::error::StorageError;
use super::{Storage, row};

/// How much a hub keeps, and how much waits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Devices that may come.
    pub devices: u64,
    /// Entries of all ledgers.
    pub entries: u64,
    /// Files beside them.
    pub blobs: u64,
    /// Their bytes.
    pub blob_bytes: u64,
    /// Things that entries name and want that are not here.
    pub missing: u64,
    /// Lines that are to be made anew.
    pub stale: u64,
    /// Files that have to go.
    pub doomed: u64,
    /// Entries that part from those that are here.
    pub forks: u64,
    /// Entries this program does not understand.
    pub quarantine: u64,
}

impl Storage {
    /// All of it, as of one moment.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn counts(&self) -> Result<Counts, StorageError> {
        let sql = "SELECT (SELECT count(*) FROM device WHERE revoked_ms IS NULL),
                          (SELECT CAST(coalesce(sum(tail_sequence), 0) AS BIGINT) FROM device),
                          (SELECT count(*) FROM blob), (SELECT CAST(coalesce(sum(bytes), 0) AS BIGINT) FROM blob),
                          (SELECT count(*) FROM beside WHERE wanted = 1 AND present = 0),
                          (SELECT count(*) FROM stale), (SELECT count(*) FROM doomed), (SELECT count(*) FROM fork),
                          (SELECT count(*) FROM quarantine)";
        self.read(move |conn| {
            let read = |row: &Row<'_>| {
                let at = |column: usize| row.get::<i64>(column).map(|count| count as u64);
                Ok(Counts {
                    devices: at(0)?,
                    entries: at(1)?,
                    blobs: at(2)?,
                    blob_bytes: at(3)?,
                    missing: at(4)?,
                    stale: at(5)?,
                    doomed: at(6)?,
                    forks: at(7)?,
                    quarantine: at(8)?,
                })
            };
            Ok(row::one(conn, (sql, ()), read, "counting")?.unwrap_or_default())
        })
        .await
    }
}
