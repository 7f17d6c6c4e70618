//! People of the shop at a running bench, with the ledger in a real file.

use evenwire_core::job::{Command, Refusal, RosterRefusal};
use evenwire_core::procedure::built_in;
use evenwire_core::record::{Details, Pin};
use evenwire_core::view::{Ask, PersonLine, Pushed, Reply, View};
use evenwire_core::work::{StepAct, StepEntry, StepRefusal};
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_store::Store;
use std::path::{Path, PathBuf};
use uuid::Uuid;

const JAKOB: &str = "739146820";
const RUTH: &str = "20461937";

struct Shop {
    folder: tempfile::TempDir,
    runtime: tokio::runtime::Runtime,
    bench: Option<Bench>,
}

impl Shop {
    fn new() -> Shop {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let mut shop = Shop { folder: tempfile::tempdir().unwrap(), runtime, bench: None };
        shop.start();
        shop
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("shop.db")
    }

    fn start(&mut self) {
        let options = BenchOptions { radio: false, ..BenchOptions::on(self.path()) };
        self.bench = Some(Bench::start(options).expect("it starts"));
    }

    fn end(&mut self) {
        let bench = self.bench.take().expect("it runs");
        assert!(self.runtime.block_on(bench.close()));
    }

    fn tell(&self, command: Command) -> Reply {
        self.runtime.block_on(self.bench.as_ref().expect("it runs").ask(Ask::Do { command }))
    }

    #[track_caller]
    fn done(&self, command: Command) {
        let reply = self.tell(command);
        assert_eq!(reply, Reply::Done);
    }

    fn refused(&self, command: Command) -> Refusal {
        match self.tell(command) {
            Reply::Refused { refusal, .. } => refusal,
            other => panic!("{other:?}"),
        }
    }

    fn view(&self) -> View {
        let mut listener = self.bench.as_ref().expect("it runs").listen();
        match self.runtime.block_on(listener.next()) {
            Some(Pushed::View { view }) => *view,
            other => panic!("{other:?}"),
        }
    }

    fn line(&self, name: &str) -> PersonLine {
        self.view().people.into_iter().find(|line| line.name == name).expect("on the roster")
    }

    fn add(&self, name: &str, pin: &str) -> Uuid {
        self.done(Command::AddPerson { name: name.into(), pin: Pin::typed(pin), role: "Technician".into() });
        self.line(name).person.parse().unwrap()
    }

    /// Everything in the ledger's folder.
    fn bytes(&self) -> Vec<(PathBuf, Vec<u8>)> {
        let files = std::fs::read_dir(self.folder.path()).unwrap().map(|file| file.unwrap().path());
        files.filter(|path| path.is_file()).map(|path| (path.clone(), std::fs::read(path).unwrap())).collect()
    }
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

fn job_of(shop: &Shop) -> Uuid {
    shop.view().bench.expect("a job").job.parse().unwrap()
}

fn sign(job: Uuid, person: Uuid, pin: &str) -> Command {
    // The first step, done once.
    Command::SignStep { job, step: "identify".into(), seen: 1, person, pin: Pin::typed(pin) }
}

/// Jakob does a job whose first step waits for a second person; Ruth is there.
fn waiting() -> (Shop, Uuid, [Uuid; 2]) {
    let shop = Shop::new();
    let people = [shop.add("Jakob Specht", JAKOB), shop.add("Ruth Amsel", RUTH)];
    shop.done(Command::KeepProcedure { text: own_file() });
    shop.done(Command::NewJob { order: "4711".into(), vehicle: String::new(), details: Details::default() });
    let (technician, pin) = (Some(people[0]), Some(Pin::typed(JAKOB)));
    shop.done(Command::BeginProcedure { procedure: "own-coil".into(), technician, pin });
    let job = job_of(&shop);
    let act = |act| Command::AtStep { job, step: "identify".into(), act };
    shop.done(act(StepAct::Begin));
    shop.done(act(StepAct::Done { words: "seen".into(), entry: StepEntry::Tick }));
    (shop, job, people)
}

#[test]
fn a_second_person_signs_with_a_pin_and_the_ledger_tells_it_after_a_restart() {
    let (mut shop, job, [jakob, ruth]) = waiting();
    assert_eq!(shop.refused(sign(job, jakob, JAKOB)), StepRefusal::OwnSecond.into());
    assert_eq!(shop.refused(sign(job, ruth, JAKOB)), RosterRefusal::PinWrong { left: 4 }.into());
    shop.done(sign(job, ruth, RUTH));
    shop.end();
    shop.start();
    shop.done(Command::OpenJob { job });
    let work = shop.view().bench.unwrap().work.unwrap();
    assert_eq!(work.steps[0].second, "Signed second by Ruth Amsel.");
    let change = Command::ChangePin { person: ruth, old: Pin::typed(RUTH), new: Pin::typed("5550123") };
    shop.done(change.clone());
    assert_eq!(shop.refused(change), RosterRefusal::PinWrong { left: 4 }.into());
    shop.end();
    let kinds: Vec<String> = entries(&shop.path()).into_iter().map(|(kind, _)| kind).collect();
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
    let (mut shop, job, [_, ruth]) = waiting();
    drop(shop.tell(sign(job, ruth, "88888888")));
    shop.done(sign(job, ruth, RUTH));
    shop.done(Command::ChangePin { person: ruth, old: Pin::typed(RUTH), new: Pin::typed("31415926") });
    let open = shop.bytes();
    assert!(open.iter().any(|(path, bytes)| path.ends_with("shop.db-wal") && !bytes.is_empty()));
    assert!(
        open.iter().any(|(_, bytes)| holds(bytes, "$argon2id$v=19$m=19456,t=2,p=1$")),
        "it was looked where they are"
    );
    assert!(open.iter().any(|(_, bytes)| holds(bytes, "Ruth Amsel")));
    shop.end();
    for (path, bytes) in open.into_iter().chain(shop.bytes()) {
        for pin in [JAKOB, RUTH, "88888888", "31415926"] {
            assert!(!holds(&bytes, pin), "a PIN in {}", path.display());
        }
    }
    for (kind, bytes) in entries(&shop.path()) {
        for name in ["Jakob", "Specht", "Ruth", "Amsel", "argon2"] {
            assert!(!holds(&bytes, name), "{name} in an entry {kind}");
        }
    }
}

#[test]
fn a_lock_out_outlives_the_program() {
    let (mut shop, job, [_, ruth]) = waiting();
    for left in [4, 3, 2, 1] {
        assert_eq!(shop.refused(sign(job, ruth, "00000000")), RosterRefusal::PinWrong { left }.into());
    }
    let locked = |shop: &Shop, pin: &str| match shop.refused(sign(job, ruth, pin)) {
        Refusal::Roster { refusal: RosterRefusal::Locked { left_s } } => left_s,
        other => panic!("{other:?}"),
    };
    assert!((1..=30).contains(&locked(&shop, "00000000")));
    assert!(shop.line("Ruth Amsel").locked.starts_with("Locked for "));
    shop.end();
    shop.start();
    shop.done(Command::OpenJob { job });
    assert!((1..=30).contains(&locked(&shop, RUTH)), "with the right one, too");
    assert_eq!(shop.line("Jakob Specht").locked, "");
}

#[test]
fn whoever_was_taken_off_the_roster_leaves_no_pin_behind() {
    let (mut shop, job, [_, ruth]) = waiting();
    shop.done(Command::RemovePerson { person: ruth });
    assert_eq!(shop.refused(sign(job, ruth, RUTH)), RosterRefusal::Removed.into());
    assert!(shop.view().people.iter().all(|line| line.name != "Ruth Amsel"));
    shop.end();
    let store = Store::open(&shop.path(), Uuid::nil()).unwrap();
    let row = store.people().unwrap().into_iter().find(|kept| kept.person == ruth).expect("the row stays");
    assert!(row.pin.0.is_empty() && row.text.contains("Ruth Amsel"), "what was signed still has a name");
}
