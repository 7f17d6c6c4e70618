//! The way to the shop's hub: what is recorded here is sent there, by a thread of its own that the bench never waits for.
//!
//! It reads the ledger's file beside the bench ([`evenwire_store::Glance`]), keeps what it knows of the hub in a file of
//! its own ([`evenwire_store::Delivery`]), and hands what the office did to the bench, which decides on it.

mod client;
mod courier;
mod handle;
mod handover;
mod line;
mod news;
mod pairing;
mod round;
mod worker;

pub use courier::Courier;
pub use handle::{Hub, News, Setting};
pub use handover::{Fetched, fetch, waiting};
pub use line::{Answer, Line, Network, Outside, Request};
pub(crate) use line::{CONNECT, Tls};
pub use worker::ToBench;
