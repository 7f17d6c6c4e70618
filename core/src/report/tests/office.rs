//! What somebody signed at the office comes to the device that has the job, which holds it against the job as it is there.

use crate::claim::{handed, verify};
use crate::job::{Command, Job, OpenItem};
use crate::record::{
    Event, Hash, KeptPerson, NotSigned, OfficeSigned, PersonDetails, PinHash, Sealed, SignedHead, SignedJob,
};
use crate::report::{Asked, Report, people_named, unsigned};
use crate::session::tests::bench::{Bench, new_job};
use crate::session::tests::handed::{file, hand, take};
use crate::session::{FromOffice, Input};
use crate::sync::{Beside, BesideChange, BesideKind, Countersigned, changes_by};
use crate::unit::Stamp;
use crate::verdict::words::Language;
use crate::view::tests::people::{add, begin, identify, own_file, pin, seen, step, waiting};
use crate::work::{Second, StepAct, StepRefusal};
use std::collections::BTreeMap;
use uuid::Uuid;

/// Whoever signs, as the hub knows them.
const INES: Uuid = Uuid::from_u128(0xf1);

fn job_of(bench: &Bench) -> Uuid {
    bench.session.job().expect("a job").id
}

/// What somebody called `name` signs now under the first step, as the hub sends it that has all entries of the job.
fn given(bench: &Bench, job: Uuid, (signature, name): (u128, &str)) -> Countersigned {
    let there = Job::from_entries(&bench.of_job(job)).expect("a job");
    let doing = there.work.as_ref().and_then(|work| work.state("identify")).map_or(1, |state| state.doing);
    let details = PersonDetails { name: name.into(), role: String::new() };
    let kept = KeptPerson::new(INES, [7; 32], &details, PinHash::default());
    let signed = OfficeSigned {
        signature: Uuid::from_u128(signature),
        step: "identify".into(),
        doing,
        seen: SignedJob::of(job, there.entries.iter().copied()),
        person: INES,
        personal: kept.commitment(),
        at: Stamp::parse("2026-03-02T08:15:00Z").expect("a moment"),
    };
    Countersigned { signed, salt: Hash([7; 32]), text: kept.text }
}

/// It comes to the bench, as the desk hands it in.
fn comes(bench: &mut Bench, given: &Countersigned) {
    let job = given.signed.seen.id;
    let (entries, details) = (bench.of_job(job), bench.details.get(&job).cloned());
    bench.now += 1;
    let from = FromOffice { given: given.clone(), entries, details };
    assert_eq!(bench.input(Input::SignedAtOffice(Box::new(from))), None, "the office is answered in the ledger alone");
}

fn count(bench: &Bench, kind: &str) -> usize {
    bench.entries.iter().filter(|sealed| sealed.entry().kind == kind).count()
}

/// Why the newest signature was not taken.
fn not_taken(bench: &Bench) -> Option<NotSigned> {
    bench.entries.iter().rev().find_map(|sealed| match sealed.entry().event()? {
        Event::SignatureNotTaken { why, .. } => Some(why),
        _ => None,
    })
}

fn second(bench: &Bench, job: Uuid) -> Option<Second> {
    Job::from_entries(&bench.of_job(job))?.work?.state("identify")?.second
}

fn names(bench: &Bench, entries: &[Sealed]) -> BTreeMap<Uuid, String> {
    let all: Vec<Sealed> = bench.entries.iter().filter(|it| it.entry().job.is_none()).chain(entries).cloned().collect();
    people_named(&all, |person, commitment| Some(bench.people.get(&person)?.opened(commitment)?.name))
}

fn printed(bench: &Bench, job: Uuid, language: Language) -> String {
    let entries = bench.of_job(job);
    let people = names(bench, &entries);
    let asked = asked(&people, language);
    serde_json::to_string(&Report::of(&entries, &asked).expect("a job")).expect("text keys")
}

fn asked(people: &BTreeMap<Uuid, String>, language: Language) -> Asked<'_> {
    const NONE: &BTreeMap<Uuid, Vec<crate::record::Sample>> = &BTreeMap::new();
    let printed = Stamp::parse("2026-03-02T09:00:00Z").expect("a moment");
    Asked { language, zone: None, printed, details: None, earlier: &[], people, samples: NONE, place: None }
}

#[test]
fn it_stands_with_the_name_and_the_place_it_was_given_at() {
    let (mut bench, _) = waiting();
    let job = job_of(&bench);
    let sign = given(&bench, job, (1, "Ines Falk"));
    comes(&mut bench, &sign);
    assert_eq!(second(&bench, job), Some(Second { person: INES, at_office: true }));
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert_eq!(work.steps[0].second, "Signed second by Ines Falk at the office.");
    assert!(work.waiting.is_empty());
    assert!(!bench.lines[&job].open.contains(&OpenItem::Signature));
    bench.done(Command::Speak { language: Language::De });
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert_eq!(work.steps[0].second, "Im Büro gegengezeichnet: Ines Falk.");
    for (language, line) in [
        (Language::En, "Second signature, at the office, Identify the vehicle: Ines Falk, 2026-03-02 08:15."),
        (Language::De, "Zweite Unterschrift, im Büro, "),
    ] {
        let told = printed(&bench, job, language);
        assert!(told.contains(line), "{told}");
    }
    assert!(printed(&bench, job, Language::De).contains("Im Büro gegengezeichnet: Ines Falk."));
    assert_eq!(bench.session.roster().active().count(), 3, "who signs at the office has no PIN here");
    bench.start_again();
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert_eq!(work.steps[0].second, "Im Büro gegengezeichnet: Ines Falk.", "the name is kept");
}

#[test]
fn however_often_it_comes_it_is_taken_once_and_never_for_something_else() {
    let (mut bench, _) = waiting();
    let job = job_of(&bench);
    let sign = given(&bench, job, (1, "Ines Falk"));
    for _ in 0..3 {
        comes(&mut bench, &sign);
    }
    assert_eq!((count(&bench, "step-signed-at-office"), count(&bench, "signature-not-taken")), (1, 0));
    let act = StepAct::Again { reason: "wrong vehicle".into() };
    bench.done(Command::AtStep { job, step: "identify".into(), act });
    identify(&mut bench);
    comes(&mut bench, &sign);
    assert_eq!((second(&bench, job), count(&bench, "step-signed-at-office")), (None, 1), "it was for the time before");
    let anew = given(&bench, job, (2, "Ines Falk"));
    comes(&mut bench, &anew);
    assert!(second(&bench, job).is_some());
    assert_eq!(bench.people.len(), 4, "one row for one person");
}

#[test]
fn a_job_that_does_not_lie_on_the_bench_is_signed_and_whoever_works_is_not_disturbed() {
    let (mut bench, _) = waiting();
    let job = job_of(&bench);
    let sign = given(&bench, job, (1, "Ines Falk"));
    bench.done(Command::LeaveJob);
    bench.done(new_job("4712"));
    bench.done(begin(None));
    let at_work = bench.session.job().cloned();
    comes(&mut bench, &sign);
    assert_eq!(bench.session.job(), at_work.as_ref(), "what lies on the bench is as it was");
    assert!(second(&bench, job).is_some() && !bench.lines[&job].open.contains(&OpenItem::Signature));
    comes(&mut bench, &sign);
    assert_eq!(count(&bench, "step-signed-at-office"), 1);
    // Somebody worked at another vehicle meanwhile: that the office signed does not hide it.
    bench.done(Command::OpenJob { job });
    assert!(matches!(bench.entries.last().unwrap().event(), Some(Event::TakenUpAfterAnother { .. })));
    assert_eq!(seen(&bench).bench.unwrap().work.unwrap().steps[0].second, "Signed second by Ines Falk at the office.");
}

#[test]
fn what_is_refused_is_answered_once_and_for_good() {
    let (mut bench, [jakob, ..]) = waiting();
    let job = job_of(&bench);
    let early = given(&bench, job, (1, "Ines Falk"));
    let act = StepAct::Again { reason: "wrong vehicle".into() };
    bench.done(Command::AtStep { job, step: "identify".into(), act });
    comes(&mut bench, &early);
    assert_eq!(not_taken(&bench), Some(NotSigned::NothingToSign), "it is to be done again");
    identify(&mut bench);
    let mut late = early.clone();
    late.signed.signature = Uuid::from_u128(2);
    comes(&mut bench, &late);
    assert_eq!(not_taken(&bench), Some(NotSigned::DoneAgain));
    let own = given(&bench, job, (3, " jakob  SPECHT"));
    comes(&mut bench, &own);
    assert_eq!(not_taken(&bench), Some(NotSigned::OwnSecond), "by name");
    let mut own = given(&bench, job, (4, "Somebody Else"));
    own.signed.person = jakob;
    comes(&mut bench, &own);
    assert_eq!(not_taken(&bench), Some(NotSigned::OwnSecond), "by id");
    let mut forged = given(&bench, job, (5, "Ines Falk"));
    forged.text = forged.text.replace("Ines", "Anne");
    comes(&mut bench, &forged);
    assert_eq!(not_taken(&bench), Some(NotSigned::OtherVersion), "not the name that was committed to");
    let mut other = given(&bench, job, (6, "Ines Falk"));
    other.signed.seen.hash = Hash::of(b"another ledger");
    comes(&mut bench, &other);
    assert_eq!(not_taken(&bench), Some(NotSigned::OtherVersion));
    let mut nowhere = given(&bench, job, (7, "Ines Falk"));
    nowhere.signed.seen.id = Uuid::from_u128(99);
    comes(&mut bench, &nowhere);
    assert_eq!(not_taken(&bench), Some(NotSigned::NotHere));
    assert_eq!((second(&bench, job), count(&bench, "signature-not-taken")), (None, 7));
    // The office was told; after a start, too, and whether or not it would be taken by now.
    bench.start_again();
    for again in [&early, &late, &other, &nowhere] {
        comes(&mut bench, again);
    }
    other.signed.seen = given(&bench, job, (6, "Ines Falk")).signed.seen;
    comes(&mut bench, &other);
    assert_eq!((second(&bench, job), count(&bench, "signature-not-taken")), (None, 7));
}

#[test]
fn while_nobody_knows_who_did_it_the_office_does_not_sign() {
    let mut bench = Bench::new();
    bench.done(Command::KeepProcedure { text: own_file() });
    bench.done(new_job("4711"));
    bench.done(begin(None));
    identify(&mut bench);
    let job = job_of(&bench);
    let sign = given(&bench, job, (1, "Ines Falk"));
    comes(&mut bench, &sign);
    assert_eq!((not_taken(&bench), second(&bench, job)), (Some(NotSigned::DoerUnknown), None));
}

#[test]
fn nobody_of_the_roster_is_signed_for_or_written_over_by_what_the_office_sends() {
    let (mut bench, [_, ruth, ..]) = waiting();
    let job = job_of(&bench);
    let there = bench.people[&ruth].clone();
    let mut sign = given(&bench, job, (1, "Ines Falk"));
    sign.signed.person = ruth;
    comes(&mut bench, &sign);
    assert_eq!((not_taken(&bench), second(&bench, job)), (Some(NotSigned::OtherVersion), None));
    assert_eq!(bench.people[&ruth], there, "her PIN and her name are as they were");
}

#[test]
fn while_the_name_of_a_second_person_is_not_known_nobody_is_named_who_does_it() {
    let (mut bench, _) = waiting();
    let lena = add(&mut bench, "Lena Sommer", "3333");
    let job = job_of(&bench);
    let sign = given(&bench, job, (1, "Ines Falk"));
    comes(&mut bench, &sign);
    bench.people.remove(&INES);
    bench.start_again();
    let named = Command::NameTechnician { job, person: lena, pin: pin("3333") };
    assert_eq!(bench.wish(named), step(StepRefusal::DoerNameless));
}

#[test]
fn whoever_signed_at_the_office_does_not_become_whoever_does_it() {
    let (mut bench, _) = waiting();
    let ines = add(&mut bench, "ines falk", "2222");
    let job = job_of(&bench);
    let sign = given(&bench, job, (1, "Ines Falk"));
    comes(&mut bench, &sign);
    let named = Command::NameTechnician { job, person: ines, pin: pin("2222") };
    assert_eq!(bench.wish(named.clone()), step(StepRefusal::OwnSecond));
    let act = StepAct::Again { reason: "she does it now".into() };
    bench.done(Command::AtStep { job, step: "identify".into(), act });
    bench.done(named);
    identify(&mut bench);
    let sign = given(&bench, job, (2, "Ines Falk"));
    comes(&mut bench, &sign);
    assert_eq!((not_taken(&bench), second(&bench, job)), (Some(NotSigned::OwnSecond), None));
}

/// The bench of a device with a key, at which the first step waits.
fn with_a_key(device: u8) -> (Bench, Uuid) {
    let mut bench = Bench::of_device(device);
    let jakob = add(&mut bench, "Jakob Specht", "4711");
    bench.done(Command::KeepProcedure { text: own_file() });
    bench.done(new_job("4711"));
    bench.done(begin(Some((jakob, "4711"))));
    identify(&mut bench);
    let job = job_of(&bench);
    (bench, job)
}

#[test]
fn it_goes_along_with_the_job_and_its_claim_file() {
    let (mut early, job) = with_a_key(21);
    let sign = given(&early, job, (1, "Ines Falk"));
    comes(&mut early, &sign);
    let named: Vec<BesideChange> = early.of_job(job).iter().flat_map(changes_by).collect();
    let person = Beside { kind: BesideKind::Person, hash: sign.signed.personal, job: None };
    assert!(named.contains(&BesideChange::Named(person)), "the shop wants the name, too");
    let mut late = Bench::of_device(22);
    hand(&mut early, &mut late, job);
    let parcel = file(&early, job);
    verify(&parcel).expect("it proves itself");
    let files = crate::claim::Parcel::read(&parcel).unwrap();
    assert!(files.file(&format!("people/{INES}.json")).is_some());
    assert_eq!(second(&late, job), Some(Second { person: INES, at_office: true }));
    assert_eq!(late.session.roster().name(INES), Some("Ines Falk"));
    comes(&mut late, &sign);
    assert_eq!(
        (count(&late, "step-signed-at-office"), count(&late, "signature-not-taken")),
        (0, 0),
        "it has it already"
    );
    assert!(printed(&late, job, Language::En).contains("Signed second by Ines Falk at the office."));
}

#[test]
fn a_job_that_was_handed_over_is_signed_where_it_goes_on() {
    let (mut early, job) = with_a_key(21);
    let mut late = Bench::of_device(22);
    let sign = given(&early, job, (1, "Ines Falk"));
    hand(&mut early, &mut late, job);
    comes(&mut early, &sign);
    assert_eq!((not_taken(&early), second(&early, job)), (Some(NotSigned::HandedOver), None));
    let lena = add(&mut late, "Lena Star", "9090");
    comes(&mut late, &sign);
    assert_eq!(not_taken(&late), Some(NotSigned::DoerUnknown), "nobody has said who does it here");
    late.done(Command::NameTechnician { job, person: lena, pin: pin("9090") });
    let anew = given(&late, job, (2, "Ines Falk"));
    comes(&mut late, &anew);
    assert_eq!(second(&late, job), Some(Second { person: INES, at_office: true }));
    // Taken back in vain, the first device goes on by itself: what was signed of the other version is not for this one.
    early.done(Command::TakeJobBack { job });
    let mut other = anew.clone();
    other.signed.signature = Uuid::from_u128(3);
    comes(&mut early, &other);
    assert_eq!((not_taken(&early), second(&early, job)), (Some(NotSigned::OtherVersion), None));
    assert!(take(&mut early, handed_to(&mut late, job)).is_some(), "two versions are not put together");
}

#[test]
fn what_was_not_taken_once_is_not_taken_when_nothing_stands_in_its_way_any_more() {
    let (mut bench, job) = with_a_key(21);
    let sign = given(&bench, job, (1, "Ines Falk"));
    bench.done(Command::ReleaseJob { job, to: String::new() });
    comes(&mut bench, &sign);
    bench.done(Command::TakeJobBack { job });
    for _ in 0..2 {
        comes(&mut bench, &sign);
        bench.start_again();
    }
    let answers = count(&bench, "signature-not-taken");
    assert_eq!((not_taken(&bench), second(&bench, job), answers), (Some(NotSigned::HandedOver), None, 1));
    let anew = given(&bench, job, (2, "Ines Falk"));
    comes(&mut bench, &anew);
    assert!(second(&bench, job).is_some());
}

/// The job as the device hands it over.
fn handed_to(bench: &mut Bench, job: Uuid) -> crate::claim::Handed {
    bench.done(Command::ReleaseJob { job, to: String::new() });
    handed(&file(bench, job)).expect("a job that was handed over")
}

#[test]
fn what_closed_a_job_is_signed_anew_by_its_device_with_the_signature_of_the_office() {
    let (mut bench, job) = with_a_key(21);
    bench.say(job, &Event::JobFinished {});
    bench.start_again();
    let sign = given(&bench, job, (1, "Ines Falk"));
    comes(&mut bench, &sign);
    let head = SignedHead::verify(&bench.key().public(), &bench.heads.last().unwrap().jws).unwrap();
    let all = bench.of_job(job).iter().map(Sealed::hash).collect::<Vec<_>>();
    assert_eq!((head.sequence, head.job), (bench.session.head().sequence, Some(SignedJob::of(job, all))));
    bench.done(Command::LeaveJob);
    let act = |bench: &Bench| (count(bench, "step-signed-at-office"), bench.heads.len());
    let before = act(&bench);
    comes(&mut bench, &sign);
    assert_eq!(act(&bench), before);
}

#[test]
fn what_is_personal_may_be_gone_and_the_step_is_signed_all_the_same() {
    let (mut bench, job) = with_a_key(21);
    let sign = given(&bench, job, (1, "Ines Falk"));
    bench.say(job, &Event::JobFinished {});
    bench.start_again();
    bench.done(Command::LeaveJob);
    bench.done(Command::EraseDetails { job });
    comes(&mut bench, &sign);
    assert!(second(&bench, job).is_some());
    assert!(bench.lines[&job].erased && bench.lines[&job].customer.is_empty());
}

#[test]
fn whoever_signs_away_from_the_device_is_shown_what_was_done_and_by_whom() {
    let (mut bench, _) = waiting();
    let job = job_of(&bench);
    let shown = |bench: &Bench| {
        let entries = bench.of_job(job);
        let people = names(bench, &entries);
        unsigned(&entries, &asked(&people, Language::En))
    };
    let one = shown(&bench).remove(0);
    assert_eq!((one.step.as_str(), one.doing, one.by.as_str()), ("identify", 1, "Jakob Specht"));
    assert_eq!((one.why.as_str(), one.done.as_str()), ("The procedure asks for it.", "Done – seen"));
    assert_eq!(one.photos.len(), 1);
    let first = one.photos[0].photo;
    let act = StepAct::Again { reason: "wrong vehicle".into() };
    bench.done(Command::AtStep { job, step: "identify".into(), act });
    assert_eq!(shown(&bench), []);
    identify(&mut bench);
    let again = shown(&bench).remove(0);
    assert_eq!(again.photos.len(), 1, "the photo of this time");
    assert_ne!((again.photos[0].photo, again.doing), (first, 1));
    let sign = given(&bench, job, (1, "Ines Falk"));
    comes(&mut bench, &sign);
    assert_eq!(shown(&bench), []);
}
