//! What is written down for good: events in a chain of entries, personal details beside it, samples in chunks.
//!
//! Frozen: a kind that was released keeps its meaning; samples of each stand in `tests/data/events/`.

mod body;
pub mod chunk;
mod entry;
mod event;
mod fact;
mod handed;
mod hash;
mod identity;
mod office;
mod parted;
mod person;
mod personal;
mod shop;
mod signed;
mod step;
#[cfg(test)]
mod tests;

pub use body::Body;
pub use chunk::{Chunk, Gathering, Sample};
pub(crate) use entry::CARRIED;
pub use entry::{ChainError, Clock, Draft, Entry, Head, Link, MAX_CARRIED_BYTES, MAX_ENTRY_BYTES, Sealed};
pub use event::Event;
pub use fact::{
    BarState, Conditions, Instrument, IsolationFact, OldConductor, OldLevel, OldPart, PhotoFact, ResistorFact,
    SweepFact, TouchFact, ZeroFact,
};
pub use handed::{Claimed, HandedFault, Release, Telling, claims_hold, told_of, vouched};
pub use hash::{Hash, Hashing};
pub use identity::{KeptKey, Renewal, Standing, Witness, key_named, standing};
pub use office::{NotSigned, OfficeSigned};
pub use person::{FREE_TRIES, KeptPerson, PersonDetails, Pin, PinHash, Tries, folded, same_name};
pub use personal::{Details, Earlier, KeptDetails, MAX_FIELD};
pub use shop::Shop;
pub use signed::{DeviceKey, HEAD, KeptHead, MAX_JWS, NotAKey, PublicKey, SignatureError, SignedHead, SignedJob};
pub use step::{Alike, CentredHow, Done, Lamp, Outcome, ProcedureFact, StepDone, StepFact};
