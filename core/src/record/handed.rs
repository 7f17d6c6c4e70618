//! A job that goes from one device to another: what its entries say of that, and how it is known that nothing of them
//! was changed, left out or added on the way.

use super::entry::Sealed;
use super::event::Event;
use super::hash::Hash;
use super::signed::{PublicKey, SignatureError, SignedHead, SignedJob};
use crate::unit::BootId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

/// What a device says when it hands a job over. With its signature over the job up to here, whoever takes the job over
/// needs nothing else of its ledger.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Release {
    /// To whom, in the words of whoever hands it over; may be empty.
    pub to: String,
    /// The key by which the device is known.
    pub key: PublicKey,
    /// Commitments to name and role of those who are named in the job.
    pub people: BTreeMap<Uuid, Hash>,
}

/// What a device says when it has taken a job over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Claimed {
    /// The run of the machine.
    pub boot: BootId,
    /// The device that handed it over.
    pub from_device: Uuid,
    /// Number of its newest entry then, in its own ledger.
    pub from_sequence: u64,
    /// The hash of that entry.
    pub from_hash: Hash,
    /// Its [`SignedHead`] over the job up to there, as a JWS.
    pub signed: String,
}

/// Why entries are not a job that was handed over.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HandedFault {
    /// There is no entry, or the first one does not open a job.
    #[error("it does not begin with the opening of a job")]
    NoJob,
    /// One of the entries belongs elsewhere.
    #[error("entry {0} belongs to another job")]
    OtherJob(u64),
    /// Entries of one device do not follow from each other.
    #[error("entry {0} does not follow from the one before it")]
    Broken(u64),
    /// The job was not handed over, or taken back since.
    #[error("the job was not handed over, or was taken back")]
    NotReleased,
    /// The device that handed it over did not sign these entries.
    #[error("the signature of the device that handed it over: {0}")]
    Signature(#[from] SignatureError),
    /// It signed other entries.
    #[error("the device that handed it over signed other entries than these")]
    Other,
}

/// Hashes of a job's entries in order, as they are signed and compared: each as it was written first, and without what a
/// device says of erased details while the job is with another one. Every device says that for itself, and it would make
/// one job look like two.
#[derive(Clone, Debug, Default)]
pub struct Telling {
    hashes: Vec<Hash>,
    away: bool,
}

impl Telling {
    /// Takes the next one: its kind and hash, of the entry as it was written first. False: it is left out.
    pub fn add(&mut self, kind: &str, hash: Hash) -> bool {
        if self.away && kind == "details-erased" {
            return false;
        }
        self.away = kind == "job-released";
        self.hashes.push(hash);
        true
    }

    /// So far.
    pub fn hashes(&self) -> &[Hash] {
        &self.hashes
    }

    /// So far, to be kept.
    pub fn into_hashes(self) -> Vec<Hash> {
        self.hashes
    }
}

/// The entries of a job as [`Telling`] has them.
pub fn told_of(entries: &[Sealed]) -> Vec<&Sealed> {
    let mut telling = Telling::default();
    let told = entries.iter().map(Sealed::told);
    told.filter(|told| telling.add(&told.entry().kind, told.hash())).collect()
}

/// What the device signed that handed the job over last: `entries` are all of the job as [`told_of`] gives them, and end
/// with the release. What was handed over before is looked at, too.
///
/// # Errors
/// [`HandedFault`].
pub fn vouched(entries: &[&Sealed], signed: &str) -> Result<SignedHead, HandedFault> {
    let (first, job) = entries.first().and_then(|first| Some((first, first.entry().job?))).ok_or(HandedFault::NoJob)?;
    if !matches!(first.entry().event(), Some(Event::JobOpened { .. })) {
        return Err(HandedFault::NoJob);
    }
    follow(job, entries)?;
    claims_hold(job, entries)?;
    signed_by_last(job, entries, signed)
}

/// Every time a device says among these that it took the job over, the device before it had handed over and signed exactly
/// what stands before. `entries` as [`told_of`] gives them.
///
/// # Errors
/// [`HandedFault`].
pub fn claims_hold(job: Uuid, entries: &[&Sealed]) -> Result<(), HandedFault> {
    for (at, sealed) in entries.iter().enumerate() {
        if let Some(Event::JobClaimed(claimed)) = sealed.entry().event() {
            let head = signed_by_last(job, &entries[..at], &claimed.signed)?;
            if (head.device, head.sequence, head.hash)
                != (claimed.from_device, claimed.from_sequence, claimed.from_hash)
            {
                return Err(HandedFault::Other);
            }
        }
    }
    Ok(())
}

/// Each entry belongs to the job, and those of one device that stood next to each other are chained.
fn follow(job: Uuid, entries: &[&Sealed]) -> Result<(), HandedFault> {
    let mut newest: BTreeMap<Uuid, &Sealed> = BTreeMap::new();
    for sealed in entries {
        let entry = sealed.entry();
        if entry.job != Some(job) {
            return Err(HandedFault::OtherJob(entry.sequence));
        }
        if let Some(before) = newest.insert(entry.device, sealed) {
            let next = before.entry().sequence.checked_add(1);
            let broken = next == Some(entry.sequence) && entry.previous != before.hash();
            if broken || next.is_none_or(|next| next > entry.sequence) {
                return Err(HandedFault::Broken(entry.sequence));
            }
        }
    }
    Ok(())
}

/// The last of these is a release, and its device signed all of them.
fn signed_by_last(job: Uuid, entries: &[&Sealed], signed: &str) -> Result<SignedHead, HandedFault> {
    let last = entries.last().ok_or(HandedFault::NotReleased)?;
    let Some(Event::JobReleased(release)) = last.entry().event() else { return Err(HandedFault::NotReleased) };
    let head = SignedHead::verify(&release.key, signed)?;
    let wanted = SignedHead {
        device: last.entry().device,
        sequence: last.entry().sequence,
        hash: last.hash(),
        job: Some(SignedJob::of(job, entries.iter().map(|sealed| sealed.hash()))),
    };
    if head == wanted { Ok(head) } else { Err(HandedFault::Other) }
}
