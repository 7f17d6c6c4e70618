//! What a person can ask for, and how it can be refused.

use crate::caution::Caution;
use crate::part::{EndRefused, Part, PartProblem};
use crate::record::{BarState, Conditions, Details};
use crate::sweep::plan::SweepPlan;
use crate::verdict::words::Language;
use crate::work::{StepAct, StepRefusal};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// One wish of a person. Nothing else changes a job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "wish")]
pub enum Command {
    /// Start a job and put it on the bench.
    NewJob {
        /// Order number or the shop's own name of the job, not empty.
        order: String,
        /// Vehicle in short words, may be empty.
        vehicle: String,
        /// Personal details; kept beside the ledger, committed to in it.
        details: Details,
    },
    /// Put a stored job on the bench.
    OpenJob {
        /// Which.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
    },
    /// Take the job off the bench; it stays as it is.
    LeaveJob,
    /// The cautions were read.
    AcceptCautions {
        /// Which.
        cautions: Vec<Caution>,
    },
    /// This is the part.
    DescribePart {
        /// The description.
        part: Part,
    },
    /// Keep the part of the job on the bench for later jobs.
    SaveTemplate {
        /// Its name in the list.
        name: String,
    },
    /// Look for meters.
    SearchMeters,
    /// Stop looking.
    StopSearch,
    /// Connect to a meter in the list.
    ConnectMeter {
        /// As listed.
        id: String,
    },
    /// Let the meter go.
    DisconnectMeter,
    /// Use the connected meter, with what the person says about it where it does not tell itself.
    DescribeMeter {
        /// What is known.
        spec: MeterSpecEntry,
    },
    /// State of leads, bench and shorting bars.
    StateConditions {
        /// All of them; a missing one is unknown.
        conditions: Conditions,
    },
    /// The clips go to this conductor next. Whatever arrived before does not count for it.
    ChooseConductor {
        /// Index in the part.
        conductor: u32,
    },
    /// Take an unsteady contact as it is.
    TakeAsItIs,
    /// The clips are on: take over-range as an open conductor.
    TakeOverRange,
    /// Take back the newest touch.
    UndoTouch,
    /// Put the clips on each other and read the leads; needed again at the end.
    ZeroLeads,
    /// Read a known resistor with the meter of this job.
    CheckMeter {
        /// Its value in ohm, as typed.
        resistor: String,
        /// Its tolerance in percent, as typed.
        tolerance_percent: String,
    },
    /// What is known of the shorting bar of a pair.
    StateBar {
        /// All of it.
        bar: BarState,
    },
    /// Read the isolation of a conductor.
    MeasureIsolation {
        /// Index in the part.
        a: u32,
        /// The other conductor; none: metal.
        other: Option<u32>,
    },
    /// Choose how the part is moved while a conductor is watched; no clip is asked for before [`Command::Sweep`].
    PlanSweep {
        /// Index in the part.
        conductor: u32,
        /// How the part is moved, as chosen so far.
        plan: SweepPlan,
    },
    /// Watch a conductor while the part is moved: the plan is confirmed. The trace begins half a second after the clips went on.
    Sweep {
        /// Index in the part.
        conductor: u32,
        /// How the part is moved.
        plan: SweepPlan,
    },
    /// The part is at the next mark now.
    MarkSweep,
    /// The movement is over: say what the trace shows.
    EndSweep,
    /// Leave what was begun beside the conductors; a sweep that was not ended is not kept.
    BackToConductors,
    /// Take back a sweep or an isolation reading.
    Withdraw {
        /// Which.
        #[cfg_attr(test, ts(type = "string"))]
        reading: Uuid,
    },
    /// Use a meter without radio: the person reads it and types.
    UseTypedMeter {
        /// What is known of it; a label is needed.
        spec: MeterSpecEntry,
    },
    /// The display shows this, says the person.
    TypeReading {
        /// Digits with decimal comma or point.
        text: String,
        /// One sign before three digits is a decimal sign.
        confirmed: bool,
    },
    /// The display shows over-range with the clips on, says the person.
    TypeOverRange,
    /// Start a job for a loose part that is compared with one measured before.
    MeasureCandidate {
        /// The job in which the old part was measured.
        #[cfg_attr(test, ts(type = "string"))]
        old: Uuid,
    },
    /// Bring a procedure onto this device. It is a draft until somebody else stands for it.
    KeepProcedure {
        /// The file.
        text: String,
    },
    /// A version of a procedure is not to be begun any more.
    WithdrawProcedure {
        /// Its id.
        procedure: String,
    },
    /// Follow a procedure in the job on the bench.
    BeginProcedure {
        /// Its id, as listed.
        procedure: String,
        /// Who does the job, of the roster.
        #[cfg_attr(test, ts(type = "string | null"))]
        technician: Option<Uuid>,
    },
    /// Something at a step of the procedure.
    AtStep {
        /// The job it is meant for: what is on a screen may be of another one.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// The step's id.
        step: String,
        /// What.
        act: StepAct,
    },
    /// The cable was on again, or may have been.
    SupplyWasOn {
        /// The job it is meant for.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
    },
    /// Judge the readings.
    Judge,
    /// Go on measuring after a verdict.
    MeasureMore,
    /// Close the job.
    Finish,
    /// Speak this language.
    Speak {
        /// Which.
        language: Language,
    },
}

/// What a person enters about a meter. Texts, because they are typed: decimal comma or point.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct MeterSpecEntry {
    /// The shop's name for the instrument: "bench meter 2". Identifies it when it tells no serial number.
    pub label: String,
    /// Smallest step of the display, ohm.
    pub step: String,
    /// Accuracy, percent of reading.
    pub accuracy_percent: String,
    /// Accuracy, display counts.
    pub accuracy_counts: String,
    /// Highest value the meter shows in the range used, ohm.
    pub top: String,
    /// Day its calibration is due, "2026-05-31"; empty: not known.
    #[serde(default)]
    pub calibration_due: String,
}

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
    /// The job holds entries of a newer program, which this one does not understand.
    NewerProgram,
    /// The job is closed.
    Finished,
    /// Another job is on the bench.
    BenchTaken,
}

impl From<StepRefusal> for Refusal {
    fn from(refusal: StepRefusal) -> Refusal {
        Refusal::Step { refusal }
    }
}
