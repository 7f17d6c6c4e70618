//! What the page may call.

use crate::desk::Desk;
use evenwire_core::view::{Ask, Pushed, Reply};
use tauri::{AppHandle, Manager, State, ipc::Channel};
use tokio::sync::broadcast::error::RecvError;

/// Hands one ask of the page to the bench and gives back what it says.
///
/// A refusal or a fault is a reply like any other. The call itself is rejected only when `ask` is no
/// [`Ask`] at all, which is a bug of the page.
#[tauri::command]
pub async fn tell(ask: Ask, app: AppHandle) -> Reply {
    app.state::<Desk>().ask(ask).await
}

/// Sends every push of the bench over `channel` until the page is gone.
///
/// A page that falls behind goes on with the newest pushes: a view is whole, and a tone that comes
/// late would say something that is no longer so.
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
