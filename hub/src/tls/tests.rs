//! Certificates over the years.

use super::*;

/// 2026-03-02T00:00Z.
const MARCH: i64 = 1_772_409_600_000;

fn hosts() -> Vec<String> {
    vec!["192.0.2.5".to_owned()]
}

#[test]
fn the_authority_stays_and_the_leaf_is_renewed_in_time() {
    let folder = tempfile::tempdir().unwrap();
    let first = Certificates::open(folder.path(), &hosts(), MARCH).unwrap();
    let again = Certificates::open(folder.path(), &hosts(), MARCH + (365 - 61) * DAY_MS).unwrap();
    assert!(again.leaf == first.leaf, "61 days are enough");
    let later = Certificates::open(folder.path(), &hosts(), MARCH + (365 - 59) * DAY_MS).unwrap();
    assert!(later.leaf != first.leaf, "59 days are not");
    assert_eq!(later.authority(), first.authority());
    assert_eq!(later.ends_ms(), MARCH + (365 - 59) * DAY_MS + LEAF_MS);
    let moved = Certificates::open(folder.path(), &["192.0.2.6".to_owned()], MARCH + 306 * DAY_MS).unwrap();
    assert!(moved.leaf != later.leaf, "another address needs another certificate");
    moved.serving().unwrap();
}

#[test]
fn a_leaf_that_cannot_be_read_is_made_anew_and_an_authority_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let first = Certificates::open(folder.path(), &hosts(), MARCH).unwrap();
    fs::write(folder.path().join("tls/leaf.json"), "{").unwrap();
    let again = Certificates::open(folder.path(), &hosts(), MARCH).unwrap();
    assert_eq!(again.authority(), first.authority());
    again.serving().unwrap();
    fs::write(folder.path().join("tls/authority.key"), "").unwrap();
    fs::write(folder.path().join("tls/leaf.json"), "{").unwrap();
    assert!(matches!(Certificates::open(folder.path(), &hosts(), MARCH), Err(TlsError::Damaged { .. })));
}

#[test]
fn the_seal_stays_the_same_and_a_damaged_one_is_not_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let open = || Certificates::open(folder.path(), &hosts(), MARCH);
    let first = open().unwrap().seal().public();
    assert_eq!(open().unwrap().seal().public(), first);
    fs::write(folder.path().join("tls/seal.key"), b"short").unwrap();
    assert!(matches!(open(), Err(TlsError::Damaged { path }) if path.ends_with("seal.key")));
}

#[cfg(unix)]
#[test]
fn only_the_owner_may_read_them() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    Certificates::open(folder.path(), &hosts(), MARCH).unwrap();
    let mut seen = 0;
    for file in fs::read_dir(folder.path().join("tls")).unwrap() {
        assert_eq!(file.unwrap().metadata().unwrap().permissions().mode() & 0o777, 0o600);
        seen += 1;
    }
    assert_eq!(seen, 4);
}

#[test]
fn the_port_is_no_part_of_a_host() {
    for (address, host) in [
        ("192.0.2.5:7443", "192.0.2.5"),
        ("192.0.2.5", "192.0.2.5"),
        ("[2001:db8::5]:7443", "2001:db8::5"),
        ("2001:db8::5", "2001:db8::5"),
        ("hub.example:7443", "hub.example"),
        ("hub.example", "hub.example"),
    ] {
        assert_eq!(host_of(address), host, "{address}");
    }
}
