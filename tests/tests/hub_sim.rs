//! A shop simulated from seeds: whatever goes wrong, nothing that was acknowledged is lost, and nothing is called safe
//! that is not.

use evenwire_tests::sim::{self, Came};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, OnceLock};

/// Certificates that all hubs begin with: to make them takes longer than a run.
static TLS: OnceLock<PathBuf> = OnceLock::new();
/// What happens in one run.
const EVENTS: u32 = 20;

/// Where there is a disk in memory: what is tried here is no disk.
fn place() -> tempfile::TempDir {
    let memory = PathBuf::from("/dev/shm");
    if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.expect("a folder")
}

fn run(seed: u64, events: u32) -> anyhow::Result<Came> {
    let (place, runtime) = (place(), tokio::runtime::Builder::new_current_thread().enable_all().build()?);
    let tls = TLS.get_or_init(|| {
        let made = tempfile::tempdir().expect("a folder").keep();
        sim::hub::certificates(&made).expect("certificates")
    });
    runtime.block_on(sim::run(seed, events, (&place.path().join("shop"), tls)))
}

/// So many runs from `from` on, on as many threads as there are processors.
fn runs(from: u64, count: u64) -> BTreeMap<&'static str, u64> {
    let (next, seen) = (AtomicU64::new(from), Mutex::new(BTreeMap::new()));
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::SeqCst);
                    if seed >= from + count {
                        return;
                    }
                    match run(seed, EVENTS) {
                        Ok(came) => {
                            let mut seen = seen.lock().expect("nobody panics with it");
                            came.seen.into_iter().for_each(|(what, times)| *seen.entry(what).or_default() += times);
                        }
                        Err(wrong) => panic!("{wrong:?}\nEVENWIRE_SEED={seed} shows it again"),
                    }
                }
            });
        }
    });
    seen.into_inner().expect("nobody panicked")
}

#[test]
fn whatever_happens_to_a_shop_what_was_acknowledged_is_there() {
    let number = |name: &str| std::env::var(name).ok().map(|text| text.parse::<u64>().expect("a number"));
    if let Some(seed) = number("EVENWIRE_SEED") {
        println!("{}", run(seed, EVENTS).unwrap().told);
        return;
    }
    let seen = runs(number("EVENWIRE_FROM").unwrap_or(1), number("EVENWIRE_RUNS").unwrap_or(120));
    seen.iter().for_each(|(what, times)| println!("{times:>8} {what}"));
}

#[test]
fn the_same_seed_gives_the_same_run() {
    for seed in [3, 17] {
        assert_eq!(run(seed, 40).unwrap(), run(seed, 40).unwrap());
    }
}
