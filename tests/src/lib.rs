//! Stories over the whole, and what they stand on.

pub mod rules;
pub mod window;
