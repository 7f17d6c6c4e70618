//! What devices ask.

pub mod body;
pub mod caller;
pub mod handover;
pub mod hub;
pub mod pairing;
pub mod stream;
