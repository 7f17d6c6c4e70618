//! placeholder
pub mod words;
