//! What stands beside the entries, by its hash: in a folder of files, or in a bucket of an object store. Whatever comes
//! in and goes out is held against its hash, and nobody is told that something is stored before it is.

use crate::storage::StorageError;
use axum::body::Bytes;
use evenwire_core::record::{Hash, Hashing};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio::sync::{OwnedRwLockReadGuard, OwnedRwLockWriteGuard, RwLock};
use uuid::Uuid;

mod bucket;
mod folder;

pub use bucket::{Bucket, BucketAddress};
pub use folder::Folder;

/// Says in the folder of a hub where its files are, so that nobody looks for them elsewhere and finds none.
const WHERE: &str = "blobs.where";
/// What stands there where they are in the folder itself.
const HERE: &str = "here";

/// Where files are kept.
#[derive(Clone, Debug)]
pub enum Blobs {
    /// In a folder.
    Folder(Folder),
    /// In a bucket.
    Bucket(Bucket),
}

/// Bytes that are coming in. Dropped before they are put somewhere, they leave nothing behind.
#[derive(Debug)]
pub struct Fresh {
    hashing: Hashing,
    bytes: usize,
    held: Held,
}

#[derive(Debug)]
enum Held {
    /// On their way into a file.
    File(folder::Begun),
    /// As they came, each once.
    Pieces(Vec<Bytes>),
}

impl Fresh {
    /// The next of the bytes.
    ///
    /// # Errors
    /// [`StorageError`] as the file system says.
    pub async fn push(&mut self, piece: Bytes) -> Result<(), StorageError> {
        self.hashing.push(&piece);
        self.bytes += piece.len();
        match &mut self.held {
            Held::File(begun) => begun.push(piece).await,
            Held::Pieces(pieces) => {
                pieces.push(piece);
                Ok(())
            }
        }
    }

    /// How many came.
    pub fn bytes(&self) -> usize {
        self.bytes
    }

    /// Their hash.
    pub fn hash(&self) -> Hash {
        self.hashing.clone().end()
    }
}

impl Blobs {
    /// The files of the hub in `folder`: in that bucket, or without one in the folder `blobs` in it, made if it is not
    /// there. What was being written when the hub ended goes.
    ///
    /// # Errors
    /// [`StorageError`], also when they were kept elsewhere until now: then all of them would seem to be lost.
    pub fn open_at(folder: &Path, bucket: Option<&BucketAddress>) -> Result<Blobs, StorageError> {
        let during = "opening the files beside the entries";
        let told = at_the_place(folder, bucket)?;
        let blobs = match bucket {
            None => Blobs::open(folder)?,
            Some(address) => {
                let gate = Gate::of(folder);
                gate.make().map_err(|error| fault(during, &error))?;
                Blobs::Bucket(Bucket::open(address, gate)?)
            }
        };
        fs::write(folder.join(WHERE), told + "\n").map_err(|error| fault(during, &error))?;
        Ok(blobs)
    }

    /// The same while other hubs may be writing there, who opened them before.
    ///
    /// # Errors
    /// [`StorageError`], also when they are kept elsewhere.
    pub fn join(folder: &Path, bucket: Option<&BucketAddress>) -> Result<Blobs, StorageError> {
        at_the_place(folder, bucket)?;
        match bucket {
            None => Ok(Blobs::open_as_it_is(folder)),
            Some(address) => Bucket::open(address, Gate::of(folder)).map(Blobs::Bucket),
        }
    }

    /// The folder `blobs` in `folder`, made if it is not there. What was being written when the hub ended goes.
    ///
    /// # Errors
    /// [`StorageError`] as the file system says.
    pub fn open(folder: &Path) -> Result<Blobs, StorageError> {
        let blobs = Folder::new(folder.join("blobs"), Gate::of(folder));
        blobs.make().map_err(|error| fault("opening the folder of blobs", &error))?;
        Ok(Blobs::Folder(blobs))
    }

    /// The folder `blobs` in `folder`, as it is: to look into it, or where other hubs may be writing there.
    pub fn open_as_it_is(folder: &Path) -> Blobs {
        Blobs::Folder(Folder::new(folder.join("blobs"), Gate::of(folder)))
    }

    /// The files of one shop, apart from those of all others.
    #[must_use]
    pub fn of(&self, shop: Uuid) -> Blobs {
        match self {
            Blobs::Folder(folder) => Blobs::Folder(folder.within(shop)),
            Blobs::Bucket(bucket) => Blobs::Bucket(bucket.within(shop)),
        }
    }

    /// Begins to take bytes in.
    pub fn begin(&self) -> Fresh {
        let held = match self {
            Blobs::Folder(folder) => Held::File(folder.begin()),
            Blobs::Bucket(_) => Held::Pieces(Vec::new()),
        };
        Fresh { hashing: Hashing::default(), bytes: 0, held }
    }

    /// Puts what came where its hash is looked for, so that it lasts, and then does `noted`. What is there already is
    /// written anew: whoever brings it again may do so because it decayed.
    ///
    /// # Errors
    /// [`StorageError`]; the file may then be there without a note.
    pub async fn put<T>(
        &self,
        fresh: Fresh,
        noted: impl Future<Output = Result<T, StorageError>>,
    ) -> Result<T, StorageError> {
        let (hash, bytes) = (fresh.hash(), fresh.bytes());
        match (self, fresh.held) {
            (Blobs::Folder(folder), Held::File(begun)) => folder.put((hash, begun), noted).await,
            (Blobs::Bucket(bucket), Held::Pieces(pieces)) => bucket.put((hash, bytes, pieces), noted).await,
            _ => {
                Err(StorageError::Failed { during: "storing a blob", why: "it was begun in another place".to_owned() })
            }
        }
    }

    /// The bytes; `None` where there is no such file. They are those of the hash, or it is an error.
    ///
    /// # Errors
    /// [`StorageError::Damaged`] when they are not.
    pub async fn get(&self, hash: Hash) -> Result<Option<Vec<u8>>, StorageError> {
        let found = match self {
            Blobs::Folder(folder) => folder.get(hash).await?,
            Blobs::Bucket(bucket) => bucket.get(hash).await?,
        };
        match &found {
            Some(bytes) if Hash::of(bytes) != hash => Err(StorageError::damaged(format!("blob {hash}"))),
            _ => Ok(found),
        }
    }

    /// Takes files away, while none is being brought: `doomed` says which, `gone` is done for each one after it. One that
    /// cannot be taken away is tried again another time. `true`: some went.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn remove<F: Future<Output = Result<(), StorageError>>>(
        &self,
        doomed: impl Future<Output = Result<Vec<Hash>, StorageError>>,
        gone: impl Fn(Hash) -> F,
    ) -> Result<bool, StorageError> {
        let gate = match self {
            Blobs::Folder(folder) => &folder.gate,
            Blobs::Bucket(bucket) => &bucket.gate,
        };
        let _closed = gate.close().await?;
        let mut some = false;
        for hash in doomed.await? {
            let away = match self {
                Blobs::Folder(folder) => folder.take_away(hash).await,
                Blobs::Bucket(bucket) => bucket.take_away(hash).await,
            };
            if let Err(error) = away {
                tracing::error!(%error, %hash, "a file that has to go is still there");
                continue;
            }
            gone(hash).await?;
            some = true;
        }
        Ok(some)
    }

    /// Whether files can be stored now, as far as that can be told without storing one.
    ///
    /// # Errors
    /// [`StorageError`] when they cannot.
    pub async fn try_out(&self) -> Result<(), StorageError> {
        match self {
            Blobs::Folder(_) => Ok(()),
            Blobs::Bucket(bucket) => bucket.try_out().await,
        }
    }
}

/// What is written down of where files are: that they are where they were until now.
fn at_the_place(folder: &Path, bucket: Option<&BucketAddress>) -> Result<String, StorageError> {
    let during = "opening the files beside the entries";
    let told = bucket.map_or(HERE.to_owned(), ToString::to_string);
    let known = match fs::read_to_string(folder.join(WHERE)) {
        Ok(known) => known.trim().to_owned(),
        // A folder that was begun before it was written down.
        Err(error) if error.kind() == io::ErrorKind::NotFound && folder.join("blobs").is_dir() => HERE.to_owned(),
        Err(error) if error.kind() == io::ErrorKind::NotFound => told.clone(),
        Err(error) => return Err(fault(during, &error)),
    };
    if known == told {
        return Ok(told);
    }
    let place = if known == HERE { "in its folder" } else { &known };
    let why = format!("the files of this hub are {place}: `--blobs` has to say so, or not to be there");
    Err(StorageError::Failed { during, why })
}

/// Open while files are brought, and closed while files go: what came back in the meantime is not taken away again.
/// Held from the moment a file is where it is looked for until its row is written. Other hubs over the same folder hold
/// the file `blobs.gate` likewise.
#[derive(Clone, Debug)]
struct Gate {
    here: Arc<RwLock<()>>,
    file: PathBuf,
}

impl Gate {
    /// That of the hub in `folder`.
    fn of(folder: &Path) -> Gate {
        Gate { here: Arc::default(), file: folder.join("blobs.gate") }
    }

    fn make(&self) -> io::Result<()> {
        File::options().create(true).append(true).open(&self.file).map(drop)
    }

    async fn open(&self) -> Result<(OwnedRwLockReadGuard<()>, File), StorageError> {
        let (here, path) = (self.here.clone().read_owned().await, self.file.clone());
        let held = off_the_way("opening the gate of blobs", move || {
            let file = File::open(path)?;
            file.lock_shared().map(|()| file)
        });
        Ok((here, held.await?))
    }

    async fn close(&self) -> Result<(OwnedRwLockWriteGuard<()>, File), StorageError> {
        let (here, path) = (self.here.clone().write_owned().await, self.file.clone());
        let held = off_the_way("taking blobs away", move || {
            let file = File::open(path)?;
            file.lock().map(|()| file)
        });
        Ok((here, held.await?))
    }
}

/// Does what may wait for the disk on a thread that may wait.
async fn off_the_way<T: Send + 'static>(
    during: &'static str,
    work: impl FnOnce() -> io::Result<T> + Send + 'static,
) -> Result<T, StorageError> {
    let done = tokio::task::spawn_blocking(work).await.map_err(|_| StorageError::Closed)?;
    done.map_err(|error| fault(during, &error))
}

fn fault(during: &'static str, error: &io::Error) -> StorageError {
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            StorageError::Full { during, why: error.to_string() }
        }
        _ => StorageError::Failed { during, why: error.to_string() },
    }
}

#[cfg(test)]
mod tests;
