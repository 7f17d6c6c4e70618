//! The events a ledger holds.

use super::body::Body;
use super::fact::{
    BarState, Conditions, Instrument, IsolationFact, OldPart, PhotoFact, ResistorFact, SweepFact, TouchFact, ZeroFact,
};
use super::handed::{Claimed, Release};
use super::hash::Hash;
use super::identity::Renewal;
use super::office::{NotSigned, OfficeSigned};
use super::shop::Shop;
use super::signed::PublicKey;
use super::step::{ProcedureFact, StepDone, StepFact};
use crate::caution::Caution;
use crate::part::Part;
use crate::unit::{BootId, Quantity};
use crate::verdict::words::Language;
use crate::verdict::written::Judgement;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Something that happened. Kebab-case names are the kinds of entries; none is ever renamed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "body", rename_all = "kebab-case")]
pub enum Event {
    /// A job was opened.
    JobOpened {
        /// Order number or name.
        order: String,
        /// Vehicle in short words.
        vehicle: String,
        /// Commitment to the personal details.
        personal: Hash,
    },
    /// Order, vehicle or personal details were corrected. What they were before stays, in the entries and beside them.
    JobCorrected {
        /// Order number or name.
        order: String,
        /// Vehicle in short words.
        vehicle: String,
        /// Commitment to the personal details, which hold those before them.
        personal: Hash,
    },
    /// A caution was read.
    CautionAccepted {
        /// Which.
        caution: Caution,
    },
    /// The part was described.
    PartDescribed {
        /// The description.
        part: Part,
    },
    /// The instrument the following readings come from.
    MeterUsed {
        /// The instrument.
        instrument: Instrument,
    },
    /// Leads, temperature and bars, as a person stated them.
    ConditionsStated {
        /// All of them.
        conditions: Conditions,
    },
    /// The clips go to this conductor next.
    ConductorChosen {
        /// Index in the part.
        conductor: u32,
    },
    /// A touch was taken.
    TouchTaken(TouchFact),
    /// A touch was taken back. It stays in the ledger and is not judged.
    TouchUndone {
        /// Which.
        touch: Uuid,
    },
    /// The leads were read, clips on each other.
    ZeroTaken(ZeroFact),
    /// The meter was tried on a known resistor.
    ResistorRead(ResistorFact),
    /// What a person did about the shorting bar of a pair.
    BarStated {
        /// The pair and its bar.
        bar: BarState,
    },
    /// Isolation between a conductor and something else was read.
    IsolationTaken(IsolationFact),
    /// A conductor was watched while the part was moved.
    SweepTaken(SweepFact),
    /// A sweep or an isolation reading was taken back. It stays in the ledger and is not judged.
    ReadingWithdrawn {
        /// Which.
        reading: Uuid,
    },
    /// The part is compared with another one, measured before.
    OldPartTaken {
        /// What it read.
        old: OldPart,
    },
    /// A verdict was given on the readings so far.
    Judged {
        /// All of it.
        judgement: Judgement,
    },
    /// Measuring goes on after a verdict.
    MeasuringResumed {},
    /// A procedure is followed from here on.
    ProcedureBegun(ProcedureFact),
    /// The cautions of a step were read and it was begun.
    StepBegun(StepFact<()>),
    /// A step was done.
    StepDone(StepFact<StepDone>),
    /// A step was left out, for the reason given.
    StepSkipped(StepFact<String>),
    /// This step and all below it are to be done again, for the reason given.
    StepsReopened(StepFact<String>),
    /// A second person signed a step that was done.
    StepSigned(StepFact<Uuid>),
    /// A second person signed a step that was done, at the shop's office.
    StepSignedAtOffice(OfficeSigned),
    /// A photo was kept. The picture stands beside the entries, by its hash.
    PhotoTaken(PhotoFact),
    /// Who does the job from here on, said with that person's PIN.
    TechnicianNamed {
        /// Who, of the roster.
        person: Uuid,
    },
    /// The supply was on, or may have been: what was made safe is not safe any more.
    SupplySeen {
        /// The run of the machine.
        boot: BootId,
        /// What was seen, volt; none: somebody said so.
        volt: Option<Quantity>,
    },
    /// The job came back onto the bench after another one was worked on.
    TakenUpAfterAnother {
        /// The run of the machine.
        boot: BootId,
    },
    /// Another part lies on the bench: what was measured so far is the one before.
    NextPart {},
    /// The job is handed to somebody else: this device does not go on with it.
    JobReleased(Release),
    /// This device goes on with a job that it had handed over.
    JobTakenBack {
        /// The run of the machine.
        boot: BootId,
    },
    /// An entry of another device's ledger, by its exact bytes, that came with a job taken over from there.
    Carried {
        /// The entry.
        entry: String,
    },
    /// The job was taken over from another device. What it was until then stands before this, carried.
    JobClaimed(Claimed),
    /// The job was closed.
    JobFinished {},
    /// The personal details and the photos of the job were erased. What was committed to stays; nothing tells it any more.
    DetailsErased {},
    /// A procedure was brought onto this device, as a draft. Belongs to no job.
    ProcedureKept {
        /// The file.
        text: String,
    },
    /// Somebody who did not write it stands for a version of a procedure. Belongs to no job.
    ProcedureApproved {
        /// Hash of the file.
        procedure: Hash,
        /// Who, of the roster.
        person: Uuid,
    },
    /// A version of a procedure is not begun any more. Belongs to no job.
    ProcedureWithdrawn {
        /// Hash of the file.
        procedure: Hash,
    },
    /// Somebody came onto the roster. Belongs to no job.
    PersonAdded {
        /// Who; the name stands beside the ledger.
        person: Uuid,
        /// Commitment to name and role.
        personal: Hash,
    },
    /// Somebody chose another PIN. Belongs to no job.
    PinChanged {
        /// Who.
        person: Uuid,
    },
    /// Somebody signs nothing any more. What was signed before stays signed. Belongs to no job.
    PersonRemoved {
        /// Who.
        person: Uuid,
    },
    /// A signature of the office was not taken: the office reads it here. Belongs to no job.
    SignatureNotTaken {
        /// The signature, by the hub's name for it.
        signature: Uuid,
        /// Under a step of which job it was to stand.
        of_job: Uuid,
        /// Why.
        why: NotSigned,
    },
    /// A part was kept for later jobs. Belongs to no job.
    TemplateSaved {
        /// Name in the list; a newer one of the same name replaces it there.
        name: String,
        /// The part.
        part: Part,
    },
    /// What a person said about an instrument. Belongs to no job.
    MeterDescribed {
        /// The instrument.
        instrument: Instrument,
    },
    /// What stands at the head of every report from here on. Belongs to no job.
    ShopDescribed {
        /// All of it.
        shop: Shop,
    },
    /// The language of the screens. Belongs to no job.
    LanguageChosen {
        /// Which.
        language: Language,
    },
    /// The key by which the device that writes this is known. Belongs to no job.
    DeviceKeyed {
        /// Its public key.
        key: PublicKey,
    },
    /// The ledger goes on under another device, which writes this. Belongs to no job.
    IdentityRenewed {
        /// The device it was before.
        from_device: Uuid,
        /// The last entry of that device that stands here; 0: none.
        from_sequence: u64,
        /// Its hash.
        from_hash: Hash,
        /// Why.
        reason: Renewal,
    },
}

impl Event {
    /// Version written for every kind so far.
    pub const VERSION: u16 = 1;

    /// Its kind and body, as they stand in an entry.
    pub fn parts(&self) -> (String, Body) {
        let whole = serde_json::to_value(self).expect("an event has only text keys");
        let kind = whole["kind"].as_str().expect("tagged").to_owned();
        (kind, Body::from(&whole["body"]))
    }

    /// Reads an entry's kind, version and body; `None` for one this program does not know.
    pub fn read(kind: &str, version: u16, body: &str) -> Option<Event> {
        if version != Event::VERSION {
            return None;
        }
        super::parted::event(kind, body).ok()
    }

    /// Hashes of the closed chunks it rests on, oldest first.
    pub fn chunks(&self) -> &[Hash] {
        match self {
            Event::TouchTaken(fact) => &fact.chunks,
            Event::ZeroTaken(fact) => &fact.chunks,
            Event::ResistorRead(fact) => &fact.chunks,
            Event::IsolationTaken(fact) => &fact.chunks,
            Event::SweepTaken(fact) => &fact.chunks,
            _ => &[],
        }
    }

    /// It belongs to the device, not to the job on the bench.
    pub fn is_of_device(&self) -> bool {
        matches!(
            self,
            Event::TemplateSaved { .. }
                | Event::MeterDescribed { .. }
                | Event::LanguageChosen { .. }
                | Event::ShopDescribed { .. }
                | Event::ProcedureKept { .. }
                | Event::ProcedureApproved { .. }
                | Event::ProcedureWithdrawn { .. }
                | Event::PersonAdded { .. }
                | Event::PinChanged { .. }
                | Event::PersonRemoved { .. }
                | Event::SignatureNotTaken { .. }
                | Event::DeviceKeyed { .. }
                | Event::IdentityRenewed { .. }
        )
    }
}
