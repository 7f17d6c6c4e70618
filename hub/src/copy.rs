//! A hub's folder copied into another one: a backup, and the way back.

use crate::blobs::{Blobs, BucketAddress};
use crate::serve::make_private;
use crate::storage::{FILE, StorageError, copy};
use axum::body::Bytes;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What was copied.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Copied {
    /// Files that stand beside the entries.
    pub blobs: u64,
    /// Those that are noted and could not be copied, because they are gone or damaged. Devices bring them again.
    pub lost: u64,
}

/// Why nothing was copied.
#[derive(Debug, thiserror::Error)]
pub enum CopyError {
    /// What is kept.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// There is no hub to be copied.
    #[error("{0} is no folder of a hub")]
    NoHub(PathBuf),
    /// Something is there already, and nothing is written over.
    #[error("{0} is not empty")]
    NotEmpty(PathBuf),
    /// A file cannot be read or written.
    #[error("{path}")]
    File {
        /// Which.
        path: PathBuf,
        /// As the file system says.
        source: io::Error,
    },
}

/// A hub's folder, and the bucket of its files if they are not in it.
pub type Place<'a> = (&'a Path, Option<&'a BucketAddress>);

/// Copies the hub in `from` into the folder `to`, which is made or empty. The hub may run meanwhile. The copy is a hub's
/// folder like any other, with its keys: keep it like them. All files are in it, wherever they were.
///
/// # Errors
/// [`CopyError`]; what was begun is left in `to`, without a database if that was not whole.
pub async fn copy_hub(from: Place<'_>, to: &Path) -> Result<Copied, CopyError> {
    copy_into(from, (to, None)).await
}

async fn copy_into((from, source): Place<'_>, (to, target): Place<'_>) -> Result<Copied, CopyError> {
    if !from.join(FILE).is_file() || !from.join("tls").is_dir() {
        return Err(CopyError::NoHub(from.to_owned()));
    }
    make_private(to).map_err(at(to))?;
    if fs::read_dir(to).map_err(at(to))?.next().is_some() {
        return Err(CopyError::NotEmpty(to.to_owned()));
    }
    // The keys before all else: a database without them would begin again as a hub that no device believes.
    make_private(&to.join("tls")).map_err(at(to))?;
    for file in fs::read_dir(from.join("tls")).map_err(at(&from.join("tls")))? {
        let file = file.map_err(at(from))?;
        let target = to.join("tls").join(file.file_name());
        fs::copy(file.path(), &target).map_err(at(&target))?;
    }
    // The database before the files: what is erased while files are copied is missing in the copy, and not the other way round.
    let named = copy(from, to)?;
    let (source, target) = (Blobs::join(from, source)?, Blobs::open_at(to, target)?);
    let mut copied = Copied::default();
    let mut lost = Vec::new();
    for hash in named {
        match source.get(hash).await {
            Ok(Some(bytes)) => {
                let mut fresh = target.begin();
                fresh.push(Bytes::from(bytes)).await?;
                target.put(fresh, async { Ok(()) }).await?;
                copied.blobs += 1;
            }
            Ok(None) | Err(StorageError::Damaged { .. }) => lost.push(hash),
            Err(error) => return Err(error.into()),
        }
    }
    let storage = crate::storage::Storage::open(to)?;
    for hash in lost {
        storage.note_lost(hash).await?;
        copied.lost += 1;
    }
    Ok(copied)
}

/// Puts the backup in the folder `from` back as the hub in `to`, which is made or empty, at `now_ms`. A bucket may hold
/// files already; those of the backup are written anew.
///
/// # Errors
/// [`CopyError`].
pub async fn restore_hub(from: &Path, to: Place<'_>, now_ms: i64) -> Result<Copied, CopyError> {
    let copied = copy_into((from, None), to).await?;
    // Devices took changes that this copy does not know: what comes from here on is new to them.
    crate::storage::Storage::open(to.0)?.leap(now_ms).await?;
    Ok(copied)
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> CopyError {
    let path = path.to_owned();
    move |source| CopyError::File { path, source }
}
