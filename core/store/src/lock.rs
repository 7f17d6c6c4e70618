//! One program on one ledger: a lock that ends with the process, however it ends.
//!
//! The ledger itself cannot carry it: SQLite's own locks on Unix are per process, and closing any other handle of
//! the file drops them. So a file beside it is locked, `<ledger>.lock`. It is empty and never deleted: between
//! deleting and making it anew, two programs could hold two files of the same name.

use crate::error::StoreError;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Held until dropped.
#[derive(Debug)]
pub(crate) struct Lock {
    file: File,
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Closing alone is not enough: a process that is just being started from this one holds the file for a moment.
        let _closed_anyway = self.file.unlock();
    }
}

impl Lock {
    /// Takes the lock of the ledger at `path`; the file for it is made if it is not there.
    ///
    /// # Errors
    /// [`StoreError::InUse`] when somebody has it; [`StoreError::ReadOnly`] and [`StoreError::Io`] when the file
    /// cannot be made.
    pub(crate) fn take(path: &Path) -> Result<Lock, StoreError> {
        let lock = beside(path)?;
        let file = OpenOptions::new().write(true).create(true).truncate(false).open(&lock);
        hold(file.map_err(|e| failed(e, &lock))?, path)
    }

    /// The same where a program has been that took it; `None` where none has.
    ///
    /// # Errors
    /// As [`Lock::take`].
    pub(crate) fn take_if_there(path: &Path) -> Result<Option<Lock>, StoreError> {
        let lock = beside(path)?;
        match OpenOptions::new().write(true).open(&lock) {
            Ok(file) => hold(file, path).map(Some),
            Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
            Err(e) => Err(failed(e, &lock)),
        }
    }
}

fn hold(file: File, path: &Path) -> Result<Lock, StoreError> {
    match file.try_lock() {
        Ok(()) => Ok(Lock { file }),
        Err(TryLockError::WouldBlock) => Err(StoreError::InUse { path: path.to_owned() }),
        // Systems without such locks are phones, where no two programs share a folder.
        Err(TryLockError::Error(e)) if e.kind() == ErrorKind::Unsupported => Ok(Lock { file }),
        Err(TryLockError::Error(source)) => Err(StoreError::Io { path: path.to_owned(), source }),
    }
}

fn beside(path: &Path) -> Result<PathBuf, StoreError> {
    let mut lock = whole(path)?.into_os_string();
    lock.push(".lock");
    Ok(lock.into())
}

/// The same path for every way to write it: links are followed as far as they lead somewhere.
pub(crate) fn whole(path: &Path) -> Result<PathBuf, StoreError> {
    let io = |source| StoreError::Io { path: path.to_owned(), source };
    match path.canonicalize() {
        Ok(whole) => Ok(whole),
        Err(e) if e.kind() == ErrorKind::NotFound => {
            let name = path.file_name().ok_or_else(|| io(ErrorKind::InvalidInput.into()))?;
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
            Ok(folder.canonicalize().map_err(io)?.join(name))
        }
        Err(e) => Err(io(e)),
    }
}

fn failed(error: io::Error, lock: &Path) -> StoreError {
    match error.kind() {
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            StoreError::ReadOnly { during: format!("locking {}", lock.display()) }
        }
        ErrorKind::StorageFull => StoreError::Full { during: format!("locking {}", lock.display()) },
        _ => StoreError::Io { path: lock.to_owned(), source: error },
    }
}
