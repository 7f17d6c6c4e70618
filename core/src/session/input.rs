//! What a session is told, what it wants done, and what it begins with.

use super::{Batch, FromOffice, Signal};
use crate::claim::Handed;
use crate::job::{Command, Line, Refusal};
use crate::meter::Profile;
use crate::meter::link::{LinkCommand, LinkEvent, Source};
use crate::record::{DeviceKey, Head, KeptDetails, KeptPerson, Pin, PinHash, Sealed};
use crate::unit::{Day, Now};
use uuid::Uuid;

/// What happens to a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Input {
    /// A person's wish.
    Wish(Command),
    /// A link reports.
    Link(Source, LinkEvent),
    /// The entries and details of a job that was asked for by [`Output::Load`]; no entries: no such job.
    Loaded {
        /// What it was asked for.
        wanted: Wanted,
        /// Its entries, in order.
        entries: Vec<Sealed>,
        /// Its details, unless erased.
        details: Option<KeptDetails>,
        /// The job of the newest entry of the ledger that belongs to one: another one was worked on since, if it is not
        /// this.
        newest_job: Option<Uuid>,
    },
    /// A photo for the job on the bench, as it is to be kept.
    Photo(NewPhoto),
    /// A job that another device handed over, and what is here of it.
    TakenOver(Box<TakenOver>),
    /// A second person signed at the office.
    SignedAtOffice(Box<FromOffice>),
    /// The lines that were asked for by [`Output::Collect`].
    Collected(Erasing, Vec<Line>),
    /// The PIN of [`Output::CheckPin`] was looked at.
    PinChecked {
        /// It is the one that was hashed.
        fits: bool,
    },
    /// The PIN of [`Output::HashPin`] was hashed.
    PinHashed(PinHash),
    /// Time passed.
    Tick,
}

/// A photo that is to be kept: small enough, and without anything a camera writes beside the picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewPhoto {
    /// The job it is meant for: what is sent takes a while, and another may be on the bench by then.
    pub job: Uuid,
    /// The step of the procedure it shows; none: the job.
    pub step: Option<String>,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// The JPEG.
    pub jpeg: Vec<u8>,
}

/// A job that is taken over from another device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenOver {
    /// As it was handed over.
    pub handed: Handed,
    /// The entries of the same job in this ledger, in order; most often none.
    pub entries: Vec<Sealed>,
    /// Its details here, if there are any.
    pub details: Option<KeptDetails>,
}

/// What a stored job is fetched for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// To go on with it.
    Bench,
    /// To compare a candidate with its part.
    Comparison,
}

/// Of which jobs the personal details and the photos are to be erased.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Erasing {
    /// Of this one.
    Job(Uuid),
    /// Of all that were opened before this day and still have them.
    OpenedBefore(Day),
}

/// What a session wants done, in this order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Output {
    /// Commit this before going on.
    Append(Batch),
    /// Tell a link; `None`: every link.
    Link(Option<Source>, LinkCommand),
    /// Fetch a job from the store and hand it in as [`Input::Loaded`].
    Load(Uuid, Wanted),
    /// Fetch the lines of these jobs and hand them in as [`Input::Collected`].
    Collect(Erasing),
    /// Let the person hear, see or feel it.
    Signal(Signal),
    /// Compare a PIN and answer with [`Input::PinChecked`] at once.
    CheckPin {
        /// As typed.
        pin: Pin,
        /// What it has to fit.
        hash: PinHash,
    },
    /// Hash a PIN with a salt of its own and answer with [`Input::PinHashed`] at once.
    HashPin {
        /// As typed.
        pin: Pin,
    },
    /// The wish was not carried out.
    Refused(Refusal),
}

/// What a session begins with.
pub struct Beginning {
    /// End of the ledger.
    pub head: Head,
    /// Entries of the ledger that belong to no job, in order.
    pub device_entries: Vec<Sealed>,
    /// The people of the roster, as kept beside it.
    pub people: Vec<KeptPerson>,
    /// The key of the device the ledger belongs to; none: nothing is signed.
    pub key: Option<DeviceKey>,
    /// 32 random bytes.
    pub seed: [u8; 32],
    /// Meter profiles, built in and the user's own.
    pub profiles: Vec<Profile>,
    /// The time.
    pub now: Now,
}
