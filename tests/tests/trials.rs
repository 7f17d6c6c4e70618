//! Records survive: a few of each sort of trial, with the very program of `make trials`.

use std::process::Command;

/// The numbers after a word in what the program printed.
fn count(said: &str, of: &str, what: &str) -> u64 {
    let line = said.lines().find(|line| line.starts_with(of)).unwrap_or_else(|| panic!("{of}: not in\n{said}"));
    let after = line.split(&format!("  {what} ")).nth(1).unwrap_or("0").trim_start();
    after.split_whitespace().next().and_then(|number| number.parse().ok()).unwrap_or_default()
}

#[test]
fn nothing_that_was_acknowledged_is_lost_to_kills_full_disks_faults_damage_and_clocks() {
    // The same trials in every run; `make trials` draws others.
    let seed = std::env::var("EVENWIRE_SEED").unwrap_or_else(|_| "20261126".to_owned());
    let out =
        Command::new(env!("CARGO_BIN_EXE_trials")).args(["--short", "--seed", &seed]).output().expect("it starts");
    let said = String::from_utf8(out.stdout).expect("UTF-8");
    println!("{said}{}", String::from_utf8_lossy(&out.stderr));
    assert!(out.status.success(), "something was lost; the seed stands in the first line");
    // Each of them did something, or said that it could not.
    let full_ran = !said.contains("NOT RUN");
    assert!(count(&said, "kill -9", "tried") >= 8 && count(&said, "kill -9", "entries") > 0);
    assert!(!full_ran || count(&said, "disk full", "refused as full") > 0);
    assert!(count(&said, "damaged files", "rescued") > 0 && count(&said, "damaged files", "opened, whole") > 0);
    assert!(count(&said, "faults of the disk", "refused once") > 0);
    assert!(count(&said, "clock set", "entries flagged") > 0);
    assert!(count(&said, "simulated shops", "rounds that ended well") > 0);
    assert!(
        count(&said, "hub and sender killed", "tried") >= 6 && count(&said, "hub and sender killed", "completed") > 0
    );
}
