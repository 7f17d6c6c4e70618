//! A shop with its hub and its devices, each in a folder of its own, and a line between them that can be cut.

mod line;

pub use line::Line;

use anyhow::{Context, Result, bail, ensure};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::job::Command;
use evenwire_core::record::{Details, Hash};
use evenwire_core::sync::PairingState;
use evenwire_core::view::{Ask, HubView, JobLine, Notice, Pushed, Reply, View};
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_engine::cli::practice::{self, Wanted};
use evenwire_engine::photo;
use evenwire_engine::practice::PartModel;
use evenwire_hub::app::{Clock, Rates};
use evenwire_hub::serve::{Running, Settings, start};
use evenwire_hub::storage::DeviceNumber;
use evenwire_store::Glance;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::time::Duration;
use uuid::Uuid;

/// Nothing here takes longer, on however slow a machine.
const DEADLINE: Duration = Duration::from_secs(60);
const HERE: SocketAddr = SocketAddr::new(std::net::IpAddr::V4(Ipv4Addr::LOCALHOST), 0);

/// Tells a story of a shop in a folder of its own.
///
/// # Panics
/// The story does not come out.
pub fn story<F: AsyncFnOnce(&Path) -> Result<()>>(tell: F) {
    let folder = tempfile::tempdir().expect("a folder");
    let runtime = tokio::runtime::Runtime::new().expect("threads");
    let told = runtime.block_on(tell(folder.path()));
    runtime.shutdown_background();
    if let Err(why) = told {
        panic!("{why:?}");
    }
}

/// The hub of the shop.
#[derive(Debug)]
pub struct Office {
    /// Everything it keeps.
    pub folder: PathBuf,
    /// Running, unless it is switched off.
    pub running: Option<Running>,
    /// The line to it.
    pub line: Line,
}

impl Office {
    /// Opens in `folder`, behind a line that holds.
    ///
    /// # Errors
    /// It does not start.
    pub async fn open(folder: PathBuf) -> Result<Office> {
        let line = Line::begin().await?;
        let mut office = Office { folder, running: None, line };
        office.switch_on().await?;
        Ok(office)
    }

    /// Starts the hub, with whatever is in its folder.
    ///
    /// # Errors
    /// It does not start.
    pub async fn switch_on(&mut self) -> Result<()> {
        let settings = Settings {
            folder: self.folder.clone(),
            store: None,
            blobs: None,
            listen: HERE,
            addresses: vec![self.line.at.to_string()],
            clock: Clock::of_machine(),
            rates: Rates::a_minute(10_000, 10_000, 10_000),
        };
        let running = start(settings).await?;
        self.line.lead_to(running.listens);
        self.running = Some(running);
        Ok(())
    }

    /// Ends the hub.
    pub async fn switch_off(&mut self) {
        self.line.lead_nowhere();
        if let Some(running) = self.running.take() {
            running.stop().await;
        }
    }

    /// The hub.
    ///
    /// # Panics
    /// When it is switched off.
    pub fn hub(&self) -> &Running {
        self.running.as_ref().expect("the hub is on")
    }

    /// The text of an invitation.
    ///
    /// # Errors
    /// As the storage says.
    pub async fn invitation(&self) -> Result<String> {
        Ok(self.hub().app.invite(None).await?.text())
    }

    /// Takes in the one device that waits, or not; gives the six digits on the office's screen.
    ///
    /// # Errors
    /// None waits, or it cannot be decided.
    pub async fn decide(&self, yes: bool) -> Result<String> {
        let app = &self.hub().app;
        let now = app.clock.now_ms();
        let waiting = app.storage.pairings_waiting(now).await?;
        let row = waiting.last().context("nobody waits")?;
        let digits = app.digits_of(row);
        let decided = app.storage.decide_pairing(row.pairing, yes, (None, now)).await?;
        let wanted = if yes { PairingState::Accepted } else { PairingState::Refused };
        ensure!(decided.is_ok_and(|row| row.state == wanted), "the office could not decide");
        Ok(digits)
    }

    /// The number of a device here.
    ///
    /// # Errors
    /// It is not of this shop.
    pub async fn number(&self, device: Uuid) -> Result<DeviceNumber> {
        Ok(self.hub().app.storage.device(device).await?.context("not of this shop")?.number)
    }

    /// Everything of the ledger at `path` is here, byte for byte, and everything its entries name.
    ///
    /// # Errors
    /// What is not.
    pub async fn has_all_of(&self, path: &Path) -> Result<()> {
        let ledger = Glance::at(path)?;
        let head = ledger.head()?;
        let app = &self.hub().app;
        let number = self.number(head.device).await?;
        let there = app.storage.entries(number, 1, u32::MAX).await?;
        let here = ledger.entries_after(0, u32::MAX)?;
        ensure!(there.len() == here.len(), "{} of {} entries are there", there.len(), here.len());
        for (theirs, ours) in there.iter().zip(&here) {
            ensure!(theirs.bytes() == ours.bytes(), "entry {} is another one there", ours.entry().sequence);
        }
        let missing = app.storage.tail(number).await?.missing;
        ensure!(missing == 0, "{missing} things are missing there");
        Ok(())
    }

    /// The photo is on the hub's disk as it was taken.
    ///
    /// # Errors
    /// It is not there.
    pub async fn has_photo(&self, hash: Hash) -> Result<()> {
        let bytes = self.hub().app.blobs.get(hash).await?.context("it is not there")?;
        ensure!(Hash::of(&bytes) == hash, "it is another one");
        Ok(())
    }
}

/// A device of the shop: a bench on a ledger of its own.
#[derive(Debug)]
pub struct Device {
    /// Its ledger.
    pub path: PathBuf,
    bench: Option<Bench>,
}

impl Device {
    /// A device at which one whole job was done at the practice bench.
    ///
    /// # Errors
    /// It cannot be done.
    pub fn practised(path: PathBuf, seed: u64) -> Result<Device> {
        let wanted = Wanted { seed, places: 2, database: Some(path.clone()), beside: Default::default(), json: false };
        let code = practice::run(PartModel::random(seed), &wanted);
        ensure!(format!("{code:?}") == format!("{:?}", std::process::ExitCode::SUCCESS), "no practice");
        let mut device = Device::ended(path);
        device.start()?;
        Ok(device)
    }

    /// The device at this ledger, with its program ended.
    pub fn ended(path: PathBuf) -> Device {
        Device { path, bench: None }
    }

    /// Starts the program on the ledger.
    ///
    /// # Errors
    /// It does not start.
    pub fn start(&mut self) -> Result<()> {
        let options = BenchOptions { radio: false, ..BenchOptions::on(self.path.clone()) };
        self.bench = Some(Bench::start(options)?);
        Ok(())
    }

    /// Ends it, whatever it does.
    ///
    /// # Errors
    /// It does not end.
    pub async fn end(&mut self) -> Result<()> {
        ensure!(self.bench.take().context("it runs")?.close().await, "it did not end");
        Ok(())
    }

    fn bench(&self) -> &Bench {
        self.bench.as_ref().expect("it runs")
    }

    /// Asks, and is told that it is done.
    ///
    /// # Errors
    /// What it is told else.
    pub async fn done(&self, ask: Ask) -> Result<()> {
        match self.bench().ask(ask).await {
            Reply::Done => Ok(()),
            other => bail!("{other:?}"),
        }
    }

    /// Asks, and is told why not.
    ///
    /// # Errors
    /// What it is told else.
    pub async fn failed(&self, ask: Ask) -> Result<Notice> {
        match self.bench().ask(ask).await {
            Reply::Failed { notice } => Ok(notice),
            other => bail!("{other:?}"),
        }
    }

    /// Asks, and is refused.
    ///
    /// # Errors
    /// What it is told else.
    pub async fn refused(&self, ask: Ask) -> Result<Notice> {
        match self.bench().ask(ask).await {
            Reply::Refused { notice, .. } => Ok(notice),
            other => bail!("{other:?}"),
        }
    }

    /// What waits at the shop: orders, and whether another device takes them over already.
    ///
    /// # Errors
    /// The shop does not answer.
    pub async fn waiting(&self) -> Result<Vec<(String, bool)>> {
        match self.bench().ask(Ask::Waiting).await {
            Reply::Waiting { lines, .. } => Ok(lines.into_iter().map(|line| (line.order, line.taken)).collect()),
            other => bail!("{other:?}"),
        }
    }

    /// Waits for a view that `pick` takes.
    ///
    /// # Errors
    /// None came in time.
    pub async fn until<T>(&self, what: &str, mut pick: impl FnMut(&View) -> Option<T>) -> Result<T> {
        let mut listener = self.bench().listen();
        let mut last = None;
        let found = async {
            loop {
                let Pushed::View { view } = listener.next().await? else { continue };
                if let Some(picked) = pick(&view) {
                    return Some(picked);
                }
                last = Some(view.hub);
            }
        };
        let found = tokio::time::timeout(DEADLINE, found).await;
        found.ok().flatten().with_context(|| format!("never {what}; the hub: {last:?}"))
    }

    /// Sends, and waits until everything is said to be there. A view may be older than what was recorded: what is said
    /// before all was sent counts for nothing.
    ///
    /// # Errors
    /// It never is.
    pub async fn complete(&self) -> Result<HubView> {
        self.sent().await?;
        self.until("complete", |view| Some(view.hub.clone()).filter(|hub| hub.complete && hub.trouble.is_none())).await
    }

    /// Sends, and waits until everything is there.
    ///
    /// # Errors
    /// What is in the way.
    pub async fn sent(&self) -> Result<()> {
        let sent = tokio::time::timeout(DEADLINE, self.bench().send_to_shop()).await.context("it takes too long")?;
        sent.map_err(|notice| anyhow::anyhow!("{notice:?}"))
    }

    /// Waits until this is in the way.
    ///
    /// # Errors
    /// It never is.
    pub async fn trouble(&self, code: &str) -> Result<HubView> {
        let is = |hub: &HubView| hub.trouble.as_ref().is_some_and(|trouble| trouble.code == code);
        self.until(code, |view| Some(view.hub.clone()).filter(is)).await
    }

    /// Pairs with the shop; both screens show the same six digits.
    ///
    /// # Errors
    /// It is not taken in.
    pub async fn pair(&self, office: &Office, name: &str) -> Result<()> {
        let invitation = office.invitation().await?;
        self.done(Ask::PairWithShop { invitation, name: name.into() }).await?;
        let digits = self.until("asked", |view| Some(view.hub.digits.clone()).filter(|it| !it.is_empty())).await?;
        ensure!(office.decide(true).await? == digits, "the screens show other digits");
        self.until("paired", |view| (view.hub.state == "paired").then_some(())).await
    }

    /// The lines of the list.
    ///
    /// # Errors
    /// It has none.
    pub async fn lines(&self) -> Result<Vec<JobLine>> {
        match self.bench().ask(Ask::Jobs { search: String::new(), open: false, skip: 0, limit: 100 }).await {
            Reply::Jobs { lines, .. } => Ok(lines),
            other => bail!("{other:?}"),
        }
    }

    /// Opens a job with so many photos, each another one, and leaves it.
    ///
    /// # Errors
    /// It cannot be done.
    pub async fn job_with_photos(&self, order: &str, photos: u32) -> Result<Uuid> {
        let details = Details { customer: "Harbour Cars".into(), ..Details::default() };
        let command = Command::NewJob { order: order.into(), vehicle: "Yard van".into(), details };
        self.done(Ask::Do { command }).await?;
        let job = self.until("the job", |view| view.bench.as_ref()?.job.parse::<Uuid>().ok()).await?;
        for number in 0..photos {
            let (jpeg, ..) = photo::drawn((160 + number, 120)).context("a photo can be drawn")?;
            self.done(Ask::KeepPhoto { job, step: None, picture: STANDARD.encode(jpeg) }).await?;
        }
        self.done(Ask::Do { command: Command::LeaveJob }).await?;
        Ok(job)
    }

    /// Takes a job up again for one more photo, and leaves it; gives whether it was called safe on the bench before and
    /// after.
    ///
    /// # Errors
    /// It cannot be done.
    pub async fn one_more_photo(&self, job: Uuid) -> Result<(bool, bool)> {
        let safe = |view: &View| Some(view.bench.as_ref()?.at_shop.as_ref()?.safe);
        self.done(Ask::Do { command: Command::OpenJob { job } }).await?;
        let before = self.until("on the bench", safe).await?;
        let (jpeg, ..) = photo::drawn((500, 120)).context("a photo can be drawn")?;
        self.done(Ask::KeepPhoto { job, step: None, picture: STANDARD.encode(jpeg) }).await?;
        let after = self.until("with its photo", safe).await?;
        self.done(Ask::Do { command: Command::LeaveJob }).await?;
        Ok((before, after))
    }

    /// Whose ledger it is.
    ///
    /// # Errors
    /// It cannot be read.
    pub fn id(&self) -> Result<Uuid> {
        Ok(Glance::at(&self.path)?.head()?.device)
    }
}
