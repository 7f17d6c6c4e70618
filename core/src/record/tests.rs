//! The ledger: what is written is found again, and whatever was changed is found out.

mod golden;
mod samples;

use super::*;
use crate::caution::Caution;
use crate::unit::{Millis, Stamp};
use proptest::prelude::*;
use serde_json::{Value, json};
use uuid::Uuid;

fn draft(event: &Event, at: u64) -> Draft {
    let (kind, body) = event.parts();
    Draft {
        id: Uuid::from_u128(u128::from(at)),
        job: Some(Uuid::from_u128(7)),
        kind,
        version: Event::VERSION,
        elapsed_ms: Millis(at),
        wall: Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
        clock: Clock::Ok,
        body,
    }
}

fn device() -> Uuid {
    Uuid::from_u128(1)
}

/// A ledger of all samples, with the head after it.
fn ledger() -> &'static (Vec<Sealed>, Head) {
    static MADE: std::sync::OnceLock<(Vec<Sealed>, Head)> = std::sync::OnceLock::new();
    MADE.get_or_init(made)
}

fn made() -> (Vec<Sealed>, Head) {
    let mut head = Head::empty(device());
    let entries = (1u64..).zip(samples::all()).map(|(at, event)| head.seal(Uuid::from_u128(2), draft(&event, at)));
    let entries = entries.collect();
    (entries, head)
}

/// Reads stored bytes from the beginning, as whoever verifies a ledger does.
fn verified(stored: &[Vec<u8>]) -> Result<Head, ChainError> {
    stored.iter().try_fold(Head::empty(device()), |head, bytes| head.after(&Sealed::read(bytes.clone())?))
}

#[test]
fn a_ledger_is_read_back_whole() {
    let (entries, head) = ledger();
    let stored: Vec<Vec<u8>> = entries.iter().map(|e| e.bytes().to_vec()).collect();
    assert_eq!(verified(&stored).as_ref(), Ok(head));
    for (sealed, bytes) in entries.iter().zip(&stored) {
        assert_eq!(Sealed::read(bytes.clone()).as_ref(), Ok(sealed));
    }
}

#[test]
fn a_missing_a_swapped_and_a_foreign_entry_are_told_apart() {
    let (entries, _) = ledger();
    let after_one = Head::empty(device()).after(&entries[0]).unwrap();
    assert_eq!(after_one.after(&entries[2]), Err(ChainError::Gap { expected: 2, found: 3 }));
    assert_eq!(after_one.after(&entries[0]), Err(ChainError::Gap { expected: 2, found: 1 }));
    let foreign = Head { device: Uuid::from_u128(9), ..after_one.clone() };
    assert_eq!(foreign.after(&entries[1]), Err(ChainError::OtherDevice { sequence: 2 }));
    let mut fork = after_one.clone();
    let other = fork.seal(Uuid::from_u128(2), draft(&Event::JobFinished {}, 99));
    assert_eq!(fork.after(&entries[2]), Err(ChainError::Broken { sequence: 3 }));
    assert_ne!(other.hash(), entries[1].hash());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whoever keeps the head finds a change of any byte of any entry; all but the last are found without it.
    #[test]
    fn any_changed_byte_is_found(entry in any::<prop::sample::Index>(), byte in any::<prop::sample::Index>(), to in any::<u8>()) {
        let (entries, head) = ledger();
        let mut stored: Vec<Vec<u8>> = entries.iter().map(|e| e.bytes().to_vec()).collect();
        let entry = entry.index(stored.len());
        let byte = byte.index(stored[entry].len());
        prop_assume!(stored[entry][byte] != to);
        stored[entry][byte] = to;
        let found = verified(&stored);
        if entry + 1 < stored.len() {
            prop_assert!(found.is_err());
        } else {
            prop_assert_ne!(found.as_ref(), Ok(head));
        }
    }

    #[test]
    fn any_bytes_are_an_entry_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200), at in any::<prop::sample::Index>()) {
        prop_assert!(Sealed::read(bytes.clone()).is_err());
        let (entries, _) = ledger();
        let mut spliced = entries[at.index(entries.len())].bytes().to_vec();
        let place = at.index(spliced.len());
        spliced.splice(place..(place + 9).min(spliced.len()), bytes);
        if let Ok(sealed) = Sealed::read(spliced) {
            let entry = sealed.entry();
            let _ = entry.event();
        }
    }
}

#[test]
fn entries_that_are_too_long_are_refused_and_too_deep_ones_not_understood() {
    let (entries, _) = ledger();
    let with_body = |body: &str| {
        let mut whole: Value = serde_json::from_slice(entries[0].bytes()).unwrap();
        whole["body"] = json!("HERE");
        Sealed::read(whole.to_string().replace("\"HERE\"", body).into_bytes())
    };
    assert!(with_body("{}").is_ok());
    let deep = |levels: usize| format!("{}{}", "[".repeat(levels), "]".repeat(levels));
    for levels in [100, 100_000] {
        assert_eq!(with_body(&deep(levels)).unwrap().event(), None, "{levels} levels");
    }
    assert!(matches!(with_body("[}"), Err(ChainError::Unreadable(_))));
    assert!(matches!(with_body(&format!("\"{}\"", "x".repeat(MAX_ENTRY_BYTES))), Err(ChainError::Unreadable(_))));
}

#[test]
fn a_kind_or_version_from_tomorrow_is_kept_and_not_understood() {
    let known = Event::CautionAccepted { caution: Caution::C0 };
    let (kind, body) = known.parts();
    assert_eq!(Event::read(&kind, 1, body.text()), Some(known));
    assert_eq!(Event::read(&kind, 2, body.text()), None);
    assert_eq!(Event::read("torque-noted", 1, body.text()), None);
    for body in [json!({ "caution": "C99" }), Value::Null] {
        assert_eq!(Event::read(&kind, 1, Body::from(&body).text()), None);
    }
    // What a newer program added stands in the bytes and stays there.
    let (entries, _) = ledger();
    let text = String::from_utf8(entries[1].bytes().to_vec()).unwrap().replacen('{', "{\"added\":[1,2],", 1);
    let sealed = Sealed::read(text.clone().into_bytes()).unwrap();
    assert_eq!(sealed.bytes(), text.as_bytes());
    assert_eq!(sealed.hash(), Hash::of(text.as_bytes()));
}

#[test]
fn the_largest_event_fits_into_an_entry() {
    let mut head = Head::empty(device());
    for event in samples::largest() {
        let sealed = head.seal(Uuid::from_u128(2), draft(&event, 1));
        let read = Sealed::read(sealed.bytes().to_vec()).expect("what is written can be read");
        assert_eq!(read.entry().kind, sealed.entry().kind);
        assert!(sealed.bytes().len() < MAX_ENTRY_BYTES / 2, "{}: {}", read.entry().kind, sealed.bytes().len());
    }
}

#[test]
fn a_commitment_holds_the_details_and_tells_nothing_of_them() {
    let details = samples::details();
    let kept = KeptDetails::new(Uuid::from_u128(7), [5; 32], &details);
    let commitment = kept.commitment();
    assert_eq!(kept.opened(commitment), Some(details.clone()));
    let other_salt = KeptDetails { salt: [6; 32], ..kept.clone() };
    assert_ne!(other_salt.commitment(), commitment, "without the salt nobody can guess");
    assert_eq!(other_salt.opened(commitment), None);
    let retold = KeptDetails { text: kept.text.replace("Marlene", "Marlena"), ..kept };
    assert_ne!(retold.text, KeptDetails::new(Uuid::nil(), [5; 32], &details).text);
    assert_eq!(retold.opened(commitment), None);
}

#[test]
fn the_first_field_that_is_too_long_is_named() {
    assert_eq!(samples::details().too_long(), None);
    let long = || "ü".repeat(MAX_FIELD + 1);
    assert_eq!(Details { complaint: "ü".repeat(MAX_FIELD), ..Details::default() }.too_long(), None);
    assert_eq!(Details { vin: long(), complaint: long(), ..Details::default() }.too_long(), Some("vin"));
    assert_eq!(Details { technician: long(), ..Details::default() }.too_long(), Some("technician"));
}

#[test]
fn a_hash_has_one_spelling() {
    let hash = Hash::of(b"abc");
    // FIPS 180-4, example of one block.
    let text = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(hash.to_string(), text);
    assert_eq!(Hash::try_from(text.to_owned()), Ok(hash));
    assert!(Hash::try_from(text.to_uppercase()).is_err());
    for wrong in [&text[1..], "", &format!("{text}0"), &text.replacen('b', "g", 1)] {
        assert!(Hash::try_from(wrong.to_owned()).is_err(), "{wrong:?}");
    }
    assert_eq!(Hash::of_two(b"a", b"bc"), hash);
}
