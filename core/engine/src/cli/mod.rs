//! The verbs of `evenwire-cli`, free of how the command line is written.

pub mod check;
pub mod decode;
pub mod judge;
mod lines;
pub mod people;
pub mod practice;
pub mod readings;
pub mod report;
pub mod run;
pub mod serve;
pub mod sweep;
