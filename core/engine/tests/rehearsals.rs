//! A thousand whole jobs at the practice bench, without a screen, a disk or a wait.

use evenwire_core::job::{Job, Stage};
use evenwire_core::record::{Head, Sealed};
use evenwire_core::unit::Stamp;
use evenwire_core::verdict::SetVerdict;
use evenwire_engine::practice::rehearsal::{self, Beside, Setting};
use evenwire_engine::practice::{MeterModel, PartModel};

const JOBS: u64 = 1_000;

/// The closed job on the part of `seed`, with the entries it was read back from.
fn done(seed: u64) -> (Job, Vec<Sealed>) {
    let mut entries = Vec::new();
    let mut commit = |batch: &evenwire_core::session::Batch| {
        entries.extend(batch.entries.iter().cloned());
        Ok(())
    };
    let setting = Setting {
        ledger: rehearsal::Ledger::empty(rehearsal::device(seed)),
        seed: rehearsal::seed_bytes(seed),
        wall: Stamp::parse("2026-03-01T08:00:00Z").expect("a moment"),
        beside: Beside::default(),
        commit: &mut commit,
    };
    // Every step a meter can have comes up.
    let meter =
        MeterModel { places: 1 + (seed % 3) as u8, leads_zeroed: seed.is_multiple_of(2), ..MeterModel::default() };
    let (job, _) = rehearsal::rehearse(PartModel::random(seed), meter, seed, setting)
        .unwrap_or_else(|why| panic!("seed {seed}: {why}"));
    (job, entries)
}

/// How one job ended, after everything about it was checked.
fn checked(seed: u64) -> SetVerdict {
    let (job, entries) = done(seed);
    let start = Head::empty(rehearsal::device(seed));
    entries.iter().try_fold(start, |head, entry| head.after(entry)).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
    let of_job: Vec<Sealed> = entries.into_iter().filter(|entry| entry.entry().job.is_some()).collect();
    assert_eq!(Job::from_entries(&of_job).as_ref(), Some(&job), "seed {seed}");
    assert_eq!(job.stage(), Stage::Done, "seed {seed}");
    let judgement = &job.verdict.as_ref().expect("a verdict was given").judgement;
    let truth = PartModel::random(seed).truth();
    if !truth.bad.is_empty() {
        assert_ne!(judgement.set, SetVerdict::Pass, "seed {seed}: {:?} are bad", truth.bad);
    }
    if truth.bad.is_empty() && truth.slight.is_empty() {
        assert_ne!(judgement.set, SetVerdict::Fail, "seed {seed}: nothing is wrong with it");
    }
    judgement.set
}

#[test]
fn a_thousand_jobs_come_to_their_end_and_no_bad_part_passes() {
    let threads = std::thread::available_parallelism().map_or(2, std::num::NonZero::get) as u64;
    let share = |first: u64| move || (first..JOBS).step_by(threads as usize).map(checked).collect::<Vec<_>>();
    let ends: Vec<SetVerdict> = std::thread::scope(|scope| {
        let running: Vec<_> = (0..threads).map(|first| scope.spawn(share(first))).collect();
        running.into_iter().flat_map(|thread| thread.join().expect("no job panics")).collect()
    });
    let count = |set| ends.iter().filter(|end| **end == set).count();
    let (pass, fail, undecided) = (count(SetVerdict::Pass), count(SetVerdict::Fail), count(SetVerdict::Undecided));
    println!("{JOBS} practice jobs: {pass} pass, {fail} fail, {undecided} undecided");
    assert_eq!(pass + fail + undecided, JOBS as usize);
    assert!(pass > 200 && fail > 200, "{pass} pass, {fail} fail, {undecided} undecided");
}
