//! Joins everything above: an input and the time in, outputs out.

mod batch;
mod signal;

pub use batch::Batch;
pub use signal::Signal;
