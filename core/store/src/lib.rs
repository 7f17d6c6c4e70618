//! The ledger and the sample chunks in one SQLite file.
//!
//! [`Store::append`] writes a [`Batch`](evenwire_core::session::Batch) in one transaction, all of it or nothing.
//! The exact bytes of an entry are the truth; every column beside them is read from them in the same insert.
//! The file defends itself: triggers stop whoever edits the ledger or a closed chunk by other means, and
//! [`Store::check`] finds what was changed behind SQLite's back.

mod append;
mod backup;
mod check;
mod delivery;
mod erase;
mod error;
mod find;
mod heads;
mod key;
mod lock;
mod open;
mod people;
mod read;
mod rescue;
mod row;
mod schema;
#[cfg(test)]
mod tests;

// The builders of the tests name this crate as those outside do.
#[cfg(test)]
extern crate self as evenwire_store;

pub use append::ChunkRefused;
pub use backup::restore;
pub use check::{BadChunk, BadEntry, CheckReport, MOST_FINDINGS, Walk};
pub use delivery::{Delivered, Delivery, DeliveryGlance, Named, PairedHub, There};
pub use error::StoreError;
pub use heads::HeadRefused;
pub use read::{Counts, Glance};
pub use rescue::Rescue;
pub use schema::{APPLICATION_ID, FORMAT};

use std::path::PathBuf;

/// One ledger file, opened by its only writer. As long as it lives, no other opens the file.
#[derive(Debug)]
pub struct Store {
    conn: rusqlite::Connection,
    path: PathBuf,
    // Last, so that it is let go of when the file is closed.
    _lock: lock::Lock,
}
