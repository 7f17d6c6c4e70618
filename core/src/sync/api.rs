//! Requests and answers, as they are written in JSON.

use crate::record::{Hash, KeptPerson, OfficeSigned, PinHash, PublicKey, Tries};
use crate::unit::Stamp;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use uuid::Uuid;

/// The protocol both ends speak. A change an older end would misunderstand gets another number.
pub const PROTOCOL: u32 = 1;
/// Entries in one batch at most.
pub const MOST_ENTRIES: usize = 500;
/// Bytes of entries in one batch at most; one entry may always be sent by itself.
pub const MOST_BATCH_BYTES: usize = 1024 * 1024;
/// Bytes of one thing beside the entries at most.
pub const MOST_BLOB_BYTES: usize = 8 * 1024 * 1024;
/// Hashes in one question at most.
pub const MOST_ASKED: usize = 500;
/// Signed heads brought at once at most.
pub const MOST_HEADS: usize = 50;
/// How long a token is good, seconds.
pub const TOKEN_SECONDS: u32 = 15 * 60;

/// Who answers, and what it takes. Told to everybody.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct HubCard {
    /// The hub. A hub whose disk was lost and that was begun anew is another one.
    pub hub: Uuid,
    /// The shop, as its owner calls it.
    pub name: String,
    /// Version of the program.
    pub version: String,
    /// See [`PROTOCOL`].
    pub protocol: u32,
    /// The most it takes.
    pub limits: Limits,
    /// Its wall clock.
    #[cfg_attr(feature = "openapi", schema(value_type = String, format = DateTime))]
    pub time: Stamp,
}

/// The most a hub takes at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Limits {
    /// See [`MOST_ENTRIES`].
    pub entries: usize,
    /// See [`MOST_BATCH_BYTES`].
    pub batch_bytes: usize,
    /// See [`MOST_BLOB_BYTES`].
    pub blob_bytes: usize,
    /// See [`MOST_ASKED`].
    pub asked: usize,
}

impl Limits {
    /// Those of this program.
    pub const OURS: Limits =
        Limits { entries: MOST_ENTRIES, batch_bytes: MOST_BATCH_BYTES, blob_bytes: MOST_BLOB_BYTES, asked: MOST_ASKED };
}

/// A device asks to be taken into the shop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PairingAsk {
    /// The one-time code of the invitation.
    pub code: String,
    /// The device.
    pub device: Uuid,
    /// What it is called in the shop: "Bench 2". 1 to 60 characters.
    pub name: String,
    /// Its public key.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub key: PublicKey,
    /// A [`Proof`](super::Proof), signed with that key.
    pub proof: String,
}

/// How far a pairing has come.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PairingView {
    /// Which; known only to the device that asked.
    pub pairing: Uuid,
    /// How far.
    pub state: PairingState,
}

/// How far a pairing has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum PairingState {
    /// The office has to say that both screens show the same six digits.
    Waiting,
    /// The office said yes.
    Accepted,
    /// The office said no.
    Refused,
    /// Nobody said anything in time.
    Over,
}

/// A device asks for a token (RFC 7523 §2.1), form-encoded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct TokenAsk {
    /// [`JWT_BEARER`](super::JWT_BEARER).
    pub grant_type: String,
    /// An [`Assertion`](super::Assertion), signed.
    pub assertion: String,
}

/// What a device shows with everything it asks (RFC 6750).
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Token {
    /// Secret.
    pub access_token: String,
    /// `Bearer`.
    pub token_type: String,
    /// Seconds it is good for.
    pub expires_in: u32,
}

impl std::fmt::Debug for Token {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Token({} s)", self.expires_in)
    }
}

/// Where the hub's copy of a device's ledger ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Tail {
    /// The number it wants next: one more than it has.
    pub next_sequence: u64,
    /// Hash of the entry before it; all zero for the first.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub hash: Hash,
    /// How many things that its entries name are not there.
    pub missing: u64,
}

/// Entries, all or nothing. Bytes of an entry are those between the commas: they are what is hashed and kept.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PushAsk {
    /// Number of the first.
    pub first_sequence: u64,
    /// 1 to [`MOST_ENTRIES`] entries in the order of their numbers.
    #[cfg_attr(feature = "openapi", schema(value_type = Vec<Object>))]
    pub entries: Vec<Box<RawValue>>,
    /// A [`PushHead`](super::PushHead), signed by the device.
    pub head: String,
}

/// What is on the hub's disk. Told only when it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Stored {
    /// Every entry up to this one.
    pub stored_through: u64,
    /// Its hash.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub hash: Hash,
}

/// Signed heads ([`crate::record::SignedHead`]) of jobs that were closed, as they stand beside the device's ledger. With
/// them a job can be proved at the hub by itself. Each may be brought twice.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Heads {
    /// At most [`MOST_HEADS`], each a JWS.
    pub heads: Vec<String>,
}

/// What came of heads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct HeadsStored {
    /// So many are on the hub's disk.
    pub stored: u64,
    /// So many are not, and will not be: they are not of this ledger, or not signed by a key it names.
    pub passed_over: u64,
}

/// Asked: things a device could send. Answered: those of them the hub wants and does not have.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Missing {
    /// At most [`MOST_ASKED`].
    #[cfg_attr(feature = "openapi", schema(value_type = Vec<String>))]
    pub hashes: Vec<Hash>,
}

/// What the office has for a device, oldest first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Changes {
    /// At most 100.
    pub changes: Vec<Numbered>,
    /// There are more after the last of these.
    pub more: bool,
}

/// A change with its number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Numbered {
    /// 1, 2, 3 …, with gaps where changes are for other devices.
    pub number: u64,
    /// What is new.
    #[serde(flatten)]
    pub change: Change,
}

/// Something the office did that a device should know. A device passes over what it does not know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "change", rename_all = "kebab-case")]
pub enum Change {
    /// A procedure for all devices of the shop. The device checks it as any other file.
    ProcedureSent {
        /// The file.
        text: String,
    },
    /// Personal details and photos of a job were erased at the hub, and are to be erased here.
    DetailsErased {
        /// Which.
        job: Uuid,
    },
    /// A second person signed a step at the office. The device holds it against the job as it is there by now: it stands
    /// when the device has written it down.
    StepSigned(Box<Countersigned>),
    /// A word from the office about a job, or to whoever holds the device.
    Note {
        /// About which job, if any.
        job: Option<Uuid>,
        /// At most 500 characters.
        text: String,
    },
    /// Something this program does not know.
    #[serde(other)]
    Unknown,
}

/// A second signature that was given at the office, and who gave it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Countersigned {
    /// What is written down of it.
    #[cfg_attr(feature = "openapi", schema(value_type = Object))]
    pub signed: OfficeSigned,
    /// Salt of the commitment to the name: the same for everything this person signs.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub salt: Hash,
    /// JSON of [`PersonDetails`](crate::record::PersonDetails), exactly as committed to.
    pub text: String,
}

impl Countersigned {
    /// Who signed, as kept beside a ledger, without a PIN.
    pub fn signer(&self) -> KeptPerson {
        let (pin, tries) = (PinHash::default(), Tries::default());
        KeptPerson { person: self.signed.person, salt: self.salt.0, text: self.text.clone(), pin, tries }
    }
}

/// Jobs that wait to be taken over, newest first.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Handovers {
    /// At most 100.
    pub jobs: Vec<WaitingJob>,
}

/// A job that another device handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct WaitingJob {
    /// Which.
    pub job: Uuid,
    /// Order number or name.
    pub order: String,
    /// Vehicle in short words; may be empty.
    pub vehicle: String,
    /// What the shop calls the device that handed it over.
    pub from: String,
    /// What the shop calls the device that was the first to say that it takes it over, if one did.
    pub taken_by: Option<String>,
    /// That is the device that asks.
    pub yours: bool,
}

/// Why something was not done (RFC 9457). `code` is for programs, the rest for people.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Problem {
    /// `about:blank`, or an address of this kind of problem.
    #[serde(rename = "type")]
    pub kind: String,
    /// In few words.
    pub title: String,
    /// The status it came with.
    pub status: u16,
    /// What, where, and what to do.
    pub detail: String,
    /// Kebab case, of a fixed list that the hub's description names.
    pub code: String,
    /// With `gap`: the number the hub wants.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected: Option<u64>,
    /// With `fork`: the first number at which the hub has another entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sequence: Option<u64>,
}
