//! The way out of a link: in order, nothing lost, and with room for a burst before it makes anyone wait.

use evenwire_core::meter::link::LinkEvent;
use tokio::sync::mpsc;

/// Events kept while the engine is busy. A meter at 10 Hz fills this in hours; when it is full,
/// [`Outbox::send`] waits and what comes in meanwhile stays where the system keeps it.
pub const ROOM: usize = 131_072;

/// The engine no longer listens: the link has nothing left to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("nobody takes the events of this link")]
pub struct Closed;

/// Where a link puts its events. Clones put into the same queue.
#[derive(Clone, Debug)]
pub struct Outbox(mpsc::Sender<LinkEvent>);

impl Outbox {
    /// Starts the task that carries events on to the engine, in the order they were put in.
    /// Must be called inside a tokio runtime.
    pub fn open(events: mpsc::Sender<LinkEvent>) -> Outbox {
        let (sender, mut queue) = mpsc::channel(ROOM);
        tokio::spawn(async move {
            loop {
                let next = tokio::select! {
                    next = queue.recv() => next,
                    () = events.closed() => None,
                };
                let Some(event) = next else { return };
                if events.send(event).await.is_err() {
                    return;
                }
            }
        });
        Outbox(sender)
    }

    /// Puts an event in line; waits only when [`ROOM`] events are waiting.
    ///
    /// # Errors
    /// [`Closed`] when the engine has dropped its end.
    pub async fn send(&self, event: LinkEvent) -> Result<(), Closed> {
        self.0.send(event).await.map_err(|_| Closed)
    }

    /// Waits until the engine has dropped its end.
    pub async fn closed(&self) {
        self.0.closed().await;
    }
}
