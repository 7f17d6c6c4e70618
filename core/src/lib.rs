//! The rules of the bench. Pure: no clock, disk, radio, screen, async or log.
//!
//! The modules stand in the order a measurement travels; a module uses only those above it
//! (a test holds us to it). What goes where:
//!
//! ```text
//! notification bytes -> Reading -> Touch -> Verdict -> Event -> Entry -> Job -> View
//! ```

pub mod unit;
pub mod copper;
pub mod torque;
pub mod vin;
pub mod dtc;
pub mod meter;
pub mod settle;
pub mod sweep;
pub mod verdict;
pub mod caution;
pub mod part;
pub mod procedure;
pub mod record;
pub mod work;
pub mod job;
pub mod sync;
pub mod claim;
pub mod session;
pub mod view;
pub mod report;

// Builders of tests that other crates use, too, name this crate as those outside do.
#[cfg(test)]
extern crate self as evenwire_core;
