//! A procedure in the job on the bench.

use super::{Batch, NewPhoto, Output, Session, Signal};
use crate::job::{Job, Refusal};
use crate::record::{Event, Hash, PhotoFact, ProcedureFact};
use crate::unit::Now;
use crate::work::{StepAct, StepRefusal};
use uuid::Uuid;

impl Session {
    /// Begins a procedure with nobody named who does it.
    pub(super) fn begin_unnamed(&mut self, id: &str, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let events = self.procedure_events(id, None)?;
        self.aside = None;
        self.record(events, now, outputs);
        Ok(())
    }

    /// The events that make the job on the bench follow a procedure.
    pub(super) fn procedure_events(&self, id: &str, technician: Option<Uuid>) -> Result<Vec<Event>, Refusal> {
        let job = self.job.as_ref().ok_or(Refusal::NoJob)?;
        let kept = self.library.get(id).filter(|kept| !kept.withdrawn).ok_or(StepRefusal::NoSuchProcedure)?;
        let fact = ProcedureFact { text: kept.text.clone(), technician, approved_by: kept.approved_by };
        job.begin_procedure(fact, self.language)
    }

    pub(super) fn at_step(
        &mut self,
        job: Uuid,
        (step, act): (&str, &StepAct),
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let events = self.meant(job)?.at_step((step, act), now)?;
        let signal = if events.iter().any(|event| matches!(event, Event::SupplySeen { .. })) {
            Signal::Stop
        } else {
            Signal::Taken
        };
        self.aside = None;
        self.record(events, now, outputs);
        self.meters.announce(now.boot);
        if matches!(act, StepAct::Done { .. }) {
            outputs.push(Output::Signal(signal));
        }
        Ok(())
    }

    pub(super) fn supply_was_on(&mut self, job: Uuid, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let events = self.meant(job)?.supply_was_on(now)?;
        self.aside = None;
        self.record(events, now, outputs);
        outputs.push(Output::Signal(Signal::Stop));
        Ok(())
    }

    pub(super) fn keep_photo(&mut self, photo: NewPhoto, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let hash = Hash::of(&photo.jpeg);
        let bytes = u32::try_from(photo.jpeg.len()).map_err(|_| Refusal::TooLong { field: "photo".into() })?;
        let fact = PhotoFact { photo: hash, step: photo.step, width: photo.width, height: photo.height, bytes };
        let events = self.meant(photo.job)?.keep_photo(fact)?;
        let pictures = if events.is_empty() { Vec::new() } else { vec![(hash, photo.jpeg)] };
        self.record_with(events, Batch { pictures, ..Batch::default() }, now, outputs);
        Ok(())
    }

    /// The job on the bench, if that is the one that was meant.
    pub(super) fn meant(&self, job: Uuid) -> Result<&Job, Refusal> {
        let there = self.job.as_ref().ok_or(Refusal::NoJob)?;
        if there.id == job { Ok(there) } else { Err(StepRefusal::OtherJob.into()) }
    }
}
