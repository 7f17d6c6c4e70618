//! An entry of the ledger, and the chain that binds it to all that stand before it.

use super::body::Body;
use super::event::Event;
use super::hash::Hash;
use crate::unit::{Millis, Stamp};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Most bytes of one entry.
pub const MAX_ENTRY_BYTES: usize = 256 * 1024;
/// Most bytes of an entry that carries one of another ledger: as a text in a text, no byte of that takes more than two.
pub const MAX_CARRIED_BYTES: usize = 2 * MAX_ENTRY_BYTES + 4 * 1024;

/// One fact, written down for good. Its bytes are JSON, and exactly these bytes are hashed and stored.
/// (`Kind` and `Said` can be references into them.)
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry<Kind = String, Said = Body> {
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
    pub kind: Kind,
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
    pub body: Said,
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
    /// The entry of another ledger that it carries.
    carried: Option<Box<Sealed>>,
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
    pub body: Body,
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

/// What binds an entry to the one before it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// Whose ledger.
    pub device: Uuid,
    /// Its number.
    pub sequence: u64,
    /// SHA-256 of the bytes of the entry before it.
    pub previous: Hash,
    /// SHA-256 of its own.
    pub hash: Hash,
    /// The end at which it says that its device takes the ledger up from another one.
    pub renews: Option<Head>,
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
        let sealed = Sealed::of(entry, bytes);
        self.sequence += 1;
        self.hash = sealed.hash;
        sealed
    }

    /// The head after `next`.
    ///
    /// # Errors
    /// [`ChainError`] when `next` is of another device and does not say that it goes on from here, has the wrong
    /// number, or names another predecessor.
    pub fn after(&self, next: &Sealed) -> Result<Head, ChainError> {
        self.linked(&next.link())
    }

    /// The same for the entry that is bound so.
    ///
    /// # Errors
    /// As [`Head::after`].
    pub fn linked(&self, next: &Link) -> Result<Head, ChainError> {
        let sequence = next.sequence;
        if next.device != self.device && next.renews.as_ref() != Some(self) {
            return Err(ChainError::OtherDevice { sequence });
        }
        if sequence != self.sequence + 1 {
            return Err(ChainError::Gap { expected: self.sequence + 1, found: sequence });
        }
        if next.previous != self.hash {
            return Err(ChainError::Broken { sequence });
        }
        Ok(Head { device: next.device, sequence, hash: next.hash })
    }
}

impl Link {
    /// That of an entry with that hash; `event` is what it tells.
    pub(crate) fn of<Kind, Said>(entry: &Entry<Kind, Said>, hash: Hash, event: Option<&Event>) -> Link {
        let renews = match event {
            Some(Event::IdentityRenewed { from_device, from_sequence, from_hash, .. }) if entry.job.is_none() => {
                Some(Head { device: *from_device, sequence: *from_sequence, hash: *from_hash })
            }
            _ => None,
        };
        Link { device: entry.device, sequence: entry.sequence, previous: entry.previous, hash, renews }
    }
}

/// The kind of an entry by which a device takes up the ledger of another one.
const RENEWED: &str = "identity-renewed";
/// The kind of an entry that carries one of another ledger.
pub(crate) const CARRIED: &str = "carried";

/// The entry that `entry` carries: one of the same job that carries none itself.
fn carried_by(entry: &Entry) -> Option<Sealed> {
    if entry.kind != CARRIED {
        return None;
    }
    let Some(Event::Carried { entry: text }) = entry.event() else { return None };
    let fits = |told: &Entry| told.kind != CARRIED && told.job.is_some() && told.job == entry.job;
    Sealed::read(text.into_bytes()).ok().filter(|told| fits(&told.entry))
}

impl Entry {
    /// What happened; `None` for a kind or version this program does not know.
    pub fn event(&self) -> Option<Event> {
        Event::read(&self.kind, self.version, self.body.text())
    }
}

impl Sealed {
    /// Reads stored bytes. Kinds and fields this program does not know stay in the bytes, untouched.
    ///
    /// # Errors
    /// [`ChainError::Unreadable`] when the bytes are too long or not an entry.
    pub fn read(bytes: Vec<u8>) -> Result<Sealed, ChainError> {
        let too_long = |most: usize| ChainError::Unreadable(format!("{} bytes, at most {most}", bytes.len()));
        if bytes.len() > MAX_CARRIED_BYTES {
            return Err(too_long(MAX_CARRIED_BYTES));
        }
        let entry: Entry = serde_json::from_slice(&bytes).map_err(|e| ChainError::Unreadable(e.to_string()))?;
        if bytes.len() > MAX_ENTRY_BYTES && entry.kind != CARRIED {
            return Err(too_long(MAX_ENTRY_BYTES));
        }
        Ok(Sealed::of(entry, bytes))
    }

    fn of(entry: Entry, bytes: Vec<u8>) -> Sealed {
        let carried = carried_by(&entry).map(Box::new);
        Sealed { hash: Hash::of(&bytes), entry, bytes, carried }
    }

    /// The entry as it was written first: the one it carries from another ledger, or itself. What happened, when and on
    /// which device stands there; its place in this ledger's chain stands here.
    pub fn told(&self) -> &Sealed {
        self.carried.as_deref().unwrap_or(self)
    }

    /// What happened, whichever ledger it was written in first; `None` for what this program does not know, and for
    /// what claims to carry an entry and does not.
    pub fn event(&self) -> Option<Event> {
        self.told().entry.event().filter(|event| !matches!(event, Event::Carried { .. }))
    }

    /// The same with its time brought to another zone: to be read from, never to be kept.
    pub(crate) fn timed(&self, wall: &dyn Fn(&Stamp) -> Stamp) -> Sealed {
        let mut moved = self.clone();
        moved.entry.wall = wall(&self.entry.wall);
        moved.carried = self.carried.as_ref().map(|carried| Box::new(carried.timed(wall)));
        moved
    }

    /// What binds it to the entry before it.
    pub fn link(&self) -> Link {
        // Only entries of this kind are read for it: ledgers are followed from their beginning.
        let event = (self.entry.kind == RENEWED).then(|| self.entry.event()).flatten();
        Link::of(&self.entry, self.hash, event.as_ref())
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
