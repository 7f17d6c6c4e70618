//! One job: what a person wishes becomes events, events become its state.

mod command;
mod decide;
mod judging;
mod line;
mod proofs;
mod refusal;
mod state;
mod steps;

pub use command::{Command, MeterSpecEntry};
pub(crate) use decide::template_name_fits;
pub use line::{Line, Stage, candidate_order, vehicle_words};
pub(crate) use proofs::seen;
pub use proofs::{KeptReading, Proofs, Retired, Since};
pub use refusal::{FileMistake, Refusal, RosterRefusal};
pub use state::{GivenVerdict, Job, KeptTouch};
pub(crate) use steps::{alike, counts};
