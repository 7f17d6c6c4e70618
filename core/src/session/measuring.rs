//! Bytes of the meter become touches of the job on the bench.

use super::{Batch, Output, Session, Signal, push_append};
use crate::job::Refusal;
use crate::record::TouchFact;
use crate::settle::{Contact, NotOpen, Touch};
use crate::unit::{Millis, Now};

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
        let measuring = self.announced().is_some() && self.may_take().is_ok();
        match heard.contact {
            Some(Contact::Taken(touch)) if measuring && self.fresh(now).is_ok() => {
                // Only a refusal could come back, and each of them has just been ruled out.
                let _ = self.take(touch, now, outputs);
            }
            Some(Contact::Taken(_)) => {
                // It settled, but nothing was recorded: the screen must not call it taken.
                self.meters.announce(now.boot);
                if measuring {
                    outputs.push(Output::Signal(Signal::Stop));
                }
            }
            Some(Contact::Unsteady) if measuring => outputs.push(Output::Signal(Signal::Unsteady)),
            Some(Contact::WillNotStand) if measuring => outputs.push(Output::Signal(Signal::Stop)),
            _ => {}
        }
    }

    /// The key that takes over-range as an open conductor would be obeyed now.
    ///
    /// # Errors
    /// The [`Refusal`] it would meet.
    pub fn may_take_over_range(&self, now: &Now) -> Result<(), Refusal> {
        self.may_take()?;
        self.fresh(now)?;
        self.announced().ok_or(Refusal::NothingToTake)?;
        let connection = self.meters.connection.as_ref().ok_or(Refusal::MeterFirst)?;
        let described = connection.described.as_ref().ok_or(Refusal::MeterUnknown)?;
        connection.settler.open_contact(described.top).map(|_| ()).map_err(refusal_of)
    }

    /// The meter connected is the one of this job, and its value is fresh enough to act on.
    fn may_take(&self) -> Result<(), Refusal> {
        let job = self.job.as_ref().ok_or(Refusal::NoJob)?;
        job.at_measuring()?;
        let connection = self.meters.connection.as_ref().ok_or(Refusal::MeterFirst)?;
        let described = connection.described.as_ref().ok_or(Refusal::MeterUnknown)?;
        if job.instrument.as_ref() == Some(described) { Ok(()) } else { Err(Refusal::OtherMeter) }
    }

    fn fresh(&self, now: &Now) -> Result<(), Refusal> {
        let live = self.meters.connection.as_ref().is_some_and(|c| c.is_live(now.boot));
        if live { Ok(()) } else { Err(Refusal::Stale) }
    }

    pub(super) fn take_as_it_is(&mut self, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        self.may_take()?;
        self.fresh(now)?;
        self.announced().ok_or(Refusal::NothingToTake)?;
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

    fn take(&mut self, touch: Touch, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let (conductor, _) = self.announced().ok_or(Refusal::NothingToTake)?;
        let generation = self.meters.connection.as_ref().map_or(0, |c| c.generation);
        let chunks = self.close_chunk(generation, now);
        let evidence = self.meters.connection.as_ref().map(|c| c.chunks_since(touch.from_ms)).unwrap_or_default();
        let fact = TouchFact { touch: self.ids.id(now), conductor, taken: touch, chunks: evidence };
        let events = self.job.as_ref().ok_or(Refusal::NoJob)?.touch(fact)?;
        let batch = Batch { chunks: chunks.into_iter().collect(), ..Batch::default() };
        self.record_with(events, batch, now, outputs);
        outputs.push(Output::Signal(Signal::Taken));
        Ok(())
    }
}

fn refusal_of(why: NotOpen) -> Refusal {
    match why {
        NotOpen::NotOverRange => Refusal::NotOverRange,
        NotOpen::AboveRange => Refusal::AboveRange,
    }
}
