//! People of the shop. Their names stand beside the ledger; entries name them by id and hold a commitment.

use super::hash::Hash;
use crate::unit::{BootId, Millis, Now};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use uuid::Uuid;

/// Fewest and most digits of a PIN.
const PIN_DIGITS: std::ops::RangeInclusive<usize> = 4..=12;
/// So many wrong tries in a row are free; the last of them begins the first pause.
pub const FREE_TRIES: u32 = 5;
/// The first pause, milliseconds. Each further wrong try doubles it.
const FIRST_PAUSE_MS: u64 = 30_000;
/// The longest pause, milliseconds: an hour. Four digits then take a year of trying.
const LONGEST_PAUSE_MS: u64 = 3_600_000;

/// A PIN as it was typed. It is handed on to be checked and forgotten: it is never shown, logged or written.
#[derive(Clone, PartialEq, Eq)]
pub struct Pin(String);

impl Pin {
    /// As typed, blanks around it cut off.
    pub fn typed(text: &str) -> Pin {
        Pin(text.trim().to_owned())
    }

    /// It has 4 to 12 digits and nothing else.
    pub fn is_shaped(&self) -> bool {
        PIN_DIGITS.contains(&self.0.len()) && self.0.bytes().all(|byte| byte.is_ascii_digit())
    }

    /// Its digits, for whoever hashes them.
    pub fn digits(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Pin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pin(…)")
    }
}

/// Says nothing: a wish that is written somewhere is written without its PIN.
impl Serialize for Pin {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str("")
    }
}

/// Whatever is no text is a PIN of no digits: an error would repeat what was typed.
impl<'de> Deserialize<'de> for Pin {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Pin, D::Error> {
        let value = serde_json::Value::deserialize(deserializer).unwrap_or_default();
        Ok(Pin::typed(value.as_str().unwrap_or_default()))
    }
}

/// What a PIN is checked against, made outside of core. Opaque here; empty: no PIN fits.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct PinHash(pub String);

impl fmt::Debug for PinHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_empty() { "PinHash(none)" } else { "PinHash(…)" })
    }
}

/// What is known of a person. Erasable; the chain of entries stays whole without it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PersonDetails {
    /// Name.
    pub name: String,
    /// What the person does in the shop, in the shop's own words; may be empty.
    pub role: String,
}

/// A person as kept beside the ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptPerson {
    /// Who, as named in entries.
    pub person: Uuid,
    /// 32 random bytes.
    pub salt: [u8; 32],
    /// JSON of [`PersonDetails`], exactly as committed to.
    pub text: String,
    /// What the PIN is checked against.
    pub pin: PinHash,
    /// Wrong tries.
    pub tries: Tries,
}

/// A name as it is compared: two that a person would take for the same are.
pub fn folded(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// Two names that a person would take for the same.
pub fn same_name(one: &str, other: &str) -> bool {
    folded(one) == folded(other)
}

impl KeptPerson {
    /// A person as kept, without a wrong try.
    pub fn new(person: Uuid, salt: [u8; 32], details: &PersonDetails, pin: PinHash) -> KeptPerson {
        let text = serde_json::to_string(details).expect("details are texts");
        KeptPerson { person, salt, text, pin, tries: Tries::default() }
    }

    /// `SHA-256(salt ‖ text)`, which stands in the ledger.
    pub fn commitment(&self) -> Hash {
        Hash::of_two(&self.salt, self.text.as_bytes())
    }

    /// The details, if they are readable and are those that were committed to.
    pub fn opened(&self, commitment: Hash) -> Option<PersonDetails> {
        (self.commitment() == commitment).then(|| serde_json::from_str(&self.text).ok()).flatten()
    }
}

/// Wrong tries in a row, and when the newest was made.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tries {
    /// How many.
    pub wrong: u32,
    /// Boot clock at the newest.
    pub at: Millis,
    /// The run of the machine that clock counts in.
    pub boot: BootId,
}

impl Tries {
    /// One more.
    pub fn one_more(&self, now: &Now) -> Tries {
        Tries { wrong: self.wrong.saturating_add(1), at: now.boot, boot: now.boot_id.clone() }
    }

    /// What is left of the pause, above zero; `None`: a PIN may be tried. `at` has to be of this run of the machine.
    pub fn pause_left(&self, now: &Now) -> Option<Millis> {
        let pause = self.pause_ms();
        // A clock that went back gives no credit.
        let passed = now.boot.0.saturating_sub(self.at.0);
        (passed < pause).then(|| Millis(pause - passed))
    }

    /// As a program that starts now believes it: after another run of the machine, or when nobody can tell, the pause
    /// begins anew.
    pub fn taken_up(&self, now: &Now) -> Tries {
        let same_run = !self.boot.0.is_empty() && self.boot == now.boot_id && self.at <= now.boot;
        if same_run { self.clone() } else { Tries { wrong: self.wrong, at: now.boot, boot: now.boot_id.clone() } }
    }

    fn pause_ms(&self) -> u64 {
        match self.wrong.checked_sub(FREE_TRIES) {
            None => 0,
            // Seven doublings are past the longest one.
            Some(over) => (FIRST_PAUSE_MS << over.min(7)).min(LONGEST_PAUSE_MS),
        }
    }
}
