//! A device's key, and what it signs: the newest entry of a ledger, and with it all that stand before.
//!
//! Ed25519 (RFC 8032) in a JWS of the compact form (RFC 7515, RFC 8037), so that anyone can verify it with any
//! library. There is one spelling of each signature: whatever else says the same is refused.

use super::hash::Hash;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD as BASE64URL;
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};
use std::fmt;
use uuid::Uuid;

#[cfg(test)]
mod tests;

/// What a signed head says it is. Another meaning gets another name.
pub const HEAD: &str = "evenwire-head";
/// Longest JWS that is read, in bytes.
pub const MAX_JWS: usize = 16 * 1024;
/// Groups of four digits in a fingerprint: 128 bits, as many as a forger would have to meet.
const GROUPS: usize = 8;

/// The secret key of a device. Says nothing of itself but its fingerprint; its memory is wiped when it is let go.
#[derive(Clone)]
pub struct DeviceKey(SigningKey);

/// The public key of a device, written as in a JWK (RFC 8037): base64url of its 32 bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PublicKey(pub [u8; 32]);

/// The end of a ledger as its device vouches for it, and, where a job was closed, that job by itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SignedHead {
    /// Who signed: the device that wrote entry `sequence`.
    pub device: Uuid,
    /// Sequence of the newest entry.
    pub sequence: u64,
    /// Hash of the newest entry.
    pub hash: Hash,
    /// The job that was closed by that entry.
    pub job: Option<SignedJob>,
}

/// All entries of one job up to a head. It can be proved with that job's entries alone, without those of other jobs
/// that stand between them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SignedJob {
    /// Which.
    pub id: Uuid,
    /// How many entries.
    pub entries: u64,
    /// SHA-256 of their hashes, 32 bytes each, one after the other in the order of the ledger.
    pub hash: Hash,
}

/// A signed head as it stands beside the entries.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptHead {
    /// The newest entry it binds.
    pub sequence: u64,
    /// The job it proves by itself, if any.
    pub job: Option<Uuid>,
    /// The signature, with what was signed.
    pub jws: String,
}

/// Why a signature is not taken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SignatureError {
    /// It is not three parts of base64url, or not in the one spelling they have.
    #[error("not a signature of the compact form")]
    Form,
    /// It was made for something else, by another key, or in another way.
    #[error("signed by another key, or as something else")]
    Header,
    /// The public key is none.
    #[error("the public key is not a key of Ed25519")]
    Key,
    /// The signature does not belong to what is signed.
    #[error("the signature does not fit")]
    Wrong,
    /// What is signed cannot be read.
    #[error("what is signed cannot be read: {0}")]
    Payload(String),
}

/// A text that is not 32 bytes in base64url.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not 32 bytes in base64url")]
pub struct NotAKey;

impl DeviceKey {
    /// The key that belongs to 32 random bytes.
    pub fn from_seed(seed: [u8; 32]) -> DeviceKey {
        DeviceKey(SigningKey::from_bytes(&seed))
    }

    /// What everybody may know of it.
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key().to_bytes())
    }

    /// `payload` as a JWS of the compact form that says it is a `typ`.
    ///
    /// # Panics
    /// When `typ` is not of small letters, digits and `-`: it is a constant of the program.
    pub fn sign(&self, typ: &str, payload: &[u8]) -> String {
        self.compact(&self.public().header(typ), payload)
    }

    fn compact(&self, header: &str, payload: &[u8]) -> String {
        let signed = format!("{}.{}", BASE64URL.encode(header), BASE64URL.encode(payload));
        let signature = self.sign_bytes(signed.as_bytes());
        format!("{signed}.{}", BASE64URL.encode(signature))
    }

    fn sign_bytes(&self, bytes: &[u8]) -> [u8; 64] {
        self.0.sign(bytes).to_bytes()
    }
}

impl fmt::Debug for DeviceKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "DeviceKey({})", self.public().fingerprint())
    }
}

impl PublicKey {
    /// The first 128 bits of the SHA-256 of the key in eight groups of four digits, to be read out and compared.
    pub fn fingerprint(&self) -> String {
        let digits = Hash::of(&self.0).to_string();
        let groups: Vec<&str> = (0..GROUPS).map(|group| &digits[group * 4..group * 4 + 4]).collect();
        groups.join("-")
    }

    /// What was signed by [`DeviceKey::sign`] with this key and `typ`.
    ///
    /// # Errors
    /// [`SignatureError`] for everything else, be it one other spelling of the same.
    ///
    /// # Panics
    /// As [`DeviceKey::sign`] on `typ`; never on `jws`.
    pub fn verify(&self, typ: &str, jws: &str) -> Result<Vec<u8>, SignatureError> {
        self.read_compact(&self.header(typ), jws)
    }

    fn read_compact(&self, header: &str, jws: &str) -> Result<Vec<u8>, SignatureError> {
        if jws.len() > MAX_JWS {
            return Err(SignatureError::Form);
        }
        let (signed, signature) = jws.rsplit_once('.').ok_or(SignatureError::Form)?;
        let (found, payload) = signed.split_once('.').ok_or(SignatureError::Form)?;
        // The engine takes no padding and no leftover bits, so that every text has one spelling.
        let payload = BASE64URL.decode(payload).map_err(|_| SignatureError::Form)?;
        let signature = BASE64URL.decode(signature).map_err(|_| SignatureError::Form)?;
        let signature = signature.try_into().map_err(|_| SignatureError::Form)?;
        if found != BASE64URL.encode(header) {
            return Err(SignatureError::Header);
        }
        self.assert_signed(signed.as_bytes(), &signature)?;
        Ok(payload)
    }

    fn assert_signed(&self, bytes: &[u8], signature: &[u8; 64]) -> Result<(), SignatureError> {
        let key = VerifyingKey::from_bytes(&self.0).map_err(|_| SignatureError::Key)?;
        // Strict: no key and no part of a signature under which other texts would verify as well.
        key.verify_strict(bytes, &Signature::from_bytes(signature)).map_err(|_| SignatureError::Wrong)
    }

    /// The only header that is written and read for this key.
    fn header(&self, typ: &str) -> String {
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        assert!(!typ.is_empty() && typ.chars().all(plain), "{typ} would have to be escaped");
        format!(r#"{{"alg":"EdDSA","typ":"{typ}","kid":"{}"}}"#, self.fingerprint())
    }
}

impl SignedHead {
    /// This, signed by `key`.
    pub fn sign(&self, key: &DeviceKey) -> String {
        key.sign(HEAD, &serde_json::to_vec(self).expect("a head has only text keys"))
    }

    /// The head in `jws`, if `key` signed it.
    ///
    /// # Errors
    /// [`SignatureError`] when it did not, or what it signed is not a head.
    pub fn verify(key: &PublicKey, jws: &str) -> Result<SignedHead, SignatureError> {
        let payload = key.verify(HEAD, jws)?;
        serde_json::from_slice(&payload).map_err(|error| SignatureError::Payload(error.to_string()))
    }
}

impl KeptHead {
    /// `head`, signed by `key`.
    pub fn new(head: &SignedHead, key: &DeviceKey) -> KeptHead {
        KeptHead { sequence: head.sequence, job: head.job.map(|job| job.id), jws: head.sign(key) }
    }
}

impl SignedJob {
    /// Job `id` with entries of these hashes, in the order of the ledger.
    pub fn of(id: Uuid, hashes: impl IntoIterator<Item = Hash>) -> SignedJob {
        let mut entries = 0;
        let row = hashes.into_iter().inspect(|_| entries += 1);
        let hash = Hash::of_row(row);
        SignedJob { id, entries, hash }
    }
}

impl From<PublicKey> for String {
    fn from(key: PublicKey) -> String {
        BASE64URL.encode(key.0)
    }
}

impl TryFrom<String> for PublicKey {
    type Error = NotAKey;
    fn try_from(text: String) -> Result<PublicKey, NotAKey> {
        let bytes = BASE64URL.decode(text).map_err(|_| NotAKey)?;
        bytes.try_into().map(PublicKey).map_err(|_| NotAKey)
    }
}
