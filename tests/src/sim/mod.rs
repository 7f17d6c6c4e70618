//! A shop that is simulated from a seed: real ledgers, the real sender, the real hub, and everything that goes wrong
//! between them. The same seed gives the same run, told event by event.
//!
//! [`check`] says what has to hold after everything that happens.

pub mod answers;
pub mod check;
mod deeds;
pub mod hands;
pub mod hub;
pub mod phone;
#[cfg(test)]
mod tests;
pub mod wire;

use anyhow::{Context, Result, bail, ensure};
use check::{There, Written};
use evenwire_core::sync::Trouble;
use evenwire_engine::practice::chance::Chance;
use hands::Given;
use hub::Hub;
use phone::Phone;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use wire::{Mid, SharedHub, at_once, held};

/// Rounds until all is quiet, at most.
const QUIET: u32 = 12;

/// What a run came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Came {
    /// What happened, event by event.
    pub told: String,
    /// What happened how often.
    pub seen: BTreeMap<&'static str, u64>,
}

/// A shop.
#[derive(Debug)]
struct Shop {
    place: PathBuf,
    chance: Chance,
    hub: SharedHub,
    phones: Vec<Phone>,
    written: Written,
    came: Came,
    /// What the hub has, as long as nothing came to it since that was looked at.
    there: Option<Arc<There>>,
    /// Files of jobs that were handed over. They lie about; anybody may take one, at any time.
    given: Vec<Given>,
    /// In every run something else happens often.
    mood: u64,
}

/// Runs `events` events from `seed`, below `place`, with certificates as [`hub::certificates`] made them.
///
/// # Errors
/// What does not hold, with what happened before.
pub async fn run(seed: u64, events: u32, (place, tls): (&Path, &Path)) -> Result<Came> {
    let mut shop = Shop::begin(seed, (place, tls)).await?;
    let ran = shop.whole(events).await;
    let told = std::mem::take(&mut shop.came.told);
    ran.with_context(|| format!("seed {seed}, {events} events:\n{told}"))?;
    Ok(Came { told, ..shop.came })
}

impl Shop {
    async fn begin(seed: u64, (place, tls): (&Path, &Path)) -> Result<Shop> {
        let mut chance = Chance::new(seed);
        let hub: SharedHub = Arc::new(Mutex::new(Hub::begin(place, tls).await?));
        let mood = chance.bits();
        let (phones, written, came) = (Vec::new(), Written::default(), Came::default());
        let given = Vec::new();
        Ok(Shop { place: place.to_owned(), chance, hub, phones, written, came, there: None, given, mood })
    }

    async fn new_phone(&mut self) -> Result<()> {
        let number = self.phones.len();
        let folder = self.place.join(format!("phone-{number}"));
        self.phones.push(Phone::begin(folder, &format!("Bench {number}"), (&self.hub, &mut self.chance))?);
        self.take_in(number).await
    }

    async fn whole(&mut self, events: u32) -> Result<()> {
        let count = self.chance.whole(2, 3);
        for _ in 0..count {
            self.new_phone().await?;
        }
        for _ in 0..events {
            self.event().await?;
            self.look().await?;
        }
        self.rest().await
    }

    fn see(&mut self, what: &'static str) {
        *self.came.seen.entry(what).or_default() += 1;
    }

    fn tell(&mut self, line: impl AsRef<str>) {
        let _never = writeln!(self.came.told, "{}", line.as_ref());
    }

    /// Everything that has to hold.
    async fn look(&mut self) -> Result<Arc<There>> {
        for phone in &self.phones {
            self.written.note(phone)?;
        }
        let there = match self.there.take() {
            Some(there) => there,
            None => Arc::new(check::hub(&self.hub, &self.written).await?),
        };
        self.there = Some(there.clone());
        let life = held(&self.hub).life;
        for at in 0..self.phones.len() {
            let safe = check::safe(&self.phones[at], &there, life)?;
            *self.came.seen.entry("jobs found safe, and they were").or_default() += safe;
        }
        Ok(there)
    }

    async fn take_in(&mut self, at: usize) -> Result<()> {
        self.there = None;
        let paired = self.phones[at].pair().await?;
        self.tell(format!("{at} is taken in: {paired:?}"));
        match paired {
            Ok(()) => {
                self.see("taken in");
                Ok(())
            }
            Err(Trouble::Unreachable | Trouble::Full) => Ok(()),
            // Another device came under the same id; it has to begin anew.
            Err(trouble) => bail!("{trouble:?} while a device was taken in"),
        }
    }

    /// A round, with what was planned for it; what it may come to depends on what happened.
    async fn round(&mut self, at: usize, (plan, writes): (BTreeMap<u32, Mid>, Option<u32>)) -> Result<Option<Trouble>> {
        let device = self.phones[at].id()?;
        self.phones[at].wire.plan(device, plan, writes);
        held(&self.phones[at].desk).put_off = false;
        self.there = None;
        let came = self.phones[at].round().await?;
        let done = self.phones[at].wire.done();
        self.phones[at].wire.plan(device, BTreeMap::new(), None);
        self.tell(format!("{at} sends, {done:?}, writes {writes:?}: {came:?}"));
        self.see(if came == Some(Ok(())) { "rounds that ended well" } else { "rounds cut" });
        for mid in &done {
            self.see(deeds::name(*mid));
        }
        let Some(came) = came else { return Ok(None) };
        let trouble = match came {
            Ok(()) => {
                let there = self.look().await?;
                check::complete(&self.phones[at], &there)?;
                return Ok(None);
            }
            Err(trouble) => trouble,
        };
        let cut = done.iter().any(|mid| !matches!(mid, Mid::Twice | Mid::Late | Mid::Later(_) | Mid::NewChange));
        let (away, full) = held(&self.hub).closed();
        let clock = done.iter().any(|mid| matches!(mid, Mid::HubClock(_) | Mid::Later(_)));
        let fits = match trouble {
            Trouble::Unreachable => cut || away || full,
            Trouble::Full => full,
            Trouble::Disk => writes.is_some(),
            Trouble::NotUnderstood => clock,
            Trouble::Fork { .. } => self.phones[at].parted,
            Trouble::Revoked | Trouble::OtherIdentity | Trouble::OtherCertificate | Trouble::NotPaired => true,
            _ => false,
        };
        ensure!(fits, "{trouble:?} for no reason");
        if matches!(trouble, Trouble::Fork { .. }) {
            self.see("forks found");
        }
        Ok(Some(trouble))
    }

    /// Everything is mended and connected: then everything is there.
    async fn rest(&mut self) -> Result<()> {
        self.tell("all is mended");
        held(&self.hub).away = false;
        self.phones.iter().for_each(|phone| held(&phone.desk).busy = false);
        at_once(held(&self.hub).fill(false))?;
        let mut forked = vec![false; self.phones.len()];
        for turn in 0..QUIET {
            let mut quiet = true;
            for (at, forked) in forked.iter_mut().enumerate() {
                let before = held(&self.phones[at].desk).entries()?.len();
                match self.round(at, (BTreeMap::new(), None)).await? {
                    None => quiet &= held(&self.phones[at].desk).entries()?.len() == before,
                    Some(Trouble::Fork { .. }) => *forked = true,
                    Some(_) => {
                        quiet = false;
                        self.take_in(at).await?;
                    }
                }
            }
            if quiet && turn > 0 {
                break;
            }
            ensure!(turn + 1 < QUIET, "it never comes to rest");
        }
        let there = self.look().await?;
        for (phone, forked) in self.phones.iter().zip(&forked) {
            if !forked {
                check::complete(phone, &there)?;
            }
        }
        check::behind(&self.hub).await?;
        self.there = None;
        self.look().await?;
        Ok(())
    }
}
