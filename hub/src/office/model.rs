//! What the office's page and the hub say to each other, as JSON. The page's types are made from these.
//!
//! Moments are RFC 3339 texts, hashes 64 hexadecimal digits, ids UUIDs.

mod people;
mod seconds;

pub use people::*;
pub use seconds::*;

use evenwire_core::job::OpenItem;
use evenwire_core::report::Report;
use evenwire_core::verdict::SetVerdict;
use evenwire_core::view::JobLine;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What of that which the entries of a device name is not here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeMissing {
    /// Photos.
    pub photos: u32,
    /// Chunks of readings.
    pub samples: u32,
    /// Personal details of jobs.
    pub details: u32,
    /// Names of people on the roster.
    pub people: u32,
}

/// A device of the shop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeDevice {
    /// Id.
    #[cfg_attr(test, ts(as = "String"))]
    pub device: Uuid,
    /// What it is called in the shop.
    pub name: String,
    /// Fingerprint of its key, in groups.
    pub fingerprint: String,
    /// When it was taken in.
    pub paired: String,
    /// When it was heard of last; none: never since.
    pub seen: Option<String>,
    /// The last entry that is here; 0: none.
    #[cfg_attr(test, ts(type = "number"))]
    pub stored_through: u64,
    /// What is not here of what those entries name.
    pub missing: OfficeMissing,
    /// When it was put out of the shop.
    pub revoked: Option<String>,
    /// It has changed its ledger behind what is here: from this entry on there are two.
    #[cfg_attr(test, ts(type = "number | null"))]
    pub parted_at: Option<u64>,
}

/// A device that asks to be taken in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficePairing {
    /// Id.
    #[cfg_attr(test, ts(as = "String"))]
    pub pairing: Uuid,
    /// What it calls itself.
    pub name: String,
    /// What has to stand on its screen, too: "042 917".
    pub digits: String,
    /// When it asked.
    pub asked: String,
}

/// The devices of the shop and those that want to be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeDevices {
    /// By name; those that were put out come last.
    pub devices: Vec<OfficeDevice>,
    /// Oldest first.
    pub pairings: Vec<OfficePairing>,
    /// Fingerprint of the key by which this hub signs claim files, in groups.
    pub fingerprint: String,
    /// Now, by the hub's clock.
    pub at: String,
}

/// An invitation for one device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeInvitation {
    /// To be copied.
    pub text: String,
    /// The same as a QR code: fields along an edge, its quiet zone not counted.
    pub fields: u32,
    /// Its dark fields as the path of an SVG of that many units.
    pub path: String,
    /// Until when it is good.
    pub until: String,
}

/// Yes or no to a device that asks.
#[derive(Clone, Copy, Debug, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(deny_unknown_fields)]
pub struct PairingAnswer {
    /// Both screens show the same six digits.
    pub same: bool,
}

/// A job in a list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeJob {
    /// As a device lists it, too.
    #[cfg_attr(test, ts(type = "import('./JobLine').JobLine"))]
    pub line: JobLine,
    /// The verdict that holds now.
    #[cfg_attr(test, ts(type = "'pass' | 'fail' | 'undecided' | null"))]
    pub verdict: Option<SetVerdict>,
    /// What is open in it.
    #[cfg_attr(test, ts(type = "Array<'loads' | 'signature' | 'lamp' | 'not-closed'>"))]
    pub open: Vec<OpenItem>,
    /// Its details were erased.
    pub erased: bool,
    /// The devices it came from, by name; more than one where it was handed over or a ledger was copied.
    pub devices: Vec<String>,
    /// It went on in different ways: how many versions there are, 1 as a rule.
    pub versions: u32,
}

/// Jobs that were looked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeJobs {
    /// Newest first.
    pub jobs: Vec<OfficeJob>,
    /// "The newest 30; there are more": of all that are shown with these.
    pub words: String,
    /// Where the list goes on, to be asked for as `below`; none: it ends here.
    pub below: Option<String>,
}

/// The shop at one look.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeToday {
    /// The day, as the hub's clock has it: "2026-11-26".
    pub day: String,
    /// Now.
    pub at: String,
    /// Devices of the shop, without those that were put out.
    pub devices: Vec<OfficeDevice>,
    /// How many devices ask to be taken in.
    pub pairings: u32,
    /// Opened today, newest first.
    pub jobs: Vec<OfficeJob>,
    /// Something is open in them, whenever they were opened; newest first, at most 200.
    pub open: Vec<OfficeJob>,
    /// There are more open ones.
    pub more_open: bool,
    /// MB that are left on the hub's disk, where that is less than a day may bring; none: more, or nobody can say.
    pub room_mb: Option<u32>,
}

/// The record of a job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeRecord {
    /// The job.
    #[cfg_attr(test, ts(as = "String"))]
    pub job: Uuid,
    /// Its details were erased.
    pub erased: bool,
    /// Its details may be erased now: it is closed in every version.
    pub erasable: bool,
    /// As it went on: one as a rule, more where streams part.
    pub versions: Vec<OfficeVersion>,
}

/// One way a job went on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeVersion {
    /// The device whose stream it is.
    #[cfg_attr(test, ts(as = "String"))]
    pub device: Uuid,
    /// Its name.
    pub name: String,
    /// How many entries of the job it has.
    pub entries: u32,
    /// How many of them, from the first on, the versions have in common.
    pub common: u32,
    /// Steps that wait for the signature of a second person.
    pub seconds: Vec<OfficeSecond>,
    /// The record.
    #[cfg_attr(test, ts(type = "import('./ReportView').ReportView"))]
    pub report: Report,
}

/// A procedure that is to be sent to all devices.
#[derive(Clone, Debug, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(deny_unknown_fields)]
pub struct ProcedureAsk {
    /// The file.
    pub text: String,
}

/// A procedure that was sent.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeProcedure {
    /// Its id.
    pub id: String,
    /// Its version.
    pub version: u32,
    /// What it is called, in the language that was asked for.
    pub title: String,
    /// When it was sent last.
    pub sent: String,
}

/// A place in a procedure's file and what is wrong there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeMistake {
    /// Line, counted from 1.
    pub line: u32,
    /// Column, counted from 1.
    pub column: u32,
    /// What is wrong.
    pub what: String,
    /// What to write instead.
    pub instead: String,
}

/// Why something was not done. The page words it by its code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum OfficeCode {
    /// Nobody is signed in, or not any more.
    SignedOut,
    /// This person may not do that.
    NotAllowed,
    /// The page is from another session: it has to be loaded again.
    StalePage,
    /// Name and password do not belong together.
    WrongPassword,
    /// Too many tries; a little later again.
    TooOften,
    /// The set-up link is used, too old or none.
    LinkOver,
    /// The password has less than ten characters, or far too many.
    PasswordShort,
    /// A name is missing or too long.
    NameWrong,
    /// Somebody is called so already.
    NameTaken,
    /// There has to be an owner.
    LastOwner,
    /// There is no such thing (any more).
    NotHere,
    /// The job is not closed; its details stay.
    NotClosed,
    /// That device is not of the shop any more: nothing reaches it.
    DeviceOut,
    /// Somebody signed already, and the device has not answered yet.
    SignedAlready,
    /// A signature is not taken: the job is not on its device, or cannot be read there.
    SignNotHere,
    /// The same: it is with another device.
    SignHandedOver,
    /// The same: it has entries of a newer program.
    SignNewerProgram,
    /// The same: on the device the job went on from something else than was seen.
    SignOtherVersion,
    /// The same: the step was done again since it was seen.
    SignDoneAgain,
    /// The same: nothing waits for it.
    SignNothing,
    /// The same: the comparison is to be made again first.
    SignCompareFirst,
    /// The same: nobody is their own second.
    SignOwnSecond,
    /// The same: it is not known who did the job.
    SignDoerUnknown,
    /// The file breaks rules; see the mistakes.
    ProcedureWrong,
    /// A procedure of this id was sent with this or a higher version.
    ProcedureVersion,
    /// It keeps less than the procedure of that id did.
    ProcedureWeaker,
    /// What was sent cannot be read.
    Unreadable,
    /// What was sent is larger than anything the page sends.
    TooLarge,
    /// The hub's disk is full; what was asked was not done.
    Full,
    /// The hub cannot write or read; its log says why.
    Failed,
}

/// A refusal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeRefusal {
    /// Why.
    pub code: OfficeCode,
    /// What is wrong with a procedure's file.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(test, ts(as = "Option<Vec<OfficeMistake>>", optional))]
    pub mistakes: Vec<OfficeMistake>,
}
