//! Reads one meter's notifications, always, and passes on those that were asked for.

use super::pulse::Pulse;
use super::radio::ValueNotification;
use super::{Clock, Outbox};
use evenwire_core::meter::link::LinkEvent;
use futures::{Stream, StreamExt};
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::{mpsc, oneshot};
use tokio::time::Instant;
use uuid::Uuid;

pub(super) type Notifications = Pin<Box<dyn Stream<Item = ValueNotification> + Send>>;

/// Values kept back between opening and [`Tap::flow`]; more than this are passed on at once.
const HELD: usize = 4_096;

/// Which values are wanted, and under which number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Wanted {
    pub generation: u32,
    pub service: Uuid,
    pub characteristic: Uuid,
}

/// The handle of a running reader.
#[derive(Debug)]
pub(super) struct Tap {
    orders: mpsc::Sender<(Order, oneshot::Sender<()>)>,
    pulse: Arc<Mutex<Pulse>>,
}

#[derive(Debug)]
enum Order {
    Open(Wanted),
    Flow,
    Close,
}

impl Tap {
    /// Starts reading. The task lives as long as the stream does, whatever becomes of the handle.
    pub(super) fn start(stream: Notifications, outbox: Outbox, clock: Clock) -> Tap {
        let (orders, inbox) = mpsc::channel(4);
        let pulse = Arc::new(Mutex::new(Pulse::new(Instant::now())));
        let reader = Reader { outbox, clock, pulse: Arc::clone(&pulse), wanted: None, held: None, inbox: Some(inbox) };
        tokio::spawn(reader.run(stream));
        Tap { orders, pulse }
    }

    /// The stream has ended; on BlueZ it never does.
    pub(super) fn has_ended(&self) -> bool {
        self.orders.is_closed()
    }

    /// Forgets everything that came before, then keeps what comes until [`Tap::flow`].
    pub(super) async fn open(&self, wanted: Wanted) {
        self.order(Order::Open(wanted)).await;
    }

    /// Passes on what was kept, and from now on everything as it comes.
    pub(super) async fn flow(&self) {
        self.order(Order::Flow).await;
    }

    /// Passes on everything that has arrived, then nothing more.
    pub(super) async fn close(&self) {
        self.order(Order::Close).await;
    }

    pub(super) fn pulse(&self) -> MutexGuard<'_, Pulse> {
        lock(&self.pulse)
    }

    async fn order(&self, order: Order) {
        let (done, wait) = oneshot::channel();
        if self.orders.send((order, done)).await.is_ok() {
            // An error means that the stream ended: nothing is passed on any more, as after a close.
            let _ = wait.await;
        }
    }
}

struct Reader {
    outbox: Outbox,
    clock: Clock,
    pulse: Arc<Mutex<Pulse>>,
    wanted: Option<Wanted>,
    held: Option<Vec<LinkEvent>>,
    /// `None` once the handle is gone: then the stream is only emptied.
    inbox: Option<mpsc::Receiver<(Order, oneshot::Sender<()>)>>,
}

impl Reader {
    async fn run(mut self, mut stream: Notifications) {
        loop {
            // Values first: an order takes effect when all that came before it has been dealt with, so
            // that a new generation never gets a value of an older one and a close loses none.
            tokio::select! {
                biased;
                value = stream.next() => match value {
                    Some(value) => self.take(value).await,
                    None => return,
                },
                order = next_order(&mut self.inbox) => match order {
                    Some((order, done)) => {
                        self.obey(order).await;
                        // Whoever gave the order may have been cancelled.
                        let _ = done.send(());
                    }
                    None => (self.inbox, self.wanted, self.held) = (None, None, None),
                },
            }
        }
    }

    async fn take(&mut self, value: ValueNotification) {
        let Some(wanted) = self.wanted else { return };
        // A read of any characteristic arrives like a notification too.
        if (value.service_uuid, value.uuid) != (wanted.service, wanted.characteristic) {
            return;
        }
        lock(&self.pulse).beat(Instant::now());
        let event = LinkEvent::Bytes {
            generation: wanted.generation,
            characteristic: value.uuid,
            bytes: value.value,
            at: (self.clock)(),
        };
        match &mut self.held {
            Some(held) if held.len() < HELD => held.push(event),
            _ => {
                self.release().await;
                self.pass(event).await;
            }
        }
    }

    async fn obey(&mut self, order: Order) {
        match order {
            Order::Open(wanted) => {
                *lock(&self.pulse) = Pulse::new(Instant::now());
                (self.wanted, self.held) = (Some(wanted), Some(Vec::new()));
            }
            Order::Flow => self.release().await,
            Order::Close => {
                self.release().await;
                self.wanted = None;
            }
        }
    }

    async fn release(&mut self) {
        for event in self.held.take().into_iter().flatten() {
            self.pass(event).await;
        }
    }

    async fn pass(&self, event: LinkEvent) {
        // The link ends by itself when nobody listens; the stream must be emptied all the same.
        let _ = self.outbox.send(event).await;
    }
}

fn lock(pulse: &Mutex<Pulse>) -> MutexGuard<'_, Pulse> {
    pulse.lock().unwrap_or_else(PoisonError::into_inner)
}

async fn next_order(
    inbox: &mut Option<mpsc::Receiver<(Order, oneshot::Sender<()>)>>,
) -> Option<(Order, oneshot::Sender<()>)> {
    match inbox {
        Some(orders) => orders.recv().await,
        None => std::future::pending().await,
    }
}
