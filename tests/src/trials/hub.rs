//! The way to the shop's hub: shops simulated from seeds by the thousand, and a real hub and a real sender killed in the
//! middle of sending.

use super::kills::{Killed, Wait};
use super::{Ground, Tally};
use crate::hub_yard::Line;
use crate::sim::{self, phone::Desk};
use anyhow::{Context, Result, ensure};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD as BASE64URL;
use evenwire_core::record::{Hash, Sealed};
use evenwire_core::sync::{BesideChange, Invitation, changes_by};
use evenwire_core::view::Reply;
use evenwire_engine::hub::{Courier, Network};
use evenwire_engine::practice::chance::Chance;
use evenwire_hub::app::{Clock, Rates};
use evenwire_hub::blobs::Blobs;
use evenwire_hub::serve::{Settings, start};
use evenwire_hub::storage::Storage;
use evenwire_store::{DeliveryGlance, Glance};
use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::runtime::{Builder, Runtime};
use uuid::Uuid;

/// A victim is killed within this time.
const LIFE_MS: u64 = 220;
/// Events in a simulated shop, at least and at most.
const EVENTS: (u64, u64) = (10, 60);
/// Kills between two times that everything has to be there.
const COMPLETE: u32 = 20;

/// Simulated shops.
///
/// # Errors
/// They cannot be begun.
pub fn shops(ground: &Ground) -> Result<Tally> {
    let (mut tally, mut chance, start) = (Tally::of("simulated shops"), ground.chance(7), Instant::now());
    let memory = Path::new("/dev/shm");
    let place = if memory.is_dir() { tempfile::tempdir_in(memory)? } else { tempfile::tempdir_in(&ground.folder)? };
    let tls = sim::hub::certificates(&place.path().join("made"))?;
    let runtime = Builder::new_current_thread().enable_all().build()?;
    for number in 0..ground.amount.shops {
        if ground.is_over(start, &mut tally) {
            break;
        }
        let (seed, events) = (chance.bits(), chance.whole(EVENTS.0, EVENTS.1) as u32);
        let shop = place.path().join(format!("shop-{number}"));
        let ran = runtime.block_on(sim::run(seed, events, (&shop, &tls)));
        let _in_the_way = std::fs::remove_dir_all(&shop);
        let came = ran.map(|came| {
            for (what, times) in came.seen {
                *tally.seen.entry(what).or_default() += times;
            }
        });
        tally.take(|| format!("a shop from seed {seed} with {events} events"), came);
    }
    Ok(tally)
}

/// The child that is a hub: says where it listens, and answers until it is killed.
///
/// # Errors
/// It does not start.
pub fn serve_until_killed(folder: &Path) -> Result<()> {
    Builder::new_multi_thread().enable_all().build()?.block_on(async {
        let settings = Settings {
            folder: folder.to_owned(),
            store: None,
            blobs: None,
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            addresses: vec!["127.0.0.1".to_owned()],
            clock: Clock::of_machine(),
            rates: Rates::a_minute(100_000, 100_000, 100_000),
        };
        let running = start(settings).await?;
        println!("{}", running.listens);
        std::future::pending().await
    })
}

/// The child that sends: says how far it is whenever all is there, until it is killed.
///
/// # Errors
/// It does not start.
pub fn send_until_killed(path: &Path) -> Result<()> {
    Builder::new_current_thread().enable_all().build()?.block_on(async {
        let mut courier = courier(path);
        loop {
            if courier.round().await.is_ok() {
                println!("all {}", courier.standing().entries.0);
            }
            // What is in the way may pass.
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    })
}

fn courier(path: &Path) -> Courier {
    let bench = |_| -> futures::future::BoxFuture<'static, Option<Reply>> { Box::pin(async { Some(Reply::Done) }) };
    Courier::new(path.to_owned(), Box::new(bench), Arc::new(Network))
}

/// A shop of processes.
struct Street<'a> {
    ground: &'a Ground,
    runtime: Runtime,
    line: Line,
    folder: PathBuf,
    path: PathBuf,
    desk: Desk,
    hub: Option<Killed>,
    sender: Option<Killed>,
}

impl Street<'_> {
    fn begin(ground: &Ground) -> Result<Street<'_>> {
        let runtime = Builder::new_multi_thread().worker_threads(1).enable_all().build()?;
        let (folder, path) = (ground.folder.join("shop-hub"), ground.folder.join("sender/evenwire.db"));
        std::fs::create_dir_all(ground.folder.join("sender"))?;
        let mut desk = Desk::new(ground.seed, Arc::new(Network));
        desk.start(&path)?;
        let line = runtime.block_on(Line::begin())?;
        let mut street = Street { ground, runtime, line, folder, path, desk, hub: None, sender: None };
        street.hub_on()?;
        street.pair()?;
        Ok(street)
    }

    fn hub_on(&mut self) -> Result<()> {
        if self.hub.is_none() {
            let mut hub = Killed::start(self.ground, "hub-serve", (&self.folder, 0))?;
            self.line.lead_to(hub.line()?.parse()?);
            self.hub = Some(hub);
        }
        Ok(())
    }

    fn sender_on(&mut self) -> Result<()> {
        if self.sender.is_none() {
            self.sender = Some(Killed::start(self.ground, "hub-send", (&self.path, 0))?);
        }
        Ok(())
    }

    /// As the office does it, in the hub's own file.
    fn pair(&self) -> Result<()> {
        let storage = Storage::open(&self.folder)?;
        let authority = BASE64URL.encode(std::fs::read(self.folder.join("tls/authority.crt"))?);
        self.runtime.block_on(async {
            let (code, now) = ("7K2M-9QXTB".to_owned(), Clock::of_machine().now_ms());
            storage.invite(Hash::of(code.as_bytes()), None, now).await?;
            let addresses = vec![self.line.at.to_string()];
            let (hub, name) = (storage.known().await?, String::new());
            let mut courier = courier(&self.path);
            let invitation = Invitation { hub, name, addresses, authority, code };
            let asked = courier.ask_in(&invitation, "Bench").await;
            ensure!(asked.is_ok(), "{asked:?}");
            let waits = storage.pairings_waiting(now).await?;
            let decided =
                storage.decide_pairing(waits.first().context("one waits")?.pairing, true, (None, now)).await?;
            ensure!(decided.is_ok(), "{decided:?}");
            courier.ask_office().await;
            ensure!(courier.standing().paired.is_some(), "it was not taken in");
            Ok(())
        })
    }

    fn work(&mut self, chance: &mut Chance) -> Result<()> {
        self.desk.open_job(None)?;
        let jobs: Vec<Uuid> = self.desk.jobs()?.into_keys().collect();
        for _ in 0..chance.whole(4, 30) {
            let job = jobs[chance.whole(0, jobs.len() as u64 - 1) as usize];
            if chance.whole(0, 2) == 0 { self.desk.photo(job)? } else { self.desk.touch(job)? }
        }
        Ok(())
    }

    /// What the sender wrote down that the hub has, it has.
    fn look(&self) -> Result<(u64, u64)> {
        // What it knows is read first: meanwhile more may come, never less.
        let glance = DeliveryGlance::at(&self.path)?.context("it is paired")?;
        let through = glance.standing()?.stored_through;
        let ledger = Glance::at(&self.path)?;
        let (entries, device) = (ledger.entries_after(0, u32::MAX)?, ledger.head()?.device);
        let mut named: BTreeMap<Uuid, BTreeSet<Hash>> = BTreeMap::new();
        for sealed in &entries {
            let Some(job) = sealed.entry().job else { continue };
            named.entry(job).or_default().extend(changes_by(sealed).into_iter().filter_map(|change| match change {
                BesideChange::Named(of) => Some(of.hash),
                _ => None,
            }));
        }
        let mut there = BTreeMap::new();
        for job in named.keys() {
            let of = glance.of_job(*job, device)?.unwrap_or_default();
            there.insert(*job, u64::from(of.photos.0 + of.others.0));
        }
        self.runtime.block_on(held_against(&self.folder, (device, through, &entries), (&named, &there)))?;
        Ok((through, there.values().sum()))
    }

    /// All of it is there.
    fn complete(&mut self) -> Result<()> {
        self.hub_on()?;
        self.sender_on()?;
        let end = format!("all {}", Glance::at(&self.path)?.head()?.sequence);
        let sender = self.sender.as_mut().context("it runs")?;
        while sender.line()? != end {}
        let (through, _) = self.look()?;
        ensure!(end == format!("all {through}"), "{end}, it said, and {through} are known to be there");
        Ok(())
    }
}

async fn held_against(
    folder: &Path,
    (device, through, ours): (Uuid, u64, &[Sealed]),
    (named, known): (&BTreeMap<Uuid, BTreeSet<Hash>>, &BTreeMap<Uuid, u64>),
) -> Result<()> {
    let (storage, blobs) = (Storage::open(folder)?, Blobs::open_as_it_is(folder));
    let row = storage.device(device).await?.context("it is gone")?;
    let theirs = storage.entries(row.number, 1, u32::MAX).await?;
    ensure!(theirs.len() as u64 >= through, "{through} were acknowledged, {} are there", theirs.len());
    ensure!(theirs.len() <= ours.len(), "more is there than was ever written");
    let other = theirs.iter().zip(ours).find(|(theirs, ours)| theirs.bytes() != ours.bytes());
    ensure!(other.is_none(), "another entry is there: {other:?}");
    for (job, hashes) in named {
        let mut present = 0;
        for hash in hashes {
            present += u64::from(blobs.get(*hash).await?.is_some());
        }
        ensure!(present >= known[job], "of job {job} {} things were acknowledged, {present} are there", known[job]);
    }
    Ok(())
}

/// A hub and a sender killed in the middle of it.
///
/// # Errors
/// They cannot be started.
pub fn kills(ground: &Ground) -> Result<Tally> {
    let (mut tally, mut chance, begun) = (Tally::of("hub and sender killed"), ground.chance(8), Instant::now());
    let mut street = Street::begin(ground)?;
    for number in 1..=ground.amount.hub_kills {
        if ground.is_over(begun, &mut tally) {
            break;
        }
        street.work(&mut chance)?;
        street.hub_on()?;
        street.sender_on()?;
        let (victim, wait) = (chance.whole(0, 2), Wait::Ms(chance.whole(0, LIFE_MS)));
        let mut came = Ok(());
        if victim != 1
            && let Some(mut hub) = street.hub.take()
        {
            came = hub.kill_after(wait).map(drop);
            street.line.lead_nowhere();
            tally.see("hubs");
        }
        if victim != 0
            && let Some(mut sender) = street.sender.take()
        {
            let wait = if victim == 1 { wait } else { Wait::Ms(0) };
            came = came.and(sender.kill_after(wait).map(drop));
            tally.see("senders");
        }
        let looked = came.and_then(|()| street.look());
        if let Ok((entries, things)) = &looked {
            tally.seen.insert("entries acknowledged", *entries);
            tally.seen.insert("things acknowledged", *things);
        }
        let last = number == ground.amount.hub_kills || number % COMPLETE == 0;
        let came = looked.and_then(|_| if last { street.complete() } else { Ok(()) });
        if last && came.is_ok() {
            tally.see("completed");
        }
        tally.take(|| format!("kill {number}, victim {victim}, {wait:?}"), came);
    }
    for mut child in [street.hub.take(), street.sender.take()].into_iter().flatten() {
        let _ended = child.kill_after(Wait::Ms(0));
    }
    Ok(tally)
}
