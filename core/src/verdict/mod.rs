//! placeholder
pub mod words;
pub mod written;
