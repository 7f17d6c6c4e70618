//! What the page may call.

use crate::desk::{Answer, Ask, Desk, Pushed, Refusal};
use tauri::{State, ipc::Channel};
use tokio::sync::broadcast::error::RecvError;

/// Hands one wish of the person to the bench and gives back what it says.
///
/// # Errors
/// The bench's refusal, with a code the page can decide by.
#[tauri::command]
pub async fn tell(ask: Ask, desk: State<'_, Desk>) -> Result<Answer, Refusal> {
    desk.ask(ask).await
}

/// Sends every push of the bench over `channel` until the page is gone.
///
/// A page that falls behind skips to the newest pushes: each one is a whole view, so nothing that
/// counts is lost with an older one.
#[tauri::command]
pub fn watch(channel: Channel<Pushed>, desk: State<'_, Desk>) {
    let mut pushes = desk.watch();
    tauri::async_runtime::spawn(async move {
        loop {
            match pushes.recv().await {
                Ok(pushed) => {
                    if channel.send(pushed).is_err() {
                        return;
                    }
                }
                Err(RecvError::Lagged(skipped)) => tracing::warn!(skipped, "the page fell behind"),
                Err(RecvError::Closed) => return,
            }
        }
    });
}
