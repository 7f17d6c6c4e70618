//! What names a person is neither logged at any time nor anywhere on the disk once it was erased.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::job::{Command, Job};
use evenwire_core::record::{Clock, Details, Draft, Event};
use evenwire_core::session::Batch;
use evenwire_core::unit::{Millis, Stamp};
use evenwire_core::view::{Ask, Reply};
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_store::Store;
use image::{ImageFormat, Rgb, RgbImage};
use std::io::{Cursor, Write};
use std::path::Path;
use std::sync::{Arc, Mutex};
use tokio::runtime::Runtime;
use uuid::Uuid;

/// Everything the program logs, at every level.
#[derive(Clone, Default)]
struct Log(Arc<Mutex<Vec<u8>>>);

impl Write for Log {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn details() -> Details {
    Details {
        customer: "Marlene Sturmvogel-Quast".into(),
        phone: "0049 7711 223344".into(),
        plate: "ZZ-QX 40417".into(),
        vin: "ZZZEVENW1RE000042".into(),
        odometer: "217 384 km".into(),
        technician: "Ottokar Klemmbacke".into(),
        complaint: "Hupe stumm beim Linksabbiegen".into(),
    }
}

/// The texts that name somebody, as they were typed and as the list is searched by.
fn marks() -> Vec<Vec<u8>> {
    let Details { customer, phone, plate, vin, odometer, technician, complaint } = details();
    let texts = [customer, phone, plate, vin, odometer, technician, complaint, "…000042".into()];
    texts.iter().flat_map(|text| [text.clone(), text.to_lowercase()]).map(String::into_bytes).collect()
}

fn found_in<'m>(bytes: &[u8], marks: &'m [Vec<u8>]) -> Vec<std::borrow::Cow<'m, str>> {
    let is_there = |mark: &&Vec<u8>| bytes.windows(mark.len()).any(|window| window == mark.as_slice());
    marks.iter().filter(is_there).map(|mark| String::from_utf8_lossy(mark)).collect()
}

/// Every file of the folder the ledger lies in.
fn on_the_disk(folder: &Path) -> Vec<u8> {
    let files = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).filter(|path| path.is_file());
    files.flat_map(|path| std::fs::read(path).unwrap()).collect()
}

/// A picture that is like no other, as a page sends it.
fn picture() -> String {
    let any = |x: u32, y: u32| (x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(97_003)).wrapping_mul(x | 1) >> 9;
    let noise = RgbImage::from_fn(320, 240, |x, y| Rgb([any(x, y) as u8, any(y, x) as u8, any(x, x + y) as u8]));
    let mut png = Cursor::new(Vec::new());
    noise.write_to(&mut png, ImageFormat::Png).unwrap();
    STANDARD.encode(png.into_inner())
}

fn bench(database: &Path) -> Bench {
    Bench::start(BenchOptions { radio: false, ..BenchOptions::on(database.into()) }).expect("it starts")
}

fn tell(runtime: &Runtime, bench: &Bench, command: Command) {
    let reply = runtime.block_on(bench.ask(Ask::Do { command }));
    assert_eq!(reply, Reply::Done);
}

/// Closes the job in the ledger, as if it had been worked through.
fn finish(database: &Path, job: Uuid) {
    let mut store = Store::open(database, Uuid::nil()).unwrap();
    let mut head = store.head().unwrap();
    let (kind, body) = Event::JobFinished {}.parts();
    let wall = Stamp::parse("2026-03-01T08:00:00+00:00").unwrap();
    let (id, version, elapsed_ms) = (Uuid::from_u128(1), Event::VERSION, Millis(1));
    let draft = Draft { id, job: Some(job), kind, version, elapsed_ms, wall, clock: Clock::Ok, body };
    let mut entries = store.entries_of(job).unwrap();
    entries.push(head.seal(Uuid::nil(), draft));
    let closed = Job::from_entries(&entries).unwrap();
    let batch =
        Batch { entries: vec![entries.pop().unwrap()], lines: vec![closed.line(&details())], ..Batch::default() };
    store.append(&batch).unwrap();
}

#[test]
fn nothing_that_names_somebody_is_logged_or_left_on_the_disk() {
    let log = Log::default();
    let lines = log.clone();
    let everything = tracing_subscriber::fmt().with_max_level(tracing::Level::TRACE).with_writer(move || lines.clone());
    everything.with_ansi(false).init();
    tracing::info!("it is listened to");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("shop.db");

    let first = bench(&database);
    tell(&runtime, &first, Command::NewJob { order: "W-2041".into(), vehicle: "Kombi".into(), details: details() });
    let job = match runtime.block_on(first.listen().next()) {
        Some(evenwire_core::view::Pushed::View { view }) => view.bench.clone().unwrap().job.parse().unwrap(),
        other => panic!("{other:?}"),
    };
    let kept = runtime.block_on(first.ask(Ask::KeepPhoto { job, step: None, picture: picture() }));
    assert_eq!(kept, Reply::Done);
    let search = |text: &str| Ask::Jobs { search: text.into(), open: false, skip: 0, limit: 10 };
    assert!(matches!(runtime.block_on(first.ask(search("sturmvogel"))), Reply::Jobs { lines, .. } if lines.len() == 1));
    assert!(matches!(runtime.block_on(first.ask(Ask::Report { job, letter: false })), Reply::Paper { .. }));
    tell(&runtime, &first, Command::LeaveJob);
    assert!(runtime.block_on(first.close()));
    finish(&database, job);

    let photo = {
        let store = Store::open(&database, Uuid::nil()).unwrap();
        let photo = Job::from_entries(&store.entries_of(job).unwrap()).unwrap().photos[0].photo;
        store.picture(job, photo).unwrap().unwrap()
    };
    // Pieces of the photo from its whole length, besides the texts.
    let pieces = photo.chunks_exact(64).map(<[u8]>::to_vec).step_by(7);
    let marks: Vec<Vec<u8>> = marks().into_iter().chain(pieces).collect();
    assert!(found_in(&on_the_disk(folder.path()), &marks).len() > marks.len() / 2, "before, nearly all of it is there");

    let second = bench(&database);
    tell(&runtime, &second, Command::OpenJob { job });
    tell(&runtime, &second, Command::EraseDetails { job });
    assert_eq!(found_in(&on_the_disk(folder.path()), &marks), [""; 0], "while the program runs");
    let Some(evenwire_core::view::Pushed::View { view }) = runtime.block_on(second.listen().next()) else { panic!() };
    let shown = view.bench.clone().unwrap();
    assert!(shown.erasing.unwrap().done.contains("erased"), "the screen says so");
    assert!(
        matches!(runtime.block_on(second.ask(search("sturmvogel"))), Reply::Jobs { lines, .. } if lines.is_empty())
    );
    assert!(matches!(runtime.block_on(second.ask(search("w-2041"))), Reply::Jobs { lines, .. } if lines.len() == 1));
    assert!(runtime.block_on(second.close()));
    assert_eq!(found_in(&on_the_disk(folder.path()), &marks), [""; 0], "and after it ended");

    let store = Store::open(&database, Uuid::nil()).unwrap();
    assert!(store.check().unwrap().is_whole(), "the chain holds");
    assert_eq!(store.last_entry().unwrap().unwrap().entry().kind, "details-erased");
    let logged = log.0.lock().unwrap().clone();
    assert!(String::from_utf8_lossy(&logged).contains("it is listened to"));
    assert_eq!(found_in(&logged, &marks), [""; 0], "in the log");
}
