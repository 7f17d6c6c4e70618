//! What the bench says without being asked: the newest view, and every signal.

use evenwire_core::session::Signal;
use evenwire_core::view::{Pushed, View};
use std::sync::Arc;
use tokio::sync::{broadcast, watch};

/// The newest view; older ones are not kept.
pub(super) type Latest = Arc<View>;

/// One who listens. Views that come faster than they are taken are skipped, signals are not.
#[derive(Debug)]
pub struct Listener {
    views: watch::Receiver<Latest>,
    signals: broadcast::Receiver<Signal>,
}

impl Listener {
    pub(super) fn new(mut views: watch::Receiver<Latest>, signals: broadcast::Receiver<Signal>) -> Listener {
        views.mark_changed();
        Listener { views, signals }
    }

    /// The next thing said; `None` when the bench has ended.
    pub async fn next(&mut self) -> Option<Pushed> {
        loop {
            tokio::select! {
                biased;
                signal = self.signals.recv() => match signal {
                    Ok(signal) => return Some(Pushed::Signal { signal }),
                    // A listener this slow has missed tones; the view tells it all that matters.
                    Err(broadcast::error::RecvError::Lagged(_)) => {}
                    Err(broadcast::error::RecvError::Closed) => return None,
                },
                changed = self.views.changed() => {
                    changed.ok()?;
                    let view = View::clone(&self.views.borrow_and_update());
                    return Some(Pushed::View { view: Box::new(view) });
                }
            }
        }
    }
}
