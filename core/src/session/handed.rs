//! A job is handed to another device, taken back, or taken over from one.

use super::{Batch, Output, Session, TakenOver};
use crate::claim::Handed;
use crate::job::{Command, HandRefusal, Job, Refusal};
use crate::record::{Claimed, Event, Hash, KeptDetails, KeptPerson, Release, Sealed, told_of};
use crate::unit::Now;
use std::collections::BTreeMap;
use uuid::Uuid;

impl Session {
    pub(super) fn hand_wish(&mut self, wish: Command, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        match wish {
            Command::ReleaseJob { job, to } => self.release_job(job, &to, now, outputs),
            Command::TakeJobBack { job } => self.take_job_back(job, now, outputs),
            _ => Ok(()),
        }
    }

    /// What the entry says is all that another device needs of this ledger: whose it is, and whom it names. With it the
    /// job is signed.
    fn release_job(&mut self, job: Uuid, to: &str, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let job = self.meant(job)?;
        let to = job.may_release(to)?;
        let key = self.seal.known()?.public();
        let commitment = |person: &Uuid| {
            let known = self.roster.commitment(*person).or(job.hands.people.get(person).copied());
            known.map(|commitment| (*person, commitment))
        };
        let people: BTreeMap<Uuid, Hash> = job.hands.named.iter().filter_map(commitment).collect();
        self.aside = None;
        self.record(vec![Event::JobReleased(Release { to, key, people })], now, outputs);
        self.meters.announce(now.boot);
        Ok(())
    }

    fn take_job_back(&mut self, job: Uuid, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let events = self.meant(job)?.take_back(now)?;
        self.record(events, now, outputs);
        self.meters.announce(now.boot);
        Ok(())
    }

    /// The job comes onto the bench with all its entries, carried in entries of this ledger. What is here of it already has
    /// to be the beginning of what was handed over: nothing is merged and nothing is written over.
    pub(super) fn take_over(&mut self, taken: TakenOver, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let TakenOver { handed, entries: here, details } = taken;
        if self.job.as_ref().is_some_and(|on| on.id != handed.job) {
            return Err(Refusal::BenchTaken);
        }
        let fresh = beyond(&here, &handed.entries)?;
        let before = Job::from_entries(&here);
        let claimed = Event::JobClaimed(Claimed {
            boot: now.boot_id.clone(),
            from_device: handed.head.0.device,
            from_sequence: handed.head.0.sequence,
            from_hash: handed.head.0.hash,
            signed: handed.head.1.clone(),
        });
        let carried: Option<Vec<Event>> = fresh.iter().map(carrying).collect();
        let carried = carried.ok_or_else(|| HandRefusal::File { what: "an entry is no text".into() })?;
        // Looked at before anything is sealed: what makes no job here is not begun.
        let whole: Vec<Sealed> = here.iter().chain(fresh).cloned().collect();
        Job::from_entries(&whole).ok_or_else(|| HandRefusal::File { what: "it begins no job".into() })?;
        let sealed: Vec<Sealed> =
            carried.iter().chain([&claimed]).map(|event| self.seal(event, Some(handed.job), now)).collect();
        let entries: Vec<Sealed> = here.into_iter().chain(sealed.iter().cloned()).collect();
        let job = Job::from_entries(&entries).ok_or(Refusal::NoSuchJob)?;
        let erased = before.is_some_and(|before| before.erased.is_some()) || job.erased.is_some();
        let details = if erased { None } else { handed.details.clone().or(details) };
        let batch = self.brought(handed, erased);
        self.put_on_bench((job, sealed), (details, batch), now, outputs);
        Ok(())
    }

    /// What stands beside the entries. What is personal of a job that was erased here does not come back; nobody whom this
    /// device knows is written over.
    fn brought(&self, handed: Handed, erased: bool) -> Batch {
        let unknown = |kept: &KeptPerson| !self.roster.knows(kept.person);
        let people = handed.people.into_iter().filter(unknown).collect();
        let (details, pictures) = if erased { (None, Vec::new()) } else { (handed.details, handed.photos) };
        Batch { details: details.into_iter().collect(), people, chunks: handed.chunks, pictures, ..Batch::default() }
    }

    fn put_on_bench(
        &mut self,
        (job, sealed): (Job, Vec<Sealed>),
        (details, mut batch): (Option<KeptDetails>, Batch),
        now: &Now,
        outputs: &mut Vec<Output>,
    ) {
        batch.people.iter().for_each(|kept| self.roster.keep(kept.clone()));
        self.roster.hear_of(&job.hands.people);
        self.earlier = details.as_ref().map_or(Vec::new(), |kept| kept.earlier(job.personal));
        self.details = details.and_then(|kept| kept.opened(job.personal)).unwrap_or_default();
        self.aside = None;
        batch.entries = sealed;
        batch.lines.push(job.line(&self.details));
        self.job = Some(job);
        batch.chunks.extend(self.rehouse_samples(now));
        outputs.push(Output::Append(batch));
        self.meters.announce(now.boot);
    }
}

fn carrying(sealed: &Sealed) -> Option<Event> {
    String::from_utf8(sealed.bytes().to_vec()).ok().map(|entry| Event::Carried { entry })
}

/// What was handed over and is not here yet: `here`, and `handed`, are the job's entries in order.
///
/// # Errors
/// [`HandRefusal::Here`], [`HandRefusal::Parted`].
pub fn beyond<'a>(here: &[Sealed], handed: &'a [Sealed]) -> Result<&'a [Sealed], HandRefusal> {
    let ours: Vec<Hash> = told_of(here).into_iter().map(Sealed::hash).collect();
    let theirs: Vec<Hash> = handed.iter().map(Sealed::hash).collect();
    match theirs.strip_prefix(ours.as_slice()) {
        Some([]) => Err(HandRefusal::Here),
        Some(fresh) => Ok(&handed[handed.len() - fresh.len()..]),
        None if ours.starts_with(&theirs) => Err(HandRefusal::Here),
        None => Err(HandRefusal::Parted),
    }
}
