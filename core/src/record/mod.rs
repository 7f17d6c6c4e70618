//! What is written down for good: events in a chain of entries, personal details beside it, samples in chunks.
//!
//! Frozen: a kind that was released keeps its meaning; samples of each stand in `tests/data/events/`.

pub mod chunk;
mod entry;
mod event;
mod fact;
mod hash;
mod person;
mod personal;
mod step;
#[cfg(test)]
mod tests;

pub use chunk::{Chunk, Gathering, Sample};
pub use entry::{ChainError, Clock, Draft, Entry, Head, MAX_ENTRY_BYTES, Sealed};
pub use event::Event;
pub use fact::{
    BarState, Conditions, Instrument, IsolationFact, OldConductor, OldLevel, OldPart, PhotoFact, ResistorFact,
    SweepFact, TouchFact, ZeroFact,
};
pub use hash::Hash;
pub use person::{FREE_TRIES, KeptPerson, PersonDetails, Pin, PinHash, Tries};
pub use personal::{Details, KeptDetails, MAX_FIELD};
pub use step::{Alike, CentredHow, Done, Lamp, Outcome, ProcedureFact, StepDone, StepFact};
