//! How things stand between a device and the hub, as the device knows it. What a screen says of it is made from this.

use crate::unit::Stamp;
use uuid::Uuid;

/// The shop a device is paired with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paired {
    /// Name of the shop.
    pub shop: String,
    /// What the device is called there.
    pub device: String,
}

/// What the device does about the hub.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Doing {
    /// It waits, for news or until it tries again.
    #[default]
    Rest,
    /// It sends.
    Sending,
}

/// What stands between device and hub.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// No answer: another network, switched off, cut.
    Unreachable,
    /// Somebody answers who does not have the certificate of the invitation.
    OtherCertificate,
    /// The code is wrong, was used, or its time is over.
    Code,
    /// The office said no.
    Refused,
    /// The office said nothing in time.
    Over,
    /// The hub does not know the device any more, or took its right away.
    Revoked,
    /// The hub has another entry under this number.
    Fork {
        /// The first number that is known to differ.
        sequence: u64,
    },
    /// There is no room at the hub.
    Full,
    /// The hub speaks a newer protocol.
    NewerProtocol,
    /// The ledger goes on under another identity than the one that was paired.
    OtherIdentity,
    /// The secret of the device's key is not to be had for now: nothing can be signed.
    KeyAway,
    /// The hub answers, and not as agreed: a fault of a program.
    NotUnderstood,
    /// What the device notes about sending cannot be read or written here.
    Disk,
    /// The text is no invitation.
    NoInvitation,
    /// The invitation is not whole.
    InvitationNotWhole,
    /// The device was given no name, or one of more than 60 characters.
    Name,
    /// It is paired already.
    PairedAlready,
    /// It is not paired.
    NotPaired,
}

impl Trouble {
    /// Trying again by itself may help.
    pub fn passes(self) -> bool {
        matches!(self, Trouble::Unreachable | Trouble::Full | Trouble::KeyAway | Trouble::NotUnderstood | Trouble::Disk)
    }
}

/// A word from the office.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// Its number.
    pub number: u64,
    /// About which job, if any.
    pub job: Option<Uuid>,
    /// What it says.
    pub text: String,
}

/// How things stand.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AtShop {
    /// With whom; nothing: the device is paired with nobody.
    pub paired: Option<Paired>,
    /// The office is asked: the shop and the six digits that both screens show.
    pub asked: Option<(String, String)>,
    /// What is being done.
    pub doing: Doing,
    /// Entries at the hub, and in the ledger.
    pub entries: (u64, u64),
    /// What stands beside them: there, and named.
    pub beside: (u64, u64),
    /// Named, and not on this device any more.
    pub lost: u64,
    /// What is in the way.
    pub trouble: Option<Trouble>,
    /// The hub had lost what it had: everything is sent again.
    pub again: bool,
    /// When everything was there last.
    pub complete: Option<Stamp>,
    /// Words from the office that nobody has put away, oldest first.
    pub notes: Vec<Note>,
}

impl AtShop {
    /// Everything that is on this device is at the hub, as far as it was looked at.
    pub fn is_complete(&self) -> bool {
        let all = |(there, named): (u64, u64)| there == named;
        self.paired.is_some() && all(self.entries) && all(self.beside)
    }
}
