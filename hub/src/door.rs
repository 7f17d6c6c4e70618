//! The door: which shop a connection is for stands in the name it is made to, and is read before a certificate is shown.
//! From then on the connection belongs to that shop, whatever is said on it.

use crate::house::{Asked, House};
use crate::rates::Peer;
use axum::middleware::AddExtension;
use axum::{Extension, Router};
use axum_server::accept::Accept;
use rustls::server::Acceptor;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio_rustls::LazyConfigAcceptor;
use tokio_rustls::server::TlsStream;
use tower_layer::Layer;

/// How long the two may take to agree on a key.
const HANDSHAKE: Duration = Duration::from_secs(10);

/// Whoever answers on a connection: a shop, who knows where the connection comes from.
type Answers = AddExtension<Router, Peer>;

/// Lets connections in.
#[derive(Clone, Debug)]
pub struct Door(pub Arc<House>);

impl<S> Accept<TcpStream, S> for Door {
    type Stream = TlsStream<TcpStream>;
    type Service = Answers;
    type Future = Pin<Box<dyn Future<Output = io::Result<(TlsStream<TcpStream>, Answers)>> + Send>>;

    fn accept(&self, stream: TcpStream, _: S) -> Self::Future {
        let house = self.0.clone();
        Box::pin(async move {
            let led = tokio::time::timeout(HANDSHAKE, let_in(&house, stream)).await;
            led.unwrap_or_else(|_| Err(io::ErrorKind::TimedOut.into()))
        })
    }
}

async fn let_in(house: &House, stream: TcpStream) -> io::Result<(TlsStream<TcpStream>, Answers)> {
    let from = stream.peer_addr()?.ip();
    let begun = LazyConfigAcceptor::new(Acceptor::default(), stream).await?;
    let asked = Asked::of(begun.client_hello().server_name(), &house.terms.hosts);
    let open = house.shop(&asked).await.map_err(|error| {
        tracing::error!(%error, ?asked, "a shop could not be opened");
        io::Error::other(error)
    })?;
    let open = open.ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
    let stream = begun.into_stream(open.shows()).await?;
    Ok((stream, Extension(open.app.rates.peer(from)).layer(open.routes.clone())))
}
