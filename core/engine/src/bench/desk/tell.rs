//! How whoever asked is answered, when the view is told, and how long nothing but an event can change it.

use super::{AGE_EVERY, Desk, Outcome, VIEW_EVERY};
use crate::practice::PartModel;
use evenwire_core::unit::Millis;
use evenwire_core::view::{self, Reply, TemplateView};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::oneshot;

impl Desk {
    /// What whoever asked is answered.
    pub(super) fn told(&self, outcome: Outcome) -> Reply {
        match outcome {
            Outcome::Done => Reply::Done,
            Outcome::Refused(refusal) => Reply::refused(refusal, self.session.language()),
            Outcome::Failed(notice) => Reply::Failed { notice },
        }
    }

    pub(super) fn reply(&mut self, reply: Reply, reply_to: oneshot::Sender<Reply>) {
        self.urgent = true;
        self.dirty = true;
        self.guide_hands();
        self.tell_if_due();
        // Whoever asked may have gone; what was done stays done.
        let _gone = reply_to.send(reply);
    }

    pub(super) fn tell_if_due(&mut self) {
        let now = self.clock.now();
        if !self.dirty || (!self.urgent && now.boot.since(self.told_at) < VIEW_EVERY) {
            return;
        }
        #[cfg(test)]
        super::tests::trip("view");
        let mut view = view::of(&self.session, &now);
        view.templates.extend(PartModel::built_in_parts().iter().map(|(_, model)| {
            let part = model.to_part_in(view.language);
            TemplateView { name: part.name.clone(), part, built_in: true }
        }));
        let said = || self.sound.said(view.language).or_else(|| self.key.said(view.language));
        view.fault = self.fault.clone().or_else(said);
        view.key = self.key.place(view.language);
        self.show_hub(&mut view);
        self.show_offer(&mut view);
        self.views.send_replace(Arc::new(view));
        self.told_at = now.boot;
        self.urgent = false;
        self.dirty = false;
        self.falls = 0;
    }

    /// How long nothing but an event can change what is to be done or seen.
    pub(super) fn sleep(&self) -> Duration {
        let now = self.clock.now();
        let view = self.dirty.then(|| Millis(self.told_at.0 + VIEW_EVERY.0));
        let age = self.session.meter(&now).live.map(|_| Millis(self.told_at.0 + AGE_EVERY.0));
        let next = self.session.wake_at(&now).into_iter().chain(view).chain(age).min();
        Duration::from_millis(next.map_or(60_000, |at| at.since(now.boot).0.max(1)))
    }
}
