//! What is personal is erased: the entries say that it was, and nothing says any more what it was.

use super::{Batch, Erasing, Output, Session, push_append};
use crate::job::{Line, Refusal, Stage};
use crate::record::{Details, Event};
use crate::unit::{Day, Now};
use uuid::Uuid;

/// Most months that may be asked for: a hundred years.
const MOST_MONTHS: u16 = 1_200;

/// The day before which a job was opened that is older than so many months. `None`: less than one, more than a hundred
/// years, or the clock is not set.
pub fn older_than(months: u16, now: &Now) -> Option<Day> {
    Day::of(&now.wall)?.months_before((1..=MOST_MONTHS).contains(&months).then_some(months)?)
}

impl Session {
    pub(super) fn erase(&mut self, job: Uuid, outputs: &mut Vec<Output>) {
        outputs.push(Output::Collect(Erasing::Job(job)));
    }

    pub(super) fn erase_older(&mut self, months: u16, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let day = older_than(months, now).ok_or(Refusal::NothingToErase)?;
        outputs.push(Output::Collect(Erasing::OpenedBefore(day)));
        Ok(())
    }

    /// One job has to be closed, because its work may ask for what would be gone. What is old goes whether or not
    /// anybody closed it; only an open job that lies on the bench stays as it is.
    pub(super) fn collected(
        &mut self,
        erasing: Erasing,
        lines: &[Line],
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        if let Erasing::Job(_) = erasing {
            let line = lines.first().ok_or(Refusal::NoSuchJob)?;
            if line.stage != Stage::Done {
                return Err(Refusal::NotClosed);
            }
        }
        let mut batch = Batch::default();
        for line in lines {
            if line.stage != Stage::Done && self.is_on_the_bench(line.job) {
                continue;
            }
            batch.erased.push(line.job);
            // Asked for again, nothing is written, but what may have been left behind is taken out again.
            if !line.erased {
                self.erase_one(line, now, &mut batch);
            }
        }
        if batch.erased.is_empty() {
            return Err(Refusal::NothingToErase);
        }
        push_append(outputs, batch);
        Ok(())
    }

    fn is_on_the_bench(&self, job: Uuid) -> bool {
        self.job.as_ref().is_some_and(|there| there.id == job)
    }

    fn erase_one(&mut self, line: &Line, now: &Now, batch: &mut Batch) {
        let sealed = self.seal(&Event::DetailsErased {}, Some(line.job), now);
        let mut line = line.without_details();
        if let Some(job) = self.job.as_mut().filter(|there| there.id == line.job) {
            job.follow(&sealed);
            self.details = Details::default();
            self.earlier.clear();
            line = job.line(&self.details);
        }
        batch.entries.push(sealed);
        batch.lines.push(line);
    }
}
