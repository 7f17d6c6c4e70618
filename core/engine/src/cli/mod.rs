//! The verbs of `evenwire-cli`, free of how the command line is written.

pub mod backup;
pub mod check;
pub mod claim;
pub mod decode;
pub mod erase;
pub mod handover;
pub mod hub;
pub mod judge;
mod lines;
pub mod people;
pub mod practice;
pub mod readings;
pub mod report;
pub mod rescue;
pub mod run;
pub mod serve;
pub mod sweep;
pub mod verify;
