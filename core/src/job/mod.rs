//! One job: what a person wishes becomes events, events become its state.

mod command;
mod corrected;
mod decide;
mod handed;
mod judging;
mod line;
mod office;
mod proofs;
mod refusal;
mod sought;
mod stage;
mod state;
mod steps;

pub use command::{Command, LogoWish, MeterSpecEntry};
pub use corrected::{Corrected, Correction};
pub(crate) use decide::template_name_fits;
pub use handed::{HandOver, Hands, Then};
pub use line::{Line, OPEN_MARK, OpenItem, Stage, candidate_order, vehicle_words};
pub(crate) use proofs::seen;
pub use proofs::{KeptReading, Proofs, Retired, Since};
pub use refusal::{FileMistake, HandRefusal, Refusal, RosterRefusal};
pub use sought::{LookUp, MOST_BEGINNINGS, NEAR, Sought};
pub use state::{GivenVerdict, Job, KeptTouch};
pub(crate) use steps::{alike, counts};
