//! The way of a job to a device on the same network, without a hub: this device listens for a few minutes and hands out
//! one file, to whoever shows the code that stands on its screen. What is agreed on is in [`evenwire_core::sync`].

mod door;
mod handle;
mod taker;

pub use handle::{Near, NearSetting};
