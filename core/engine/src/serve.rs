//! The same screens in a browser, on this machine only. The page is built into the program; the bench is
//! reached through one WebSocket whose address carries a random token.

use crate::bench::Bench;
use axum::Router;
use axum::extract::ws::rejection::WebSocketUpgradeRejection;
use axum::extract::ws::{CloseFrame, Message, WebSocket, WebSocketUpgrade, close_code};
use axum::extract::{Query, State};
use axum::http::{HeaderValue, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use evenwire_core::sync::same_secret;
use evenwire_core::view::{Ask, Pushed, Reply};
use rust_embed::RustEmbed;
use serde::{Deserialize, Serialize};
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use tokio::net::TcpListener;

/// Largest message a page may send: the file of a job with as many photos as are kept, in base64.
const MOST_BYTES: usize = 96 * 1024 * 1024;
/// The page loads nothing from elsewhere and talks to nobody else.
const POLICY: &str = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
                      connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

#[derive(RustEmbed)]
#[folder = "../../ui/dist"]
#[allow_missing = true]
struct Page;

/// Random text that lets a page in.
#[derive(Clone, Debug)]
pub struct Token(String);

impl Token {
    /// 32 random hexadecimal digits.
    ///
    /// # Errors
    /// The system gives no random bytes.
    pub fn random() -> Result<Token, getrandom::Error> {
        let mut bytes = [0u8; 16];
        getrandom::fill(&mut bytes)?;
        Ok(Token(bytes.iter().map(|b| format!("{b:02x}")).collect()))
    }

    fn opens(&self, given: &str) -> bool {
        same_secret(&self.0, given)
    }
}

/// A server that listens and has not begun to answer.
pub struct Server {
    listener: TcpListener,
    token: Token,
    bench: Bench,
}

impl Server {
    /// Takes `port` of the loopback address; 0 takes a free one.
    ///
    /// # Errors
    /// The port is taken, or the system gives no random bytes.
    pub async fn bind(bench: Bench, port: u16) -> std::io::Result<Server> {
        let listener = TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, port))).await?;
        let token = Token::random().map_err(|e| std::io::Error::other(e.to_string()))?;
        Ok(Server { listener, token, bench })
    }

    /// The address to open, token included.
    ///
    /// # Errors
    /// The system does not tell the port.
    pub fn address(&self) -> std::io::Result<String> {
        Ok(format!("http://{}/?token={}", self.listener.local_addr()?, self.token.0))
    }

    /// Answers until `stop` is done, then closes the bench; false if that did not end in time, as
    /// [`Bench::close`] says.
    ///
    /// # Errors
    /// The system ends the listening.
    pub async fn run(self, stop: impl Future<Output = ()>) -> std::io::Result<bool> {
        let bench = self.bench.clone();
        let desk = Arc::new((self.bench, self.token));
        let router = Router::new().route("/socket", get(socket)).fallback(get(page)).with_state(desk);
        // Pages that are open are not waited for: some never end by themselves.
        let served = tokio::select! {
            served = axum::serve(self.listener, router) => served,
            () = stop => Ok(()),
        };
        let closed = bench.close().await;
        served.map(|()| closed)
    }
}

#[derive(Deserialize)]
struct Entrance {
    #[serde(default)]
    token: String,
}

/// The key is looked at before anything else: a page whose socket is refused cannot see why, so it asks this
/// address once more without a socket, and 403 tells it that the key is what is wrong.
async fn socket(
    upgrade: Result<WebSocketUpgrade, WebSocketUpgradeRejection>,
    Query(entrance): Query<Entrance>,
    State(desk): State<Arc<(Bench, Token)>>,
) -> Response {
    if !desk.1.opens(&entrance.token) {
        return (StatusCode::FORBIDDEN, "Open the address that the program printed; it holds a key.").into_response();
    }
    let upgrade = match upgrade {
        Ok(upgrade) => upgrade,
        Err(no_socket) => return no_socket.into_response(),
    };
    upgrade
        .max_message_size(MOST_BYTES)
        .max_frame_size(MOST_BYTES)
        .on_upgrade(move |socket| talk(socket, desk.0.clone()))
}

async fn page(uri: Uri) -> Response {
    let path = match uri.path().trim_start_matches('/') {
        "" => "index.html",
        path => path,
    };
    let Some(file) = Page::get(path) else {
        let words = if path == "index.html" { "This program was built without its page." } else { "Not here." };
        return (StatusCode::NOT_FOUND, words).into_response();
    };
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(content_type(path))),
        (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY)),
        (header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff")),
        (header::REFERRER_POLICY, HeaderValue::from_static("no-referrer")),
        (header::CACHE_CONTROL, HeaderValue::from_static("no-store")),
    ];
    (headers, file.data.into_owned()).into_response()
}

fn content_type(path: &str) -> &'static str {
    match path.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("woff2") => "font/woff2",
        _ => "application/octet-stream",
    }
}

#[derive(Deserialize)]
struct Asked {
    id: u64,
    ask: Ask,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Said {
    Answer { id: u64, reply: Reply },
    Pushed { pushed: Pushed },
}

/// As much of an ask as it takes to answer it with a failure.
#[derive(Deserialize)]
struct Numbered {
    id: u64,
}

/// What is said to something that is no ask: a failure under its number, or, without one, the end with a reason.
fn unreadable(text: &str, bench: &Bench) -> Result<Said, CloseFrame> {
    let numbered: Numbered = serde_json::from_str(text)
        .map_err(|_| CloseFrame { code: close_code::INVALID, reason: "that was no ask with a number".into() })?;
    Ok(Said::Answer { id: numbered.id, reply: Reply::Failed { notice: bench.not_understood() } })
}

/// One page: asks come in, answers and pushes go out, each ask answered in the order it came.
async fn talk(mut socket: WebSocket, bench: Bench) {
    let mut listener = bench.listen();
    loop {
        let said = tokio::select! {
            pushed = listener.next() => match pushed {
                Some(pushed) => Said::Pushed { pushed },
                None => return,
            },
            message = socket.recv() => match message {
                Some(Ok(Message::Text(text))) => match serde_json::from_str::<Asked>(&text) {
                    Ok(asked) => Said::Answer { id: asked.id, reply: bench.ask(asked.ask).await },
                    Err(error) => {
                        tracing::warn!(%error, "a page said something that is no ask");
                        match unreadable(&text, &bench) {
                            Ok(said) => said,
                            Err(why) => return end(socket, why).await,
                        }
                    }
                },
                Some(Ok(Message::Close(_)) | Err(_)) | None => return,
                Some(Ok(Message::Binary(_))) => {
                    let why = CloseFrame { code: close_code::UNSUPPORTED, reason: "asks are text".into() };
                    return end(socket, why).await;
                }
                Some(Ok(Message::Ping(_) | Message::Pong(_))) => continue,
            },
        };
        let text = serde_json::to_string(&said).expect("views and replies have only text keys");
        if socket.send(Message::Text(text.into())).await.is_err() {
            return;
        }
    }
}

async fn end(mut socket: WebSocket, why: CloseFrame) {
    // Whoever it was told to may have gone.
    let _gone = socket.send(Message::Close(Some(why))).await;
}
