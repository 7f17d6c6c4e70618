//! The practice bench: a made-up part, a made-up meter and a pair of hands, all from a seed.
//!
//! Nothing in here has a clock: time is an argument, and the same seed, part and wishes give the same
//! bytes. The practice link runs it beside the real clock, `evenwire-cli practice` as fast as it can.
//!
//! ```text
//! part (ohm over angle, faults) -> contact (clips, leads) -> meter (digits) -> encoding (bytes)
//!                       ^ hands (clip, lift, turn)
//! ```

pub mod chance;
mod network;
pub mod part_model;
mod part_file;
mod random_part;
mod made_up;
pub mod meter_model;
pub mod encoding;
mod turning;
pub mod hands;
pub mod bench;
pub mod guide;
mod stage;
pub mod rehearsal;
pub mod errand;
#[cfg(test)]
mod tests;

pub use bench::{Frame, PracticeBench};
pub use encoding::Encoding;
pub use hands::{Hands, PracticeWish, Way};
pub use meter_model::{MeterModel, Misbehaviour};
pub use part_model::{PartModel, Place, Truth};
