//! What a person can ask for.

use crate::caution::Caution;
use crate::part::Part;
use crate::record::{BarState, Conditions, Details, Pin, Shop};
use crate::sweep::plan::SweepPlan;
use crate::verdict::words::Language;
use crate::work::StepAct;
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
    /// Put other words in place of order, vehicle and personal details; what stood there before stays in the record.
    CorrectJob {
        /// The job that was looked at.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// As in `new-job`, all of it.
        order: String,
        /// As in `new-job`.
        vehicle: String,
        /// As in `new-job`.
        details: Details,
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
    /// Take back the newest touch, if it is the one that is meant.
    UndoTouch {
        /// Which was shown as the newest.
        #[cfg_attr(test, ts(type = "string"))]
        touch: Uuid,
    },
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
        /// Who does the job, of the roster; none: nobody is named, and nobody can sign second.
        #[cfg_attr(test, ts(type = "string | null"))]
        technician: Option<Uuid>,
        /// Of whoever does the job; none when nobody is named.
        #[serde(default)]
        #[cfg_attr(test, ts(optional, type = "string"))]
        pin: Option<Pin>,
    },
    /// Somebody else does the job from here on, or it is said at last who does.
    NameTechnician {
        /// The job it is meant for.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// Who, of the roster.
        #[cfg_attr(test, ts(type = "string"))]
        person: Uuid,
        /// Of this person.
        #[cfg_attr(test, ts(type = "string"))]
        pin: Pin,
    },
    /// A second person signs a step that waits for it. A job that was closed may still wait.
    SignStep {
        /// The job it is meant for.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// The step's id.
        step: String,
        /// Which doing of it the person has before them.
        seen: u32,
        /// Who signs, of the roster.
        #[cfg_attr(test, ts(type = "string"))]
        person: Uuid,
        /// Of this person.
        #[cfg_attr(test, ts(type = "string"))]
        pin: Pin,
    },
    /// Somebody who did not write it stands for this version of a procedure.
    ApproveProcedure {
        /// Its id.
        id: String,
        /// Its version, as it was read.
        version: u32,
        /// Who, of the roster.
        #[cfg_attr(test, ts(type = "string"))]
        person: Uuid,
        /// Of this person.
        #[cfg_attr(test, ts(type = "string"))]
        pin: Pin,
    },
    /// Somebody comes onto the roster.
    AddPerson {
        /// Name, unlike that of anybody on it.
        name: String,
        /// 4 to 12 digits, chosen and typed by this person.
        #[cfg_attr(test, ts(type = "string"))]
        pin: Pin,
        /// What the person does in the shop; may be empty.
        role: String,
    },
    /// Somebody chooses another PIN.
    ChangePin {
        /// Who.
        #[cfg_attr(test, ts(type = "string"))]
        person: Uuid,
        /// The one so far.
        #[cfg_attr(test, ts(type = "string"))]
        old: Pin,
        /// 4 to 12 digits.
        #[cfg_attr(test, ts(type = "string"))]
        new: Pin,
    },
    /// Somebody leaves the roster. What was signed stays signed.
    RemovePerson {
        /// Who.
        #[cfg_attr(test, ts(type = "string"))]
        person: Uuid,
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
    /// Hand the job on the bench to somebody else: this device does not go on with it.
    ReleaseJob {
        /// The job that was looked at.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// To whom, in a few words; may be empty.
        to: String,
    },
    /// Go on with the job on the bench after all. Where another device took it over, there are two versions from then on.
    TakeJobBack {
        /// The job that was looked at.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
    },
    /// Erase the personal details and the photos of a closed job, for ever.
    EraseDetails {
        /// The job.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
    },
    /// Erase those of every job that was opened longer ago than this, for ever.
    EraseOlder {
        /// Months, 1 to 1200.
        months: u16,
    },
    /// What stands at the head of every report from here on.
    DescribeShop {
        /// All of it; its logo is the one that is to be kept, and is not looked at with [`LogoWish::Keep`].
        shop: Shop,
        /// What becomes of the logo.
        logo: LogoWish,
    },
    /// Speak this language.
    Speak {
        /// Which.
        language: Language,
    },
}

/// What becomes of the logo of the shop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum LogoWish {
    /// The one there is stays.
    Keep,
    /// The one that is sent takes its place; an empty one takes it away.
    Change,
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
