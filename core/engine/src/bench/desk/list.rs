//! The list of jobs: searched, what of it is old, and what comes into it from other devices.

use super::{Desk, Outcome, mend};
use evenwire_core::claim::Handed;
use evenwire_core::job::OPEN_MARK;
use evenwire_core::session::{FromOffice, Input, TakenOver};
use evenwire_core::sync::Countersigned;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{self, Reply};
use evenwire_store::StoreError;

impl Desk {
    /// A job that another device handed over, with what is here of it.
    pub(super) fn take_over(&mut self, handed: Handed) -> Outcome {
        let job = handed.job;
        let here = self.store.entries_of(job).and_then(|entries| Ok((entries, self.store.details(job)?)));
        match here {
            Ok((entries, details)) => self.input(Input::TakenOver(Box::new(TakenOver { handed, entries, details }))),
            Err(error) => Outcome::Failed(self.not_read(&error)),
        }
    }

    /// A signature of the office, with what is here of the job it is for. One that is damaged cannot be signed; that it is
    /// must not stand in the way of whatever else the office did.
    pub(super) fn signed_at_office(&mut self, given: Countersigned) -> Outcome {
        let job = given.signed.seen.id;
        let here = self.store.entries_of(job).and_then(|entries| Ok((entries, self.store.details(job)?)));
        let (entries, details) = match here {
            Ok(here) => here,
            Err(StoreError::Damaged { what }) => {
                tracing::warn!(%job, %what, "the office signed a job that cannot be read");
                (Vec::new(), None)
            }
            Err(error) => return Outcome::Failed(self.not_read(&error)),
        };
        self.input(Input::SignedAtOffice(Box::new(FromOffice { given, entries, details })))
    }

    pub(super) fn jobs(
        &mut self,
        (search, open): (&str, bool),
        (skip, limit): (u32, u32),
        language: Language,
    ) -> Reply {
        #[cfg(test)]
        super::tests::trip("jobs");
        let search = if open { format!("{search} {OPEN_MARK}") } else { search.to_owned() };
        match mend::jobs(&self.store, &search, (skip, limit.min(100))) {
            Ok((lines, more)) => {
                let words = view::jobs_found(lines.len(), more, language);
                Reply::Jobs {
                    lines: lines.iter().map(|line| self.show_mark(line.job, view::job_line(line, language))).collect(),
                    more,
                    words,
                }
            }
            Err(error) => Reply::Failed { notice: self.not_read(&error) },
        }
    }

    pub(super) fn look_at_erasing(&mut self, months: u16, language: Language) -> Reply {
        let day = view::older_than(months, &self.clock.now());
        match day.map_or(Ok(Vec::new()), |day| self.store.lines_before(day)) {
            Ok(lines) => Reply::Erasing {
                words: view::erase_older_words(day, lines.len(), language),
                jobs: u32::try_from(lines.len()).unwrap_or(u32::MAX),
            },
            Err(error) => Reply::Failed { notice: self.not_read(&error) },
        }
    }
}
