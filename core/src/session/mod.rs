//! Joins everything above: an input and the time in, outputs out.

mod signal;

pub use signal::Signal;
