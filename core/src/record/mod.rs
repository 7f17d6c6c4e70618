//! What is written down for good.

mod personal;

pub use personal::Details;
