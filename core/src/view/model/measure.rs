//! What a screen sees while conductors are measured.

use super::{ContactView, Ladder};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// The measuring screen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct MeasureView {
    /// Index of the conductor to clip now; `None` when every wanted touch is taken.
    pub now: Option<u32>,
    /// What to do now, in words: "Clip conductor 6: A6 and B6."
    pub instruction: String,
    /// What the clips are doing.
    pub contact: ContactView,
    /// The meter has no radio: readings are typed.
    pub typed: bool,
    /// One row per conductor.
    pub rows: Vec<ConductorRow>,
    /// Why the leads come first, where that is what helps most now; empty otherwise.
    pub zero_first: String,
    /// The newest touch, in words: "Conductor 5: 0.352 Ω".
    pub last_taken: Option<String>,
    /// The undo key; `None` when there is nothing to take back.
    pub undo: Option<UndoKey>,
    /// A verdict can be asked for.
    pub can_judge: bool,
    /// Touches taken and wanted.
    pub taken: u32,
    /// Touches wanted in all.
    pub wanted: u32,
    /// The picture so far, provisional.
    pub ladders: Vec<Ladder>,
}

/// Takes the newest touch back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct UndoKey {
    /// Which that is; another one is not taken back by it.
    #[cfg_attr(test, ts(type = "string"))]
    pub touch: Uuid,
    /// Words on it.
    pub words: String,
}

/// One conductor in the table of the measuring screen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct ConductorRow {
    /// Index in the part.
    pub conductor: u32,
    /// Its name.
    pub name: String,
    /// Both ends in words: "A6 – B6".
    pub ends: String,
    /// Its group, empty if none is declared.
    pub group: String,
    /// `done`, `now`, `to-come` or `never`.
    pub state: String,
    /// Why it is never measured, in words.
    pub never_words: String,
    /// Touches taken, oldest first.
    pub touches: Vec<TouchView>,
    /// Touches wanted.
    pub wanted: u32,
}

/// A taken touch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct TouchView {
    /// Its digits as shown, or "OL".
    pub text: String,
    /// `settled`, `as-it-was`, `over-range`, `typed` or `typed-over-range`.
    pub kind: String,
    /// It was taken back; shown struck through.
    pub undone: bool,
}
