//! Fetching a job that a device on the same network offers. Only the addresses of the offer are gone to, and only whoever
//! has its certificate is asked for anything.

use crate::hub::{CONNECT, Line, Request, Tls};
use evenwire_core::sync::{OFFER_HOST, Offer, OfferTrouble, Trouble, is_near};
use evenwire_core::unit::Millis;
use futures::stream::{FuturesUnordered, StreamExt};
use reqwest::Method;
use std::net::SocketAddr;
use tokio::net::TcpStream;

/// A job that was fetched. It is not to be kept before that was asked for.
#[derive(Debug)]
pub(crate) struct Fetched {
    /// The file, as the other device wrote it; nobody looked at it yet.
    pub(crate) file: Vec<u8>,
    line: Tls,
    code: String,
}

/// Fetches what the text offers; `silence`: how long the other device may send nothing.
///
/// # Errors
/// [`OfferTrouble`].
pub(super) async fn fetch(text: &str, silence: Millis) -> Result<Fetched, OfferTrouble> {
    let offer = Offer::read(text)?;
    let certificate = offer.certificate().ok_or(OfferTrouble::NotWhole)?;
    let sockets: Option<Vec<SocketAddr>> = offer.addresses.iter().map(|address| address.parse().ok()).collect();
    let sockets = sockets.ok_or(OfferTrouble::NotWhole)?;
    if !sockets.iter().all(|socket| is_near(socket.ip())) {
        return Err(OfferTrouble::Far);
    }
    // Which of its networks this device is in is not known to the other one: who answers first is asked first.
    let mut answering: FuturesUnordered<_> = sockets.into_iter().map(answers).collect();
    let mut worst = OfferTrouble::Unreachable;
    while let Some(socket) = answering.next().await {
        let Some(socket) = socket else { continue };
        let line = Tls::to((OFFER_HOST, socket), &certificate, silence).ok_or(OfferTrouble::NotWhole)?;
        match ask(&line, &offer.code, (Method::GET, "/v1/job")).await {
            Ok(file) => return Ok(Fetched { file, line, code: offer.code }),
            Err(OfferTrouble::Unreachable) => {}
            Err(other) => worst = other,
        }
    }
    Err(worst)
}

impl Fetched {
    /// Asks whether it may be kept: of all who fetched it, one may.
    ///
    /// # Errors
    /// [`OfferTrouble`]; then it is not kept, for somebody else may have been told yes.
    pub(crate) async fn keep(&self) -> Result<(), OfferTrouble> {
        ask(&self.line, &self.code, (Method::POST, "/v1/job/taken")).await.map(drop)
    }
}

async fn answers(socket: SocketAddr) -> Option<SocketAddr> {
    let connected = tokio::time::timeout(CONNECT, TcpStream::connect(socket)).await;
    connected.ok()?.ok().map(|_| socket)
}

async fn ask(line: &Tls, code: &str, (method, path): (Method, &str)) -> Result<Vec<u8>, OfferTrouble> {
    let token = Some(code.to_owned());
    let request = Request { method, path: path.to_owned(), token, content: None, body: Vec::new(), large_answer: true };
    match line.carry(request).await {
        Ok((200 | 204, bytes)) => Ok(bytes),
        Ok((401 | 410, _)) => Err(OfferTrouble::Over),
        Ok((status, _)) => {
            tracing::warn!(status, "the other device says no, and not why");
            Err(OfferTrouble::NotUnderstood)
        }
        Err(Trouble::OtherCertificate) => Err(OfferTrouble::OtherCertificate),
        Err(Trouble::NotUnderstood) => Err(OfferTrouble::NotUnderstood),
        Err(_) => Err(OfferTrouble::Unreachable),
    }
}
