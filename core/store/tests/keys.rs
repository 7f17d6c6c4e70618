//! The key beside the ledger: kept whole, for its owner's eyes, never overwritten by another.

mod shop;

use evenwire_core::record::{Head, KeptKey, Renewal, Witness};
use evenwire_store::{Glance, Store, StoreError};
use shop::*;
use std::fs;
use std::path::PathBuf;

fn key_of(seed: u8) -> KeptKey {
    KeptKey::new((BENCH_ONE, [seed; 32]), &Head::empty(BENCH_ONE), None)
}

fn key_file(shop: &Shop) -> PathBuf {
    shop.folder.path().join("ledger.db.key")
}

fn files(shop: &Shop) -> Vec<String> {
    let names = fs::read_dir(shop.folder.path()).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap());
    let of_key = |name: &String| name.contains(".key") && !name.ends_with(".key.lock");
    let mut names: Vec<String> = names.filter(of_key).collect();
    names.sort();
    names
}

#[test]
fn a_key_is_kept_beside_its_ledger_and_found_by_every_way_to_it() {
    let shop = Shop::new();
    let store = shop.open();
    assert_eq!(store.kept_key().unwrap(), None);
    let kept = KeptKey::new((BENCH_ONE, [1; 32]), &Head::empty(BENCH_ONE), Some(Renewal::Restored));
    store.keep_key(&kept).unwrap();
    assert_eq!(store.kept_key().unwrap(), Some(kept.clone()));
    assert_eq!(store.kept_key().unwrap().unwrap().public(), kept.public());
    drop(store);
    let roundabout = shop.folder.path().join(".").join("ledger.db");
    assert_eq!(Store::open(&roundabout, BENCH_TWO).unwrap().kept_key().unwrap(), Some(kept.clone()));
    #[cfg(unix)]
    {
        let elsewhere = Shop::new();
        std::os::unix::fs::symlink(shop.path(), elsewhere.path()).unwrap();
        assert_eq!(elsewhere.open().kept_key().unwrap(), Some(kept));
    }
}

#[cfg(unix)]
#[test]
fn only_its_owner_can_read_a_key() {
    use std::os::unix::fs::PermissionsExt;
    let shop = Shop::new();
    let store = shop.open();
    let mode = || fs::metadata(key_file(&shop)).unwrap().permissions().mode() & 0o777;
    store.keep_key(&key_of(1)).unwrap();
    assert_eq!(mode(), 0o600);
    // Left by a write that was cut off, with rights of its own: they are not taken over.
    let draft = shop.folder.path().join("ledger.db.key.new");
    fs::write(&draft, "half").unwrap();
    fs::set_permissions(&draft, fs::Permissions::from_mode(0o644)).unwrap();
    store.keep_key(&key_of(1)).unwrap();
    assert_eq!(mode(), 0o600);
    assert_eq!(files(&shop), ["ledger.db.key"]);
}

#[test]
fn a_key_that_moves_on_is_replaced_and_another_one_is_put_aside() {
    let shop = Shop::new();
    let mut store = shop.open();
    store.keep_key(&key_of(1)).unwrap();
    let seen = key_of(1).seen(&fill(&mut store, 1));
    store.keep_key(&seen).unwrap();
    assert_eq!(files(&shop), ["ledger.db.key"]);
    store.keep_key(&key_of(2)).unwrap();
    assert_eq!(store.kept_key().unwrap(), Some(key_of(2)));
    assert_eq!(files(&shop), ["ledger.db.key", "ledger.db.key.aside-1"]);
    let aside = fs::read_to_string(shop.folder.path().join("ledger.db.key.aside-1")).unwrap();
    assert_eq!(KeptKey::read(&aside), Some(seen));
}

#[test]
fn a_key_file_that_cannot_be_understood_is_no_key_and_is_put_aside() {
    for torn in ["", "{", "{\"device\":\"00000000-0000-0000-0000-0000000000b1\"}", "\u{fffd}"] {
        let shop = Shop::new();
        let store = shop.open();
        fs::write(key_file(&shop), torn).unwrap();
        assert_eq!(store.kept_key().unwrap(), None, "{torn:?}");
        assert_eq!(fs::read_to_string(key_file(&shop)).unwrap(), torn, "looking changes nothing");
        store.keep_key(&key_of(1)).unwrap();
        assert_eq!(store.kept_key().unwrap(), Some(key_of(1)));
        assert_eq!(fs::read_to_string(shop.folder.path().join("ledger.db.key.aside-1")).unwrap(), torn);
    }
}

#[test]
fn a_write_that_was_cut_off_leaves_the_key_before() {
    let shop = Shop::new();
    let store = shop.open();
    store.keep_key(&key_of(1)).unwrap();
    fs::write(shop.folder.path().join("ledger.db.key.new"), &key_of(2).text()[..40]).unwrap();
    assert_eq!(store.kept_key().unwrap(), Some(key_of(1)));
}

#[test]
fn a_key_that_cannot_be_kept_is_told_and_the_one_before_stays() {
    let shop = Shop::new();
    let store = shop.open();
    store.keep_key(&key_of(1)).unwrap();
    // A folder where the draft should be: nothing can be written there.
    fs::create_dir_all(shop.folder.path().join("ledger.db.key.new/in the way")).unwrap();
    let told = store.keep_key(&key_of(1).seen(&Head { sequence: 4, ..Head::empty(BENCH_ONE) }));
    assert!(matches!(told, Err(StoreError::Io { .. })), "{told:?}");
    assert_eq!(store.kept_key().unwrap(), Some(key_of(1)));
}

#[test]
fn how_far_a_ledger_has_come_is_noted_before_something_of_it_leaves() {
    let shop = Shop::new();
    let mut store = shop.open();
    store.keep_key(&key_of(1)).unwrap();
    fill(&mut store, 2);
    let noted = |store: &Store| store.kept_key().unwrap().unwrap();
    assert_eq!(noted(&store).witness.sequence, 0);
    let glance = Glance::at(&shop.path()).unwrap();
    glance.note_end().unwrap();
    assert_eq!(noted(&store).witness, Witness::of(&store.head().unwrap()));
    // What knows more is not put back, and a key that is not the ledger's knows nothing of it.
    let more = noted(&store).seen(&Head { sequence: 1_000, ..store.head().unwrap() });
    let other = KeptKey::new((BENCH_TWO, [2; 32]), &Head::empty(BENCH_TWO), None);
    for kept in [more, other] {
        store.keep_key(&kept).unwrap();
        glance.note_end().unwrap();
        assert_eq!(noted(&store), kept);
    }
}

#[test]
fn whoever_notes_the_end_never_brings_back_a_key_that_was_replaced_meanwhile() {
    let shop = Shop::new();
    let mut store = shop.open();
    store.keep_key(&key_of(1)).unwrap();
    fill(&mut store, 2);
    let path = shop.path();
    let noting = std::thread::spawn(move || {
        for _ in 0..200 {
            Glance::at(&path).unwrap().note_end().unwrap();
        }
    });
    for seed in 2..40 {
        store.keep_key(&key_of(seed)).unwrap();
        let kept = store.kept_key().unwrap().expect("whole at any time");
        assert_eq!(kept.public(), key_of(seed).public());
    }
    noting.join().unwrap();
    assert_eq!(store.kept_key().unwrap().unwrap().public(), key_of(39).public());
}
