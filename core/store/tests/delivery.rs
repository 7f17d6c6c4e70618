//! What a device knows of the hub: kept beside the ledger, and never more than the hub said.

use evenwire_core::record::{Clock, Details, Draft, Event, Hash, Head, KeptDetails, PhotoFact, Sealed};
use evenwire_core::sync::BesideKind;
use evenwire_core::unit::{Millis, Stamp};
use evenwire_store::{Delivery, DeliveryGlance, Named, PairedHub, There};
use uuid::Uuid;

const DEVICE: Uuid = Uuid::from_u128(0xbe_0c_02);
const JOB: Uuid = Uuid::from_u128(0x10b);

fn hub() -> PairedHub {
    PairedHub {
        hub: Uuid::from_u128(0x4_b),
        shop: "Quayside Garage".into(),
        device_name: "Bench 2".into(),
        addresses: vec!["192.0.2.7:8443".into()],
        authority: vec![0x30, 0x82],
        device: DEVICE,
    }
}

/// Entries as a bench would seal them.
struct Pen(Head);

impl Pen {
    fn new() -> Pen {
        Pen(Head::empty(DEVICE))
    }

    fn write(&mut self, event: &Event) -> Sealed {
        let (kind, body) = event.parts();
        let wall = Stamp::parse("2026-03-01T10:42:00+01:00").unwrap();
        let (id, version) = (Uuid::from_u128(u128::from(self.0.sequence) + 1), Event::VERSION);
        let draft = Draft { id, job: Some(JOB), kind, version, elapsed_ms: Millis(0), wall, clock: Clock::Ok, body };
        self.0.seal(Uuid::from_u128(5), draft)
    }
}

fn kept(customer: &str) -> KeptDetails {
    KeptDetails::new(JOB, [7; 32], &Details { customer: customer.into(), ..Details::default() })
}

fn photo(hash: Hash) -> Event {
    Event::PhotoTaken(PhotoFact { photo: hash, step: None, width: 4, height: 3, bytes: 9 })
}

#[test]
fn a_job_is_there_with_all_that_it_names_and_only_for_the_device_that_was_paired() {
    let folder = tempfile::tempdir().unwrap();
    let ledger = folder.path().join("shop.db");
    let mut book = Delivery::open(&ledger).unwrap();
    assert_eq!(book.paired().unwrap(), None);
    book.pair(&hub()).unwrap();
    let mut pen = Pen::new();
    let details = kept("Marlene Sturmvogel").commitment();
    let opened = Event::JobOpened { order: "W-2041".into(), vehicle: String::new(), personal: details };
    let one = Hash::of(b"one");
    book.look_at(&[pen.write(&opened), pen.write(&photo(one))]).unwrap();

    let glance = DeliveryGlance::at(&ledger).unwrap().expect("it is there");
    let job = |book: &DeliveryGlance| book.of_job(JOB, DEVICE).unwrap().expect("paired");
    assert_eq!((job(&glance).photos, job(&glance).others, job(&glance).looked), ((0, 1), (0, 1), 2));
    assert_eq!(glance.of_job(JOB, Uuid::from_u128(9)).unwrap(), None, "said to another device");

    book.stored(2).unwrap();
    assert!(!job(&glance).is_safe(2), "nothing beside the entries is there");
    let unasked = book.unasked(1, 500).unwrap();
    assert_eq!(unasked, [details], "what a later entry names is not asked for yet");
    book.know(&[(details, There::No), (one, There::No)]).unwrap();
    assert_eq!(book.missing().unwrap(), Some(Named { hash: details, kind: BesideKind::Details, job: Some(JOB) }));
    book.know(&[(details, There::Yes)]).unwrap();
    assert!(!job(&glance).is_safe(2));
    book.know(&[(one, There::Yes)]).unwrap();
    assert!(job(&glance).is_safe(2));
    assert!(!job(&glance).is_safe(3), "another entry was written");

    book.fell_back(0).unwrap();
    assert!(!job(&glance).is_safe(2), "the hub lost its disk");
    assert!(book.standing().unwrap().again);
    assert_eq!(book.unasked(2, 500).unwrap().len(), 2);
}

#[test]
fn what_was_corrected_or_erased_is_not_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Delivery::open(&folder.path().join("shop.db")).unwrap();
    book.pair(&hub()).unwrap();
    let mut pen = Pen::new();
    let (first, second) = (kept("Marlene").commitment(), kept("Marleen").commitment());
    let opened = Event::JobOpened { order: "W-2041".into(), vehicle: String::new(), personal: first };
    let corrected = Event::JobCorrected { order: "W-2041".into(), vehicle: String::new(), personal: second };
    let entries = [pen.write(&opened), pen.write(&photo(Hash::of(b"one"))), pen.write(&corrected)];
    book.look_at(&entries).unwrap();
    book.look_at(&entries).unwrap();
    assert_eq!(book.standing().unwrap().looked, 3, "what comes twice is looked at once");
    let mut unasked = book.unasked(3, 500).unwrap();
    unasked.sort();
    let mut wanted = [second, Hash::of(b"one")];
    wanted.sort();
    assert_eq!(unasked, wanted);
    book.look_at(&[pen.write(&Event::DetailsErased {})]).unwrap();
    assert_eq!(book.unasked(4, 500).unwrap(), []);
    assert_eq!(book.standing().unwrap().named, 0);
}

#[test]
fn pairing_again_begins_anew_and_unpairing_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let ledger = folder.path().join("shop.db");
    let mut book = Delivery::open(&ledger).unwrap();
    book.pair(&hub()).unwrap();
    book.look_at(&[Pen::new().write(&photo(Hash::of(b"one")))]).unwrap();
    book.stored(1).unwrap();
    book.took(7, Some((None, "The loaner is back on Monday."))).unwrap();
    drop(book);
    let mut book = Delivery::open(&ledger).unwrap();
    assert_eq!(book.paired().unwrap(), Some(hub()), "it outlives the program");
    assert_eq!(book.notes().unwrap()[0].text, "The loaner is back on Monday.");
    book.put_away(7).unwrap();
    assert_eq!(book.notes().unwrap(), []);
    assert_eq!(book.standing().unwrap().change, 7);
    book.pair(&PairedHub { device: Uuid::from_u128(77), ..hub() }).unwrap();
    assert_eq!(book.standing().unwrap(), Default::default());
    book.unpair().unwrap();
    assert_eq!(book.paired().unwrap(), None);
}

#[test]
fn only_its_owner_reads_it_and_one_that_is_damaged_is_put_aside() {
    let folder = tempfile::tempdir().unwrap();
    let ledger = folder.path().join("shop.db");
    let path = Delivery::place(&ledger).unwrap();
    let mut book = Delivery::open(&ledger).unwrap();
    book.pair(&hub()).unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        for file in std::fs::read_dir(folder.path()).unwrap().map(Result::unwrap) {
            assert_eq!(file.metadata().unwrap().permissions().mode() & 0o777, 0o600, "{:?}", file.path());
        }
    }
    drop(book);
    std::fs::write(
        &path,
        b"no database at all, and longer than a header of a hundred bytes would have to be to be looked at as one",
    )
    .unwrap();
    assert_eq!(Delivery::open(&ledger).unwrap().paired().unwrap(), None);
    assert!(folder.path().join("shop.db.shop.aside-1").exists());
}
