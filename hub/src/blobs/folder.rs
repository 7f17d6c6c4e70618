//! Files in a folder: `blobs/ab/ab…`.

use super::{Gate, off_the_way};
use crate::app::random_id;
use crate::storage::StorageError;
use axum::body::Bytes;
use evenwire_core::record::Hash;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use uuid::Uuid;

/// Bytes that are held before they are written: most files are written in one go.
const AT_ONCE: usize = 256 * 1024;

/// A folder of files.
#[derive(Clone, Debug)]
pub struct Folder {
    path: PathBuf,
    /// Where files are that are not whole yet.
    begun: PathBuf,
    /// Names files that are being written: no other run of the program has the same, and each is counted.
    run: Uuid,
    count: Arc<AtomicU64>,
    /// Folders of it whose names are known to be on the disk.
    made: Arc<Mutex<BTreeSet<PathBuf>>>,
    pub(super) gate: Gate,
}

/// A file that is being written. It goes when it is dropped before it was named.
#[derive(Debug)]
pub(super) struct Begun {
    path: PathBuf,
    file: Option<File>,
    waiting: Vec<Bytes>,
    bytes: usize,
}

impl Folder {
    pub(super) fn new(path: PathBuf, gate: Gate) -> Folder {
        let begun = path.join("begun");
        Folder { path, begun, run: random_id(), count: Arc::default(), made: Arc::default(), gate }
    }

    pub(super) fn within(&self, shop: Uuid) -> Folder {
        Folder { path: self.path.join(shop.to_string()), ..self.clone() }
    }

    /// Makes it, and clears away what was being written.
    pub(super) fn make(&self) -> io::Result<()> {
        fs::create_dir_all(&self.begun)?;
        self.gate.make()?;
        for file in fs::read_dir(&self.begun)? {
            fs::remove_file(file?.path())?;
        }
        Ok(())
    }

    /// Where the file of a hash is.
    pub fn at(&self, hash: Hash) -> PathBuf {
        let name = hash.to_string();
        self.path.join(&name[..2]).join(&name)
    }

    pub(super) fn begin(&self) -> Begun {
        let number = self.count.fetch_add(1, Ordering::Relaxed);
        let path = self.begun.join(format!("{}-{number}", self.run.simple()));
        Begun { path, file: None, waiting: Vec::new(), bytes: 0 }
    }

    pub(super) async fn put<T>(
        &self,
        (hash, mut begun): (Hash, Begun),
        noted: impl Future<Output = Result<T, StorageError>>,
    ) -> Result<T, StorageError> {
        let written = move || begun.write().and_then(|()| begun.sync()).map(|()| begun);
        let begun = off_the_way("writing a blob", written).await?;
        let _open = self.gate.open().await?;
        let this = self.clone();
        off_the_way("naming a blob", move || this.name(&begun.path, hash)).await?;
        noted.await
    }

    pub(super) async fn get(&self, hash: Hash) -> Result<Option<Vec<u8>>, StorageError> {
        let path = self.at(hash);
        let read = off_the_way("reading a blob", move || match fs::read(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            read => read.map(Some),
        });
        read.await
    }

    pub(super) async fn take_away(&self, hash: Hash) -> Result<(), StorageError> {
        let path = self.at(hash);
        let away = move || match fs::remove_file(path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        };
        off_the_way("taking a blob away", away).await
    }

    /// The name is on the disk, too, before anybody is told.
    fn name(&self, fresh: &Path, hash: Hash) -> io::Result<()> {
        let target = self.at(hash);
        let folder = target.parent().unwrap_or(&self.path);
        self.make_sure_of(folder)?;
        fs::rename(fresh, &target)?;
        File::open(folder)?.sync_all()
    }

    /// A folder's own name is on the disk. Whoever made it may not have come as far as this: each run makes sure of it
    /// once.
    fn make_sure_of(&self, folder: &Path) -> io::Result<()> {
        let made = || self.made.lock().unwrap_or_else(PoisonError::into_inner);
        if made().contains(folder) && folder.is_dir() {
            return Ok(());
        }
        fs::create_dir_all(folder)?;
        for above in folder.ancestors().take_while(|above| above.starts_with(&self.path)) {
            File::open(above.parent().unwrap_or(above))?.sync_all()?;
        }
        made().insert(folder.to_owned());
        Ok(())
    }
}

impl Begun {
    #[cfg(test)]
    pub(super) fn waiting(&self) -> usize {
        self.bytes
    }

    pub(super) async fn push(&mut self, piece: Bytes) -> Result<(), StorageError> {
        self.bytes += piece.len();
        self.waiting.push(piece);
        if self.bytes < AT_ONCE {
            return Ok(());
        }
        let empty = Begun { path: PathBuf::new(), file: None, waiting: Vec::new(), bytes: 0 };
        let mut held = std::mem::replace(self, empty);
        *self = off_the_way("writing a blob", move || held.write().map(|()| held)).await?;
        Ok(())
    }

    /// Writes what waits.
    fn write(&mut self) -> io::Result<()> {
        let file = match &mut self.file {
            Some(file) => file,
            none => none.insert(File::create(&self.path)?),
        };
        for piece in self.waiting.drain(..) {
            file.write_all(&piece)?;
        }
        self.bytes = 0;
        Ok(())
    }

    fn sync(&self) -> io::Result<()> {
        self.file.as_ref().map_or(Ok(()), File::sync_all)
    }
}

impl Drop for Begun {
    fn drop(&mut self) {
        // Named files are not there any more under this name.
        if self.file.take().is_some() {
            let _ = fs::remove_file(&self.path);
        }
    }
}
