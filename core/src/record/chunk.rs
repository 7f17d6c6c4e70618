//! Every notification that arrived, kept as evidence: its bytes, its time, and what was read from it.
//!
//! A chunk is at most [`MOST`] notifications. Its payload stands on its own: its first byte tells how it is coded.
//! Its name is the SHA-256 of the payload.

mod coding;
mod first;
mod range;
mod second;
#[cfg(test)]
mod tests;

use super::hash::Hash;
use crate::meter::Shown;
use crate::unit::Millis;
use uuid::Uuid;

pub use coding::{CODEC, CodingError, samples_of};

/// Notifications in one chunk at most.
pub const MOST: usize = 300;
/// Most bytes of one notification that are kept; the radio's own limit is 512.
pub const MOST_RAW: usize = 512;

/// One notification, with the readings decoded from it (none, one, or several).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sample {
    /// Arrival, boot clock.
    pub at: Millis,
    /// The bytes as they came.
    pub raw: Vec<u8>,
    /// What was read from them.
    pub shown: Vec<Shown>,
}

/// A chunk as it is stored. An open one is written again as it grows; a closed one never changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chunk {
    /// Names it while it is open, and in the store.
    pub id: Uuid,
    /// The job on the bench, if any.
    pub job: Option<Uuid>,
    /// The connection it came through, counted within `session`.
    pub generation: u32,
    /// The run of the program.
    pub session: Uuid,
    /// Nothing will be added.
    pub closed: bool,
    /// Notifications in it.
    pub count: u32,
    /// Arrival of the first.
    pub first_at: Millis,
    /// Arrival of the last.
    pub last_at: Millis,
    /// Smallest digits read, at the places of the first value; `None` without a value.
    pub min: Option<i64>,
    /// Largest digits read, at the places of the first value.
    pub max: Option<i64>,
    /// First digits read.
    pub first: Option<i64>,
    /// Last digits read, at the places of the first value.
    pub last: Option<i64>,
    /// Decimal places of the four above.
    pub places: u8,
    /// How the payload is coded.
    pub codec: u16,
    /// The coded samples.
    pub payload: Vec<u8>,
    /// SHA-256 of the payload.
    pub hash: Hash,
}

impl Chunk {
    /// The samples.
    ///
    /// # Errors
    /// [`CodingError`] when the payload is not whole or of a codec this program does not know.
    pub fn samples(&self) -> Result<Vec<Sample>, CodingError> {
        if !(1..=CODEC).contains(&self.codec) {
            return Err(CodingError::Codec(self.codec));
        }
        samples_of(&self.payload)
    }
}

impl Chunk {
    /// A closed chunk of `job` from its payload alone, as it comes from another device. Its name and all its figures
    /// follow from the payload, so that the same one is the same wherever it came in.
    ///
    /// # Errors
    /// [`CodingError`] when the payload is not whole or of a codec this program does not know.
    pub fn of_payload(job: Uuid, payload: Vec<u8>) -> Result<Chunk, CodingError> {
        let hash = Hash::of(&payload);
        let codec = coding::codec_of(&payload);
        let mut id = [0; 16];
        id.copy_from_slice(&hash.0[..16]);
        let id = uuid::Builder::from_custom_bytes(id).into_uuid();
        let samples = samples_of(&payload)?;
        let at = samples.last().map_or(Millis(0), |last| last.at);
        let figures = Gathering { samples, ..Gathering::new(id, Some(job), Uuid::nil(), 0) }.figures(at);
        Ok(Chunk { closed: true, codec, hash, payload, ..figures })
    }
}

/// A chunk that is being filled.
#[derive(Clone, Debug)]
pub struct Gathering {
    id: Uuid,
    job: Option<Uuid>,
    session: Uuid,
    generation: u32,
    samples: Vec<Sample>,
    written: usize,
    written_at: Millis,
}

impl Gathering {
    /// An empty chunk of one connection.
    pub fn new(id: Uuid, job: Option<Uuid>, session: Uuid, generation: u32) -> Gathering {
        Gathering { id, job, session, generation, samples: Vec::new(), written: 0, written_at: Millis(0) }
    }

    /// Adds a notification. Bytes over [`MOST_RAW`] cannot come from the radio and are cut.
    pub fn push(&mut self, mut sample: Sample) {
        sample.raw.truncate(MOST_RAW);
        if self.samples.is_empty() {
            self.written_at = sample.at;
        }
        self.samples.push(sample);
    }

    /// The job it belongs to, if any.
    pub fn job(&self) -> Option<Uuid> {
        self.job
    }

    /// Nothing is in it.
    pub fn is_empty(&self) -> bool {
        self.samples.is_empty()
    }

    /// It holds as many as a chunk may.
    pub fn is_full(&self) -> bool {
        self.samples.len() >= MOST
    }

    /// Something arrived a second or longer ago and is not written yet: the time since the last writing is over.
    pub fn is_due(&self, at: Millis) -> bool {
        self.samples.len() > self.written && at.since(self.written_at).0 >= 1_000
    }

    /// Time at which it becomes due, if anything waits.
    pub fn due_at(&self) -> Option<Millis> {
        (self.samples.len() > self.written).then_some(Millis(self.written_at.0 + 1_000))
    }

    /// The chunk as it stands, to be written now.
    pub fn chunk(&mut self, at: Millis, closed: bool) -> Chunk {
        self.written = self.samples.len();
        self.written_at = at;
        let payload = coding::encode(&self.samples);
        Chunk { closed, hash: Hash::of(&payload), payload, ..self.figures(at) }
    }

    /// The chunk as it stands, without its payload.
    fn figures(&self, at: Millis) -> Chunk {
        let values: Vec<_> = self.samples.iter().flat_map(|s| &s.shown).filter_map(value_of).collect();
        let places = values.first().map_or(0, |q| q.places());
        let digits = || values.iter().filter_map(|q| q.with_places(places)).map(|q| q.digits());
        Chunk {
            id: self.id,
            job: self.job,
            generation: self.generation,
            session: self.session,
            closed: false,
            count: u32::try_from(self.samples.len()).unwrap_or(u32::MAX),
            first_at: self.samples.first().map_or(at, |s| s.at),
            last_at: self.samples.last().map_or(at, |s| s.at),
            min: digits().min(),
            max: digits().max(),
            first: digits().next(),
            last: digits().next_back(),
            places,
            codec: CODEC,
            hash: Hash::ZERO,
            payload: Vec::new(),
        }
    }
}

fn value_of(shown: &Shown) -> Option<crate::unit::Quantity> {
    match shown {
        Shown::Value(quantity) => Some(*quantity),
        Shown::OverRange | Shown::Blank => None,
    }
}
