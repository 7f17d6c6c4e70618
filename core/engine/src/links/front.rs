//! How a meter inside the program answers commands: as one on the radio would, but at once.

use super::Generations;
use evenwire_core::meter::link::{FoundMeter, LinkCommand, LinkEvent, LinkState, Offer, RefusedWhy};
use evenwire_core::unit::Millis;
use tokio::sync::mpsc;

/// Nobody takes the events: the link has nothing left to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Gone;

/// What a command came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Came {
    /// Values are wanted from now on.
    Listening,
    /// Values are no longer wanted.
    Quiet,
    /// Nothing that concerns values.
    Same,
}

/// The connection, if there is one.
struct Held {
    generation: u32,
    offer: Offer,
    listening: bool,
}

/// The side of a link that the engine sees.
pub(super) struct Front {
    events: mpsc::Sender<LinkEvent>,
    generations: Generations,
    found: FoundMeter,
    held: Option<Held>,
}

impl Front {
    pub(super) fn new(events: mpsc::Sender<LinkEvent>, generations: Generations, found: FoundMeter) -> Front {
        Front { events, generations, found, held: None }
    }

    /// Values are wanted.
    pub(super) fn is_listening(&self) -> bool {
        self.held.as_ref().is_some_and(|held| held.listening)
    }

    /// Obeys a command. `offer` is what the meter offers now.
    pub(super) async fn obey(&mut self, command: LinkCommand, offer: Offer) -> Result<Came, Gone> {
        match command {
            LinkCommand::Search => {
                self.state(LinkState::Searching).await?;
                self.send(LinkEvent::Found(self.found.clone())).await?;
            }
            LinkCommand::StopSearch if self.held.is_none() => self.state(LinkState::Idle).await?,
            LinkCommand::StopSearch => {}
            LinkCommand::Connect { id } => return self.connect(&id, offer).await,
            LinkCommand::Listen { generation, service, characteristic } => {
                // One for another connection comes late; it is not wrong.
                let Some(held) = self.held.as_mut().filter(|held| held.generation == generation) else {
                    return Ok(Came::Same);
                };
                let offered = |c: &evenwire_core::meter::link::Channel| {
                    c.service == service && c.characteristic == characteristic && c.notifies
                };
                held.listening = held.offer.channels.iter().any(offered);
                if !held.listening {
                    self.held = None;
                    self.state(LinkState::Refused { why: RefusedWhy::Notifications }).await?;
                    return Ok(Came::Quiet);
                }
                self.state(LinkState::Subscribed).await?;
                return Ok(Came::Listening);
            }
            LinkCommand::Disconnect => {
                self.held = None;
                self.state(LinkState::Idle).await?;
                return Ok(Came::Quiet);
            }
        }
        Ok(Came::Same)
    }

    async fn connect(&mut self, id: &str, offer: Offer) -> Result<Came, Gone> {
        self.held = None;
        self.state(LinkState::Connecting).await?;
        if id != self.found.id {
            self.state(LinkState::Refused { why: RefusedWhy::Connection }).await?;
            return Ok(Came::Quiet);
        }
        self.state(LinkState::Discovering).await?;
        let generation = self.generations.next();
        self.held = Some(Held { generation, offer: offer.clone(), listening: false });
        self.send(LinkEvent::Connected { generation, offer }).await?;
        Ok(Came::Quiet)
    }

    /// Passes a notification on, if values are wanted.
    pub(super) async fn notify(&self, bytes: Vec<u8>, at: Millis) -> Result<(), Gone> {
        let Some(held) = self.held.as_ref().filter(|held| held.listening) else { return Ok(()) };
        let channel = held.offer.channels.first().expect("only an offered channel is listened to");
        let characteristic = channel.characteristic;
        self.send(LinkEvent::Bytes { generation: held.generation, characteristic, bytes, at }).await
    }

    /// The meter is no longer there and will not come back by itself.
    pub(super) async fn end(&mut self) -> Result<(), Gone> {
        self.held = None;
        self.state(LinkState::Lost { attempt: 1, retry_ms: 0 }).await?;
        self.state(LinkState::GaveUp).await
    }

    async fn state(&self, state: LinkState) -> Result<(), Gone> {
        self.send(LinkEvent::State(state)).await
    }

    async fn send(&self, event: LinkEvent) -> Result<(), Gone> {
        self.events.send(event).await.map_err(|_| Gone)
    }
}
