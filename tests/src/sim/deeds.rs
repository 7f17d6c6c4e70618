//! What happens in a simulated shop, drawn by chance.

use super::phone::{A_WHILE, Phone, id as random};
use super::wire::{Mid, at_once, held};
use super::{Shop, check};
use anyhow::Result;
use evenwire_core::record::{Body, Event, Hash, Sealed, SignedJob, told_of};
use evenwire_core::session::Batch;
use evenwire_core::sync::Change;
use evenwire_hub::app::stamp;
use evenwire_hub::office::model::Role;
use evenwire_hub::storage::{Given, Person};
use std::collections::BTreeMap;
use std::sync::atomic::Ordering;
use uuid::Uuid;

/// A quarter of an hour and more: tokens are over.
const TOKEN_OVER: u64 = 20 * 60_000;
/// How far clocks are set, ms: seconds, hours, years.
const JUMPS: [i64; 6] = [-5_000, 5_000, -7_200_000, 7_200_000, -40_000_000_000, 40_000_000_000];

/// What it is called where it is counted.
pub fn name(mid: Mid) -> &'static str {
    match mid {
        Mid::Cut => "requests cut",
        Mid::AnswerLost => "answers lost",
        Mid::Dies => "devices ended before a request",
        Mid::DiesAfter => "devices ended after a request",
        Mid::Twice => "requests that came twice",
        Mid::Late => "requests that came again later",
        Mid::HubDies => "hub killed before a request",
        Mid::HubDiesAfter => "hub killed after a request",
        Mid::Revoked => "devices taken off in a round",
        Mid::Full => "disk full in a round",
        Mid::HubClock(_) => "hub's clock set in a round",
        Mid::Later(_) => "device's clock went on in a round",
        Mid::HalfPut => "hub killed within a request",
        Mid::NewChange => "changes nobody knows",
    }
}

impl Shop {
    fn any(&mut self) -> usize {
        self.chance.whole(0, self.phones.len() as u64 - 1) as usize
    }

    fn mid(&mut self) -> Mid {
        let jump = JUMPS[self.chance.whole(0, 5) as usize];
        match self.chance.whole(0, 17) {
            0 | 1 => Mid::Cut,
            2..=4 => Mid::AnswerLost,
            5 => Mid::Dies,
            6 | 7 => Mid::DiesAfter,
            8 => Mid::Twice,
            9 => Mid::Late,
            10 => Mid::HubDies,
            11 => Mid::HubDiesAfter,
            12 => Mid::Revoked,
            13 => Mid::Full,
            14 => Mid::HubClock(jump),
            15 => Mid::Later(if jump > 0 { TOKEN_OVER } else { A_WHILE.0 }),
            16 => Mid::HalfPut,
            _ => Mid::NewChange,
        }
    }

    /// What goes wrong in the next round, if anything.
    fn plan(&mut self) -> (BTreeMap<u32, Mid>, Option<u32>) {
        let mut plan = BTreeMap::new();
        let count = [0, 1, 1, 2, 2, 3][self.chance.whole(0, 5) as usize];
        for _ in 0..count {
            let (at, mid) = (self.chance.whole(1, 9) as u32, self.mid());
            plan.insert(at, mid);
        }
        let writes = (self.chance.whole(0, 9) == 0).then(|| self.chance.whole(0, 20) as u32);
        (plan, writes)
    }

    /// Something happens.
    pub(super) async fn event(&mut self) -> Result<()> {
        let at = self.any();
        match self.chance.whole(0, 99) {
            0..=31 => self.work(at),
            32..=37 => self.hand_over(at),
            38..=67 => {
                let plan = self.plan();
                self.round(at, plan).await.map(drop)
            }
            68..=72 => self.office(at).await,
            73..=85 => self.hub_event().await,
            86..=90 => self.take_in_again(at).await,
            _ => self.device_event(at).await,
        }
    }

    fn work(&mut self, at: usize) -> Result<()> {
        let desk = self.phones[at].desk.clone();
        let mut desk = held(&desk);
        let open: Vec<(Uuid, bool)> = desk.jobs()?.into_iter().map(|(job, is)| (job, is.finished)).collect();
        let times = self.chance.whole(1, 4);
        for _ in 0..times {
            let drawn = self.chance.whole(0, 20);
            let job = open.len().checked_sub(1).map(|last| open[self.chance.whole(0, last as u64) as usize]);
            let what = match (drawn, job) {
                (0..=3, _) | (_, None) => desk.open_job(None).map(|()| "opens a job"),
                (4..=7, Some((job, _))) => desk.photo(job).map(|()| "takes a photo"),
                (8 | 9, Some((job, _))) => desk.open_job(Some(job)).map(|()| "corrects a job"),
                (10..=12, Some((job, _))) => desk.touch(job).map(|()| "takes a touch"),
                (13..=15, Some((job, false))) => {
                    let finished = desk.write(Some(job), Event::JobFinished {}.parts(), Batch::default());
                    finished.map(|()| "closes a job")
                }
                (13..=16, Some((job, _))) => desk.erase(job).map(|()| "erases a job"),
                (17, Some((job, _))) => {
                    let newer = ("bell-rung".to_owned(), Body::from(&serde_json::json!({"loud": true})));
                    desk.write(Some(job), newer, Batch::default()).map(|()| "writes what the hub does not know")
                }
                (18, _) => {
                    let large = Event::ProcedureKept { text: "x".repeat(30_000) };
                    desk.write(None, large.parts(), Batch::default()).map(|()| "writes a large entry")
                }
                _ => desk.write(None, Event::NextPart {}.parts(), Batch::default()).map(|()| "writes of no job"),
            }?;
            self.tell(format!("{at} {what}"));
            self.see(what);
        }
        self.phones[at].wire.pass(A_WHILE.0, 0);
        Ok(())
    }

    /// A job is handed over, or one that was is taken over. Whoever gave it may go on: nothing keeps a simulated device
    /// from it.
    fn hand_over(&mut self, at: usize) -> Result<()> {
        let (drawn, other) = (self.chance.whole(0, 4), self.chance.bits());
        let open: Vec<Uuid> = {
            let jobs = held(&self.phones[at].desk).jobs()?;
            jobs.into_iter().filter(|(_, stands)| !stands.finished).map(|(job, _)| job).collect()
        };
        let what = match (drawn, open.len() as u64, self.given.len() as u64) {
            (0 | 1, 1.., _) => {
                let given = self.phones[at].give(open[(other % open.len() as u64) as usize])?;
                self.given.push(given);
                "hands a job over"
            }
            (_, _, count @ 1..) => {
                // Most often the newest; now and then one that was forgotten.
                let which = if drawn == 4 { other % count } else { count - 1 };
                match self.phones[at].take(&self.given[which as usize].clone())? {
                    true => "takes a job over",
                    false => "is told that a job is here or went on here",
                }
            }
            _ => "nothing",
        };
        self.phones[at].wire.pass(A_WHILE.0, 0);
        self.tell(format!("{at} {what}"));
        self.see(what);
        Ok(())
    }

    async fn office(&mut self, at: usize) -> Result<()> {
        self.there = None;
        let (app, now) = held(&self.hub).running();
        let job = held(&self.phones[at].desk).jobs()?.into_keys().last();
        // A full disk says no to the office, too.
        let what = match (self.chance.whole(0, 7), job) {
            (5.., Some(job)) => {
                let signed = self.sign(at, job).await?;
                held(&self.hub).said.signed.extend(signed);
                "the office signs"
            }
            (0 | 1, Some(job)) => {
                if app.storage.erase_job(job, now).await.unwrap_or(false) {
                    held(&self.hub).said.erased.insert(job);
                }
                "the office erases"
            }
            (2, _) => {
                let text = "procedure".to_owned();
                let _full = app.storage.tell(None, Change::ProcedureSent { text }, now).await;
                "the office sends a procedure"
            }
            (3, _) => {
                let note = Change::Note { job, text: "Call back".to_owned() };
                let _full = app.storage.tell(Some(self.phones[at].id()?), note, now).await;
                "the office writes a note"
            }
            (4, _) => {
                let _full = app.storage.revoke(self.phones[at].id()?, now).await;
                "the office takes a device off"
            }
            _ => "nothing",
        };
        self.tell(format!("{what} ({at})"));
        self.see(what);
        Ok(())
    }

    /// Somebody at the office signs a step of a job as the device has it; nothing where the hub does not know the device
    /// or cannot write. The signature's name, and the device.
    async fn sign(&mut self, at: usize, job: Uuid) -> Result<Option<(Uuid, Uuid)>> {
        let (app, now) = held(&self.hub).running();
        let (device, drawn) = (self.phones[at].id()?, self.chance.bits());
        let hashes: Vec<Hash> = {
            let entries = held(&self.phones[at].desk).store().entries_of(job)?;
            told_of(&entries).into_iter().map(Sealed::hash).collect()
        };
        let who = drawn % 2 + 1;
        let by = Person { id: Uuid::from_u128(who.into()), name: format!("Clerk {who}"), role: Role::Office };
        let _there_or_full = app.storage.add_person(by.clone(), (Hash::of(by.id.as_bytes()), now), now).await;
        let Some(row) = app.storage.devices().await?.into_iter().find(|row| row.id == device) else { return Ok(None) };
        let given = Given {
            signature: random(&mut self.chance),
            device: row.number,
            step: "identify".to_owned(),
            doing: 1,
            seen: SignedJob::of(job, hashes),
            by,
            at: stamp(now),
        };
        let named = (given.signature, device);
        Ok(app.storage.countersign(given, [7; 32]).await.is_ok().then_some(named))
    }

    async fn hub_event(&mut self) -> Result<()> {
        self.there = None;
        let rare = self.mood.is_multiple_of(3);
        let (drawn, other) = (self.chance.whole(0, 15), self.chance.bits());
        let what = match drawn {
            0..=2 => {
                at_once(held(&self.hub).kill())?;
                "hub killed"
            }
            3 | 4 => {
                let mut hub = held(&self.hub);
                hub.away = !hub.away;
                "hub switched on or off"
            }
            5 | 6 => {
                held(&self.hub).copy()?;
                "copies of the hub"
            }
            7 | 15 if rare => match at_once(held(&self.hub).put_back(other))? {
                true => "older copies of the hub put back",
                false => "nothing",
            },
            8 if rare && self.mood.is_multiple_of(2) => {
                at_once(held(&self.hub).lose())?;
                "hubs lost"
            }
            9 | 10 => {
                let full = !held(&self.hub).full;
                at_once(held(&self.hub).fill(full))?;
                "disk full, or not any more"
            }
            11 => {
                let jump = JUMPS[(other % 6) as usize];
                held(&self.hub).clock.fetch_add(jump, Ordering::SeqCst);
                "hub's clock set"
            }
            12 | 13 if !held(&self.hub).full => {
                check::behind(&self.hub).await?;
                "lines made anew and compared"
            }
            14 if !held(&self.hub).full => {
                self.half_behind().await?;
                "hub killed at its work beside the answers"
            }
            _ => {
                let at = self.any();
                let late = self.phones[at].wire.deliver_late().await;
                if late > 0 { "late requests delivered" } else { "nothing" }
            }
        };
        self.tell(format!("{what} {other:x}"));
        self.see(what);
        Ok(())
    }

    /// A file that has to go is gone, and the hub is killed before that was noted.
    async fn half_behind(&mut self) -> Result<()> {
        let app = held(&self.hub).app.clone();
        if let Some(hash) = app.storage.doomed().await?.first() {
            let _not_there = std::fs::remove_file(held(&self.hub).file(*hash));
        }
        at_once(held(&self.hub).kill())
    }

    async fn take_in_again(&mut self, at: usize) -> Result<()> {
        match self.round(at, (BTreeMap::new(), None)).await? {
            None => Ok(()),
            // Both go on under one name, and one of them has to begin anew.
            Some(evenwire_core::sync::Trouble::Fork { .. }) => Ok(()),
            Some(_) => self.take_in(at).await,
        }
    }

    async fn device_event(&mut self, at: usize) -> Result<()> {
        let (drawn, other) = (self.chance.whole(0, 11), self.chance.bits());
        let room = self.phones.len() < 4;
        let phone = &mut self.phones[at];
        let what = match drawn {
            0..=2 => {
                phone.end();
                phone.start()?;
                "devices started anew"
            }
            3 | 4 => {
                phone.copy()?;
                "copies of a device"
            }
            5 | 6 if phone.put_back(other, false)? => "older ledgers put back",
            7 if self.mood % 4 == 1 && phone.put_back(other, true)? => "older devices put back whole",
            8 if self.mood % 4 == 1 && room => {
                let folder = self.place.join("clone-of").join(format!("{}", self.phones.len()));
                let clone: Phone = self.phones[at].cloned(folder, &mut self.chance)?;
                self.phones.push(clone);
                "devices cloned"
            }
            9 => {
                phone.forget()?;
                "what was known of the hub lost"
            }
            _ => {
                phone.wire.pass(TOKEN_OVER, JUMPS[(other % 6) as usize]);
                "device's clock set"
            }
        };
        self.tell(format!("{at} {what} {other:x}"));
        self.see(what);
        Ok(())
    }
}
