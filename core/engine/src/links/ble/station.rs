//! The Bluetooth system of this computer: its daemon, its adapters, and what is kept of each meter.

use super::eyes::{self, Sight, Sign};
use super::radio::{Adapter, Central, Peripheral, PeripheralCalls, Root, RootCalls, ScanFilter};
use super::tap::Tap;
use super::trouble::{Trouble, within};
use super::{Clock, Outbox, Patience};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::Duration;
use tokio::sync::broadcast;
use tokio::time::Instant;

/// New connections to a Bluetooth system that stopped answering. Each old one may stay open, and a bus
/// allows 256 of them to one program.
const RENEWALS: u32 = 200;

/// Longest time between two of them.
const RENEW_GAP: Duration = Duration::from_secs(300);

pub(super) struct Station {
    root: Option<Root>,
    sight: Sight,
    /// Adapters whose events are being read.
    watched: BTreeSet<String>,
    /// One handle and one stream for each meter, for as long as the root lives.
    kept: BTreeMap<String, Kept>,
    scanning: Option<Adapter>,
    searches: u32,
    renewal: Renewal,
    clock: Clock,
    patience: Patience,
}

struct Kept {
    peripheral: Peripheral,
    tap: Option<Tap>,
}

/// When a new root may be made, and whether it should be.
struct Renewal {
    suspect: bool,
    made: u32,
    gap: Duration,
    not_before: Option<Instant>,
}

impl Station {
    pub(super) fn new(outbox: Outbox, clock: Clock, patience: Patience) -> Station {
        let sight = Sight {
            signs: broadcast::channel(256).0,
            search: Arc::new(AtomicU32::new(0)),
            present: Arc::new(AtomicBool::new(true)),
            outbox,
            limit: patience.call,
        };
        let renewal = Renewal { suspect: false, made: 0, gap: patience.poll, not_before: None };
        let (watched, kept) = Default::default();
        Station { root: None, sight, watched, kept, scanning: None, searches: 0, renewal, clock, patience }
    }

    pub(super) fn signs(&self) -> broadcast::Receiver<Sign> {
        self.sight.signs.subscribe()
    }

    /// An adapter that is on, with its events being read.
    ///
    /// # Errors
    /// What is missing: the system, an adapter, its power, permission.
    pub(super) async fn ready(&mut self) -> Result<Adapter, Trouble> {
        if self.renewal.suspect {
            self.renew();
        }
        let root = self.root().await?;
        let adapters = match within(self.patience.call, root.adapters()).await {
            Err(Trouble::Late) => {
                self.renewal.suspect = true;
                return Err(Trouble::NoBluetooth);
            }
            // A daemon that goes away in the middle of a call answers in ways of its own.
            Err(Trouble::Failed(_) | Trouble::Gone) => return Err(Trouble::NoBluetooth),
            other => other?,
        };
        self.renewal.gap = self.patience.poll;
        let mut named = Vec::new();
        for adapter in adapters {
            // One that was pulled out a moment ago has no name any more.
            if let Ok(name) = within(self.patience.call, adapter.adapter_info()).await {
                named.push((name, adapter));
            }
        }
        // The library lists them in no order; the same one is wanted each time.
        named.sort_by(|one, other| one.0.cmp(&other.0));
        let mut trouble = Trouble::NoAdapter;
        for (name, adapter) in named {
            self.watch(name, &adapter).await?;
            if self.is_on(&adapter).await? {
                return Ok(adapter);
            }
            trouble = Trouble::AdapterOff;
        }
        Err(trouble)
    }

    async fn root(&mut self) -> Result<Root, Trouble> {
        if self.root.is_none() {
            // Opening the bus blocks its thread, so it gets one of its own.
            let runtime = tokio::runtime::Handle::current();
            let opening = tokio::task::spawn_blocking(move || runtime.block_on(Root::new()));
            let opened = tokio::time::timeout(self.patience.call, opening).await;
            self.root = Some(opened.map_err(|_| Trouble::NoBluetooth)?.map_err(|_| Trouble::NoBluetooth)?.map_err(
                |error| match Trouble::from(error) {
                    Trouble::NoPermission => Trouble::NoPermission,
                    _ => Trouble::NoBluetooth,
                },
            )?);
        }
        self.root.clone().ok_or(Trouble::NoBluetooth)
    }

    /// Leaves the present root for a new one, not too often. Its streams are not dropped: their tasks
    /// go on emptying them.
    fn renew(&mut self) {
        let now = Instant::now();
        if self.renewal.not_before.is_some_and(|at| now < at) || self.renewal.made >= RENEWALS {
            return;
        }
        tracing::warn!("the Bluetooth system does not answer: opening a new connection to it");
        self.renewal.made += 1;
        self.renewal.not_before = Some(now + self.renewal.gap);
        self.renewal.gap = (self.renewal.gap * 2).min(RENEW_GAP);
        self.renewal.suspect = false;
        self.sight.present.store(false, Ordering::Relaxed);
        self.sight.present = Arc::new(AtomicBool::new(true));
        (self.root, self.scanning) = (None, None);
        self.watched.clear();
        self.kept.clear();
    }

    /// A call was not answered in time: the connection to the system itself may be dead.
    pub(super) fn suspect(&mut self) {
        self.renewal.suspect = true;
    }

    pub(super) fn is_suspect(&self) -> bool {
        self.renewal.suspect
    }

    async fn watch(&mut self, name: String, adapter: &Adapter) -> Result<(), Trouble> {
        if !self.watched.contains(&name) {
            let events = within(self.patience.call, adapter.events()).await?;
            eyes::open(adapter.clone(), events, self.sight.clone());
            self.watched.insert(name);
        }
        Ok(())
    }

    async fn is_on(&self, adapter: &Adapter) -> Result<bool, Trouble> {
        within(self.patience.call, adapter.adapter_state()).await.map(eyes::is_on)
    }

    /// Begins to report meters.
    pub(super) fn report_found(&mut self) {
        self.searches = self.searches.wrapping_add(1).max(1);
        self.sight.search.store(self.searches, Ordering::Relaxed);
    }

    /// Reports no more meters.
    pub(super) fn report_none(&self) {
        self.sight.search.store(0, Ordering::Relaxed);
    }

    pub(super) fn is_scanning(&self) -> bool {
        self.scanning.is_some()
    }

    /// The scan has ended by itself: the adapter went off or the daemon away.
    pub(super) fn scan_is_over(&mut self) {
        self.scanning = None;
    }

    /// Starts scanning. The library's call switches the adapter on first, so the adapter is asked at
    /// the last moment, and nothing is started on one that is off.
    pub(super) async fn start_scan(&mut self, adapter: &Adapter) -> Result<(), Trouble> {
        if !self.is_on(adapter).await? {
            return Err(Trouble::AdapterOff);
        }
        self.scanning = Some(adapter.clone());
        // No service filter: a meter need not announce its services, and filters of several programs
        // are mixed by the system anyway.
        match within(self.patience.call, adapter.start_scan(ScanFilter::default())).await {
            Ok(()) | Err(Trouble::Doing) => Ok(()),
            Err(trouble) => Err(trouble),
        }
    }

    pub(super) async fn stop_scan(&mut self) {
        if let Some(adapter) = self.scanning.take() {
            // Fails when it has stopped already, which is what is wanted.
            if let Err(Trouble::Late) = within(self.patience.call, adapter.stop_scan()).await {
                self.suspect();
            }
        }
    }

    /// The handle of a meter; scans for it if the system has forgotten it.
    pub(super) async fn find(&mut self, adapter: &Adapter, id: &str) -> Result<Peripheral, Trouble> {
        let mut found = self.listed(adapter, id).await?;
        if found.is_none() {
            found = self.scan_for(adapter, id).await?;
        }
        self.stop_scan().await;
        let fresh = found.ok_or(Trouble::Gone)?;
        // The list tells that the system knows the meter. The handle first made goes on being used, for
        // its stream reads through it, and a handle holds nothing else that could grow old: services
        // are discovered anew on each connect.
        let kept = self.kept.entry(id.to_owned()).or_insert(Kept { peripheral: fresh, tap: None });
        Ok(kept.peripheral.clone())
    }

    async fn listed(&self, adapter: &Adapter, id: &str) -> Result<Option<Peripheral>, Trouble> {
        let all = within(self.patience.call, adapter.peripherals()).await?;
        Ok(all.into_iter().find(|peripheral| peripheral.id().to_string() == id))
    }

    async fn scan_for(&mut self, adapter: &Adapter, id: &str) -> Result<Option<Peripheral>, Trouble> {
        let mut signs = self.signs();
        let end = Instant::now() + self.patience.connect;
        self.start_scan(adapter).await?;
        loop {
            if let Some(found) = self.listed(adapter, id).await? {
                return Ok(Some(found));
            }
            tokio::select! {
                () = tokio::time::sleep_until(end) => return Ok(None),
                // A closed channel cannot be: we hold its sender. Too many signs are a sign as well.
                sign = signs.recv() => if sign == Ok(Sign::Power) && !self.is_on(adapter).await? {
                    return Err(Trouble::AdapterOff);
                },
            }
        }
    }

    pub(super) fn tap(&self, id: &str) -> Option<&Tap> {
        self.kept.get(id)?.tap.as_ref()
    }

    /// The reader of a meter's notifications, made the first time it is needed.
    pub(super) async fn open_tap(&mut self, id: &str) -> Result<&Tap, Trouble> {
        let kept = self.kept.get_mut(id).ok_or(Trouble::Gone)?;
        if kept.tap.as_ref().is_none_or(Tap::has_ended) {
            let stream = within(self.patience.call, kept.peripheral.notifications()).await?;
            kept.tap = Some(Tap::start(stream, self.sight.outbox.clone(), Arc::clone(&self.clock)));
        }
        kept.tap.as_ref().ok_or(Trouble::Gone)
    }
}
