//! One job: what a person wishes becomes events, events become its state.

mod command;
mod line;

pub use command::{Command, MeterSpecEntry, Refusal};
pub use line::{Line, Stage};
