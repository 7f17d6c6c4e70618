//! The running bench: one thread owns session and store; links to meters; the screens on loopback.
//!
//! Data goes one way: bytes from [`links`] into the bench thread ([`bench`]), through core, into the store, and
//! only then to whoever shows it ([`serve`], the window). Time comes from [`clock`] and from nowhere else.

pub mod bench;
pub mod claim;
pub mod cli;
pub mod clock;
mod code;
pub mod ending;
pub mod hub;
pub mod key_store;
pub mod links;
pub mod near;
pub mod photo;
pub mod place;
pub mod practice;
pub mod report;
pub mod serve;
