//! What the desk mends: lines that are missing when it opens a ledger, and falls of its own in the middle of work.

use super::super::{Bench, ROOM, SIGNALS};
use super::*;
use crate::practice::MeterModel;
use crate::practice::rehearsal::{Beside, Setting, rehearse, seed_bytes};
use evenwire_core::job::Job;
use evenwire_core::record::{Details, Head};
use evenwire_core::session::Batch;
use evenwire_core::unit::Stamp;
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
    let head = store.head().unwrap();
    let mut commit = |batch: &Batch| {
        let lines = if listed { batch.lines.clone() } else { Vec::new() };
        store.append(&Batch { lines, ..batch.clone() }).map_err(|e| e.to_string())
    };
    let wall = Stamp::parse("2026-03-01T08:00:00+00:00").unwrap();
    let setting = Setting { head, seed: seed_bytes(seed), wall, beside: Beside::default(), commit: &mut commit };
    rehearse(PartModel::first_practice(), MeterModel::default(), seed, setting).unwrap().0
}

#[test]
fn a_line_that_is_missing_is_made_again_and_no_other_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(&folder.path().join("shop.db"), Uuid::from_u128(7)).unwrap();
    let jobs = [job_in(&mut store, 1, true), job_in(&mut store, 2, false), job_in(&mut store, 3, true)];
    let (kept, total) = store.jobs("", 0, 10).unwrap();
    assert_eq!((total, store.jobs_without_line().unwrap()), (2, vec![jobs[1].id]));

    restore_lines(&mut store).unwrap();
    let whole = vec![kept[0].clone(), jobs[1].line(&Details::default()), kept[1].clone()];
    assert_eq!(store.jobs("", 0, 10).unwrap(), (whole, 3));
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
            FALLS.set(falls);
            desk.run(asks, inlets);
            drop(running);
        });
        let papers = Arc::default();
        Bench { messages, views, signals, over, papers }
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

const LIST: fn() -> Ask = || Ask::Jobs { search: String::new(), skip: 0, limit: 10 };

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
