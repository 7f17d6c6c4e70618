//! Bytes of a notification become a [`Reading`].
//!
//! ```text
//! notification -> frame (frame, checksum) -> value (ascii, integer, float, medfloat; units) -> Reading
//! ```
//!
//! How, is told by the channel's own descriptors (`presentation`) or by a profile (`profile`); `choose`
//! picks which. `decoder` joins them.

pub mod link;
pub mod fields;
pub(crate) mod spelling;
pub mod number;
pub mod units;
pub mod fault;
pub mod integer;
pub mod float;
pub mod medfloat;
pub mod ascii;
pub mod checksum;
pub mod frame;
pub mod value;
pub mod presentation;
pub mod profile;
mod profile_file;
mod profile_frame;
mod profile_value;
pub mod decoder;
pub mod choose;
pub mod lines;
#[cfg(test)]
mod tests;

pub use choose::{Choice, NoChoice, ReadBy, choose};
pub use decoder::{Decoder, MeterFacts};
pub use fault::FrameError;
pub use fields::{FileError, FileErrorCode};
pub use presentation::ChannelRefused;
pub use profile::{MAX_RESTRAINT_MICROAMPERE, Profile, RestraintFitness, built_in};
pub use units::Setting;

use crate::unit::{Millis, Quantity};
use serde::{Deserialize, Serialize};

/// What the display shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shown {
    /// A number, in the meter's own digits.
    Value(Quantity),
    /// The overload sign. A state, never a number and never "open" by itself.
    OverRange,
    /// Nothing that can be read: blank display, not-a-number, below resolution.
    Blank,
}

/// Signs beside the number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Flags {
    /// The display is frozen by a key on the meter.
    pub hold: bool,
    /// A stored value is subtracted by the meter.
    pub relative: bool,
    /// The battery sign.
    pub low_battery: bool,
    /// The meter picks its range by itself (true), a hand has locked it (false), or it does not tell.
    pub auto_range: Option<bool>,
}

/// One display reading with its time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// What was shown.
    pub shown: Shown,
    /// The display step at this moment, where it is known (an over-range display may not tell).
    pub step: Option<Quantity>,
    /// When its bytes arrived.
    pub at: Millis,
    /// Signs beside the number.
    pub flags: Flags,
    /// Which connection it came through; anything from an older one is dropped.
    pub generation: u32,
}
