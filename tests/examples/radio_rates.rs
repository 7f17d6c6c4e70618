//! Measures the way from the air to the screen: `radio_rates BARE_RADIO`. At 20 and at 1000 notifications a
//! second: how long until one is on the screen, how long until it is committed, how many are lost, beside the
//! Bluetooth library alone with the same notifications at the same time.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::MeterSpecEntry;
use evenwire_core::view::Pushed;
use evenwire_engine::bench::Listener;
use evenwire_engine::links::Patience;
use evenwire_engine::practice::PartModel;
use evenwire_store::Glance;
use evenwire_tests::bluez::{Bluez, OHM_VALUE, ohm_meter, program_on_own_bus};
use evenwire_tests::radio_bench::{RadioBench, ended};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

const METER: &str = "C0:00:00:00:00:01";
/// Notifications a second, and for how many seconds.
const RATES: [(u32, u32); 2] = [(20, 20), (1_000, 60)];
/// No rate is tried for longer.
const LONGEST: Duration = Duration::from_secs(180);
/// The ledger is asked this often how much is in it; a commit is seen so much later at most.
const LOOK: Duration = Duration::from_millis(10);

fn main() -> Result<()> {
    let bare = PathBuf::from(std::env::args_os().nth(1).context("usage: radio_rates BARE_RADIO")?);
    program_on_own_bus(|folder| async move {
        println!("from the air, milliseconds; bare: the Bluetooth library alone with the same notifications");
        println!("{:<34}{:>8}{:>9}{:>9}{:>9}{:>7}", "", "count", "p50", "p99", "most", "lost");
        rates(&folder, &bare).await
    })
}

/// Numbers of notifications, and when each was seen.
type Times = Vec<(usize, u64)>;

/// Microseconds since 1970: two programs tell them to each other.
fn micros() -> u64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    u64::try_from(since.as_micros()).unwrap_or(u64::MAX)
}

async fn rates(folder: &Path, bare: &Path) -> Result<()> {
    let bluez = Bluez::start(folder).await?;
    let mut bench = RadioBench::start_with(bluez, folder, Patience::default()).await?;
    bench.open_job(PartModel::first_practice().to_part()).await?;
    // The number on the display is the number of the notification.
    bench.ask_for(ohm_meter(METER, 0x08, 0)).await?;
    bench.bluez.until_listened(METER, OHM_VALUE).await?;
    ensure!(bench.send((METER, OHM_VALUE), &0u32.to_le_bytes()).await?);
    bench.until(|view| view.meter.display.clone()).await?;
    let (percent, counts) = ("0.8".to_owned(), "3".to_owned());
    let known = MeterSpecEntry { accuracy_percent: percent, accuracy_counts: counts, ..bench.view.meter.spec.clone() };
    bench.use_meter(MeterSpecEntry { step: "1".into(), top: "2000".into(), ..known }).await?;
    let file = bench.file().to_owned();
    let (bluez, handle, listener) = bench.split();
    let mut air = Air { bluez: Arc::new(bluez), listener, file, sent: vec![micros()] };
    for (per_second, seconds) in RATES {
        air.rate(bare, per_second, seconds).await?;
    }
    let store = ended(handle, air.listener, &air.file).await?;
    let job = store.jobs("", 0, 1)?.0[0].job;
    let mut kept = Vec::new();
    for chunk in store.chunks_of(job)? {
        kept.extend(chunk.samples()?.into_iter().map(|sample| sample.raw));
    }
    let sent: Vec<Vec<u8>> = (0..air.sent.len()).map(number_bytes).collect();
    println!(
        "in the ledger: {} of {} sent, {}",
        kept.len(),
        sent.len(),
        if kept == sent { "all in order" } else { "NOT the same" }
    );
    ensure!(kept == sent, "notifications were lost or put out of order");
    Ok(())
}

fn number_bytes(number: usize) -> Vec<u8> {
    u32::try_from(number).expect("few").to_le_bytes().to_vec()
}

/// What goes over the air, and who looks at what became of it.
struct Air {
    bluez: Arc<Bluez>,
    listener: Listener,
    file: PathBuf,
    /// When notification number n was sent.
    sent: Vec<u64>,
}

impl Air {
    async fn rate(&mut self, bare: &Path, per_second: u32, seconds: u32) -> Result<()> {
        let count = (per_second * seconds) as usize;
        let first = self.sent.len();
        let last = first + count - 1;
        let (child, said) = listen_bare(bare, count)?;
        let committed = watch_commits(&self.file, last as u64 + 1)?;
        let bluez = Arc::clone(&self.bluez);
        let sending = tokio::spawn(async move {
            let mut sent = Vec::with_capacity(count);
            let mut ticks = tokio::time::interval(Duration::from_secs(1) / per_second);
            for number in first..=last {
                ticks.tick().await;
                sent.push(micros());
                bluez.notify(METER, OHM_VALUE, [number_bytes(number)]).await?;
            }
            anyhow::Ok(sent)
        });
        let mut seen = Times::new();
        while seen.last().is_none_or(|(number, _)| *number < last) {
            let said = tokio::time::timeout(Duration::from_secs(30), self.listener.next()).await;
            let Some(Pushed::View { view }) = said.context("the screen stands still")? else { continue };
            let number = view.meter.display.as_ref().and_then(|shown| shown.text.parse().ok());
            let Some(number) = number.filter(|number| *number >= first) else { continue };
            if seen.last().is_none_or(|(before, _)| *before < number) {
                seen.push((number, micros()));
            }
        }
        self.sent.extend(sending.await??);
        let bare = hear_bare(child, said, count)?;
        let committed = tokio::task::spawn_blocking(move || committed.join()).await?;
        let committed = committed.map_err(|_| anyhow::anyhow!("the look at the ledger ended"))??;
        self.tell((per_second, first, last), &bare, (&seen, &committed));
        Ok(())
    }

    fn tell(&self, (per_second, first, last): (u32, usize, usize), bare: &Times, (seen, committed): (&Times, &Times)) {
        let late = |pairs: &Times| -> Vec<f64> {
            pairs.iter().map(|(number, at)| at.saturating_sub(self.sent[*number]) as f64 / 1e3).collect()
        };
        let count = last + 1 - first;
        // Committed by then: every number up to the one seen.
        let mut commits = Times::new();
        let mut next = first;
        for (up_to, at) in committed {
            (next..*up_to.min(&(last + 1))).for_each(|number| commits.push((number, *at)));
            next = next.max(*up_to);
        }
        let bare_row = row(&format!("{per_second}/s: bare"), late(bare), count - bare.len());
        let view_row = row(&format!("{per_second}/s: on the screen"), late(seen), 0);
        row(&format!("{per_second}/s: committed"), late(&commits), count - commits.len());
        println!(
            "{per_second}/s: the screen against the library alone: p50 {:.1} times, p99 {:.1} times",
            view_row[0] / bare_row[0],
            view_row[1] / bare_row[1]
        );
    }
}

/// Prints one line; p50 and p99 of it.
fn row(name: &str, mut late: Vec<f64>, lost: usize) -> [f64; 2] {
    late.sort_by(f64::total_cmp);
    let at = |share: f64| late.get(((late.len() as f64 * share) as usize).min(late.len().saturating_sub(1)));
    let [p50, p99, most] = [0.5, 0.99, 1.0].map(|share| at(share).copied().unwrap_or(f64::NAN));
    println!("{name:<34}{:>8}{p50:>9.2}{p99:>9.2}{most:>9.2}{lost:>7}", late.len());
    [p50, p99]
}

fn listen_bare(bare: &Path, count: usize) -> Result<(Child, BufReader<ChildStdout>)> {
    let mut child = Command::new(bare)
        .args(["Bench ohm meter", &OHM_VALUE.to_string(), &count.to_string()])
        .stdout(Stdio::piped())
        .spawn()
        .with_context(|| format!("{} starts", bare.display()))?;
    let mut said = BufReader::new(child.stdout.take().context("it has an output")?);
    let mut line = String::new();
    said.read_line(&mut line)?;
    ensure!(line.trim() == "ready", "it said {line:?}");
    Ok((child, said))
}

fn hear_bare(mut child: Child, said: BufReader<ChildStdout>, count: usize) -> Result<Times> {
    let mut heard = Times::with_capacity(count);
    for line in said.lines() {
        let line = line?;
        let (at, bytes) = line.split_once(' ').context("a time and bytes")?;
        heard.push((u32::from_str_radix(bytes, 16)?.swap_bytes() as usize, at.parse()?));
    }
    ensure!(child.wait()?.success());
    Ok(heard)
}

type Commits = std::thread::JoinHandle<Result<Times>>;

/// Looks into the ledger until `enough` notifications are in it: how many were, and when.
fn watch_commits(file: &Path, enough: u64) -> Result<Commits> {
    let store = Glance::at(file)?;
    Ok(std::thread::spawn(move || {
        let (mut seen, mut before) = (Times::new(), 0);
        let begun = Instant::now();
        while before < enough && begun.elapsed() < LONGEST {
            std::thread::sleep(LOOK);
            let samples = store.counts()?.samples;
            if samples != before {
                seen.push((usize::try_from(samples)?, micros()));
                before = samples;
            }
        }
        Ok(seen)
    }))
}
