//! Links to meters. A link is a task that moves bytes and events into the engine's bounded channel and
//! does nothing else: no decoding, no disk, no screen. The Bluetooth stacks drop notifications without a
//! word when their consumer is slow, so a link never waits for anything but that channel.

pub mod ble;
mod front;
mod outbox;
mod patience;
pub mod practice;
pub mod replay;

pub use outbox::{Closed, Outbox};
pub use patience::Patience;

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

/// Counts connections of one program run, across all links: clones share the count.
#[derive(Clone, Debug, Default)]
pub struct Generations(Arc<AtomicU32>);

impl Generations {
    /// A count that starts before 1.
    pub fn new() -> Generations {
        Generations::default()
    }

    /// The number of a new connection: 1, 2, 3 … Never the same twice.
    ///
    /// ```
    /// let generations = evenwire_engine::links::Generations::new();
    /// assert_eq!((generations.next(), generations.clone().next()), (1, 2));
    /// ```
    // Not an iterator: it never ends and is shared.
    #[allow(clippy::should_implement_trait)]
    pub fn next(&self) -> u32 {
        self.0.fetch_add(1, Ordering::Relaxed) + 1
    }
}
