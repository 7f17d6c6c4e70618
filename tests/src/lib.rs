//! Stories over the whole, and what they need: above all a stand-in for the Bluetooth daemon, so that
//! the real link is tried on machines without a radio.

pub mod bluez;
pub mod link_bench;
