//! The technician of the early shift hands the half-measured coil to the one of the late shift.

use super::bench::*;
use crate::caution::Caution;
use crate::claim::{Contents, Handed, NotHanded, handed, named, pack, telling, wanted};
use crate::job::{Command, HandRefusal, Job, Refusal, RosterRefusal, Stage, Then};
use crate::meter::link::Source;
use crate::record::{Details, Event, HandedFault, Hash, KeptDetails, KeptPerson, Pin, Sealed, told_of};
use crate::session::{Input, NewPhoto, TakenOver};
use crate::sync::{Beside, BesideKind};
use crate::unit::Stamp;
use crate::work::StepRefusal;
use std::collections::BTreeMap;
use uuid::Uuid;

fn away(to: &str) -> Refusal {
    HandRefusal::Away { to: to.into() }.into()
}

/// A bench at which one conductor of a coil was read, with a photo of the job.
pub(crate) fn early() -> (Bench, Uuid) {
    let mut bench = Bench::of_device(21);
    let details =
        Details { customer: "Marlene Sturmvogel".into(), vin: "ZZZEVENW1RE000042".into(), ..Details::default() };
    bench.done(Command::NewJob { order: "4711".into(), vehicle: "Blue estate".into(), details });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    bench.done(Command::DescribePart { part: coil() });
    bench.connect(Source::Radio, None);
    bench.done(Command::DescribeMeter { spec: spec("bench meter 2") });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
    bench.clip(35);
    let job = bench.session.job().expect("a job").id;
    let photo = NewPhoto { job, step: None, width: 4, height: 3, jpeg: b"a picture of the plug".to_vec() };
    assert_eq!(bench.input(Input::Photo(photo)), None);
    bench.clip(35);
    (bench, job)
}

fn release(bench: &mut Bench, job: Uuid) {
    bench.done(Command::ReleaseJob { job, to: " the late shift ".into() });
}

/// The file a device writes of a job.
pub(crate) fn file(bench: &Bench, job: Uuid) -> Vec<u8> {
    let entries = bench.of_job(job);
    let device: Vec<Sealed> = bench.entries.iter().filter(|sealed| sealed.entry().job.is_none()).cloned().collect();
    let bytes = |one: Beside| match one.kind {
        BesideKind::Samples => {
            bench.chunks.values().find(|c| c.closed && c.hash == one.hash).map(|c| c.payload.clone())
        }
        BesideKind::Photo => bench.pictures.get(&one.hash).cloned(),
        BesideKind::Details => bench.details.get(&job).map(KeptDetails::to_bytes),
        BesideKind::Person => {
            bench.people.values().find(|kept| kept.commitment() == one.hash).map(KeptPerson::to_bytes)
        }
    };
    let contents = Contents {
        beside: wanted(&entries, &device, true).into_iter().filter_map(|one| Some((one, bytes(one)?))).collect(),
        heads: bench.heads.iter().filter(|head| head.job == Some(job)).map(|head| head.jws.clone()).collect(),
        device: telling(&entries, &device, true),
        papers: BTreeMap::new(),
        entries,
    };
    let made = Stamp::parse("2026-03-01T14:00:00Z").expect("a moment");
    pack(&contents, (bench.session.head().device, &bench.key()), &made).expect("it fits")
}

pub(crate) fn take(bench: &mut Bench, handed: Handed) -> Option<Refusal> {
    let (entries, details) = (bench.of_job(handed.job), bench.details.get(&handed.job).cloned());
    bench.now += 1;
    bench.input(Input::TakenOver(Box::new(TakenOver { handed, entries, details })))
}

/// From one bench to the other, by a file.
#[track_caller]
pub(crate) fn hand(from: &mut Bench, to: &mut Bench, job: Uuid) {
    release(from, job);
    let handed = handed(&file(from, job)).expect("a job that was handed over");
    assert_eq!(take(to, handed), None);
}

fn hashes(bench: &Bench, job: Uuid) -> Vec<Hash> {
    told_of(&bench.of_job(job)).into_iter().map(Sealed::hash).collect()
}

#[test]
fn all_that_was_measured_comes_along_and_goes_on_at_the_other_bench() {
    let (mut early, job) = early();
    let before = early.session.job().expect("a job").clone();
    let mut late = Bench::of_device(22);
    late.now = early.now + 500_000;
    hand(&mut early, &mut late, job);
    let there = late.session.job().expect("it lies on the bench").clone();
    assert_eq!((there.id, &there.order, &there.touches), (job, &before.order, &before.touches));
    assert_eq!((&there.part, &there.instrument, &there.photos), (&before.part, &before.instrument, &before.photos));
    assert_eq!((&there.opened, there.entries.len()), (&before.opened, before.entries.len() + 2));
    assert_eq!(late.session.details().customer, "Marlene Sturmvogel");
    // What its readings rest on is here, byte for byte, and once.
    let (chunks, photos) = named(&late.of_job(job));
    assert!(!chunks.is_empty() && photos.len() == 1);
    assert!(chunks.iter().all(|hash| late.chunks.values().filter(|chunk| chunk.hash == *hash).count() == 1));
    assert!(photos.iter().all(|hash| late.pictures.contains_key(hash)));
    // The beginning of one ledger's version is the whole of the other's.
    assert!(hashes(&late, job).starts_with(&hashes(&early, job)));
    // Cautions are read anew, and it is said anew which meter it is, before a clip goes on.
    assert_eq!(there.stage(), Stage::Start);
    late.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    assert_eq!(late.session.job().unwrap().stage(), Stage::Meter);
    late.connect(Source::Radio, None);
    assert_eq!(late.wish(Command::ZeroLeads), Some(Refusal::MeterFirst));
    late.done(Command::DescribeMeter { spec: spec("bench meter 2") });
    assert_eq!(late.session.job().unwrap().stage(), Stage::Caution);
    late.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
    while late.session.announced().is_some() {
        late.clip(35);
    }
    let whole = late.session.job().unwrap();
    assert_eq!(whole.touches.iter().filter(|kept| !kept.undone).count(), 6, "those of both");
    late.done(Command::Judge);
    late.done(Command::Finish);
    late.start_again();
    assert_eq!(late.session.job().unwrap().stage(), Stage::Done);
}

#[test]
fn another_meter_sets_aside_what_was_read_elsewhere() {
    let (mut early, job) = early();
    let mut late = Bench::of_device(22);
    hand(&mut early, &mut late, job);
    late.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    late.connect(Source::Radio, None);
    late.done(Command::DescribeMeter { spec: spec("bench meter 9") });
    let there = late.session.job().unwrap();
    assert!(!there.touches.is_empty() && there.touches.iter().all(|kept| kept.undone));
}

#[test]
fn what_was_handed_over_is_read_and_not_gone_on_with_until_it_is_taken_back() {
    let (mut early, job) = early();
    release(&mut early, job);
    assert_eq!(early.session.job().unwrap().stage(), Stage::HandedOver);
    let refused = away("the late shift");
    let details = Details::default();
    let correct = Command::CorrectJob { job, order: "4712".into(), vehicle: String::new(), details };
    let typed = Command::UseTypedMeter { spec: spec("another") };
    let again = Command::ReleaseJob { job, to: String::new() };
    let undo = Command::UndoTouch { touch: Uuid::nil() };
    for wish in [undo, Command::Judge, Command::ZeroLeads, Command::Finish, correct, typed, again] {
        assert_eq!(early.wish(wish.clone()), Some(refused.clone()), "{wish:?}");
    }
    let photo = NewPhoto { job, step: None, width: 1, height: 1, jpeg: b"too late".to_vec() };
    assert_eq!(early.input(Input::Photo(photo)), Some(refused.clone()));
    // Clips that touch something write nothing.
    let written = early.entries.len();
    early.clip(35);
    early.start_again();
    assert_eq!((early.entries.len(), early.session.job().unwrap().stage()), (written, Stage::HandedOver));
    early.done(Command::TakeJobBack { job });
    assert_eq!(early.wish(Command::TakeJobBack { job }), Some(HandRefusal::NotAway.into()));
    // Nobody knows what was done at the vehicle meanwhile: it is looked at before a clip goes on.
    let stage = |bench: &Bench| bench.session.job().unwrap().stage();
    assert_eq!(stage(&early), Stage::Start);
    early.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    assert_eq!(stage(&early), Stage::Caution);
    early.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
    assert_eq!(stage(&early), Stage::Measure);
    assert!(matches!(early.session.job().unwrap().hands.over[0].then, Then::TakenBack(_)));
}

#[test]
fn two_that_go_on_are_two_versions_and_none_takes_the_place_of_the_other() {
    let (mut early, job) = early();
    let mut late = Bench::of_device(22);
    hand(&mut early, &mut late, job);
    early.done(Command::TakeJobBack { job });
    let (one, other) = (hashes(&early, job), hashes(&late, job));
    assert!(!one.starts_with(&other) && !other.starts_with(&one));
    release(&mut late, job);
    let came = handed(&file(&late, job)).expect("handed over");
    assert_eq!(take(&mut early, came), Some(HandRefusal::Parted.into()));
    assert_eq!(hashes(&early, job), one);
}

#[test]
fn a_file_that_comes_twice_changes_nothing_and_one_too_early_is_none() {
    let (mut early, job) = early();
    assert_eq!(handed(&file(&early, job)), Err(HandedFault::NotReleased.into()));
    release(&mut early, job);
    let bytes = file(&early, job);
    let mut late = Bench::of_device(22);
    late.done(new_job("another"));
    assert_eq!(take(&mut late, handed(&bytes).unwrap()), Some(Refusal::BenchTaken));
    late.done(Command::LeaveJob);
    assert_eq!(take(&mut late, handed(&bytes).unwrap()), None);
    let written = late.entries.len();
    assert_eq!(take(&mut late, handed(&bytes).unwrap()), Some(HandRefusal::Here.into()));
    assert_eq!(
        take(&mut early, handed(&bytes).unwrap()),
        Some(HandRefusal::Here.into()),
        "that is what take back is for"
    );
    assert_eq!(late.entries.len(), written);
    early.done(Command::TakeJobBack { job });
    assert_eq!(handed(&file(&early, job)), Err(HandedFault::NotReleased.into()));
}

#[test]
fn from_hand_to_hand_and_back_nothing_is_carried_twice() {
    let (mut first, job) = early();
    let mut second = Bench::of_device(22);
    let mut third = Bench::of_device(23);
    hand(&mut first, &mut second, job);
    second.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    hand(&mut second, &mut third, job);
    hand(&mut third, &mut first, job);
    let all = first.of_job(job);
    // No entry carries one that carries another, and none of its own came back to it.
    let own = first.session.head().device;
    for sealed in all.iter().filter(|sealed| sealed.entry().kind == "carried") {
        assert_ne!(sealed.told().entry().kind, "carried");
        assert_ne!(sealed.told().entry().device, own);
    }
    let told = hashes(&first, job);
    assert_eq!(told.len(), all.len());
    assert!(told.starts_with(&hashes(&second, job)) && told.starts_with(&hashes(&third, job)));
    let there = first.session.job().unwrap();
    assert_eq!(there.hands.over.len(), 3);
    assert!(there.hands.over.iter().all(|over| matches!(over.then, Then::Claimed { .. })));
    // Everybody who had it vouches for it, and still does when it goes on.
    let mut fourth = Bench::of_device(24);
    hand(&mut first, &mut fourth, job);
    assert_eq!(Job::from_entries(&fourth.of_job(job)).unwrap().hands.over.len(), 4);
}

#[test]
fn details_that_were_erased_while_it_was_away_do_not_come_back() {
    let (mut first, job) = early();
    let mut second = Bench::of_device(22);
    hand(&mut first, &mut second, job);
    first.done(Command::LeaveJob);
    let erasing = crate::session::Erasing::OpenedBefore(crate::unit::Day::parse("2026-04-01").unwrap());
    let lines = first.lines.values().cloned().collect();
    assert_eq!(first.input(Input::Collected(erasing, lines)), None);
    first.pictures.clear();
    // It says so for itself: the job is still one.
    assert!(hashes(&second, job).starts_with(&hashes(&first, job)));
    hand(&mut second, &mut first, job);
    assert_eq!(first.session.details().customer, "");
    assert!(!first.details.contains_key(&job) && first.pictures.is_empty());
    let mut third = Bench::of_device(23);
    hand(&mut first, &mut third, job);
    assert!(third.session.job().unwrap().erased.is_none(), "each device says that for itself");
}

#[test]
fn a_file_with_any_byte_changed_is_refused_and_names_what_is_wrong() {
    let (mut early, job) = early();
    release(&mut early, job);
    let bytes = file(&early, job);
    for at in (0..bytes.len()).step_by(97) {
        let mut changed = bytes.clone();
        changed[at] ^= 1;
        let Err(NotHanded::File(fault)) = handed(&changed) else { panic!("byte {at}") };
        assert!(!fault.to_string().is_empty());
    }
    for length in (0..bytes.len()).step_by(211) {
        assert!(handed(&bytes[..length]).is_err(), "{length} bytes");
    }
}

/// Whoever did it elsewhere is known by name here, and cannot sign: not under that name, and not under another id.
#[test]
fn names_come_along_and_nobody_who_did_it_signs_second() {
    let mut early = Bench::of_device(21);
    let add = |bench: &mut Bench, name: &str| {
        let (name, pin) = (name.to_owned(), Pin::typed("4711"));
        bench.done(Command::AddPerson { name: name.clone(), pin, role: String::new() });
        bench.session.roster().active().find(|(_, member)| member.details.name == name).expect("added").0
    };
    let jakob = add(&mut early, "Jakob Specht");
    add(&mut early, "Nobody Named");
    early.done(new_job("4711"));
    let job = early.session.job().unwrap().id;
    let pin = Some(Pin::typed("4711"));
    let procedure = "orrin-3-steering-coil".to_owned();
    early.done(Command::BeginProcedure { procedure, technician: Some(jakob), pin });
    let mut late = Bench::of_device(22);
    let again = add(&mut late, "jakob specht");
    let lena = add(&mut late, "Lena Star");
    hand(&mut early, &mut late, job);
    assert_eq!(late.session.roster().name(jakob), Some("Jakob Specht"));
    assert_eq!(late.people.len(), 3, "two of this roster, and the one who is named in the job");
    assert_eq!(late.session.roster().active().count(), 2);
    let named = |person| Command::NameTechnician { job, person, pin: Pin::typed("4711") };
    assert_eq!(late.wish(named(jakob)), Some(RosterRefusal::Removed.into()));
    late.done(named(lena));
    assert_eq!(late.session.may_be_second(again), Err(StepRefusal::OwnSecond));
    late.start_again();
    assert_eq!(late.session.roster().name(jakob), Some("Jakob Specht"), "it is kept");
    assert_eq!(late.session.may_be_second(again), Err(StepRefusal::OwnSecond));
    // A file without names: nobody can tell who is who.
    let mut apart = Bench::of_device(24);
    let (also, other) = (add(&mut apart, "Jakob Specht"), add(&mut apart, "Lena Star"));
    let mut nameless = handed(&file(&early, job)).unwrap();
    nameless.people.clear();
    assert_eq!(take(&mut apart, nameless), None);
    apart.done(Command::NameTechnician { job, person: other, pin: Pin::typed("4711") });
    assert_eq!(apart.session.may_be_second(also), Err(StepRefusal::DoerNameless));
    // And further on, with everybody's name.
    let mut third = Bench::of_device(23);
    hand(&mut late, &mut third, job);
    let name = |person| third.session.roster().name(person).map(str::to_owned);
    assert_eq!((name(jakob).as_deref(), name(lena).as_deref()), (Some("Jakob Specht"), Some("Lena Star")));
    // Back where he is at home he is who he was, PIN and all.
    hand(&mut third, &mut early, job);
    early.done(named(jakob));
}

#[test]
fn a_device_without_a_key_hands_nothing_over() {
    let mut bench = Bench::measuring();
    let job = bench.session.job().unwrap().id;
    assert_eq!(bench.wish(Command::ReleaseJob { job, to: String::new() }), Some(HandRefusal::NoKey.into()));
    let mut bench = early().0;
    let job = bench.session.job().unwrap().id;
    let long = Command::ReleaseJob { job, to: "x".repeat(61) };
    assert_eq!(bench.wish(long), Some(Refusal::TooLong { field: "to".into() }));
    assert!(matches!(bench.entries.last().unwrap().event(), Some(Event::TouchTaken(_))));
}
