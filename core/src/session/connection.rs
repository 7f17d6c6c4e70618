//! One connection to a meter: its decoder, its settler, its newest reading, and the samples being gathered.

use super::instrument::{shortest, spec_of};
use crate::job::MeterSpecEntry;
use crate::meter::link::{Offer, Source};
use crate::meter::{Choice, Decoder, FrameError, MeterFacts, ReadBy, Reading, Shown};
use crate::part::MAX_NAME;
use crate::record::{Chunk, Gathering, Hash, Instrument, Sample};
use crate::settle::{Contact, Settler};
use crate::unit::{Millis, Quantity};
use std::collections::VecDeque;
use uuid::Uuid;

/// A silence shorter than this is never called stale: a radio delivers in bunches.
const SHORTEST_STALE_MS: u64 = 400;
/// Closed chunks whose hashes are remembered, to be named by a touch that began in them.
/// A sweep names the most: 60 000 readings in chunks of 300.
const CLOSED_KEPT: usize = 256;

/// A connection that was discovered and is listened to.
#[derive(Debug)]
pub(super) struct Connection {
    pub(super) generation: u32,
    pub(super) source: Source,
    pub(super) name: String,
    pub(super) serial: Option<String>,
    pub(super) profile: String,
    choice: Choice,
    /// None while the step of a meter that sends binary floats is not known: nothing is read then.
    decoder: Option<Decoder>,
    pub(super) settler: Settler,
    pub(super) latest: Option<Reading>,
    /// What was wrong with the newest frame; cleared by the next readable one.
    pub(super) trouble: Option<FrameError>,
    pub(super) described: Option<Instrument>,
    /// When what is to be touched now was announced: what arrived before does not count for it.
    announced_at: Millis,
    gathering: Gathering,
    closed: VecDeque<(Millis, Hash)>,
}

/// What one notification brought.
pub(super) struct Heard {
    pub(super) contact: Option<Contact>,
    /// What could be read.
    pub(super) readings: Vec<Reading>,
    /// A chunk that got full or is due.
    pub(super) chunk: Option<Chunk>,
}

impl Connection {
    pub(super) fn new(
        (source, generation): (Source, u32),
        offer: &Offer,
        choice: &Choice,
        gathering: Gathering,
    ) -> Connection {
        let decoder = choice.decoder(generation, None);
        let profile = match &choice.read_by {
            ReadBy::Description(_) => "self-describing".to_owned(),
            ReadBy::Profile(profile) => profile.name.clone(),
        };
        Connection {
            generation,
            source,
            name: offer.name.chars().take(MAX_NAME).collect(),
            serial: offer.serial.clone().filter(|s| !s.trim().is_empty()),
            profile,
            settler: Settler::new(decoder.as_ref().and_then(|d| d.facts().period)),
            choice: choice.clone(),
            decoder,
            latest: None,
            trouble: None,
            described: None,
            announced_at: Millis(0),
            gathering,
            closed: VecDeque::new(),
        }
    }

    /// Takes in a notification: decodes, gathers, settles.
    pub(super) fn hear(&mut self, raw: Vec<u8>, at: Millis) -> Heard {
        let mut shown = Vec::new();
        let mut contact = None;
        let mut readings = Vec::new();
        let read = self.decoder.as_mut().map(|d| d.push(&raw, at)).unwrap_or_default();
        for read in read {
            match read {
                Ok(reading) => {
                    shown.push(reading.shown);
                    readings.push(reading);
                    self.trouble = None;
                    self.latest = Some(reading);
                    if reading.at >= self.announced_at {
                        contact = self.settler.push(reading).or(contact);
                    } else if matches!(reading.shown, Shown::Value(_)) {
                        self.settler.heard_late();
                    }
                }
                Err(error) => {
                    // What cannot be read breaks a contact off, and is never shown as the number before it.
                    self.settler.break_off();
                    self.latest = None;
                    self.trouble = Some(error);
                }
            }
        }
        self.gathering.push(Sample { at, raw, shown });
        let chunk = (!self.gathering.is_full() && self.gathering.is_due(at)).then(|| self.gathering.chunk(at, false));
        Heard { contact, readings, chunk }
    }

    /// These bytes come through this connection, from the value that is listened to.
    pub(super) fn brings(&self, source: Source, generation: u32, characteristic: Uuid) -> bool {
        (self.source, self.generation, self.choice.characteristic) == (source, generation, characteristic)
    }

    /// From `at` on the readings count for something else.
    pub(super) fn announce(&mut self, at: Millis) {
        self.announced_at = at;
        self.settler.announce();
    }

    /// It is the instrument of a description: told by it and reached the same way, or, where it tells no serial
    /// number, the one a person named while it was connected before.
    pub(super) fn is(&self, instrument: &Instrument) -> bool {
        let named = match &self.serial {
            Some(serial) => instrument.told && instrument.identity == *serial,
            None => !instrument.told,
        };
        named && (instrument.source, &instrument.profile) == (self.source, &self.profile)
    }

    pub(super) fn is_full(&self) -> bool {
        self.gathering.is_full()
    }

    /// Closes the chunk being gathered and begins `next`. Nothing to write if nothing was gathered.
    pub(super) fn close_chunk(&mut self, at: Millis, next: Gathering) -> Option<Chunk> {
        let mut full = std::mem::replace(&mut self.gathering, next);
        if full.is_empty() {
            return None;
        }
        let chunk = full.chunk(at, true);
        if self.closed.len() == CLOSED_KEPT {
            self.closed.pop_front();
        }
        self.closed.push_back((chunk.last_at, chunk.hash));
        Some(chunk)
    }

    /// The open chunk, if something in it waits to be written.
    pub(super) fn due_chunk(&mut self, at: Millis) -> Option<Chunk> {
        self.gathering.is_due(at).then(|| self.gathering.chunk(at, false))
    }

    pub(super) fn chunk_due_at(&self) -> Option<Millis> {
        self.gathering.due_at()
    }

    /// Hashes of the closed chunks that hold samples from `from` on.
    pub(super) fn chunks_since(&self, from: Millis) -> Vec<Hash> {
        self.closed.iter().filter(|(last, _)| *last >= from).map(|(_, hash)| *hash).collect()
    }

    /// No sample for three periods.
    pub(super) fn stale_at(&self) -> Option<Millis> {
        let silence = (3 * self.settler.period().0).max(SHORTEST_STALE_MS);
        self.latest.map(|r| Millis(r.at.0 + silence))
    }

    pub(super) fn is_live(&self, now: Millis) -> bool {
        self.stale_at().is_some_and(|at| now <= at)
    }

    /// What profile or descriptors tell about the instrument; nothing while its numbers cannot be read.
    pub(super) fn facts(&self) -> Option<MeterFacts> {
        self.decoder.as_ref().map(Decoder::facts)
    }

    /// Its numbers cannot be read before somebody says how fine its display is.
    pub(super) fn waits_for_step(&self) -> bool {
        self.decoder.is_none()
    }

    /// This is the instrument; a meter that sends binary floats is read in the step given.
    pub(super) fn describe(&mut self, instrument: Instrument) {
        if self.choice.needs_places() {
            self.decoder = self.choice.decoder(self.generation, Some(instrument.step.places()));
            self.latest = None;
            self.settler.break_off();
        }
        self.described = Some(instrument);
    }

    /// What is known about the instrument, to be shown in the fields of its description.
    pub(super) fn spec(&self) -> MeterSpecEntry {
        let text = |q: Option<Quantity>| q.map(|q| q.to_string()).unwrap_or_default();
        if let Some(known) = &self.described {
            return spec_of(known);
        }
        let facts = self.facts();
        let seen_step = self.latest.and_then(|r| r.step);
        let percent = facts
            .and_then(|f| f.accuracy_milli_pct)
            .and_then(|m| Quantity::new(i64::from(m), 3, crate::unit::Unit::Ohm));
        MeterSpecEntry {
            label: String::new(),
            step: text(facts.and_then(|f| f.step).or(seen_step)),
            accuracy_percent: text(percent.map(shortest)),
            accuracy_counts: facts.and_then(|f| f.accuracy_counts).map(|c| c.to_string()).unwrap_or_default(),
            top: text(facts.and_then(|f| f.top).map(shortest)),
            calibration_due: String::new(),
        }
    }

    /// Fields of the description that are still empty.
    pub(super) fn missing(&self) -> Vec<&'static str> {
        let spec = self.spec();
        let mut missing = Vec::new();
        if self.serial.is_none() && spec.label.is_empty() {
            missing.push("label");
        }
        if spec.step.is_empty() {
            missing.push("step");
        }
        if spec.accuracy_percent.is_empty() || spec.accuracy_counts.is_empty() {
            missing.push("accuracy");
        }
        if spec.top.is_empty() {
            missing.push("top");
        }
        missing
    }

    /// The job the gathered samples belong to.
    pub(super) fn gathers_for(&self) -> Option<Uuid> {
        self.gathering.job()
    }
}
