//! Where the running bench is set down: the one place in the shell that knows how it is started,
//! asked and listened to.

use evenwire_core::view::{Ask, Notice, Pushed, Reply};
use std::path::Path;
use tokio::sync::broadcast;

/// How many pushes a slow page may fall behind before the oldest are dropped.
const PUSHES_KEPT: usize = 64;

/// The bench as the shell holds it.
pub struct Desk {
    pushes: broadcast::Sender<Pushed>,
}

impl Desk {
    /// Sets the bench down on the ledger at `database`.
    pub fn set_down(database: &Path) -> Desk {
        tracing::warn!(database = %database.display(), "this build has a window and no bench behind it");
        Desk { pushes: broadcast::channel(PUSHES_KEPT).0 }
    }

    /// Hands an ask to the bench and waits for what it says.
    ///
    /// As long as this build carries no bench every ask fails in words: nothing is answered on its behalf.
    pub async fn ask(&self, _ask: Ask) -> Reply {
        let notice = Notice {
            code: "no-bench".into(),
            words: "This build of Evenwire has a window and no bench behind it. Nothing was done or recorded.".into(),
            remedy: "Install a build that measures.".into(),
        };
        Reply::Failed { notice }
    }

    /// Everything the bench pushes from now on.
    pub fn watch(&self) -> broadcast::Receiver<Pushed> {
        self.pushes.subscribe()
    }
}
