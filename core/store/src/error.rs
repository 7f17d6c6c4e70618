//! What can go wrong between this program and its file.

use crate::append::ChunkRefused;
use crate::heads::HeadRefused;
use evenwire_core::record::{ChainError, Hash};
use rusqlite::ErrorCode;
use std::path::PathBuf;
use uuid::Uuid;

/// A fault of the store. `during` says what was being done, and to what.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// No room is left. Nothing of the batch was written; what was there before is untouched.
    #[error("no room is left for the ledger ({during}); nothing of this was written")]
    Full {
        /// What was being done.
        during: String,
    },
    /// The file, its folder or the disk may only be read.
    #[error("the ledger cannot be written to ({during})")]
    ReadOnly {
        /// What was being done.
        during: String,
    },
    /// Another program holds the file for longer than the store waits (5 s).
    #[error("another program is using the ledger ({during})")]
    Busy {
        /// What was being done.
        during: String,
    },
    /// Another Evenwire, or another window of this one, has the ledger open. Nothing was changed.
    #[error("another Evenwire has {path} open: close it there")]
    InUse {
        /// The ledger.
        path: PathBuf,
    },
    /// A newer version of this program wrote the file. It was left as it is.
    #[error("{path} has format {found}; this version reads formats up to {known}")]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: i64,
        /// The newest format this program knows.
        known: i64,
    },
    /// An SQLite file of another program. It was left as it is.
    #[error("{path} belongs to another program (application id {application_id:#010x})")]
    NotOurs {
        /// The file.
        path: PathBuf,
        /// What stands in its header in place of ours.
        application_id: u32,
    },
    /// The file, or something in it, is not what was written. [`Store::move_aside`](crate::Store::move_aside)
    /// makes room for a new file and keeps this one.
    #[error("the ledger is damaged: {what}")]
    Damaged {
        /// What was found.
        what: String,
    },
    /// The batch does not follow from the stored head. Nothing of it was written.
    #[error("not the next entry of this ledger: {0}")]
    Chain(#[from] ChainError),
    /// A signed head of the batch is not taken. Nothing of the batch was written.
    #[error("the signature of entry {sequence}: {why}")]
    Head {
        /// The entry it is said to be of.
        sequence: u64,
        /// What is wrong with it.
        #[source]
        why: HeadRefused,
    },
    /// A chunk of the batch contradicts the stored one or itself. Nothing of the batch was written.
    #[error("chunk {id}: {why}")]
    Chunk {
        /// Which.
        id: Uuid,
        /// What is wrong with it.
        why: ChunkRefused,
    },
    /// A line of the job list names an entry that is not of its job. Nothing of the batch was written.
    #[error("the line of job {job} says entry {opened_by} opened it, which is not of that job")]
    Line {
        /// Whose line.
        job: Uuid,
        /// The entry it names.
        opened_by: u64,
    },
    /// A photo belongs to no job, or is not what its hash says. Nothing of the batch was written.
    #[error("photo {hash} belongs to no job, or is not what its hash says")]
    Picture {
        /// The hash it was given with.
        hash: Hash,
    },
    /// The SQLite in this program is one that can corrupt its files.
    #[error("SQLite {found} is older than 3.51.3")]
    OldSqlite {
        /// Its version.
        found: &'static str,
    },
    /// SQLite did not take a setting, for instance because the disk cannot share memory for a write-ahead log.
    #[error("SQLite did not take {setting} = {wanted}, it stays at {found}")]
    Setting {
        /// Name of the pragma.
        setting: &'static str,
        /// What was asked for.
        wanted: &'static str,
        /// What it answers.
        found: String,
    },
    /// Anything else SQLite reports.
    #[error("SQLite failed ({during})")]
    Sqlite {
        /// What was being done.
        during: String,
        /// What it reported.
        #[source]
        source: rusqlite::Error,
    },
    /// Something is where a copy should go; it is left alone.
    #[error("{path} is there already")]
    InTheWay {
        /// What is there.
        path: PathBuf,
    },
    /// The file system failed.
    #[error("{path}: {source}")]
    Io {
        /// Which file.
        path: PathBuf,
        /// What it reported.
        #[source]
        source: std::io::Error,
    },
}

/// Says what was being done when SQLite failed.
pub(crate) trait During<T> {
    /// The same result, with `deed` called only on failure.
    fn during<S: Into<String>>(self, deed: impl FnOnce() -> S) -> Result<T, StoreError>;
}

impl<T> During<T> for Result<T, rusqlite::Error> {
    fn during<S: Into<String>>(self, deed: impl FnOnce() -> S) -> Result<T, StoreError> {
        self.map_err(|source| sorted(source, deed().into()))
    }
}

/// SQLite calls a disk that is full so in one place: the index of the log that it shares could not be made larger.
fn no_room_for_shared_index(source: &rusqlite::Error) -> bool {
    source.sqlite_error().is_some_and(|error| error.extended_code == rusqlite::ffi::SQLITE_IOERR_SHMSIZE)
}

fn sorted(source: rusqlite::Error, during: String) -> StoreError {
    use rusqlite::Error as E;
    match source.sqlite_error_code() {
        Some(_) if no_room_for_shared_index(&source) => StoreError::Full { during },
        Some(ErrorCode::DiskFull) => StoreError::Full { during },
        Some(ErrorCode::ReadOnly) => StoreError::ReadOnly { during },
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreError::Busy { during },
        // Nothing that is written is ever so large: a length in the file is another one than was written.
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase | ErrorCode::TooBig) => {
            StoreError::Damaged { what: format!("{source} ({during})") }
        }
        Some(_) => StoreError::Sqlite { during, source },
        // A column of a STRICT table that holds something else than was written there.
        None => match source {
            E::InvalidColumnType(..)
            | E::FromSqlConversionFailure(..)
            | E::IntegralValueOutOfRange(..)
            | E::Utf8Error(..)
            | E::QueryReturnedNoRows => StoreError::Damaged { what: format!("{source} ({during})") },
            source => StoreError::Sqlite { during, source },
        },
    }
}

impl StoreError {
    /// Damage in words.
    pub(crate) fn damaged(what: impl Into<String>) -> StoreError {
        StoreError::Damaged { what: what.into() }
    }
}

#[cfg(test)]
mod tests {
    use super::{During, StoreError};
    use rusqlite::ffi;

    #[test]
    fn a_full_disk_is_called_so_wherever_it_is_found() {
        let called_full = |extended_code| {
            let failed: Result<(), _> = Err(rusqlite::Error::SqliteFailure(ffi::Error::new(extended_code), None));
            matches!(failed.during(|| "writing"), Err(StoreError::Full { .. }))
        };
        assert!(called_full(ffi::SQLITE_FULL) && called_full(ffi::SQLITE_IOERR_SHMSIZE));
        assert!(!called_full(ffi::SQLITE_IOERR_WRITE) && !called_full(ffi::SQLITE_IOERR_SHMMAP));
    }

    #[test]
    fn a_length_that_nobody_wrote_is_damage() {
        let damaged = |code| {
            let failed: Result<(), _> = Err(rusqlite::Error::SqliteFailure(ffi::Error::new(code), None));
            matches!(failed.during(|| "reading"), Err(StoreError::Damaged { .. }))
        };
        assert!(damaged(ffi::SQLITE_TOOBIG) && damaged(ffi::SQLITE_CORRUPT) && damaged(ffi::SQLITE_NOTADB));
        assert!(!damaged(ffi::SQLITE_IOERR) && !damaged(ffi::SQLITE_NOMEM));
    }
}
