//! Bytes of the meter, or what a person types, become touches of the job on the bench.

use super::{Batch, Output, Session, Signal, entered, push_append};
use crate::job::{Job, Refusal};
use crate::meter::link::Source;
use crate::record::TouchFact;
use crate::settle::{Contact, NotOpen, OPEN_OHM, Touch, TouchKind};
use crate::unit::{Millis, Now, Quantity, Unit};

impl Session {
    /// Bytes of the present connection.
    pub(super) fn bytes(&mut self, raw: Vec<u8>, (at, now): (Millis, &Now), outputs: &mut Vec<Output>) {
        let Some(connection) = self.meters.connection.as_mut() else { return };
        let heard = connection.hear(raw, at);
        let (full, generation) = (connection.is_full(), connection.generation);
        push_append(outputs, Batch { chunks: heard.chunk.into_iter().collect(), ..Batch::default() });
        if full {
            let chunks = self.close_chunk(generation, now).into_iter().collect();
            push_append(outputs, Batch { chunks, ..Batch::default() });
        }
        if self.run().is_some() {
            self.pass_marks(now, outputs);
            self.sweep_hears(&heard.readings, now, outputs);
            return;
        }
        let awaited = self.awaited_by_radio().is_ok();
        match heard.contact {
            Some(Contact::Taken(touch)) if awaited && self.fresh(now).is_ok() => {
                // Only a refusal could come back, and each of them has just been ruled out.
                let _ = self.take(touch, now, outputs);
            }
            Some(Contact::Taken(_)) => {
                // It settled, but nothing was recorded: the screen must not call it taken.
                self.meters.announce(now.boot);
                if awaited {
                    outputs.push(Output::Signal(Signal::Stop));
                }
            }
            Some(Contact::Unsteady) if awaited => outputs.push(Output::Signal(Signal::Unsteady)),
            Some(Contact::WillNotStand) if awaited => outputs.push(Output::Signal(Signal::Stop)),
            _ => {}
        }
    }

    /// A reading is awaited: of a conductor that is announced, or of what is done beside the conductors.
    ///
    /// # Errors
    /// The [`Refusal`] that says what is missing.
    pub fn awaited(&self) -> Result<(), Refusal> {
        self.instrument_at_hand()?;
        match (self.aside_cautions().first(), &self.aside) {
            (Some(caution), _) => Err(Refusal::CautionFirst { caution: *caution }),
            (None, Some(_)) if self.run().is_none() => Ok(()),
            (None, Some(_)) => Err(Refusal::NothingToTake),
            (None, None) => {
                self.job.as_ref().ok_or(Refusal::NoJob)?.at_measuring()?;
                self.announced().map(|_| ()).ok_or(Refusal::NothingToTake)
            }
        }
    }

    /// What comes through the link is what is awaited: in a job whose readings are typed, nothing is.
    fn awaited_by_radio(&self) -> Result<(), Refusal> {
        self.awaited()?;
        let typed = self.job.as_ref().is_some_and(Job::is_typed);
        if typed { Err(Refusal::OtherMeter) } else { Ok(()) }
    }

    /// What the clips do matters now: a reading is awaited, or a sweep waits for its first value.
    pub fn watches_clips(&self) -> bool {
        let waits = self.run().is_some_and(|run| !run.is_planning() && run.readings().is_empty());
        let ready = self.instrument_at_hand().is_ok() && self.aside_cautions().is_empty();
        self.awaited_by_radio().is_ok() || (waits && ready)
    }

    /// The key that takes over-range as an open conductor would be obeyed now.
    ///
    /// # Errors
    /// The [`Refusal`] it would meet.
    pub fn may_take_over_range(&self, now: &Now) -> Result<(), Refusal> {
        self.awaited_by_radio()?;
        self.may_over_range()?;
        self.fresh(now)?;
        let connection = self.meters.connection.as_ref().ok_or(Refusal::MeterFirst)?;
        let described = connection.described.as_ref().ok_or(Refusal::MeterUnknown)?;
        connection.settler.open_contact(described.top).map(|_| ()).map_err(refusal_of)
    }

    /// Leads and a known resistor are never over-range.
    fn may_over_range(&self) -> Result<(), Refusal> {
        self.awaited()?;
        let meant = matches!(self.aside, None | Some(super::Aside::Isolation { .. }));
        if meant { Ok(()) } else { Err(Refusal::NothingToTake) }
    }

    fn fresh(&self, now: &Now) -> Result<(), Refusal> {
        let live = self.meters.connection.as_ref().is_some_and(|c| c.is_live(now.boot));
        if live { Ok(()) } else { Err(Refusal::Stale) }
    }

    pub(super) fn take_as_it_is(&mut self, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        self.awaited_by_radio()?;
        self.fresh(now)?;
        let connection = self.meters.connection.as_mut().ok_or(Refusal::MeterFirst)?;
        let touch = connection.settler.take_as_it_is().ok_or(Refusal::NothingToTake)?;
        self.take(touch, now, outputs)
    }

    pub(super) fn take_over_range(&mut self, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        self.may_take_over_range(now)?;
        let connection = self.meters.connection.as_mut().ok_or(Refusal::MeterFirst)?;
        let described = connection.described.as_ref().ok_or(Refusal::MeterUnknown)?;
        let touch = connection.settler.take_over_range(described.top, described.step).map_err(refusal_of)?;
        self.take(touch, now, outputs)
    }

    /// How a text would be taken as a reading of the typed meter of this job.
    ///
    /// # Errors
    /// The [`Refusal`] it would meet.
    pub fn read_back(&self, text: &str, confirmed: bool) -> Result<Quantity, Refusal> {
        let instrument = self.instrument_at_hand()?;
        if instrument.source != Source::Typed {
            return Err(Refusal::NotTyped);
        }
        self.awaited()?;
        let typed = entered::number("reading", text, confirmed)?;
        let places = instrument.step.places();
        if typed.places() > places {
            return Err(Refusal::FinerThanStep { step: instrument.step.to_string() });
        }
        let wrong = || entered::wrong("reading");
        let shown = typed.with_places(places).ok_or_else(wrong)?;
        // Beyond the end of its range no meter shows a number.
        let within = shown.compare(instrument.top).is_some_and(|o| o.is_le());
        if within { Ok(shown) } else { Err(wrong()) }
    }

    pub(super) fn type_reading(
        &mut self,
        text: &str,
        confirmed: bool,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let shown = self.read_back(text, confirmed)?;
        let step = self.instrument_at_hand()?.step;
        let (digits, places) = (vec![shown.digits()], shown.places());
        self.take(typed_touch(TouchKind::Typed, (digits, places), step, now), now, outputs)
    }

    pub(super) fn type_over_range(&mut self, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let instrument = self.instrument_at_hand()?;
        if instrument.source != Source::Typed {
            return Err(Refusal::NotTyped);
        }
        let open = Quantity::new(OPEN_OHM, 0, Unit::Ohm).expect("no places");
        if !instrument.top.compare(open).is_some_and(|o| o.is_ge()) {
            return Err(Refusal::AboveRange);
        }
        let step = instrument.step;
        self.may_over_range()?;
        self.take(typed_touch(TouchKind::TypedOverRange, (Vec::new(), step.places()), step, now), now, outputs)
    }

    fn take(&mut self, touch: Touch, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        if self.aside.is_some() {
            return self.take_aside(touch, now, outputs);
        }
        let (conductor, _) = self.announced().ok_or(Refusal::NothingToTake)?;
        let (batch, chunks) = self.evidence(&touch, now);
        let fact = TouchFact { touch: self.ids.id(now), conductor, taken: touch, chunks };
        let events = self.job.as_ref().ok_or(Refusal::NoJob)?.touch(fact, now)?;
        self.record_with(events, batch, now, outputs);
        self.done_beside = None;
        outputs.push(Output::Signal(Signal::Taken));
        Ok(())
    }
}

fn typed_touch(kind: TouchKind, (digits, places): (Vec<i64>, u8), step: Quantity, now: &Now) -> Touch {
    Touch { kind, digits, places, step, from_ms: now.boot, to_ms: now.boot, relative: false, auto_range: None }
}

fn refusal_of(why: NotOpen) -> Refusal {
    match why {
        NotOpen::NotOverRange => Refusal::NotOverRange,
        NotOpen::AboveRange => Refusal::AboveRange,
    }
}
