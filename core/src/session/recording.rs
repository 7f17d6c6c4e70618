//! Events are sealed for the ledger, and the state follows them.

use super::{Batch, EPOCH_OF_THE_PROGRAM, JUMP_MS, Output, Session, push_append};
use crate::meter::link::Source;
use crate::record::{Clock, Draft, Event, Sealed};
use crate::unit::Now;
use uuid::Uuid;

impl Session {
    /// Seals `events` and asks for their commit; the state follows at once.
    pub(super) fn record(&mut self, events: Vec<Event>, now: &Now, outputs: &mut Vec<Output>) {
        self.record_with(events, Batch::default(), now, outputs);
    }

    pub(super) fn record_with(&mut self, events: Vec<Event>, mut batch: Batch, now: &Now, outputs: &mut Vec<Output>) {
        let mut touched_job = false;
        for event in events {
            let of_device = event.is_of_device();
            let job = if of_device { None } else { self.job.as_ref().map(|j| j.id) };
            let sealed = self.seal(&event, job, now);
            if of_device {
                self.apply_of_device(event);
            } else if let Some(job) = &mut self.job {
                job.follow(&sealed);
                touched_job = true;
            }
            batch.entries.push(sealed);
        }
        if let Some(job) = self.job.as_ref().filter(|_| touched_job) {
            batch.lines.push(job.line(&self.details));
            batch.heads.extend(self.seal.of_sealed(job, &self.head));
        }
        push_append(outputs, batch);
    }

    pub(super) fn seal(&mut self, event: &Event, job: Option<Uuid>, now: &Now) -> Sealed {
        let (kind, body) = event.parts();
        let draft = Draft {
            id: self.ids.id(now),
            job,
            kind,
            version: Event::VERSION,
            elapsed_ms: now.boot,
            wall: now.wall.clone(),
            clock: self.clock(now),
            body,
        };
        self.head.seal(self.id, draft)
    }

    fn clock(&self, now: &Now) -> Clock {
        let wall = now.wall.unix_millis();
        if wall < EPOCH_OF_THE_PROGRAM {
            return Clock::Unset;
        }
        let boot = i64::try_from(now.boot.since(self.began.boot).0).unwrap_or(i64::MAX);
        let apart = (wall - self.began.wall.unix_millis()).saturating_sub(boot);
        if apart.abs() > JUMP_MS { Clock::Jumped } else { Clock::Ok }
    }

    pub(super) fn apply_of_device(&mut self, event: Event) {
        match event {
            Event::TemplateSaved { name, part } => {
                self.templates.retain(|(other, _)| *other != name);
                self.templates.push((name, part));
            }
            Event::MeterDescribed { instrument } => {
                if instrument.source == Source::Typed {
                    self.read_by_eye = Some(instrument.identity.clone());
                }
                self.instruments.insert(instrument.identity.clone(), instrument);
            }
            Event::ShopDescribed { shop } => self.shop = shop,
            Event::LanguageChosen { language } => self.language = language,
            Event::DeviceKeyed { key } => self.seal.named(key),
            Event::SignatureNotTaken { signature, .. } => drop(self.not_taken.insert(signature)),
            other => {
                self.library.follow(&other);
                self.roster.follow(&other);
            }
        }
    }
}
