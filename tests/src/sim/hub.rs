//! The hub of a simulated shop: the real one, asked without a network, on folders that can be killed, lost and put back.

use anyhow::Result;
use axum::Router;
use axum::body::{Body, to_bytes};
use evenwire_core::record::Hash;
use evenwire_core::sync::{Invitation, Stored};
use evenwire_engine::hub::{Answer, Request};
use evenwire_hub::app::{App, Clock, Rates, Shared, random_id};
use evenwire_hub::blobs::Blobs;
use evenwire_hub::router::router;
use evenwire_hub::storage::{FILE, Setup, Storage};
use evenwire_hub::tls::Certificates;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use tokio::sync::Notify;
use tower::ServiceExt;
use uuid::Uuid;

/// The hub's clock at the beginning, ms since 1970.
const BEGINNING: i64 = 1_800_000_000_000;
/// Bytes of an answer at most.
const MOST: usize = 64 * 1024 * 1024;

/// What the hub said it has, and may never lack again as long as its disk is not lost.
#[derive(Clone, Debug, Default)]
pub struct Said {
    /// Entries, by device.
    pub through: BTreeMap<Uuid, u64>,
    /// Things beside them.
    pub beside: BTreeSet<Hash>,
    /// Jobs the office erased.
    pub erased: BTreeSet<Uuid>,
    /// Signatures that were given at the office, with the device each is for.
    pub signed: BTreeMap<Uuid, Uuid>,
}

/// The hub.
pub struct Hub {
    place: PathBuf,
    tls: PathBuf,
    folders: u32,
    /// Where it keeps everything now.
    pub folder: PathBuf,
    /// It runs.
    pub app: Shared,
    router: Router,
    /// Nobody reaches it.
    pub away: bool,
    /// Its disk is full.
    pub full: bool,
    /// Its clock, ms since 1970.
    pub clock: Arc<AtomicI64>,
    /// Counts how often it lost something it had.
    pub life: u32,
    /// What it said.
    pub said: Said,
    copies: Vec<(PathBuf, Said)>,
}

impl Hub {
    /// A new one, with everything below `place` and certificates as in `tls`.
    ///
    /// # Errors
    /// It does not begin.
    pub async fn begin(place: &Path, tls: &Path) -> Result<Hub> {
        let clock = Arc::new(AtomicI64::new(BEGINNING));
        let folder = place.join("hub-0");
        copy_files(tls, &folder.join("tls"))?;
        let (app, router) = open(&folder, &clock).await?;
        let (said, copies) = (Said::default(), Vec::new());
        let (place, tls) = (place.to_owned(), tls.to_owned());
        Ok(Hub { place, tls, folders: 1, folder, app, router, away: false, full: false, clock, life: 0, said, copies })
    }

    /// Its time.
    pub fn now(&self) -> i64 {
        self.clock.load(Ordering::SeqCst)
    }

    /// What answers, and its time.
    pub fn running(&self) -> (Shared, i64) {
        (self.app.clone(), self.now())
    }

    /// Nobody reaches it, and its disk is full.
    pub fn closed(&self) -> (bool, bool) {
        (self.away, self.full)
    }

    fn fresh(&mut self) -> PathBuf {
        self.folders += 1;
        self.place.join(format!("hub-{}", self.folders - 1))
    }

    async fn go_on_in(&mut self, folder: PathBuf) -> Result<()> {
        (self.app, self.router) = open(&folder, &self.clock).await?;
        let before = std::mem::replace(&mut self.folder, folder);
        if self.full {
            self.app.storage.hold(true).await?;
        }
        // Whoever still closes its files there may be in the way; it goes with the whole place then.
        let _later = fs::remove_dir_all(before);
        Ok(())
    }

    /// Kills it between two calls: another one goes on with what is on the disk, nothing of it put away in good order.
    ///
    /// # Errors
    /// It does not begin again.
    pub async fn kill(&mut self) -> Result<()> {
        let folder = self.fresh();
        image(&self.folder, &folder)?;
        self.go_on_in(folder).await
    }

    /// A copy of all it has is put by.
    ///
    /// # Errors
    /// It cannot be copied.
    pub fn copy(&mut self) -> Result<()> {
        let folder = self.fresh();
        image(&self.folder, &folder)?;
        self.copies.push((folder, self.said.clone()));
        Ok(())
    }

    /// The `which`-th copy takes its place. `false`: there is none.
    ///
    /// # Errors
    /// It does not begin again.
    pub async fn put_back(&mut self, which: u64) -> Result<bool> {
        let Some(at) = which.checked_rem(self.copies.len() as u64) else { return Ok(false) };
        let (copy, said) = self.copies[at as usize].clone();
        let folder = self.fresh();
        image(&copy, &folder)?;
        (self.life, self.said) = (self.life + 1, said);
        self.go_on_in(folder).await?;
        // As `restore` does it: what was numbered since the copy is not numbered so again.
        self.app.storage.leap(BEGINNING + i64::from(self.life) * 1_000_000).await?;
        Ok(true)
    }

    /// Everything is gone; another hub begins.
    ///
    /// # Errors
    /// It does not begin.
    pub async fn lose(&mut self) -> Result<()> {
        let folder = self.fresh();
        copy_files(&self.tls, &folder.join("tls"))?;
        (self.life, self.said) = (self.life + 1, Said::default());
        self.copies.clear();
        self.go_on_in(folder).await
    }

    /// Its disk is full, or has room again.
    ///
    /// # Errors
    /// As the storage says.
    pub async fn fill(&mut self, full: bool) -> Result<()> {
        self.full = full;
        Ok(self.app.storage.hold(full).await?)
    }

    /// An invitation.
    ///
    /// # Errors
    /// As the storage says.
    pub async fn invite(&self) -> Result<Invitation> {
        Ok(self.app.invite(None).await?)
    }

    /// Whoever waits is taken in.
    ///
    /// # Errors
    /// As the storage says.
    pub async fn accept(&self) -> Result<()> {
        let now = self.now();
        for row in self.app.storage.pairings_waiting(now).await? {
            let _over = self.app.storage.decide_pairing(row.pairing, true, (None, now)).await?;
        }
        Ok(())
    }

    /// Where a file of this hash is.
    pub fn file(&self, hash: Hash) -> PathBuf {
        let Blobs::Folder(folder) = &self.app.blobs else { unreachable!("it was opened in a folder") };
        folder.at(hash)
    }

    /// Who answers now.
    pub fn door(&self) -> Option<Router> {
        (!self.away).then(|| self.router.clone())
    }

    /// Remembers what it said to this device.
    pub fn hear(&mut self, device: Uuid, request: &Request, (status, body): &Answer) {
        if !(200..300).contains(status) {
            return;
        }
        if request.path.ends_with("/entries")
            && let Ok(stored) = serde_json::from_slice::<Stored>(body)
        {
            let through = self.said.through.entry(device).or_default();
            *through = stored.stored_through.max(*through);
        }
        if let Some(hash) = request.path.strip_prefix("/v1/blobs/") {
            self.said.beside.extend(Hash::try_from(hash.to_owned()));
        }
    }
}

impl std::fmt::Debug for Hub {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Hub").field("folder", &self.folder).finish_non_exhaustive()
    }
}

/// Asks the real hub; a router never fails by itself.
pub async fn answer(router: Router, request: &Request) -> Answer {
    let mut asked = axum::http::Request::builder().method(request.method.as_str()).uri(&request.path);
    if let Some(token) = &request.token {
        asked = asked.header("authorization", format!("Bearer {token}"));
    }
    if let Some(content) = request.content {
        asked = asked.header("content-type", content);
    }
    let asked = asked.body(Body::from(request.body.clone())).expect("a request");
    let answer = router.oneshot(asked).await.expect("a router answers");
    let status = answer.status().as_u16();
    (status, to_bytes(answer.into_body(), MOST).await.expect("an answer in memory").to_vec())
}

async fn open(folder: &Path, clock: &Arc<AtomicI64>) -> Result<(Shared, Router)> {
    let told = clock.clone();
    let clock = Clock::told(move || told.load(Ordering::SeqCst));
    let storage = Storage::open(folder)?;
    let row = storage.begin(Setup { id: random_id(), token: Hash::ZERO, at_ms: clock.now_ms() }).await?;
    let addresses = vec!["192.0.2.7:7443".to_owned()];
    let certificates = Certificates::open(folder, &["192.0.2.7".to_owned()], BEGINNING)?;
    let blobs = Blobs::open(folder)?;
    let rates = Rates::a_minute(1_000_000, 1_000_000, 1_000_000);
    let app = Arc::new(App { storage, blobs, hub: row.id, certificates, addresses, clock, rates, work: Notify::new() });
    let router = router(app.clone());
    Ok((app, router))
}

/// Certificates to begin hubs with: to make them takes longer than most that is done with them.
///
/// # Errors
/// They cannot be made.
pub fn certificates(folder: &Path) -> Result<PathBuf> {
    Certificates::open(folder, &["192.0.2.7".to_owned()], BEGINNING)?;
    Ok(folder.join("tls"))
}

/// What is on the disk of a hub now, while it runs.
fn image(from: &Path, to: &Path) -> Result<()> {
    copy_files(&from.join("tls"), &to.join("tls"))?;
    for file in [FILE.to_owned(), format!("{FILE}-wal")] {
        if from.join(&file).exists() {
            fs::copy(from.join(&file), to.join(&file))?;
        }
    }
    for folder in fs::read_dir(from.join("blobs"))? {
        let folder = folder?;
        copy_files(&folder.path(), &to.join("blobs").join(folder.file_name()))?;
    }
    Ok(())
}

fn copy_files(from: &Path, to: &Path) -> Result<()> {
    fs::create_dir_all(to)?;
    for file in fs::read_dir(from)? {
        let file = file?;
        fs::copy(file.path(), to.join(file.file_name()))?;
    }
    Ok(())
}
