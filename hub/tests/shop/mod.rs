//! A shop: a hub on a folder of its own, bound to a port of its own, and phones that talk to it over TLS.

#![allow(dead_code, reason = "each test file uses some of it")]

pub mod balancer;
pub mod bare;
pub mod many;
#[cfg(unix)]
pub mod process;
pub mod server;

use evenwire_core::record::{
    Body, Clock as WallClock, Details, DeviceKey, Draft, Event, Hash, Head, KeptDetails, PhotoFact, Sealed,
};
use evenwire_core::sync::{
    Assertion, Changes, Heads, HeadsStored, Invitation, JWT_BEARER, Missing, PairingAsk, PairingState, PairingView,
    Problem, Proof, PushAsk, PushHead, Stored, Tail, Token, TokenAsk,
};
use evenwire_core::unit::{Millis, Stamp};
use evenwire_hub::app::{App, Clock, Rates, random_id};
use evenwire_hub::blobs::BucketAddress;
use evenwire_hub::serve::{Running, Settings, StartError, start};
use evenwire_hub::storage::ServerAddress;
use evenwire_hub::tls::HOST;
use reqwest::{Client, ClientBuilder, Method, RequestBuilder, Response, StatusCode};
use serde::de::DeserializeOwned;
use serde_json::value::RawValue;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use tempfile::TempDir;
use uuid::Uuid;

pub const MINUTE: i64 = 60_000;

pub struct Shop {
    pub folder: TempDir,
    /// Where its rows are, if not in its folder.
    pub store: Option<ServerAddress>,
    /// Where its files are, if not in its folder.
    pub blobs: Option<BucketAddress>,
    /// Ms the hub's clock is ahead of the machine's.
    ahead: Arc<AtomicI64>,
    running: Option<Running>,
}

impl Shop {
    pub async fn open() -> Shop {
        Shop::open_with(Rates::a_minute(100_000, 100_000, 100_000)).await
    }

    pub async fn open_with(rates: Rates) -> Shop {
        let _ = rustls::crypto::ring::default_provider().install_default();
        let mut shop = Shop::closed(server::store(), None);
        shop.start(rates).await;
        shop
    }

    /// A shop whose rows are in that database.
    pub async fn open_in(store: ServerAddress) -> Shop {
        Shop::opened(Shop::closed(Some(store), None)).await
    }

    /// A shop whose files are in that bucket.
    pub async fn open_beside(blobs: BucketAddress) -> Shop {
        Shop::opened(Shop::closed(server::store(), Some(blobs))).await
    }

    async fn opened(mut shop: Shop) -> Shop {
        shop.begin_again().await;
        shop
    }

    fn closed(store: Option<ServerAddress>, blobs: Option<BucketAddress>) -> Shop {
        let _ = rustls::crypto::ring::default_provider().install_default();
        let folder = tempfile::tempdir().unwrap();
        Shop { folder, store, blobs, ahead: Arc::default(), running: None }
    }

    /// Starts on whatever is in the folder.
    pub async fn begin_again(&mut self) {
        self.start(Rates::a_minute(100_000, 100_000, 100_000)).await;
    }

    /// Another hub on the same folder.
    pub async fn try_another(&self) -> Result<(), StartError> {
        start(self.settings(Rates::of_a_shop())).await.map(drop)
    }

    async fn start(&mut self, rates: Rates) {
        self.running = Some(start(self.settings(rates)).await.unwrap());
    }

    fn settings(&self, rates: Rates) -> Settings {
        let ahead = self.ahead.clone();
        let machine = Clock::of_machine();
        Settings {
            folder: self.folder.path().join("hub"),
            store: self.store.clone(),
            blobs: self.blobs.clone(),
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            addresses: vec!["127.0.0.1".to_owned()],
            clock: Clock::told(move || machine.now_ms() + ahead.load(Ordering::SeqCst)),
            rates,
        }
    }

    pub fn hub(&self) -> &Running {
        self.running.as_ref().expect("the hub runs")
    }

    pub async fn stop(&mut self) {
        self.running.take().expect("the hub runs").stop().await;
    }

    pub async fn restart(&mut self) {
        self.stop().await;
        self.start(Rates::a_minute(100_000, 100_000, 100_000)).await;
    }

    /// Whatever was kept is gone.
    pub fn lose_everything(&mut self) {
        std::fs::remove_dir_all(self.folder.path().join("hub")).unwrap();
        std::fs::create_dir_all(self.folder.path().join("hub")).unwrap();
        self.store = server::store();
    }

    pub fn pass(&self, ms: i64) {
        self.ahead.fetch_add(ms, Ordering::SeqCst);
    }

    pub fn client(&self) -> Client {
        trusting(self.hub().app.certificates.authority(), self.hub().listens)
    }

    /// A phone that was invited and that the office said yes to, with a token.
    pub async fn phone(&self, name: &str) -> Phone {
        let mut phone = Phone::new(self, name);
        phone.pair(self, true).await;
        phone.sign_in().await;
        phone
    }

    /// A phone with a job of two entries and what stands beside them, all of it at the hub.
    pub async fn busy_phone(&self) -> Phone {
        let mut phone = self.phone("Bench 1").await;
        let kept = phone.open_job("W-2041", &Details { customer: "Anna Beispiel".to_owned(), ..Details::default() });
        let photo = phone.take_photo(kept.job, b"a plate");
        phone.push_from(1).await.unwrap();
        phone.put(photo, b"a plate").await.unwrap();
        phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
        self.settle().await;
        phone
    }

    /// Everything the hub keeps in files.
    pub fn hub_folder(&self) -> PathBuf {
        self.folder.path().join("hub")
    }

    /// All that is done beside the answers is done.
    pub async fn settle(&self) {
        evenwire_hub::behind::work_off(&self.hub().app).await.unwrap();
    }
}

/// A client that believes one authority alone.
pub fn trusting(authority: &[u8], at: SocketAddr) -> Client {
    believing(authority, (HOST, at)).build().unwrap()
}

/// The same for a hub of another name, not made yet.
pub fn believing(authority: &[u8], (host, at): (&str, SocketAddr)) -> ClientBuilder {
    Client::builder()
        .tls_certs_only([reqwest::Certificate::from_der(authority).unwrap()])
        .tls_version_min(reqwest::tls::Version::TLS_1_3)
        .resolve(host, at)
}

pub struct Phone {
    pub id: Uuid,
    pub name: String,
    pub key: DeviceKey,
    pub client: Client,
    pub hub: Uuid,
    /// The name the hub is asked by.
    pub host: String,
    pub port: u16,
    pub token: String,
    pub head: Head,
    pub ledger: Vec<Sealed>,
}

impl Phone {
    pub fn new(shop: &Shop, name: &str) -> Phone {
        let phone = Phone::of(shop.hub().app.hub, shop.client(), name);
        Phone { port: shop.hub().listens.port(), ..phone }
    }

    /// A phone that does not know yet where the hub is.
    pub fn of(hub: Uuid, client: Client, name: &str) -> Phone {
        let id = random_id();
        Phone {
            id,
            name: name.to_owned(),
            key: DeviceKey::from_seed(evenwire_hub::app::random()),
            client,
            hub,
            host: HOST.to_owned(),
            port: 0,
            token: String::new(),
            head: Head::empty(id),
            ledger: Vec::new(),
        }
    }

    /// The hub was started again, maybe at another port.
    pub fn move_to(&mut self, shop: &Shop) {
        (self.client, self.hub, self.port) = (shop.client(), shop.hub().app.hub, shop.hub().listens.port());
    }

    pub fn request(&self, method: Method, path: &str) -> RequestBuilder {
        let request = self.client.request(method, format!("https://{}:{}{path}", self.host, self.port));
        if self.token.is_empty() { request } else { request.bearer_auth(&self.token) }
    }

    pub fn pairing_ask(&self, invitation: &Invitation) -> PairingAsk {
        let (code, device, name) = (invitation.code.clone(), self.id, self.name.clone());
        let proof = Proof { hub: invitation.hub, code: code.clone(), device, name: name.clone() };
        PairingAsk { code, device, name, key: self.key.public(), proof: proof.sign(&self.key) }
    }

    pub async fn ask_pairing(&self, ask: &PairingAsk) -> Answer<PairingView> {
        answer(self.request(Method::POST, "/v1/pairings").json(ask)).await
    }

    pub async fn pair(&self, shop: &Shop, yes: bool) -> PairingState {
        self.pair_at(&shop.hub().app, yes).await
    }

    pub async fn pair_at(&self, app: &App, yes: bool) -> PairingState {
        let invitation = app.invite(None).await.unwrap();
        let view = self.ask_pairing(&self.pairing_ask(&invitation)).await.unwrap();
        app.storage.decide_pairing(view.pairing, yes, (None, app.clock.now_ms())).await.unwrap().unwrap();
        self.look(view.pairing).await.unwrap().state
    }

    pub async fn look(&self, pairing: Uuid) -> Answer<PairingView> {
        answer(self.request(Method::GET, &format!("/v1/pairings/{pairing}"))).await
    }

    pub fn assertion(&self, hub_ms: i64) -> Assertion {
        Assertion { iss: self.id, sub: self.id, aud: self.hub, exp: hub_ms / 1000 + 120, jti: random_id() }
    }

    pub async fn ask_token(&self, assertion: String) -> Answer<Token> {
        let ask = TokenAsk { grant_type: JWT_BEARER.to_owned(), assertion };
        answer(self.request(Method::POST, "/v1/token").form(&ask)).await
    }

    /// Asks the hub for its time first, as devices do.
    pub async fn try_sign_in(&mut self) -> Answer<()> {
        let card: serde_json::Value = answer(self.request(Method::GET, "/v1/hub")).await.unwrap();
        let hub_ms = Stamp::parse(card["time"].as_str().unwrap()).unwrap().unix_millis();
        let token = self.ask_token(self.assertion(hub_ms).sign(&self.key)).await?;
        self.token = token.access_token;
        Ok(())
    }

    pub async fn sign_in(&mut self) {
        self.try_sign_in().await.unwrap();
    }

    pub fn write(&mut self, job: Option<Uuid>, event: &Event) -> &Sealed {
        let (kind, body) = event.parts();
        self.write_kind(job, &kind, body)
    }

    pub fn write_kind(&mut self, job: Option<Uuid>, kind: &str, body: Body) -> &Sealed {
        let sealed = seal(&mut self.head, job, (kind, body));
        self.ledger.push(sealed);
        self.ledger.last().unwrap()
    }

    /// Opens a job; its details as they stand beside the ledger.
    pub fn open_job(&mut self, order: &str, details: &Details) -> KeptDetails {
        let kept = KeptDetails::new(random_id(), evenwire_hub::app::random(), details);
        let (order, vehicle) = (order.to_owned(), "Test van".to_owned());
        self.write(Some(kept.job), &Event::JobOpened { order, vehicle, personal: kept.commitment() });
        kept
    }

    pub fn take_photo(&mut self, job: Uuid, photo: &[u8]) -> Hash {
        let hash = Hash::of(photo);
        let fact = PhotoFact { photo: hash, step: None, width: 4, height: 3, bytes: photo.len() as u32 };
        self.write(Some(job), &Event::PhotoTaken(fact));
        hash
    }

    pub fn batch(&self, entries: &[Sealed]) -> PushAsk {
        let last = entries.last().unwrap();
        let head = PushHead { hub: self.hub, device: self.id, sequence: last.entry().sequence, hash: last.hash() };
        let first_sequence = entries[0].entry().sequence;
        PushAsk { first_sequence, entries: entries.iter().map(raw).collect(), head: head.sign(&self.key) }
    }

    pub async fn push(&self, ask: &PushAsk) -> Answer<Stored> {
        answer(self.request(Method::POST, "/v1/devices/me/entries").json(ask)).await
    }

    pub async fn push_from(&self, first: usize) -> Answer<Stored> {
        self.push(&self.batch(&self.ledger[first - 1..])).await
    }

    pub async fn tail(&self) -> Answer<Tail> {
        answer(self.request(Method::GET, "/v1/devices/me")).await
    }

    pub async fn heads(&self, heads: Vec<String>) -> Answer<HeadsStored> {
        answer(self.request(Method::POST, "/v1/devices/me/heads").json(&Heads { heads })).await
    }

    pub async fn missing(&self, hashes: &[Hash]) -> Answer<Vec<Hash>> {
        let ask = Missing { hashes: hashes.to_vec() };
        answer::<Missing>(self.request(Method::POST, "/v1/blobs:missing").json(&ask)).await.map(|found| found.hashes)
    }

    pub async fn put(&self, hash: Hash, bytes: &[u8]) -> Answer<()> {
        done(self.request(Method::PUT, &format!("/v1/blobs/{hash}")).body(bytes.to_vec())).await.map(drop)
    }

    pub async fn changes(&self, after: u64) -> Answer<Changes> {
        answer(self.request(Method::GET, &format!("/v1/changes?after={after}"))).await
    }
}

pub fn raw(sealed: &Sealed) -> Box<RawValue> {
    RawValue::from_string(String::from_utf8(sealed.bytes().to_vec()).unwrap()).unwrap()
}

pub fn seal(head: &mut Head, job: Option<Uuid>, (kind, body): (&str, Body)) -> Sealed {
    let at = head.sequence;
    let draft = Draft {
        id: random_id(),
        job,
        kind: kind.to_owned(),
        version: Event::VERSION,
        elapsed_ms: Millis(at),
        wall: Stamp::parse(&format!("2026-03-{:02}T10:42:00+01:00", 1 + at % 28)).unwrap(),
        clock: WallClock::Ok,
        body,
    };
    head.seal(Uuid::from_u128(2), draft)
}

/// What came back: what was asked for, or the problem.
pub type Answer<T> = Result<T, Box<Problem>>;

pub async fn done(request: RequestBuilder) -> Answer<Response> {
    let response = request.send().await.unwrap();
    let status = response.status();
    if status.is_success() {
        return Ok(response);
    }
    let kind = response.headers().get("content-type").cloned();
    let text = response.text().await.unwrap();
    assert_eq!(kind.as_ref().map(|kind| kind.as_bytes()), Some(&b"application/problem+json"[..]), "{status}: {text}");
    let problem: Problem = serde_json::from_str(&text).unwrap();
    assert_eq!(StatusCode::from_u16(problem.status).unwrap(), status);
    Err(Box::new(problem))
}

pub async fn answer<T: DeserializeOwned>(request: RequestBuilder) -> Answer<T> {
    Ok(done(request).await?.json().await.unwrap())
}

/// The code of what was refused.
pub fn code<T: std::fmt::Debug>(answer: Answer<T>) -> String {
    answer.expect_err("this should have been refused").code
}
