//! What the desk does about the job that is offered to a device on the same network.

use super::Desk;
use crate::near::Near;
use evenwire_core::session::Batch;
use evenwire_core::view::{self, View};
use uuid::Uuid;

impl Desk {
    /// From here on jobs can be offered.
    pub(crate) fn offer_by(&mut self, near: Near) {
        self.near = near;
    }

    fn offered(&self) -> Option<Uuid> {
        self.near.standing().borrow().as_ref().map(|offering| offering.job)
    }

    /// The job that is handed over and lies on the bench, or none: what no screen shows is not offered.
    pub(super) fn offer_what_is_here(&self) {
        let away = |job: Uuid| self.session.job().is_some_and(|on| on.id == job && on.hands.away().is_some());
        if self.offered().is_some_and(|job| !away(job)) {
            self.near.end();
        }
    }

    /// Something is about to be recorded. What was offered of that job is not all of it any more, or must not be had any
    /// more: nobody is told yes from here on.
    pub(super) fn offer_nothing_of(&self, batch: &Batch) {
        let offered = self.offered();
        if offered.is_some() && batch.entries.iter().any(|sealed| sealed.entry().job == offered) {
            self.near.end();
        }
    }

    pub(super) fn show_offer(&self, view: &mut View) {
        let language = view.language;
        let Some(bench) = &mut view.bench else { return };
        let standing = self.near.standing();
        let standing = standing.borrow();
        let offering = standing.as_ref().filter(|offering| offering.job.to_string() == bench.job);
        bench.hand.offer = offering.map(|offering| view::offer_of(offering, language));
    }
}
