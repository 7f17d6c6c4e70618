//! Whose ledger it is. A device writes under its own id and signs with its own key; both begin anew where it cannot
//! be sure to be the only one that goes on from an entry.
//!
//! The key stands beside the ledger, never in it, with the newest entry its device is known to have written: a ledger
//! that has not come as far was put back, and what it lacks may have been read elsewhere. Its secret is there too, or in
//! the key store of the system; one that cannot be had for now is not one that is lost.

use super::entry::{Head, Sealed};
use super::event::Event;
use super::hash::Hash;
use super::signed::{DeviceKey, PublicKey};
use serde::{Deserialize, Serialize};
use std::fmt;
use uuid::Uuid;

#[cfg(test)]
mod tests;

/// An entry the device is known to have written, or the end its ledger began from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Witness {
    /// Its number; 0: none was written yet.
    pub sequence: u64,
    /// Its hash; all zero where there is none.
    pub hash: Hash,
}

/// Why a device goes on under a new id and key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Renewal {
    /// The ledger names a key that is not here: it came without it, or the key was lost.
    KeyMissing,
    /// The key that is here is another one's.
    OtherKey,
    /// The ledger ends before an entry this device has written: an older copy was put back.
    Behind,
    /// The ledger has another entry where this device has written one.
    Differs,
    /// It was put back from a backup.
    Restored,
}

/// A device's id and key as kept beside its ledger. The secret of the key is in it, or in the key store of the system.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Written", into = "Written")]
pub struct KeptKey {
    /// Whose key.
    pub device: Uuid,
    secret: Secret,
    /// No entry of this device before it is missing from its ledger; there may be more.
    pub witness: Witness,
    /// The device goes on from another's ledger for this reason, and the ledger may not say so yet.
    pub begins: Option<Renewal>,
    /// The secret was not to be had when this entry was the newest one: what was closed after it may lack a signature.
    pub unsigned_after: Option<u64>,
}

/// Where the secret of a key is.
#[derive(Clone, PartialEq, Eq)]
enum Secret {
    /// Here: the 32 bytes it is made of.
    Here(Hash),
    /// In the key store of the system, under the fingerprint of this key.
    InStore(PublicKey),
}

/// A kept key as it is written: with its seed, or with the key that belongs to it.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    device: Uuid,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    seed: Option<Hash>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    in_store: Option<PublicKey>,
    witness: Witness,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    begins: Option<Renewal>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    unsigned_after: Option<u64>,
}

/// How a key and a ledger stand to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// The key is the one the ledger names, and the ledger has come as far as is known.
    Known,
    /// The key fits, and the ledger does not name it yet.
    Unnamed,
    /// No key was ever made for it.
    Unkeyed,
    /// The device has to go on under a new id and key.
    Anew(Renewal),
    /// Id and key are made, and the ledger does not say so yet.
    Begun(Renewal),
}

impl Witness {
    /// The end of a ledger.
    pub fn of(head: &Head) -> Witness {
        Witness { sequence: head.sequence, hash: head.hash }
    }
}

impl KeptKey {
    /// The key of 32 random bytes for `device`, which begins after `from`.
    pub fn new((device, seed): (Uuid, [u8; 32]), from: &Head, begins: Option<Renewal>) -> KeptKey {
        let secret = Secret::Here(Hash(seed));
        KeptKey { device, secret, witness: Witness::of(from), begins, unsigned_after: None }
    }

    /// What everybody may know of the key.
    pub fn public(&self) -> PublicKey {
        match &self.secret {
            Secret::Here(seed) => DeviceKey::from_seed(seed.0).public(),
            Secret::InStore(key) => *key,
        }
    }

    /// The key itself; `None`: its secret is in the key store of the system.
    pub fn key(&self) -> Option<DeviceKey> {
        self.seed().map(DeviceKey::from_seed)
    }

    /// The 32 bytes the key is made of; `None`: they are in the key store of the system. Secret.
    pub fn seed(&self) -> Option<[u8; 32]> {
        match &self.secret {
            Secret::Here(seed) => Some(seed.0),
            Secret::InStore(_) => None,
        }
    }

    /// The same for a device whose secret is in the key store of the system.
    pub fn in_store(&self) -> KeptKey {
        KeptKey { secret: Secret::InStore(self.public()), ..self.clone() }
    }

    /// The same with the secret in it, if it is made of these bytes.
    pub fn with_seed(&self, seed: [u8; 32]) -> Option<KeptKey> {
        let fits = DeviceKey::from_seed(seed).public() == self.public();
        fits.then(|| KeptKey { secret: Secret::Here(Hash(seed)), ..self.clone() })
    }

    /// The same after the ledger has come to `head`.
    pub fn seen(&self, head: &Head) -> KeptKey {
        KeptKey { witness: Witness::of(head), begins: None, ..self.clone() }
    }

    /// As it is kept. Secret.
    pub fn text(&self) -> String {
        serde_json::to_string(self).expect("a key has only text keys")
    }

    /// What [`KeptKey::text`] gave; `None` for anything else.
    pub fn read(text: &str) -> Option<KeptKey> {
        serde_json::from_str(text).ok()
    }
}

impl From<KeptKey> for Written {
    fn from(kept: KeptKey) -> Written {
        let KeptKey { device, secret, witness, begins, unsigned_after } = kept;
        let (seed, in_store) = match secret {
            Secret::Here(seed) => (Some(seed), None),
            Secret::InStore(key) => (None, Some(key)),
        };
        Written { device, seed, in_store, witness, begins, unsigned_after }
    }
}

impl TryFrom<Written> for KeptKey {
    type Error = &'static str;
    fn try_from(written: Written) -> Result<KeptKey, &'static str> {
        let Written { device, seed, in_store, witness, begins, unsigned_after } = written;
        let secret = match (seed, in_store) {
            (Some(seed), None) => Secret::Here(seed),
            (None, Some(key)) => Secret::InStore(key),
            _ => return Err("the secret has to be in one place"),
        };
        Ok(KeptKey { device, secret, witness, begins, unsigned_after })
    }
}

impl fmt::Debug for KeptKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("KeptKey")
            .field("device", &self.device)
            .field("key", &self.public().fingerprint())
            .field("here", &self.seed().is_some())
            .field("witness", &self.witness)
            .field("begins", &self.begins)
            .field("unsigned_after", &self.unsigned_after)
            .finish()
    }
}

impl Standing {
    /// The same where the secret of the key is surely lost: it is as if no key were there.
    pub fn without_secret(self) -> Standing {
        match self {
            Standing::Known => Standing::Anew(Renewal::KeyMissing),
            Standing::Unnamed | Standing::Unkeyed => Standing::Unkeyed,
            Standing::Begun(reason) | Standing::Anew(reason) => Standing::Anew(reason),
        }
    }
}

/// The key a device names in the entries of a ledger that belong to no job; the newest, if there are several.
pub fn key_named(device_entries: &[Sealed], device: Uuid) -> Option<PublicKey> {
    let of_device = device_entries.iter().rev().filter(|sealed| sealed.entry().device == device);
    of_device.map(Sealed::entry).find_map(|entry| match entry.event() {
        Some(Event::DeviceKeyed { key }) => Some(key),
        _ => None,
    })
}

/// How the key beside a ledger and the ledger stand to each other: where the ledger ends, the key it names for that
/// device, and the hash of its entry at the key's witness (all zero at 0; `None` where it has none).
pub fn standing(head: &Head, named: Option<PublicKey>, kept: Option<&KeptKey>, there: Option<Hash>) -> Standing {
    let Some(kept) = kept else {
        return if named.is_some() { Standing::Anew(Renewal::KeyMissing) } else { Standing::Unkeyed };
    };
    if kept.device != head.device {
        return match kept.begins {
            Some(reason) => Standing::Begun(reason),
            // Nothing is in it that anybody could have seen: a new ledger where another one was.
            None if head.sequence == 0 => Standing::Unkeyed,
            None => Standing::Anew(Renewal::OtherKey),
        };
    }
    if named.is_some_and(|named| named != kept.public()) {
        return Standing::Anew(Renewal::OtherKey);
    }
    match there {
        None => Standing::Anew(Renewal::Behind),
        Some(hash) if hash != kept.witness.hash => Standing::Anew(Renewal::Differs),
        Some(_) if named.is_none() => Standing::Unnamed,
        Some(_) => Standing::Known,
    }
}
