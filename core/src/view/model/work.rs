//! The procedure of the job on the bench: the list of its steps, the step to do, and what stands of the vehicle's
//! safety.

use super::{CautionView, PersonLine};
use crate::procedure::Origin;
use crate::record::{Alike, Lamp, Outcome};
use serde::{Deserialize, Serialize};

/// A procedure that can be followed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct ProcedureLine {
    /// Its id.
    pub procedure: String,
    /// What the job is called.
    pub title: String,
    /// Vehicles and equipment it is for.
    pub applies_to: String,
    /// Version, day and author, and that it is a draft if it is one.
    pub standing: String,
    /// Its version, as an approval names it.
    pub version: u32,
    /// Nobody beside its author stands for it.
    pub draft: bool,
    /// Who stands for it, in words: "Approved by Ines Brandt."; empty for a draft.
    pub approved: String,
    /// Tools to lay out first.
    pub tools: Vec<String>,
    /// Parts that are renewed every time.
    pub parts_to_renew: Vec<String>,
}

/// The procedure of the job on the bench.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct WorkView {
    /// Which.
    pub procedure: ProcedureLine,
    /// All steps in the order of the file.
    pub steps: Vec<WorkLine>,
    /// The step to do now: the one that was begun, else the first to do. `None` when the job is closed.
    pub now: Option<StepCard>,
    /// How many are settled, and how many there are.
    pub settled: u32,
    /// All of them.
    pub of: u32,
    /// What stands of the vehicle's safety, for the top line.
    pub safe: SafeView,
    /// Who does the job, in words; or that nobody said so.
    pub technician: String,
    /// It can be said now who does the job.
    pub may_name: bool,
    /// Steps that wait for the signature of a second person.
    pub waiting: Vec<SecondView>,
    /// How the job ended, in words; empty while it is open.
    pub ended: String,
}

/// What stands of the vehicle's safety.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct SafeView {
    /// `none` (the procedure takes no cable off, or the job is closed), `on` (the cable is on, or nobody said), `waiting`, `waited` (not proven dead yet), `dead` (all three stand),
    /// `doubt` (it was off and is not believed any more).
    pub state: String,
    /// In words, with the time: "Cable off. Wait 74 s more."
    pub words: String,
    /// What became of it and when, if something ended it: "The cable was on again at 10:14."
    pub lost: String,
    /// Words of the key that says that the cable was on again; empty while there is nothing it would end.
    pub supply_key: String,
    /// What that key ends, in words.
    pub supply_ends: String,
}

/// A step in the list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct WorkLine {
    /// Its id.
    pub step: String,
    /// Its title.
    pub title: String,
    /// `done`, `skipped`, `untested`, `again` (done, and what it made so stands no longer), `now` or `to-come`.
    pub state: String,
    /// What proves it: value, time, photos; or why it was left out.
    pub proof: String,
    /// Why it cannot be begun now, in words; empty when it can, and when it is settled.
    pub blocked: String,
    /// Who signed it second, or that it waits for that; may be empty.
    pub second: String,
}

/// A step that waits for a second person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct SecondView {
    /// Its id.
    pub step: String,
    /// Which doing of it this is: goes back with the signature.
    pub doing: u32,
    /// Its title.
    pub title: String,
    /// Why a second person signs it.
    pub why: String,
    /// Who may sign it, in the order of their names.
    pub signers: Vec<PersonLine>,
    /// Why nobody can, and what to do; empty while somebody can.
    pub nobody: String,
}

/// What a step needs and does not have.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct NeedView {
    /// What has to be so, and why it is not: "The supply is proven dead. The cable was on again at 10:14."
    pub words: String,
    /// The step that makes it so.
    pub step: Option<String>,
    /// Its title, or empty.
    pub title: String,
}

/// One step with all that is needed to do it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct StepCard {
    /// Its id.
    pub step: String,
    /// Its title.
    pub title: String,
    /// What to do.
    pub text: String,
    /// `blocked`, `to-begin`, `begun` or `settled`.
    pub state: String,
    /// What has to be so first; empty unless blocked.
    pub needs: Vec<NeedView>,
    /// Cautions, shown before it can be begun and while it is done.
    pub cautions: Vec<CautionView>,
    /// What beginning it ends, in words: "Cable off, wait and proof end."; may be empty.
    pub ends: String,
    /// Words of the key that begins it: "Read. Begin."
    pub begin_key: String,
    /// Words of the key that says it is done: "The cable is off"; empty while a wait is not over.
    pub done_key: String,
    /// Photos are asked for: what must be seen. Empty: none asked.
    pub photo: String,
    /// Words are asked for.
    pub asks_words: bool,
    /// When it may be left out, in words; `None`: never.
    pub skip: Option<String>,
    /// "Not tested" is an answer.
    pub may_be_untested: bool,
    /// A second person signs it, in words; may be empty.
    pub second: String,
    /// Substitute loads and lock pins that go out or come back in it, in words; may be empty.
    pub counted: String,
    /// What is entered, by its kind.
    pub fields: StepFields,
}

/// What is entered at a step, by its kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum StepFields {
    /// A tick, and what evidence is asked.
    Tick,
    /// The wait.
    Wait(WaitView),
    /// Known source, points, known source.
    ProveDead {
        /// The known source before.
        before: String,
        /// The points.
        points: Vec<String>,
        /// The known source after.
        after: String,
        /// "At most 0.1 V", with its source.
        limit: String,
    },
    /// Codes.
    Codes {
        /// What the lamp can have done; none where it is not looked at.
        lamps: Vec<LampChoice>,
        /// They are erased in this step, in words; may be empty.
        erases: String,
        /// Codes saved before, to compare with; none at the scan before.
        before: Vec<CodeView>,
    },
    /// Something is measured with the ohmmeter; the measuring screens do it.
    Reading {
        /// Which of the measuring screens it is.
        reads: Reads,
        /// What, in words: "4 conductors, 3 touches each".
        what: String,
        /// Read so far.
        done: u32,
        /// To be read.
        of: u32,
        /// What is to be read, in the order of the file.
        parts: Vec<ReadingView>,
        /// The limit or what else applies, with its source, in words; may be empty.
        limit: String,
    },
    /// A group is compared.
    Compare {
        /// What it comes to now.
        alike: Option<Alike>,
        /// In words: which conductor is far off, or what is missing.
        words: String,
    },
    /// Turns are counted.
    Centre {
        /// "5.0 turns from end to end, 2.5 back", with its source.
        published: String,
        /// Free turns wanted each side, in words.
        free: String,
        /// The plug's angle, in words; may be empty.
        plug: String,
    },
    /// A bolt.
    Torque {
        /// As published, with its source: "44 N·m".
        value: String,
        /// The same as published in another unit; may be empty.
        also: String,
        /// Other units, rounded, said to be so; may be empty.
        shown_in: Vec<String>,
        /// Lowest and highest allowed; may be empty.
        range: String,
        /// "then 90°"; may be empty.
        angle: String,
        /// A new fastener is needed.
        new_fastener: bool,
        /// The adapter that moves the bolt off the drive of the wrench.
        adapter: Option<AdapterView>,
        /// Which wrench is good for it: "A wrench for up to 44 to 220 N·m"; may be empty.
        wrench: String,
        /// Unit in which the largest setting of the wrench is typed.
        unit: String,
    },
    /// A value of the vehicle.
    Value {
        /// What it is called.
        name: String,
        /// Its unit.
        unit: String,
        /// "0° within 3°" or "steady within 0.2 Ω", with its source.
        wanted: String,
        /// Labels of the fields: one, or lowest and highest.
        fields: Vec<String>,
    },
    /// A signature of whoever does the job.
    Sign {
        /// As what.
        role: String,
        /// What stands of the part now, in words: the verdict that is signed; empty while nothing is judged.
        verdict: String,
        /// Ends that are possible now, and what stands in the way of the others; empty unless it closes the job.
        outcomes: Vec<OutcomeView>,
    },
    /// A part.
    Part {
        /// What it is.
        name: String,
        /// What it may be.
        may_be: Vec<Origin>,
    },
}

/// Which of the measuring screens a step is read with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Reads {
    /// The leads on each other.
    Zero,
    /// Conductors end to end.
    Conductors,
    /// Pairs that must not be connected.
    Isolation,
    /// Conductors while the part is moved.
    Sweep,
}

/// An adapter on the wrench, straight on it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct AdapterView {
    /// "Set the wrench to 40.0 N·m".
    pub set: String,
    /// From the hand to the drive: "300 mm".
    pub wrench: String,
    /// From the drive to the bolt: "30 mm".
    pub adapter: String,
    /// All of it in words.
    pub words: String,
}

/// The wait.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct WaitView {
    /// `stopped`, `counting` or `over`.
    pub state: String,
    /// In words: "74 s more.", why it does not count, or "Time is over. Prove the supply dead next."
    pub words: String,
    /// Seconds to go, rounded up; 0 when over.
    pub left_s: u32,
    /// Seconds in all.
    pub required_s: u32,
    /// Where the time is printed, and that it is never under two minutes.
    pub source: String,
    /// Said aloud now (60, 30, 10 and 0 s to go), else empty.
    pub announce: String,
}

/// A photo of the job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct PhotoView {
    /// Names it in an ask.
    pub photo: String,
    /// The step it shows; none: the job.
    pub step: Option<String>,
}

/// A code with what its failure type means.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct CodeView {
    /// As typed or read.
    pub code: String,
    /// What the failure type byte means: help, no finding; may be empty.
    pub meaning: String,
}

/// One thing to be read at a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct ReadingView {
    /// Its name: a conductor, or a pair.
    pub name: String,
    /// What was read and what it means, or empty.
    pub words: String,
    /// It is read, as often as the step wants it; how it stands is told by `state`.
    pub done: bool,
    /// `good`, `bad`, `open` (it does not tell), `taken` (read; its group is judged later) or `none`.
    pub state: String,
    /// Conductor to begin with, index in the part.
    pub a: u32,
    /// The other conductor of a pair; none: metal, or there is no pair.
    pub b: Option<u32>,
    /// It is a pair.
    pub pair: bool,
}

/// An end of the job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OutcomeView {
    /// Which.
    pub outcome: Outcome,
    /// Its words.
    pub words: String,
    /// What stands in its way, in words; none: it is possible.
    pub open: Vec<NeedView>,
}

/// A choice of what the lamp did, with its words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct LampChoice {
    /// Which.
    pub lamp: Lamp,
    /// Its words.
    pub words: String,
}
