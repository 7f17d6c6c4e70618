//! SHA-256 (FIPS 180-4) as a value, written as 64 hexadecimal digits.

use serde::de::Visitor;
use serde::{Deserialize, Deserializer, Serialize};
use sha2::{Digest, Sha256};
use std::fmt;

/// A SHA-256 digest.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(into = "String")]
pub struct Hash(pub [u8; 32]);

impl Hash {
    /// Stands before the first entry.
    pub const ZERO: Hash = Hash([0; 32]);

    /// The digest of `bytes`.
    pub fn of(bytes: &[u8]) -> Hash {
        Hash(Sha256::digest(bytes).into())
    }

    /// The digest of two byte strings, one after the other.
    pub fn of_two(first: &[u8], second: &[u8]) -> Hash {
        Hash(Sha256::new().chain_update(first).chain_update(second).finalize().into())
    }

    /// The digest of digests, 32 bytes each, one after the other.
    pub fn of_row(hashes: impl IntoIterator<Item = Hash>) -> Hash {
        let row = hashes.into_iter().fold(Sha256::new(), |row, hash| row.chain_update(hash.0));
        Hash(row.finalize().into())
    }
}

/// The digest of bytes that come in pieces.
///
/// ```
/// use evenwire_core::record::{Hash, Hashing};
/// let mut hashing = Hashing::default();
/// hashing.push(b"a pl");
/// hashing.push(b"ate");
/// assert_eq!(hashing.end(), Hash::of(b"a plate"));
/// ```
#[derive(Clone, Debug, Default)]
pub struct Hashing(Sha256);

impl Hashing {
    /// The next piece.
    pub fn push(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The digest of all of them.
    pub fn end(self) -> Hash {
        Hash(self.0.finalize().into())
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

impl From<Hash> for String {
    fn from(hash: Hash) -> String {
        hash.to_string()
    }
}

/// A text that is not 64 hexadecimal digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not 64 hexadecimal digits")]
pub struct NotAHash;

/// Read where it stands: every entry names the one before it.
struct Digits;

impl Visitor<'_> for Digits {
    type Value = Hash;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("64 hexadecimal digits")
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Hash, E> {
        Hash::try_from(text).map_err(E::custom)
    }
}

impl<'de> Deserialize<'de> for Hash {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Hash, D::Error> {
        from.deserialize_str(Digits)
    }
}

impl TryFrom<String> for Hash {
    type Error = NotAHash;
    fn try_from(text: String) -> Result<Hash, NotAHash> {
        Hash::try_from(text.as_str())
    }
}

impl TryFrom<&str> for Hash {
    type Error = NotAHash;
    fn try_from(text: &str) -> Result<Hash, NotAHash> {
        let digits = text.as_bytes();
        // Only lower case is written, so only lower case is read: one value, one spelling.
        if digits.len() != 64 || !digits.iter().all(|d| matches!(d, b'0'..=b'9' | b'a'..=b'f')) {
            return Err(NotAHash);
        }
        let mut bytes = [0u8; 32];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks(2)) {
            let nibble = |d: u8| if d <= b'9' { d - b'0' } else { d - b'a' + 10 };
            *byte = nibble(pair[0]) << 4 | nibble(pair[1]);
        }
        Ok(Hash(bytes))
    }
}
