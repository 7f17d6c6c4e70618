//! What the desk mends: lines that are missing when it opens a ledger, and falls of its own in the middle of work.

use super::super::{Bench, ROOM, SIGNALS};
use super::*;
use crate::hub::Hub;
use crate::near::NearSetting;
use crate::practice::MeterModel;
use crate::practice::PartModel;
use crate::practice::rehearsal::{Beside, Ledger, Setting, rehearse, seed_bytes};
use evenwire_core::job::Job;
use evenwire_core::meter::link::LinkCommand;
use evenwire_core::record::{Details, Head};
use evenwire_core::session::Batch;
use evenwire_core::unit::Stamp;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::View;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use uuid::Uuid;

thread_local! {
    /// How often this thread is yet to fall over, by place.
    static FALLS: RefCell<BTreeMap<&'static str, u32>> = const { RefCell::new(BTreeMap::new()) };
}

fn is_next(place: &str) -> bool {
    FALLS.with_borrow_mut(|falls| {
        let left = falls.get_mut(place).filter(|left| **left > 0);
        left.map(|left| *left -= 1).is_some()
    })
}

/// Panics here as often as the thread was told to.
pub(super) fn trip(place: &'static str) {
    assert!(!is_next(place), "told to fall over at {place}");
}

/// The store fails here as often as the thread was told to.
pub(super) fn fault(place: &str) -> Result<(), StoreError> {
    if is_next(place) { Err(StoreError::Damaged { what: place.into() }) } else { Ok(()) }
}

/// Does one practice job into the ledger, its line in the job list left out unless it is to be `listed`.
fn job_in(store: &mut Store, seed: u64, listed: bool) -> Job {
    let ledger = Ledger::settled(store).unwrap();
    let mut commit = |batch: &Batch| {
        let lines = if listed { batch.lines.clone() } else { Vec::new() };
        store.append(&Batch { lines, ..batch.clone() }).map_err(|e| e.to_string())
    };
    let wall = Stamp::parse("2026-03-01T08:00:00+00:00").unwrap();
    let setting = Setting { ledger, seed: seed_bytes(seed), wall, beside: Beside::default(), commit: &mut commit };
    rehearse(PartModel::first_practice(), MeterModel::default(), seed, setting).unwrap().0
}

#[test]
fn a_line_that_is_missing_is_made_again_and_no_other_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(&folder.path().join("shop.db"), Uuid::from_u128(7)).unwrap();
    let jobs = [job_in(&mut store, 1, true), job_in(&mut store, 2, false), job_in(&mut store, 3, true)];
    let (kept, _) = store.jobs("", 0, 10).unwrap();
    assert_eq!((kept.len(), store.jobs_without_line().unwrap()), (2, vec![jobs[1].id]));

    restore_lines(&mut store).unwrap();
    let whole = vec![kept[0].clone(), jobs[1].line(&Details::default()), kept[1].clone()];
    assert_eq!(store.jobs("", 0, 10).unwrap(), (whole, false));
}

/// Changes one byte of the file where these bytes stand in it.
fn decay(path: &std::path::Path, bytes: &[u8]) {
    let mut file = std::fs::read(path).unwrap();
    let at = file.windows(bytes.len()).position(|window| window == bytes).expect("they stand in one piece");
    file[at + bytes.len() / 2] ^= 1;
    std::fs::write(path, file).unwrap();
}

#[test]
fn a_job_that_is_damaged_keeps_no_other_out_of_the_list() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let mut store = Store::open(&path, Uuid::from_u128(7)).unwrap();
    let jobs = [1, 2, 3].map(|seed| job_in(&mut store, seed, false));
    let entry = store.entries_of(jobs[0].id).unwrap()[1].bytes().to_vec();
    let salt = store.details(jobs[1].id).unwrap().expect("it was opened with some").salt;
    drop(store);
    decay(&path, &entry);
    decay(&path, &salt);
    let mut store = Store::open(&path, Uuid::nil()).unwrap();
    assert!(store.entries_of(jobs[0].id).is_err() && store.details(jobs[1].id).is_err());
    restore_lines(&mut store).unwrap();
    let (lines, _) = store.jobs("", 0, 10).unwrap();
    let listed: Vec<Uuid> = lines.iter().map(|line| line.job).collect();
    assert_eq!(listed, [jobs[2].id, jobs[1].id], "one has no line; one has that of its entries");
}

/// A shop's ledger with one practice job done in it.
struct Shop {
    folder: tempfile::TempDir,
    job: Uuid,
    head: Head,
}

impl Shop {
    fn new() -> Shop {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(&folder.path().join("shop.db"), Uuid::from_u128(7)).unwrap();
        let job = job_in(&mut store, 1, true).id;
        Shop { job, head: store.head().unwrap(), folder }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("shop.db")
    }

    /// A bench with the job on it, whose thread will fall over so often at these places.
    fn bench(&self, falls: &[(&'static str, u32)]) -> Bench {
        let (messages, asks) = mpsc::channel(ROOM);
        let (signals, _) = broadcast::channel(SIGNALS);
        let (practice, _) = mpsc::channel(ROOM);
        let (wishes, _) = mpsc::channel(ROOM);
        let (none, mut desk) = (|| mpsc::channel(1).1, self.desk(practice, wishes, signals.clone()));
        let inlets = Inlets { radio: none(), practice: none(), replay: none() };
        let (views, (running, over)) = (desk.views(), watch::channel(()));
        let falls = falls.iter().copied().collect();
        assert!(matches!(desk.wish(Command::OpenJob { job: self.job }), Outcome::Done));
        std::thread::spawn(move || {
            // A slow machine lets no tick come before the first that is asked: that is to fall over, and nothing else.
            while asks.is_empty() && !asks.is_closed() {
                std::thread::yield_now();
            }
            FALLS.set(falls);
            desk.run(asks, inlets);
            drop(running);
        });
        let papers = Arc::default();
        Bench { messages, views, signals, over, papers, hub: Hub::nowhere(), near: Near::default() }
    }

    fn desk(
        &self,
        practice: mpsc::Sender<LinkCommand>,
        wishes: mpsc::Sender<PracticeWish>,
        signals: broadcast::Sender<Signal>,
    ) -> Desk {
        let outlets = Outlets { radio: None, practice, wishes, replay: None };
        Desk::open(&BenchOptions::on(self.path()), outlets, signals).unwrap()
    }

    /// Nothing was written, and the ledger is not held any more.
    fn is_as_before(&self) {
        let store = Store::open(&self.path(), Uuid::nil()).unwrap();
        assert_eq!(store.head().unwrap(), self.head);
        assert!(store.check().unwrap().is_whole());
    }
}

fn story<T>(told: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(told)
}

fn code(reply: &Reply) -> &str {
    match reply {
        Reply::Failed { notice } => &notice.code,
        Reply::Done => "done",
        Reply::Jobs { .. } => "jobs",
        other => panic!("{other:?}"),
    }
}

/// The job on the bench and the fault, as shown.
fn shown(bench: &Bench) -> (Option<Uuid>, Option<String>) {
    let view: Arc<View> = bench.views.borrow().clone();
    (view.bench.as_ref().map(|bench| bench.job.parse().unwrap()), view.fault.as_ref().map(|fault| fault.code.clone()))
}

const LIST: fn() -> Ask = || Ask::Jobs { search: String::new(), open: false, skip: 0, limit: 10 };

fn new_job() -> Ask {
    let command = Command::NewJob { order: "2107".into(), vehicle: "Yard van".into(), details: Details::default() };
    Ask::Do { command }
}

#[test]
fn wherever_the_bench_falls_over_it_goes_on_with_the_job_and_says_so() {
    for place in ["view", "jobs", "guide"] {
        let shop = Shop::new();
        let bench = shop.bench(&[(place, 1)]);
        story(async {
            assert_eq!(code(&bench.ask(LIST()).await), "started-anew", "{place}");
            assert_eq!(code(&bench.ask(LIST()).await), "jobs", "{place}: the bench is alive");
            assert_eq!(shown(&bench), (Some(shop.job), Some("started-anew".into())), "{place}");
            assert!(bench.close().await);
        });
        shop.is_as_before();
    }
}

#[test]
fn a_job_that_cannot_be_shown_or_loaded_is_put_aside_and_the_next_one_is_done() {
    for falls in [&[("view", 2)][..], &[("jobs", 1), ("load", 1)]] {
        let shop = Shop::new();
        let bench = shop.bench(falls);
        story(async {
            assert_eq!(code(&bench.ask(LIST()).await), "started-anew", "{falls:?}");
            let mut views = bench.views.clone();
            let aside = |view: &Latest| view.fault.as_ref().is_some_and(|fault| fault.code == "job-put-aside");
            let view = views.wait_for(aside).await.expect("the bench is alive").clone();
            assert_eq!(view.bench, None);
            assert_eq!(code(&bench.ask(new_job()).await), "done", "{falls:?}");
            assert!(bench.close().await);
        });
        let store = Store::open(&shop.path(), Uuid::nil()).unwrap();
        assert_eq!(store.head().unwrap().sequence, shop.head.sequence + 1);
    }
}

#[test]
fn a_bench_that_cannot_be_built_from_its_ledger_shows_nothing_and_writes_nothing() {
    for falls in [&[("jobs", 1), ("rebuild", 1)][..], &[("view", 3)], &[("jobs", 1), ("load", 1), ("rebuild", 1)]] {
        let shop = Shop::new();
        let bench = shop.bench(falls);
        story(async {
            assert_eq!(code(&bench.ask(LIST()).await), "started-anew", "{falls:?}");
            let mut views = bench.views.clone();
            let stopped = |view: &Latest| view.fault.as_ref().is_some_and(|fault| fault.code == "stopped");
            views.wait_for(stopped).await.expect("the bench is alive");
            assert_eq!(code(&bench.ask(new_job()).await), "stopped");
            assert_eq!(code(&bench.ask(Ask::Do { command: Command::OpenJob { job: shop.job } }).await), "stopped");
            assert_eq!(shown(&bench), (None, Some("stopped".into())), "{falls:?}");
            assert_eq!(code(&bench.ask(LIST()).await), "jobs", "what is recorded can be looked at");
            assert!(bench.close().await);
        });
        shop.is_as_before();
    }
}

#[test]
fn a_stopped_bench_still_speaks_the_language_it_was_told_to() {
    let shop = Shop::new();
    let bench = shop.bench(&[("jobs", 1), ("rebuild", 1)]);
    story(async {
        let german = Ask::Do { command: Command::Speak { language: Language::De } };
        assert_eq!(code(&bench.ask(german).await), "done");
        let Reply::Failed { notice } = bench.ask(LIST()).await else { panic!("it falls over") };
        assert!(notice.words.starts_with("Das Programm hatte einen eigenen Fehler"), "{}", notice.words);
        let Reply::Failed { notice } = bench.ask(new_job()).await else { panic!("nothing is done any more") };
        assert!(notice.words.starts_with("Das Programm kommt mit seinem Protokoll nicht weiter."), "{}", notice.words);
        assert_eq!(bench.language(), Language::De);
        assert!(bench.close().await);
        let Reply::Failed { notice } = bench.ask(LIST()).await else { panic!("it has ended") };
        assert_eq!((notice.code.as_str(), notice.words.as_str()), ("ended", "Das Programm wird beendet."));
    });
}

#[test]
fn a_bench_that_falls_over_whatever_is_done_ends_and_says_so() {
    let shop = Shop::new();
    let bench = shop.bench(&[("view", u32::MAX)]);
    story(async {
        assert_eq!(code(&bench.ask(LIST()).await), "started-anew");
        let mut over = bench.over.clone();
        assert!(over.changed().await.is_err(), "its thread has ended");
        assert_eq!(code(&bench.ask(LIST()).await), "ended");
        assert!(bench.close().await);
    });
    shop.is_as_before();
}

#[test]
fn a_job_that_is_opened_after_another_is_off_the_bench_until_that_is_recorded() {
    let shop = Shop::new();
    let bench = shop.bench(&[("taken-up-after-another", 1)]);
    story(async {
        let told = |command| bench.ask(Ask::Do { command });
        let mut jobs = Vec::new();
        for _ in 0..2 {
            assert_eq!(code(&told(Command::LeaveJob).await), "done");
            assert_eq!(code(&bench.ask(new_job()).await), "done");
            let procedure = "orrin-3-steering-coil".to_owned();
            assert_eq!(code(&told(Command::BeginProcedure { procedure, technician: None, pin: None }).await), "done");
            jobs.push(shown(&bench).0.expect("it is on the bench"));
        }
        assert_eq!(code(&told(Command::LeaveJob).await), "done");
        let first = Command::OpenJob { job: jobs[0] };
        assert_eq!(code(&told(first.clone()).await), "damaged");
        assert_eq!(shown(&bench).0, None, "what made it safe would be believed");
        assert_eq!(code(&told(first).await), "done");
        assert_eq!(shown(&bench).0, Some(jobs[0]));
        assert!(bench.close().await);
    });
    let entries = Store::open(&shop.path(), Uuid::nil()).unwrap().entries_after(0, u32::MAX).unwrap();
    let taken_up = entries.iter().filter(|sealed| sealed.entry().kind == "taken-up-after-another");
    assert_eq!(taken_up.count(), 1);
}

#[test]
fn a_start_that_falls_over_is_an_error_and_lets_go_of_the_ledger() {
    let shop = Shop::new();
    FALLS.set(BTreeMap::from([("view", 1)]));
    let options = || BenchOptions { radio: false, ..BenchOptions::on(shop.path()) };
    assert!(matches!(Bench::start(options()), Err(StartError::Bug)));
    let bench = Bench::start(options()).expect("only once");
    assert!(story(bench.close()));
    shop.is_as_before();
}

#[test]
fn each_fault_of_the_store_is_told_as_what_it_is() {
    let during = || "x".to_owned();
    let damaged = StoreError::Damaged { what: during() };
    let full = StoreError::Full { during: during() };
    let busy = StoreError::Busy { during: during() };
    for language in [Language::En, Language::De] {
        let written = [&full, &damaged, &busy].map(|error| faults::not_written(error, language));
        let read = [&damaged, &busy].map(|error| faults::not_read(error, language));
        assert_eq!(written.each_ref().map(|n| n.code.as_str()), ["disk-full", "damaged", "not-recorded"]);
        assert_eq!(read.each_ref().map(|n| n.code.as_str()), ["damaged", "not-read"]);
        let safe = if language == Language::En { "everything before it is safe" } else { "alles davor ist sicher" };
        assert_eq!(written.each_ref().map(|n| n.words.contains(safe)), [true, false, true]);
        assert!(read.iter().all(|n| !n.words.contains(safe)), "reading loses no step");
        let unchanged = if language == Language::En { "Nothing was changed." } else { "Nichts wurde geändert." };
        assert!(read.iter().all(|n| n.words.ends_with(unchanged)));
    }
}

/// Turns one bit of a sample of the shop's job in the file.
fn flip_a_sample(shop: &Shop) {
    let store = Store::open(&shop.path(), Uuid::nil()).unwrap();
    let payload = store.chunks_of(shop.job).unwrap()[0].payload.clone();
    drop(store);
    let mut bytes = std::fs::read(shop.path()).unwrap();
    let at = bytes.windows(payload.len()).position(|window| window == payload).unwrap();
    bytes[at + payload.len() - 1] ^= 1;
    std::fs::write(shop.path(), bytes).unwrap();
}

#[test]
fn samples_that_decayed_are_found_after_the_start_and_told_in_both_languages_while_work_goes_on() {
    let shop = Shop::new();
    flip_a_sample(&shop);
    let before = std::fs::read(shop.path()).unwrap();
    let bench = Bench::start(BenchOptions { radio: false, ..BenchOptions::on(shop.path()) }).unwrap();
    story(async {
        let told = |view: &Latest| view.fault.as_ref().is_some_and(|fault| fault.code == "not-whole");
        let mut views = bench.views.clone();
        let notice = views.wait_for(told).await.expect("the bench is alive").fault.clone().unwrap();
        assert!(notice.words.contains("1 stretches of samples") && notice.words.ends_with("Nothing was changed."));
        assert!(notice.remedy.contains("evenwire-cli rescue"), "{}", notice.remedy);
        assert_eq!(std::fs::read(shop.path()).unwrap(), before);
        assert_eq!(code(&bench.ask(new_job()).await), "done", "work goes on");
        let german = Command::Speak { language: Language::De };
        assert_eq!(code(&bench.ask(Ask::Do { command: german }).await), "done");
        let words = bench.views.borrow().fault.as_ref().map(|fault| fault.words.clone());
        assert!(
            words.is_some_and(|words| words.contains("1 Abschnitte Messwerte")),
            "it stays, in the language chosen"
        );
        assert!(bench.close().await);
    });
    let log = shop.folder.path().join("shop.db-wal");
    assert!(!log.exists(), "somebody still read the ledger when it was closed");
}

#[test]
fn a_whole_record_is_looked_at_and_nothing_is_said() {
    let shop = Shop::new();
    let (practice, wishes, signals) = (mpsc::channel(ROOM).0, mpsc::channel(ROOM).0, broadcast::channel(SIGNALS).0);
    let (messages, mut asks) = mpsc::channel(ROOM);
    let mut desk = shop.desk(practice, wishes, signals);
    desk.look_at_everything(messages.downgrade());
    let Some(Message::Looked(Ok(report))) = asks.blocking_recv() else { panic!("it says what came of it") };
    assert!(report.is_whole() && report.entries == shop.head.sequence && report.chunks > 0, "{report:?}");
    desk.looked(Ok(report));
    assert_eq!((&desk.sound.unsound, &desk.fault), (&None, &None));
}

#[test]
fn what_is_offered_ends_before_it_is_recorded_that_it_was_taken_back() {
    let shop = Shop::new();
    let (practice, wishes, signals) = (mpsc::channel(ROOM).0, mpsc::channel(ROOM).0, broadcast::channel(SIGNALS).0);
    let mut desk = shop.desk(practice, wishes, signals);
    let (_running, over) = watch::channel(());
    desk.offer_by(Near::new(NearSetting::default(), over));
    let Ask::Do { command } = new_job() else { panic!("a wish") };
    assert!(matches!(desk.wish(command), Outcome::Done));
    let job = desk.session.job().expect("a job").id;
    assert!(matches!(desk.wish(Command::ReleaseJob { job, to: String::new() }), Outcome::Done));
    desk.near.offer(job, b"the file".to_vec()).unwrap();
    desk.offer_what_is_here();
    let offered = |desk: &Desk| desk.near.standing().borrow().is_some();
    assert!(offered(&desk), "it is handed over, and lies here");
    FALLS.set(BTreeMap::from([("job-taken-back", 1)]));
    assert!(matches!(desk.wish(Command::TakeJobBack { job }), Outcome::Failed(_)));
    assert!(desk.session.job().is_some_and(|on| on.hands.away().is_some()), "it was not recorded");
    assert!(!offered(&desk), "and nobody is told yes in between");
}
