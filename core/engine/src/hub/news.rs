//! What the office did, done here: as wishes to the bench, which decides on them as on any other.

use super::handle::News;
use super::worker::Worker;
use evenwire_core::job::{Command, Refusal};
use evenwire_core::sync::{Change, Changes, Numbered, Trouble};
use evenwire_core::view::Reply;
use uuid::Uuid;

impl Worker {
    /// Does them in their order; each is noted once it is done, or said no to. `false`: one could not be done now.
    pub(super) async fn take_news(&mut self, changes: Changes) -> Result<bool, Trouble> {
        for Numbered { number, change } in changes.changes {
            let note = match change {
                Change::ProcedureSent { text } => {
                    if !self.done(News::Wish(Box::new(Command::KeepProcedure { text }))).await {
                        return Ok(false);
                    }
                    None
                }
                // Its job may be open here: then it waits, and nothing after it does.
                Change::DetailsErased { job } => {
                    self.book(|book| book.erase_later(job, true))?;
                    None
                }
                // Taken or not, it is written down before it is noted here.
                Change::StepSigned(given) => {
                    if !self.done(News::Signed(given)).await {
                        return Ok(false);
                    }
                    None
                }
                Change::Note { job, text } => Some((job, text.chars().take(500).collect::<String>())),
                Change::Unknown => {
                    tracing::info!(number, "the office did something this program does not know");
                    None
                }
            };
            self.book(|book| book.took(number, note.as_ref().map(|(job, text)| (*job, text.as_str()))))?;
        }
        self.erase_what_waits().await?;
        Ok(true)
    }

    async fn erase_what_waits(&mut self) -> Result<(), Trouble> {
        for job in self.book(|book| book.to_erase())? {
            if self.erased(job).await {
                self.book(|book| book.erase_later(job, false))?;
            }
        }
        Ok(())
    }

    /// Nothing personal of the job is here any more, or it never was here.
    async fn erased(&mut self, job: Uuid) -> bool {
        match (self.bench)(News::Wish(Box::new(Command::EraseDetails { job }))).await {
            Some(Reply::Refused { refusal, .. }) => matches!(refusal, Refusal::NoSuchJob | Refusal::NothingToErase),
            Some(Reply::Done) => true,
            _ => false,
        }
    }

    /// The bench did it, or said no for good; `false`: it could not.
    async fn done(&mut self, news: News) -> bool {
        match (self.bench)(news).await {
            Some(Reply::Refused { notice, .. }) => {
                tracing::warn!(code = notice.code, words = notice.words, "what the office sent is not taken");
                true
            }
            Some(Reply::Failed { .. }) | None => false,
            Some(_) => true,
        }
    }
}
