//! What is asked of a hub, one request a function. Whoever is not the hub of the invitation is told nothing.

use super::line::{Line, Outside, Request};
use evenwire_core::record::{DeviceKey, Hash};
use evenwire_core::sync::{
    Assertion, Changes, Handovers, Heads, HeadsStored, HubCard, JWT_BEARER, Missing, PROTOCOL, PairingAsk, PairingView,
    Problem, PushAsk, Stored, Tail, Token, TokenAsk, Trouble, WaitingJob,
};
use evenwire_core::unit::Millis;
use reqwest::{Method, Url};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::sync::Arc;
use uuid::Uuid;

/// How long an assertion is good, seconds, and how long before its end a token is not shown any more.
const ASSERTED: (i64, u64) = (120, 60);
/// The status of "ask less often".
const TOO_MANY: u16 = 429;

/// Why a request came to nothing.
#[derive(Debug)]
pub(super) enum Fault {
    /// What stands between device and hub.
    Trouble(Trouble),
    /// The hub said no.
    Said(Box<Problem>),
}

impl From<Trouble> for Fault {
    fn from(trouble: Trouble) -> Fault {
        Fault::Trouble(trouble)
    }
}

impl Fault {
    /// What a screen says of it, where nothing better is known.
    pub(super) fn trouble(self) -> Trouble {
        let problem = match self {
            Fault::Trouble(trouble) => return trouble,
            Fault::Said(problem) => problem,
        };
        match problem.code.as_str() {
            "code" => Trouble::Code,
            "unknown-device" | "revoked" | "other-key" => Trouble::Revoked,
            "fork" => Trouble::Fork { sequence: problem.sequence.unwrap_or(0) },
            "full" => Trouble::Full,
            "too-often" | "too-slow" | "fault" => Trouble::Unreachable,
            _ => {
                tracing::warn!(code = problem.code, detail = problem.detail, "the hub says no");
                Trouble::NotUnderstood
            }
        }
    }

    /// The hub said no with this code.
    pub(super) fn is(&self, code: &str) -> bool {
        matches!(self, Fault::Said(problem) if problem.code == code)
    }
}

/// Which hub is meant, and how it is known.
#[derive(Clone, Debug)]
pub(super) struct Meant {
    pub(super) hub: Uuid,
    pub(super) addresses: Vec<String>,
    /// DER.
    pub(super) authority: Vec<u8>,
}

/// A hub that answered.
#[derive(Debug)]
pub(super) struct Client {
    line: Box<dyn Line>,
    outside: Arc<dyn Outside>,
    pub(super) card: HubCard,
    /// The boot clock when the card came.
    at: Millis,
    token: Option<(String, Millis)>,
}

impl Client {
    /// Tries the addresses in their order; the first at which the hub that is meant answers is the one.
    pub(super) async fn reach(outside: &Arc<dyn Outside>, meant: &Meant) -> Result<Client, Trouble> {
        let mut worst = Trouble::Unreachable;
        for address in &meant.addresses {
            match Client::at(outside, address, meant).await {
                Ok(client) => return Ok(client),
                Err(Trouble::Unreachable) => {}
                Err(other) => worst = other,
            }
        }
        Err(worst)
    }

    async fn at(outside: &Arc<dyn Outside>, address: &str, meant: &Meant) -> Result<Client, Trouble> {
        let line = outside.line(address, (meant.hub, &meant.authority)).await?;
        let answer = send(&*line, get("/v1/hub")).await.map_err(Fault::trouble)?;
        let card: HubCard = read(&answer).map_err(Fault::trouble)?;
        if card.hub != meant.hub {
            return Err(Trouble::OtherCertificate);
        }
        if card.protocol > PROTOCOL {
            return Err(Trouble::NewerProtocol);
        }
        let outside = outside.clone();
        Ok(Client { line, at: outside.boot(), outside, card, token: None })
    }

    pub(super) async fn pair(&self, ask: &PairingAsk) -> Result<PairingView, Fault> {
        read(&send(&*self.line, post("/v1/pairings", ask)).await?)
    }

    pub(super) async fn pairing(&self, pairing: Uuid) -> Result<PairingView, Fault> {
        read(&send(&*self.line, get(&format!("/v1/pairings/{pairing}"))).await?)
    }

    pub(super) async fn tail(&mut self, who: &Who) -> Result<Tail, Fault> {
        read(&self.ask(who, get("/v1/devices/me")).await?)
    }

    pub(super) async fn push(&mut self, who: &Who, batch: &PushAsk) -> Result<Stored, Fault> {
        read(&self.ask(who, post("/v1/devices/me/entries", batch)).await?)
    }

    pub(super) async fn heads(&mut self, who: &Who, heads: &Heads) -> Result<HeadsStored, Fault> {
        read(&self.ask(who, post("/v1/devices/me/heads", heads)).await?)
    }

    pub(super) async fn missing(&mut self, who: &Who, asked: &Missing) -> Result<Missing, Fault> {
        read(&self.ask(who, post("/v1/blobs:missing", asked)).await?)
    }

    pub(super) async fn put(&mut self, who: &Who, hash: Hash, bytes: &[u8]) -> Result<(), Fault> {
        let put = get(&format!("/v1/blobs/{hash}"));
        let content = Some("application/octet-stream");
        self.ask(who, Request { method: Method::PUT, content, body: bytes.to_vec(), ..put }).await.map(drop)
    }

    pub(super) async fn changes(&mut self, who: &Who, after: u64) -> Result<Changes, Fault> {
        read(&self.ask(who, get(&format!("/v1/changes?after={after}"))).await?)
    }

    pub(super) async fn handovers(&mut self, who: &Who) -> Result<Handovers, Fault> {
        read(&self.ask(who, get("/v1/handovers")).await?)
    }

    pub(super) async fn take_over(&mut self, who: &Who, job: Uuid) -> Result<WaitingJob, Fault> {
        read(&self.ask(who, post(&format!("/v1/handovers/{job}/claims"), &())).await?)
    }

    pub(super) async fn handed_over(&mut self, who: &Who, job: Uuid) -> Result<Vec<u8>, Fault> {
        self.ask(who, Request { large_answer: true, ..get(&format!("/v1/handovers/{job}")) }).await
    }

    /// Asks as a device of the shop. A token that is not taken any more is fetched anew, once.
    async fn ask(&mut self, who: &Who, request: Request) -> Result<Vec<u8>, Fault> {
        let mut fresh = false;
        loop {
            let token = match &self.token {
                Some((token, until)) if *until > self.outside.boot() => token.clone(),
                _ => {
                    fresh = true;
                    self.fetch_token(who).await?
                }
            };
            match send(&*self.line, Request { token: Some(token), ..request.clone() }).await {
                Err(fault) if fault.is("token") && !fresh => self.token = None,
                answer => return answer,
            }
        }
    }

    async fn fetch_token(&mut self, who: &Who) -> Result<String, Fault> {
        let now = self.outside.boot();
        let exp = (self.card.time.unix_millis() + now.since(self.at).0 as i64) / 1_000 + ASSERTED.0;
        let jti = who.random().ok_or(Trouble::NotUnderstood)?;
        let claims = Assertion { iss: who.device, sub: who.device, aud: self.card.hub, exp, jti };
        let ask = TokenAsk { grant_type: JWT_BEARER.into(), assertion: claims.sign(&who.key) };
        let form = Request { content: Some("application/x-www-form-urlencoded"), ..post("/v1/token", &()) };
        let token: Token = read(&send(&*self.line, Request { body: filled(&ask), ..form }).await?)?;
        let good = u64::from(token.expires_in).saturating_sub(ASSERTED.1) * 1_000;
        self.token = Some((token.access_token.clone(), Millis(now.0 + good)));
        Ok(token.access_token)
    }
}

fn get(path: &str) -> Request {
    Request {
        method: Method::GET,
        path: path.to_owned(),
        token: None,
        content: None,
        body: Vec::new(),
        large_answer: false,
    }
}

fn post(path: &str, body: &impl Serialize) -> Request {
    let body = serde_json::to_vec(body).expect("what is asked is written in JSON");
    Request { method: Method::POST, content: Some("application/json"), body, ..get(path) }
}

/// As a form is written.
fn filled(ask: &TokenAsk) -> Vec<u8> {
    let mut url = Url::parse("form:").expect("an address");
    url.query_pairs_mut().append_pair("grant_type", &ask.grant_type).append_pair("assertion", &ask.assertion);
    url.query().unwrap_or_default().as_bytes().to_vec()
}

/// Who asks.
#[derive(Clone)]
pub(super) struct Who {
    pub(super) device: Uuid,
    pub(super) key: DeviceKey,
}

impl Who {
    fn random(&self) -> Option<Uuid> {
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes).ok()?;
        Some(uuid::Builder::from_random_bytes(bytes).into_uuid())
    }
}

/// Sends; an answer that says no is a fault.
async fn send(line: &dyn Line, request: Request) -> Result<Vec<u8>, Fault> {
    let (status, body) = line.carry(request).await?;
    if (200..300).contains(&status) {
        return Ok(body);
    }
    match read::<Problem>(&body) {
        Ok(problem) => Err(Fault::Said(Box::new(problem))),
        Err(_) if status >= 500 || status == TOO_MANY => Err(Trouble::Unreachable.into()),
        Err(_) => {
            tracing::warn!(status, "the hub says no, and not why");
            Err(Trouble::NotUnderstood.into())
        }
    }
}

fn read<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Fault> {
    serde_json::from_slice(bytes).map_err(|error| {
        tracing::warn!(%error, "the hub answers something else than was agreed");
        Trouble::NotUnderstood.into()
    })
}
