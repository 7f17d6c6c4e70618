//! Facts: what has to be so before a step, and what a step makes so. A fact that is missing is false.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A fact. Written by its name, with what it is about in brackets: `cable_off`, `inflator_away(bag)`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Fact {
    /// The codes were saved before anything could clear them.
    BeforeScanSaved,
    /// The road wheels stand straight.
    WheelsStraight,
    /// Every source of supply is off and stays off.
    CableOff,
    /// The whole wait is over.
    WaitDone,
    /// The supply was proven dead.
    DeadProven,
    /// This inflator is off and safely away.
    InflatorAway(String),
    /// This shorting bar is held open.
    BarOpen(String),
    /// This shorting bar has sprung back.
    BarRestored(String),
    /// The leads are zeroed.
    ZeroValid,
    /// The coil is locked.
    LockIn,
    /// The coil stands in its centre.
    Centred,
    /// Every substitute load is back.
    LoadsHome,
    /// Every loose lock pin is back.
    LocksHome,
    /// The codes at the end were saved.
    AfterScanSaved,
    /// The lamp came on for its check and went off.
    LampOff,
}

/// Longest name of what a fact is about, and of every id in a file.
pub const MAX_ID: usize = 40;

/// A text that is no fact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not a fact known here")]
pub struct NotAFact;

impl Fact {
    /// The three that must stand before a plug of a restraint system is touched.
    pub const SAFE: [Fact; 3] = [Fact::CableOff, Fact::WaitDone, Fact::DeadProven];

    /// Name without what it is about, for every fact.
    pub const NAMES: [&'static str; 15] = [
        "before_scan_saved",
        "wheels_straight",
        "cable_off",
        "wait_done",
        "dead_proven",
        "inflator_away",
        "bar_open",
        "bar_restored",
        "zero_valid",
        "lock_in",
        "centred",
        "loads_home",
        "locks_home",
        "after_scan_saved",
        "lamp_off",
    ];

    /// The name without what it is about.
    pub fn name(&self) -> &'static str {
        match self {
            Fact::BeforeScanSaved => "before_scan_saved",
            Fact::WheelsStraight => "wheels_straight",
            Fact::CableOff => "cable_off",
            Fact::WaitDone => "wait_done",
            Fact::DeadProven => "dead_proven",
            Fact::InflatorAway(_) => "inflator_away",
            Fact::BarOpen(_) => "bar_open",
            Fact::BarRestored(_) => "bar_restored",
            Fact::ZeroValid => "zero_valid",
            Fact::LockIn => "lock_in",
            Fact::Centred => "centred",
            Fact::LoadsHome => "loads_home",
            Fact::LocksHome => "locks_home",
            Fact::AfterScanSaved => "after_scan_saved",
            Fact::LampOff => "lamp_off",
        }
    }

    /// What it is about, for the facts that are about one of several things.
    pub fn about(&self) -> Option<&str> {
        match self {
            Fact::InflatorAway(about) | Fact::BarOpen(about) | Fact::BarRestored(about) => Some(about),
            _ => None,
        }
    }

    /// # Errors
    /// No fact has this name, or what it is about is missing, too much, or no id.
    pub fn parse(text: &str) -> Result<Fact, NotAFact> {
        let (name, about) = match text.split_once('(') {
            None => (text, None),
            Some((name, rest)) => (name, Some(rest.strip_suffix(')').filter(|a| is_id(a)).ok_or(NotAFact)?.to_owned())),
        };
        match (name, about) {
            ("inflator_away", Some(about)) => Ok(Fact::InflatorAway(about)),
            ("bar_open", Some(about)) => Ok(Fact::BarOpen(about)),
            ("bar_restored", Some(about)) => Ok(Fact::BarRestored(about)),
            (_, Some(_)) => Err(NotAFact),
            ("before_scan_saved", None) => Ok(Fact::BeforeScanSaved),
            ("wheels_straight", None) => Ok(Fact::WheelsStraight),
            ("cable_off", None) => Ok(Fact::CableOff),
            ("wait_done", None) => Ok(Fact::WaitDone),
            ("dead_proven", None) => Ok(Fact::DeadProven),
            ("zero_valid", None) => Ok(Fact::ZeroValid),
            ("lock_in", None) => Ok(Fact::LockIn),
            ("centred", None) => Ok(Fact::Centred),
            ("loads_home", None) => Ok(Fact::LoadsHome),
            ("locks_home", None) => Ok(Fact::LocksHome),
            ("after_scan_saved", None) => Ok(Fact::AfterScanSaved),
            ("lamp_off", None) => Ok(Fact::LampOff),
            _ => Err(NotAFact),
        }
    }

    /// What it takes away when it becomes so: an open bar is not restored, and the other way round.
    pub fn excludes(&self) -> Option<Fact> {
        match self {
            Fact::BarOpen(bar) => Some(Fact::BarRestored(bar.clone())),
            Fact::BarRestored(bar) => Some(Fact::BarOpen(bar.clone())),
            _ => None,
        }
    }

    /// Somebody's safety hangs on it: a step that makes it so cannot be skipped.
    pub fn guards(&self) -> bool {
        !matches!(self, Fact::ZeroValid | Fact::LockIn | Fact::Centred | Fact::BarOpen(_))
    }
}

/// Small letters, digits and `-`, 1 to [`MAX_ID`] characters.
pub(super) fn is_id(text: &str) -> bool {
    let letter = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-';
    (1..=MAX_ID).contains(&text.len()) && text.bytes().all(letter)
}

impl fmt::Display for Fact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.about() {
            Some(about) => write!(f, "{}({about})", self.name()),
            None => f.write_str(self.name()),
        }
    }
}

impl From<Fact> for String {
    fn from(fact: Fact) -> String {
        fact.to_string()
    }
}

impl TryFrom<String> for Fact {
    type Error = NotAFact;
    fn try_from(text: String) -> Result<Fact, NotAFact> {
        Fact::parse(&text)
    }
}
