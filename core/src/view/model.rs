//! The types a screen sees and says.

use crate::caution::Caution;
use crate::job::{MeterSpecEntry, Stage};
use crate::meter::link::{FoundMeter, LinkState, Source};
use crate::part::Part;
use crate::record::{Conditions, Details};
use crate::unit::{Millis, Stamp};
use crate::verdict::words::Language;
use crate::verdict::{ActionCode, SetVerdict};
use serde::{Deserialize, Serialize};

mod erase;
mod hand;
mod hub;
mod measure;
mod people;
mod picture;
mod proving;
mod work;

pub use erase::EraseView;
pub use hand::{HandView, OfferView, WaitingLine};
pub use hub::{HubNote, HubView, ShopMark};
pub use measure::{ConductorRow, MeasureView, TouchView, UndoKey};
pub use people::PersonLine;
pub use picture::{Band, Ladder, Mark, Rung, Tick, TraceEvent, TracePlace, TraceRow, TraceView};
pub use proving::{
    AsideKind, AsideView, BarRow, ContactView, IsolationRow, OldPartView, ProofLine, ProvingView, SweepLine, SweepRow,
    SweepRunView,
};
pub use work::{
    AdapterView, CodeView, LampChoice, NeedView, OutcomeView, PhotoView, ProcedureLine, ReadingView, Reads, SafeView,
    SecondView, StepCard, StepFields, WaitView, WorkLine, WorkView,
};

/// The whole picture of the bench at one moment.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct View {
    /// Language of all sentences in it.
    pub language: Language,
    /// The meter and its link.
    pub meter: MeterView,
    /// The job on the bench.
    pub bench: Option<BenchView>,
    /// Saved parts.
    pub templates: Vec<TemplateView>,
    /// Who may sign, in the order of their names.
    pub people: Vec<PersonLine>,
    /// The shop's hub.
    pub hub: HubView,
    /// Where the secret of the device's key lies, in words.
    pub key: String,
    /// A fault that concerns everything (disk full, file damaged), in words.
    pub fault: Option<Notice>,
}

/// A sentence with what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Notice {
    /// Stable code.
    pub code: String,
    /// What happened and what it means.
    pub words: String,
    /// What to do.
    pub remedy: String,
}

/// The link, the instrument and its present display.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct MeterView {
    /// What can be said of the link.
    pub link: LinkState,
    /// True only while fresh values arrive.
    pub live: bool,
    /// A stable code for the state shown: the link's state, or `live`, `stale`, `wrong-unit`, `unreadable`,
    /// `step-unknown`, `low-battery`, `hold`, `by-eye`.
    pub code: String,
    /// The state in words.
    pub words: String,
    /// What to do about it, if anything.
    pub remedy: Option<String>,
    /// Name of the instrument connected or being connected to.
    pub name: Option<String>,
    /// Where it is reached.
    pub source: Option<Source>,
    /// Its serial number or the shop's label.
    pub identity: Option<String>,
    /// Meters found, in the order first seen.
    pub found: Vec<FoundMeter>,
    /// A search is running.
    pub searching: bool,
    /// The display now; `None` while nothing fresh is known, so that an old number is never shown as live.
    pub display: Option<Display>,
    /// Step, accuracy and range, as known or entered.
    pub spec: MeterSpecEntry,
    /// What is still missing of it: `label`, `step`, `accuracy`, `top`.
    pub missing: Vec<String>,
    /// The first number it shows will tell what is still missing: what to do until then, as the words of a key that
    /// waits; empty otherwise.
    pub first_number: String,
    /// The job on the bench uses this meter; otherwise the person has to say so before anything is taken.
    pub in_use: bool,
    /// What was said last of a meter without radio: it cannot tell it itself, and nobody writes it twice.
    pub typed_spec: MeterSpecEntry,
}

/// A live display.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Display {
    /// The digits as shown, "OL" for over-range, "--" for blank.
    pub text: String,
    /// Unit sign, empty unless a number is shown.
    pub unit: String,
    /// `value`, `over-range` or `blank`.
    pub state: String,
    /// Age of the reading.
    pub age_ms: Millis,
    /// Signs beside the number, in words.
    pub signs: Vec<String>,
}

/// A saved part.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct TemplateView {
    /// Its name in the list.
    pub name: String,
    /// The part.
    pub part: Part,
    /// Came with the program (invented, for practice).
    pub built_in: bool,
}

/// The job on the bench.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct BenchView {
    /// Id.
    pub job: String,
    /// Order number or name.
    pub order: String,
    /// One line that says which vehicle: short name and last six of the VIN.
    pub vehicle: String,
    /// What was entered about it, to be looked at and corrected.
    pub about: AboutView,
    /// When it was opened.
    pub opened: Stamp,
    /// The step to do now.
    pub stage: Stage,
    /// The strip: every step, done, now or to come.
    pub steps: Vec<StepLine>,
    /// The cautions that stand at the step to do now and are not read yet; one key accepts them all.
    pub cautions: Vec<CautionView>,
    /// The part, once described.
    pub part: Option<PartView>,
    /// Leads, temperature, bars as stated.
    pub conditions: Conditions,
    /// Measuring: present once a part is described.
    pub measure: Option<MeasureView>,
    /// What is being done beside the conductors; it takes the place of the measuring screen.
    pub aside: Option<AsideView>,
    /// What supports the readings: zero, meter check, bars, isolation, sweeps; present with `measure`.
    pub proving: Option<ProvingView>,
    /// The newest verdict.
    pub verdict: Option<VerdictView>,
    /// The procedure it follows.
    pub work: Option<Box<WorkView>>,
    /// Its photos, oldest first.
    pub photos: Vec<PhotoView>,
    /// Erasing what is personal; nothing while the job is open.
    pub erasing: Option<EraseView>,
    /// Whether it is at the shop; nothing where nobody is paired.
    pub at_shop: Option<ShopMark>,
    /// How it goes from device to device.
    pub hand: HandView,
    /// The job holds entries written by a newer program; they are kept and not shown.
    pub newer_entries: bool,
}

/// Order, vehicle and personal details as they were entered, and what stood there before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct AboutView {
    /// Vehicle in short words, without the VIN.
    pub vehicle: String,
    /// Personal details; empty where they were erased.
    pub details: Details,
    /// What was corrected, oldest first within each field.
    pub before: Vec<BeforeView>,
}

/// A text that another was put in place of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct BeforeView {
    /// Name of its field: `order`, `vehicle` or one of the details.
    pub field: String,
    /// What stood there; "nothing" in words where it was empty.
    pub text: String,
    /// Until when, in words.
    pub until: String,
}

/// A line of the strip.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct StepLine {
    /// Which step.
    pub stage: Stage,
    /// Its title.
    pub title: String,
    /// `done`, `now` or `to-come`.
    pub state: String,
    /// What proves it, or nothing.
    pub proof: String,
}

/// A caution at its step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct CautionView {
    /// Which.
    pub caution: Caution,
    /// Its text.
    pub text: String,
}

/// The part with its connector faces.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct PartView {
    /// The description as it was given.
    pub part: Part,
    /// One face per connector.
    pub faces: Vec<Face>,
    /// Plugs and conductors can no longer be changed; names, groups, limits and bars can, while the job is open.
    pub fixed: bool,
}

/// A connector seen from the mating side; the wire side is its mirror image (`mirror_column`).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Face {
    /// Name of the connector.
    pub name: String,
    /// Rows.
    pub rows: u8,
    /// Columns of the widest row.
    pub columns: u8,
    /// Cavities in number order.
    pub cavities: Vec<CavityView>,
}

/// One cavity.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct CavityView {
    /// Its number.
    pub number: u8,
    /// Row from the top, from 0.
    pub row: u8,
    /// Column from the left on the mating side, from 0.
    pub column: u8,
    /// Column from the left on the wire side.
    pub mirror_column: u8,
    /// Index of the conductor that ends here.
    pub conductor: Option<u32>,
    /// `free`, `clip` (a clip goes here now), `used`, `never` (no clip may go here).
    pub state: String,
}

/// A verdict on the set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct VerdictView {
    /// `pass`, `fail` or `undecided`. The only thing a colour may be chosen by.
    pub kind: SetVerdict,
    /// The headline.
    pub headline: String,
    /// Sentences, the most important first: what stands out, what is not excluded, which conductors were not judged.
    pub sentences: Vec<String>,
    /// Stable code of the next action.
    pub action_code: ActionCode,
    /// The next action in words.
    pub action: String,
    /// The conductor it concerns.
    pub action_conductor: Option<u32>,
    /// The picture.
    pub ladders: Vec<Ladder>,
    /// With what and when: "bench meter 2, step 0.01 Ω, leads not zeroed, 10:42".
    pub measured_with: String,
    /// Where it is stored, in words: "Entry 57 of this device's ledger".
    pub stored: String,
    /// Readings were taken or the part changed since; judge again.
    pub outdated: bool,
    /// What changed since, and what a sweep found that the verdict does not know of: "Conductor 3 breaks while
    /// turning; judge again."; empty while it holds.
    pub since: String,
    /// What it said, to be shown as no longer valid; empty while it holds, and where a fault was found since.
    pub before: String,
}

/// A line of the job list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct JobLine {
    /// Id.
    pub job: String,
    /// Order number or name.
    pub order: String,
    /// Which vehicle.
    pub vehicle: String,
    /// Customer, empty if none or erased.
    pub customer: String,
    /// When it was opened.
    pub opened: Stamp,
    /// The step it waits at.
    pub stage: Stage,
    /// `pass`, `fail`, `undecided`; nothing before the first verdict.
    pub verdict: Option<SetVerdict>,
    /// One sentence: "Conductor 4 high. Part condemned." or "Measuring: 5 of 16 touches."
    pub words: String,
    /// Whether it is at the shop; nothing where nobody is paired.
    pub at_shop: Option<ShopMark>,
    /// A candidate can be measured against its part.
    pub can_compare: bool,
    /// What such a job would be called: "Candidate for W-2041".
    pub candidate: String,
}
