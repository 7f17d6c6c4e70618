//! What stands beside the entries, and which entries want it there.

use crate::record::{Event, Hash, KeptDetails, KeptPerson, PersonDetails, Sealed};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What sort of thing it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BesideKind {
    /// A JPEG. Personal: a plate or a face may be on it.
    Photo,
    /// Payload of a closed chunk.
    Samples,
    /// Salt and text of a job's personal details.
    Details,
    /// Salt and text of somebody on the roster.
    Person,
}

/// Something that an entry names by its SHA-256.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Beside {
    /// What it is.
    pub kind: BesideKind,
    /// SHA-256 of its bytes.
    pub hash: Hash,
    /// The job it belongs to; none: the device.
    pub job: Option<Uuid>,
}

/// What an entry does to what should stand beside it. In the order of the entries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// It should be there from here on.
    Named(Beside),
    /// Details named before for this job are not there any more: newer ones tell what they were.
    Superseded(Uuid),
    /// Details and photos of this job must not be there any more.
    Erased(Uuid),
}

/// What `sealed`, or the entry it carries, does to what should stand beside the entries; nothing for a kind this program does not know.
pub fn changes_by(sealed: &Sealed) -> Vec<Change> {
    sealed.event().map(|event| changes(&event, sealed.entry().job)).unwrap_or_default()
}

/// What an event of `job` does.
pub(super) fn changes(event: &Event, job: Option<Uuid>) -> Vec<Change> {
    let named = |kind, hash| Change::Named(Beside { kind, hash, job });
    match (event, job) {
        (Event::JobOpened { personal, .. }, Some(_)) => vec![named(BesideKind::Details, *personal)],
        (Event::JobCorrected { personal, .. }, Some(job)) => {
            vec![Change::Superseded(job), named(BesideKind::Details, *personal)]
        }
        (Event::DetailsErased {}, Some(job)) => vec![Change::Erased(job)],
        (Event::PhotoTaken(fact), Some(_)) => vec![named(BesideKind::Photo, fact.photo)],
        // Names stay when the details of a job go, wherever they came from.
        (Event::JobReleased(release), Some(_)) => {
            let person = |hash: &Hash| Change::Named(Beside { kind: BesideKind::Person, hash: *hash, job: None });
            release.people.values().map(person).collect()
        }
        (Event::StepSignedAtOffice(signed), Some(_)) => {
            vec![Change::Named(Beside { kind: BesideKind::Person, hash: signed.personal, job: None })]
        }
        (Event::PersonAdded { personal, .. }, None) => vec![named(BesideKind::Person, *personal)],
        _ => event.chunks().iter().map(|hash| named(BesideKind::Samples, *hash)).collect(),
    }
}

/// Salt and text, one after the other: their SHA-256 is the commitment that stands in the ledger.
fn salted(salt: &[u8; 32], text: &str) -> Vec<u8> {
    [salt.as_slice(), text.as_bytes()].concat()
}

/// The two parts again; `None` for what is none.
pub(crate) fn parted(bytes: &[u8]) -> Option<([u8; 32], &str)> {
    let (salt, text) = bytes.split_first_chunk()?;
    Some((*salt, std::str::from_utf8(text).ok()?))
}

impl KeptDetails {
    /// Salt and text as they are sent. Their SHA-256 is [`KeptDetails::commitment`].
    pub fn to_bytes(&self) -> Vec<u8> {
        salted(&self.salt, &self.text)
    }

    /// What [`KeptDetails::to_bytes`] gave, of `job`; `None` for other bytes.
    pub fn from_bytes(job: Uuid, bytes: &[u8]) -> Option<KeptDetails> {
        parted(bytes).map(|(salt, text)| KeptDetails { job, salt, text: text.to_owned() })
    }
}

impl KeptPerson {
    /// Salt and text as they are sent, without what the PIN is checked against. Their SHA-256 is
    /// [`KeptPerson::commitment`].
    pub fn to_bytes(&self) -> Vec<u8> {
        salted(&self.salt, &self.text)
    }
}

impl PersonDetails {
    /// What [`KeptPerson::to_bytes`] gave; `None` for other bytes.
    pub fn from_bytes(bytes: &[u8]) -> Option<PersonDetails> {
        parted(bytes).and_then(|(_, text)| serde_json::from_str(text).ok())
    }
}
