//! After the start everything that is recorded is looked at once, on a thread of its own and through a connection that
//! only reads. It goes a few rows at a time, with a pause after each, so that measuring is not slowed. What it comes to
//! reaches the desk as a message.

use super::super::faults;
use super::{Desk, Message};
use evenwire_core::verdict::words::Language;
use evenwire_core::view::Notice;
use evenwire_store::{CheckReport, Glance, StoreError, Walk};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::mpsc::WeakSender;

/// Rows looked at in one go: a few milliseconds.
const ROWS: u32 = 64;
/// The pause after each.
const PAUSE: Duration = Duration::from_millis(10);

/// A look that goes on. Dropped, it stops, and the ledger is let go of when that returns.
#[derive(Debug)]
pub(super) struct Look {
    /// Closed to stop it.
    on: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Look {
    /// Begins to look at the ledger at `path`; `told` hears what came of it, unless it is stopped before. `None` when
    /// the system gives no thread: then nobody looks.
    pub(super) fn begin(
        path: PathBuf,
        told: impl FnOnce(Result<CheckReport, StoreError>) + Send + 'static,
    ) -> Option<Look> {
        let (on, stop) = channel();
        let thread = std::thread::Builder::new().name("evenwire-look".into()).spawn(move || {
            if let Some(came) = look(&path, &stop) {
                told(came);
            }
        });
        let thread = thread.inspect_err(|error| tracing::warn!(%error, "nobody looks at the whole record")).ok()?;
        Some(Look { on: Some(on), thread: Some(thread) })
    }
}

impl Drop for Look {
    fn drop(&mut self) {
        self.on = None;
        // A panic there has been told by the system; the bench goes on.
        if let Some(thread) = self.thread.take() {
            let _panicked = thread.join();
        }
    }
}

/// What is known of everything recorded before.
#[derive(Debug, Default)]
pub(super) struct Sound {
    look: Option<Look>,
    /// Something in it is not whole.
    pub(super) unsound: Option<CheckReport>,
}

impl Sound {
    /// That, in words.
    pub(super) fn said(&self, language: Language) -> Option<Notice> {
        Some(faults::not_whole(self.unsound.as_ref()?, language))
    }
}

impl Desk {
    /// Begins to look at everything that is recorded, and tells itself by `messages` what came of it.
    pub(crate) fn look_at_everything(&mut self, messages: WeakSender<Message>) {
        let told = move |came| {
            // A bench that has ended wants to know no more.
            if let Some(bench) = messages.upgrade() {
                let _ended = bench.blocking_send(Message::Looked(came));
            }
        };
        self.sound.look = Look::begin(self.store.path().to_owned(), told);
    }

    /// Something that is not whole is told until the program ends; what happens meanwhile goes before it.
    pub(super) fn looked(&mut self, came: Result<CheckReport, StoreError>) {
        match came {
            Ok(report) if report.is_whole() => return,
            Ok(report) => {
                tracing::error!(?report, "the record is not whole");
                self.sound.unsound = Some(report);
            }
            Err(error) => drop(self.not_read(&error)),
        }
        self.dirty = true;
        self.urgent = true;
    }
}

/// `None`: stopped.
fn look(path: &Path, stop: &Receiver<()>) -> Option<Result<CheckReport, StoreError>> {
    let glance = match Glance::at(path) {
        Ok(glance) => glance,
        Err(error) => return Some(Err(error)),
    };
    let mut walk = Walk::begin();
    loop {
        if stop.recv_timeout(PAUSE) == Err(RecvTimeoutError::Disconnected) {
            return None;
        }
        match glance.step(&mut walk, ROWS) {
            Ok(true) => {}
            Ok(false) => return Some(Ok(walk.report().clone())),
            Err(error) => return Some(Err(error)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenwire_store::Store;

    #[test]
    fn a_look_that_is_stopped_says_nothing_and_one_that_is_not_comes_to_its_end() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.db");
        let _store = Store::open(&path, uuid::Uuid::from_u128(7)).unwrap();
        let (on, stop) = channel::<()>();
        assert!(look(&path, &stop).unwrap().unwrap().is_whole());
        drop(on);
        assert!(look(&path, &stop).is_none());
        let (on, stop) = channel::<()>();
        assert!(
            look(&folder.path().join("none.db"), &stop).unwrap().is_err(),
            "nothing is said of a record nobody read"
        );
        drop(on);
    }
}
