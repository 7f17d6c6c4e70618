//! A signature of the office comes into the record, or it is recorded why not. The job it is for lies on the bench or does
//! not; whoever works at another one is not disturbed.

use super::{Batch, Output, Session, push_append};
use crate::job::Job;
use crate::record::{Event, KeptDetails, KeptPerson, NotSigned, Sealed};
use crate::sync::Countersigned;
use crate::unit::Now;
use uuid::Uuid;

/// A signature of the office, and what is here of the job it is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FromOffice {
    /// The signature.
    pub given: Countersigned,
    /// The entries of the job, in order; none: there is no such job here, or it cannot be read.
    pub entries: Vec<Sealed>,
    /// Its details, unless erased.
    pub details: Option<KeptDetails>,
}

impl Session {
    /// However often it comes, it is written once: as a signature, or as one that was not taken. What was not taken is not
    /// taken later either: the office was told so.
    pub(super) fn signed_at_office(&mut self, from: FromOffice, now: &Now, outputs: &mut Vec<Output>) {
        let signed = &from.given.signed;
        if self.not_taken.contains(&signed.signature) {
            return;
        }
        let on_bench = self.job.clone().filter(|job| job.id == signed.seen.id);
        let elsewhere = if on_bench.is_some() { None } else { Job::from_entries(&from.entries) };
        let decided = match on_bench.as_ref().or(elsewhere.as_ref()) {
            Some(job) => self.sign_of_office(job, &from.given),
            None => Err(NotSigned::NotHere),
        };
        let kept = from.given.signer();
        match (decided, elsewhere) {
            (Err(why), _) => {
                let (signature, of_job) = (signed.signature, signed.seen.id);
                self.record(vec![Event::SignatureNotTaken { signature, of_job, why }], now, outputs);
            }
            (Ok(events), _) if events.is_empty() => {}
            (Ok(events), None) => {
                let people = self.heard_of(kept);
                self.record_with(events, Batch { people, ..Batch::default() }, now, outputs);
                let people = self.job.as_ref().map(|job| job.hands.people.clone()).unwrap_or_default();
                self.roster.hear_of(&people);
            }
            (Ok(events), Some(job)) => {
                let batch = Batch { people: self.heard_of(kept), ..Batch::default() };
                let batch = self.sealed_beside(job, (events, from.details), batch, now);
                push_append(outputs, batch);
            }
        }
    }

    /// Nobody whom this device knows is written over.
    fn heard_of(&mut self, kept: KeptPerson) -> Vec<KeptPerson> {
        if self.roster.knows(kept.person) {
            return Vec::new();
        }
        self.roster.keep(kept.clone());
        vec![kept]
    }

    /// The one rule, with the names of those who are known here.
    fn sign_of_office(&mut self, job: &Job, given: &Countersigned) -> Result<Vec<Event>, NotSigned> {
        // Whoever signs under a name that is not the one committed to is nobody.
        let name = given.signer().opened(given.signed.personal).ok_or(NotSigned::OtherVersion)?.name;
        self.roster.hear_of(&job.hands.people);
        let events = job.sign_at_office(&given.signed, &name, |person: Uuid| self.roster.name(person))?;
        // People of the roster sign with their PIN.
        if self.roster.is_on_it(given.signed.person) { Err(NotSigned::OtherVersion) } else { Ok(events) }
    }

    /// Events of a job that does not lie on the bench, sealed, with its line as it is after them.
    fn sealed_beside(
        &mut self,
        mut job: Job,
        (events, details): (Vec<Event>, Option<KeptDetails>),
        mut batch: Batch,
        now: &Now,
    ) -> Batch {
        for event in &events {
            let sealed = self.seal(event, Some(job.id), now);
            job.follow(&sealed);
            batch.entries.push(sealed);
        }
        let details = details.and_then(|kept| kept.opened(job.personal)).unwrap_or_default();
        batch.lines.push(job.line(&details));
        batch.heads.extend(self.seal.of_sealed(&job, &self.head));
        batch
    }
}
