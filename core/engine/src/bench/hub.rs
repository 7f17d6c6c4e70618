//! The bench's side of the thread that sends to the shop.

use super::desk::Message;
use crate::hub::{Hub, News, Setting};
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{Ask, Reply, hub_notice};
use futures::FutureExt;
use std::path::Path;
use tokio::sync::{mpsc, oneshot, watch};

/// Starts it beside the bench that takes these messages. It keeps no bench going: it ends when that is over.
pub(super) fn start(
    database: &Path,
    (messages, over): (mpsc::WeakSender<Message>, watch::Receiver<()>),
) -> std::io::Result<Hub> {
    let bench = move |news| {
        let messages = messages.clone();
        async move {
            let (reply, answer) = oneshot::channel();
            let message = match news {
                News::Wish(command) => Message::Ask { ask: Ask::Do { command: *command }, reply },
                News::Signed(given) => Message::SignedAtOffice { given, reply },
            };
            messages.upgrade()?.send(message).await.ok()?;
            answer.await.ok()
        }
        .boxed()
    };
    Hub::start(Setting { ledger: database.to_owned(), bench: Box::new(bench), over })
}

/// What a page asks of it.
pub(super) async fn answer(hub: &Hub, ask: Ask, language: Language) -> Reply {
    let came = match ask {
        Ask::PairWithShop { invitation, name } => hub.pair(&invitation, &name).await,
        Ask::SendToShop => hub.send().await,
        Ask::LeaveShop => hub.unpair().await,
        Ask::PutNoteAway { number } => {
            hub.put_away(number).await;
            Ok(())
        }
        _ => Ok(()),
    };
    match came {
        Ok(()) => Reply::Done,
        Err(trouble) => Reply::Failed { notice: hub_notice(trouble, language) },
    }
}
