//! Measures from the start of a program to "page shown" on its standard error, run after run, and
//! compares: `start_times PROGRAM BARE`. Both are to print that line when the page has loaded.

use anyhow::{Context, Result, bail, ensure};
use evenwire_tests::window::Screen;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Measured starts of each program; the one before them warms the disk and is not counted.
const RUNS: usize = 10;

fn main() -> Result<()> {
    let programs: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    ensure!(programs.len() == 2, "usage: start_times PROGRAM BARE");
    let screen = Screen::start(1400, 1000)?;
    let mut times = vec![Vec::new(); programs.len()];
    for run in 0..=RUNS {
        // In turn, so that whatever else the machine does meets both alike.
        for (program, times) in programs.iter().zip(&mut times) {
            let took = start(program, &screen)?;
            if run > 0 {
                times.push(took);
            }
        }
    }
    println!("from start to page shown, {RUNS} starts each, milliseconds");
    println!("{:<24}{:>8}{:>8}{:>8}", "program", "least", "median", "most");
    for (program, times) in programs.iter().zip(&mut times) {
        times.sort();
        let name = program.file_name().unwrap_or_default().to_string_lossy();
        let [least, median, most] = [0, RUNS / 2, RUNS - 1].map(|at| times[at].as_millis());
        println!("{name:<24}{least:>8}{median:>8}{most:>8}");
    }
    let ratio = times[0][RUNS / 2].as_secs_f64() / times[1][RUNS / 2].as_secs_f64();
    println!("median against the barest window: {ratio:.2} times");
    Ok(())
}

/// Starts `program` on a folder of its own and ends it as soon as its page is shown.
fn start(program: &Path, screen: &Screen) -> Result<Duration> {
    let folder = tempfile::tempdir()?;
    let begun = Instant::now();
    let mut running = Command::new(program)
        .env("DISPLAY", screen.name())
        .env_remove("WAYLAND_DISPLAY")
        .env("RUST_LOG", "evenwire_shell=info")
        .env("EVENWIRE_DB", folder.path().join("evenwire.db"))
        .env("XDG_DATA_HOME", folder.path())
        .env("XDG_CACHE_HOME", folder.path())
        .stderr(Stdio::piped())
        .spawn()
        .with_context(|| format!("{} starts", program.display()))?;
    let said = BufReader::new(running.stderr.take().context("it has a standard error")?);
    let (mut took, mut wrote) = (None, String::new());
    for line in said.lines() {
        let line = line?;
        if line.contains("page shown") {
            took = Some(begun.elapsed());
            break;
        }
        wrote += &format!("\n  {line}");
    }
    running.kill()?;
    running.wait()?;
    match took {
        Some(took) => Ok(took),
        None => bail!("{} ended before its page was shown; it wrote:{wrote}", program.display()),
    }
}
