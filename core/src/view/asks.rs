//! What a page asks, what it is answered, and what it is told without asking.

use super::model::{Face, JobLine, Notice, ProcedureLine, StepCard, TraceView, View};
use super::words::refusal_notice;
use crate::job::{Command, Refusal};
use crate::part::{Part, PartProblem};
use crate::record::Hash;
use crate::session::Signal;
use crate::verdict::words::Language;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What the page asks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "ask")]
pub enum Ask {
    /// A person's wish.
    Do {
        /// The wish.
        command: Command,
    },
    /// Jobs, newest first.
    Jobs {
        /// Words that must all occur in order, vehicle, VIN, plate or customer; empty for all.
        search: String,
        /// Lines to skip.
        skip: u32,
        /// Lines wanted, at most 100.
        limit: u32,
    },
    /// The trace of a stored sweep of the job on the bench.
    Trace {
        /// Which sweep.
        #[cfg_attr(test, ts(type = "string"))]
        sweep: Uuid,
    },
    /// Keep a photo with the job on the bench.
    KeepPhoto {
        /// The job it is meant for.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// The step of the procedure it shows; none: the job.
        step: Option<String>,
        /// A JPEG or PNG, base64.
        picture: String,
    },
    /// A photo of the job on the bench. Changes nothing.
    Picture {
        /// As it is listed.
        #[cfg_attr(test, ts(type = "string"))]
        photo: Hash,
    },
    /// The report of a job as a PDF, in the language of the screens. Changes nothing in the ledger.
    Report {
        /// The job.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// Letter instead of A4.
        letter: bool,
    },
    /// What there is to say of a vehicle identification number that is being typed. Changes nothing.
    LookAtVin {
        /// As typed.
        vin: String,
    },
    /// The procedures that can be followed. Changes nothing.
    Procedures,
    /// A step of the procedure of the job on the bench, whether or not it is the one to do. Changes nothing.
    Step {
        /// Its id.
        step: String,
    },
    /// How a reading that is being typed would be taken, read back. Changes nothing.
    ReadBack {
        /// Digits with decimal comma or point.
        text: String,
        /// One sign before three digits is a decimal sign.
        confirmed: bool,
    },
    /// What is wrong with a part description that is being typed, and how its faces look. Changes nothing.
    CheckPart {
        /// The description.
        part: Part,
    },
}

/// What the page is answered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "reply")]
pub enum Reply {
    /// Done, and recorded if there was something to record.
    Done,
    /// Not done; nothing changed.
    Refused {
        /// Code for the page.
        refusal: Refusal,
        /// Why and what to do, for the person.
        notice: Notice,
    },
    /// Jobs.
    Jobs {
        /// The lines asked for.
        lines: Vec<JobLine>,
        /// How many there are in all.
        total: u32,
    },
    /// The trace that was asked for.
    Trace {
        /// All of it.
        trace: Box<TraceView>,
    },
    /// The photo that was asked for.
    Picture {
        /// A JPEG, base64.
        jpeg: String,
    },
    /// The report that was asked for.
    Report {
        /// A name for its file.
        name: String,
        /// The PDF, base64; empty where it was put into a folder already.
        pdf: String,
        /// In words where it was put; empty where that is left to whoever asked.
        kept: String,
    },
    /// What there is to say of the number: a warning, never a refusal.
    Vin {
        /// In words; empty when there is nothing.
        words: String,
    },
    /// The procedures.
    Procedures {
        /// In the order of their titles.
        lines: Vec<ProcedureLine>,
    },
    /// The step that was asked for.
    Step {
        /// All of it.
        card: Box<StepCard>,
    },
    /// A typed reading as it would be taken.
    ReadBack {
        /// Words of the key that takes it: "Take 0.35 Ω for conductor 4"; empty while it cannot be taken.
        key: String,
        /// Why not, or what to answer.
        why: Option<Notice>,
        /// It has to be said whether its sign is a decimal sign; `key` is for the answer yes.
        ambiguous: bool,
    },
    /// A part as it would be taken.
    Checked {
        /// Its faces, as far as they can be drawn.
        faces: Vec<Face>,
        /// What is wrong, empty if nothing.
        problems: Vec<WordedProblem>,
    },
    /// It could not be done: disk full, file damaged.
    Failed {
        /// In words.
        notice: Notice,
    },
}

impl Reply {
    /// Not done, and why, worded.
    pub fn refused(refusal: Refusal, language: Language) -> Reply {
        let notice = refusal_notice(&refusal, language);
        Reply::Refused { refusal, notice }
    }
}

/// A problem of a part description with its sentence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct WordedProblem {
    /// Where and what.
    pub problem: PartProblem,
    /// For the person.
    pub words: String,
}

/// What the page is told without asking.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "pushed")]
pub enum Pushed {
    /// The newest view.
    View {
        /// All of it.
        view: Box<View>,
    },
    /// A signal to be heard, seen or felt.
    Signal {
        /// Which.
        signal: Signal,
    },
}
