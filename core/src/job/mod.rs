//! One job: what a person wishes becomes events, events become its state.

mod command;

pub use command::{Command, Conditions, MeterSpecEntry, Refusal};
