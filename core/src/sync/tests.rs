//! A ledger at the hub's door: what follows is taken, and nothing else is.

use super::*;
use crate::record::{
    ChainError, Clock, DeviceKey, Draft, Event, Hash, Head, KeptDetails, PhotoFact, Renewal, Sealed, SignatureError,
};
use crate::unit::{Millis, Stamp};
use proptest::prelude::*;
use serde_json::value::RawValue;
use uuid::Uuid;

const HUB: Uuid = Uuid::from_u128(0x4855);
const BENCH: Uuid = Uuid::from_u128(0x0be1);
const JOB: Uuid = Uuid::from_u128(7);

fn key(seed: u8) -> DeviceKey {
    DeviceKey::from_seed([seed; 32])
}

fn seal(head: &mut Head, job: Option<Uuid>, event: &Event) -> Sealed {
    let (kind, body) = event.parts();
    let draft = Draft {
        id: Uuid::from_u128(u128::from(head.sequence)),
        job,
        kind,
        version: Event::VERSION,
        elapsed_ms: Millis(head.sequence),
        wall: Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
        clock: Clock::Ok,
        body,
    };
    head.seal(Uuid::from_u128(2), draft)
}

/// A ledger of so many entries.
fn ledger(device: Uuid, length: usize) -> Vec<Sealed> {
    let mut head = Head::empty(device);
    (0..length).map(|at| seal(&mut head, Some(JOB), &Event::ConductorChosen { conductor: at as u32 })).collect()
}

fn raw(sealed: &Sealed) -> Box<RawValue> {
    RawValue::from_string(String::from_utf8(sealed.bytes().to_vec()).unwrap()).unwrap()
}

fn signed(entries: &[Sealed], key: &DeviceKey) -> PushAsk {
    let last = entries.last().unwrap();
    let head = PushHead { hub: HUB, device: BENCH, sequence: last.entry().sequence, hash: last.hash() };
    let first_sequence = entries[0].entry().sequence;
    PushAsk { first_sequence, entries: entries.iter().map(raw).collect(), head: head.sign(key) }
}

/// What a hub has, with the least it takes to be one.
#[derive(Clone, Debug, PartialEq)]
struct Stream {
    entries: Vec<Sealed>,
}

impl Stream {
    fn tail(&self) -> Head {
        self.entries.last().map_or(Head::empty(Uuid::nil()), |last| Head {
            device: last.entry().device,
            sequence: last.entry().sequence,
            hash: last.hash(),
        })
    }

    fn push(&mut self, ask: &PushAsk) -> Result<(), PushRefused> {
        // As it came over the line.
        self.take(serde_json::to_vec(ask).unwrap())
    }

    fn take(&mut self, sent: Vec<u8>) -> Result<(), PushRefused> {
        let batch = Batch::read(sent, (HUB, BENCH, &key(1).public()))?;
        let from = usize::try_from(batch.first_sequence()).unwrap().saturating_sub(1).min(self.entries.len());
        let known: Vec<Hash> = self.entries[from..].iter().map(Sealed::hash).collect();
        let taken = take((&self.tail(), &known), &batch)?;
        for (gist, bytes) in batch.entries().skip(taken.here) {
            let sealed = Sealed::read(bytes.to_vec()).unwrap();
            assert_eq!(gist, &Gist::of(&sealed));
            self.entries.push(sealed);
        }
        assert_eq!(self.tail().sequence, taken.head.sequence);
        Ok(())
    }
}

fn with(entries: &[Sealed]) -> Stream {
    Stream { entries: entries.to_vec() }
}

proptest! {
    #[test]
    fn batches_in_any_order_make_a_beginning_of_the_ledger_and_all_of_them_the_whole(
        length in 1usize..40, cuts in prop::collection::vec((0usize..40, 1usize..12), 1..30),
    ) {
        let (ours, mut hub) = (ledger(BENCH, length), with(&[]));
        for (from, count) in cuts {
            let batch = &ours[from.min(length - 1)..(from + count).min(length).max(from.min(length - 1) + 1)];
            let had = hub.entries.len();
            let answer = hub.push(&signed(batch, &key(1)));
            if from.min(length - 1) > had {
                prop_assert_eq!(answer, Err(PushRefused::Gap { expected: had as u64 + 1 }));
            } else {
                prop_assert_eq!(answer, Ok(()));
                prop_assert!(hub.entries.len() >= had, "what was there is there");
            }
            prop_assert_eq!(&hub.entries[..], &ours[..hub.entries.len()]);
        }
        let missing = ours[hub.entries.len()..].chunks(5).map(|batch| signed(batch, &key(1)));
        for ask in missing { prop_assert_eq!(hub.push(&ask), Ok(())); }
        let whole = signed(&ours, &key(1));
        prop_assert_eq!(hub.push(&whole), Ok(()));
        prop_assert_eq!(hub.entries, ours);
    }

    #[test]
    fn a_ledger_that_parts_from_what_is_there_is_found_at_the_first_entry_that_differs(
        shared in 0usize..8, theirs in 1usize..6, ours in 1usize..6, from in 0usize..8,
    ) {
        let mut head = Head::empty(BENCH);
        let beginning: Vec<Sealed> = (0..shared)
            .map(|_| seal(&mut head, Some(JOB), &Event::JobFinished {})).collect();
        let grow = |by: u32, count: usize| {
            let (mut head, mut entries) = (head.clone(), beginning.clone());
            entries.extend((0..count).map(|_| seal(&mut head, Some(JOB), &Event::ConductorChosen { conductor: by })));
            entries
        };
        let (there, copy) = (grow(1, theirs), grow(2, ours));
        let (mut hub, from) = (with(&there), from.min(shared));
        let refused = hub.push(&signed(&copy[from..], &key(1)));
        prop_assert_eq!(refused, Err(PushRefused::Fork { sequence: shared as u64 + 1 }));
        prop_assert_eq!(hub, with(&there));
    }

    #[test]
    fn nothing_that_was_changed_on_the_way_is_taken(length in 1usize..6, at in any::<prop::sample::Index>(), bit in 0u8..8) {
        let ours = ledger(BENCH, length);
        let mut sent = serde_json::to_vec(&signed(&ours, &key(1))).unwrap();
        let at = at.index(sent.len());
        sent[at] ^= 1 << bit;
        let mut hub = with(&[]);
        if hub.take(sent).is_ok() {
            // A changed blank would be one; there is none, but what is kept is what counts.
            prop_assert_eq!(hub.entries, ours);
        }
    }
}

#[test]
fn a_batch_is_for_one_hub_from_one_device_and_signed_by_its_key() {
    let ours = ledger(BENCH, 3);
    let refused = |hub, device, by: &DeviceKey| {
        let sent = serde_json::to_vec(&signed(&ours, &key(1))).unwrap();
        Batch::read(sent, (hub, device, &by.public())).map(|batch| batch.len())
    };
    assert_eq!(refused(HUB, BENCH, &key(1)), Ok(3));
    assert_eq!(refused(Uuid::from_u128(1), BENCH, &key(1)), Err(PushRefused::Other));
    assert_eq!(refused(HUB, Uuid::from_u128(1), &key(1)), Err(PushRefused::Other));
    assert_eq!(refused(HUB, BENCH, &key(2)), Err(PushRefused::Signature(SignatureError::Header)));
    let mut cut = signed(&ours, &key(1));
    cut.entries.pop();
    assert_eq!(with(&[]).push(&cut), Err(PushRefused::Other), "signed with one entry more");
}

#[test]
fn sizes_are_held() {
    let ours = ledger(BENCH, MOST_ENTRIES + 1);
    assert_eq!(with(&[]).push(&signed(&ours, &key(1))), Err(PushRefused::Size));
    assert_eq!(with(&[]).push(&signed(&ours[..MOST_ENTRIES], &key(1))), Ok(()));
    let none = PushAsk { entries: Vec::new(), ..signed(&ours[..1], &key(1)) };
    assert_eq!(with(&[]).push(&none), Err(PushRefused::Empty));
    let before = PushAsk { first_sequence: 0, ..signed(&ours[..1], &key(1)) };
    assert_eq!(with(&[]).push(&before), Err(PushRefused::Empty));
    let misnumbered = PushAsk { first_sequence: 1, ..signed(&ours[1..2], &key(1)) };
    assert_eq!(with(&[]).push(&misnumbered), Err(ChainError::Gap { expected: 1, found: 2 }.into()));
    let large = |head: &mut Head| seal(head, None, &Event::ProcedureKept { text: "x".repeat(200_000) });
    let mut head = Head::empty(BENCH);
    let many: Vec<Sealed> = (0..6).map(|_| large(&mut head)).collect();
    assert_eq!(with(&[]).push(&signed(&many, &key(1))), Err(PushRefused::Size));
    assert_eq!(with(&[]).push(&signed(&many[..5], &key(1))), Ok(()));
}

#[test]
fn a_ledger_that_was_taken_up_by_another_device_comes_whole() {
    let mut head = Head::empty(Uuid::from_u128(0x01d));
    let mut ours: Vec<Sealed> = (0..3).map(|_| seal(&mut head, None, &Event::JobFinished {})).collect();
    let renewed = Event::IdentityRenewed {
        from_device: head.device,
        from_sequence: head.sequence,
        from_hash: head.hash,
        reason: Renewal::Restored,
    };
    head.device = BENCH;
    ours.push(seal(&mut head, None, &renewed));
    ours.push(seal(&mut head, None, &Event::DeviceKeyed { key: key(1).public() }));
    for batch in [1, 2, 5] {
        let mut hub = with(&[]);
        for ask in ours.chunks(batch).map(|batch| signed(batch, &key(1))) {
            assert_eq!(hub.push(&ask), Ok(()), "in batches of {batch}");
        }
        assert_eq!(hub.entries, ours);
    }
}

#[test]
fn what_stands_beside_follows_from_the_entries() {
    let details = KeptDetails::new(JOB, [5; 32], &crate::record::Details::default());
    let mut head = Head::empty(BENCH);
    let opened = Event::JobOpened { order: "W-1".into(), vehicle: String::new(), personal: details.commitment() };
    let named = |kind, hash, job| BesideChange::Named(Beside { kind, hash, job });
    let mut by = |job, event: &Event| changes_by(&seal(&mut head, job, event));
    assert_eq!(by(Some(JOB), &opened), [named(BesideKind::Details, details.commitment(), Some(JOB))]);
    let newer = Hash::of(b"newer");
    let corrected = Event::JobCorrected { order: "W-2".into(), vehicle: String::new(), personal: newer };
    let expected = [BesideChange::Superseded(JOB), named(BesideKind::Details, newer, Some(JOB))];
    assert_eq!(by(Some(JOB), &corrected), expected);
    let photo = PhotoFact { photo: newer, step: None, width: 1, height: 1, bytes: 1 };
    assert_eq!(by(Some(JOB), &Event::PhotoTaken(photo)), [named(BesideKind::Photo, newer, Some(JOB))]);
    assert_eq!(by(Some(JOB), &Event::DetailsErased {}), [BesideChange::Erased(JOB)]);
    let person = Event::PersonAdded { person: Uuid::from_u128(3), personal: newer };
    assert_eq!(by(None, &person), [named(BesideKind::Person, newer, None)]);
    assert_eq!(by(Some(JOB), &Event::JobFinished {}), []);
}

#[test]
fn details_come_back_from_the_bytes_their_commitment_is_of() {
    let details = KeptDetails::new(JOB, [5; 32], &crate::record::Details { vin: "ü".into(), ..Default::default() });
    let bytes = details.to_bytes();
    assert_eq!(Hash::of(&bytes), details.commitment());
    assert_eq!(KeptDetails::from_bytes(JOB, &bytes), Some(details));
    assert_eq!(KeptDetails::from_bytes(JOB, &[7; 31]), None, "shorter than a salt");
    assert_eq!(KeptDetails::from_bytes(JOB, &[0xff; 40]), None, "no text");
}

fn invitation() -> Invitation {
    Invitation {
        hub: HUB,
        name: "Lötauge & Sohn".into(),
        addresses: vec!["192.0.2.7:7443".into()],
        authority: "MIIB".into(),
        code: "7K2M-9QXTB".into(),
    }
}

#[test]
fn an_invitation_survives_a_letter_and_says_when_its_end_is_missing() {
    let text = invitation().text();
    assert_eq!(Invitation::read(&text), Ok(invitation()));
    let folded: Vec<String> = text.as_bytes().chunks(20).map(|line| String::from_utf8_lossy(line).into()).collect();
    assert_eq!(Invitation::read(&folded.join(" \r\n")), Ok(invitation()));
    for end in "evenwire:hub/1/".len()..text.len() {
        assert_eq!(Invitation::read(&text[..end]), Err(TextFault::NotWhole), "cut at {end}");
    }
    assert_eq!(Invitation::read("https://example.org"), Err(TextFault::Other));
    let nowhere = Invitation { addresses: Vec::new(), ..invitation() };
    assert_eq!(Invitation::read(&nowhere.text()), Err(TextFault::NotWhole));
    assert!(!format!("{:?}", invitation()).contains("7K2M"), "the code is not told");
}

#[test]
fn both_screens_show_the_same_digits_only_for_the_same_four() {
    let digits = six_digits(HUB, b"ca", BENCH, &key(1).public());
    assert_eq!(digits.len(), 7);
    assert!(digits.chars().enumerate().all(|(at, c)| if at == 3 { c == ' ' } else { c.is_ascii_digit() }), "{digits}");
    let others = [
        six_digits(BENCH, b"ca", BENCH, &key(1).public()),
        six_digits(HUB, b"cb", BENCH, &key(1).public()),
        six_digits(HUB, b"ca", HUB, &key(1).public()),
        six_digits(HUB, b"ca", BENCH, &key(2).public()),
    ];
    assert!(others.iter().all(|other| *other != digits), "{digits} {others:?}");
}

#[test]
fn an_assertion_tells_whose_key_to_try_and_is_believed_only_with_it() {
    let claims = Assertion { iss: BENCH, sub: BENCH, aud: HUB, exp: 1_800_000_000, jti: Uuid::from_u128(9) };
    let jws = claims.sign(&key(1));
    assert_eq!(Assertion::claimed_by(&jws), Some(BENCH));
    assert_eq!(Assertion::verify(&key(1).public(), &jws), Ok(claims));
    assert!(Assertion::verify(&key(2).public(), &jws).is_err());
    let proof = Proof { hub: HUB, code: "c".into(), device: BENCH, name: "Bench 2".into() };
    assert!(Assertion::verify(&key(1).public(), &proof.sign(&key(1))).is_err(), "signed as something else");
    assert_eq!(Assertion::claimed_by("a.b.c"), None);
}

#[test]
fn a_change_from_a_newer_hub_is_read_and_passed_over() {
    let text = r#"{"changes":[{"number":4,"change":"bell-rung","loud":true},{"number":9,"change":"note","job":null,"text":"x"}],"more":false}"#;
    let read: Changes = serde_json::from_str(text).unwrap();
    assert_eq!(read.changes[0], Numbered { number: 4, change: Change::Unknown });
    assert_eq!(read.changes[1].change, Change::Note { job: None, text: "x".into() });
}

#[test]
fn an_entry_looked_at_where_it_lies_tells_what_it_tells_when_it_is_kept() {
    let mut other = Head::empty(Uuid::from_u128(0x01d));
    let details = Hash::of(b"details");
    let opened = Event::JobOpened { order: "W-1".to_owned(), vehicle: "ä\n".to_owned(), personal: details };
    let told = seal(&mut other, Some(JOB), &opened);
    let carried = Event::Carried { entry: String::from_utf8(told.bytes().to_vec()).unwrap() };
    let renewed = Event::IdentityRenewed {
        from_device: other.device,
        from_sequence: other.sequence,
        from_hash: other.hash,
        reason: Renewal::Restored,
    };
    let mut head = Head::empty(BENCH);
    let plain = seal(&mut head, Some(JOB), &opened);
    let named = |gist: &Gist| gist.means.clone().unwrap();
    for (sealed, means) in [
        (plain.clone(), named(&Gist::of(&told))),
        (seal(&mut head, Some(JOB), &carried), named(&Gist::of(&told))),
        (seal(&mut head, None, &renewed), Vec::new()),
        (seal(&mut head, None, &Event::ProcedureKept { text: "x".repeat(200_000) }), Vec::new()),
    ] {
        let gist = Gist::read(std::str::from_utf8(sealed.bytes()).unwrap()).unwrap();
        assert_eq!((&gist, &gist.means), (&Gist::of(&sealed), &Some(means)));
        assert_eq!((gist.link.sequence, gist.link.hash), (sealed.entry().sequence, sealed.hash()));
        assert_eq!(gist.kind.is_some(), sealed.entry().job.is_none());
    }
    // A kind that is not written as it is, and one that nobody knows: the bytes count, whatever is read of them.
    let text = std::str::from_utf8(plain.bytes()).unwrap();
    let escaped = text.replace("job-opened", r"job\u002dopened");
    let gist = Gist::read(&escaped).unwrap();
    assert_eq!((gist.link.hash, gist.means), (Hash::of(escaped.as_bytes()), Gist::of(&plain).means));
    let gist = Gist::read(&text.replace("job-opened", "job-dreamt")).unwrap();
    assert_eq!((gist.kind, gist.means), (Some(("job-dreamt".to_owned(), 1)), None));
    assert_eq!(Gist::read(&text.replace("\"sequence\":1", "\"sequence\":\"1\"")).map_err(|_| ()), Err(()));
    let long = text.replace("W-1", &"x".repeat(crate::record::MAX_ENTRY_BYTES));
    assert!(matches!(Gist::read(&long), Err(ChainError::Unreadable(why)) if why.contains("at most")));
}
