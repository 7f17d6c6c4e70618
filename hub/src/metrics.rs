//! How much there is, for whoever watches the machine: text of the Prometheus form, told on the machine itself alone.

use crate::house::House;
use crate::problem::Refused;
use crate::storage::Counts;
use axum::extract::State;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::routing::get;
use axum::{Router, serve};
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use tokio::net::TcpListener;

/// Answers at `port` of the loopback address until it is ended; where it listens comes first.
///
/// # Errors
/// As the operating system says.
pub async fn listen(
    house: Arc<House>,
    port: u16,
) -> io::Result<(SocketAddr, impl Future<Output = ()> + Send + 'static)> {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).await?;
    let at = listener.local_addr()?;
    let routes = Router::new().route("/metrics", get(tell)).with_state(house);
    let answering = async move {
        if let Err(error) = serve(listener, routes).await {
            tracing::error!(%error, "metrics are not told any more");
        }
    };
    Ok((at, answering))
}

/// Name, what it counts, and how it is read.
type Gauge = (&'static str, &'static str, fn(&Counts) -> u64);

const GAUGES: [Gauge; 9] = [
    ("devices", "Devices that may come", |counts| counts.devices),
    ("entries", "Entries of all ledgers", |counts| counts.entries),
    ("blobs", "Files beside the entries", |counts| counts.blobs),
    ("blob_bytes", "Bytes of the files beside the entries", |counts| counts.blob_bytes),
    ("missing", "Files that entries want and that are not here", |counts| counts.missing),
    ("stale_lines", "Lines of the list that are to be made anew", |counts| counts.stale),
    ("doomed_blobs", "Files that have to go", |counts| counts.doomed),
    ("forks", "Entries that part from those that are here", |counts| counts.forks),
    ("quarantine", "Entries this program does not understand", |counts| counts.quarantine),
];

/// Of every shop that is open here; one with a name is told by it.
async fn tell(State(house): State<Arc<House>>) -> Result<impl IntoResponse, Refused> {
    let mut all = Vec::new();
    for open in house.all_open() {
        let label = if open.name.is_empty() { String::new() } else { format!("{{shop=\"{}\"}}", open.name) };
        all.push((label, open.app.storage.counts().await?));
    }
    let mut text = String::new();
    for (name, what, of) in GAUGES {
        text += &format!("# HELP evenwire_hub_{name} {what}.\n# TYPE evenwire_hub_{name} gauge\n");
        for (label, counts) in &all {
            text += &format!("evenwire_hub_{name}{label} {}\n", of(counts));
        }
    }
    Ok(([(CONTENT_TYPE, "text/plain; version=0.0.4")], text))
}
