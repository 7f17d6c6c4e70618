//! The line between a simulated device and its hub, and the device's clocks: what goes wrong on it goes wrong by plan.

use super::hub::{Hub, answer};
use evenwire_core::sync::Trouble;
use evenwire_core::unit::{Millis, Stamp};
use evenwire_engine::hub::{Answer, Line, Outside, Request};
use evenwire_engine::practice::chance::Chance;
use evenwire_hub::app::stamp;
use futures::future::{BoxFuture, pending};
use std::collections::BTreeMap;
use std::fs;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;
use uuid::Uuid;

/// The hub, as all reach it. Held for a moment only, never while something is waited for.
pub type SharedHub = Arc<Mutex<Hub>>;

/// Takes a lock; whoever panicked with it panicked for the whole run.
pub fn held<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Does this while nobody else does anything, within whatever waits now.
pub fn at_once<T>(work: impl Future<Output = T>) -> T {
    // Tokio would have it wait for its turn, which does not come before this returns.
    futures::executor::block_on(tokio::task::unconstrained(work))
}

/// What happens at a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mid {
    /// It never comes to the hub.
    Cut,
    /// The hub did it, and its answer is lost.
    AnswerLost,
    /// The device's program ends before it is sent.
    Dies,
    /// The device's program ends when the hub did it.
    DiesAfter,
    /// It comes twice.
    Twice,
    /// It comes, and once more much later, after others.
    Late,
    /// The hub is killed before it and begins again.
    HubDies,
    /// The hub did it, is killed and begins again; the answer is lost.
    HubDiesAfter,
    /// The device is taken off before it.
    Revoked,
    /// The hub's disk is full from here on.
    Full,
    /// The hub's clock is set by so many ms.
    HubClock(i64),
    /// The device's clocks go on by so many ms.
    Later(u64),
    /// The hub was killed when the file it brings had its name, and nothing was noted.
    HalfPut,
    /// The hub says of a change what this program does not know.
    NewChange,
}

/// A device's line and clocks.
#[derive(Debug)]
pub struct Wire {
    /// Where it leads.
    pub hub: SharedHub,
    state: Mutex<State>,
    death: Notify,
}

#[derive(Debug, Default)]
struct State {
    device: Uuid,
    boot: u64,
    wall: i64,
    /// Bookings that are still done; none: all.
    writes: Option<u32>,
    asked: u32,
    plan: BTreeMap<u32, Mid>,
    late: Vec<(Uuid, Request)>,
    done: Vec<Mid>,
    /// The hub's life in which it told where the ledger ends, and in which the device went on from that.
    told: Option<u32>,
    known: Option<u32>,
}

impl Wire {
    /// A line that holds.
    pub fn new(hub: SharedHub, chance: &mut Chance) -> Arc<Wire> {
        let state = State { boot: chance.whole(1, 1 << 30), wall: 1_800_000_000_000, ..State::default() };
        Arc::new(Wire { hub, state: Mutex::new(state), death: Notify::new() })
    }

    /// What happens at the requests of the next round, and how many bookings are done at most.
    pub fn plan(&self, device: Uuid, plan: BTreeMap<u32, Mid>, writes: Option<u32>) {
        let mut state = held(&self.state);
        (state.device, state.plan, state.writes, state.asked, state.told) = (device, plan, writes, 0, None);
        state.done.clear();
    }

    /// What of it happened.
    pub fn done(&self) -> Vec<Mid> {
        held(&self.state).done.clone()
    }

    /// The round ended by itself: it knows what the hub told it.
    pub fn ended_well(&self) {
        let mut state = held(&self.state);
        state.known = state.told;
    }

    /// The hub's life this device knows of.
    pub fn known(&self) -> Option<u32> {
        held(&self.state).known
    }

    /// Time passes, or somebody sets the wall clock.
    pub fn pass(&self, ms: u64, set: i64) {
        let mut state = held(&self.state);
        (state.boot, state.wall) = (state.boot + ms, (state.wall + set).clamp(0, 4_000_000_000_000));
    }

    /// What was held back comes now.
    pub async fn deliver_late(&self) -> usize {
        let late = std::mem::take(&mut held(&self.state).late);
        let count = late.len();
        for (device, request) in late.into_iter().rev() {
            self.ask_as(device, &request).await;
        }
        count
    }

    /// Done when the device's program is to end.
    pub async fn death(&self) {
        self.death.notified().await;
    }

    async fn ask_as(&self, device: Uuid, request: &Request) -> Option<Answer> {
        let door = held(&self.hub).door()?;
        let answer = answer(door, request).await;
        held(&self.hub).hear(device, request, &answer);
        Some(answer)
    }

    async fn happens(&self, mid: Mid, request: &Request) {
        let (app, now) = held(&self.hub).running();
        match mid {
            Mid::HubDies => self.kill_hub().await,
            Mid::Revoked => {
                let device = held(&self.state).device;
                let _full = app.storage.revoke(device, now).await;
            }
            Mid::Full => {
                app.storage.hold(true).await.expect("filling the disk");
                held(&self.hub).full = true;
            }
            Mid::HubClock(by) => drop(held(&self.hub).clock.fetch_add(by, std::sync::atomic::Ordering::SeqCst)),
            Mid::Later(ms) => self.pass(ms, 0),
            Mid::HalfPut => {
                if let Some(Ok(hash)) = request.path.strip_prefix("/v1/blobs/").map(|hash| hash.to_owned().try_into()) {
                    let file = held(&self.hub).file(hash);
                    fs::create_dir_all(file.parent().expect("in a folder")).expect("a folder");
                    fs::write(file, &request.body).expect("a file");
                    self.kill_hub().await;
                }
            }
            _ => {}
        }
    }

    async fn kill_hub(&self) {
        // Nobody else asks while this one waits: there is one line at a time.
        let mut hub = held(&self.hub);
        let killed = hub.kill();
        at_once(killed).expect("the hub begins again");
    }

    fn asks(&self, request: &Request) -> (Uuid, Option<Mid>) {
        let life = held(&self.hub).life;
        let mut state = held(&self.state);
        state.asked += 1;
        let asked = state.asked;
        if request.path != "/v1/hub" && request.path != "/v1/token" && request.path != "/v1/devices/me" {
            state.known = state.told.filter(|told| *told == life);
        }
        let mid = state.plan.remove(&asked);
        state.done.extend(mid);
        (state.device, mid)
    }
}

/// The line of one round.
#[derive(Debug)]
struct Way(Arc<Wire>);

impl Line for Way {
    fn carry(&self, request: Request) -> BoxFuture<'_, Result<Answer, Trouble>> {
        Box::pin(async move {
            let wire = &self.0;
            let (device, mid) = wire.asks(&request);
            match mid {
                Some(Mid::Cut) => return Err(Trouble::Unreachable),
                Some(Mid::Dies) => {
                    wire.death.notify_one();
                    return pending().await;
                }
                Some(mid) => wire.happens(mid, &request).await,
                None => {}
            }
            let answer = wire.ask_as(device, &request).await.ok_or(Trouble::Unreachable)?;
            match mid {
                Some(Mid::AnswerLost) => return Err(Trouble::Unreachable),
                Some(Mid::DiesAfter) => {
                    wire.death.notify_one();
                    return pending().await;
                }
                Some(Mid::HubDiesAfter) => {
                    wire.kill_hub().await;
                    return Err(Trouble::Unreachable);
                }
                Some(Mid::Twice) => drop(wire.ask_as(device, &request).await),
                Some(Mid::Late) => held(&wire.state).late.push((device, request.clone())),
                _ => {}
            }
            if request.path == "/v1/devices/me" && answer.0 == 200 {
                let life = held(&wire.hub).life;
                held(&wire.state).told = Some(life);
            }
            Ok(if mid == Some(Mid::NewChange) { with_new_change(&request, answer) } else { answer })
        })
    }
}

/// A newer hub tells something this program does not know, under a number of its own.
fn with_new_change(request: &Request, (status, body): Answer) -> Answer {
    let read = serde_json::from_slice::<serde_json::Value>(&body).ok();
    match (request.path.split_once("after="), read) {
        (Some((_, after)), Some(mut changes)) if changes["changes"].as_array().is_some_and(Vec::is_empty) => {
            let number: u64 = after.parse().unwrap_or_default();
            changes["changes"] = serde_json::json!([{"number": number, "change": "bell-rung", "loud": true}]);
            (status, changes.to_string().into_bytes())
        }
        _ => (status, body),
    }
}

/// What is around a device.
#[derive(Debug)]
pub struct Around(pub Arc<Wire>);

impl Outside for Around {
    fn line<'a>(&'a self, _: &'a str, _: (Uuid, &'a [u8])) -> BoxFuture<'a, Result<Box<dyn Line>, Trouble>> {
        Box::pin(async move { Ok(Box::new(Way(self.0.clone())) as Box<dyn Line>) })
    }

    fn boot(&self) -> Millis {
        Millis(held(&self.0.state).boot)
    }

    fn wall(&self) -> Stamp {
        stamp(held(&self.0.state).wall)
    }

    fn before_writing(&self) -> Result<(), Trouble> {
        let mut state = held(&self.0.state);
        match state.writes {
            Some(0) => return Err(Trouble::Disk),
            Some(left) => state.writes = Some(left - 1),
            None => {}
        }
        Ok(())
    }
}
