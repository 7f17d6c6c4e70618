//! A second signature that was given at the shop's office, not with a PIN at the device.

use super::hash::Hash;
use super::signed::SignedJob;
use crate::unit::Stamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A second person signed a step at the shop's office. That somebody did is the word of the shop's hub, which asked for
/// their password.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OfficeSigned {
    /// This signature, by the name the hub gave it: however often it comes, it is taken once.
    pub signature: Uuid,
    /// The step, by its id in the file.
    pub step: String,
    /// Which settling of a step of the job it was that was signed, from 1.
    pub doing: u32,
    /// All of the job that the person had before them.
    pub seen: SignedJob,
    /// Who, as the hub knows them; nobody of the device's roster.
    pub person: Uuid,
    /// Commitment to the name, which stands beside the ledger.
    pub personal: Hash,
    /// When, by the hub's clock.
    pub at: Stamp,
}

/// Why a signature of the office is not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NotSigned {
    /// The job is not in this ledger, or cannot be read.
    NotHere,
    /// It is with another device.
    HandedOver,
    /// Entries of a newer program are in it: what is not understood could be the very thing that forbids it.
    NewerProgram,
    /// It went on from something else than was seen.
    OtherVersion,
    /// The step was done again since it was seen.
    DoneAgain,
    /// Nothing waits for it: it is signed, or to be done again.
    NothingToSign,
    /// Read since, the comparison comes out worse than it was kept: it is made again first.
    CompareFirst,
    /// Nobody is their own second.
    OwnSecond,
    /// Nobody was named who does the job, or the name of somebody who did is not known.
    DoerUnknown,
}
