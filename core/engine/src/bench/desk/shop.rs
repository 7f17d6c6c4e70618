//! What the desk says of the shop's hub: as it is told by whoever sends, held against the ledger as it is now.

use super::Desk;
use crate::hub::Hub;
use evenwire_core::session::Batch;
use evenwire_core::sync::AtShop;
use evenwire_core::view::{self, JobLine, ShopMark, View};
use evenwire_store::DeliveryGlance;
use std::sync::Arc;
use tokio::sync::watch;
use uuid::Uuid;

/// What is known of the hub.
#[derive(Debug)]
pub(super) struct AtHub {
    pub(super) hub: Hub,
    told: Arc<AtShop>,
    glance: Option<DeliveryGlance>,
    /// The mark of the job on the bench, as long as nothing changed.
    mark: Option<(Uuid, Option<ShopMark>)>,
}

impl Default for AtHub {
    fn default() -> AtHub {
        AtHub { hub: Hub::nowhere(), told: Arc::default(), glance: None, mark: None }
    }
}

impl AtHub {
    /// News of the hub; the present ones are the first.
    pub(super) fn news(&self) -> watch::Receiver<Arc<AtShop>> {
        let mut news = self.hub.standing();
        news.mark_changed();
        news
    }
}

impl Desk {
    /// From here on somebody sends what is recorded.
    pub(crate) fn send_by(&mut self, hub: Hub) {
        self.at_hub = AtHub { hub, ..AtHub::default() };
    }

    pub(super) fn heard_of_hub(&mut self, told: Arc<AtShop>) {
        // What an answer changed is told at once, the count of what is sent with the next view.
        self.urgent |= (told.trouble, &told.asked, &told.paired) != {
            let before = &self.at_hub.told;
            (before.trouble, &before.asked, &before.paired)
        };
        self.at_hub.told = told;
        self.count_on();
        self.at_hub.mark = None;
        self.dirty = true;
        if self.at_hub.told.paired.is_none() {
            self.at_hub.glance = None;
        } else if self.at_hub.glance.is_none() {
            let opened = DeliveryGlance::at(self.store.path());
            self.at_hub.glance = opened.unwrap_or_else(|error| {
                tracing::warn!(%error, "what is at the shop cannot be read");
                None
            });
        }
    }

    /// Something was committed.
    pub(super) fn grown(&mut self, batch: &Batch) {
        if !batch.entries.is_empty() {
            self.at_hub.mark = None;
            self.count_on();
            // A head is signed when a job is closed.
            self.at_hub.hub.grew(!batch.heads.is_empty());
        }
    }

    /// What was told may be older than what was recorded since: that is not at the shop.
    fn count_on(&mut self) {
        let (told, end) = (&mut self.at_hub.told, self.session.head().sequence);
        if told.paired.is_some() && told.entries.1 < end {
            Arc::make_mut(told).entries.1 = end;
        }
    }

    pub(super) fn show_hub(&mut self, view: &mut View) {
        view.hub = view::hub_of(&self.at_hub.told, view.language);
        let Some(bench) = &mut view.bench else { return };
        let Some(job) = self.session.job().map(|job| job.id) else { return };
        let mark = match &self.at_hub.mark {
            Some((of, mark)) if *of == job && !self.urgent => mark.clone(),
            _ => self.shop_mark(job),
        };
        bench.at_shop = mark.clone();
        self.at_hub.mark = Some((job, mark));
    }

    pub(super) fn show_mark(&self, job: Uuid, line: JobLine) -> JobLine {
        JobLine { at_shop: self.shop_mark(job), ..line }
    }

    /// What cannot be read is not said to be safe.
    fn shop_mark(&self, job: Uuid) -> Option<ShopMark> {
        let there = self.at_hub.glance.as_ref()?.of_job(job, self.key.kept.device).ok()??;
        let newest = self.store.newest_of(job, there.stored_through).ok()?;
        Some(view::shop_mark(&there, newest, self.session.language()))
    }
}
