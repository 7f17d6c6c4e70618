//! Who may go on with a ledger, and who has to begin anew.

use super::*;
use crate::record::{ChainError, Clock, Draft};
use crate::unit::{Millis, Stamp};
use proptest::prelude::*;

fn device(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

fn draft(event: &Event) -> Draft {
    let (kind, body) = event.parts();
    Draft {
        id: Uuid::from_u128(99),
        job: None,
        kind,
        version: Event::VERSION,
        elapsed_ms: Millis(5),
        wall: Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
        clock: Clock::Ok,
        body,
    }
}

/// A ledger as its device sees it, and the key beside it.
#[derive(Clone)]
struct Bench {
    head: Head,
    entries: Vec<Sealed>,
    kept: Option<KeptKey>,
    drawn: u8,
}

impl Bench {
    fn new(number: u128) -> Bench {
        Bench { head: Head::empty(device(number)), entries: Vec::new(), kept: None, drawn: number as u8 }
    }

    /// Another keyring from here on, so that two copies do not draw the same.
    fn in_the_hands_of(self, number: u8) -> Bench {
        Bench { drawn: number, ..self }
    }

    fn write(&mut self, event: &Event) {
        self.entries.push(self.head.seal(Uuid::from_u128(2), draft(event)));
    }

    fn standing(&self) -> Standing {
        let there = self.kept.as_ref().and_then(|kept| match kept.witness.sequence {
            0 => Some(Hash::ZERO),
            n => self.entries.get(usize::try_from(n).unwrap() - 1).map(Sealed::hash),
        });
        standing(&self.head, key_named(&self.entries, self.head.device), self.kept.as_ref(), there)
    }

    fn draw(&mut self) -> [u8; 32] {
        self.drawn = self.drawn.wrapping_add(21);
        [self.drawn; 32]
    }

    /// Opens it as the program does; `None` when it was killed after so many steps of that.
    fn open(&mut self, killed_after: usize) -> Option<Standing> {
        let stands = self.standing();
        let mut left = killed_after;
        let mut step = || {
            left = left.checked_sub(1)?;
            Some(())
        };
        match stands {
            Standing::Unkeyed => {
                step()?;
                let seed = self.draw();
                self.kept = Some(KeptKey::new((self.head.device, seed), &self.head, None));
            }
            Standing::Anew(reason) => {
                step()?;
                let (id, seed) = (Uuid::from_bytes(self.draw()[..16].try_into().unwrap()), self.draw());
                self.kept = Some(KeptKey::new((id, seed), &self.head, Some(reason)));
            }
            _ => {}
        }
        let kept = self.kept.clone().unwrap();
        if stands != Standing::Known {
            step()?;
            let mut new = Vec::new();
            if let Standing::Anew(reason) | Standing::Begun(reason) = stands {
                new.push(Event::IdentityRenewed {
                    from_device: self.head.device,
                    from_sequence: self.head.sequence,
                    from_hash: self.head.hash,
                    reason,
                });
                self.head.device = kept.device;
            }
            new.push(Event::DeviceKeyed { key: kept.public() });
            new.iter().for_each(|event| self.write(event));
        }
        step()?;
        self.kept = Some(kept.seen(&self.head));
        Some(stands)
    }

    fn opened(mut self) -> Bench {
        self.open(9).unwrap();
        self
    }

    fn worked(mut self, entries: usize) -> Bench {
        (0..entries).for_each(|_| self.write(&Event::MeasuringResumed {}));
        self
    }

    /// Closed in good order.
    fn closed(mut self) -> Bench {
        self.kept = self.kept.map(|kept| kept.seen(&self.head));
        self
    }

    fn verifies(&self) -> Result<Head, ChainError> {
        let first = self.entries.first().map_or(self.head.device, |first| first.entry().device);
        self.entries.iter().try_fold(Head::empty(first), |head, next| head.after(next))
    }
}

#[test]
fn a_new_ledger_and_one_of_an_older_release_get_a_key_and_keep_their_device() {
    for before in [Bench::new(1), Bench::new(1).worked(5)] {
        assert_eq!(before.standing(), Standing::Unkeyed);
        let after = before.clone().opened();
        assert_eq!(after.head.device, device(1));
        assert_eq!(key_named(&after.entries, device(1)), Some(after.kept.as_ref().unwrap().public()));
        assert_eq!(after.entries.len(), before.entries.len() + 1);
        assert_eq!(after.standing(), Standing::Known);
    }
}

#[test]
fn the_same_ledger_and_key_go_on_as_they_are_however_the_program_ended() {
    let worked = Bench::new(1).opened().worked(4);
    assert_eq!(worked.standing(), Standing::Known, "killed before the witness moved on");
    assert_eq!(worked.closed().standing(), Standing::Known);
}

#[test]
fn a_file_that_came_without_its_key_goes_on_under_another_device() {
    let first = Bench::new(1).opened().worked(4).closed();
    let copy = Bench { kept: None, ..first.clone() }.in_the_hands_of(5);
    assert_eq!(copy.standing(), Standing::Anew(Renewal::KeyMissing));
    let copy = copy.opened().worked(3);
    let first = first.opened().worked(2);
    assert_ne!(copy.head.device, first.head.device);
    assert_eq!(copy.entries[..5], first.entries[..5], "they begin alike");
    assert_ne!(copy.entries[5], first.entries[5]);
    assert_eq!((copy.verifies(), first.verifies()), (Ok(copy.head.clone()), Ok(first.head.clone())));
    // One identity on each side of the parting, both known by their keys.
    assert!(key_named(&copy.entries, device(1)).is_some() && key_named(&copy.entries, copy.head.device).is_some());
    assert_eq!(copy.closed().standing(), Standing::Known, "and told once");
}

#[test]
fn a_ledger_beside_another_one_s_key_goes_on_under_another_device() {
    let (one, two) = (Bench::new(1).opened().worked(4), Bench::new(2).opened().worked(9).closed());
    let swapped = Bench { kept: two.kept.clone(), ..one };
    assert_eq!(swapped.standing(), Standing::Anew(Renewal::OtherKey));
    // Of the same device, with a key the ledger does not name.
    let kept = Some(KeptKey::new((device(2), [77; 32]), &Head::empty(device(2)), None));
    assert_eq!(Bench { kept, ..two }.standing(), Standing::Anew(Renewal::OtherKey));
}

#[test]
fn an_older_copy_put_back_is_told_from_the_ledger_that_went_on() {
    let old = Bench::new(1).opened().worked(4);
    let on = old.clone().worked(3).closed();
    let put_back = Bench { kept: on.kept.clone(), ..old.clone() };
    assert_eq!(put_back.standing(), Standing::Anew(Renewal::Behind));
    // The older copy was written on without its key before it came back.
    let elsewhere = Bench { kept: None, ..old }.in_the_hands_of(6).opened().worked(8);
    let put_back = Bench { kept: on.kept.clone(), ..elsewhere };
    assert_eq!(put_back.standing(), Standing::Anew(Renewal::OtherKey));
    // With the same device on both sides, entries under one number differ.
    let forked = Bench { kept: on.kept.clone(), ..Bench::new(1).opened() };
    let forked = Bench { entries: Vec::new(), head: Head::empty(device(1)), ..forked };
    let forked = forked.worked(9);
    assert_eq!(forked.standing(), Standing::Anew(Renewal::Differs));
}

#[test]
fn an_empty_ledger_in_place_of_one_that_is_gone_begins_with_a_key_of_its_own() {
    let gone = Bench::new(1).opened().worked(4).closed();
    let fresh = Bench { kept: gone.kept.clone(), ..Bench::new(2) };
    assert_eq!(fresh.standing(), Standing::Unkeyed);
    let fresh = fresh.in_the_hands_of(9).opened();
    assert_ne!(fresh.kept.unwrap().public(), gone.kept.unwrap().public());
    // An empty ledger of the same device is that ledger before it was written to.
    let emptied = Bench { kept: Bench::new(1).opened().worked(4).closed().kept, ..Bench::new(1) };
    assert_eq!(emptied.standing(), Standing::Anew(Renewal::Behind));
}

#[test]
fn a_key_says_nothing_of_itself_and_is_read_back_whole() {
    let kept = KeptKey {
        begins: Some(Renewal::Behind),
        ..KeptKey::new((device(1), [0xAB; 32]), &Head::empty(device(1)), None)
    };
    assert_eq!(KeptKey::read(&kept.text()), Some(kept.clone()));
    assert!(kept.text().contains("abababab"));
    assert!(!format!("{kept:?}").contains("abab"), "{kept:?}");
    for end in 0..kept.text().len() {
        assert_eq!(KeptKey::read(&kept.text()[..end]), None, "cut off after {end}");
    }
}

#[test]
fn only_an_entry_that_names_this_very_end_changes_the_device() {
    let bench = Bench::new(1).opened().worked(2);
    let from = bench.head.clone();
    let renewing = |device_from: Uuid, sequence: u64, hash: Hash| Event::IdentityRenewed {
        from_device: device_from,
        from_sequence: sequence,
        from_hash: hash,
        reason: Renewal::Restored,
    };
    let sealed = |event: &Event, job: Option<Uuid>| {
        let mut head = Head { device: device(2), ..from.clone() };
        head.seal(Uuid::from_u128(2), Draft { job, ..draft(event) })
    };
    let right = renewing(from.device, from.sequence, from.hash);
    let next = sealed(&right, None);
    assert_eq!(from.after(&next), Ok(Head { device: device(2), sequence: 4, hash: next.hash() }));
    let other = Err(ChainError::OtherDevice { sequence: 4 });
    for wrong in [
        renewing(device(3), from.sequence, from.hash),
        renewing(from.device, from.sequence - 1, from.hash),
        renewing(from.device, from.sequence, Hash::ZERO),
        Event::DeviceKeyed { key: DeviceKey::from_seed([1; 32]).public() },
        Event::MeasuringResumed {},
    ] {
        assert_eq!(from.after(&sealed(&wrong, None)), other, "{wrong:?}");
    }
    assert_eq!(from.after(&sealed(&right, Some(Uuid::from_u128(7)))), other, "not inside a job");
    // The number and the predecessor are looked at all the same.
    let mut ahead = Head { device: device(2), sequence: from.sequence + 1, hash: from.hash };
    assert!(matches!(from.after(&ahead.seal(Uuid::nil(), draft(&right))), Err(ChainError::Gap { .. })));
    let mut broken = Head { device: device(2), sequence: from.sequence, hash: Hash::ZERO };
    assert!(matches!(from.after(&broken.seal(Uuid::nil(), draft(&right))), Err(ChainError::Broken { .. })));
}

/// What is done to a ledger, its key and copies of both.
#[derive(Clone, Copy, Debug)]
enum Deed {
    Open,
    KilledWhileOpening(usize),
    Work(usize),
    Close,
    KeepCopy,
    PutLedgerBack,
    PutBothBack,
    LoseKey,
}

fn deeds() -> impl Strategy<Value = Vec<Deed>> {
    let deed = prop_oneof![
        4 => Just(Deed::Open),
        2 => (0..3usize).prop_map(Deed::KilledWhileOpening),
        4 => (1..4usize).prop_map(Deed::Work),
        3 => Just(Deed::Close),
        2 => Just(Deed::KeepCopy),
        1 => Just(Deed::PutLedgerBack),
        1 => Just(Deed::PutBothBack),
        1 => Just(Deed::LoseKey),
    ];
    prop::collection::vec(deed, 1..30)
}

#[test]
fn a_key_file_of_any_release_is_read_and_its_secret_is_in_one_place() {
    let device = "018f0000-0000-7000-8000-000000000001";
    let seed = "07".repeat(32);
    let witness = format!(r#"{{"sequence":0,"hash":"{}"}}"#, Hash::ZERO);
    let before = format!(r#"{{"device":"{device}","seed":"{seed}","witness":{witness}}}"#);
    let kept = KeptKey::read(&before).expect("as it was always written");
    assert_eq!((kept.text(), kept.seed()), (before, Some([7; 32])));
    let moved = kept.in_store();
    let public = String::from(kept.public());
    assert_eq!(moved.text(), format!(r#"{{"device":"{device}","in_store":"{public}","witness":{witness}}}"#));
    assert_eq!(KeptKey::read(&moved.text()), Some(moved.clone()));
    assert_eq!((moved.public(), moved.seed(), moved.key().is_none()), (kept.public(), None, true));
    // The secret comes back from where it was, and none but it.
    assert_eq!(moved.with_seed([7; 32]), Some(kept));
    assert_eq!(moved.with_seed([8; 32]), None);
    for secrets in [String::new(), format!(r#""seed":"{seed}","in_store":"{public}","#)] {
        assert_eq!(KeptKey::read(&format!(r#"{{"device":"{device}",{secrets}"witness":{witness}}}"#)), None);
    }
}

#[test]
fn a_secret_that_is_surely_lost_is_as_no_key_at_all() {
    let before = Bench::new(1).worked(2);
    let lost = Bench { kept: None, ..before.clone() };
    assert_eq!(before.standing().without_secret(), lost.standing());
    let reason = Renewal::Restored;
    for anew in [Standing::Begun(reason), Standing::Anew(reason)] {
        assert_eq!(anew.without_secret(), Standing::Anew(reason), "the reason stays");
    }
    for unkeyed in [Standing::Unnamed, Standing::Unkeyed] {
        assert_eq!(unkeyed.without_secret(), Standing::Unkeyed, "nobody knows it by a key");
    }
}

#[test]
fn what_may_lack_a_signature_is_not_forgotten_by_what_is_seen() {
    let kept = KeptKey { unsigned_after: Some(4), ..KeptKey::new((device(1), [1; 32]), &Head::empty(device(1)), None) };
    assert_eq!(kept.seen(&Head { sequence: 9, ..Head::empty(device(1)) }).unsigned_after, Some(4));
    assert_eq!(KeptKey::read(&kept.text()), Some(kept));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Whatever happens to it, a ledger opens, verifies, and is known by the key beside it; and once it was closed, no
    /// older copy put back goes on as the same device.
    #[test]
    fn whatever_becomes_of_a_ledger_it_opens_and_is_known_by_its_key(deeds in deeds()) {
        let mut bench = Bench::new(1);
        let mut copy = bench.clone();
        let mut running = false;
        let mut witnessed = Witness { sequence: 0, hash: Hash::ZERO };
        for deed in deeds {
            match deed {
                Deed::Work(entries) if running => bench = bench.worked(entries),
                Deed::Close if running => {
                    bench = bench.closed();
                    witnessed = bench.kept.as_ref().unwrap().witness;
                    running = false;
                }
                Deed::KeepCopy => copy = bench.clone(),
                Deed::PutLedgerBack => {
                    let (device_before, older) = (bench.head.device, copy.head.sequence < witnessed.sequence);
                    let drawn = bench.drawn.max(copy.drawn);
                    bench = Bench { kept: bench.kept.clone(), drawn, ..copy.clone() };
                    running = false;
                    if older && bench.kept.is_some() && bench.head.device == device_before {
                        prop_assert!(matches!(bench.standing(), Standing::Anew(_) | Standing::Begun(_)), "{:?}", bench.standing());
                    }
                }
                Deed::PutBothBack => {
                    let drawn = bench.drawn.max(copy.drawn);
                    bench = Bench { drawn, ..copy.clone() };
                    witnessed = Witness { sequence: 0, hash: Hash::ZERO };
                    running = false;
                }
                Deed::LoseKey if !running => bench.kept = None,
                Deed::KilledWhileOpening(steps) => {
                    bench.open(steps);
                    running = false;
                }
                Deed::Open => {
                    bench.open(9);
                    running = true;
                    prop_assert_eq!(bench.standing(), Standing::Known);
                    prop_assert_eq!(key_named(&bench.entries, bench.head.device), Some(bench.kept.as_ref().unwrap().public()));
                }
                _ => {}
            }
            prop_assert_eq!(bench.verifies(), Ok(bench.head.clone()));
        }
    }
}
