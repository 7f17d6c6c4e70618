//! What a simulated device does with what the office did.

use super::phone::{Desk, Stands};
use anyhow::Result;
use evenwire_core::job::{Command, Refusal};
use evenwire_core::record::{Event, NotSigned, Sealed};
use evenwire_core::session::Batch;
use evenwire_core::sync::Countersigned;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::Reply;
use evenwire_engine::hub::News;
use uuid::Uuid;

impl Desk {
    /// What a bench does with a wish of the office; nothing: it cannot now.
    pub(super) fn hears(&mut self, news: News) -> Result<Option<Reply>> {
        if self.busy && self.chance.whole(0, 3) == 0 {
            self.put_off = true;
            return Ok(None);
        }
        self.wish(news).map(Some)
    }

    fn wish(&mut self, news: News) -> Result<Reply> {
        let refused = |refusal| Ok(Reply::refused(refusal, Language::En));
        let command = match news {
            News::Wish(command) => command,
            News::Signed(given) => return self.signed(&given).map(|()| Reply::Done),
        };
        match *command {
            Command::EraseDetails { job } => match self.jobs()?.get(&job) {
                None => refused(Refusal::NoSuchJob),
                Some(Stands { erased: true, .. }) => refused(Refusal::NothingToErase),
                Some(Stands { finished: false, .. }) => refused(Refusal::NoJob),
                Some(_) => self.erase(job).map(|()| Reply::Done),
            },
            Command::KeepProcedure { text } => {
                self.write(None, Event::ProcedureKept { text }.parts(), Batch::default()).map(|()| Reply::Done)
            }
            other => anyhow::bail!("nobody asks a bench this: {other:?}"),
        }
    }

    /// What a bench does with a signature of the office: it writes it down, or that it does not take it, once. Which of
    /// both the real one does is none of what is simulated here.
    fn signed(&mut self, given: &Countersigned) -> Result<()> {
        let (signature, job) = (given.signed.signature, given.signed.seen.id);
        if answered(&self.entries()?).contains(&signature) {
            return Ok(());
        }
        if self.jobs()?.contains_key(&job) && self.chance.whole(0, 1) == 0 {
            let beside = Batch { people: vec![given.signer()], ..Batch::default() };
            return self.write(Some(job), Event::StepSignedAtOffice(given.signed.clone()).parts(), beside);
        }
        let not = Event::SignatureNotTaken { signature, of_job: job, why: NotSigned::OtherVersion };
        self.write(None, not.parts(), Batch::default())
    }
}

/// The signatures of the office that a ledger says something of, as often as it does.
pub fn answered(entries: &[Sealed]) -> Vec<Uuid> {
    let answer = |event| match event {
        Event::StepSignedAtOffice(signed) => Some(signed.signature),
        Event::SignatureNotTaken { signature, .. } => Some(signature),
        _ => None,
    };
    // What came with a job from another ledger was answered there.
    let own = entries.iter().filter(|sealed| std::ptr::eq(sealed.told(), *sealed));
    own.filter_map(|sealed| sealed.event().and_then(answer)).collect()
}
