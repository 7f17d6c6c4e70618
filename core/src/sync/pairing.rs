//! Taking a device into a shop: the invitation it is given, the proof that it has a key, what both screens show, and
//! what it shows the hub from then on.

use crate::record::{DeviceKey, Hash, PublicKey, SignatureError};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD as BASE64URL;
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use uuid::Uuid;

/// What a proof says in its signature that it is.
pub const PAIRING: &str = "evenwire-pairing";
/// What an assertion says in its signature that it is.
pub const ASSERTION: &str = "evenwire-assertion";
/// The kind of grant a device asks for (RFC 7523 §2.1).
pub const JWT_BEARER: &str = "urn:ietf:params:oauth:grant-type:jwt-bearer";
/// Characters of a one-time code: 50 bits in Crockford's base 32.
pub const CODE_LENGTH: usize = 10;
/// Crockford's base 32: no letter is taken for a digit.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// The name in the certificate of every hub. `.internal` is reserved for private use, so that no name server knows it;
/// devices are told the address.
pub const HOST: &str = "hub.evenwire.internal";
/// How the text of an invitation begins.
const BEGINS: &str = "evenwire:hub/1/";
/// Longest text that is read, and most addresses in it.
const MOST: (usize, usize) = (8 * 1024, 16);

/// A one-time code of random bytes.
pub fn one_time_code(random: [u8; CODE_LENGTH]) -> String {
    random.iter().map(|byte| char::from(ALPHABET[usize::from(byte % 32)])).collect()
}

/// The name a device asks for its hub by: where one address answers for many shops, it says which of them is meant before
/// anything else is said.
pub fn host_of(hub: Uuid) -> String {
    format!("{}.{HOST}", hub.simple())
}

/// What the office hands to whoever holds the device, as a picture (QR) or as text.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Invitation {
    /// The hub.
    pub hub: Uuid,
    /// The shop's name.
    pub name: String,
    /// Where it is reached: address and port, tried in this order.
    pub addresses: Vec<String>,
    /// The certificate every certificate of the hub comes from (DER, base64url). The device believes this one and no
    /// other, so that nobody between them has to be believed, not even once.
    pub authority: String,
    /// One time, for a few minutes.
    pub code: String,
}

/// Why a text is not what another screen showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TextFault {
    /// It is another text.
    #[error("this is another text")]
    Other,
    /// It begins as one and cannot be read: most often its end was not copied.
    #[error("the text is not whole")]
    NotWhole,
}

/// What one screen shows another, as text without blanks, to be copied or drawn.
pub(super) fn shown(begins: &str, what: &impl Serialize) -> String {
    format!("{begins}{}", BASE64URL.encode(serde_json::to_vec(what).expect("it has only text keys")))
}

/// What [`shown`] gave; blanks and line ends that a letter put into it do no harm. `whole` says whether it has all it
/// needs.
pub(super) fn read<T: DeserializeOwned>(begins: &str, text: &str, whole: impl Fn(&T) -> bool) -> Result<T, TextFault> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).take(MOST.0 + 1).collect();
    let coded = text.strip_prefix(begins).ok_or(TextFault::Other)?;
    let bytes = BASE64URL.decode(coded).ok().filter(|_| text.len() <= MOST.0);
    let read: Option<T> = bytes.and_then(|json| serde_json::from_slice(&json).ok());
    read.filter(whole).ok_or(TextFault::NotWhole)
}

/// There are addresses, and no more than anybody tries.
pub(super) fn addressed(addresses: &[String]) -> bool {
    (1..=MOST.1).contains(&addresses.len())
}

/// A certificate as it is shown, DER.
pub(super) fn certificate(shown: &str) -> Option<Vec<u8>> {
    BASE64URL.decode(shown).ok().filter(|der| !der.is_empty())
}

impl Invitation {
    /// As text without blanks, to be copied or drawn.
    pub fn text(&self) -> String {
        shown(BEGINS, self)
    }

    /// What [`Invitation::text`] gave; blanks and line ends that a letter put into it do no harm.
    ///
    /// # Errors
    /// [`TextFault`].
    pub fn read(text: &str) -> Result<Invitation, TextFault> {
        read(BEGINS, text, |of: &Invitation| addressed(&of.addresses) && of.authority().is_some())
    }

    /// The certificate, DER.
    pub fn authority(&self) -> Option<Vec<u8>> {
        certificate(&self.authority)
    }
}

impl std::fmt::Debug for Invitation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Invitation({}, {:?})", self.hub, self.addresses)
    }
}

/// What a device signs to be taken in: it has the key, and it was given this code by this hub.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// The hub.
    pub hub: Uuid,
    /// The code.
    pub code: String,
    /// The device.
    pub device: Uuid,
    /// What it is called.
    pub name: String,
}

/// What a device signs for a token (claims of RFC 7519).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Assertion {
    /// The device.
    pub iss: Uuid,
    /// The device once more: it asks for itself.
    pub sub: Uuid,
    /// The hub.
    pub aud: Uuid,
    /// Seconds since 1970 at which it ends, by the hub's clock; at most five minutes ahead.
    pub exp: i64,
    /// Random; each is taken once.
    pub jti: Uuid,
}

macro_rules! signed {
    ($what:ty, $typ:expr) => {
        impl $what {
            /// This, signed.
            pub fn sign(&self, key: &DeviceKey) -> String {
                key.sign($typ, &serde_json::to_vec(self).expect("it has only text keys"))
            }

            /// What `key` signed as this.
            ///
            /// # Errors
            /// [`SignatureError`] for everything else.
            pub fn verify(key: &PublicKey, jws: &str) -> Result<Self, SignatureError> {
                payload(key, $typ, jws)
            }
        }
    };
}
signed!(Proof, PAIRING);
signed!(Assertion, ASSERTION);

pub(super) fn payload<T: DeserializeOwned>(key: &PublicKey, typ: &str, jws: &str) -> Result<T, SignatureError> {
    let payload = key.verify(typ, jws)?;
    serde_json::from_slice(&payload).map_err(|error| SignatureError::Payload(error.to_string()))
}

/// The issuer an assertion claims, before anything of it is believed: which key to verify it with.
impl Assertion {
    /// Who says it signed `jws`; `None` for what is no assertion.
    pub fn claimed_by(jws: &str) -> Option<Uuid> {
        let coded = jws.split('.').nth(1).filter(|_| jws.len() <= crate::record::MAX_JWS)?;
        serde_json::from_slice::<Assertion>(&BASE64URL.decode(coded).ok()?).ok().map(|claims| claims.iss)
    }
}

/// What both screens show: "042 917". The same only where both mean the same hub, certificate, device and key.
pub fn six_digits(hub: Uuid, authority: &[u8], device: Uuid, key: &PublicKey) -> String {
    let parts = [Hash::of(hub.as_bytes()), Hash::of(authority), Hash::of(device.as_bytes()), Hash::of(&key.0)];
    let of_all = Hash::of_row(parts);
    let number = u64::from_be_bytes(*of_all.0.first_chunk().expect("a hash has 32 bytes")) % 1_000_000;
    format!("{:03} {:03}", number / 1_000, number % 1_000)
}
