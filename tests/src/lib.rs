//! Stories over the whole, and what they stand on: a stand-in for the Bluetooth daemon, so that the real link
//! is tried on machines without a radio; a person's key store; a driver for the real window; the rules about the code.

pub mod bluez;
pub mod hub_yard;
pub mod keyring;
pub mod link_bench;
pub mod radio_bench;
pub mod rules;
pub mod sim;
pub mod trials;
pub mod window;
pub mod yard;
