//! Bytes of the meter become touches of the job on the bench.

use super::{Batch, Output, Session, Signal, push_append};
use crate::job::Refusal;
use crate::record::TouchFact;
use crate::settle::{Contact, NotOpen, Touch};
use crate::unit::{Millis, Now};

impl Session {
    pub(super) fn bytes(
        &mut self,
        generation: u32,
        raw: Vec<u8>,
        (at, now): (Millis, &Now),
        outputs: &mut Vec<Output>,
    ) {
        let Some(connection) = self.meters.connection.as_mut().filter(|c| c.generation == generation) else {
            return;
        };
        let heard = connection.hear(raw, at);
        let full = connection.is_full();
        push_append(outputs, Batch { chunks: heard.chunk.into_iter().collect(), ..Batch::default() });
        if full {
            let chunks = self.close_chunk(generation, now).into_iter().collect();
            push_append(outputs, Batch { chunks, ..Batch::default() });
        }
        let measuring = self.announced().is_some() && self.may_take().is_ok();
        match heard.contact {
            Some(Contact::Taken(touch)) if measuring => {
                // Only a refusal could come back, and `measuring` has just ruled each of them out.
                let _ = self.take(touch, now, outputs);
            }
            Some(Contact::Unsteady) if measuring => outputs.push(Output::Signal(Signal::Unsteady)),
            Some(Contact::WillNotStand) if measuring => outputs.push(Output::Signal(Signal::Stop)),
            _ => {}
        }
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
        self.may_take()?;
        self.fresh(now)?;
        self.announced().ok_or(Refusal::NothingToTake)?;
        let connection = self.meters.connection.as_mut().ok_or(Refusal::MeterFirst)?;
        let described = connection.described.as_ref().ok_or(Refusal::MeterUnknown)?;
        let touch = connection.settler.take_over_range(described.top, described.step).map_err(|why| match why {
            NotOpen::NotOverRange => Refusal::NotOverRange,
            NotOpen::AboveRange => Refusal::AboveRange,
        })?;
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
