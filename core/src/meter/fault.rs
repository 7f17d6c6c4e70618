//! What can be wrong with the bytes of a meter.

use super::number::TooManyDigits;
use super::units::Setting;

/// Why bytes gave no reading. None of these is a state of the part: the next frame is awaited.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FrameError {
    /// The meter measures something else; the person is told to turn its dial.
    #[error("the meter is set to {}", seen.plural())]
    WrongUnit {
        /// What it is set to.
        seen: Setting,
    },
    /// A unit word or code the profile does not name.
    #[error("unit {text:?} is not known")]
    UnknownUnit {
        /// The word, or the code as `0x1F`; at most 24 characters.
        text: String,
    },
    /// A number without its unit.
    #[error("a number without its unit")]
    NoUnit,
    /// The checksum does not fit the bytes.
    #[error("checksum {found:#06x}, but the bytes give {computed:#06x}")]
    Checksum {
        /// What the bytes give.
        computed: u16,
        /// What the frame says.
        found: u16,
    },
    /// The frame has a length it must not have, or a value lies beyond its end.
    #[error("a frame of {0} bytes does not fit")]
    Length(usize),
    /// A whole notification lacks its start or end bytes.
    #[error("start or end bytes are missing")]
    Marker,
    /// A text that is not a number, nor a word for over-range or blank.
    #[error("{text:?} is not a number")]
    NotANumber {
        /// The text, at most 24 characters.
        text: String,
    },
    /// More digits or places than are kept.
    #[error("more digits than can be kept")]
    TooManyDigits,
}

impl From<TooManyDigits> for FrameError {
    fn from(_: TooManyDigits) -> FrameError {
        FrameError::TooManyDigits
    }
}
