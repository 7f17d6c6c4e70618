//! Does anything get ahead of the steps that make a vehicle safe? A world in which everything happens that may happen
//! works through the procedures, and a model that knows nothing of the code under test says what was true meanwhile.
//!
//! Whatever is drawn comes from a seed. `EVENWIRE_STEPS` says how many turns are taken (2 000), `EVENWIRE_SEED` which
//! seed they begin with; what fails prints the seed of its run.

mod acts;
mod books;
pub(crate) mod holes;
pub(crate) mod lapses;
mod truth;
mod walk;
pub(crate) mod world;
