//! The line to a hub: one request goes out, one answer comes back, or it is cut. What is asked is known elsewhere.

use crate::clock;
use evenwire_core::sync::{Trouble, host_of, patience};
use evenwire_core::unit::{Millis, Stamp};
use futures::future::BoxFuture;
use reqwest::{Certificate, Method, redirect, tls};
use std::error::Error;
use std::fmt::Debug;
use std::net::SocketAddr;
use std::time::Duration;
use uuid::Uuid;

/// How long an address is tried.
pub(crate) const CONNECT: Duration = Duration::from_secs(5);
/// How long the largest answer may take: a job of 60 MB at 150 kbit/s.
const LONGEST: Duration = Duration::from_secs(3_600);
/// Bytes of an answer at most: a job with sixty photos, or a hundred procedures.
const MOST_ANSWER: usize = 64 * 1024 * 1024;

/// A request as it goes over the line.
#[derive(Clone)]
pub struct Request {
    /// `GET`, `POST`, `PUT`.
    pub method: Method,
    /// From the slash on.
    pub path: String,
    /// The bearer's token.
    pub token: Option<String>,
    /// What sort of bytes the body is; none: there is no body.
    pub content: Option<&'static str>,
    /// The body.
    pub body: Vec<u8>,
    /// The answer may be a job with its photos: it is waited for as long as something comes.
    pub large_answer: bool,
}

impl Debug for Request {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {} ({} bytes)", self.method, self.path, self.body.len())
    }
}

/// An answer: its status, and all of its body.
pub type Answer = (u16, Vec<u8>);

/// A line to one hub.
pub trait Line: Debug + Send + Sync {
    /// Sends and waits for the answer. What comes back as [`Trouble`] was cut: nobody knows whether it was done.
    fn carry(&self, request: Request) -> BoxFuture<'_, Result<Answer, Trouble>>;
}

/// What is around whoever sends: lines, and clocks.
pub trait Outside: Debug + Send + Sync {
    /// A line to whoever answers at `address` for that hub and shows a certificate of its authority (DER).
    fn line<'a>(&'a self, address: &'a str, hub: (Uuid, &'a [u8])) -> BoxFuture<'a, Result<Box<dyn Line>, Trouble>>;

    /// The boot clock.
    fn boot(&self) -> Millis {
        clock::boot_millis()
    }

    /// The wall clock.
    fn wall(&self) -> Stamp {
        clock::wall()
    }

    /// Asked before something is written down: where a disk that fails, or the end of the program, comes in between.
    ///
    /// # Errors
    /// [`Trouble::Disk`]: it does not come to that.
    fn before_writing(&self) -> Result<(), Trouble> {
        Ok(())
    }
}

/// The network and the clocks of this machine.
#[derive(Debug)]
pub struct Network;

impl Outside for Network {
    fn line<'a>(
        &'a self,
        address: &'a str,
        (hub, authority): (Uuid, &'a [u8]),
    ) -> BoxFuture<'a, Result<Box<dyn Line>, Trouble>> {
        Box::pin(async move {
            let socket = looked_up(address).await.ok_or(Trouble::Unreachable)?;
            // One address may answer for many hubs: the name says which is meant, and is mapped to the address.
            let line = Tls::to((&host_of(hub), socket), authority, patience(0)).ok_or(Trouble::NotUnderstood)?;
            Ok(Box::new(line) as Box<dyn Line>)
        })
    }
}

/// A line to whoever shows a certificate of one authority.
#[derive(Debug)]
pub(crate) struct Tls {
    http: reqwest::Client,
    base: String,
    /// How long nothing may come before a line counts as cut, besides the time a body takes to go.
    silence: Duration,
}

impl Tls {
    /// To whoever listens at `socket` and shows a certificate for `host` of `authority` (DER). `None`: that is none.
    pub(crate) fn to((host, socket): (&str, SocketAddr), authority: &[u8], silence: Millis) -> Option<Tls> {
        let silence = Duration::from_millis(silence.0);
        Some(Tls { http: http((host, socket), authority)?, base: format!("https://{host}:{}", socket.port()), silence })
    }
}

impl Line for Tls {
    fn carry(&self, request: Request) -> BoxFuture<'_, Result<Answer, Trouble>> {
        Box::pin(async move {
            let Request { method, path, token, content, body, large_answer } = request;
            let silence = self.silence + Duration::from_millis(patience(body.len()).since(patience(0)).0);
            let patience = if large_answer { LONGEST } else { silence };
            let mut ask = self.http.request(method, format!("{}{path}", self.base)).timeout(patience);
            if let Some(token) = token {
                ask = ask.bearer_auth(token);
            }
            if let Some(content) = content {
                ask = ask.header("content-type", content).body(body);
            }
            let silent = |_| Trouble::Unreachable;
            let answer = tokio::time::timeout(silence, ask.send()).await.map_err(silent)?;
            let mut answer = answer.map_err(|error| cut(&error))?;
            if answer.content_length().is_some_and(|length| length > MOST_ANSWER as u64) {
                return Err(Trouble::NotUnderstood);
            }
            let mut bytes = Vec::new();
            loop {
                let piece = tokio::time::timeout(silence, answer.chunk()).await.map_err(silent)?;
                let Some(chunk) = piece.map_err(|error| cut(&error))? else { break };
                bytes.extend_from_slice(&chunk);
                if bytes.len() > MOST_ANSWER {
                    return Err(Trouble::NotUnderstood);
                }
            }
            Ok((answer.status().as_u16(), bytes))
        })
    }
}

async fn looked_up(address: &str) -> Option<SocketAddr> {
    match address.parse() {
        Ok(socket) => Some(socket),
        // A name of the shop's own network.
        Err(_) => tokio::net::lookup_host(address).await.ok()?.next(),
    }
}

/// Believes one certificate and no other, speaks TLS 1.3 only, follows nobody elsewhere.
fn http((host, socket): (&str, SocketAddr), authority: &[u8]) -> Option<reqwest::Client> {
    // Whoever comes second finds the same one.
    let _there = rustls::crypto::ring::default_provider().install_default();
    reqwest::Client::builder()
        .tls_certs_only([Certificate::from_der(authority).ok()?])
        .tls_version_min(tls::Version::TLS_1_3)
        .https_only(true)
        .no_proxy()
        .redirect(redirect::Policy::none())
        .resolve(host, socket)
        .connect_timeout(CONNECT)
        .build()
        .ok()
}

/// What cut a request: a certificate that is not believed, or the network.
fn cut(error: &reqwest::Error) -> Trouble {
    let mut cause: Option<&(dyn Error + 'static)> = Some(error);
    while let Some(of) = cause {
        if matches!(of.downcast_ref(), Some(rustls::Error::InvalidCertificate(_))) {
            return Trouble::OtherCertificate;
        }
        // An I/O error that wraps another error names that error's cause as its own.
        cause = match of.downcast_ref::<std::io::Error>().and_then(|io| io.get_ref()) {
            Some(inner) => Some(inner),
            None => of.source(),
        };
    }
    Trouble::Unreachable
}
