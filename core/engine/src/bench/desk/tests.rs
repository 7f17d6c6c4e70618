//! What the desk mends when it opens a ledger.

use super::*;
use crate::practice::MeterModel;
use crate::practice::rehearsal::{Beside, Setting, rehearse, seed_bytes};
use evenwire_core::unit::Stamp;

/// Does one practice job into the ledger.
fn job_in(store: &mut Store, seed: u64) -> Job {
    let head = store.head().unwrap();
    let mut commit = |batch: &Batch| store.append(batch).map_err(|e| e.to_string());
    let wall = Stamp::parse("2026-03-01T08:00:00+00:00").unwrap();
    let setting = Setting { head, seed: seed_bytes(seed), wall, beside: Beside::default(), commit: &mut commit };
    rehearse(PartModel::first_practice(), MeterModel::default(), seed, setting).unwrap().0
}

#[test]
fn a_line_that_is_missing_is_made_again_and_no_other_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(&folder.path().join("shop.db"), Uuid::from_u128(7)).unwrap();
    let jobs = [job_in(&mut store, 1), job_in(&mut store, 2), job_in(&mut store, 3)];
    let (whole, total) = store.jobs("", 0, 10).unwrap();
    assert_eq!(total, 3);
    let kept: Vec<_> = whole.iter().filter(|line| line.job != jobs[1].id).cloned().collect();
    store.replace_lines(&kept).unwrap();
    assert_eq!(store.jobs("", 0, 10).unwrap().1, 2);

    restore_lines(&mut store).unwrap();
    assert_eq!(store.jobs("", 0, 10).unwrap(), (whole, 3));
}
