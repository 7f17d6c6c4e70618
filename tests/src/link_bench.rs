//! The real Bluetooth link beside the stand-in, and an ear for what it reports.

use crate::bluez::{Bluez, DEADLINE, Device, OHM_SERVICE, OHM_VALUE};
use anyhow::{Context, Result, bail, ensure};
use evenwire_core::meter::link::{FoundMeter, LinkCommand, LinkEvent, LinkState, Offer};
use evenwire_core::unit::Millis;
use evenwire_engine::links::ble::BleLink;
use evenwire_engine::links::{Generations, Patience};
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

/// Waiting times short enough for a test and long enough for a busy machine.
pub fn short_patience() -> Patience {
    Patience {
        connect: Duration::from_millis(1_500),
        discover: Duration::from_millis(2_000),
        first_sample: Duration::from_millis(1_500),
        call: Duration::from_millis(2_500),
        check: Duration::from_millis(1_500),
        poll: Duration::from_millis(150),
        rescan: Duration::from_millis(800),
        retry_min: Duration::from_millis(50),
        retry_max: Duration::from_millis(400),
        give_up: Duration::from_secs(4),
        watchdog_min: Duration::from_millis(200),
        watchdog_max: Duration::from_millis(600),
        silence: Duration::from_millis(1_500),
        refusals: 3,
    }
}

/// A running link, its two ends, and the stand-in it talks to.
#[derive(Debug)]
pub struct LinkBench {
    /// The other side of the radio.
    pub bluez: Bluez,
    commands: mpsc::Sender<LinkCommand>,
    events: mpsc::Receiver<LinkEvent>,
    /// Everything reported so far, except values.
    pub told: Vec<LinkEvent>,
}

impl LinkBench {
    /// Starts the link. The stand-in must be the one this process's bus address points to.
    pub fn start(bluez: Bluez, patience: Patience) -> LinkBench {
        let (commands, orders) = mpsc::channel(16);
        // Small on purpose: the link must wait for a busy engine without losing anything.
        let (report, events) = mpsc::channel(8);
        let start = Instant::now();
        let clock = move || Millis(u64::try_from(start.elapsed().as_millis()).unwrap_or(u64::MAX));
        let link = BleLink::new(clock, Generations::new()).with_patience(patience);
        tokio::spawn(link.run(orders, report));
        LinkBench { bluez, commands, events, told: Vec::new() }
    }

    /// Tells the link something.
    ///
    /// # Errors
    /// The link has ended.
    pub async fn tell(&self, command: LinkCommand) -> Result<()> {
        self.commands.send(command).await.context("the link has ended")
    }

    /// The next event.
    ///
    /// # Errors
    /// None within [`DEADLINE`]; the text says what came before.
    pub async fn next(&mut self) -> Result<LinkEvent> {
        match tokio::time::timeout(DEADLINE, self.events.recv()).await {
            Ok(Some(event)) => {
                if !matches!(event, LinkEvent::Bytes { .. }) {
                    self.told.push(event.clone());
                }
                Ok(event)
            }
            Ok(None) => bail!("the link has ended"),
            Err(_) => bail!("nothing more after {:#?}\ncalls: {:#?}", self.told, self.bluez.calls()),
        }
    }

    /// Skips events until `pick` takes one.
    ///
    /// # Errors
    /// As [`LinkBench::next`], and nothing is taken within twice [`DEADLINE`].
    pub async fn until<T>(&mut self, mut pick: impl FnMut(&LinkEvent) -> Option<T>) -> Result<T> {
        let end = Instant::now() + 2 * DEADLINE;
        while Instant::now() < end {
            if let Some(taken) = pick(&self.next().await?) {
                return Ok(taken);
            }
        }
        bail!("never came; last: {:#?}", self.told.iter().rev().take(12).collect::<Vec<_>>())
    }

    /// Skips until the link reports this state.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn until_state(&mut self, state: LinkState) -> Result<()> {
        self.until(|event| (*event == LinkEvent::State(state)).then_some(()))
            .await
            .with_context(|| format!("waiting for {state:?}"))
    }

    /// Skips until the link tries again after a loss.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn until_lost(&mut self) -> Result<()> {
        self.until(|event| matches!(event, LinkEvent::State(LinkState::Lost { .. })).then_some(())).await
    }

    /// Skips until a connection was made.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn until_connected(&mut self) -> Result<(u32, Offer)> {
        self.until(|event| match event {
            LinkEvent::Connected { generation, offer } => Some((*generation, offer.clone())),
            _ => None,
        })
        .await
    }

    /// Searches until a meter of this name is found, and stops searching.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn find(&mut self, name: &str) -> Result<FoundMeter> {
        self.tell(LinkCommand::Search).await?;
        let found = self
            .until(|event| match event {
                LinkEvent::Found(meter) if meter.name == name => Some(meter.clone()),
                _ => None,
            })
            .await?;
        self.tell(LinkCommand::StopSearch).await?;
        self.until_state(LinkState::Idle).await?;
        Ok(found)
    }

    /// Brings `device` within earshot, finds it and asks for a connection.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn ask_for(&mut self, device: Device) -> Result<()> {
        let name = device.name.clone();
        self.bluez.appear(device).await?;
        let id = self.find(&name).await?.id;
        self.tell(LinkCommand::Connect { id }).await
    }

    /// Listens to the ready-made ohm meter under `generation` and waits until notifications are on.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn listen(&mut self, generation: u32) -> Result<()> {
        self.tell(LinkCommand::Listen { generation, service: OHM_SERVICE, characteristic: OHM_VALUE }).await?;
        self.until_state(LinkState::Subscribed).await
    }

    /// Connected, listening, and one value through: the generation.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn live(&mut self, device: Device) -> Result<u32> {
        let address = device.address.clone();
        self.ask_for(device).await?;
        self.live_again(&address).await
    }

    /// As [`LinkBench::live`], when the link connects by itself.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn live_again(&mut self, address: &str) -> Result<u32> {
        let (generation, _) = self.until_connected().await?;
        self.listen(generation).await?;
        self.bluez.notify(address, OHM_VALUE, [vec![0xEE, 0x01]]).await?;
        let (through, bytes) = self.value().await?;
        ensure!((through, bytes.as_slice()) == (generation, &[0xEE, 0x01][..]), "{bytes:?} through {through}");
        Ok(generation)
    }

    /// The next value, with its generation.
    ///
    /// # Errors
    /// As [`LinkBench::until`].
    pub async fn value(&mut self) -> Result<(u32, Vec<u8>)> {
        self.until(|event| match event {
            LinkEvent::Bytes { generation, bytes, .. } => Some((*generation, bytes.clone())),
            _ => None,
        })
        .await
    }
}

/// The hearing half of a [`LinkBench`], so that sending and hearing can go on side by side.
#[derive(Debug)]
pub struct Ear {
    _commands: mpsc::Sender<LinkCommand>,
    events: mpsc::Receiver<LinkEvent>,
}

impl Ear {
    /// The next event.
    ///
    /// # Errors
    /// None within [`DEADLINE`], or the link has ended.
    pub async fn next(&mut self) -> Result<LinkEvent> {
        let event = tokio::time::timeout(DEADLINE, self.events.recv()).await.context("nothing more")?;
        event.context("the link has ended")
    }
}

impl LinkBench {
    /// Takes the bench apart. The link runs on as long as the ear is kept.
    pub fn split(self) -> (Bluez, Ear) {
        (self.bluez, Ear { _commands: self.commands, events: self.events })
    }
}
