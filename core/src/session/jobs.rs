//! Jobs come onto the bench and leave it.

use super::{Batch, Output, Session, push_append};
use crate::job::{Job, Refusal, candidate_order};
use crate::record::{Details, Earlier, Event, KeptDetails, Sealed};
use crate::unit::Now;
use uuid::Uuid;

/// Longest order number or vehicle, in characters.
const MAX_TITLE: usize = 80;
/// Corrections of one job. Each is kept whole beside the ledger; who needs more is doing something else.
const MOST_CORRECTIONS: usize = 50;

/// Order and vehicle as they are kept, if they and the details fit.
fn fitting((order, vehicle): (&str, &str), details: &Details) -> Result<(String, String), Refusal> {
    let (order, vehicle) = (order.trim().to_owned(), vehicle.trim().to_owned());
    if order.is_empty() {
        return Err(Refusal::OrderMissing);
    }
    let long = |field: &str| Err(Refusal::TooLong { field: field.into() });
    if order.chars().count() > MAX_TITLE {
        return long("order");
    }
    if vehicle.chars().count() > MAX_TITLE {
        return long("vehicle");
    }
    details.too_long().map_or(Ok((order, vehicle)), long)
}

impl Session {
    pub(super) fn new_job(
        &mut self,
        (order, vehicle, details): (String, String, Details),
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        if self.job.is_some() {
            return Err(Refusal::BenchTaken);
        }
        let titles = fitting((&order, &vehicle), &details)?;
        self.open_new(titles, details, now, outputs);
        Ok(())
    }

    /// Corrects a job, be it closed: months later is when a number that was mistyped is found. Without a change nothing
    /// is written.
    pub(super) fn correct_job(
        &mut self,
        (id, order, vehicle): (Uuid, &str, &str),
        details: Details,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let job = self.meant(id)?;
        job.may_go_on()?;
        let (order, vehicle) = fitting((order, vehicle), &details)?;
        if (&order, &vehicle, &details) == (&job.order, &job.vehicle, &self.details) {
            return Ok(());
        }
        if job.erased.is_some() && details != Details::default() {
            return Err(Refusal::Erased);
        }
        if job.corrected.len() >= MOST_CORRECTIONS {
            return Err(Refusal::CorrectedTooOften);
        }
        let erased = job.erased.is_some().then_some(job.personal);
        if details != self.details {
            let details = std::mem::replace(&mut self.details, details);
            self.earlier.push(Earlier { until: now.wall.clone(), details });
        }
        let kept = KeptDetails::corrected((id, self.ids.salt()), &self.details, &self.earlier);
        // Of what was erased the commitment is all there is.
        let (personal, details) = erased.map_or((kept.commitment(), vec![kept]), |before| (before, Vec::new()));
        let event = Event::JobCorrected { order, vehicle, personal };
        self.record_with(vec![event], Batch { details, ..Batch::default() }, now, outputs);
        Ok(())
    }

    fn open_new(&mut self, (order, vehicle): (String, String), details: Details, now: &Now, outputs: &mut Vec<Output>) {
        let id = self.ids.id(now);
        let kept = KeptDetails::new(id, self.ids.salt(), &details);
        let event = Event::JobOpened { order, vehicle, personal: kept.commitment() };
        let sealed = self.seal(&event, Some(id), now);
        let job = Job::open(&sealed).expect("just sealed as an opening");
        self.details = details;
        self.earlier.clear();
        let line = job.line(&self.details);
        self.job = Some(job);
        let chunks = self.rehouse_samples(now);
        let batch = Batch { entries: vec![sealed], details: vec![kept], chunks, lines: vec![line], ..Batch::default() };
        outputs.push(Output::Append(batch));
    }

    /// A job for a loose part: described like the old one, compared with it, read with the meter at hand.
    pub(super) fn begin_candidate(
        &mut self,
        entries: &[Sealed],
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        if self.job.is_some() {
            return Err(Refusal::BenchTaken);
        }
        let before = Job::from_entries(entries).ok_or(Refusal::NoSuchJob)?;
        let old = before.as_old_part().ok_or(Refusal::NothingToCompareWith)?;
        let part = before.part.ok_or(Refusal::PartFirst)?;
        let order: String = candidate_order(&before.order, self.language).chars().take(MAX_TITLE).collect();
        self.open_new((order, before.vehicle), Details::default(), now, outputs);
        let meter = self.meters.connection.as_ref().and_then(|c| c.described.clone());
        let mut events = vec![Event::PartDescribed { part }, Event::OldPartTaken { old }];
        events.extend(meter.map(|instrument| Event::MeterUsed { instrument }));
        self.record(events, now, outputs);
        self.meters.announce(now.boot);
        Ok(())
    }

    pub(super) fn leave_job(&mut self, now: &Now, outputs: &mut Vec<Output>) {
        self.job = None;
        self.aside = None;
        self.details = Details::default();
        self.earlier.clear();
        let chunks = self.rehouse_samples(now);
        push_append(outputs, Batch { chunks, ..Batch::default() });
    }

    pub(super) fn loaded(
        &mut self,
        (entries, newest): (&[Sealed], Option<Uuid>),
        details: Option<KeptDetails>,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) {
        let Some(job) = Job::from_entries(entries) else {
            outputs.push(Output::Refused(Refusal::NoSuchJob));
            return;
        };
        // Details that are not those committed to are not shown as this job's.
        self.earlier = details.as_ref().map_or(Vec::new(), |kept| kept.earlier(job.personal));
        self.details = details.and_then(|kept| kept.opened(job.personal)).unwrap_or_default();
        let other_between = newest.is_some_and(|newest| newest != job.id);
        self.roster.hear_of(&job.hands.people);
        let lapses = if other_between { job.taken_up_after_another(now) } else { None };
        self.job = Some(job);
        self.aside = None;
        self.record(lapses.into_iter().collect(), now, outputs);
        self.meters.announce(now.boot);
        let chunks = self.rehouse_samples(now);
        push_append(outputs, Batch { chunks, ..Batch::default() });
    }
}
