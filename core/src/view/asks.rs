//! What a page asks, what it is answered, and what it is told without asking.

use super::model::{Face, JobLine, Notice, ProcedureLine, StepCard, TraceView, View, WaitingLine};
use super::words::refusal_notice;
use crate::job::{Command, Refusal};
use crate::part::{Part, PartProblem};
use crate::record::{Hash, Shop};
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
        /// Words that must all occur in order, vehicle, VIN, plate, customer, phone, day ("2026-11"), verdict or what is
        /// open; empty for all.
        search: String,
        /// Only those in which something is open.
        #[serde(default)]
        open: bool,
        /// Lines to skip.
        skip: u32,
        /// Lines wanted, at most 100.
        limit: u32,
    },
    /// The shop as it stands at the head of a report. Changes nothing.
    Shop,
    /// What a code in a picture says: an invitation that stands on another screen. Changes nothing.
    ReadCode {
        /// A JPEG or PNG, base64.
        picture: String,
    },
    /// Ask a shop to take this device in. Answered as done when its office has been asked; the view tells the rest.
    PairWithShop {
        /// The text the office gave.
        invitation: String,
        /// What the device is to be called there.
        name: String,
    },
    /// Send to the shop now what is not there.
    SendToShop,
    /// Forget the shop. What was sent stays there.
    LeaveShop,
    /// A word from the office was read.
    PutNoteAway {
        /// Which.
        #[cfg_attr(test, ts(type = "number"))]
        number: u64,
    },
    /// What erasing the details of old jobs would do. Changes nothing.
    LookAtErasing {
        /// Months since they were opened, at least.
        months: u16,
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
    /// A closed job as one file that proves itself, with the report of it. Changes nothing in the ledger.
    Claim {
        /// The job.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// Letter instead of A4.
        letter: bool,
    },
    /// A job that was handed over as a file for another device. Changes nothing in the ledger.
    HandOver {
        /// The job.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
    },
    /// All that is recorded as one file that was read back and checked. Changes nothing in the ledger.
    BackUp,
    /// Take over the job in a file that another device wrote.
    TakeOver {
        /// The file, base64.
        file: String,
    },
    /// Offer a job that was handed over to a device on the same network; the view tells the rest. Changes nothing in the
    /// ledger.
    Offer {
        /// The job.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
    },
    /// Offer nothing any more.
    EndOffer,
    /// Take over the job that a device on the same network offers.
    TakeOffer {
        /// The text its code says.
        text: String,
    },
    /// The jobs that other devices of the shop handed over and that nobody took over yet. Changes nothing.
    Waiting,
    /// Take over a job that waits at the shop.
    TakeFromShop {
        /// The job.
        #[cfg_attr(test, ts(type = "string"))]
        job: Uuid,
        /// Although another device said first that it takes it over.
        anyway: bool,
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
        /// There are more after these.
        more: bool,
        /// How many are shown, and whether there are more, in words; empty for none.
        words: String,
    },
    /// The shop.
    Shop {
        /// All of it, its logo too.
        shop: Shop,
    },
    /// What erasing would do.
    Erasing {
        /// In words.
        words: String,
        /// Of so many jobs.
        jobs: u32,
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
    /// What the code in the picture says.
    Code {
        /// As it stands there.
        text: String,
    },
    /// The report or the claim file that was asked for.
    Paper {
        /// A name for its file.
        name: String,
        /// The file, base64; empty where it was put into a folder already.
        file: String,
        /// In words where it was put; empty where that is left to whoever asked.
        kept: String,
    },
    /// Jobs that wait to be taken over.
    Waiting {
        /// Newest first.
        lines: Vec<WaitingLine>,
        /// That there is none, in words; empty otherwise.
        words: String,
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
