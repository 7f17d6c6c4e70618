//! The session at an invented bench: what is recorded is true, whatever happens and in whatever order.

pub(crate) mod bench;
pub(crate) mod interlocks;
mod corrections;
mod erasing;
pub(crate) mod handed;
mod library;
mod proofs;
mod random;
mod sealing;
mod stories;
