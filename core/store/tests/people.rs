//! People of the roster in the file.

mod shop;

use evenwire_core::record::{KeptPerson, PersonDetails, PinHash, Tries};
use evenwire_core::session::Batch;
use evenwire_core::unit::{BootId, Millis};
use evenwire_store::Store;
use shop::*;
use uuid::Uuid;

fn person(number: u128, name: &str) -> KeptPerson {
    let details = PersonDetails { name: name.into(), role: "technician".into() };
    let pin = PinHash(format!("$argon2id$v=19$m=8,t=1,p=1${number}"));
    KeptPerson::new(Uuid::from_u128(number), [number as u8; 32], &details, pin)
}

fn write(store: &mut Store, people: &[KeptPerson]) {
    store.append(&Batch { people: people.to_vec(), ..Batch::default() }).unwrap();
}

#[test]
fn people_are_read_as_they_were_written_and_a_newer_row_takes_the_place_of_the_older() {
    let shop = Shop::new();
    let mut store = shop.open();
    assert_eq!(store.people().unwrap(), []);
    let (one, two) = (person(1, "Jakob Specht"), person(2, "Ruth Amsel"));
    write(&mut store, &[two.clone(), one.clone()]);
    assert_eq!(store.people().unwrap(), [one.clone(), two.clone()]);
    let tries = Tries { wrong: 6, at: Millis(u64::MAX), boot: BootId("6f1c".into()) };
    let locked = KeptPerson { tries, pin: PinHash::default(), ..one };
    write(&mut store, std::slice::from_ref(&locked));
    drop(store);
    let store = shop.open();
    assert_eq!(store.people().unwrap(), [locked, two]);
    assert!(store.check().unwrap().is_whole());
}

#[test]
fn a_row_that_decayed_is_told_and_left_out_and_none_is_taken_away() {
    for edit in
        ["wrong = 0", "pin = 'other'", "text = '{}'", "wrong_at_ms = 1", "wrong_boot = 'x'", "salt = zeroblob(32)"]
    {
        let shop = Shop::new();
        let tries = Tries { wrong: 5, at: Millis(7), boot: BootId("one".into()) };
        let mut store = shop.open();
        let other = person(2, "Ruth Amsel");
        write(&mut store, &[KeptPerson { tries, ..person(1, "Jakob Specht") }, other.clone()]);
        shop.raw().execute(&format!("UPDATE person SET {edit} WHERE wrong = 5"), []).unwrap();
        assert_eq!(store.people().unwrap(), [other], "{edit}");
        assert_eq!(store.check().unwrap().others.len(), 1, "{edit}");
        assert!(shop.raw().execute("DELETE FROM person", []).is_err(), "a person stays");
    }
}

#[test]
fn a_file_of_the_format_before_keeps_everything_and_has_nobody() {
    let shop = Shop::new();
    let mut store = shop.open();
    let head = fill(&mut store, 3);
    let picture = b"a picture".to_vec();
    let hash = evenwire_core::record::Hash::of(&picture);
    let mut next = head;
    let entries = vec![seal(&mut next, Some(job(1)), "with a photo")];
    let pictures = vec![(hash, picture.clone())];
    store.append(&Batch { entries, pictures, ..Batch::default() }).unwrap();
    let before = contents(&store, 3).unwrap();
    drop(store);
    // As a file of format 2 stands: the same but for what format 3 brought.
    let raw = shop.raw();
    let newer = "DROP TABLE signed_head; DROP TABLE person; DROP TABLE found_term; DROP TABLE found; DROP TABLE shelf;";
    raw.execute_batch(&format!("{newer} PRAGMA user_version = 2;")).unwrap();
    drop(raw);
    let mut store = shop.open();
    assert!(!store.lines_are_whole().unwrap(), "the job list is derived, and made anew by whoever knows how");
    store.append(&Batch { lines: before.lines.0.clone(), ..Batch::default() }).unwrap();
    assert_eq!(contents(&store, 3).unwrap(), before);
    assert_eq!(store.picture(job(1), hash).unwrap(), Some(picture));
    assert_eq!(store.people().unwrap(), []);
    write(&mut store, &[person(1, "Jakob Specht")]);
    assert!(store.check().unwrap().is_whole());
}
