//! Reads the events of one adapter, always, and turns them into meters found and signs for the link.

use super::Outbox;
use super::radio::{Adapter, Central, CentralEvent, CentralState, PeripheralCalls};
use super::trouble::within;
use evenwire_core::meter::link::{FoundMeter, LinkEvent, Source};
use futures::{Stream, StreamExt};
use std::collections::BTreeMap;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::Duration;
use tokio::sync::broadcast;
use tokio::time::Instant;

pub(super) type Events = Pin<Box<dyn Stream<Item = CentralEvent> + Send>>;

/// Meters remembered as already reported; a hall with more devices than this hears some of them twice.
const REMEMBERED: usize = 1_024;

/// Shortest time between two reports of the same meter.
const AGAIN: Duration = Duration::from_millis(500);

/// Something the adapter told. A hint only: the link asks before it acts on one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Sign {
    /// A device is said to have disconnected.
    Left(String),
    /// A device advertises.
    Heard,
    /// The adapter was switched on or off.
    Power,
}

/// What the readers of all adapters share with the link.
#[derive(Clone, Debug)]
pub(super) struct Sight {
    pub signs: broadcast::Sender<Sign>,
    /// Number of the running search; 0 is none.
    pub search: Arc<AtomicU32>,
    /// The connection to the Bluetooth system these readers belong to is the present one.
    pub present: Arc<AtomicBool>,
    pub outbox: Outbox,
    pub limit: Duration,
}

/// Starts reading `events`; the task lives as long as they do.
pub(super) fn open(adapter: Adapter, events: Events, sight: Sight) {
    tokio::spawn(watch(adapter, events, sight));
}

async fn watch(adapter: Adapter, mut events: Events, sight: Sight) {
    let mut told = BTreeMap::new();
    let mut search = 0;
    while let Some(event) = events.next().await {
        if !sight.present.load(Ordering::Relaxed) {
            // An older connection: emptied, so that it does not grow, and otherwise not heard.
            continue;
        }
        let sign = match &event {
            CentralEvent::DeviceDisconnected(id) => Sign::Left(id.to_string()),
            CentralEvent::StateUpdate(_) => Sign::Power,
            _ => Sign::Heard,
        };
        // No receiver only means that nobody waits for a sign now.
        let _ = sight.signs.send(sign);
        let now_searching = sight.search.load(Ordering::Relaxed);
        if std::mem::replace(&mut search, now_searching) != now_searching {
            told.clear();
        }
        if search != 0
            && let Some(meter) = found(&adapter, &event, &sight).await
            && is_news(&mut told, &meter)
            && sight.outbox.send(LinkEvent::Found(meter)).await.is_err()
        {
            sight.search.store(0, Ordering::Relaxed);
        }
    }
}

async fn found(adapter: &Adapter, event: &CentralEvent, sight: &Sight) -> Option<FoundMeter> {
    let (CentralEvent::DeviceDiscovered(id) | CentralEvent::DeviceUpdated(id) | CentralEvent::RssiUpdate { id, .. }) =
        event
    else {
        return None;
    };
    let peripheral = within(sight.limit, adapter.peripheral(id)).await.ok()?;
    let told = within(sight.limit, peripheral.properties()).await.ok()??;
    // Without a strength it was not heard now: the system only remembers it.
    let signal = Some(told.rssi?);
    Some(FoundMeter { id: id.to_string(), name: told.local_name.unwrap_or_default(), signal, source: Source::Radio })
}

fn is_news(told: &mut BTreeMap<String, (FoundMeter, Instant)>, meter: &FoundMeter) -> bool {
    let now = Instant::now();
    if let Some((last, at)) = told.get(&meter.id)
        && (last == meter || now - *at < AGAIN)
    {
        return false;
    }
    if told.len() >= REMEMBERED {
        told.clear();
    }
    told.insert(meter.id.clone(), (meter.clone(), now));
    true
}

/// The adapter is certainly not off.
pub(super) fn is_on(state: CentralState) -> bool {
    // Some systems say "unknown" until they have asked the person for permission.
    state != CentralState::PoweredOff
}
