//! A great many jobs, and what somebody looks for among them: for the search of the bench and that of the office.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::{Job, Line, OPEN_MARK};
use evenwire_core::record::{Clock, Details, Draft, Event, Head, KeptDetails, Sealed};
use evenwire_core::unit::{Millis, Stamp};
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use uuid::Uuid;

const NAMES: [&str; 12] = [
    "Sturmvogel",
    "Klemm",
    "Lötauge",
    "Ährenfeld",
    "Quastel",
    "Brückner",
    "Osterholz",
    "Vogelsang",
    "Kabel",
    "Zunder",
    "Weißdorn",
    "Funk",
];
const MODELS: [&str; 6] = ["Orrin 3 Kombi", "Orrin 5", "Tamsel Bus", "Tamsel Kasten", "Brix Coupé", "Orrin 1"];

/// Numbers that look like chance and are the same in every run (splitmix64).
pub fn chance(seed: u64) -> u64 {
    let mut z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// What is personal of a job.
pub fn details(number: u64) -> Details {
    let dice = chance(number);
    Details {
        customer: format!("{} {}", NAMES[(dice % 12) as usize], NAMES[(dice / 12 % 12) as usize]),
        phone: format!("0{:010}", dice % 10_000_000_000),
        plate: format!("EW-{} {}", (b'A' + (dice % 26) as u8) as char, dice / 26 % 10_000),
        vin: format!("ZZZ{:06X}1RE{:05}", dice % 0x100_0000, number % 100_000),
        ..Details::default()
    }
}

/// A job as it is opened: its entry, its details, its line. Every third is closed.
pub fn job(head: &mut Head, number: u64) -> Result<(Vec<Sealed>, KeptDetails, Line)> {
    let id = Uuid::from_u128(u128::from(number) << 64 | u128::from(chance(number)));
    let details = details(number);
    let kept = KeptDetails::new(id, [number as u8; 32], &details);
    let vehicle = MODELS[(chance(number) / 7 % 6) as usize].to_owned();
    let day = Stamp::parse(&format!(
        "20{:02}-{:02}-{:02}T08:00:00+01:00",
        20 + number / 17_000,
        number / 1_400 % 12 + 1,
        number / 50 % 28 + 1
    ))?;
    let opening = Event::JobOpened { order: format!("W-{number:06}"), vehicle, personal: kept.commitment() };
    let mut seal = |event: &Event| {
        let (kind, body) = event.parts();
        let (version, elapsed_ms, wall) = (Event::VERSION, Millis(number), day.clone());
        let id_of_entry = Uuid::from_u128(u128::from(head.sequence));
        head.seal(id, Draft { id: id_of_entry, job: Some(id), kind, version, elapsed_ms, wall, clock: Clock::Ok, body })
    };
    let mut entries = vec![seal(&opening)];
    if number.is_multiple_of(3) {
        entries.push(seal(&Event::JobFinished {}));
    }
    let line = Job::from_entries(&entries).context("it was opened")?.line(&details);
    Ok((entries, kept, line))
}

/// The same texts with nothing but an index of three characters, in a program of its own.
pub struct Yardstick {
    /// The program that has it.
    pub program: PathBuf,
    /// Where it makes its index.
    pub file: PathBuf,
    /// Texts with their places in the order.
    pub texts: Vec<(u64, String)>,
}

impl Yardstick {
    /// Rows of the first page and the time it took, for each search.
    pub fn ask(&self, searches: &[String]) -> Result<Vec<(usize, Duration)>> {
        let mut lines = String::new();
        self.texts.iter().for_each(|text| lines.push_str(&format!("{}\n", serde_json::json!(text))));
        searches.iter().for_each(|search| lines.push_str(&format!("{}\n", serde_json::json!(search))));
        let mut command = Command::new(&self.program);
        let mut child = command.arg(&self.file).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()?;
        let mut typed = child.stdin.take().context("its input")?;
        let writer = std::thread::spawn(move || typed.write_all(lines.as_bytes()));
        let said = child.wait_with_output()?;
        writer.join().expect("it does not panic")?;
        let answers = std::str::from_utf8(&said.stdout)?.lines().map(|line| {
            let (rows, nanoseconds): (usize, u64) = serde_json::from_str(line)?;
            Ok((rows, Duration::from_nanos(nanoseconds)))
        });
        answers.collect()
    }
}

/// What is typed, the n-th time.
type Typed = Box<dyn Fn(u64) -> String>;

/// What is typed, by sort.
fn sorts(jobs: u64) -> Vec<(&'static str, Typed)> {
    let of = move |n: u64| details(chance(n + 7) % jobs);
    vec![
        ("end of a VIN", Box::new(move |n| of(n).vin[9..].to_owned())),
        ("plate", Box::new(move |n| of(n).plate)),
        ("order", Box::new(move |n| format!("w-{:06}", chance(n) % jobs))),
        ("customer and model", Box::new(move |n| format!("{} orrin", of(n).customer))),
        ("month", Box::new(|n| format!("202{}-{:02}", n % 5, n % 12 + 1))),
        ("a word in nearly all", Box::new(|_| "orrin".to_owned())),
        ("open, of a customer", Box::new(move |n| format!("{} {OPEN_MARK}", of(n).customer))),
        (
            "two characters",
            Box::new(|n| ["kl", "é ", "7x", "42", "q", "ß", "ö", "w-", "zu", "xq"][(n % 10) as usize].to_owned()),
        ),
        ("what is nowhere", Box::new(|n| format!("nowhere{n}"))),
        ("nothing", Box::new(|_| String::new())),
    ]
}

/// The bare index knows no word under three characters, and no search without words.
fn is_for_both(search: &str) -> bool {
    let mut words = search.split_whitespace().peekable();
    words.peek().is_some() && words.all(|word| word.chars().count() >= 3)
}

/// Searches of every sort, each timed beside the bare index, and a line a sort.
pub struct Table {
    searches: Vec<(&'static str, Vec<String>)>,
    bare: std::vec::IntoIter<(usize, Duration)>,
    all: Vec<Duration>,
}

impl Table {
    /// Asks the bare index first, and prints the head of the table. Each sort is typed in `rounds` ways.
    pub fn begin(jobs: u64, rounds: u64, yardstick: &Yardstick) -> Result<Table> {
        let typed = |(name, typed): (&'static str, Typed)| {
            (name, (0..rounds).map(|n| typed(n).to_lowercase()).collect::<Vec<String>>())
        };
        let searches: Vec<_> = sorts(jobs).into_iter().map(typed).collect();
        let asked = searches.iter().flat_map(|(_, searches)| searches);
        let asked: Vec<String> = asked.filter(|search| is_for_both(search)).cloned().collect();
        let bare = yardstick.ask(&asked)?.into_iter();
        println!("{:<22}{:>9}{:>9}{:>12}{:>9}   found", "search, us", "p50", "p99", "bare p50", "p99");
        Ok(Table { searches, bare, all: Vec::new() })
    }

    /// Prints the table. `search` says how many rows the first page has.
    pub async fn fill(mut self, mut search: impl AsyncFnMut(&str) -> Result<usize>) -> Result<()> {
        for (name, searches) in &self.searches {
            let (mut ours, mut theirs, mut found) = (Vec::new(), Vec::new(), 0);
            for words in searches {
                let begun = Instant::now();
                let rows = search(words).await?;
                ours.push(begun.elapsed());
                found = found.max(rows);
                if is_for_both(words) {
                    let (expected, took) = self.bare.next().context("an answer of the yardstick")?;
                    ensure!(expected == rows, "{words:?}: {rows} jobs, the yardstick has {expected}");
                    theirs.push(took);
                }
            }
            self.all.extend(ours.iter().copied());
            let yard = |percent, theirs: &mut Vec<Duration>| {
                if theirs.is_empty() { "-".into() } else { at(theirs, percent) }
            };
            let (yard50, yard99) = (yard(50, &mut theirs), yard(99, &mut theirs));
            println!("{name:<22}{:>9}{:>9}{yard50:>12}{yard99:>9}   {found}", at(&mut ours, 50), at(&mut ours, 99));
        }
        println!("{:<22}{:>9}{:>9}", "all together", at(&mut self.all, 50), at(&mut self.all, 99));
        Ok(())
    }
}

/// Microseconds below which so many per cent are.
pub fn at(times: &mut [Duration], percent: usize) -> String {
    times.sort();
    let index = (times.len() * percent / 100).min(times.len() - 1);
    format!("{:.0}", times[index].as_secs_f64() * 1e6)
}
