//! The verbs of `evenwire-cli`, free of how the command line is written.

pub mod decode;
pub mod judge;
mod lines;
pub mod sweep;
