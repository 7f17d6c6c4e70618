//! The Bluetooth LE link. The only file that names the Bluetooth library; the others in `ble/` use
//! what [`radio`] passes on.
//!
//! What it promises, whatever the radio does:
//! - an adapter that a person switched off stays off;
//! - every call has a time limit of our own, and a failed or cancelled connect is followed by a disconnect;
//! - no notification is lost, doubled or put out of order between the Bluetooth system and the engine;
//! - each connect has a new generation, and each value carries the one it came through;
//! - a stream of notifications, once opened, is kept and read for as long as the Bluetooth system lives:
//!   the library panics in a task of its own when one is dropped while messages come in.
//!
//! ```text
//! Search ──> search.rs ─┐                       ┌─> eyes.rs   adapter events, always read
//! Connect ─> hold.rs ───┴─> station.rs (daemon, adapters) ─> tap.rs  notifications, always read
//! ```

mod eyes;
mod hold;
mod offer;
mod pulse;
mod search;
mod station;
mod tap;
mod trouble;

/// The part of the Bluetooth library that is used.
mod radio {
    pub use btleplug::Error;
    pub use btleplug::api::{
        Central, CentralEvent, CentralState, CharPropFlags, Characteristic, Manager as RootCalls,
        Peripheral as PeripheralCalls, ScanFilter, ValueNotification,
    };
    pub use btleplug::platform::{Adapter, Manager as Root, Peripheral};
}

use super::{Closed, Generations, Outbox, Patience};
use evenwire_core::meter::link::{LinkCommand, LinkEvent, LinkState};
use evenwire_core::unit::Millis;
use station::Station;
use std::fmt;
use std::sync::Arc;
use tokio::sync::mpsc;

type Clock = Arc<dyn Fn() -> Millis + Send + Sync>;

/// The Bluetooth LE link, ready to run. One for each process.
pub struct BleLink {
    clock: Clock,
    generations: Generations,
    patience: Patience,
}

impl fmt::Debug for BleLink {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("BleLink").field("patience", &self.patience).finish_non_exhaustive()
    }
}

impl BleLink {
    /// A link that stamps what arrives with `clock` (boot clock) and numbers its connections from
    /// `generations`.
    pub fn new(clock: impl Fn() -> Millis + Send + Sync + 'static, generations: Generations) -> BleLink {
        BleLink { clock: Arc::new(clock), generations, patience: Patience::default() }
    }

    /// Other waiting times than the usual ones.
    #[must_use]
    pub fn with_patience(mut self, patience: Patience) -> BleLink {
        self.patience = patience;
        self
    }

    /// Obeys `commands` and reports into `events` until either end is dropped; then lets the meter go.
    ///
    /// Never panics on anything the radio says. A search or connect that cannot be done now is reported
    /// as a state and tried again by itself; [`LinkState::Refused`] and [`LinkState::GaveUp`] wait for a
    /// new command. While a meter is held, a search is not begun: the meter is let go first.
    pub async fn run(self, commands: mpsc::Receiver<LinkCommand>, events: mpsc::Sender<LinkEvent>) {
        let outbox = Outbox::open(events);
        let voice = Voice { outbox: outbox.clone(), last: None };
        let station = Station::new(outbox.clone(), Arc::clone(&self.clock), self.patience.clone());
        let work = Work { commands, voice, station, generations: self.generations, patience: self.patience };
        // Ends with `Closed` only: a command channel that is dropped, or nobody who takes the events.
        let Closed = work.run().await;
    }
}

/// Tells states, each change once.
struct Voice {
    outbox: Outbox,
    last: Option<LinkState>,
}

impl Voice {
    async fn state(&mut self, state: LinkState) -> Result<(), Closed> {
        if self.last == Some(state) {
            return Ok(());
        }
        self.last = Some(state);
        tracing::debug!(?state, "ble link");
        self.outbox.send(LinkEvent::State(state)).await
    }
}

/// Everything the running link has in hand.
struct Work {
    commands: mpsc::Receiver<LinkCommand>,
    voice: Voice,
    station: Station,
    generations: Generations,
    patience: Patience,
}

impl Work {
    async fn run(mut self) -> Closed {
        let mut wish = None;
        loop {
            let next = match wish.take() {
                Some(LinkCommand::Search) => self.search().await,
                Some(LinkCommand::Connect { id }) => self.hold(&id).await,
                Some(LinkCommand::Disconnect | LinkCommand::StopSearch) => {
                    match self.voice.state(LinkState::Idle).await {
                        Ok(()) => self.next_command().await,
                        Err(closed) => Err(closed),
                    }
                }
                // A listen that comes after its connection has gone is late, not wrong.
                Some(LinkCommand::Listen { .. }) | None => self.next_command().await,
            };
            match next {
                Ok(command) => wish = command,
                Err(closed) => return closed,
            }
        }
    }

    async fn next_command(&mut self) -> Result<Option<LinkCommand>, Closed> {
        tokio::select! {
            command = self.commands.recv() => command.map(Some).ok_or(Closed),
            () = self.voice.outbox.closed() => Err(Closed),
        }
    }
}
