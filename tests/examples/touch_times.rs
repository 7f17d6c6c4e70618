//! Measures a bench at work over the air: how long after the reading that settled it was sent a touch stands on
//! the screen. What stands there is committed before. Eight conductors, four touches each, at 20 Hz.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::MeterSpecEntry;
use evenwire_core::record::Event;
use evenwire_core::view::View;
use evenwire_engine::links::Patience;
use evenwire_engine::practice::{Encoding, MeterModel, PartModel, PracticeBench};
use evenwire_tests::bluez::{Bluez, program_on_own_bus};
use evenwire_tests::radio_bench::RadioBench;
use evenwire_tests::yard::{Sent, Yard};
use std::path::Path;
use std::time::{Duration, Instant};

/// A touch should stand on the screen this soon.
const SOON: Duration = Duration::from_millis(150);

fn main() -> Result<()> {
    program_on_own_bus(|folder| async move { measure(&folder).await })
}

async fn measure(folder: &Path) -> Result<()> {
    let bluez = Bluez::start(folder).await?;
    let bench = RadioBench::start_with(bluez, folder, Patience::default()).await?;
    // Its profile knows step, accuracy and range.
    let encoding = Encoding::StatusInteger;
    let meter = MeterModel { period_ms: 50, jitter_ms: 3, leads_zeroed: true, encoding, ..MeterModel::default() };
    let practice = PracticeBench::new(PartModel::first_practice(), meter, 8);
    let mut part = practice.part().to_part();
    part.touches_wanted = 4;
    let mut yard = Yard::open(bench, practice, part).await?;
    yard.work(|view| view.meter.display.clone()).await?;
    let step = "0.01".to_owned();
    yard.bench.use_meter(MeterSpecEntry { step, ..yard.bench.view.meter.spec.clone() }).await?;

    let mut shown: Vec<Instant> = Vec::new();
    let count_touches = |view: &View| {
        let measure = view.bench.as_ref()?.measure.as_ref()?;
        while shown.len() < measure.taken as usize {
            shown.push(Instant::now());
        }
        (measure.taken == measure.wanted).then_some(())
    };
    yard.work(count_touches).await?;
    let Yard { bench, sent, .. } = yard;
    let (store, _bluez) = bench.end().await?;
    let job = store.jobs("", 0, 1)?.0[0].job;
    let mut times = Vec::new();
    for sealed in store.entries_of(job)? {
        let entry = sealed.entry();
        if let Some(Event::TouchTaken(fact)) = entry.event() {
            let settled = settled_by(&sent, fact.taken.to_ms.0).context("a touch without a reading")?;
            times.push(shown[times.len()].duration_since(settled.when));
        }
    }
    ensure!(times.len() == shown.len(), "{} touches in the ledger, {} on the screen", times.len(), shown.len());
    tell(times);
    Ok(())
}

/// The reading that arrived at this time: the last one sent by then.
fn settled_by(sent: &[Sent], at: u64) -> Option<&Sent> {
    sent.iter().rev().find(|sent| sent.boot.0 <= at)
}

fn tell(mut times: Vec<Duration>) {
    times.sort();
    let soon = times.iter().filter(|time| **time <= SOON).count();
    let count = times.len();
    let [least, p50, p90, most] = [0, count / 2, count * 9 / 10, count - 1].map(|at| times[at].as_secs_f64() * 1e3);
    println!("from the reading that settled it to the touch on the screen, {count} touches, milliseconds");
    println!("{:>8}{:>8}{:>8}{:>8}", "least", "p50", "p90", "most");
    println!("{least:>8.1}{p50:>8.1}{p90:>8.1}{most:>8.1}");
    println!("within {} ms: {soon} of {count}", SOON.as_millis());
}
