//! A meter gone mad: a thousand values each second through the real Bluetooth library, with a job on the bench.

use anyhow::{Result, ensure};
use evenwire_core::job::MeterSpecEntry;
use evenwire_core::meter::Shown;
use evenwire_core::record::chunk::MOST;
use evenwire_core::unit::{Quantity, Unit};
use evenwire_engine::practice::PartModel;
use evenwire_tests::bluez::{Bluez, OHM_VALUE, ohm_meter, own_process};
use evenwire_tests::radio_bench::RadioBench;
use std::time::{Duration, Instant};

const METER: &str = "C0:00:00:00:00:01";
const COUNT: i16 = 5_000;

#[test]
fn a_thousand_values_a_second_are_all_kept_in_order() {
    own_process("a_thousand_values_a_second_are_all_kept_in_order", |folder| async move {
        let mut bench = RadioBench::start(Bluez::start(&folder).await?, &folder).await?;
        bench.open_job(PartModel::first_practice().to_part()).await?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.until_listened(METER, OHM_VALUE).await?;

        // The value before the flood makes the meter known, so that touches are looked for all the way.
        let first = 9_000i16.to_le_bytes().to_vec();
        let mut sent = vec![first.clone()];
        ensure!(bench.send((METER, OHM_VALUE), &first).await?);
        bench.until(|view| view.meter.display.clone()).await?;
        let typed = |text: &str| text.to_owned();
        let spec = MeterSpecEntry {
            accuracy_percent: typed("0.8"),
            accuracy_counts: typed("3"),
            ..bench.view.meter.spec.clone()
        };
        bench.use_meter(spec).await?;

        // Hundredths of an ohm, each once: 0.00 to 49.99.
        let numbered: Vec<Vec<u8>> = (0..COUNT).map(|number| number.to_le_bytes().to_vec()).collect();
        sent.extend(numbered.clone());
        let begun = Instant::now();
        // The screen is looked at all the while: a view that shows the last value ends it.
        let views = flood(&mut bench, numbered).await?;
        ensure!(begun.elapsed() > Duration::from_millis(4_900), "too fast to mean anything: {:?}", begun.elapsed());
        ensure!(views >= 10, "the screen stood still: {views} views");

        let (store, _bluez) = bench.end().await?;
        let report = store.check()?;
        ensure!(report.is_whole(), "{report:#?}");
        let job = store.jobs("", 0, 1)?.0[0].job;
        let mut kept = Vec::new();
        for chunk in store.chunks_of(job)? {
            let samples = chunk.samples()?;
            ensure!(samples.len() <= MOST && u32::try_from(samples.len())? == chunk.count && chunk.closed);
            kept.extend(samples);
        }
        ensure!(kept.len() == sent.len(), "{} sent, {} kept", sent.len(), kept.len());
        for (index, (sample, sent)) in kept.iter().zip(&sent).enumerate() {
            ensure!(sample.raw == *sent, "sample {index} is {:?}, but {sent:?} was sent", sample.raw);
            let number = i64::from(i16::from_le_bytes([sent[0], sent[1]]));
            let shown = Quantity::new(number, 2, Unit::Ohm).map(Shown::Value);
            ensure!(sample.shown == shown.into_iter().collect::<Vec<_>>(), "sample {index} reads {:?}", sample.shown);
        }
        ensure!(kept.windows(2).all(|two| two[0].at <= two[1].at), "time runs backwards");
        Ok(())
    });
}

/// Sends evenly, a thousand each second, and counts the views until the last number is shown.
async fn flood(bench: &mut RadioBench, numbered: Vec<Vec<u8>>) -> Result<usize> {
    let mut ticks = tokio::time::interval(Duration::from_millis(1));
    let mut views = 0;
    let mut waiting = numbered.into_iter();
    loop {
        tokio::select! {
            biased;
            _ = ticks.tick(), if waiting.len() > 0 => {
                let bytes = waiting.next().expect("some are waiting");
                ensure!(bench.send((METER, OHM_VALUE), &bytes).await?, "nobody listens any more");
            }
            said = bench.next() => {
                said?;
                views += 1;
                if bench.view.meter.display.as_ref().is_some_and(|shown| shown.text == "49.99") {
                    return Ok(views);
                }
            }
        }
    }
}
