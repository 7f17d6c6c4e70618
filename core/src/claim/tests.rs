//! A claim of one job out of a ledger in which two were worked on, and what becomes of it in other hands.

use super::*;
use crate::caution::Caution;
use crate::meter::Shown;
use crate::record::{
    Clock, Details, Draft, Gathering, Head, KeptDetails, KeptPerson, PersonDetails, PhotoFact, PinHash, Sample,
    SignedHead, SignedJob, TouchFact,
};
use crate::settle::{Touch, TouchKind};
use crate::unit::{Millis, Quantity, Unit};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::sync::OnceLock;

const JOB: Uuid = Uuid::from_u128(7);
const OTHER: Uuid = Uuid::from_u128(8);
const DEVICE: Uuid = Uuid::from_u128(1);
/// Flips of the long run over a whole claim.
const FLIPS: u32 = 12_000;

fn key() -> DeviceKey {
    DeviceKey::from_seed([3; 32])
}

fn wall() -> Stamp {
    Stamp::parse("2026-03-01T10:42:00+01:00").unwrap()
}

/// A ledger in the making.
struct Ledger {
    head: Head,
    entries: Vec<Sealed>,
}

impl Ledger {
    fn say(&mut self, job: Option<Uuid>, event: &Event) {
        let (kind, body) = event.parts();
        let sequence = self.head.sequence + 1;
        let draft = Draft {
            id: Uuid::from_u128(u128::from(sequence)),
            job,
            kind,
            version: Event::VERSION,
            elapsed_ms: Millis(1_000 * sequence),
            wall: wall(),
            clock: Clock::Ok,
            body,
        };
        self.entries.push(self.head.seal(Uuid::from_u128(2), draft));
    }

    fn of(&self, job: Option<Uuid>) -> Vec<Sealed> {
        self.entries.iter().filter(|sealed| sealed.entry().job == job).cloned().collect()
    }

    fn signed(&self) -> String {
        let job = SignedJob::of(JOB, self.of(Some(JOB)).iter().map(Sealed::hash));
        let Head { device, sequence, hash } = self.head.clone();
        SignedHead { device, sequence, hash, job: Some(job) }.sign(&key())
    }
}

/// Horn is dead, one conductor read, a photo, closed; between that, another vehicle.
fn contents() -> Contents {
    let mut ledger = Ledger { head: Head::empty(DEVICE), entries: Vec::new() };
    let kept = KeptDetails::new(
        JOB,
        [9; 32],
        &Details { customer: "Marlene Sturmvogel".into(), vin: "ZZZEVENW1RE000042".into(), ..Details::default() },
    );
    let named = PersonDetails { name: "Ottokar Klemm".into(), role: String::new() };
    let person = KeptPerson::new(Uuid::from_u128(20), [4; 32], &named, PinHash::default());
    let photo = b"not a picture, but the bytes of one".to_vec();
    let ohm = |digits| Quantity::new(digits, 2, Unit::Ohm).unwrap();
    let mut gathering = Gathering::new(Uuid::from_u128(30), Some(JOB), Uuid::from_u128(2), 1);
    for at in 0..40 {
        let shown = vec![Shown::Value(ohm(35))];
        gathering.push(Sample { at: Millis(2_000 + 100 * at), raw: vec![1, 35], shown });
    }
    let chunk = gathering.chunk(Millis(6_000), true);
    let taken = Touch {
        kind: TouchKind::Settled,
        digits: vec![35; 10],
        places: 2,
        step: ohm(1),
        from_ms: Millis(4_000),
        to_ms: Millis(5_000),
        relative: false,
        auto_range: None,
    };
    let opened =
        |order: &str, personal| Event::JobOpened { order: order.into(), vehicle: "hatchback".into(), personal };
    let named = |kind, hash| Beside { kind, hash, job: Some(JOB) };
    ledger.say(None, &Event::DeviceKeyed { key: key().public() });
    ledger.say(None, &Event::PersonAdded { person: person.person, personal: person.commitment() });
    ledger.say(Some(JOB), &opened("1042", kept.commitment()));
    ledger.say(Some(JOB), &Event::CautionAccepted { caution: Caution::C0 });
    let fact = TouchFact { touch: Uuid::from_u128(40), conductor: 0, taken, chunks: vec![chunk.hash] };
    ledger.say(Some(JOB), &Event::TouchTaken(fact));
    ledger.say(Some(OTHER), &opened("1043", Hash::of(b"somebody else")));
    let (width, height) = (640, 480);
    let kept_photo = PhotoFact { photo: Hash::of(&photo), step: None, width, height, bytes: photo.len() as u32 };
    ledger.say(Some(JOB), &Event::PhotoTaken(kept_photo));
    ledger.say(Some(JOB), &Event::JobFinished {});
    Contents {
        heads: vec![ledger.signed()],
        entries: ledger.of(Some(JOB)),
        device: ledger.of(None),
        beside: vec![
            (named(BesideKind::Details, kept.commitment()), kept.to_bytes()),
            (Beside { job: None, ..named(BesideKind::Person, person.commitment()) }, person.to_bytes()),
            (named(BesideKind::Samples, chunk.hash), chunk.payload),
            (named(BesideKind::Photo, Hash::of(&photo)), photo),
        ],
        papers: [("report.pdf".to_owned(), b"%PDF-1.7 and the rest".to_vec())].into(),
    }
}

fn packed() -> &'static [u8] {
    static MADE: OnceLock<Vec<u8>> = OnceLock::new();
    MADE.get_or_init(|| pack(&contents(), (DEVICE, &key()), &wall()).expect("it packs"))
}

/// The claim packed anew after somebody had a hand in it, its sums and lengths right again.
fn tampered(change: impl FnOnce(&mut BTreeMap<String, Vec<u8>>)) -> Result<Proved, ClaimFault> {
    let whole = Parcel::read(packed()).expect("whole");
    let mut files = whole.files().map(|(name, bytes)| (name.to_owned(), bytes.to_vec())).collect();
    change(&mut files);
    let mut parcel = Parcel::default();
    files.into_iter().for_each(|(name, bytes)| parcel.put(&name, bytes).expect("fits"));
    verify(&parcel.to_bytes())
}

/// As [`tampered`], by somebody who also writes the manifest anew and signs it with a key of their own.
fn forged(change: impl FnOnce(&mut BTreeMap<String, Vec<u8>>)) -> Result<Proved, ClaimFault> {
    let forger = DeviceKey::from_seed([66; 32]);
    tampered(|files| {
        change(files);
        let mut manifest: Manifest = serde_json::from_slice(&files[MANIFEST]).expect("it is one");
        let listed = files.iter().filter(|(name, _)| ![MANIFEST, SIGNATURE].contains(&name.as_str()));
        manifest.files = listed.map(|(name, bytes)| (name.clone(), Hash::of(bytes))).collect();
        manifest.key = forger.public();
        let manifest = serde_json::to_vec_pretty(&manifest).expect("text keys");
        let signed = serde_json::to_vec(&Signed { manifest: Hash::of(&manifest) }).expect("a text");
        files.insert(MANIFEST.into(), manifest);
        files.insert(SIGNATURE.into(), forger.sign(SIGNED_AS, &signed).into_bytes());
    })
}

fn edit(files: &mut BTreeMap<String, Vec<u8>>, name: &str, from: &str, to: &str) {
    let bytes = files.get_mut(name).unwrap_or_else(|| panic!("{name} is there"));
    let text = String::from_utf8(bytes.clone()).expect("a text");
    assert!(text.contains(from), "{text}");
    *bytes = text.replace(from, to).into_bytes();
}

#[test]
fn a_claim_proves_itself_and_tells_whose_key_signed() {
    let proved = verify(packed()).expect("unchanged");
    assert_eq!((proved.job, proved.device, proved.key), (JOB, DEVICE, key().public()));
    assert_eq!((proved.entries, proved.heads, proved.sealed, proved.unknown), (5, 1, 5, 0));
    assert!(proved.details && proved.missing.is_empty(), "{:?}", proved.missing);
    assert_eq!(pack(&contents(), (DEVICE, &key()), &wall()).unwrap(), packed(), "the same contents, the same bytes");
}

/// Every position and every other value of it is equally likely; each flip is one byte of the whole file.
#[test]
fn no_byte_can_be_another_one_without_being_seen() {
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut runner = TestRunner::new_with_rng(Config { cases: FLIPS, ..Config::default() }, rng);
    let one = (0..packed().len(), 1u8..);
    let tried = runner.run(&one, |(at, flip)| {
        let mut bytes = packed().to_vec();
        bytes[at] ^= flip;
        prop_assert!(verify(&bytes).is_err(), "byte {}", at);
        Ok(())
    });
    tried.expect("every one was found");
}

#[test]
fn what_is_cut_off_or_added_is_seen() {
    for length in 0..packed().len() {
        assert!(verify(&packed()[..length]).is_err(), "{length} bytes");
    }
    assert!(verify(&[packed(), b"x"].concat()).is_err());
}

#[test]
fn who_packs_it_anew_is_found_by_the_signature_and_the_file_is_named() {
    let touch = "entries/000000000005.json";
    assert_eq!(tampered(|f| edit(f, touch, "35", "36")), Err(ClaimFault::Changed(touch.into())));
    let changed = tampered(|f| drop(f.insert("report.pdf".into(), b"%PDF another".to_vec())));
    assert_eq!(changed, Err(ClaimFault::Changed("report.pdf".into())));
    assert_eq!(tampered(|f| drop(f.remove(touch))), Err(ClaimFault::Gone(touch.into())));
    let added = tampered(|f| drop(f.insert("photos/more.jpg".into(), Vec::new())));
    assert_eq!(added, Err(ClaimFault::Added("photos/more.jpg".into())));
    let manifest = tampered(|f| edit(f, MANIFEST, "2026-03-01", "2026-02-01"));
    assert_eq!(manifest, Err(ClaimFault::Changed(MANIFEST.into())));
    assert!(matches!(tampered(|f| drop(f.remove(MANIFEST))), Err(ClaimFault::Manifest(_))));
    assert!(matches!(tampered(|f| drop(f.remove(SIGNATURE))), Err(ClaimFault::Signature(_))));
    let newer = tampered(|f| edit(f, MANIFEST, "\"evenwire_claim\": 1", "\"evenwire_claim\": 2"));
    assert_eq!(newer, Err(ClaimFault::Newer(2)));
}

/// A key of one's own signs anything; what it cannot do is to be the key of the shop, or to fit the entries to what
/// the device signed before.
#[test]
fn who_signs_it_anew_is_found_by_the_key_by_the_chain_or_by_the_heads() {
    let plain = forged(|_| {}).expect("nothing was changed but the signature");
    assert_ne!(plain.key, key().public());
    let last = "entries/000000000008.json";
    let entry = |file: &str, why: &str| Err(ClaimFault::Entry { file: file.into(), why: why.into() });
    let chain = forged(|f| edit(f, "entries/000000000004.json", "\"caution\":\"C0\"", "\"caution\":\"C1\""));
    assert_eq!(chain, entry("entries/000000000005.json", "it does not follow from the one before it"));
    // The newest entry has none after it: the head given at the closing tells.
    let head = forged(|f| edit(f, last, "10:42:00", "09:42:00"));
    assert!(matches!(head, Err(ClaimFault::Head { .. })), "{head:?}");
    // Before an entry of another job nothing here names it: the hash over the whole job tells.
    let touch = forged(|f| edit(f, "entries/000000000005.json", "[35,", "[36,"));
    assert!(matches!(touch, Err(ClaimFault::Head { ref why, .. }) if why.contains("not those")), "{touch:?}");
    let dropped = forged(|f| drop(f.remove("entries/000000000007.json")));
    assert!(matches!(dropped, Err(ClaimFault::Head { .. })), "{dropped:?}");
    assert_eq!(forged(|f| edit(f, last, "\"sequence\":8", "\"sequence\":9")), entry(last, "it has another number"));
    let personal = forged(|f| edit(f, DETAILS, "Sturmvogel", "Sturmvoegel"));
    assert_eq!(personal, Err(ClaimFault::Foreign(DETAILS.into())));
    let person = format!("people/{}.json", Uuid::from_u128(20));
    assert_eq!(forged(|f| edit(f, &person, "Ottokar", "Ottokarl")), Err(ClaimFault::Foreign(person)));
    let photo = forged(|f| f.iter_mut().filter(|(n, _)| n.starts_with("photos/")).for_each(|(_, b)| b.push(0)));
    assert!(matches!(photo, Err(ClaimFault::Foreign(_))), "{photo:?}");
}

#[test]
fn what_was_erased_is_told_to_be_missing_and_the_rest_still_proves() {
    let mut contents = contents();
    contents.beside.retain(|(beside, _)| ![BesideKind::Details, BesideKind::Photo].contains(&beside.kind));
    let proved = verify(&pack(&contents, (DEVICE, &key()), &wall()).unwrap()).expect("unchanged");
    assert!(!proved.details && proved.missing.len() == 1 && proved.missing[0].starts_with("photos/"));
    contents.entries.pop();
    assert!(verify(&pack(&contents, (DEVICE, &key()), &wall()).unwrap()).is_err(), "the head covers an entry more");
    contents.heads.clear();
    assert_eq!(verify(&pack(&contents, (DEVICE, &key()), &wall()).unwrap()).map(|p| (p.heads, p.sealed)), Ok((0, 0)));
}

#[test]
fn entries_of_other_jobs_are_not_packed() {
    let mut contents = contents();
    contents.entries.extend(contents.device.clone());
    let refused = pack(&contents, (DEVICE, &key()), &wall());
    assert!(matches!(refused, Err(NoClaim::OtherJob(_))), "{refused:?}");
    contents.entries.clear();
    assert_eq!(pack(&contents, (DEVICE, &key()), &wall()), Err(NoClaim::Empty));
}

/// As the shop's hub packs what a device brought: with a key and a name of its own.
fn packed_by_hub() -> Vec<u8> {
    pack(&contents(), (Uuid::from_u128(99), &DeviceKey::from_seed([77; 32])), &wall()).expect("it packs")
}

#[test]
fn a_hub_puts_a_file_together_and_the_device_still_vouches_for_what_it_signed() {
    let proved = verify(&packed_by_hub()).expect("nothing was changed");
    assert!(!proved.made_by_device);
    assert_eq!(proved.key, DeviceKey::from_seed([77; 32]).public());
    assert_eq!(proved.signers, BTreeMap::from([(key().public(), 5)]));
    assert_eq!((proved.entries, proved.sealed), (5, 5));
    let of_device = verify(packed()).expect("nothing was changed");
    assert!(of_device.made_by_device);
    assert_eq!(of_device.signers, proved.signers);
}

#[test]
fn a_hub_cannot_sign_for_a_device() {
    let hub = DeviceKey::from_seed([77; 32]);
    let mut contents = contents();
    let head = SignedHead::verify(&key().public(), &contents.heads[0]).unwrap();
    contents.heads = vec![head.sign(&hub)];
    let bytes = pack(&contents, (Uuid::from_u128(99), &hub), &wall()).unwrap();
    let fault = verify(&bytes).expect_err("the head says it is of a device whose key did not sign it");
    assert!(matches!(&fault, ClaimFault::Head { why, .. } if why.contains("no key that is known")), "{fault}");
}

#[test]
fn what_is_erased_or_left_out_does_not_go_along() {
    let whole = contents();
    let kinds = |personal, entries: &[Sealed]| -> Vec<BesideKind> {
        wanted(entries, &whole.device, personal).into_iter().map(|beside| beside.kind).collect()
    };
    let all = [BesideKind::Photo, BesideKind::Samples, BesideKind::Details, BesideKind::Person];
    assert_eq!(kinds(true, &whole.entries), all[..3], "nobody signed anything");
    assert_eq!(kinds(false, &whole.entries), [BesideKind::Samples]);
    let last = whole.entries.last().unwrap().entry();
    let mut ledger =
        Ledger { head: Head { device: DEVICE, sequence: last.sequence, hash: Hash::of(b"") }, entries: vec![] };
    ledger.say(Some(JOB), &Event::TechnicianNamed { person: Uuid::from_u128(20) });
    let named = [whole.entries.clone(), ledger.entries.clone()].concat();
    assert_eq!(kinds(true, &named), all);
    assert_eq!(telling(&named, &whole.device, true), whole.device);
    assert_eq!(telling(&named, &whole.device, false), whole.device[..1]);
    ledger.say(Some(JOB), &Event::DetailsErased {});
    let erased = [whole.entries.clone(), ledger.entries].concat();
    assert_eq!(kinds(true, &erased), [BesideKind::Samples, BesideKind::Person]);
}

#[test]
fn bytes_that_are_not_what_entries_name_are_not_packed() {
    let mut contents = contents();
    contents.beside[3].1.push(0);
    let refused = pack(&contents, (DEVICE, &key()), &wall());
    assert_eq!(refused, Err(NoClaim::Foreign(contents.beside[3].0.hash)));
}
