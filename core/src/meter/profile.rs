//! A meter profile: how one kind of instrument is recognised and read.

use super::fields::FileError;
use super::frame::FrameRule;
use super::link::{Channel, Offer};
use super::profile_file;
use super::value::ValueRule;
use crate::unit::Millis;
use uuid::Uuid;

/// Highest test current for the wiring of restraints, µA: 10 mA. A meter that drives more could fire
/// what hangs on that wiring.
pub const MAX_RESTRAINT_MICROAMPERE: u32 = 10_000;

/// How a meter is recognised.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Matching {
    /// Service and characteristic of its value.
    pub channel: Option<(Uuid, Uuid)>,
    /// A part of the name it announces, any letter case.
    pub name_contains: Option<String>,
}

impl Matching {
    /// The channel meant, with how well it fits: 3 by channel and name, 2 by channel, 1 by name alone
    /// (then there must be only one that notifies). `None` if it does not fit.
    ///
    /// # Errors
    /// The number of notifying channels, when the name fits and none or several of them could be meant.
    pub fn channel<'o>(&self, offer: &'o Offer) -> Result<Option<(u8, &'o Channel)>, usize> {
        let named = match &self.name_contains {
            Some(part) if !offer.name.to_lowercase().contains(&part.to_lowercase()) => return Ok(None),
            Some(_) => 1,
            None => 0,
        };
        let mut notifying = offer.channels.iter().filter(|channel| channel.notifies);
        if let Some((service, characteristic)) = self.channel {
            let hit = notifying.find(|c| c.service == service && c.characteristic == characteristic);
            return Ok(hit.map(|channel| (2 + named, channel)));
        }
        if named == 0 {
            return Ok(None);
        }
        match notifying.collect::<Vec<_>>().as_slice() {
            [only] => Ok(Some((1, only))),
            several => Err(several.len()),
        }
    }
}

/// Whether a meter may be used on the wiring of restraints, as far as its test current tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RestraintFitness {
    /// Its test current is known and at most [`MAX_RESTRAINT_MICROAMPERE`].
    Fit,
    /// Its test current is not known. This is not a yes.
    CurrentUnknown,
    /// It drives too much: refused.
    TooMuchCurrent {
        /// What it drives, µA.
        microampere: u32,
    },
}

/// A validated profile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Profile {
    /// What a person calls it; no brand in the built-in ones.
    pub name: String,
    /// How a meter is recognised.
    pub matching: Matching,
    /// How frames are cut.
    pub frame: FrameRule,
    /// How a frame is read.
    pub value: ValueRule,
    /// Time between two samples.
    pub period: Option<Millis>,
    /// Accuracy in thousandths of a per cent of the reading: 0.8 % is 800.
    pub accuracy_milli_pct: Option<u32>,
    /// Accuracy in counts of the step, added to that.
    pub accuracy_counts: Option<u32>,
    /// Current the meter drives through what it measures, µA.
    pub test_current_microampere: Option<u32>,
}

impl Profile {
    /// Reads and validates a profile file (TOML, `format = 1`).
    ///
    /// # Errors
    /// Every mistake of the file, by line; never an empty list.
    pub fn parse(text: &str) -> Result<Profile, Vec<FileError>> {
        profile_file::parse(text)
    }

    /// Whether it may be used on the wiring of restraints, as far as its test current tells.
    pub fn restraint_fitness(&self) -> RestraintFitness {
        match self.test_current_microampere {
            None => RestraintFitness::CurrentUnknown,
            Some(microampere) if microampere > MAX_RESTRAINT_MICROAMPERE => {
                RestraintFitness::TooMuchCurrent { microampere }
            }
            Some(_) => RestraintFitness::Fit,
        }
    }
}

/// The profiles that come with the program, by file name, as they can be shown and edited.
pub const BUILT_IN: [(&str, &str); 4] = [
    ("text-line.toml", include_str!("profiles/text-line.toml")),
    ("status-integer.toml", include_str!("profiles/status-integer.toml")),
    ("counted-float.toml", include_str!("profiles/counted-float.toml")),
    ("named-medfloat.toml", include_str!("profiles/named-medfloat.toml")),
];

/// The profiles that come with the program.
pub fn built_in() -> Vec<Profile> {
    let parsed = BUILT_IN.iter().map(|(_, text)| Profile::parse(text).expect("held by a test"));
    parsed.collect()
}
