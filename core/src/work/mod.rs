//! A procedure being worked through in a job: which facts stand, what was done, and what may be begun now.
//!
//! ```text
//! wish (entry) -> may it? (decide, on what stands: held, wait) -> is it done? (done) -> Event -> Work follows (state)
//! ```
//!
//! A fact that is missing, or of which nobody can tell, is false. What no file can switch off is checked where a file
//! is read; what no sequence of wishes can get round is checked here.

mod entry;
mod held;
mod wait;
mod out;
mod state;
mod to_do;
mod lapse;
mod done;
mod decide;
mod limits;
mod closing;
mod sign;
#[cfg(test)]
mod tests;

pub use closing::Open;
pub use decide::{Evidence, Need, StepRefusal};
pub use entry::{CentreEntry, StepAct, StepEntry};
pub use held::{Held, Why};
pub use sign::Second;
pub use state::{How, StepState, Work};
pub use wait::{WAIT_FLOOR, WaitOver, Waiting};
