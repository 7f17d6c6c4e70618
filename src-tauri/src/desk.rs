//! Where the running bench is set down: the one place in the shell that knows how it is started,
//! asked and listened to.

use serde::Serialize;
use serde_json::Value;
use std::path::{Path, PathBuf};
use tokio::sync::broadcast;

/// What a page may ask, as it comes over the wire.
pub type Ask = Value;
/// What the bench says to an ask that was granted.
pub type Answer = Value;
/// What the bench pushes unasked: a new view of the session.
pub type Pushed = Value;

/// Why an ask was not granted. The page decides by `code`; `what` is for the log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Refusal {
    /// A stable word with dashes.
    pub code: &'static str,
    /// One sentence in English.
    pub what: String,
}

/// How many pushes a slow page may fall behind before it is handed only the newest.
const PUSHES_KEPT: usize = 64;

/// The bench as the shell holds it.
pub struct Desk {
    database: PathBuf,
    pushes: broadcast::Sender<Pushed>,
}

impl Desk {
    /// Sets the bench down on the ledger at `database`.
    pub fn set_down(database: PathBuf) -> Desk {
        Desk { database, pushes: broadcast::channel(PUSHES_KEPT).0 }
    }

    /// The file the ledger is kept in.
    pub fn database(&self) -> &Path {
        &self.database
    }

    /// Hands an ask to the bench and waits for what it says.
    ///
    /// # Errors
    /// `no-bench` as long as this build carries none: nothing is ever answered on its behalf.
    pub async fn ask(&self, _ask: Ask) -> Result<Answer, Refusal> {
        Err(Refusal { code: "no-bench", what: "This build has a window and no bench behind it.".into() })
    }

    /// Everything the bench pushes from now on.
    pub fn watch(&self) -> broadcast::Receiver<Pushed> {
        self.pushes.subscribe()
    }
}
