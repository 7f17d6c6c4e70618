//! Sending without a thread of its own: whoever holds it says when, and over which line.

use super::line::Outside;
use super::worker::{ToBench, Worker};
use evenwire_core::sync::{AtShop, Invitation, Trouble};
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::watch;

/// What [`super::Hub`]'s thread does, one thing at a time. Dropped in the middle of one it is as if the program had ended.
pub struct Courier(Worker);

impl std::fmt::Debug for Courier {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Courier").field(&self.0.ledger).finish()
    }
}

impl Courier {
    /// For the ledger in this file. What the office did goes to `bench`.
    pub fn new(ledger: PathBuf, bench: ToBench, outside: Arc<dyn Outside>) -> Courier {
        Courier(Worker::new(ledger, bench, (watch::channel(Arc::default()).0, outside)))
    }

    /// One round: until everything is there, or something is in the way.
    ///
    /// # Errors
    /// [`Trouble`]; what came through before it is known.
    pub async fn round(&mut self) -> Result<(), Trouble> {
        self.0.round().await
    }

    /// Asks the shop of `invitation` to take the device in as `name`.
    ///
    /// # Errors
    /// [`Trouble`]; what was paired before still is.
    pub async fn ask_in(&mut self, invitation: &Invitation, name: &str) -> Result<(), Trouble> {
        self.0.ask_in(invitation, name.to_owned()).await
    }

    /// Asks whether the office said yes.
    pub async fn ask_office(&mut self) {
        self.0.ask_office().await;
    }

    /// Forgets the shop.
    ///
    /// # Errors
    /// [`Trouble::Disk`].
    pub fn leave(&mut self) -> Result<(), Trouble> {
        self.0.leave()
    }

    /// How things stand.
    pub fn standing(&self) -> AtShop {
        self.0.standing()
    }
}
