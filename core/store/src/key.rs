//! The key beside the ledger: `<ledger>.key`, to be read by its owner alone. It is replaced whole, so that a torn write
//! loses nothing; a key that is not used any more is put aside, never deleted. Whether its secret is in it is not looked
//! at here.

use crate::error::StoreError;
use crate::open::{MOST_ASIDE, beside, exists, failed, sync_folder};
use crate::{Glance, Store, lock};
use evenwire_core::record::KeptKey;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

impl Store {
    /// The key beside this ledger; `None` where there is none, or none that can be understood.
    ///
    /// # Errors
    /// [`StoreError::Io`] when the file is there and cannot be read.
    pub fn kept_key(&self) -> Result<Option<KeptKey>, StoreError> {
        kept_beside(self.path())
    }

    /// Keeps `key` beside this ledger. The file of another key, or one that cannot be understood, is put aside.
    ///
    /// # Errors
    /// [`StoreError::Full`], [`StoreError::ReadOnly`], [`StoreError::Io`]; the key that was there is there then, or
    /// aside.
    pub fn keep_key(&self, key: &KeptKey) -> Result<(), StoreError> {
        keep(&place(self.path())?, key)
    }
}

impl Glance {
    /// Notes beside the ledger how far it has come, before something of it leaves the device: an older copy that is put
    /// back later is found out by that. Nothing is noted for a key that the ledger does not end with, or that knows more.
    ///
    /// # Errors
    /// As [`Store::keep_key`]; what stood there is still true then.
    pub fn note_end(&self) -> Result<(), StoreError> {
        let (head, Some(ledger)) = (self.head()?, self.0.path().map(Path::new)) else { return Ok(()) };
        let path = place(ledger)?;
        let _alone = alone(&path)?;
        match kept(&path)? {
            Some(kept) if kept.device == head.device && kept.witness.sequence < head.sequence => {
                put(&path, &kept.seen(&head))
            }
            _ => Ok(()),
        }
    }
}

/// Puts the key beside `ledger` aside, if there is one.
///
/// # Errors
/// [`StoreError::Io`] when the file system refuses.
pub(crate) fn put_aside(path: &Path) -> Result<(), StoreError> {
    if !exists(path)? {
        return Ok(());
    }
    for counter in 1..=MOST_ASIDE {
        let target = beside(path, &format!(".aside-{counter}"));
        if !exists(&target)? {
            fs::rename(path, &target).map_err(failed(path))?;
            return sync_folder(path);
        }
    }
    Err(failed(path)(io::ErrorKind::AlreadyExists.into()))
}

/// Where the key of a ledger is: one file for every way to write the ledger's path.
pub(crate) fn place(ledger: &Path) -> Result<PathBuf, StoreError> {
    Ok(beside(&lock::whole(ledger)?, ".key"))
}

/// The key beside `ledger`.
pub(crate) fn kept_beside(ledger: &Path) -> Result<Option<KeptKey>, StoreError> {
    kept(&place(ledger)?)
}

fn kept(path: &Path) -> Result<Option<KeptKey>, StoreError> {
    match fs::read(path) {
        Ok(bytes) => Ok(String::from_utf8(bytes).ok().and_then(|text| KeptKey::read(&text))),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(failed(path)(e)),
    }
}

/// See [`Store::keep_key`].
pub(crate) fn keep(path: &Path, key: &KeptKey) -> Result<(), StoreError> {
    let _alone = alone(path)?;
    put(path, key)
}

/// Nobody else writes the key as long as this lives: whoever hands out a claim may be another program than the one that
/// writes the ledger.
fn alone(path: &Path) -> Result<File, StoreError> {
    let lock = beside(path, ".lock");
    let file = File::options().create(true).truncate(false).write(true).open(&lock).map_err(|e| named(e, &lock))?;
    file.lock().map_err(|e| named(e, &lock))?;
    Ok(file)
}

fn put(path: &Path, key: &KeptKey) -> Result<(), StoreError> {
    let same = |old: &KeptKey| (old.device, old.public()) == (key.device, key.public());
    if !kept(path)?.as_ref().is_some_and(same) {
        put_aside(path)?;
    }
    let draft = beside(path, ".new");
    write(&draft, key.text().as_bytes()).map_err(|e| named(e, &draft))?;
    fs::rename(&draft, path).map_err(|e| named(e, path))?;
    sync_folder(path)
}

fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    // One that was left half written may have other rights.
    match fs::remove_file(path) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        _ => {}
    }
    let mut file = secret(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// A new file that only its owner can read.
fn secret(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

fn named(error: io::Error, path: &Path) -> StoreError {
    let during = || format!("writing {}", path.display());
    match error.kind() {
        io::ErrorKind::StorageFull => StoreError::Full { during: during() },
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
            StoreError::ReadOnly { during: during() }
        }
        _ => StoreError::Io { path: path.to_owned(), source: error },
    }
}
