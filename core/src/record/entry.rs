//! An entry of the ledger, and the chain that binds it to all that stand before it.

use super::hash::Hash;
use crate::unit::{Millis, Stamp};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Most bytes of one entry.
pub const MAX_ENTRY_BYTES: usize = 256 * 1024;

/// One fact, written down for good. Its bytes are JSON, and exactly these bytes are hashed and stored.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// UUIDv7. Orders nothing.
    pub id: Uuid,
    /// The device whose ledger this is.
    pub device: Uuid,
    /// 1, 2, 3 … without gaps.
    pub sequence: u64,
    /// SHA-256 of the previous entry's bytes; all zero before the first.
    pub previous: Hash,
    /// The job it belongs to, if any.
    pub job: Option<Uuid>,
    /// What kind of event, in kebab case.
    pub kind: String,
    /// Version of that kind.
    pub version: u16,
    /// The run of the program that wrote it.
    pub session: Uuid,
    /// Boot clock, ms.
    pub elapsed_ms: Millis,
    /// Wall clock with offset, RFC 3339.
    pub wall: Stamp,
    /// What is known about the wall clock.
    pub clock: Clock,
    /// The event itself.
    pub body: serde_json::Value,
}

/// What is known about the wall clock when an entry was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Clock {
    /// It agrees with the boot clock since this session began.
    Ok,
    /// It moved by more than five seconds against the boot clock within this session.
    Jumped,
    /// It stands before this program existed.
    Unset,
}

/// An entry with the bytes that are hashed and stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sealed {
    entry: Entry,
    bytes: Vec<u8>,
    hash: Hash,
}

/// What an entry says besides its place in the chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// See [`Entry::id`].
    pub id: Uuid,
    /// See [`Entry::job`].
    pub job: Option<Uuid>,
    /// See [`Entry::kind`].
    pub kind: String,
    /// See [`Entry::version`].
    pub version: u16,
    /// See [`Entry::elapsed_ms`].
    pub elapsed_ms: Millis,
    /// See [`Entry::wall`].
    pub wall: Stamp,
    /// See [`Entry::clock`].
    pub clock: Clock,
    /// See [`Entry::body`].
    pub body: serde_json::Value,
}

/// The end of a ledger: where the next entry is chained on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// Whose ledger.
    pub device: Uuid,
    /// Sequence of the newest entry; 0 for an empty ledger.
    pub sequence: u64,
    /// Hash of the newest entry; all zero for an empty ledger.
    pub hash: Hash,
}

/// Why bytes are not the next entry of a ledger.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ChainError {
    /// The bytes are no entry.
    #[error("not an entry: {0}")]
    Unreadable(String),
    /// It belongs to another device's ledger.
    #[error("entry {sequence} belongs to another device")]
    OtherDevice {
        /// Where it stands.
        sequence: u64,
    },
    /// A number is missing or stands twice.
    #[error("entry {found} stands where {expected} should")]
    Gap {
        /// The number that should come.
        expected: u64,
        /// The number that came.
        found: u64,
    },
    /// It is not chained to the entry before it.
    #[error("entry {sequence} does not follow from the one before it")]
    Broken {
        /// Where it stands.
        sequence: u64,
    },
}

impl Head {
    /// The head of an empty ledger.
    pub fn empty(device: Uuid) -> Head {
        Head { device, sequence: 0, hash: Hash::ZERO }
    }

    /// Gives `draft` the next number, chains it on, and moves the head to it.
    pub fn seal(&mut self, session: Uuid, draft: Draft) -> Sealed {
        let entry = Entry {
            id: draft.id,
            device: self.device,
            sequence: self.sequence + 1,
            previous: self.hash,
            job: draft.job,
            kind: draft.kind,
            version: draft.version,
            session,
            elapsed_ms: draft.elapsed_ms,
            wall: draft.wall,
            clock: draft.clock,
            body: draft.body,
        };
        let bytes = serde_json::to_vec(&entry).expect("an entry has only text keys");
        let sealed = Sealed { hash: Hash::of(&bytes), entry, bytes };
        self.sequence += 1;
        self.hash = sealed.hash;
        sealed
    }

    /// The head after `next`.
    ///
    /// # Errors
    /// [`ChainError`] when `next` is of another device, has the wrong number, or names another predecessor.
    pub fn after(&self, next: &Sealed) -> Result<Head, ChainError> {
        let entry = &next.entry;
        if entry.device != self.device {
            return Err(ChainError::OtherDevice { sequence: entry.sequence });
        }
        if entry.sequence != self.sequence + 1 {
            return Err(ChainError::Gap { expected: self.sequence + 1, found: entry.sequence });
        }
        if entry.previous != self.hash {
            return Err(ChainError::Broken { sequence: entry.sequence });
        }
        Ok(Head { device: self.device, sequence: entry.sequence, hash: next.hash })
    }
}

impl Sealed {
    /// Reads stored bytes. Kinds and fields this program does not know stay in the bytes, untouched.
    ///
    /// # Errors
    /// [`ChainError::Unreadable`] when the bytes are too long or not an entry.
    pub fn read(bytes: Vec<u8>) -> Result<Sealed, ChainError> {
        if bytes.len() > MAX_ENTRY_BYTES {
            return Err(ChainError::Unreadable(format!("{} bytes, at most {MAX_ENTRY_BYTES}", bytes.len())));
        }
        let entry = serde_json::from_slice(&bytes).map_err(|e| ChainError::Unreadable(e.to_string()))?;
        Ok(Sealed { hash: Hash::of(&bytes), entry, bytes })
    }

    /// The entry.
    pub fn entry(&self) -> &Entry {
        &self.entry
    }

    /// The bytes that are stored and hashed.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// SHA-256 of the bytes.
    pub fn hash(&self) -> Hash {
        self.hash
    }
}
