//! A batch of entries at the hub's door: whether it goes on from what is there.

use super::api::{MOST_BATCH_BYTES, MOST_ENTRIES};
use super::gist::Gist;
use super::pairing::payload;
use crate::record::{ChainError, DeviceKey, Hash, Head, Link, PublicKey, SignatureError};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::ops::Range;
use uuid::Uuid;

/// What a batch's signature says that it is.
pub const PUSH: &str = "evenwire-push";

/// What a device signs of a batch: with the chain, all that stands before its last entry.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PushHead {
    /// The hub it is meant for.
    pub hub: Uuid,
    /// The device that sends it.
    pub device: Uuid,
    /// Number of the last entry.
    pub sequence: u64,
    /// Its hash.
    pub hash: Hash,
}

/// Why a batch is not taken. What was there before is still there, as it was.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PushRefused {
    /// What was sent is not the JSON of a batch.
    #[error("no batch, at line {line}, column {column}")]
    Unreadable {
        /// Where, from 1.
        line: usize,
        /// Where in it.
        column: usize,
    },
    /// It has no entry, or its numbers begin with 0.
    #[error("a batch has entries, and numbers begin with 1")]
    Empty,
    /// More entries or bytes of them than are taken at once.
    #[error(
        "a batch has at most {MOST_ENTRIES} entries and, if more than one, at most {MOST_BATCH_BYTES} bytes of them"
    )]
    Size,
    /// It begins after the number that is wanted.
    #[error("entry {expected} is wanted first")]
    Gap {
        /// The number that is wanted.
        expected: u64,
    },
    /// Another entry of this number is here already.
    #[error("another entry {sequence} is here already")]
    Fork {
        /// The first such number.
        sequence: u64,
    },
    /// It is not a chain.
    #[error(transparent)]
    Chain(#[from] ChainError),
    /// The signature is not the device's.
    #[error(transparent)]
    Signature(#[from] SignatureError),
    /// Something else was signed.
    #[error("the signature is for another hub, device or batch")]
    Other,
}

/// A batch as it was sent and signed, each of its entries read once.
#[derive(Clone, Debug)]
pub struct Batch {
    sent: Vec<u8>,
    first_sequence: u64,
    entries: Vec<Came>,
    head: String,
}

/// An entry of a batch, and where its bytes lie in what was sent.
#[derive(Clone, Debug)]
struct Came {
    gist: Gist,
    lies: Range<usize>,
}

/// [`PushAsk`](super::PushAsk) where it lies.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sent<'a> {
    first_sequence: u64,
    #[serde(borrow)]
    entries: Vec<&'a RawValue>,
    head: String,
}

/// What of a batch goes on from what is there.
#[derive(Clone, Debug)]
pub struct Taken {
    /// How many of its entries are here already: the first ones. The others are new.
    pub here: usize,
    /// Where the ledger ends with them.
    pub head: Head,
}

impl Batch {
    /// Reads the JSON of a [`PushAsk`](super::PushAsk) that `key` signed, for that hub, as sent by that device.
    ///
    /// # Errors
    /// [`PushRefused`], but neither a gap nor a fork: what is here already is not asked for.
    pub fn read(sent: Vec<u8>, (hub, device, key): (Uuid, Uuid, &PublicKey)) -> Result<Batch, PushRefused> {
        let unreadable = |e: serde_json::Error| PushRefused::Unreadable { line: e.line(), column: e.column() };
        let Sent { first_sequence, entries, head } = serde_json::from_slice(&sent).map_err(unreadable)?;
        let bytes: usize = entries.iter().map(|entry| entry.get().len()).sum();
        let count = entries.len();
        if count == 0 || first_sequence == 0 {
            return Err(PushRefused::Empty);
        }
        if count > MOST_ENTRIES || (count > 1 && bytes > MOST_BATCH_BYTES) {
            return Err(PushRefused::Size);
        }
        // Room for all of them at once: with a vector that grows, a burst took a twentieth longer.
        let mut came = Vec::with_capacity(count);
        for (place, raw) in (0u64..).zip(entries) {
            let gist = Gist::read(raw.get())?;
            let (expected, found) = (first_sequence.saturating_add(place), gist.link.sequence);
            if found != expected {
                return Err(ChainError::Gap { expected, found }.into());
            }
            let begins = raw.get().as_ptr().addr() - sent.as_ptr().addr();
            came.push(Came { gist, lies: begins..begins + raw.get().len() });
        }
        let Link { sequence, hash, .. } = came.last().ok_or(PushRefused::Empty)?.gist.link;
        if PushHead::verify(key, &head)? != (PushHead { hub, device, sequence, hash }) {
            return Err(PushRefused::Other);
        }
        Ok(Batch { first_sequence, entries: came, head, sent })
    }

    /// Number of its first entry.
    pub fn first_sequence(&self) -> u64 {
        self.first_sequence
    }

    /// How many entries it has: 1 to [`MOST_ENTRIES`].
    #[allow(clippy::len_without_is_empty, reason = "there is none without entries")]
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Its entries and their bytes.
    pub fn entries(&self) -> impl ExactSizeIterator<Item = (&Gist, &[u8])> + Clone {
        self.entries.iter().map(|came| (&came.gist, &self.sent[came.lies.clone()]))
    }

    /// Its signature.
    pub fn head(&self) -> &str {
        &self.head
    }
}

impl PushHead {
    /// This, signed.
    pub fn sign(&self, key: &DeviceKey) -> String {
        key.sign(PUSH, &serde_json::to_vec(self).expect("it has only text keys"))
    }

    /// What `key` signed as this.
    ///
    /// # Errors
    /// [`SignatureError`] for everything else.
    pub fn verify(key: &PublicKey, jws: &str) -> Result<PushHead, SignatureError> {
        payload(key, PUSH, jws)
    }
}

/// Looks at a batch. `tail`: where the ledger ends that is here (for an empty one the device does not count); `known`:
/// hashes of the entries that are here from its first one on, at least as many as the batch has or there are.
///
/// The entries may name other devices where the ledger was taken up from theirs: what is compared is the chain.
///
/// # Errors
/// [`PushRefused::Gap`], [`PushRefused::Fork`] and [`PushRefused::Chain`].
pub fn take((tail, known): (&Head, &[Hash]), batch: &Batch) -> Result<Taken, PushRefused> {
    if batch.first_sequence > tail.sequence + 1 {
        return Err(PushRefused::Gap { expected: tail.sequence + 1 });
    }
    let mut taken = Taken { here: 0, head: tail.clone() };
    for (place, came) in batch.entries.iter().enumerate() {
        let link = &came.gist.link;
        match known.get(place) {
            Some(here) if *here == link.hash => taken.here += 1,
            Some(_) => return Err(PushRefused::Fork { sequence: link.sequence }),
            None => {
                if taken.head.sequence == 0 {
                    taken.head.device = link.device;
                }
                taken.head = next(&taken.head, link)?;
            }
        }
    }
    Ok(taken)
}

/// The first new entry does not follow from the last one here: the ledgers part, and where is not known yet.
fn next(head: &Head, link: &Link) -> Result<Head, PushRefused> {
    match head.linked(link) {
        Err(ChainError::Broken { sequence }) => Err(PushRefused::Fork { sequence }),
        after => Ok(after?),
    }
}
