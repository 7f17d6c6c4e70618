//! What the desk mends when it opens a ledger.

use super::*;
use crate::practice::MeterModel;
use crate::practice::rehearsal::{Setting, rehearse, seed_bytes};
use evenwire_core::record::Details;
use evenwire_core::unit::Stamp;

/// Does one practice job into the ledger, its line in the job list left out unless it is to be `listed`.
fn job_in(store: &mut Store, seed: u64, listed: bool) -> Job {
    let head = store.head().unwrap();
    let mut commit = |batch: &Batch| {
        let lines = if listed { batch.lines.clone() } else { Vec::new() };
        store.append(&Batch { lines, ..batch.clone() }).map_err(|e| e.to_string())
    };
    let wall = Stamp::parse("2026-03-01T08:00:00+00:00").unwrap();
    let setting = Setting { head, seed: seed_bytes(seed), wall, commit: &mut commit };
    rehearse(PartModel::first_practice(), MeterModel::default(), seed, setting).unwrap().0
}

#[test]
fn a_line_that_is_missing_is_made_again_and_no_other_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(&folder.path().join("shop.db"), Uuid::from_u128(7)).unwrap();
    let jobs = [job_in(&mut store, 1, true), job_in(&mut store, 2, false), job_in(&mut store, 3, true)];
    let (kept, total) = store.jobs("", 0, 10).unwrap();
    assert_eq!((total, store.jobs_without_line().unwrap()), (2, vec![jobs[1].id]));

    restore_lines(&mut store).unwrap();
    let whole = vec![kept[0].clone(), jobs[1].line(&Details::default()), kept[1].clone()];
    assert_eq!(store.jobs("", 0, 10).unwrap(), (whole, 3));
}
