//! A simulated device: a real ledger with its key, what it knows of the hub beside it, and what sends it.

use super::wire::{Around, SharedHub, Wire, at_once, held};
use anyhow::{Context, Result};
use evenwire_core::meter::Shown;
use evenwire_core::record::{
    Body, Clock, Details, Draft, Event, Gathering, Hash, Head, KeptDetails, PhotoFact, Sample, Sealed,
};
use evenwire_core::session::Batch;
use evenwire_core::sync::Trouble;
use evenwire_core::unit::{BootId, Millis, Now};
use evenwire_core::view::Reply;
use evenwire_engine::bench::settle;
use evenwire_engine::hub::{Courier, Outside};
use evenwire_engine::practice::chance::Chance;
use evenwire_store::Store;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use uuid::Uuid;

/// How a job stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stands {
    /// It was closed.
    pub finished: bool,
    /// What is personal of it was erased.
    pub erased: bool,
}

/// The device's program as far as it records.
#[derive(Debug)]
pub struct Desk {
    store: Option<Store>,
    pub(super) chance: Chance,
    around: Arc<dyn Outside>,
    /// Now and then it cannot do what the office wishes.
    pub busy: bool,
    /// It could not since this was set back.
    pub put_off: bool,
}

/// A device.
#[derive(Debug)]
pub struct Phone {
    /// What it is called.
    pub name: String,
    /// Its ledger.
    pub path: PathBuf,
    /// Its line.
    pub wire: Arc<Wire>,
    /// What records.
    pub desk: Arc<Mutex<Desk>>,
    courier: Option<Courier>,
    copies: u32,
    /// Another one goes on from the same entries under the same name, or did.
    pub parted: bool,
}

fn bytes<const N: usize>(chance: &mut Chance) -> [u8; N] {
    std::array::from_fn(|_| chance.bits() as u8)
}

/// A random id.
pub fn id(chance: &mut Chance) -> Uuid {
    uuid::Builder::from_random_bytes(bytes(chance)).into_uuid()
}

impl Desk {
    /// Whoever records by what `seed` draws, with the clocks of `around`; nothing is open yet.
    pub fn new(seed: u64, around: Arc<dyn Outside>) -> Desk {
        Desk { store: None, chance: Chance::new(seed), around, busy: true, put_off: false }
    }

    /// The ledger, open.
    ///
    /// # Panics
    /// While it is moved about.
    pub fn store(&mut self) -> &mut Store {
        self.store.as_mut().expect("the ledger is open")
    }

    /// All of it.
    ///
    /// # Errors
    /// As the store says.
    pub fn entries(&mut self) -> Result<Vec<Sealed>> {
        Ok(self.store().entries_after(0, u32::MAX)?)
    }

    /// Its jobs.
    ///
    /// # Errors
    /// As the store says.
    pub fn jobs(&mut self) -> Result<BTreeMap<Uuid, Stands>> {
        let mut jobs: BTreeMap<Uuid, Stands> = BTreeMap::new();
        for sealed in self.entries()? {
            let entry = sealed.entry();
            let Some(job) = entry.job else { continue };
            let stands = jobs.entry(job).or_default();
            let told = &sealed.told().entry().kind;
            stands.finished |= told == "job-finished";
            stands.erased |= told == "details-erased";
        }
        Ok(jobs)
    }

    /// Records one event, with what stands beside it.
    ///
    /// # Errors
    /// As the store says.
    pub fn write(&mut self, job: Option<Uuid>, (kind, body): (String, Body), beside: Batch) -> Result<()> {
        let mut head = self.store().head()?;
        let sealed = self.seal(&mut head, job, (kind, body));
        Ok(self.store().append(&Batch { entries: vec![sealed], ..beside })?)
    }

    fn seal(&mut self, head: &mut Head, job: Option<Uuid>, (kind, body): (String, Body)) -> Sealed {
        let draft = Draft {
            id: id(&mut self.chance),
            job,
            kind,
            version: Event::VERSION,
            elapsed_ms: self.around.boot(),
            wall: self.around.wall(),
            clock: Clock::Ok,
            body,
        };
        head.seal(Uuid::from_u128(2), draft)
    }

    /// Events of a job as the next entries, not written yet.
    ///
    /// # Errors
    /// As the store says.
    pub fn sealed(&mut self, job: Uuid, events: &[Event]) -> Result<Vec<Sealed>> {
        let mut head = self.store().head()?;
        Ok(events.iter().map(|event| self.seal(&mut head, Some(job), event.parts())).collect())
    }

    /// A new job.
    ///
    /// # Errors
    /// As the store says.
    pub fn open_job(&mut self, job: Option<Uuid>) -> Result<()> {
        let of = job.unwrap_or_else(|| id(&mut self.chance));
        let customer = format!("Customer {}", hex(&bytes::<12>(&mut self.chance)));
        let details = KeptDetails::new(of, bytes(&mut self.chance), &Details { customer, ..Details::default() });
        let (order, vehicle, personal) = ("W-1".to_owned(), "Yard van".to_owned(), details.commitment());
        let event = match job {
            None => Event::JobOpened { order, vehicle, personal },
            Some(_) => Event::JobCorrected { order, vehicle, personal },
        };
        self.write(Some(of), event.parts(), Batch { details: vec![details], ..Batch::default() })
    }

    /// A photo; every third is one that other jobs have, too.
    ///
    /// # Errors
    /// As the store says.
    pub fn photo(&mut self, job: Uuid) -> Result<()> {
        let picture = match self.chance.whole(0, 2) {
            0 => vec![self.chance.whole(0, 3) as u8; 40],
            _ => bytes::<64>(&mut self.chance).to_vec(),
        };
        let photo = Hash::of(&picture);
        let fact = PhotoFact { photo, step: None, width: 4, height: 3, bytes: picture.len() as u32 };
        let beside = Batch { pictures: vec![(photo, picture)], ..Batch::default() };
        self.write(Some(job), Event::PhotoTaken(fact).parts(), beside)
    }

    /// A touch with its samples.
    ///
    /// # Errors
    /// As the store says.
    pub fn touch(&mut self, job: Uuid) -> Result<()> {
        let mut gathering = Gathering::new(id(&mut self.chance), Some(job), Uuid::from_u128(2), 1);
        let at = self.around.boot();
        gathering.push(Sample { at, raw: bytes::<12>(&mut self.chance).to_vec(), shown: vec![Shown::Blank] });
        let chunk = gathering.chunk(at, true);
        let body = serde_json::json!({
            "chunks": [chunk.hash], "conductor": self.chance.whole(0, 5), "touch": id(&mut self.chance),
            "taken": {"digits": [35, 35, 36], "from_ms": 61500, "kind": "settled", "places": 2,
                      "step": {"unit": "ohm", "value": "0.01"}, "to_ms": 62500},
        });
        let (body, beside) = (Body::from(&body), Batch { chunks: vec![chunk], ..Batch::default() });
        self.write(Some(job), ("touch-taken".into(), body), beside)
    }

    /// What is personal of a job goes.
    ///
    /// # Errors
    /// As the store says.
    pub fn erase(&mut self, job: Uuid) -> Result<()> {
        self.write(Some(job), Event::DetailsErased {}.parts(), Batch { erased: vec![job], ..Batch::default() })
    }

    /// Opens the ledger and finds out whose it is, as every start does.
    ///
    /// # Errors
    /// As the store says.
    pub fn start(&mut self, path: &Path) -> Result<()> {
        let mut store = Store::open(path, id(&mut self.chance))?;
        let now = Now { boot: self.around.boot(), boot_id: BootId("sim".into()), wall: self.around.wall() };
        let random = [bytes(&mut self.chance), bytes(&mut self.chance), bytes(&mut self.chance)];
        settle(&mut store, random, (&now, Default::default()))?;
        self.store = Some(store);
        Ok(())
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

impl Phone {
    /// A new device with its ledger in `folder`.
    ///
    /// # Errors
    /// It does not start.
    pub fn begin(folder: PathBuf, name: &str, (hub, chance): (&SharedHub, &mut Chance)) -> Result<Phone> {
        fs::create_dir_all(&folder)?;
        let wire = Wire::new(hub.clone(), chance);
        let desk = Arc::new(Mutex::new(Desk::new(chance.bits(), Arc::new(Around(wire.clone())))));
        let path = folder.join("evenwire.db");
        let mut phone = Phone { name: name.to_owned(), path, wire, desk, courier: None, copies: 0, parted: false };
        phone.start()?;
        Ok(phone)
    }

    /// Starts its program.
    ///
    /// # Errors
    /// It does not start.
    pub fn start(&mut self) -> Result<()> {
        held(&self.desk).start(&self.path)?;
        let desk = self.desk.clone();
        let bench = move |news| -> futures::future::BoxFuture<'static, Option<Reply>> {
            let reply = held(&desk).hears(news).expect("the bench does what it is asked");
            Box::pin(async move { reply })
        };
        self.courier = Some(Courier::new(self.path.clone(), Box::new(bench), Arc::new(Around(self.wire.clone()))));
        Ok(())
    }

    /// Ends its program, whatever it does.
    pub fn end(&mut self) {
        self.courier = None;
        held(&self.desk).store = None;
    }

    /// Under which id it writes.
    ///
    /// # Errors
    /// As the store says.
    pub fn id(&self) -> Result<Uuid> {
        Ok(held(&self.desk).store().head()?.device)
    }

    /// A round as it was planned; nothing: the program ended in the middle of it, and was started again.
    ///
    /// # Errors
    /// It does not start again.
    pub async fn round(&mut self) -> Result<Option<Result<(), Trouble>>> {
        let courier = self.courier.as_mut().context("it runs")?;
        let came = tokio::select! {
            biased;
            came = courier.round() => Some(came),
            () = self.wire.death() => None,
        };
        match came {
            Some(Ok(())) => self.wire.ended_well(),
            None => {
                self.end();
                self.start()?;
            }
            Some(Err(_)) => {}
        }
        Ok(came)
    }

    /// Is taken into the shop.
    ///
    /// # Errors
    /// What is in the way.
    pub async fn pair(&mut self) -> Result<Result<(), Trouble>> {
        let (invited, device) = (at_once(held(&self.wire.hub).invite())?, self.id()?);
        self.wire.plan(device, BTreeMap::new(), None);
        let courier = self.courier.as_mut().context("it runs")?;
        courier.leave().map_err(|trouble| anyhow::anyhow!("{trouble:?}"))?;
        let asked = courier.ask_in(&invited, &self.name).await;
        if asked.is_ok() {
            at_once(held(&self.wire.hub).accept())?;
            courier.ask_office().await;
        }
        Ok(asked)
    }

    /// A copy of its folder, to be put back later; the key beside it as well if `whole`.
    ///
    /// # Errors
    /// It cannot be copied.
    pub fn copy(&mut self) -> Result<()> {
        self.end();
        let to = self.folder(self.copies);
        self.copies += 1;
        move_files(&self.home(), &to)?;
        self.start()
    }

    /// An older copy is put back: the ledger alone (`whole`: with its key and what was known of the hub).
    ///
    /// # Errors
    /// It cannot be put back.
    pub fn put_back(&mut self, which: u64, whole: bool) -> Result<bool> {
        let Some(which) = which.checked_rem(u64::from(self.copies)) else { return Ok(false) };
        self.end();
        let from = self.folder(which as u32);
        for file in fs::read_dir(self.home())? {
            let file = file?;
            let name = file.file_name().to_string_lossy().into_owned();
            if whole || name == "evenwire.db" || name.starts_with("evenwire.db-") {
                fs::remove_file(file.path())?;
            }
        }
        for file in fs::read_dir(from)? {
            let file = file?;
            let to = self.home().join(file.file_name());
            if !to.exists() {
                fs::copy(file.path(), to)?;
            }
        }
        self.parted |= whole;
        self.start().map(|()| true)
    }

    /// Another device begins as a copy of this one, key and all.
    ///
    /// # Errors
    /// It cannot be copied.
    pub fn cloned(&mut self, folder: PathBuf, chance: &mut Chance) -> Result<Phone> {
        self.end();
        move_files(&self.home(), &folder)?;
        self.start()?;
        let hub = self.wire.hub.clone();
        let mut other = Phone::begin(folder, &self.name, (&hub, chance))?;
        (self.parted, other.parted) = (true, true);
        Ok(other)
    }

    /// What it knew of the hub is gone.
    ///
    /// # Errors
    /// It does not start again.
    pub fn forget(&mut self) -> Result<()> {
        self.end();
        for end in ["", "-wal", "-shm"] {
            let _not_there = fs::remove_file(self.path.with_extension(format!("db.shop{end}")));
        }
        self.start()
    }

    fn home(&self) -> PathBuf {
        self.path.parent().expect("in a folder").to_owned()
    }

    fn folder(&self, copy: u32) -> PathBuf {
        self.home().with_extension(format!("copy-{copy}"))
    }
}

fn move_files(from: &Path, to: &Path) -> Result<()> {
    fs::create_dir_all(to)?;
    for file in fs::read_dir(from)? {
        let file = file?;
        fs::copy(file.path(), to.join(file.file_name()))?;
    }
    Ok(())
}

/// Something to wait with between two rounds.
pub const A_WHILE: Millis = Millis(60_000);
