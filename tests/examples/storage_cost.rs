//! Measures what an hour of a practice meter at 10 Hz costs on the disk, stored as the running bench stores it:
//! bytes per notification, beside the zero-order entropy of the same series.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::Command;
use evenwire_core::meter::Shown;
use evenwire_core::meter::link::{FoundMeter, LinkEvent, LinkState, Source};
use evenwire_core::record::{Gathering, Sample};
use evenwire_core::session::{Beginning, Input, Output, Session};
use evenwire_core::unit::{BootId, Millis, Now, Stamp};
use evenwire_engine::practice::rehearsal::{device, seed_bytes};
use evenwire_engine::practice::{Encoding, MeterModel, PartModel, Place, PracticeBench};
use evenwire_store::Store;
use std::collections::BTreeMap;
use std::path::Path;
use uuid::Uuid;

const HOUR: Millis = Millis(3_600_000);
const STEP: u64 = 20;
/// A ledger with nothing in it is taken off: what is told is what the samples add.
const SEED: u64 = 10;

fn main() -> Result<()> {
    println!("one hour at 10 Hz, bytes per notification");
    println!(
        "{:<22}{:>9}{:>9}{:>9}{:>8}{:>8}{:>9}{:>9}{:>7}",
        "meter", "samples", "entropy", "of that", "of that", "value", "and raw", "file", "ratio"
    );
    println!("{:<22}{:>9}{:>9}{:>9}{:>8}{:>8}{:>9}{:>9}", "", "", "", "value", "time", "+ time", "bytes", "");
    let signs = Encoding::StatusInteger;
    let fine = MeterModel { places: 3, ..MeterModel::default() };
    for (name, meter) in [
        ("0.01 ohm, 4 bytes", MeterModel::default()),
        ("0.001 ohm, 4 bytes", fine.clone()),
        ("0.001 ohm, 10 bytes", MeterModel { encoding: signs, ..fine }),
    ] {
        hour(name, meter)?;
    }
    println!("entropy: of digits and of intervals, each as if drawn anew; ratio: value + time against it");
    Ok(())
}

fn hour(name: &str, meter: MeterModel) -> Result<()> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("hour.db");
    drop(Store::open(&file, device(SEED))?);
    let empty = size(&file)?;
    let samples = measure(&file, meter)?;
    let stored = Store::open(&file, Uuid::nil())?.counts()?;
    ensure!(stored.samples == samples.len() as u64, "{stored:?}");
    let count = samples.len() as f64;
    let bare: usize = samples.chunks(evenwire_core::record::chunk::MOST).map(without_raw).sum();
    let digits = samples.iter().flat_map(|sample| &sample.shown).map(|shown| match shown {
        Shown::Value(quantity) => quantity.digits(),
        Shown::OverRange | Shown::Blank => i64::MAX,
    });
    let value = entropy(digits) / 8.0;
    let time = entropy(samples.windows(2).map(|two| two[1].at.since(two[0].at).0 as i64)) / 8.0;
    let (bare, payload) = (bare as f64 / count, stored.payload_bytes as f64 / count);
    let disk = (size(&file)? - empty) as f64 / count;
    println!(
        "{name:<22}{count:>9}{:>9.2}{value:>9.2}{time:>8.2}{bare:>8.2}{payload:>9.2}{disk:>9.2}{:>7.2}",
        value + time,
        bare / (value + time)
    );
    Ok(())
}

/// The same samples without their bytes, as a chunk.
fn without_raw(samples: &[Sample]) -> usize {
    let mut gathering = Gathering::new(Uuid::nil(), None, Uuid::nil(), 1);
    samples.iter().for_each(|sample| gathering.push(Sample { raw: Vec::new(), ..sample.clone() }));
    gathering.chunk(Millis(0), true).payload.len()
}

/// Zero-order, bits for each.
fn entropy(series: impl Iterator<Item = i64>) -> f64 {
    let mut seen: BTreeMap<i64, u32> = BTreeMap::new();
    series.for_each(|each| *seen.entry(each).or_default() += 1);
    let all = f64::from(seen.values().sum::<u32>());
    seen.values().map(|count| f64::from(*count) / all).map(|share| -share * share.log2()).sum()
}

fn size(file: &Path) -> Result<u64> {
    Ok(std::fs::metadata(file)?.len())
}

/// Holds the clips on one conductor for an hour of counted time; every batch is committed as at a real bench.
/// The samples as the ledger gives them back.
fn measure(file: &Path, meter: MeterModel) -> Result<Vec<Sample>> {
    let store = Store::open(file, Uuid::nil())?;
    let mut now = Now { boot: Millis(1_000), boot_id: BootId("hour".into()), wall: wall()? };
    let beginning = Beginning {
        head: store.head()?,
        device_entries: Vec::new(),
        people: Vec::new(),
        key: None,
        seed: seed_bytes(SEED),
        profiles: evenwire_core::meter::built_in(),
        now: now.clone(),
    };
    let mut desk = Desk { session: Session::new(beginning), store };
    let mut bench = PracticeBench::new(PartModel::first_practice(), meter, SEED);
    let job = Command::NewJob { order: "2108".into(), vehicle: String::new(), details: Default::default() };
    desk.input(Input::Wish(job), &now)?;
    let found = FoundMeter { id: "1".into(), name: "Practice meter".into(), signal: None, source: Source::Practice };
    desk.link(LinkEvent::Found(found), &now)?;
    desk.input(Input::Wish(Command::ConnectMeter { id: "1".into() }), &now)?;
    desk.link(LinkEvent::Connected { generation: 1, offer: bench.offer() }, &now)?;
    desk.link(LinkEvent::State(LinkState::Subscribed), &now)?;
    let (_, characteristic) = bench.meter().encoding.channel_ids();
    bench.clip(Place { connector: 0, cavity: 1 }, Place { connector: 1, cavity: 1 })?;
    while now.boot < HOUR {
        now.boot = Millis(now.boot.0 + STEP);
        for frame in bench.step(now.boot) {
            desk.link(LinkEvent::Bytes { generation: 1, characteristic, bytes: frame.bytes, at: frame.at }, &now)?;
        }
        desk.input(Input::Tick, &now)?;
    }
    desk.input(Input::Wish(Command::DisconnectMeter), &now)?;
    let job = desk.session.job().context("a job was opened")?.id;
    let mut samples = Vec::new();
    for chunk in desk.store.chunks_of(job)? {
        samples.extend(chunk.samples()?);
    }
    Ok(samples)
}

fn wall() -> Result<Stamp> {
    Stamp::parse("2026-03-02T08:00:00+01:00").context("a date with its offset")
}

struct Desk {
    session: Session,
    store: Store,
}

impl Desk {
    fn link(&mut self, event: LinkEvent, now: &Now) -> Result<()> {
        self.input(Input::Link(Source::Practice, event), now)
    }

    fn input(&mut self, input: Input, now: &Now) -> Result<()> {
        for output in self.session.handle(input, now) {
            match output {
                Output::Append(batch) => self.store.append(&batch)?,
                Output::Refused(refusal) => anyhow::bail!("{refusal:?}"),
                // Nobody of a roster is here.
                Output::CheckPin { .. } | Output::HashPin { .. } => {}
                Output::Link(..) | Output::Load(..) | Output::Collect(_) | Output::Signal(_) => {}
            }
        }
        Ok(())
    }
}
