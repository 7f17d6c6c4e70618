//! Every notification that arrived, kept as evidence: its bytes, its time, and what was read from it.
//!
//! A chunk is at most [`MOST`] notifications. Its payload stands on its own: a version, then columns of
//! variable-length integers (time as change of the interval, digits as change, raw bytes place by place),
//! deflated (RFC 1951). Its name is the SHA-256 of the payload.

mod coding;
#[cfg(test)]
mod tests;

use super::hash::Hash;
use crate::meter::Shown;
use crate::unit::Millis;
use uuid::Uuid;

pub use coding::{CODEC, CodingError};

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
        if self.codec != CODEC {
            return Err(CodingError::Codec(self.codec));
        }
        coding::decode(&self.payload)
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
        let values: Vec<_> = self.samples.iter().flat_map(|s| &s.shown).filter_map(value_of).collect();
        let places = values.first().map_or(0, |q| q.places());
        let digits = || values.iter().filter_map(|q| q.with_places(places)).map(|q| q.digits());
        Chunk {
            id: self.id,
            job: self.job,
            generation: self.generation,
            session: self.session,
            closed,
            count: u32::try_from(self.samples.len()).expect("at most 300"),
            first_at: self.samples.first().map_or(at, |s| s.at),
            last_at: self.samples.last().map_or(at, |s| s.at),
            min: digits().min(),
            max: digits().max(),
            first: digits().next(),
            last: digits().next_back(),
            places,
            codec: CODEC,
            hash: Hash::of(&payload),
            payload,
        }
    }
}

fn value_of(shown: &Shown) -> Option<crate::unit::Quantity> {
    match shown {
        Shown::Value(quantity) => Some(*quantity),
        Shown::OverRange | Shown::Blank => None,
    }
}
