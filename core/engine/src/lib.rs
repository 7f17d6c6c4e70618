//! The running bench.

pub mod links;
