//! A damaged ledger at the command line: told calmly, rescued on demand, and gone on with.

use evenwire_store::Store;
use std::path::Path;
use std::process::{Command, Stdio};
use uuid::Uuid;

/// Exit code, standard output, standard error.
fn cli(arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_evenwire-cli"));
    let out = command.args(arguments).env_remove("EVENWIRE_DB").stdin(Stdio::null()).output().expect("it starts");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (out.status.code().expect("not killed"), text(out.stdout), text(out.stderr))
}

#[test]
fn a_ledger_that_was_cut_off_is_told_rescued_and_gone_on_with() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("van.db");
    let db = path.to_str().expect("a plain path");
    assert_eq!(cli(&["practice", "--seed", "3", "--db", db]).0, 0);
    let entries = Store::open(&path, Uuid::nil()).expect("whole").entries_after(0, 1_000).expect("whole");
    let whole = cli(&["rescue", "--db", db]);
    assert_eq!(
        (whole.0, whole.1.contains("is whole") && whole.1.contains("Nothing was changed.")),
        (0, true),
        "{whole:?}"
    );

    // One figure of one entry in the middle becomes another.
    let mut bytes = std::fs::read(&path).expect("it is there");
    let torn = entries[entries.len() / 2].bytes();
    let at = bytes.windows(torn.len()).position(|window| window == torn).expect("it stands there");
    bytes[at + torn.len() / 2] ^= 0x80;
    // And the head says that there is more than there is, as after a write that never came.
    bytes.truncate(bytes.len() - 4_096);
    std::fs::write(&path, &bytes).expect("written");

    for verb in [&["serve", "--no-radio", "--db", db][..], &["people", "--db", db, "list"]] {
        let (code, _, said) = cli(verb);
        assert_eq!(code, 1, "{said}");
        assert!(said.contains("is damaged") && said.contains("Nothing in it was changed."), "{said}");
        assert!(said.contains(&format!("evenwire-cli rescue --db \"{db}\"")), "{said}");
        assert!(std::fs::read(&path).expect("there") == bytes, "{verb:?} changed it");
    }

    let (code, said, fault) = cli(&["rescue", "--db", db]);
    assert_eq!((code, fault.as_str()), (0, ""));
    let kept = |tail: &str| Path::new(&format!("{db}{tail}")).to_owned();
    assert!(said.contains(&kept(".aside-1").display().to_string()), "{said}");
    assert!(std::fs::read(kept(".aside-1")).expect("kept") == bytes, "the damaged file was changed");
    assert!(kept(".rescued-1").exists(), "{said}");
    let rescued = Store::open(&path, Uuid::nil()).expect("whole");
    let (there, report) = (rescued.entries_after(0, 1_000).expect("whole"), rescued.check().expect("looked at"));
    assert!(report.is_whole(), "{report:?}");
    assert!(there.len() <= entries.len() / 2 && entries.starts_with(&there), "{} entries", there.len());
    assert!(said.contains(&format!("  {} entries that are whole", there.len())), "{said}");
    drop(rescued);
    assert_eq!(cli(&["people", "--db", db, "list"]).0, 0, "the bench starts again");
    let (code, said, _) = cli(&["rescue", "--db", &format!("{db}.none")]);
    assert_eq!((code, said.as_str()), (1, ""), "there is nothing to rescue");
}
