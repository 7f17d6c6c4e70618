//! Tries whether records survive: `trials` the long run, `trials --short` what every run of the tests does, with
//! `--seed N` for the same run again, and at most `--seconds N` for each trial. Exit code 1 when anything was lost.

use anyhow::{Context, Result, bail, ensure};
use evenwire_tests::trials::{Amount, Ground, Tally, clocks, faults, hub, kills, room, whole, wounds};
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

type Trial = (&'static str, fn(&Ground) -> Result<Tally>);

const TRIALS: [Trial; 8] = [
    ("kills", kills::trial),
    ("full", room::full),
    ("locked", room::only_read),
    ("faults", faults::trial),
    ("wounds", wounds::trial),
    ("clocks", clocks::trial),
    ("hub", hub::shops),
    ("hub-kills", hub::kills),
];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words[1..] {
        // What follows is for the trials themselves: work in a process of its own.
        ["hand", path, seed] => {
            number(seed).and_then(|seed| kills::work_until_killed(Path::new(path), seed)).map(|()| true)
        }
        ["hub-serve", folder, _] => hub::serve_until_killed(Path::new(folder)).map(|()| true),
        ["hub-send", path, _] => hub::send_until_killed(Path::new(path)).map(|()| true),
        ["bench", path, _] => whole::bench_until_killed(Path::new(path)).map(|()| true),
        ["open", path] => {
            println!("{}", room::open_and_say(Path::new(path)));
            Ok(true)
        }
        ref wanted => wanted_of(wanted).and_then(|wanted| run(&wanted)),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(fault) => {
            eprintln!("{fault:#}");
            ExitCode::from(2)
        }
    }
}

struct Wanted {
    amount: Amount,
    seed: u64,
    only: Option<String>,
    longest: Option<Duration>,
}

fn wanted_of(words: &[&str]) -> Result<Wanted> {
    let fresh = SystemTime::now().duration_since(UNIX_EPOCH)?.subsec_nanos();
    let mut wanted = Wanted { amount: Amount::LONG, seed: u64::from(fresh), only: None, longest: None };
    let mut words = words.iter();
    while let Some(word) = words.next() {
        match *word {
            "--short" => wanted.amount = Amount::SHORT,
            "--seed" => wanted.seed = number(words.next().context("--seed wants a number")?)?,
            "--seconds" => {
                let seconds = number(words.next().context("--seconds wants a number")?)?;
                wanted.longest = Some(Duration::from_secs(seconds));
            }
            "--only" => {
                let only = words.next().context("--only wants a trial")?;
                ensure!(TRIALS.iter().any(|(name, _)| name == only), "{only}: no such trial");
                wanted.only = Some((*only).to_owned());
            }
            other => bail!("{other}: not known; trials [--short] [--seed N] [--only TRIAL] [--seconds N]"),
        }
    }
    Ok(wanted)
}

fn number(text: &str) -> Result<u64> {
    text.parse().with_context(|| format!("{text}: not a number"))
}

/// True when nothing was lost.
fn run(wanted: &Wanted) -> Result<bool> {
    println!("seed {}", wanted.seed);
    let folder = tempfile::tempdir()?;
    let program = std::env::current_exe()?;
    let (seed, amount) = (wanted.seed, wanted.amount);
    let ground = Ground { folder: folder.path().to_owned(), program, seed, amount, longest: wanted.longest };
    let mut tallies = Vec::new();
    for (name, trial) in TRIALS {
        if wanted.only.as_deref().is_none_or(|only| only == name) {
            let start = Instant::now();
            tallies.push(trial(&ground)?);
            eprintln!("{name}: {:.1} s", start.elapsed().as_secs_f64());
        }
    }
    tallies.iter().for_each(|tally| println!("{tally}"));
    let losses: usize = tallies.iter().map(|tally| tally.losses.len()).sum();
    let not_run: usize = tallies.iter().map(|tally| tally.not_run.len()).sum();
    println!("losses {losses}, not run {not_run}, seed {seed}");
    Ok(losses == 0)
}
