//! kill -9 in the middle of work. A child process works at a ledger and says each thing on its standard output once it
//! is committed; it is killed at a random moment; what it had said must be in the ledger. The ledger goes on through
//! the next kills.

use super::truth::Truth;
use super::whole::Shown;
use super::{Ground, Tally, work};
use anyhow::{Context, Result, bail, ensure};
use evenwire_core::record::Hash;
use evenwire_core::session::Batch;
use evenwire_core::verdict::words::Language;
use evenwire_engine::practice::chance::Chance;
use evenwire_engine::report::{self, Form};
use evenwire_paper::PageSize;
use evenwire_store::Store;
use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};
use uuid::Uuid;

/// A ledger of this size is replaced: to look at all of it after each kill takes long then.
const LARGE: u64 = 3_000_000;
/// A child is killed within this time of its start.
const LIFE_MS: u64 = 250;
/// After so many lines at most, when lines are counted.
const LINES: u64 = 200;
/// The same for a whole bench, which says one line for each new screen.
const SCREENS: u64 = 6;
/// And the time within which it is killed.
const BENCH_LIFE_MS: u64 = 2_500;
/// A child that says nothing for so long hangs.
const DEADLINE: Duration = Duration::from_secs(60);

/// The child: works at the ledger at `path` until it is killed, and acknowledges what is committed: `e` number and hash
/// of an entry, `c` id and hash of a closed chunk, `p` job and hash of a photo, `r` length of a report.
///
/// # Errors
/// Whatever keeps it from working.
pub fn work_until_killed(path: &Path, seed: u64) -> Result<()> {
    let mut chance = Chance::new(seed);
    let mut store = work::open(path, seed)?;
    loop {
        let mut commit = |store: &mut Store, batch: &Batch| {
            work::append(store, batch)?;
            acknowledge(&lines_of(batch)).map_err(|fault| fault.to_string())
        };
        let Some(job) = work::job(&mut store, chance.bits(), &mut commit)? else { continue };
        let (shop, size) = (None, PageSize::A4);
        let pdf = report::pdf(path, job, &Form { language: Language::En, size, shop, zone: None })?;
        acknowledge(&format!("r {}\n", pdf.len()))?;
    }
}

fn lines_of(batch: &Batch) -> String {
    let mut lines = String::new();
    let job = batch.entries.iter().find_map(|sealed| sealed.entry().job);
    for sealed in &batch.entries {
        let _in_memory = writeln!(lines, "e {} {}", sealed.entry().sequence, sealed.hash());
    }
    for chunk in batch.chunks.iter().filter(|chunk| chunk.closed) {
        let _in_memory = writeln!(lines, "c {} {}", chunk.id, chunk.hash);
    }
    for (hash, _) in &batch.pictures {
        let _in_memory = writeln!(lines, "p {} {hash}", job.unwrap_or_default());
    }
    lines
}

fn acknowledge(lines: &str) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(lines.as_bytes())?;
    out.flush()
}

/// Kills as many children as asked for.
///
/// # Errors
/// Only what keeps the trial itself from running; losses stand in the tally.
pub fn trial(ground: &Ground) -> Result<Tally> {
    let mut tally = Tally::of("kill -9");
    let mut chance = ground.chance(1);
    let folder = ground.folder.join("kills");
    std::fs::create_dir_all(&folder)?;
    let (mut ledger, mut truth) = (0u32, Truth::default());
    let start = Instant::now();
    for kill in 0..ground.amount.kills {
        if ground.is_over(start, &mut tally) {
            break;
        }
        let path = folder.join(format!("{ledger}.db"));
        let seed = chance.bits();
        // One in eight is the whole bench, which measures in real time; the others commit as fast as they can.
        let whole = kill % 8 == 3;
        let work = if whole { "bench" } else { "hand" };
        let mut child = Killed::start(ground, work, (&path, seed))?;
        tally.see(if whole { "of them the whole bench" } else { "of them a hand" });
        let (most, life) = if whole { (SCREENS, BENCH_LIFE_MS) } else { (LINES, LIFE_MS) };
        let by_lines = chance.whole(0, 1) == 0;
        let wait = if by_lines { Wait::Lines(chance.whole(1, most)) } else { Wait::Ms(chance.whole(0, life)) };
        let said = child.kill_after(wait);
        let came = said.and_then(|lines| look(&path, seed, (&mut truth, &mut tally), &lines));
        let lost = came.is_err();
        tally.take(|| format!("kill {kill} of ledger {ledger} (child's seed {seed})"), came);
        // What was lost once would be missing for ever after.
        if lost || std::fs::metadata(&path).is_ok_and(|file| file.len() > LARGE) {
            (ledger, truth) = (ledger + 1, Truth::default());
            tally.see("ledgers replaced");
        }
    }
    Ok(tally)
}

fn look(path: &Path, seed: u64, (truth, tally): (&mut Truth, &mut Tally), lines: &[String]) -> Result<()> {
    for line in lines {
        tally.see(hear(line, truth)?);
    }
    if !path.exists() {
        ensure!(truth.newest() == 0, "the ledger is gone");
        tally.see("killed before there was a ledger");
    }
    let store = work::open(path, seed)?;
    truth.all_in(&store)?;
    // More may be committed than was acknowledged, and from now on it has to stay as well.
    for sealed in store.entries_after(truth.newest(), u32::MAX)? {
        truth.entries.insert(sealed.entry().sequence, sealed.hash());
        tally.see("committed, not yet acknowledged");
    }
    Ok(())
}

/// Takes in one line of a child.
fn hear(line: &str, truth: &mut Truth) -> Result<&'static str> {
    let hash = |text: &str| Hash::try_from(text.to_owned()).with_context(|| line.to_owned());
    match line.split(' ').collect::<Vec<_>>()[..] {
        ["e", sequence, of] => {
            let (sequence, of) = (sequence.parse()?, hash(of)?);
            let before = truth.entries.insert(sequence, of);
            ensure!(before.is_none_or(|before| before == of), "entry {sequence} was given twice");
            Ok("entries")
        }
        ["c", id, of] => {
            truth.chunks.insert((id.parse::<Uuid>()?, hash(of)?, true));
            Ok("chunks")
        }
        ["p", job, of] => {
            truth.pictures.insert((job.parse()?, hash(of)?));
            Ok("photos")
        }
        ["s", job, touches, photos] => {
            let shown = Shown { touches: touches.parse()?, photos: photos.parse()? };
            let known = truth.shown.entry(job.parse()?).or_default();
            *known = known.and(shown);
            Ok("screens")
        }
        ["r", _] => Ok("reports"),
        _ => bail!("a line that means nothing: {line}"),
    }
}

/// When a child is killed.
#[derive(Clone, Copy, Debug)]
pub enum Wait {
    /// After so many lines.
    Lines(u64),
    /// So many milliseconds after its start.
    Ms(u64),
}

/// A child that is going to be killed.
#[derive(Debug)]
pub struct Killed {
    child: Child,
    lines: Receiver<String>,
}

impl Killed {
    /// Starts a child at the ledger at `path`.
    ///
    /// # Errors
    /// The program cannot be started.
    pub fn start(ground: &Ground, work: &str, (path, seed): (&Path, u64)) -> Result<Killed> {
        let mut child = Command::new(&ground.program)
            .args([work, &path.display().to_string(), &seed.to_string()])
            .stdout(Stdio::piped())
            .stdin(Stdio::null())
            .spawn()
            .context("starting a child")?;
        let mut out = BufReader::new(child.stdout.take().context("its output is piped")?);
        let (said, lines) = channel();
        std::thread::spawn(move || {
            let mut line = String::new();
            // Half a line at the end was not said.
            while out.read_line(&mut line).is_ok_and(|read| read > 0) && line.ends_with('\n') {
                let _nobody_listens = said.send(line.trim_end().to_owned());
                line.clear();
            }
        });
        Ok(Killed { child, lines })
    }

    /// Waits for its next line.
    ///
    /// # Errors
    /// None comes.
    pub fn line(&mut self) -> Result<String> {
        self.lines.recv_timeout(DEADLINE).context("a child says nothing")
    }

    /// Kills it, and gives every line it had said.
    ///
    /// # Errors
    /// It ended by itself, or hung.
    pub fn kill_after(&mut self, wait: Wait) -> Result<Vec<String>> {
        let (start, mut lines) = (Instant::now(), Vec::new());
        let (most, end) = match wait {
            Wait::Lines(most) => (most, start + DEADLINE),
            Wait::Ms(ms) => (u64::MAX, start + Duration::from_millis(ms)),
        };
        let mut ended = false;
        while (lines.len() as u64) < most && !ended {
            match self.lines.recv_timeout(end.saturating_duration_since(Instant::now())) {
                Ok(line) => lines.push(line),
                Err(RecvTimeoutError::Timeout) => break,
                Err(RecvTimeoutError::Disconnected) => ended = true,
            }
        }
        self.child.kill()?;
        let status = self.child.wait()?;
        lines.extend(self.lines.iter());
        ensure!(was_killed(status), "the child ended by itself: {status}");
        ensure!(
            !matches!(wait, Wait::Lines(most) if (lines.len() as u64) < most),
            "the child hung after {} lines",
            lines.len()
        );
        Ok(lines)
    }
}

#[cfg(unix)]
fn was_killed(status: ExitStatus) -> bool {
    std::os::unix::process::ExitStatusExt::signal(&status) == Some(9)
}

#[cfg(not(unix))]
fn was_killed(status: ExitStatus) -> bool {
    !status.success()
}
