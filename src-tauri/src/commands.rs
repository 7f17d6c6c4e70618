//! What the page may call.

use evenwire_core::view::{Ask, Notice, Pushed, Reply};
use evenwire_engine::bench::Bench;
use tauri::{AppHandle, Manager, State, ipc::Channel};

/// The bench, or why there is none: then every ask is answered with that.
pub type Desk = Result<Bench, Notice>;

/// Hands one ask of the page to the bench and gives back what it says.
///
/// A refusal or a fault is a reply like any other. The call itself is rejected only when `ask` is no
/// [`Ask`] at all, which is a bug of the page.
#[tauri::command]
pub async fn tell(ask: Ask, app: AppHandle) -> Reply {
    let bench = app.state::<Desk>().inner().clone();
    match bench {
        Ok(bench) => bench.ask(ask).await,
        Err(notice) => Reply::Failed { notice },
    }
}

/// Sends every push of the bench over `channel` until the page is gone.
#[tauri::command]
pub fn watch(channel: Channel<Pushed>, desk: State<'_, Desk>) {
    let Ok(bench) = desk.inner() else { return };
    let mut listener = bench.listen();
    tauri::async_runtime::spawn(async move {
        while let Some(pushed) = listener.next().await {
            if channel.send(pushed).is_err() {
                return;
            }
        }
    });
}
