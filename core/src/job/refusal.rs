//! How a wish can be refused.

use crate::caution::Caution;
use crate::part::{EndRefused, PartProblem};
use crate::work::StepRefusal;
use serde::{Deserialize, Serialize};

/// A mistake in a file somebody wrote.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct FileMistake {
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
    /// What is wrong; files are written in English words, and so is this.
    pub what: String,
    /// What to write instead.
    pub instead: String,
}

/// Why a wish was not carried out. Nothing changed. Not a fault: the person is told what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "code")]
pub enum Refusal {
    /// No job is on the bench.
    NoJob,
    /// There is no such job.
    NoSuchJob,
    /// A job needs an order number or name.
    OrderMissing,
    /// What is personal was erased; nothing personal is put in its place.
    Erased,
    /// A job is not corrected without end.
    CorrectedTooOften,
    /// A text is longer than is kept.
    TooLong {
        /// Which field.
        field: String,
    },
    /// This caution has to be read first.
    CautionFirst {
        /// Which.
        caution: Caution,
    },
    /// The part has to be described first.
    PartFirst,
    /// The description cannot be measured as it is.
    PartWrong {
        /// All that is wrong.
        problems: Vec<PartProblem>,
    },
    /// Plugs and conductors cannot change once they were measured; names, groups, limits and bars can.
    PartMeasured,
    /// A template needs a name.
    TemplateName,
    /// That meter is not in the list any more.
    NoSuchMeter,
    /// No meter is connected and live.
    MeterFirst,
    /// Step, accuracy, top of range or the instrument's name are not known yet.
    MeterUnknown,
    /// A number that was typed cannot be read.
    Number {
        /// Which field.
        field: String,
        /// One sign before three digits: thousands or decimal?
        ambiguous: bool,
    },
    /// Its test current is above 10 mA: not for restraint wiring.
    TestCurrent,
    /// No such conductor.
    NoSuchConductor,
    /// The clips may not go there.
    End {
        /// Why.
        why: EndRefused,
    },
    /// There is nothing to take: no contact that stands within the limits of a key press.
    NothingToTake,
    /// The meter does not show over-range now, or not for long enough.
    NotOverRange,
    /// The range ends below 1000 ohm: above range is not open.
    AboveRange,
    /// The meter shows an old value or none.
    Stale,
    /// No touch to take back.
    NothingToUndo,
    /// The touch that is to be taken back is not the newest one any more.
    NewerTouch,
    /// Nothing was measured.
    NothingMeasured,
    /// A date that was typed is not one.
    Day {
        /// Which field.
        field: String,
    },
    /// Turns, passes or pace of a sweep are out of range.
    SweepPlan,
    /// Isolation needs two different things.
    SameConductor,
    /// Whether a shorting bar bridges this pair, and whether it is open, has to be said first.
    BarFirst {
        /// One conductor.
        a: u32,
        /// The other.
        b: u32,
    },
    /// Nothing of that sort is going on.
    NothingAside,
    /// No value came while the part was moved.
    NothingSwept,
    /// No such reading.
    NoSuchReading,
    /// A stream is needed: a meter with radio.
    RadioNeeded,
    /// This job uses a meter with radio; nothing is typed for it.
    NotTyped,
    /// More decimal places than the meter shows.
    FinerThanStep {
        /// The step entered for the meter, ohm.
        step: String,
    },
    /// The number on the display is no multiple of the step entered.
    StepUnlikeDisplay {
        /// The step entered, ohm.
        step: String,
        /// What the display shows, ohm.
        shown: String,
    },
    /// The old part has no two conductors that read alike, or no verdict that still holds.
    NothingToCompareWith,
    /// A verdict has to be given first.
    VerdictFirst,
    /// A verdict was given; measuring has to be taken up again first.
    VerdictGiven,
    /// The meter connected now is not the one of this job.
    OtherMeter,
    /// The procedure of the job says this, at one of its steps.
    ByProcedure,
    /// The job holds as many photos as are kept.
    TooManyPhotos,
    /// What was sent is no photo that can be read.
    NoPhoto,
    /// No code can be read in the picture that was sent.
    NoCode,
    /// The job has no such photo here.
    NoSuchPhoto,
    /// The file is no procedure, or none that may be followed.
    ProcedureWrong {
        /// Every mistake, by line.
        mistakes: Vec<FileMistake>,
    },
    /// The file changes a procedure that is known, and keeps less than it did.
    ProcedureLooser {
        /// What, in the words of the validator.
        looser: String,
    },
    /// The file changes a procedure that is known, and its version is not higher.
    ProcedureVersion {
        /// The version that is known.
        known: u32,
    },
    /// At a step of the procedure.
    Step {
        /// Why.
        refusal: StepRefusal,
    },
    /// Of the roster, and of what its people sign.
    Roster {
        /// Why.
        refusal: RosterRefusal,
    },
    /// Of handing a job over, and of taking one over.
    Hand {
        /// Why.
        refusal: HandRefusal,
    },
    /// The job holds entries of a newer program, which this one does not understand.
    NewerProgram,
    /// The job is closed.
    Finished,
    /// The job is not closed.
    NotClosed,
    /// There is no job whose personal details would have to be erased.
    NothingToErase,
    /// Another job is on the bench.
    BenchTaken,
}

impl From<StepRefusal> for Refusal {
    fn from(refusal: StepRefusal) -> Refusal {
        Refusal::Step { refusal }
    }
}

/// Why a job is not handed over, taken back or taken over. Nothing changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum HandRefusal {
    /// It was handed over: this device does not go on with it unless it is taken back.
    Away {
        /// To whom; may be empty.
        to: String,
    },
    /// It was not handed over.
    NotAway,
    /// The ledger names no key of this device: nobody could tell who handed the job over.
    NoKey,
    /// The secret of this device's key is not to be had for now.
    KeyAway,
    /// The file is none of a job, or not the one that was written.
    File {
        /// What does not fit, and where; in English, as `evenwire-cli verify` says it.
        what: String,
    },
    /// The file is of a newer program.
    NewerFile,
    /// The file is of a job that nobody handed over.
    NotReleased,
    /// Everything in the file is here already.
    Here,
    /// The job went on here and where the file comes from: two versions, of which none takes the place of the other.
    Parted,
    /// Somebody else took it over first.
    Taken {
        /// Who, as the shop calls the device.
        by: String,
    },
}

impl From<HandRefusal> for Refusal {
    fn from(refusal: HandRefusal) -> Refusal {
        Refusal::Hand { refusal }
    }
}

/// Why a person of the roster could not do something. Nothing changed but the count of wrong tries.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum RosterRefusal {
    /// Nobody of that id is on the roster.
    NoSuchPerson,
    /// This person was taken off the roster.
    Removed,
    /// A person needs a name.
    NameMissing,
    /// Somebody of that name is on the roster.
    NameTaken,
    /// As many people are on the roster as are kept.
    Full,
    /// A PIN has 4 to 12 digits.
    PinShape,
    /// The PIN is wrong.
    PinWrong {
        /// Tries before the next pause.
        left: u32,
    },
    /// Too many wrong tries in a row: no PIN of this person is looked at now.
    Locked {
        /// Seconds to go, above zero.
        left_s: u64,
    },
    /// Whoever wrote a procedure does not approve it.
    AuthorApproves,
    /// The procedure is there in another version than the one that was read.
    OtherVersion {
        /// The version that is there.
        known: u32,
    },
    /// Somebody stands for this version already.
    Approved,
}

impl From<RosterRefusal> for Refusal {
    fn from(refusal: RosterRefusal) -> Refusal {
        Refusal::Roster { refusal }
    }
}
