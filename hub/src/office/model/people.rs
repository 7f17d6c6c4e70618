//! Who sits at the page, what they may do, and what they did.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What somebody may do. Each may do what those before it may.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Looks at devices, jobs and records.
    Technician,
    /// Takes devices in and out, sends procedures, erases details.
    Office,
    /// Adds people and reads who looked at what.
    Owner,
}

/// Who sits at the page, told to everybody who opens it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeSession {
    /// The shop, as its owner calls it; empty before it has a name.
    pub shop: String,
    /// There is an owner: nobody has to begin with the link the program printed.
    pub set_up: bool,
    /// Who is signed in.
    pub person: Option<OfficeSelf>,
}

/// Somebody who is signed in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeSelf {
    /// Id.
    #[cfg_attr(test, ts(as = "String"))]
    pub person: Uuid,
    /// Name.
    pub name: String,
    /// What they may do.
    pub role: Role,
    /// Goes into the header `x-evenwire-csrf` of everything that changes something.
    pub csrf: String,
}

/// Somebody signs in.
#[derive(Clone, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(deny_unknown_fields)]
pub struct SignInAsk {
    /// Name, however its letters are written.
    pub name: String,
    /// Secret.
    pub password: String,
}

/// Somebody who holds a set-up link chooses a password.
#[derive(Clone, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(deny_unknown_fields)]
pub struct SetUpAsk {
    /// The secret of the link.
    pub token: String,
    /// Of the first owner, who names themselves; empty for somebody who was added with a name.
    pub name: String,
    /// What the shop is called; only the first owner names it.
    pub shop: String,
    /// At least ten characters.
    pub password: String,
}

/// Whoever is signed in chooses another password.
#[derive(Clone, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(deny_unknown_fields)]
pub struct PasswordAsk {
    /// The one they have.
    pub old: String,
    /// At least ten characters.
    pub new: String,
}

/// Somebody of the shop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficePerson {
    /// Id.
    #[cfg_attr(test, ts(as = "String"))]
    pub person: Uuid,
    /// Name.
    pub name: String,
    /// What they may do.
    pub role: Role,
    /// They have not chosen a password yet.
    pub waiting: bool,
}

/// Somebody is added, or their role is another one.
#[derive(Clone, Debug, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(deny_unknown_fields)]
pub struct PersonAsk {
    /// 1 to 60 characters; nobody else is called so.
    pub name: String,
    /// What they may do.
    pub role: Role,
}

/// A set-up link for somebody, shown once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct SetUpLink {
    /// The secret; the page makes the address of it.
    pub token: String,
    /// Until when it is good.
    pub until: String,
}

/// What somebody looked at or did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Access {
    /// Looked at a job's record with its details.
    Record,
    /// Took the report as a PDF.
    Report,
    /// Took a claim file.
    Claim,
    /// Took a claim file that names nobody.
    ClaimWithoutNames,
    /// Erased the details of a job.
    Erased,
    /// Signed a step of a job as second person.
    Signed,
    /// Signed in.
    SignedIn,
    /// Tried to sign in, to sign as second person, or to choose another password, with a wrong one.
    Refused,
    /// Chose another password for themselves.
    Password,
    /// Made an invitation for a device.
    Invited,
    /// Took a device in.
    Paired,
    /// Turned a device away that asked to be taken in.
    TurnedAway,
    /// Put a device out.
    Revoked,
    /// Added somebody, or changed what they may do.
    Person,
    /// Made a link for an owner on the hub's own machine, where nobody signs in.
    OwnerLink,
    /// Sent a procedure to the devices.
    Procedure,
    /// Searched for jobs: their lines name customers.
    Search,
}

/// A line of the access log.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct AccessLine {
    /// 1, 2, 3 …
    #[cfg_attr(test, ts(type = "number"))]
    pub number: u64,
    /// When.
    pub at: String,
    /// Who; the name that was typed where nobody was signed in.
    pub name: String,
    /// What.
    pub what: Access,
    /// Which job, device, person or procedure: its order or name, as far as it is known.
    pub about: String,
}

/// The access log.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct AccessLog {
    /// Newest first, at most 100.
    pub lines: Vec<AccessLine>,
    /// There are older ones than the last of these.
    pub more: bool,
}
