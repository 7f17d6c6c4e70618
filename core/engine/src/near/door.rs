//! Who is let in while a job is offered, and what they are given: a thread of its own, which the bench never waits for.

use super::handle::Standing;
use crate::clock::{boot_millis, wall};
use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use evenwire_core::sync::{OfferEnd, OfferRefused, Offering};
use evenwire_core::unit::Millis;
use futures::stream::{self, SelectAll, Stream, StreamExt};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use rustls::ServerConfig;
use std::convert::Infallible;
use std::net::TcpListener;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio_rustls::TlsAcceptor;

/// Connections at a time: one device needs two at most, and who takes all of them away cannot exhaust the bench.
const MOST_CONNECTIONS: usize = 16;
/// How long the two may take to agree on a key, and the head of a request to come.
const HANDSHAKE: Duration = Duration::from_secs(10);
/// How long a connection lives: 64 MB at 2 Mbit/s. Whoever is slower is cut, and uses the file.
const LONGEST: Duration = Duration::from_secs(4 * 60);
/// How long the last answer may take to leave.
const FAREWELL: Duration = Duration::from_secs(2);
/// How long it takes a breath when the system lets nobody in: it may have no more files to give.
const BREATH: Duration = Duration::from_millis(200);
/// Bytes of the file that are handed on at a time.
const PIECE: usize = 64 * 1024;

/// What whoever is let in finds.
pub(super) struct Room {
    pub(super) file: Bytes,
    pub(super) code: String,
    pub(super) standing: Standing,
}

impl Room {
    /// Does something with the offer, if it still is this one.
    fn with<T>(&self, deed: impl FnOnce(&mut Offering) -> Result<T, OfferRefused>) -> Result<T, OfferRefused> {
        let mut came = Err(OfferRefused::Over);
        self.standing.send_modify(|standing| {
            if let Some(offering) = standing.as_mut().filter(|offering| offering.is(&self.code)) {
                came = deed(offering);
            }
        });
        came
    }

    fn ends_by(&self, end: OfferEnd) {
        // Another one may be offered by now.
        let _this_one = self.with(|offering| {
            offering.ends_by(end);
            Ok(())
        });
    }
}

/// Where somebody listens.
pub(super) struct Door {
    pub(super) listeners: Vec<TcpListener>,
    pub(super) shows: Arc<ServerConfig>,
    pub(super) room: Arc<Room>,
    pub(super) lasts: Millis,
    pub(super) over: watch::Receiver<()>,
}

impl Door {
    /// Lets in until the offer or the bench ends.
    pub(super) async fn serve(self) {
        let Door { listeners, shows, room, lasts, mut over } = self;
        let mut standing = room.standing.subscribe();
        let mut talks = JoinSet::new();
        let ended = async {
            let ended = |standing: &Option<Offering>| {
                !standing.as_ref().is_some_and(|offering| offering.is(&room.code) && offering.end.is_none())
            };
            // The sender is held by the room.
            standing
                .wait_for(ended)
                .await
                .is_ok_and(|how| how.as_ref().is_some_and(|how| matches!(how.end, Some(OfferEnd::HandedOut { .. }))))
        };
        let handed_out = tokio::select! {
            // Whoever heard yes is let go first, whatever else ends now.
            biased;
            handed_out = ended => handed_out,
            () = let_in(listeners, (TlsAcceptor::from(shows), routes(&room)), &mut talks) => false,
            () = tokio::time::sleep(Duration::from_millis(lasts.0)) => {
                room.ends_by(OfferEnd::Time);
                false
            }
            () = async { while over.changed().await.is_ok() {} } => false,
        };
        if handed_out {
            // Who was told that it may keep the job hears that it was; nobody else is waited for.
            let _late = tokio::time::timeout(FAREWELL, async { while talks.join_next().await.is_some() {} }).await;
        }
    }
}

/// Never ends by itself. Who comes when there is no room is cut at once.
async fn let_in(listeners: Vec<TcpListener>, (tls, routes): (TlsAcceptor, Router), talks: &mut JoinSet<()>) {
    let mut arriving: SelectAll<_> = listeners.into_iter().filter_map(arrivals).collect();
    loop {
        tokio::select! {
            Some(stream) = arriving.next() => {
                if talks.len() < MOST_CONNECTIONS {
                    talks.spawn(talk(stream, tls.clone(), routes.clone()));
                }
            }
            Some(_ended) = talks.join_next() => {}
            else => return std::future::pending().await,
        }
    }
}

fn arrivals(listener: TcpListener) -> Option<Pin<Box<dyn Stream<Item = TcpStream> + Send>>> {
    let listener = tokio::net::TcpListener::from_std(listener).ok()?;
    Some(Box::pin(stream::unfold(listener, |listener| async {
        loop {
            match listener.accept().await {
                Ok((stream, _)) => return Some((stream, listener)),
                Err(_) => tokio::time::sleep(BREATH).await,
            }
        }
    })))
}

/// What goes wrong on a connection concerns whoever is at its other end.
async fn talk(stream: TcpStream, tls: TlsAcceptor, routes: Router) {
    let _whole = tokio::time::timeout(LONGEST, async {
        let Ok(Ok(stream)) = tokio::time::timeout(HANDSHAKE, tls.accept(stream)).await else { return };
        let mut http = http1::Builder::new();
        http.timer(TokioTimer::new()).header_read_timeout(HANDSHAKE);
        let _cut = http.serve_connection(TokioIo::new(stream), TowerToHyperService::new(routes)).await;
    })
    .await;
}

/// Every way in.
fn routes(room: &Arc<Room>) -> Router {
    Router::new().route("/v1/job", get(file)).route("/v1/job/taken", post(taken)).with_state(room.clone())
}

/// The file, to whoever shows the code.
async fn file(State(room): State<Arc<Room>>, headers: HeaderMap) -> Response {
    let begun = room.with(|offering| {
        offering.opens(code_in(&headers), boot_millis())?;
        offering.fetching += 1;
        Ok(())
    });
    if let Err(refused) = begun {
        return no(refused);
    }
    let (length, fetch) = (room.file.len(), Fetch(room.clone()));
    let pieces = (0..length).step_by(PIECE).map(move |at| {
        let file = &fetch.0.file;
        Ok::<Bytes, Infallible>(file.slice(at..file.len().min(at + PIECE)))
    });
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("application/zip")),
        (header::CONTENT_LENGTH, HeaderValue::from(length)),
    ];
    (headers, Body::from_stream(stream::iter(pieces))).into_response()
}

/// Whoever has all of it asks whether it may keep it. Yes is said once.
async fn taken(State(room): State<Arc<Room>>, headers: HeaderMap) -> Response {
    let handed_out = room.with(|offering| offering.hand_out(code_in(&headers), (boot_millis(), wall())));
    match handed_out {
        // Nothing comes after it on this connection.
        Ok(()) => (StatusCode::NO_CONTENT, [(header::CONNECTION, "close")]).into_response(),
        Err(refused) => no(refused),
    }
}

fn no(refused: OfferRefused) -> Response {
    match refused {
        OfferRefused::Code => StatusCode::UNAUTHORIZED.into_response(),
        OfferRefused::Over => StatusCode::GONE.into_response(),
    }
}

fn code_in(headers: &HeaderMap) -> &str {
    let shown = headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
    shown.and_then(|value| value.strip_prefix("Bearer ")).unwrap_or_default()
}

/// A fetch that goes on until the last piece was handed on, or the line is cut.
struct Fetch(Arc<Room>);

impl Drop for Fetch {
    fn drop(&mut self) {
        // Another one may be offered by now.
        let _this_one = self.0.with(|offering| {
            offering.fetching -= 1;
            Ok(())
        });
    }
}

#[cfg(test)]
mod tests {
    use super::super::handle::certificate;
    use super::*;
    use evenwire_core::sync::{OFFER_LASTS, Offer, serving};
    use tokio::io::AsyncReadExt;
    use tokio::time::Instant;
    use uuid::Uuid;

    const CODE: &str = "7K2M9QXTB0";

    fn shows() -> Arc<ServerConfig> {
        let (certificate, key) = certificate().unwrap();
        serving(vec![certificate], key).unwrap()
    }

    /// A door on this machine, and where it is. Nothing but its own time ends it.
    fn door() -> (Door, Standing, watch::Sender<()>) {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        listener.set_nonblocking(true).unwrap();
        let offer = Offer::new(vec![listener.local_addr().unwrap().to_string()], b"certificate", CODE.into());
        let begun = Offering::begin(Uuid::from_u128(7), &offer, (boot_millis(), OFFER_LASTS), wall()).unwrap();
        let standing: Standing = Arc::new(watch::Sender::new(Some(begun)));
        let room = Arc::new(Room { file: Bytes::from_static(b"file"), code: CODE.into(), standing: standing.clone() });
        let (running, over) = watch::channel(());
        let door = Door { listeners: vec![listener], shows: shows(), room, lasts: OFFER_LASTS, over };
        (door, standing, running)
    }

    #[tokio::test(start_paused = true)]
    async fn after_ten_minutes_nobody_is_let_in_any_more() {
        let (door, standing, _running) = door();
        let at = door.listeners[0].local_addr().unwrap();
        let begun = Instant::now();
        door.serve().await;
        let took = begun.elapsed();
        assert!(took >= Duration::from_secs(600) && took < Duration::from_secs(601), "{took:?}");
        assert_eq!(standing.borrow().as_ref().unwrap().end, Some(OfferEnd::Time));
        assert!(std::net::TcpStream::connect(at).is_err(), "nobody listens");
    }

    #[tokio::test(start_paused = true)]
    async fn it_ends_with_the_bench_and_when_something_else_is_offered() {
        let (door, standing, running) = door();
        drop(running);
        door.serve().await;
        assert_eq!(standing.borrow().as_ref().unwrap().end, None, "how it ended is nobody's news any more");
        let (door, standing, _running) = self::door();
        standing.send_replace(None);
        let begun = Instant::now();
        door.serve().await;
        assert_eq!(begun.elapsed(), Duration::ZERO);
    }

    #[tokio::test(start_paused = true)]
    async fn whoever_comes_and_says_nothing_is_cut() {
        let (door, _standing, _running) = door();
        let at = door.listeners[0].local_addr().unwrap();
        let serving = tokio::spawn(door.serve());
        let mut silent = TcpStream::connect(at).await.unwrap();
        let begun = Instant::now();
        assert_eq!(silent.read(&mut [0; 64]).await.unwrap(), 0, "cut, and told nothing");
        let took = begun.elapsed();
        assert!(took >= HANDSHAKE && took < HANDSHAKE * 2, "{took:?}");
        serving.abort();
    }
}
