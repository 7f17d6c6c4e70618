//! What `evenwire-cli hub` says where no hub is.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn hub(deed: &[&str], db: &Path, input: &str) -> (i32, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_evenwire-cli"))
        .args(["hub", "--db"])
        .arg(db)
        .args(deed)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut stdin = child.stdin.take().expect("piped");
    // Whoever needs no input may have ended.
    let _unread = stdin.write_all(input.as_bytes());
    drop(stdin);
    let Output { status, stdout, stderr } = child.wait_with_output().expect("it ends");
    let said = [stdout, stderr].concat();
    (status.code().expect("not killed"), String::from_utf8(said).expect("UTF-8"))
}

#[test]
fn without_a_shop_it_says_so_and_keeps_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let db = folder.path().join("bench.db");
    let (code, said) = hub(&["status"], &db, "");
    assert!(code == 1 && said.contains("there is no such ledger"), "{said}");
    assert!(!db.exists(), "a ledger is not made by asking about it");

    drop(evenwire_store::Store::open(&db, uuid::Uuid::from_u128(7)).unwrap());
    let (code, said) = hub(&["status"], &db, "");
    assert!(code == 1 && said.contains("keeps its record to itself"), "{said}");
    let (code, said) = hub(&["send"], &db, "");
    assert!(code == 1 && said.contains("paired with no shop"), "{said}");
    let (code, said) = hub(&["pair", "-", "--name", "Bench 2"], &db, "evenwire:hub/1/abc\n");
    assert!(code == 1 && said.contains("Something is missing from this invitation"), "{said}");
    let (code, said) = hub(&["unpair"], &db, "");
    assert!(code == 0, "{said}");
    assert!(!folder.path().join("bench.db.shop").exists());
}
