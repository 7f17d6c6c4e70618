//! The running bench beside the stand-in: asked as a page asks, and every view is looked at on its way.

use crate::bluez::{Bluez, Characteristic, DEADLINE, DEVICE_INFORMATION, Device, PRESENTATION, SERIAL, Service};
use crate::bluez::{VALID_RANGE, assigned};
use crate::link_bench::short_patience;
use anyhow::{Context, Result, bail, ensure};
use evenwire_core::caution::Caution;
use evenwire_core::job::{Command, MeterSpecEntry};
use evenwire_core::meter::link::Offer;
use evenwire_core::part::Part;
use evenwire_core::record::{Conditions, Details};
use evenwire_core::session::Signal;
use evenwire_core::view::{Ask, Pushed, Reply, View};
use evenwire_engine::bench::{Bench, BenchOptions, Listener};
use evenwire_engine::links::Patience;
use evenwire_engine::practice::{Encoding, MeterModel, PartModel, PracticeBench};
use evenwire_store::Store;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use uuid::Uuid;

/// From one value of the pretended meter to the next.
pub const PERIOD: Duration = Duration::from_millis(50);
/// A number older than this is never on the screen: three periods of the slowest profile used here.
pub const FRESH_MS: u64 = 600;
/// How much later than that a busy machine may tell it. When exactly a value is old is held where time is an
/// argument, and that no view shows an old one is looked at in every view here; what this is to catch is a number
/// that stays because no view comes: left alone, a bench wakes once a minute.
const LATE: Duration = Duration::from_secs(10);

/// A bench with radio, and the air around it.
#[derive(Debug)]
pub struct RadioBench {
    /// The other side of the radio.
    pub bluez: Bluez,
    /// The newest view.
    pub view: View,
    /// Every signal heard.
    pub signals: Vec<Signal>,
    bench: Bench,
    listener: Listener,
    file: PathBuf,
    sent_at: Instant,
    gone: Option<String>,
}

impl RadioBench {
    /// Starts a bench on a ledger in `folder`, with short waiting times.
    ///
    /// # Errors
    /// It does not start.
    pub async fn start(bluez: Bluez, folder: &Path) -> Result<RadioBench> {
        RadioBench::start_with(bluez, folder, short_patience()).await
    }

    /// The same with other waiting times.
    ///
    /// # Errors
    /// It does not start.
    pub async fn start_with(bluez: Bluez, folder: &Path, patience: Patience) -> Result<RadioBench> {
        let file = folder.join("bench.db");
        let bench = Bench::start(BenchOptions { patience, ..BenchOptions::on(file.clone()) })?;
        let mut listener = bench.listen();
        let Some(Pushed::View { view }) = listener.next().await else { bail!("no view comes first") };
        let (view, sent_at) = (*view, Instant::now());
        Ok(RadioBench { bluez, view, signals: Vec::new(), bench, listener, file, sent_at, gone: None })
    }

    /// Wishes something that is to be done.
    ///
    /// # Errors
    /// It was not done; the text is the answer.
    pub async fn wish(&self, command: Command) -> Result<()> {
        match self.bench.ask(Ask::Do { command: command.clone() }).await {
            Reply::Done => Ok(()),
            other => bail!("{command:?}: {other:?}"),
        }
    }

    /// The next thing said. No view shows a number that is old, or one that was blanked before.
    ///
    /// # Errors
    /// Nothing within [`DEADLINE`], or a view breaks that promise.
    pub async fn next(&mut self) -> Result<Pushed> {
        let next = tokio::time::timeout(DEADLINE, self.listener.next()).await;
        let pushed = next.with_context(|| format!("nothing more after {:#?}", self.view.meter))?;
        let pushed = pushed.context("the bench has ended")?;
        match &pushed {
            Pushed::Signal { signal } => self.signals.push(*signal),
            Pushed::View { view } => {
                self.view = View::clone(view);
                self.look_at_number()?;
            }
        }
        Ok(pushed)
    }

    fn look_at_number(&self) -> Result<()> {
        let meter = &self.view.meter;
        ensure!(meter.live == meter.display.is_some(), "live and shown are not the same: {meter:#?}");
        let Some(display) = &meter.display else { return Ok(()) };
        ensure!(display.age_ms.0 <= FRESH_MS, "an old number is shown: {meter:#?}");
        ensure!(self.gone.as_ref() != Some(&display.text), "a number that was gone came back: {meter:#?}");
        Ok(())
    }

    /// Waits until `pick` takes a view; the present one is looked at first.
    ///
    /// # Errors
    /// As [`RadioBench::next`], and nothing is taken within twice [`DEADLINE`].
    pub async fn until<T>(&mut self, mut pick: impl FnMut(&View) -> Option<T>) -> Result<T> {
        let end = Instant::now() + 2 * DEADLINE;
        while Instant::now() < end {
            if let Some(taken) = pick(&self.view) {
                return Ok(taken);
            }
            self.next().await?;
        }
        bail!("never came; last: {:#?}", self.view.meter)
    }

    /// Waits for this state of the meter, with `words` and `remedy` standing in its sentences; an empty remedy is
    /// none. No number is on the screen then.
    ///
    /// # Errors
    /// As [`RadioBench::until`], or other sentences.
    pub async fn until_said(&mut self, code: &str, words: &str, remedy: &str) -> Result<()> {
        self.until(|view| (view.meter.code == code).then_some(())).await.with_context(|| format!("until {code}"))?;
        self.says(code, words, remedy)?;
        ensure!(self.view.meter.display.is_none(), "{:#?}", self.view.meter);
        Ok(())
    }

    /// The meter is in this state now, in these words.
    ///
    /// # Errors
    /// It is not.
    pub fn says(&self, code: &str, words: &str, remedy: &str) -> Result<()> {
        let meter = &self.view.meter;
        ensure!(meter.code == code, "not {code}: {meter:#?}");
        ensure!(!words.is_empty() && meter.words.contains(words), "{:?} does not say {words:?}", meter.words);
        match &meter.remedy {
            Some(told) => ensure!(!remedy.is_empty() && told.contains(remedy), "{told:?} is not {remedy:?}"),
            None => ensure!(remedy.is_empty(), "nothing to do is named: {meter:#?}"),
        }
        Ok(())
    }

    /// Brings `device` within earshot, searches, and asks for it as soon as it is listed.
    ///
    /// # Errors
    /// As [`RadioBench::until`].
    pub async fn ask_for(&mut self, device: Device) -> Result<()> {
        let address = device.address.clone();
        self.bluez.appear(device).await?;
        let id = self.search_for(&address).await?;
        self.wish(Command::ConnectMeter { id }).await
    }

    /// Searches until `device` is heard, and stops: all that the link told before has been taken in by then.
    ///
    /// # Errors
    /// As [`RadioBench::until`].
    pub async fn search_for(&mut self, device: &str) -> Result<String> {
        let tail = device.replace(':', "_");
        // The list of a search before this one is not looked at.
        self.wish(Command::StopSearch).await?;
        self.until(|view| (!view.meter.searching).then_some(())).await?;
        self.wish(Command::SearchMeters).await?;
        let heard = |view: &View| {
            let mut found = view.meter.found.iter().filter(|_| view.meter.searching);
            found.find(|meter| meter.id.ends_with(&tail)).map(|meter| meter.id.clone())
        };
        let id = self.until(heard).await?;
        self.wish(Command::StopSearch).await?;
        self.until(|view| (!view.meter.searching).then_some(())).await?;
        Ok(id)
    }

    /// One value goes out, if somebody listens.
    ///
    /// # Errors
    /// As [`Bluez::notify`].
    pub async fn send(&mut self, (device, value): (&str, Uuid), bytes: &[u8]) -> Result<bool> {
        if !self.bluez.is_listened(device, value) {
            return Ok(false);
        }
        self.bluez.notify(device, value, [bytes.to_vec()]).await?;
        self.sent_at = Instant::now();
        Ok(true)
    }

    /// The meter sends `bytes` again and again until `pick` takes a view.
    ///
    /// # Errors
    /// As [`RadioBench::until`].
    pub async fn feed<T>(
        &mut self,
        meter: (&str, Uuid),
        bytes: &[u8],
        mut pick: impl FnMut(&View) -> Option<T>,
    ) -> Result<T> {
        let mut ticks = tokio::time::interval(PERIOD);
        ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        let end = Instant::now() + 2 * DEADLINE;
        while Instant::now() < end {
            if let Some(taken) = pick(&self.view) {
                return Ok(taken);
            }
            tokio::select! {
                _ = ticks.tick() => drop(self.send(meter, bytes).await?),
                pushed = self.next() => drop(pushed?),
            }
        }
        bail!("never came; last: {:#?}", self.view.meter)
    }

    /// The meter sends `bytes` until the screen shows `text`, live.
    ///
    /// # Errors
    /// As [`RadioBench::until`].
    pub async fn shows(&mut self, meter: (&str, Uuid), bytes: &[u8], text: &str) -> Result<()> {
        let shown = |view: &View| view.meter.display.as_ref().filter(|shown| shown.text == text).map(|_| ());
        self.feed(meter, bytes, shown).await.with_context(|| format!("until {text} is shown"))
    }

    /// Nothing is sent any more: the number on the screen is gone in time, and is not to come back.
    ///
    /// # Errors
    /// There was none, or it stayed.
    pub async fn until_blank(&mut self) -> Result<()> {
        let old = self.view.meter.display.clone().context("no number is shown")?;
        self.until(|view| view.meter.display.is_none().then_some(())).await?;
        let took = self.sent_at.elapsed();
        ensure!(took <= Duration::from_millis(FRESH_MS) + LATE, "{} stayed for {took:?}", old.text);
        self.gone = Some(old.text);
        Ok(())
    }

    /// Opens a job for `part` up to its meter.
    ///
    /// # Errors
    /// As [`RadioBench::wish`].
    pub async fn open_job(&self, part: Part) -> Result<()> {
        let details = Details { customer: "Harbour Cars".into(), ..Details::default() };
        self.wish(Command::NewJob { order: "2107".into(), vehicle: "Yard van".into(), details }).await?;
        self.wish(Command::AcceptCautions { cautions: vec![Caution::C0] }).await?;
        self.wish(Command::DescribePart { part }).await
    }

    /// Says what the meter did not tell, takes it for the job, and reads the caution before the clips.
    ///
    /// # Errors
    /// As [`RadioBench::wish`].
    pub async fn use_meter(&self, spec: MeterSpecEntry) -> Result<()> {
        self.wish(Command::DescribeMeter { spec }).await?;
        let conditions = Conditions { leads_zeroed: true, bars_open: Some(true), ..Conditions::default() };
        self.wish(Command::StateConditions { conditions }).await?;
        self.wish(Command::AcceptCautions { cautions: vec![Caution::C1] }).await
    }

    /// The bench's ledger.
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// Takes it apart, so that sending and looking can go on side by side; [`ended`] ends the bench.
    pub fn split(self) -> (Bluez, Bench, Listener) {
        (self.bluez, self.bench, self.listener)
    }

    /// Ends the bench and opens its ledger when the bench has closed it.
    ///
    /// # Errors
    /// The bench does not end within [`DEADLINE`], or the ledger does not open.
    pub async fn end(self) -> Result<(Store, Bluez)> {
        let RadioBench { bench, listener, file, bluez, .. } = self;
        Ok((ended(bench, listener, &file).await?, bluez))
    }
}

/// Lets go of the last handle of a bench, and opens its ledger when the bench has closed it.
///
/// # Errors
/// The bench does not end within [`DEADLINE`], or the ledger does not open.
pub async fn ended(bench: Bench, mut listener: Listener, file: &Path) -> Result<Store> {
    drop(bench);
    let quiet = async { while listener.next().await.is_some() {} };
    tokio::time::timeout(DEADLINE, quiet).await.context("the bench goes on")?;
    Ok(Store::open(file, Uuid::nil())?)
}

/// What a meter offers, as a device in the air.
pub fn device_of(address: &str, offer: &Offer) -> Device {
    let serial = Characteristic {
        uuid: SERIAL,
        flags: vec!["read".into()],
        value: offer.serial.clone().unwrap_or_default().into_bytes(),
        descriptors: Vec::new(),
    };
    let mut services = vec![Service { uuid: DEVICE_INFORMATION, characteristics: vec![serial] }];
    for channel in &offer.channels {
        let described = [(PRESENTATION, &channel.presentation), (VALID_RANGE, &channel.valid_range)];
        let value = Characteristic {
            uuid: channel.characteristic,
            flags: vec!["read".into(), "notify".into()],
            value: Vec::new(),
            descriptors: described.into_iter().filter_map(|(uuid, bytes)| Some((uuid, bytes.clone()?))).collect(),
        };
        services.push(Service { uuid: channel.service, characteristics: vec![value] });
    }
    Device { address: address.into(), name: offer.name.clone(), signal: -48, services }
}

/// A meter model as a device in the air.
pub fn practice_device(address: &str, meter: &MeterModel) -> Device {
    device_of(address, &PracticeBench::new(PartModel::first_practice(), meter.clone(), 1).offer())
}

/// Where a device of this encoding sends its values from.
pub fn value_of(encoding: Encoding) -> Uuid {
    encoding.channel_ids().1
}

/// A battery level, which is no resistance: unit "percentage" in its own description.
pub fn battery_meter(address: &str) -> Device {
    let mut device = crate::bluez::ohm_meter(address, 0x04, 0);
    device.name = "Battery gauge".into();
    let value = &mut device.services[1].characteristics[0];
    value.uuid = assigned(0x2A19);
    value.descriptors = vec![(PRESENTATION, vec![0x04, 0, 0xAD, 0x27, 1, 0, 0])];
    device
}
