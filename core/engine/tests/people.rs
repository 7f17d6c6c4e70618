//! People of the shop at a running bench, with the ledger in a real file.

mod device;

use device::{Device, refused};
use evenwire_core::job::{Command, Refusal, RosterRefusal};
use evenwire_core::procedure::built_in;
use evenwire_core::record::{Details, Pin};
use evenwire_core::view::PersonLine;
use evenwire_core::work::{StepAct, StepEntry, StepRefusal};
use evenwire_store::Store;
use std::path::{Path, PathBuf};
use uuid::Uuid;

const JAKOB: &str = "739146820";
const RUTH: &str = "20461937";

fn line(device: &Device, name: &str) -> PersonLine {
    device.view().people.into_iter().find(|line| line.name == name).expect("on the roster")
}

fn add(device: &Device, name: &str, pin: &str) -> Uuid {
    device.done(Command::AddPerson { name: name.into(), pin: Pin::typed(pin), role: "Technician".into() });
    line(device, name).person.parse().unwrap()
}

/// Everything in the ledger's folder.
fn bytes(device: &Device) -> Vec<(PathBuf, Vec<u8>)> {
    let files = std::fs::read_dir(device.path().parent().unwrap()).unwrap().map(|file| file.unwrap().path());
    files.filter(|path| path.is_file()).map(|path| (path.clone(), std::fs::read(path).unwrap())).collect()
}

#[track_caller]
fn refuses(device: &Device, command: Command) -> Refusal {
    refused(device.tell(command))
}

fn holds(bytes: &[u8], text: &str) -> bool {
    bytes.windows(text.len()).any(|window| window == text.as_bytes())
}

/// A procedure whose first step a second person signs and asks for no photo.
fn own_file() -> String {
    let text = built_in()[0].1.replace("id = \"orrin-3-steering-coil\"", "id = \"own-coil\"");
    let (before, after) = text.split_once("id = \"identify\"\n").expect("its first step");
    let after = after.replacen("evidence = [\"photo\", \"words\"]", "evidence = [\"words\"]", 1);
    format!("{before}id = \"identify\"\nsign_off = \"second\"\n{after}")
}

fn sign(job: Uuid, person: Uuid, pin: &str) -> Command {
    // The first step, done once.
    Command::SignStep { job, step: "identify".into(), seen: 1, person, pin: Pin::typed(pin) }
}

/// Jakob does a job whose first step waits for a second person; Ruth is there.
fn waiting() -> (Device, Uuid, [Uuid; 2]) {
    let device = Device::new();
    let people = [add(&device, "Jakob Specht", JAKOB), add(&device, "Ruth Amsel", RUTH)];
    device.done(Command::KeepProcedure { text: own_file() });
    device.done(Command::NewJob { order: "4711".into(), vehicle: String::new(), details: Details::default() });
    let (technician, pin) = (Some(people[0]), Some(Pin::typed(JAKOB)));
    device.done(Command::BeginProcedure { procedure: "own-coil".into(), technician, pin });
    let job = device.job();
    let act = |act| Command::AtStep { job, step: "identify".into(), act };
    device.done(act(StepAct::Begin));
    device.done(act(StepAct::Done { words: "seen".into(), entry: StepEntry::Tick }));
    (device, job, people)
}

#[test]
fn a_second_person_signs_with_a_pin_and_the_ledger_tells_it_after_a_restart() {
    let (mut device, job, [jakob, ruth]) = waiting();
    assert_eq!(refuses(&device, sign(job, jakob, JAKOB)), StepRefusal::OwnSecond.into());
    assert_eq!(refuses(&device, sign(job, ruth, JAKOB)), RosterRefusal::PinWrong { left: 4 }.into());
    device.done(sign(job, ruth, RUTH));
    device.end();
    device.start();
    device.done(Command::OpenJob { job });
    let work = device.view().bench.unwrap().work.unwrap();
    assert_eq!(work.steps[0].second, "Signed second by Ruth Amsel.");
    let change = Command::ChangePin { person: ruth, old: Pin::typed(RUTH), new: Pin::typed("5550123") };
    device.done(change.clone());
    assert_eq!(refuses(&device, change), RosterRefusal::PinWrong { left: 4 }.into());
    device.end();
    let kinds: Vec<String> = entries(&device.path()).into_iter().map(|(kind, _)| kind).collect();
    let count = |kind: &str| kinds.iter().filter(|other| *other == kind).count();
    assert_eq!((count("person-added"), count("step-signed"), count("pin-changed")), (2, 1, 1));
}

fn entries(path: &Path) -> Vec<(String, Vec<u8>)> {
    let store = Store::open(path, Uuid::nil()).unwrap();
    assert!(store.check().unwrap().is_whole());
    let all = store.entries_after(0, u32::MAX).unwrap();
    all.iter().map(|sealed| (sealed.entry().kind.clone(), sealed.bytes().to_vec())).collect()
}

#[test]
fn no_pin_stands_in_any_file_and_no_name_in_any_entry() {
    let (mut device, job, [_, ruth]) = waiting();
    drop(device.tell(sign(job, ruth, "88888888")));
    device.done(sign(job, ruth, RUTH));
    device.done(Command::ChangePin { person: ruth, old: Pin::typed(RUTH), new: Pin::typed("31415926") });
    let open = bytes(&device);
    assert!(open.iter().any(|(path, bytes)| path.ends_with("shop.db-wal") && !bytes.is_empty()));
    assert!(
        open.iter().any(|(_, bytes)| holds(bytes, "$argon2id$v=19$m=19456,t=2,p=1$")),
        "it was looked where they are"
    );
    assert!(open.iter().any(|(_, bytes)| holds(bytes, "Ruth Amsel")));
    device.end();
    for (path, bytes) in open.into_iter().chain(bytes(&device)) {
        for pin in [JAKOB, RUTH, "88888888", "31415926"] {
            assert!(!holds(&bytes, pin), "a PIN in {}", path.display());
        }
    }
    for (kind, bytes) in entries(&device.path()) {
        for name in ["Jakob", "Specht", "Ruth", "Amsel", "argon2"] {
            assert!(!holds(&bytes, name), "{name} in an entry {kind}");
        }
    }
}

#[test]
fn a_lock_out_outlives_the_program() {
    let (mut device, job, [_, ruth]) = waiting();
    for left in [4, 3, 2, 1] {
        assert_eq!(refuses(&device, sign(job, ruth, "00000000")), RosterRefusal::PinWrong { left }.into());
    }
    let locked = |device: &Device, pin: &str| match refuses(device, sign(job, ruth, pin)) {
        Refusal::Roster { refusal: RosterRefusal::Locked { left_s } } => left_s,
        other => panic!("{other:?}"),
    };
    assert!((1..=30).contains(&locked(&device, "00000000")));
    assert!(line(&device, "Ruth Amsel").locked.starts_with("Locked for "));
    device.end();
    device.start();
    device.done(Command::OpenJob { job });
    assert!((1..=30).contains(&locked(&device, RUTH)), "with the right one, too");
    assert_eq!(line(&device, "Jakob Specht").locked, "");
}

#[test]
fn whoever_was_taken_off_the_roster_leaves_no_pin_behind() {
    let (mut device, job, [_, ruth]) = waiting();
    device.done(Command::RemovePerson { person: ruth });
    assert_eq!(refuses(&device, sign(job, ruth, RUTH)), RosterRefusal::Removed.into());
    assert!(device.view().people.iter().all(|line| line.name != "Ruth Amsel"));
    device.end();
    let store = Store::open(&device.path(), Uuid::nil()).unwrap();
    let row = store.people().unwrap().into_iter().find(|kept| kept.person == ruth).expect("the row stays");
    assert!(row.pin.0.is_empty() && row.text.contains("Ruth Amsel"), "what was signed still has a name");
}
