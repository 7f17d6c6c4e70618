//! Holding one meter: connect, discover, listen, notice a loss, try again.

use super::eyes::Sign;
use super::radio::{Peripheral, PeripheralCalls};
use super::station::Station;
use super::tap::Wanted;
use super::trouble::{Trouble, within};
use super::{Closed, Generations, Patience, Voice, Work, offer};
use evenwire_core::meter::link::{LinkCommand, LinkEvent, LinkState, RefusedWhy};
use std::convert::Infallible;
use std::time::Duration;
use tokio::sync::{broadcast, watch};
use tokio::time::Instant;

impl Work {
    /// Holds the meter until a command ends it and gives that back, or until the meter is given up,
    /// and then gives back nothing.
    pub(super) async fn hold(&mut self, id: &str) -> Result<Option<LinkCommand>, Closed> {
        let Work { commands, voice, station, generations, patience } = self;
        let (listen, listens) = watch::channel(None);
        let signs = station.signs();
        let mut grip = Grip { id, voice, station, generations, patience, listens, signs, touched: None };
        let next = {
            let keeping = grip.keep();
            tokio::pin!(keeping);
            loop {
                tokio::select! {
                    end = &mut keeping => break end.map(|()| None),
                    command = commands.recv() => match command {
                        Some(LinkCommand::Listen { generation, service, characteristic }) => {
                            listen.send_replace(Some(Wanted { generation, service, characteristic }));
                        }
                        Some(LinkCommand::Search | LinkCommand::StopSearch) => {}
                        Some(other) => break Ok(Some(other)),
                        None => break Err(Closed),
                    },
                }
            }
        };
        grip.let_go().await;
        next
    }
}

/// Why an attempt ended.
enum Stop {
    Trouble(Trouble),
    Closed,
}

impl From<Trouble> for Stop {
    fn from(trouble: Trouble) -> Stop {
        Stop::Trouble(trouble)
    }
}

impl From<Closed> for Stop {
    fn from(_: Closed) -> Stop {
        Stop::Closed
    }
}

/// What came of the attempts so far.
#[derive(Default)]
struct Tries {
    attempt: u32,
    since: Option<Instant>,
    refusals: u32,
    was_connected: bool,
}

impl Tries {
    /// A value came, or the trouble lies outside the meter: a later loss starts a new count.
    fn start_anew(&mut self) {
        *self = Tries { was_connected: self.was_connected, ..Tries::default() };
    }

    /// Counts a refusal; true if it is final.
    fn refused(&mut self, why: RefusedWhy, patience: &Patience) -> bool {
        self.refusals += 1;
        match why {
            // A meter that was connected before and cannot be reached is away, not unwilling.
            RefusedWhy::Connection if self.was_connected => false,
            RefusedWhy::NoServices if !self.was_connected => true,
            _ => self.refusals >= patience.refusals,
        }
    }
}

struct Grip<'a> {
    id: &'a str,
    voice: &'a mut Voice,
    station: &'a mut Station,
    generations: &'a Generations,
    patience: &'a Patience,
    listens: watch::Receiver<Option<Wanted>>,
    signs: broadcast::Receiver<Sign>,
    /// Was asked to connect and must be let go, whatever came of it.
    touched: Option<Peripheral>,
}

impl Grip<'_> {
    /// Returns when the person has to decide; the state has been told.
    async fn keep(&mut self) -> Result<(), Closed> {
        let mut tries = Tries::default();
        loop {
            let Err(stop) = self.attempt(&mut tries).await;
            let Stop::Trouble(mut trouble) = stop else { return Err(Closed) };
            tracing::debug!(%trouble, id = self.id, "ble attempt ended");
            if self.let_go().await {
                tries.start_anew();
            }
            // A loss may have its reason in the adapter or the daemon: then that is what is said.
            if trouble.surroundings().is_none()
                && let Err(worse) = self.station.ready().await
                && worse.surroundings().is_some()
            {
                trouble = worse;
            }
            if let Some(state) = trouble.surroundings() {
                tries.start_anew();
                self.voice.state(state).await?;
                self.pause(self.patience.poll).await?;
                continue;
            }
            match trouble {
                Trouble::Refused(why) if tries.refused(why, self.patience) => {
                    return self.voice.state(LinkState::Refused { why }).await;
                }
                Trouble::Refused(_) => {}
                _ => tries.refusals = 0,
            }
            tries.attempt += 1;
            let since = *tries.since.get_or_insert_with(Instant::now);
            if since.elapsed() >= self.patience.give_up {
                return self.voice.state(LinkState::GaveUp).await;
            }
            self.wait_to_retry(tries.attempt).await?;
        }
    }

    async fn wait_to_retry(&mut self, attempt: u32) -> Result<(), Closed> {
        // Without randomness two benches might try in step, which is no reason to fail.
        let wait = self.patience.retry(attempt, getrandom::u32().unwrap_or(0));
        let retry_ms = u32::try_from(wait.as_millis()).unwrap_or(u32::MAX);
        self.voice.state(LinkState::Lost { attempt, retry_ms }).await?;
        tokio::select! {
            () = tokio::time::sleep(wait) => Ok(()),
            () = self.voice.outbox.closed() => Err(Closed),
        }
    }

    /// Waits for `time`, or until the adapter's power changes.
    async fn pause(&mut self, time: Duration) -> Result<(), Closed> {
        let end = Instant::now() + time;
        loop {
            tokio::select! {
                () = tokio::time::sleep_until(end) => return Ok(()),
                () = self.voice.outbox.closed() => return Err(Closed),
                sign = self.signs.recv() => if !matches!(sign, Ok(Sign::Heard | Sign::Left(_))) {
                    return Ok(());
                },
            }
        }
    }

    /// Connects and stays until that ends.
    async fn attempt(&mut self, tries: &mut Tries) -> Result<Infallible, Stop> {
        let adapter = self.station.ready().await?;
        self.voice.state(LinkState::Connecting).await?;
        let peripheral = self.station.find(&adapter, self.id).await?;
        self.touched = Some(peripheral.clone());
        self.connect(&peripheral).await?;
        self.voice.state(LinkState::Discovering).await?;
        let offer = offer::read(&peripheral, self.patience).await?;
        tries.was_connected = true;
        let generation = self.generations.next();
        self.voice.outbox.send(LinkEvent::Connected { generation, offer }).await?;
        self.attend(&peripheral, generation).await
    }

    /// On BlueZ a connect includes finding the services, which has a longer limit than the connect.
    async fn connect(&mut self, peripheral: &Peripheral) -> Result<(), Stop> {
        let connecting = within(self.patience.connect + self.patience.discover, peripheral.connect());
        tokio::pin!(connecting);
        let done = match tokio::time::timeout(self.patience.connect, &mut connecting).await {
            Ok(done) => done,
            Err(_) if !within(self.patience.check, peripheral.is_connected()).await? => Err(Trouble::Late),
            Err(_) => {
                self.voice.state(LinkState::Discovering).await?;
                match connecting.await {
                    Err(Trouble::Late) => Err(Trouble::Refused(RefusedWhy::NoServices)),
                    other => other,
                }
            }
        };
        done.map_err(|trouble| match trouble {
            Trouble::Failed(error) => {
                tracing::debug!(%error, "connect refused");
                Stop::Trouble(Trouble::Refused(RefusedWhy::Connection))
            }
            other => Stop::Trouble(other),
        })
    }

    /// Stays with a connected meter: listens when told to, and watches that it is still there.
    async fn attend(&mut self, peripheral: &Peripheral, generation: u32) -> Result<Infallible, Stop> {
        let mut on = None;
        let mut asked = Instant::now();
        loop {
            let due = self.due(on, asked);
            tokio::select! {
                () = self.voice.outbox.closed() => return Err(Stop::Closed),
                // The sender lives as long as this does; if it were gone, there would be nothing to hear.
                Ok(()) = self.listens.changed() => {
                    let wanted = *self.listens.borrow_and_update();
                    if let Some(wanted) = wanted.filter(|wanted| wanted.generation == generation && on != Some(*wanted)) {
                        self.listen(peripheral, wanted, on.replace(wanted)).await?;
                    }
                }
                sign = self.signs.recv() => match sign {
                    Ok(Sign::Heard) => {}
                    Ok(Sign::Left(id)) if id != self.id => {}
                    // It may be a word about the connection before this one, so the meter itself is asked.
                    _ => self.ask(peripheral).await?,
                },
                () = tokio::time::sleep_until(due) => {
                    if self.due(on, asked) > Instant::now() {
                        continue;
                    }
                    self.ask(peripheral).await?;
                    self.bear_silence(on)?;
                    asked = Instant::now();
                }
            }
        }
    }

    /// When to ask next whether the meter is there.
    fn due(&self, on: Option<Wanted>, asked: Instant) -> Instant {
        match self.station.tap(self.id).filter(|_| on.is_some()) {
            Some(tap) => tap.pulse().due(self.patience).max(asked + self.patience.watchdog_min),
            None => asked + self.patience.watchdog_max,
        }
    }

    async fn ask(&mut self, peripheral: &Peripheral) -> Result<(), Trouble> {
        match within(self.patience.check, peripheral.is_connected()).await {
            Ok(true) => Ok(()),
            Ok(false) => Err(Trouble::Gone),
            Err(trouble) => {
                if matches!(trouble, Trouble::Late) {
                    self.station.suspect();
                }
                Err(trouble)
            }
        }
    }

    fn bear_silence(&self, on: Option<Wanted>) -> Result<(), Trouble> {
        let Some(tap) = self.station.tap(self.id).filter(|_| on.is_some()) else { return Ok(()) };
        let pulse = tap.pulse();
        let limit = if pulse.has_beaten() { self.patience.silence } else { self.patience.first_sample };
        if pulse.silent_since().elapsed() >= limit { Err(Trouble::Silent) } else { Ok(()) }
    }

    async fn listen(&mut self, peripheral: &Peripheral, wanted: Wanted, before: Option<Wanted>) -> Result<(), Stop> {
        let refused = || Stop::Trouble(Trouble::Refused(RefusedWhy::Notifications));
        let all = peripheral.characteristics();
        let find = |wanted: Wanted| {
            all.iter().find(|each| (each.service_uuid, each.uuid) == (wanted.service, wanted.characteristic))
        };
        let characteristic = find(wanted).ok_or_else(refused)?;
        let limit = self.patience.call;
        let tap = self.station.open_tap(self.id).await?;
        if let Some(old) = before.and_then(find) {
            tap.close().await;
            // If it goes on notifying, the tap lets nothing of it through.
            let _ = within(limit, peripheral.unsubscribe(old)).await;
        }
        // The stream is open before notifications are: what is sent in between is not lost.
        tap.open(wanted).await;
        match within(limit, peripheral.subscribe(characteristic)).await {
            // "In progress" says that they may be on already. The watchdog sees whether values come.
            Ok(()) | Err(Trouble::Doing) => {}
            Err(Trouble::Failed(_) | Trouble::NoPermission) => return Err(refused()),
            Err(trouble) => return Err(trouble.into()),
        }
        self.voice.state(LinkState::Subscribed).await?;
        tap.flow().await;
        Ok(())
    }

    /// Ends whatever was begun with the meter. True if it had sent values since it was listened to.
    async fn let_go(&mut self) -> bool {
        let mut was_live = false;
        if let Some(tap) = self.station.tap(self.id) {
            tap.close().await;
            was_live = tap.pulse().take_beaten();
        }
        self.station.stop_scan().await;
        if let Some(peripheral) = self.touched.take()
            // On a dead bus it would only wait for its limit.
            && !self.station.is_suspect()
            && let Err(Trouble::Late) = within(self.patience.call, peripheral.disconnect()).await
        {
            self.station.suspect();
        }
        was_live
    }
}
