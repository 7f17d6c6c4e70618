//! A second signature that was given at the shop's office. Hub and device ask the same: the hub before it takes the
//! signature, the device when it has come.

use super::state::Job;
use crate::record::{Event, NotSigned, OfficeSigned, SignedJob};
use crate::work::StepRefusal;
use uuid::Uuid;

impl Job {
    /// The event of a signature that somebody called `name` gave at the office; none where it was taken before. `name_of`
    /// names those who did the job. A job that was closed, or of which what is personal was erased, may still wait for one.
    ///
    /// # Errors
    /// [`NotSigned`], and nothing changes.
    pub fn sign_at_office<'a>(
        &self,
        signed: &OfficeSigned,
        name: &str,
        name_of: impl Fn(Uuid) -> Option<&'a str>,
    ) -> Result<Vec<Event>, NotSigned> {
        if self.newer_entries {
            return Err(NotSigned::NewerProgram);
        }
        let work = self.work.as_ref().ok_or(NotSigned::NothingToSign)?;
        if work.has_taken(signed.signature) {
            return Ok(Vec::new());
        }
        if self.hands.away().is_some() {
            return Err(NotSigned::HandedOver);
        }
        if !self.goes_on_from(&signed.seen) {
            return Err(NotSigned::OtherVersion);
        }
        let events = work.sign_at_office(signed)?;
        if self.compared_otherwise().contains(&signed.step) {
            return Err(NotSigned::CompareFirst);
        }
        work.may_be_second((signed.person, name), name_of)?;
        Ok(events)
    }

    /// What was seen of it somewhere is its beginning here, or all of it.
    fn goes_on_from(&self, seen: &SignedJob) -> bool {
        let seen_here = usize::try_from(seen.entries).ok().and_then(|count| self.entries.get(..count));
        seen_here.is_some_and(|here| SignedJob::of(self.id, here.iter().copied()) == *seen)
    }
}

impl From<StepRefusal> for NotSigned {
    fn from(refusal: StepRefusal) -> NotSigned {
        match refusal {
            StepRefusal::SeenOtherwise => NotSigned::DoneAgain,
            StepRefusal::OwnSecond => NotSigned::OwnSecond,
            StepRefusal::DoerUnknown | StepRefusal::DoerNameless => NotSigned::DoerUnknown,
            // What a signature is not refused for is no reason to let it stand.
            _ => NotSigned::NothingToSign,
        }
    }
}
