//! What goes wrong with what is kept.

/// A fault of the storage. Nothing of what was asked was done.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StorageError {
    /// The disk is full.
    #[error("no room: {during}: {why}")]
    Full {
        /// At what.
        during: &'static str,
        /// As reported.
        why: String,
    },
    /// It failed otherwise.
    #[error("{during}: {why}")]
    Failed {
        /// At what.
        during: &'static str,
        /// As reported.
        why: String,
    },
    /// What is there is not as it was written.
    #[error("damaged: {what}")]
    Damaged {
        /// What, and where.
        what: String,
    },
    /// It was written by a newer program.
    #[error("the file has format {found}; this program knows formats up to {known}")]
    Newer {
        /// Its format.
        found: i64,
        /// The newest that is known.
        known: i64,
    },
    /// It was written by an older program, and is not to be changed now.
    #[error("the file has format {found}, this program writes {known}: start the hub with this program once")]
    Older {
        /// Its format.
        found: i64,
        /// The newest that is known.
        known: i64,
    },
    /// It is another program's.
    #[error("the file is not one of a hub")]
    NotOurs,
    /// Another hub runs on this folder.
    #[error("another hub runs on this folder")]
    InUse,
    /// The hub is ending.
    #[error("the storage was closed")]
    Closed,
}

impl StorageError {
    /// Something is not as it was written.
    pub fn damaged(what: impl Into<String>) -> StorageError {
        StorageError::Damaged { what: what.into() }
    }
}

/// A fault of a database becomes one of ours, with what was tried.
pub(crate) trait During<T> {
    /// What was tried.
    fn during(self, during: &'static str) -> Result<T, StorageError>;
}

impl<T> During<T> for Result<T, rusqlite::Error> {
    fn during(self, during: &'static str) -> Result<T, StorageError> {
        use rusqlite::ErrorCode::{DatabaseCorrupt, DiskFull, NotADatabase, TooBig};
        self.map_err(|error| {
            let why = error.to_string();
            // A full disk is called so in one place: the index of the log could not be made larger.
            let no_room = |error: &rusqlite::ffi::Error| error.extended_code == rusqlite::ffi::SQLITE_IOERR_SHMSIZE;
            match error.sqlite_error_code() {
                Some(_) if error.sqlite_error().is_some_and(no_room) => StorageError::Full { during, why },
                Some(DiskFull) => StorageError::Full { during, why },
                // Nothing that is written is ever so large: a length in the file is another one than was written.
                Some(DatabaseCorrupt | TooBig) => StorageError::Damaged { what: format!("{during}: {why}") },
                Some(NotADatabase) => StorageError::NotOurs,
                _ => StorageError::Failed { during, why },
            }
        })
    }
}

impl<T> During<T> for Result<T, postgres::Error> {
    fn during(self, during: &'static str) -> Result<T, StorageError> {
        use postgres::error::SqlState;
        self.map_err(|error| match error.as_db_error() {
            // Its particulars may name what stands in a row; they are not for a log.
            Some(said) if *said.code() == SqlState::DISK_FULL => {
                StorageError::Full { during, why: said.message().to_owned() }
            }
            Some(said) => StorageError::Failed { during, why: format!("{} ({})", said.message(), said.code().code()) },
            None => {
                let source = std::error::Error::source(&error).map(|source| format!(": {source}"));
                StorageError::Failed { during, why: format!("{error}{}", source.unwrap_or_default()) }
            }
        })
    }
}

impl<T> During<T> for std::io::Result<T> {
    fn during(self, during: &'static str) -> Result<T, StorageError> {
        self.map_err(|error| match error.kind() {
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => {
                StorageError::Full { during, why: error.to_string() }
            }
            _ => StorageError::Failed { during, why: error.to_string() },
        })
    }
}
