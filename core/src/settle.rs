//! From a stream of readings to a touch: one contact of the clips, taken by itself when it stands still.
//! Over-range is never taken by itself: clips in the air look like an open conductor.

mod pace;
mod touch;
#[cfg(test)]
mod tests;

use crate::meter::{Reading, Shown};
use crate::unit::{Millis, Quantity, Unit};
use pace::Pace;
use std::collections::VecDeque;

pub use touch::{Touch, TouchKind};

/// Over-range for so long means the clips were off.
pub const ARM_MS: u64 = 500;
/// A meter slower than this needs only one over-range reading, and settles on its last four readings.
pub const SLOW_PERIOD_MS: u64 = 250;
/// Readings this soon after the clips went on are not looked at.
pub const SKIP_MS: u64 = 500;
/// So long must a contact stand still.
pub const STILL_MS: u64 = 1_000;
/// Fewest readings a touch rests on.
pub const FEWEST: usize = 4;
/// A contact that has not settled after this is said to be unsteady.
pub const PATIENCE_MS: u64 = 5_000;
/// Readings held at most. A meter that sends more in one second never settles here; it is told to be unsteady.
pub const MOST: usize = 2_048;
/// Ranges ending below this cannot tell an open conductor from one above range, ohm.
pub const OPEN_OHM: i64 = 1_000;
/// A steady contact moves no more than this, or two steps if that is more: 0.02 ohm.
const STILL_OHM: (i64, u8) = (2, 2);

/// What a reading brought about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Contact {
    /// A touch settled.
    Taken(Touch),
    /// It does not stand still, but a key press may take it as it is. Told once per contact.
    Unsteady,
    /// It will not stand still: clip again. Told once per contact.
    WillNotStand,
}

/// What the clips are doing, for the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// The last contact was taken or never left: the clips have to come off first.
    Lift,
    /// Clips are off; the next contact counts.
    Clip,
    /// A contact is being watched; thousandths of the time it needs at least.
    Settling(u32),
    /// It does not stand still; a key may take it as it is.
    Unsteady,
    /// It will not stand still.
    WillNotStand,
}

/// Why over-range cannot be taken as open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotOpen {
    /// The display does not show over-range, or not for long enough.
    #[error("the display does not show over-range steadily")]
    NotOverRange,
    /// The top of the range is below 1000 ohm.
    #[error("above range is not open")]
    AboveRange,
}

/// Watches the readings of one connection.
#[derive(Clone, Debug, Default)]
pub struct Settler {
    pace: Pace,
    armed: bool,
    /// Something other than "off" came since it was armed: the clips may be on.
    maybe_on: bool,
    taken: bool,
    told: Option<Phase>,
    over: Option<(Millis, Millis, u32)>,
    /// Over-range or nothing shown since; `over` counts over-range alone.
    off_since: Option<Millis>,
    onset: Option<Millis>,
    window: VecDeque<(Millis, i64)>,
    places: u8,
    step: Option<Quantity>,
    latest: Option<Reading>,
}

impl Settler {
    /// A settler for a fresh connection. `period`: the meter's sample period, if known; it is learned otherwise.
    pub fn new(period: Option<Millis>) -> Settler {
        Settler { pace: Pace::new(period), ..Settler::default() }
    }

    /// The sample period as known or learned.
    pub fn period(&self) -> Millis {
        self.pace.period()
    }

    /// Takes the next reading, in order of arrival. Tells when a touch settled or will not.
    pub fn push(&mut self, reading: Reading) -> Option<Contact> {
        if self.breaks_off(&reading) {
            self.restart();
            self.forget_off();
        }
        self.pace.push(reading.at);
        self.latest = Some(reading);
        match reading.shown {
            Shown::OverRange | Shown::Blank => {
                self.clips_off(reading);
                None
            }
            Shown::Value(value) => {
                self.forget_off();
                self.watch(reading, value)
            }
        }
    }

    /// What the clips are doing.
    pub fn phase(&self) -> Phase {
        match (self.armed, self.onset, self.told) {
            (false, _, _) => Phase::Lift,
            (true, None, _) => Phase::Clip,
            (true, Some(_), Some(phase)) => phase,
            (true, Some(onset), None) => {
                let watched = self.latest.map_or(0, |r| r.at.since(onset).0);
                let thousandths = watched * 1_000 / (SKIP_MS + STILL_MS);
                Phase::Settling(u32::try_from(thousandths.min(1_000)).expect("at most 1000"))
            }
        }
    }

    /// The clips are on for long enough that what they show is the contact, and not how they went on.
    pub fn past_onset(&self) -> bool {
        self.onset.zip(self.latest).is_some_and(|(onset, latest)| latest.at.since(onset).0 >= SKIP_MS)
    }

    /// A touch was taken, and its contact still holds.
    pub fn still_on_taken(&self) -> bool {
        self.taken && !self.armed
    }

    /// From now on readings count for something else; clips that are on now touch what was before and come off first.
    pub fn announce(&mut self) {
        if self.maybe_on {
            self.armed = false;
        }
        self.taken = false;
        self.restart();
        self.forget_off();
    }

    /// A contact from before the announcement is heard of only now: its clips have to come off first.
    pub fn heard_late(&mut self) {
        self.maybe_on = true;
        self.armed = false;
        self.restart();
        self.forget_off();
    }

    /// Something that cannot be read came between: what came before is not looked at again.
    pub fn break_off(&mut self) {
        self.maybe_on = true;
        self.restart();
        self.forget_off();
    }

    /// Takes the last second of an unsteady contact as it is; `None` when there is none within the limits.
    pub fn take_as_it_is(&mut self) -> Option<Touch> {
        if self.phase() != Phase::Unsteady {
            return None;
        }
        Some(self.take(TouchKind::AsItWas))
    }

    /// Over-range is shown steadily enough to be taken by a deliberate key.
    pub fn over_range_stands(&self) -> bool {
        let shown = matches!(self.latest, Some(Reading { shown: Shown::OverRange, .. }));
        let fit = self.latest.is_some_and(|r| !r.flags.hold && !r.flags.low_battery);
        let long = self.over.is_some_and(|(from, to, count)| {
            to.since(from).0 >= STILL_MS && (count as usize >= FEWEST || self.pace.period().0 > SLOW_PERIOD_MS)
        });
        shown && fit && long
    }

    /// The clips are on, says a person: the over-range shown is an open conductor.
    ///
    /// # Errors
    /// [`NotOpen`] when the display does not show it for a second, or `top` of the range is below 1000 ohm.
    pub fn take_over_range(&mut self, top: Quantity, step: Quantity) -> Result<Touch, NotOpen> {
        let (from, to) = self.open_contact(top)?;
        let touch = Touch {
            kind: TouchKind::OverRange,
            digits: Vec::new(),
            places: step.places(),
            step,
            // The last second is what the person saw; the clips may have been off for minutes before.
            from_ms: Millis(from.0.max(to.0 - STILL_MS)),
            to_ms: to,
            relative: self.relative(),
            auto_range: self.latest.and_then(|r| r.flags.auto_range),
        };
        // The display has to stand for another second; that the clips left in between only the person can know.
        self.armed = false;
        self.forget_off();
        self.taken = true;
        self.restart();
        Ok(touch)
    }

    /// From when to when the display shows an open conductor, if the clips are on.
    ///
    /// # Errors
    /// [`NotOpen`] when [`Settler::take_over_range`] would take nothing.
    pub fn open_contact(&self, top: Quantity) -> Result<(Millis, Millis), NotOpen> {
        let limit = Quantity::new(OPEN_OHM, 0, Unit::Ohm).expect("no places");
        if !top.compare(limit).is_some_and(|order| order.is_ge()) {
            return Err(NotOpen::AboveRange);
        }
        let standing = self.over.filter(|_| self.over_range_stands());
        standing.map(|(from, to, _)| (from, to)).ok_or(NotOpen::NotOverRange)
    }

    fn breaks_off(&self, reading: &Reading) -> bool {
        let Some(before) = self.latest else { return false };
        let gap = self.pace.is_gap(reading.at.since(before.at));
        let other_mode =
            reading.flags.relative != before.flags.relative || reading.flags.auto_range != before.flags.auto_range;
        let unfit = reading.flags.hold || reading.flags.low_battery;
        gap || other_mode || unfit || reading.generation != before.generation || reading.at < before.at
    }

    /// The meter told last that its relative zero is on.
    fn relative(&self) -> bool {
        self.latest.is_some_and(|r| r.flags.relative)
    }

    fn forget_off(&mut self) {
        self.over = None;
        self.off_since = None;
    }

    fn restart(&mut self) {
        self.onset = None;
        self.told = None;
        self.window.clear();
    }

    fn clips_off(&mut self, reading: Reading) {
        self.restart();
        if reading.flags.hold || reading.flags.low_battery {
            return;
        }
        // A blank display is not over-range: it arms, but is never taken for an open conductor.
        self.over = (reading.shown == Shown::OverRange).then(|| {
            let (from, _, count) = self.over.unwrap_or((reading.at, reading.at, 0));
            (from, reading.at, count.saturating_add(1))
        });
        let from = *self.off_since.get_or_insert(reading.at);
        if reading.at.since(from).0 >= ARM_MS || self.pace.period().0 > SLOW_PERIOD_MS {
            self.armed = true;
            self.maybe_on = false;
            self.taken = false;
        }
    }

    fn watch(&mut self, reading: Reading, value: Quantity) -> Option<Contact> {
        self.maybe_on = true;
        if !self.armed || value.unit() != Unit::Ohm || reading.flags.hold || reading.flags.low_battery {
            self.restart();
            return None;
        }
        let step = reading.step.unwrap_or(value.last_place());
        if self.onset.is_some() && (self.places != value.places() || self.step != Some(step)) {
            self.restart();
        }
        self.places = value.places();
        self.step = Some(step);
        let onset = *self.onset.get_or_insert(reading.at);
        if reading.at.since(onset).0 < SKIP_MS {
            return None;
        }
        self.window.push_back((reading.at, value.digits()));
        self.trim(reading.at);
        if self.stood_long_enough(reading.at, onset) && self.spread_within(self.still_limit()) {
            return Some(Contact::Taken(self.take(TouchKind::Settled)));
        }
        self.lose_patience(reading.at, onset)
    }

    fn lose_patience(&mut self, at: Millis, onset: Millis) -> Option<Contact> {
        if at.since(onset).0 < PATIENCE_MS || self.window.len() < FEWEST {
            return None;
        }
        let fits = self.spread_within(self.unsteady_limit());
        let phase = if fits { Phase::Unsteady } else { Phase::WillNotStand };
        if self.told == Some(phase) {
            return None;
        }
        self.told = Some(phase);
        Some(if fits { Contact::Unsteady } else { Contact::WillNotStand })
    }

    /// Keeps the last second, or the last four readings of a slow meter.
    fn trim(&mut self, at: Millis) {
        let oldest_needed = |window: &VecDeque<(Millis, i64)>| match window.get(1) {
            // One reading at or before the edge stays, so that the second is covered in full.
            Some((second, _)) => window.len() > FEWEST && at.since(*second).0 >= STILL_MS,
            None => false,
        };
        while oldest_needed(&self.window) || self.window.len() > MOST {
            self.window.pop_front();
        }
    }

    fn stood_long_enough(&self, at: Millis, onset: Millis) -> bool {
        let Some((oldest, _)) = self.window.front() else { return false };
        // Four readings of a meter that is slow by now, not of one that was slow a moment ago.
        let least = if self.pace.period().0 > SLOW_PERIOD_MS { 3 * SLOW_PERIOD_MS } else { STILL_MS };
        let covered = at.since(*oldest).0 >= least;
        self.window.len() >= FEWEST && covered && at.since(onset).0 >= SKIP_MS
    }

    /// `limit` in thousandths of the last place.
    fn spread_within(&self, limit: i128) -> bool {
        let digits = || self.window.iter().map(|(_, d)| *d);
        let (Some(most), Some(least)) = (digits().max(), digits().min()) else { return false };
        (i128::from(most) - i128::from(least)) * 1_000 <= limit
    }

    /// The larger of two display steps and 0.02 ohm.
    fn still_limit(&self) -> i128 {
        (2 * self.step_thousandths()).max(thousandths_of_last_place(STILL_OHM, self.places))
    }

    /// Two steps and 0.10 ohm and 2 % of the middle reading (`verdict`'s settle limit).
    fn unsteady_limit(&self) -> i128 {
        let mut digits: Vec<i64> = self.window.iter().map(|(_, d)| *d).collect();
        digits.sort_unstable();
        let middle = i128::from(digits.get(digits.len() / 2).copied().unwrap_or(0)).abs();
        2 * self.step_thousandths() + thousandths_of_last_place((1, 1), self.places) + middle * 20
    }

    fn step_thousandths(&self) -> i128 {
        let step = self.step.unwrap_or_else(|| Quantity::new(1, self.places, Unit::Ohm).expect("places were shown"));
        thousandths_of_last_place((step.digits(), step.places()), self.places)
    }

    fn take(&mut self, kind: TouchKind) -> Touch {
        let edge = |end: Option<&(Millis, i64)>| end.map_or(Millis(0), |(at, _)| *at);
        let touch = Touch {
            kind,
            digits: self.window.iter().map(|(_, d)| *d).collect(),
            places: self.places,
            step: self.step.unwrap_or_else(|| Quantity::new(1, self.places, Unit::Ohm).expect("places were shown")),
            from_ms: edge(self.window.front()),
            to_ms: edge(self.window.back()),
            relative: self.relative(),
            auto_range: self.latest.and_then(|r| r.flags.auto_range),
        };
        self.armed = false;
        self.taken = true;
        self.restart();
        touch
    }
}

/// `digits` × 10^−`of` counted in thousandths of 10^−`places`.
fn thousandths_of_last_place((digits, of): (i64, u8), places: u8) -> i128 {
    let scaled = i128::from(digits) * 1_000 * 10i128.pow(u32::from(places));
    scaled / 10i128.pow(u32::from(of))
}
