//! From notifications to readings.

use super::Reading;
use super::fault::FrameError;
use super::frame::{Cut, FrameRule, Splitter};
use super::link::Channel;
use super::presentation::{ChannelRefused, Presentation, range_top};
use super::profile::Profile;
use super::value::{Coding, Exponent, FlagBits, ValueRule};
use crate::unit::{Millis, Quantity, Unit};

/// What is known about the instrument, from its profile or its descriptors. `None` is "not known".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MeterFacts {
    /// What is read.
    pub unit: Unit,
    /// The finest display step; each reading carries its own.
    pub step: Option<Quantity>,
    /// Top of the highest range.
    pub top: Option<Quantity>,
    /// Time between two samples.
    pub period: Option<Millis>,
    /// Accuracy, part of the reading, in thousandths of a per cent: 0.8 % is 800.
    pub accuracy_milli_pct: Option<u32>,
    /// Accuracy, counts of the display step added to that.
    pub accuracy_counts: Option<u32>,
    /// Current the meter drives through what it measures, µA.
    pub test_current_microampere: Option<u32>,
}

/// Turns the notifications of one channel and one connection into readings. Takes any bytes.
#[derive(Clone, Debug)]
pub struct Decoder {
    generation: u32,
    splitter: Splitter,
    value: ValueRule,
    facts: MeterFacts,
}

impl Decoder {
    /// A decoder for a channel that describes itself. `places` are the decimal places of the display:
    /// needed for a binary float, not looked at otherwise.
    ///
    /// A notification is one value; one of another length is an error.
    ///
    /// # Errors
    /// [`ChannelRefused`] with what is missing or not understood; the step of a float is never guessed.
    pub fn for_presentation(channel: &Channel, places: Option<u8>) -> Result<Decoder, ChannelRefused> {
        let bytes = channel.presentation.as_deref().ok_or(ChannelRefused::NoDescriptor)?;
        let presentation = Presentation::parse(bytes)?;
        let unit = presentation.unit().ok_or(ChannelRefused::UnknownUnit(presentation.unit_code))?;
        let coding = presentation.coding(places)?;
        let top = channel.valid_range.as_deref().and_then(|range| range_top(range, &coding, unit));
        let frame = FrameRule {
            cut: Cut::Whole,
            start: Vec::new(),
            end: Vec::new(),
            lengths: vec![presentation.format.bytes()],
            checksum: None,
        };
        let step = fixed_step(&coding, unit);
        let value = ValueRule { unit, coding, unit_code: None, flags: FlagBits::default(), step, top };
        let facts = MeterFacts {
            unit,
            step,
            top,
            period: None,
            accuracy_milli_pct: None,
            accuracy_counts: None,
            test_current_microampere: None,
        };
        Ok(Decoder { generation: 0, splitter: Splitter::new(frame), value, facts })
    }

    /// A decoder for a meter with a profile.
    pub fn for_profile(profile: &Profile) -> Decoder {
        let value = profile.value.clone();
        let facts = MeterFacts {
            unit: value.unit,
            step: value.step.or_else(|| fixed_step(&value.coding, value.unit).filter(|_| value.unit_code.is_none())),
            top: value.top,
            period: profile.period,
            accuracy_milli_pct: profile.accuracy_milli_pct,
            accuracy_counts: profile.accuracy_counts,
            test_current_microampere: profile.test_current_microampere,
        };
        Decoder { generation: 0, splitter: Splitter::new(profile.frame.clone()), value, facts }
    }

    /// The same decoder for the readings of connection `generation` (0 if this is not called).
    #[must_use]
    pub fn with_generation(self, generation: u32) -> Decoder {
        Decoder { generation, ..self }
    }

    /// Takes one notification that arrived `at`, and gives the readings that are complete now, in
    /// order, with an error for each frame that gave none.
    ///
    /// A reading's time is the arrival of its last byte, even when it could be cut out only later.
    /// Readings of a framed stream do not depend on how it was parcelled.
    pub fn push(&mut self, bytes: &[u8], at: Millis) -> Vec<Result<Reading, FrameError>> {
        let frames = self.splitter.push(bytes, at);
        frames.into_iter().map(|cut| cut.and_then(|(frame, at)| self.read(&frame, at))).collect()
    }

    fn read(&self, frame: &[u8], at: Millis) -> Result<Reading, FrameError> {
        let content = self.value.read(frame, self.splitter.rule().inside(frame.len()))?;
        Ok(Reading { shown: content.shown, step: content.step, at, flags: content.flags, generation: self.generation })
    }

    /// Bytes so far that were part of no whole frame.
    pub fn skipped(&self) -> u64 {
        self.splitter.skipped()
    }

    /// What is known about the instrument.
    pub fn facts(&self) -> MeterFacts {
        self.facts
    }
}

/// The display step a coding has at all times, if it has one.
pub(super) fn fixed_step(coding: &Coding, unit: Unit) -> Option<Quantity> {
    match coding {
        Coding::Integer { exponent: Exponent::Fixed(exponent), .. } => Quantity::scaled(1, i32::from(*exponent), unit),
        Coding::Float { shape, .. } => Quantity::new(1, shape.places, unit),
        Coding::Integer { .. } | Coding::Ascii { .. } | Coding::Medfloat { .. } => None,
    }
}
