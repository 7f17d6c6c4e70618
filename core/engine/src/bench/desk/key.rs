//! The key of the device at the desk. Where its secret is not to be had when the bench starts, work goes on, and nothing
//! is signed; a thread of its own waits for it. When it comes, what was closed meanwhile is signed.

use super::super::{faults, identity};
use super::{Desk, Message};
use crate::key_store::{self, Away};
use evenwire_core::job::Job;
use evenwire_core::record::{DeviceKey, KeptKey};
use evenwire_core::session::Output;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{self, Notice};
use evenwire_store::StoreError;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;
use tokio::sync::mpsc::WeakSender;

/// The pause between two looks at a key store that is locked or silent.
const AGAIN: Duration = Duration::from_secs(3);
/// Jobs signed after the event in one go, so that nobody at the bench waits for it; the next start goes on.
const MOST_SIGNED: usize = 40;

/// Whose ledger it is.
#[derive(Debug)]
pub(super) struct Key {
    /// As kept beside the ledger.
    pub(super) kept: KeptKey,
    key: Result<DeviceKey, Away>,
    /// Closed to stop whoever waits.
    waits: Option<Sender<()>>,
}

impl Key {
    pub(super) fn new(kept: KeptKey, key: Result<DeviceKey, Away>) -> Key {
        Key { kept, key, waits: None }
    }

    /// The key, where it is to be had.
    pub(super) fn there(&self) -> Option<DeviceKey> {
        self.key.as_ref().ok().cloned()
    }

    /// That it is away, in words.
    pub(super) fn said(&self, language: Language) -> Option<Notice> {
        self.key.as_ref().err().map(|away| faults::key_away(*away, language))
    }

    /// Where its secret is, in words.
    pub(super) fn place(&self, language: Language) -> String {
        view::key_place(self.kept.seed().is_none(), language)
    }
}

impl Desk {
    /// The key that was not to be had is waited for; it comes by `messages`. One that is there is used.
    pub(crate) fn use_key(&mut self, messages: WeakSender<Message>) {
        match self.key.there() {
            Some(key) => self.key_came(key),
            None => {
                let kept = self.key.kept.clone();
                let told = move |key| {
                    // A bench that has ended needs none.
                    if let Some(bench) = messages.upgrade() {
                        let _ended = bench.blocking_send(Message::KeyCame(key));
                    }
                };
                self.key.waits = wait(kept, told);
            }
        }
    }

    /// From here on the device signs, and has signed what was closed without its key.
    pub(super) fn key_came(&mut self, key: DeviceKey) {
        (self.urgent, self.dirty) = (true, true);
        self.key = Key { kept: self.key.kept.clone(), key: Ok(key.clone()), waits: None };
        let closed = self.closed_without().unwrap_or_else(|error| {
            tracing::error!(%error, "what was closed without the key cannot be read; the next start tries again");
            (Vec::new(), false)
        });
        if let Err(error) = self.sign_as_of_now(&key, closed) {
            tracing::error!(%error, "what was closed without the key is not signed; the next start tries again");
        }
        // Not before: whoever sends to the shop has the key from now on, and sends signatures of an entry once.
        key_store::hold(&key);
        self.at_hub.hub.grew(true);
    }

    /// Jobs that were closed or handed over without the key; whether those are all of them.
    fn closed_without(&self) -> Result<(Vec<Job>, bool), StoreError> {
        let mut jobs = Vec::new();
        let mut all = true;
        if let Some(after) = self.key.kept.unsigned_after {
            for id in self.store.unsigned_after(after)? {
                let entries = match self.store.entries_of(id) {
                    Err(error @ StoreError::Damaged { .. }) => {
                        // The others are signed all the same.
                        tracing::error!(%error, job = %id, "a job that cannot be read is not signed");
                        continue;
                    }
                    read => read?,
                };
                let job = Job::from_entries(&entries);
                let closed = job.filter(|job| job.finished.is_some() || job.hands.away().is_some());
                all &= closed.is_none() || jobs.len() < MOST_SIGNED;
                jobs.extend(closed.filter(|_| jobs.len() < MOST_SIGNED));
            }
        }
        Ok((jobs, all))
    }

    fn sign_as_of_now(&mut self, key: &DeviceKey, (jobs, all): (Vec<Job>, bool)) -> Result<(), StoreError> {
        for output in self.session.take_key(key.clone(), &jobs) {
            if let Output::Append(batch) = output {
                self.store.append(&batch)?;
            }
        }
        if all && self.key.kept.unsigned_after.take().is_some() {
            self.key.kept = identity::witness(&self.store, &self.key.kept)?;
        }
        Ok(())
    }
}

/// Whoever holds what this gives waits for the key; `told` hears of it, twice at most. The person is asked once to unlock
/// the key store, by the system itself; beside that it is looked for, because a question may stand there for good: nobody
/// answers it when the key store ends meanwhile. `None` when the system gives no thread: then the next start looks again.
fn wait(kept: KeptKey, told: impl Fn(DeviceKey) + Clone + Send + 'static) -> Option<Sender<()>> {
    let (waits, stop) = channel();
    let thread = || std::thread::Builder::new().name("evenwire-key".into());
    let (asked, tells) = (kept.clone(), told.clone());
    let asks = thread().spawn(move || key_store::ask_person(&asked).into_iter().for_each(tells));
    let looks = thread().spawn(move || look_again(&kept, &stop).into_iter().for_each(told));
    let both = asks.and(looks).inspect_err(|error| tracing::warn!(%error, "nobody waits for the key"));
    both.ok().map(|_| waits)
}

/// `None`: stopped.
fn look_again(kept: &KeptKey, stop: &Receiver<()>) -> Option<DeviceKey> {
    while stop.recv_timeout(AGAIN) != Err(RecvTimeoutError::Disconnected) {
        if let Some(key) = key_store::ask_again(kept) {
            return Some(key);
        }
    }
    None
}
