//! One ledger, one program: whoever comes second is told so, and a killed one leaves nothing locked.

mod shop;

use evenwire_store::{Store, StoreError};
use shop::*;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// Names the ledger that a second process is to hold.
const TO_HOLD: &str = "EVENWIRE_TEST_LEDGER";
const HOLDS: &str = "holds the ledger";

/// The second process: this test program again, with one test, which waits until its standard input ends.
#[test]
fn a_second_process_holds_the_ledger_it_is_given() {
    let Some(path) = std::env::var_os(TO_HOLD) else { return };
    let _store = open(Path::new(&path));
    // Not on standard output, where the test harness speaks as well.
    eprintln!("{HOLDS}");
    let mut forever = String::new();
    std::io::stdin().read_line(&mut forever).unwrap();
}

fn second_process(path: &Path) -> Child {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["a_second_process_holds_the_ledger_it_is_given", "--exact", "--nocapture"])
        .env(TO_HOLD, path)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let said = BufReader::new(child.stderr.take().unwrap()).lines();
    assert!(said.map_while(Result::ok).any(|line| line == HOLDS), "the second process did not open it");
    child
}

fn is_refused(path: &Path) {
    let refused = Store::open(path, BENCH_ONE);
    assert!(matches!(&refused, Err(StoreError::InUse { path: named }) if named == path), "{refused:?}");
    assert!(refused.unwrap_err().to_string().ends_with("open: close it there"));
}

#[test]
fn a_ledger_open_in_another_program_is_refused_and_left_alone_until_that_one_is_gone() {
    let shop = Shop::new();
    let head = fill(&mut shop.open(), 1);
    let mut other = second_process(&shop.path());
    let before = fs::read(shop.path()).unwrap();
    is_refused(&shop.path());
    assert!(matches!(Store::move_aside(&shop.path()), Err(StoreError::InUse { .. })));
    assert!(fs::read(shop.path()).unwrap() == before);

    // Killed, as by a flat battery: nothing of it is left that could lock anybody out.
    other.kill().unwrap();
    other.wait().unwrap();
    assert_eq!(shop.open().head().unwrap(), head);
}

#[test]
fn a_ledger_open_in_this_program_is_refused_under_every_name_until_it_is_closed() {
    let shop = Shop::new();
    let mut store = shop.open();
    let head = fill(&mut store, 1);
    is_refused(&shop.path());
    is_refused(&shop.folder.path().join(".").join("ledger.db"));
    #[cfg(unix)]
    {
        let other_name = shop.folder.path().join("other-name.db");
        std::os::unix::fs::symlink(shop.path(), &other_name).unwrap();
        is_refused(&other_name);
    }
    drop(store);
    assert_eq!(shop.open().head().unwrap(), head);
}

#[test]
fn of_two_that_make_a_new_ledger_one_is_refused() {
    let shop = Shop::new();
    let other = second_process(&shop.path());
    is_refused(&shop.path());
    let ended = other.wait_with_output().unwrap();
    assert!(ended.status.success(), "its input ended, so it closed the ledger");
    drop(shop.open());
}
