//! How the part is moved during a sweep, and where it was at any moment: between two marks, never beyond the last.

#[cfg(test)]
mod tests;

use crate::unit::Millis;
use serde::{Deserialize, Serialize};

/// Turns to each side unless told otherwise. Common practice, no source.
pub const TURNS_EACH_SIDE: u8 = 2;
/// Passes of a hinge or slide unless told otherwise. Common practice, no source.
pub const PASSES: u8 = 3;
/// Seconds from mark to mark unless told otherwise: slow enough for a meter of 3 readings a second to see a spot of
/// a sixth of a turn twice.
pub const PACE_S: u8 = 4;
/// Most turns to each side, most passes, most seconds between marks.
pub const MOST: u8 = 20;
/// If the hand is never more than twice as fast or slow as its mean between two marks, the place is off by at most
/// this share of the way between them.
pub const UNEVEN_SHARE: f64 = 1.0 / 3.0;

/// What is done with the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "movement")]
pub enum Movement {
    /// Turned from the centre to one end, to the other, and back. Places are thousandths of a turn, clockwise
    /// positive.
    Turns {
        /// Whole turns to each side, 1 to 20.
        each_side: u8,
    },
    /// Moved there and back: a door, a seat, a bundle. Places are thousandths of the whole movement.
    Flexes {
        /// How often there and back, 1 to 20.
        passes: u8,
    },
}

/// A movement and its pace.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct SweepPlan {
    /// What is done with the part.
    #[serde(flatten)]
    pub movement: Movement,
    /// A tone sounds at every mark, so many seconds apart, 2 to 20; 0: the person presses a key at every mark.
    pub pace_s: u8,
}

impl Default for SweepPlan {
    fn default() -> SweepPlan {
        SweepPlan { movement: Movement::Turns { each_side: TURNS_EACH_SIDE }, pace_s: PACE_S }
    }
}

/// The part was at a place at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlacedMark {
    /// When, boot clock.
    pub at_ms: Millis,
    /// Where, thousandths of a turn or of the movement.
    pub milli: i32,
}

impl SweepPlan {
    /// Its numbers are within their ranges.
    pub fn fits(&self) -> bool {
        let count = match self.movement {
            Movement::Turns { each_side: count } | Movement::Flexes { passes: count } => count,
        };
        (1..=MOST).contains(&count) && (self.pace_s == 0 || (2..=MOST).contains(&self.pace_s))
    }

    /// The places to go to, in order. Every place between is passed at least twice.
    pub fn marks(&self) -> Vec<i32> {
        match self.movement {
            Movement::Turns { each_side } => {
                let out = i32::from(each_side);
                let there = 0..out;
                let across = (-out + 1..=out).rev();
                let back = -out..=0;
                there.chain(across).chain(back).map(|turns| turns * 1_000).collect()
            }
            Movement::Flexes { passes } => std::iter::once(0).chain((0..passes).flat_map(|_| [1_000, 0])).collect(),
        }
    }
}

/// Where the part was at `at`, and how far off that may be, both in thousandths; `None` before the first mark and
/// after the last.
pub fn place_at(marks: &[PlacedMark], at: Millis) -> Option<(f64, f64)> {
    let after = marks.iter().position(|mark| mark.at_ms >= at)?;
    let to = marks[after];
    if to.at_ms == at {
        return Some((f64::from(to.milli), 0.0));
    }
    let from = marks[after.checked_sub(1)?];
    let way = f64::from(to.milli) - f64::from(from.milli);
    let share = at.since(from.at_ms).0 as f64 / to.at_ms.since(from.at_ms).0 as f64;
    Some((f64::from(from.milli) + way * share, way.abs() * UNEVEN_SHARE))
}

/// Thousandths of a turn (or of a movement, its whole way standing for a turn) as degrees.
pub fn degrees(milli: f64) -> f64 {
    milli * 0.36
}
