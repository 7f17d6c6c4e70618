//! Who signs, and who does not.

use crate::job::{Command, Refusal, RosterRefusal};
use crate::procedure::built_in;
use crate::record::{Event, Pin};
use crate::session::tests::bench::{Bench, new_job};
use crate::session::{Input, Output};
use crate::unit::Millis;
use crate::verdict::words::Language;
use crate::view::{self, View};
use crate::work::{StepAct, StepEntry, StepRefusal};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

const OWN: &str = "own-coil";

/// The steering coil's procedure with a first step that a second person signs, written by Ruth Amsel.
pub(crate) fn own_file() -> String {
    let text = built_in()[0].1;
    text.replace("id = \"orrin-3-steering-coil\"", &format!("id = \"{OWN}\""))
        .replace("author = \"Evenwire\"", "author = \"Ruth  Amsel\"")
        .replace("id = \"identify\"\n", "id = \"identify\"\nsign_off = \"second\"\n")
}

pub(crate) fn pin(digits: &str) -> Pin {
    Pin::typed(digits)
}

pub(crate) fn add(bench: &mut Bench, name: &str, digits: &str) -> Uuid {
    bench.done(Command::AddPerson { name: name.into(), pin: pin(digits), role: "technician".into() });
    bench.session.roster().active().find(|(_, member)| member.details.name == name).expect("added").0
}

fn sign(bench: &Bench, person: Uuid, digits: &str) -> Command {
    let job = bench.session.job();
    let state = job.and_then(|job| job.work.as_ref()).and_then(|work| work.state("identify"));
    let seen = state.map_or(0, |state| state.doing);
    let job = job.map_or(Uuid::nil(), |job| job.id);
    Command::SignStep { job, step: "identify".into(), seen, person, pin: pin(digits) }
}

pub(crate) fn identify(bench: &mut Bench) {
    let job = bench.session.job().expect("a job").id;
    let act = |act| Command::AtStep { job, step: "identify".into(), act };
    bench.done(act(StepAct::Begin));
    bench.photo("identify");
    bench.done(act(StepAct::Done { words: "seen".into(), entry: StepEntry::Tick }));
}

/// Jakob Specht does the job, Ruth Amsel and Lena Star are there; the first step is done and waits.
pub(crate) fn waiting() -> (Bench, [Uuid; 3]) {
    let mut bench = Bench::new();
    let people = [
        add(&mut bench, "Jakob Specht", "4711"),
        add(&mut bench, "Ruth Amsel", "0815"),
        add(&mut bench, "Lena Star", "9090"),
    ];
    bench.done(Command::KeepProcedure { text: own_file() });
    bench.done(new_job("4711"));
    bench.done(begin(Some((people[0], "4711"))));
    identify(&mut bench);
    (bench, people)
}

pub(crate) fn begin(technician: Option<(Uuid, &str)>) -> Command {
    let (technician, digits) = technician.unzip();
    Command::BeginProcedure { procedure: OWN.into(), technician, pin: digits.map(pin) }
}

fn roster(refusal: RosterRefusal) -> Option<Refusal> {
    Some(refusal.into())
}

pub(crate) fn step(refusal: StepRefusal) -> Option<Refusal> {
    Some(refusal.into())
}

fn signed(bench: &Bench) -> Option<Uuid> {
    bench.session.job()?.work.as_ref()?.state("identify")?.second.map(|second| second.person)
}

pub(crate) fn seen(bench: &Bench) -> View {
    view::of(&bench.session, &bench.time())
}

#[test]
fn somebody_who_had_no_hand_in_it_signs_second() {
    let (mut bench, [jakob, ruth, lena]) = waiting();
    let work = seen(&bench).bench.unwrap().work.unwrap();
    let signers: Vec<String> = work.waiting[0].signers.iter().map(|line| line.person.clone()).collect();
    assert_eq!(signers, [lena.to_string(), ruth.to_string()], "by name, without whoever does it");
    assert_eq!((work.technician.as_str(), work.waiting[0].nobody.as_str()), ("Technician: Jakob Specht.", ""));

    assert_eq!(bench.wish(sign(&bench, jakob, "4711")), step(StepRefusal::OwnSecond));
    bench.done(sign(&bench, ruth, "0815"));
    assert_eq!(signed(&bench), Some(ruth));
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert_eq!(work.steps[0].second, "Signed second by Ruth Amsel.");
    assert!(work.waiting.is_empty());
    assert_eq!(bench.wish(sign(&bench, lena, "9090")), step(StepRefusal::NothingToSign), "once is enough");
}

#[test]
fn whoever_leaves_the_roster_and_comes_back_is_still_whoever_did_it() {
    let (mut bench, [jakob, ruth, lena]) = waiting();
    bench.done(Command::RemovePerson { person: jakob });
    let again = add(&mut bench, "jakob  specht", "1111");
    assert_eq!(bench.wish(sign(&bench, again, "1111")), step(StepRefusal::OwnSecond));
    let work = seen(&bench).bench.unwrap().work.unwrap();
    let signers: Vec<String> = work.waiting[0].signers.iter().map(|line| line.person.clone()).collect();
    assert_eq!(signers, [lena.to_string(), ruth.to_string()]);
}

#[test]
fn a_signature_counts_only_for_what_was_signed() {
    let (mut bench, [_, ruth, _]) = waiting();
    bench.done(sign(&bench, ruth, "0815"));
    let job = bench.session.job().unwrap().id;
    let act = StepAct::Again { reason: "wrong vehicle".into() };
    bench.done(Command::AtStep { job, step: "identify".into(), act });
    assert_eq!(bench.wish(sign(&bench, ruth, "0815")), step(StepRefusal::NothingToSign), "it is to be done again");
    identify(&mut bench);
    assert_eq!(signed(&bench), None);
    bench.done(sign(&bench, ruth, "0815"));
    assert_eq!(signed(&bench), Some(ruth));
}

#[test]
fn while_nobody_knows_who_did_it_nobody_signs() {
    let mut bench = Bench::new();
    let (jakob, ruth) = (add(&mut bench, "Jakob Specht", "4711"), add(&mut bench, "Ruth Amsel", "0815"));
    bench.done(Command::KeepProcedure { text: own_file() });
    bench.done(new_job("4711"));
    bench.done(begin(None));
    identify(&mut bench);
    for person in [(jakob, "4711"), (ruth, "0815")] {
        assert_eq!(bench.wish(sign(&bench, person.0, person.1)), step(StepRefusal::DoerUnknown));
    }
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert!(work.waiting[0].signers.is_empty() && work.waiting[0].nobody.starts_with("First whoever"));
    assert!(work.may_name && work.technician == "Nobody is named who does it.");

    let job = bench.session.job().unwrap().id;
    let name = |person, digits| Command::NameTechnician { job, person, pin: pin(digits) };
    assert_eq!(bench.wish(name(jakob, "0815")), roster(RosterRefusal::PinWrong { left: 4 }));
    bench.done(name(jakob, "4711"));
    assert_eq!(bench.wish(sign(&bench, jakob, "4711")), step(StepRefusal::OwnSecond));
    // Somebody else goes on with it: both had a hand in it.
    bench.done(name(ruth, "0815"));
    assert_eq!(bench.wish(sign(&bench, jakob, "4711")), step(StepRefusal::OwnSecond));
    assert_eq!(bench.wish(sign(&bench, ruth, "0815")), step(StepRefusal::OwnSecond));
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert!(work.waiting[0].nobody.starts_with("Nobody else"));
    bench.start_again();
    assert_eq!(bench.wish(sign(&bench, jakob, "4711")), step(StepRefusal::OwnSecond), "from the ledger alone");
}

#[test]
fn only_with_the_pin_is_somebody_named_who_does_it() {
    let mut bench = Bench::new();
    let jakob = add(&mut bench, "Jakob Specht", "4711");
    bench.done(Command::KeepProcedure { text: own_file() });
    bench.done(new_job("4711"));
    let without = Command::BeginProcedure { procedure: OWN.into(), technician: Some(jakob), pin: None };
    assert_eq!(bench.wish(without), roster(RosterRefusal::PinShape));
    assert_eq!(bench.wish(begin(Some((jakob, "4712")))), roster(RosterRefusal::PinWrong { left: 4 }));
    assert_eq!(bench.wish(begin(Some((Uuid::nil(), "4711")))), roster(RosterRefusal::NoSuchPerson));
    assert!(bench.session.job().unwrap().work.is_none());
    bench.done(begin(Some((jakob, "4711"))));
    assert_eq!(bench.session.job().unwrap().work.as_ref().unwrap().technician, Some(jakob));
}

#[test]
fn whoever_left_signs_nothing_and_what_was_signed_stays() {
    let (mut bench, [_, ruth, lena]) = waiting();
    bench.done(Command::RemovePerson { person: lena });
    assert_eq!(bench.wish(sign(&bench, lena, "9090")), roster(RosterRefusal::Removed));
    assert_eq!(bench.wish(Command::RemovePerson { person: lena }), roster(RosterRefusal::Removed));
    assert!(seen(&bench).people.iter().all(|line| line.name != "Lena Star"));
    bench.done(sign(&bench, ruth, "0815"));
    bench.done(Command::RemovePerson { person: ruth });
    assert_eq!(signed(&bench), Some(ruth));
    bench.start_again();
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert_eq!(work.steps[0].second, "Signed second by Ruth Amsel.");
    assert!(bench.people[&ruth].pin.0.is_empty(), "nothing is left to guess a PIN from");
    let again = add(&mut bench, "Lena Star", "9090");
    assert_ne!(again, lena, "who comes back is somebody new");
}

#[test]
fn a_name_is_there_short_and_nobody_elses_and_a_pin_has_four_to_twelve_digits() {
    let mut bench = Bench::new();
    add(&mut bench, "Jakob Specht", "4711");
    let entry =
        |name: &str, digits: &str| Command::AddPerson { name: name.into(), pin: pin(digits), role: String::new() };
    assert_eq!(bench.wish(entry("  ", "4711")), roster(RosterRefusal::NameMissing));
    assert_eq!(bench.wish(entry(" jakob  SPECHT", "4711")), roster(RosterRefusal::NameTaken));
    assert_eq!(bench.wish(entry(&"x".repeat(61), "4711")), Some(Refusal::TooLong { field: "name".into() }));
    let role = Command::AddPerson { name: "A".into(), pin: pin("4711"), role: "x".repeat(61) };
    assert_eq!(bench.wish(role), Some(Refusal::TooLong { field: "role".into() }));
    for wrong in ["", "471", "1234567890123", "47l1", "4711 ", "४७११", "-4711"] {
        let refused = bench.wish(entry("Ruth Amsel", wrong));
        let expected = if wrong == "4711 " { None } else { roster(RosterRefusal::PinShape) };
        assert_eq!(refused, expected, "{wrong}");
        if wrong == "4711 " {
            let (ruth, _) = bench.session.roster().active().find(|(_, m)| m.details.name == "Ruth Amsel").unwrap();
            bench.done(Command::RemovePerson { person: ruth });
        }
    }
    for number in 1..200 {
        add(&mut bench, &format!("Person {number}"), "123456789012");
    }
    assert_eq!(bench.wish(entry("One more", "4711")), roster(RosterRefusal::Full));
}

#[test]
fn a_new_pin_takes_the_place_of_the_old_one() {
    let (mut bench, [_, ruth, _]) = waiting();
    let change = |old, new| Command::ChangePin { person: ruth, old: pin(old), new: pin(new) };
    assert_eq!(bench.wish(change("0815", "12")), roster(RosterRefusal::PinShape));
    assert_eq!(bench.wish(change("0816", "1212")), roster(RosterRefusal::PinWrong { left: 4 }));
    bench.done(change("0815", "1212"));
    bench.start_again();
    assert_eq!(bench.wish(sign(&bench, ruth, "0815")), roster(RosterRefusal::PinWrong { left: 4 }));
    bench.done(sign(&bench, ruth, "1212"));
}

#[test]
fn five_wrong_pins_in_a_row_lock_and_each_further_one_locks_for_longer() {
    let (mut bench, [_, ruth, lena]) = waiting();
    for left in [4, 3, 2, 1] {
        assert_eq!(bench.wish(sign(&bench, ruth, "0000")), roster(RosterRefusal::PinWrong { left }));
    }
    assert_eq!(bench.wish(sign(&bench, ruth, "0000")), roster(RosterRefusal::Locked { left_s: 30 }));
    assert_eq!(
        bench.wish(sign(&bench, ruth, "0815")),
        roster(RosterRefusal::Locked { left_s: 30 }),
        "the right one too"
    );
    let line = |bench: &Bench| seen(bench).people.into_iter().find(|line| line.name == "Ruth Amsel").unwrap().locked;
    assert_eq!(line(&bench), "Locked for 30 s.");
    assert!(bench.session.wake_at(&bench.time()).is_some_and(|at| at.since(Millis(bench.now)).0 <= 1_000));
    // Another person is not locked.
    assert_eq!(bench.wish(sign(&bench, lena, "0000")), roster(RosterRefusal::PinWrong { left: 4 }));

    // Ending the program takes nothing off.
    bench.now += 20_000;
    bench.start_again();
    assert_eq!(bench.wish(sign(&bench, ruth, "0815")), roster(RosterRefusal::Locked { left_s: 10 }));
    bench.now += 10_000;
    assert_eq!(line(&bench), "");
    for expected in [60, 120, 240, 480, 960, 1_920, 3_600, 3_600] {
        let refused = bench.wish(sign(&bench, ruth, "0000"));
        assert_eq!(refused, roster(RosterRefusal::Locked { left_s: expected }));
        bench.now += expected * 1_000;
    }
    bench.done(sign(&bench, ruth, "0815"));
    assert_eq!(bench.people[&ruth].tries.wrong, 0, "the right one ends the row");
    assert_eq!(bench.people[&lena].tries.wrong, 1);
}

#[test]
fn a_try_is_written_before_the_pin_is_looked_at() {
    let (mut bench, [_, ruth, _]) = waiting();
    let now = bench.time();
    let outputs = bench.session.handle(Input::Wish(sign(&bench, ruth, "0000")), &now);
    let [Output::Append(batch), Output::CheckPin { .. }] = outputs.as_slice() else { panic!("{outputs:?}") };
    assert_eq!((batch.people[0].tries.wrong, batch.entries.len()), (1, 0));
    // An answer to a question that was not asked, or that something came after, is no signature.
    bench.input(Input::Tick);
    bench.input(Input::PinChecked { fits: true });
    assert_eq!(signed(&bench), None);
}

#[test]
fn another_run_of_the_machine_begins_a_pause_anew() {
    use crate::record::Tries;
    use crate::unit::{BootId, Now, Stamp};
    let at = |boot: u64, id: &str| Now {
        boot: Millis(boot),
        boot_id: BootId(id.into()),
        wall: Stamp::parse("2026-03-01T10:00:00Z").unwrap(),
    };
    let tries = (0..5).fold(Tries::default(), |tries, _| tries.one_more(&at(1_000, "one")));
    assert_eq!(tries.pause_left(&at(31_000, "one")), None);
    assert_eq!(tries.pause_left(&at(500, "one")), Some(Millis(30_000)), "a clock that went back gives no credit");
    assert_eq!(tries.taken_up(&at(21_000, "one")).pause_left(&at(21_000, "one")), Some(Millis(10_000)));
    for (boot, id) in [(99_000, "two"), (99_000, ""), (900, "one")] {
        let now = at(boot, id);
        assert_eq!(tries.taken_up(&now).pause_left(&now), Some(Millis(30_000)), "{boot} {id}");
    }
    let unreadable = Tries { boot: BootId(String::new()), ..tries.clone() };
    assert_eq!(unreadable.taken_up(&at(99_000, "")).pause_left(&at(99_000, "")), Some(Millis(30_000)));
}

#[test]
fn whoever_did_not_write_a_procedure_approves_its_version() {
    let mut bench = Bench::new();
    let (jakob, ruth) = (add(&mut bench, "Jakob Specht", "4711"), add(&mut bench, "ruth amsel", "0815"));
    bench.done(Command::KeepProcedure { text: own_file() });
    let approve =
        |person, digits, version| Command::ApproveProcedure { id: OWN.into(), version, person, pin: pin(digits) };
    let line = |bench: &Bench| match view::procedures(&bench.session) {
        view::Reply::Procedures { lines } => lines.into_iter().find(|line| line.procedure == OWN).unwrap(),
        other => panic!("{other:?}"),
    };
    assert!(line(&bench).draft && line(&bench).approved.is_empty() && line(&bench).version == 1);
    assert_eq!(bench.wish(approve(ruth, "0815", 1)), roster(RosterRefusal::AuthorApproves));
    assert_eq!(bench.wish(approve(jakob, "4711", 2)), roster(RosterRefusal::OtherVersion { known: 1 }));
    assert_eq!(bench.wish(approve(jakob, "0815", 1)), roster(RosterRefusal::PinWrong { left: 4 }));
    assert!(line(&bench).draft);
    bench.done(approve(jakob, "4711", 1));
    assert_eq!(bench.wish(approve(jakob, "4711", 1)), roster(RosterRefusal::Approved));
    bench.start_again();
    assert!(!line(&bench).draft && line(&bench).standing.ends_with("Approved by Jakob Specht."));
    bench.done(new_job("4711"));
    bench.done(begin(None));
    assert!(!seen(&bench).bench.unwrap().work.unwrap().procedure.draft);

    // A changed file is a draft again, and one that is withdrawn is not approved.
    let newer =
        own_file().replace("version = 1", "version = 2").replace("at_least = \"180 s\"", "at_least = \"300 s\"");
    bench.done(Command::KeepProcedure { text: newer });
    assert!(line(&bench).draft);
    bench.done(Command::WithdrawProcedure { procedure: OWN.into() });
    assert_eq!(bench.wish(approve(jakob, "4711", 2)), step(StepRefusal::NoSuchProcedure));
}

#[test]
fn a_closed_job_still_takes_the_signature_it_waits_for_and_the_name_nobody_said() {
    let mut bench = Bench::new();
    let (jakob, ruth) = (add(&mut bench, "Jakob Specht", "4711"), add(&mut bench, "Ruth Amsel", "0815"));
    bench.done(Command::KeepProcedure { text: own_file() });
    bench.done(new_job("4711"));
    bench.done(begin(None));
    identify(&mut bench);
    let job = bench.session.job().unwrap().id;
    let act = |act| Command::AtStep { job, step: "close".into(), act };
    bench.done(act(StepAct::Begin));
    let entry = StepEntry::Sign { outcome: Some(crate::record::Outcome::Refused) };
    bench.done(act(StepAct::Done { words: "not wanted".into(), entry }));
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert!(work.ended.ends_with("Second signature waiting."), "{}", work.ended);
    assert_eq!(
        in_the_list(&bench),
        ["Closed. Second signature waiting.", "Abgeschlossen. Zweite Unterschrift steht aus."]
    );
    let name = |person, digits| Command::NameTechnician { job, person, pin: pin(digits) };
    bench.done(name(jakob, "4711"));
    assert_eq!(bench.wish(name(ruth, "0815")), Some(Refusal::Finished), "said once");
    bench.done(sign(&bench, ruth, "0815"));
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert_eq!(work.ended, "Refused by the customer.");
    assert_eq!(in_the_list(&bench), ["Closed.", "Abgeschlossen."]);
}

/// What the job's card on the first screen says, English and German.
fn in_the_list(bench: &Bench) -> [String; 2] {
    let line = bench.session.job().unwrap().line(&crate::record::Details::default());
    [Language::En, Language::De].map(|language| view::job_line(&line, language).words)
}

#[test]
fn the_list_says_of_an_open_job_that_a_signature_waits() {
    let (mut bench, [_, ruth, _]) = waiting();
    let waits =
        ["Next: The steps. Second signature waiting.", "Als Nächstes: Die Schritte. Zweite Unterschrift steht aus."];
    assert_eq!(in_the_list(&bench), waits);
    bench.done(sign(&bench, ruth, "0815"));
    assert_eq!(in_the_list(&bench), ["Next: The steps.", "Als Nächstes: Die Schritte."]);
}

#[test]
fn what_is_said_of_people_is_said_in_german_too() {
    let (mut bench, [_, ruth, _]) = waiting();
    bench.done(Command::Speak { language: Language::De });
    bench.done(sign(&bench, ruth, "0815"));
    let work = seen(&bench).bench.unwrap().work.unwrap();
    assert_eq!(
        (work.technician.as_str(), work.steps[0].second.as_str()),
        ("Techniker: Jakob Specht.", "Gegengezeichnet: Ruth Amsel.")
    );
}

#[test]
fn nothing_that_is_written_shown_or_printed_holds_a_pin_or_in_an_entry_a_name() {
    let (mut bench, [_, ruth, _]) = waiting();
    bench.done(sign(&bench, ruth, "0815"));
    let wish = Command::AddPerson { name: "Nora".into(), pin: pin("271828"), role: String::new() };
    let printed = format!("{wish:?}{}", serde_json::to_string(&wish).unwrap());
    assert!(!printed.contains("271828"), "{printed}");
    let read: Command =
        serde_json::from_str(r#"{"wish":"add-person","name":"Nora","pin":"271828","role":""}"#).unwrap();
    assert_eq!(read, wish);
    // What is no text is a PIN without digits, and no error repeats it.
    let read: Command = serde_json::from_str(r#"{"wish":"add-person","name":"Nora","pin":271828,"role":""}"#).unwrap();
    assert_eq!(read, Command::AddPerson { name: "Nora".into(), pin: pin(""), role: String::new() });
    let outputs = bench.session.handle(Input::Wish(wish), &bench.time());
    assert!(!format!("{outputs:?}{:?}", bench.people).contains("271828"));
    assert!(!format!("{:?}", bench.people).contains("hash of"), "what a PIN is checked against is not printed");
    for entry in &bench.entries {
        let text = String::from_utf8_lossy(entry.bytes()).into_owned();
        for secret in ["Jakob", "Specht", "Lena", "4711\"}", "0815", "9090", "hash of"] {
            let of_the_file = entry.entry().kind.starts_with("procedure");
            assert!(of_the_file || !text.contains(secret), "{secret} in {text}");
        }
    }
}

#[test]
fn a_row_that_is_not_what_was_committed_to_signs_nothing() {
    let (mut bench, [_, ruth, lena]) = waiting();
    let text = bench.people[&lena].text.clone();
    bench.people.get_mut(&ruth).unwrap().text = text;
    bench.people.remove(&lena);
    bench.start_again();
    assert_eq!(bench.wish(sign(&bench, ruth, "0815")), roster(RosterRefusal::NoSuchPerson));
    assert_eq!(bench.wish(sign(&bench, lena, "9090")), roster(RosterRefusal::NoSuchPerson));
    assert_eq!(bench.session.roster().name(ruth), None);
}

// --- whatever happens ---

#[derive(Clone, Debug)]
enum Turn {
    Add(u8),
    Remove(u8),
    Change(u8, u8, u8),
    Name(u8, u8),
    Sign(u8, u8),
    Again,
    Identify,
    Pass(u32),
    StartAgain,
}

/// Whose PIN is typed: mostly one's own.
fn who_types() -> impl Strategy<Value = (u8, u8)> {
    prop_oneof![3 => (0u8..4).prop_map(|who| (who, who)), 1 => (0u8..4, 0u8..4)]
}

fn turn() -> impl Strategy<Value = Turn> {
    let who = 0u8..4;
    prop_oneof![
        2 => who.clone().prop_map(Turn::Add),
        1 => who.clone().prop_map(Turn::Remove),
        1 => (who_types(), who).prop_map(|((a, b), c)| Turn::Change(a, b, c)),
        1 => who_types().prop_map(|(a, b)| Turn::Name(a, b)),
        8 => who_types().prop_map(|(a, b)| Turn::Sign(a, b)),
        1 => Just(Turn::Again),
        4 => Just(Turn::Identify),
        1 => (0u32..4_000_000).prop_map(Turn::Pass),
        1 => Just(Turn::StartAgain),
    ]
}

/// What is true, told without the code under test.
#[derive(Default)]
struct Truth {
    /// By slot: who, and the PIN that was chosen last.
    people: BTreeMap<u8, (Uuid, u8)>,
    gone: BTreeSet<Uuid>,
    /// Slots, because whoever comes back under the same name is the same person.
    doers: BTreeSet<u8>,
    signatures: usize,
}

fn digits(number: u8) -> String {
    format!("{:04}", 1_000 + u16::from(number))
}

impl Truth {
    /// The person in a slot, or nobody.
    fn who(&self, slot: u8) -> Uuid {
        self.people.get(&slot).map_or(Uuid::from_u128(u128::from(slot)), |(id, _)| *id)
    }

    fn is_right(&self, slot: u8, typed: u8) -> bool {
        self.people.get(&slot).is_some_and(|(id, pin)| *pin == typed && !self.gone.contains(id))
    }

    fn act(&mut self, bench: &mut Bench, turn: &Turn) {
        let job = bench.session.job().expect("on the bench").id;
        match turn {
            Turn::Add(slot) => {
                let name = format!("Person {slot}");
                let entry = Command::AddPerson { name: name.clone(), pin: pin(&digits(*slot)), role: String::new() };
                if bench.wish(entry).is_none() {
                    let added = bench.session.roster().active().find(|(_, member)| member.details.name == name);
                    self.people.insert(*slot, (added.expect("added").0, *slot));
                }
            }
            Turn::Remove(slot) => {
                let person = self.who(*slot);
                if bench.wish(Command::RemovePerson { person }).is_none() {
                    self.gone.insert(person);
                }
            }
            Turn::Change(slot, old, new) => {
                let (person, right) = (self.who(*slot), self.is_right(*slot, *old));
                let change = Command::ChangePin { person, old: pin(&digits(*old)), new: pin(&digits(*new)) };
                if bench.wish(change).is_none() {
                    assert!(right, "a PIN was changed with a wrong one");
                    self.people.get_mut(slot).expect("known").1 = *new;
                }
            }
            Turn::Name(slot, typed) => {
                let (person, right) = (self.who(*slot), self.is_right(*slot, *typed));
                if bench.wish(Command::NameTechnician { job, person, pin: pin(&digits(*typed)) }).is_none() {
                    assert!(right, "named with a wrong PIN");
                    self.doers.insert(*slot);
                }
            }
            Turn::Sign(slot, typed) => {
                let (person, right) = (self.who(*slot), self.is_right(*slot, *typed));
                let written = bench.entries.len();
                let refused = bench.wish(sign(bench, person, &digits(*typed)));
                let new = bench.entries[written..].iter().filter(|sealed| sealed.entry().kind == "step-signed").count();
                assert_eq!(new, usize::from(refused.is_none()));
                if refused.is_none() {
                    assert!(right, "signed with a wrong PIN, or by somebody who is not there");
                    assert!(!self.doers.is_empty() && !self.doers.contains(slot), "signed by whoever did it");
                    self.signatures += 1;
                }
            }
            Turn::Again => {
                let act = StepAct::Again { reason: "not sure".into() };
                drop(bench.wish(Command::AtStep { job, step: "identify".into(), act }));
            }
            Turn::Identify => {
                if bench.session.job().unwrap().work.as_ref().unwrap().state("identify").is_none() {
                    identify(bench);
                }
            }
            Turn::Pass(ms) => bench.now += u64::from(*ms),
            Turn::StartAgain => bench.start_again(),
        }
    }
}

/// Every signature in the ledger, read off the entries alone, is of somebody who was there and not of a doer.
fn signatures_hold(bench: &Bench) -> usize {
    let (mut there, mut doers, mut signatures) = (BTreeSet::new(), BTreeSet::new(), 0);
    for sealed in &bench.entries {
        let entry = sealed.entry();
        match entry.event().expect("known") {
            Event::PersonAdded { person, .. } => drop(there.insert(person)),
            Event::PersonRemoved { person } => drop(there.remove(&person)),
            Event::TechnicianNamed { person } => drop(doers.insert(person)),
            Event::StepSigned(said) => {
                assert!(there.contains(&said.said) && !doers.contains(&said.said) && !doers.is_empty());
                signatures += 1;
            }
            _ => {}
        }
    }
    signatures
}

#[test]
fn no_sequence_lets_a_doer_somebody_gone_or_a_wrong_pin_sign() {
    use proptest::test_runner::{Config, TestRunner};
    let config = Config { cases: 40, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new(config);
    let signatures = std::cell::Cell::new(0);
    let run = |turns: Vec<Turn>| {
        let mut bench = Bench::new();
        bench.done(Command::KeepProcedure { text: own_file() });
        bench.done(new_job("4711"));
        bench.done(begin(None));
        let mut truth = Truth::default();
        let begin = [Turn::Add(0), Turn::Add(1), Turn::Add(2), Turn::Name(0, 0)];
        begin.iter().chain(&turns).for_each(|turn| truth.act(&mut bench, turn));
        assert_eq!(signatures_hold(&bench), truth.signatures);
        signatures.set(signatures.get() + truth.signatures);
        Ok(())
    };
    runner.run(&proptest::collection::vec(turn(), 10..40), run).unwrap();
    assert!(signatures.get() > 20, "a world in which nobody signs keeps every rule: {}", signatures.get());
}
