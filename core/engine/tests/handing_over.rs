//! A half-measured coil goes from the early shift's device to that of the late shift: real ledgers, real benches, a file.

mod device;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use device::{Device, refused};
use evenwire_core::caution::Caution;
use evenwire_core::claim::verify;
use evenwire_core::job::{Command, Job, MeterSpecEntry, Refusal, Stage};
use evenwire_core::part::{AtEnd, Conductor, Connector, End, Part};
use evenwire_core::record::{Details, told_of};
use evenwire_core::view::{Ask, Reply};
use evenwire_store::Store;
use image::{ImageFormat, Rgb, RgbImage};
use std::io::Cursor;
use std::path::Path;
use std::process::{Command as Program, Output};
use uuid::Uuid;

fn read(device: &Device, text: &str) {
    device.done(Command::TypeReading { text: text.into(), confirmed: false });
}

/// The file of a job that was handed over.
fn file_of(device: &Device, job: Uuid) -> Vec<u8> {
    match device.ask(Ask::HandOver { job }) {
        Reply::Paper { name, file, .. } => {
            assert!(name.ends_with(".job.zip"), "{name}");
            STANDARD.decode(file).unwrap()
        }
        other => panic!("{other:?}"),
    }
}

fn take(device: &Device, file: &[u8]) -> Reply {
    device.ask(Ask::TakeOver { file: STANDARD.encode(file) })
}

fn entries(device: &Device, job: Uuid) -> Vec<evenwire_core::record::Sealed> {
    let ledger = evenwire_store::Glance::at(&device.path()).unwrap();
    ledger.entries_of(job).unwrap()
}

fn part() -> Part {
    let end = |connector, cavity| End { connector, cavity, at: AtEnd::OpenPlug };
    let conductor = |cavity: u8| Conductor {
        name: cavity.to_string(),
        group: Some("ribbon".into()),
        from: end(0, cavity),
        to: end(1, cavity),
        drawn_only: false,
        limit: None,
    };
    let connector = |name: &str| Connector { name: name.into(), cavities: 3, rows: 1 };
    Part {
        name: "Steering coil".into(),
        connectors: vec![connector("A"), connector("B")],
        conductors: (1..=3).map(conductor).collect(),
        touches_wanted: 1,
        ceiling: None,
        bars: Vec::new(),
    }
}

fn meter() -> MeterSpecEntry {
    let text = str::to_owned;
    MeterSpecEntry {
        label: text("bench meter 2"),
        step: text("0.01"),
        accuracy_percent: text("0.8"),
        accuracy_counts: text("3"),
        top: text("2000"),
        calibration_due: String::new(),
    }
}

fn png() -> String {
    let mut bytes = Cursor::new(Vec::new());
    RgbImage::from_pixel(40, 30, Rgb([9, 80, 200])).write_to(&mut bytes, ImageFormat::Png).unwrap();
    STANDARD.encode(bytes.into_inner())
}

/// A device with a job of which two of three conductors were read.
fn early() -> (Device, Uuid) {
    let device = Device::new();
    let details = Details { customer: "Marlene Sturmvogel".into(), plate: "ZZ-QX 404".into(), ..Details::default() };
    device.done(Command::NewJob { order: "W-2041".into(), vehicle: "Blue estate".into(), details });
    let job = device.job();
    device.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    device.done(Command::DescribePart { part: part() });
    device.done(Command::UseTypedMeter { spec: meter() });
    device.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
    assert!(matches!(device.ask(Ask::KeepPhoto { job, step: None, picture: png() }), Reply::Done));
    read(&device, "0.35");
    read(&device, "0.36");
    (device, job)
}

fn release(device: &Device, job: Uuid) {
    device.done(Command::ReleaseJob { job, to: "late shift".into() });
}

fn go_on(device: &Device) {
    device.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    device.done(Command::UseTypedMeter { spec: meter() });
    device.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
}

fn whole(path: &Path) {
    let store = Store::open(path, Uuid::nil()).unwrap();
    let report = store.check().unwrap();
    assert!(report.is_whole(), "{report:?}");
}

#[test]
fn the_late_shift_sees_all_of_it_and_closes_the_job() {
    let (mut early, job) = early();
    assert!(matches!(early.ask(Ask::HandOver { job }), Reply::Refused { .. }), "not handed over yet");
    release(&early, job);
    let file = file_of(&early, job);
    assert!(verify(&file).is_ok(), "it proves itself as any claim file does");
    let mut late = Device::new();
    assert!(matches!(take(&late, &file), Reply::Done));
    let bench = late.view().bench.unwrap();
    assert_eq!((bench.order.as_str(), bench.stage, bench.photos.len()), ("W-2041", Stage::Start, 1));
    assert_eq!(bench.about.details.customer, "Marlene Sturmvogel");
    let photo = bench.photos[0].photo.clone().try_into().expect("a hash");
    assert!(matches!(late.ask(Ask::Picture { photo }), Reply::Picture { .. }));
    go_on(&late);
    read(&late, "0.35");
    late.done(Command::Judge);
    late.done(Command::Finish);
    // It can be found, printed and proved from this ledger alone.
    let found = late.ask(Ask::Jobs { search: "ZZ-QX".into(), open: false, skip: 0, limit: 10 });
    assert!(matches!(found, Reply::Jobs { lines, .. } if lines.len() == 1 && lines[0].stage == Stage::Done));
    assert!(matches!(late.ask(Ask::Report { job, letter: false }), Reply::Paper { .. }));
    let Reply::Paper { file: claim, .. } = late.ask(Ask::Claim { job, letter: false }) else { panic!("no claim") };
    let proved = verify(&STANDARD.decode(claim).unwrap()).unwrap();
    assert_eq!((proved.sealed, proved.entries, proved.unknown), (proved.entries, entries(&late, job).len() as u64, 0));
    assert!(proved.details && proved.missing.is_empty());
    let (ours, theirs) = (entries(&early, job), entries(&late, job));
    let told = told_of(&theirs);
    assert!(ours.iter().zip(&told).all(|(own, told)| own.bytes() == told.bytes()), "byte for byte");
    assert!(told.len() > ours.len());
    assert!(Job::from_entries(&theirs).unwrap().finished.is_some());
    early.end();
    late.end();
    whole(&early.path());
    whole(&late.path());
}

#[test]
fn a_file_that_is_damaged_anywhere_records_nothing() {
    let (early, job) = early();
    release(&early, job);
    let file = file_of(&early, job);
    let late = Device::new();
    let head = || evenwire_store::Glance::at(&late.path()).unwrap().head().unwrap();
    let before = head();
    for at in (0..file.len()).step_by(file.len() / 60) {
        let mut damaged = file.clone();
        damaged[at] ^= 0x40;
        let refusal = refused(take(&late, &damaged));
        assert!(matches!(refusal, Refusal::Hand { .. }), "byte {at}: {refusal:?}");
    }
    refused(take(&late, &file[..file.len() / 2]));
    refused(late.ask(Ask::TakeOver { file: "no base64 !".into() }));
    assert_eq!(head(), before, "nothing was recorded");
    assert!(matches!(take(&late, &file), Reply::Done), "and the whole one is taken all the same");
}

#[test]
fn whoever_handed_it_over_reads_it_takes_it_back_or_gets_it_back() {
    let (early, job) = early();
    release(&early, job);
    let file = file_of(&early, job);
    refused(early.tell(Command::TypeReading { text: "0.35".into(), confirmed: false }));
    assert_eq!(early.view().bench.unwrap().stage, Stage::HandedOver);
    let late = Device::new();
    assert!(matches!(take(&late, &file), Reply::Done));
    go_on(&late);
    read(&late, "0.35");
    release(&late, job);
    assert!(matches!(take(&early, &file_of(&late, job)), Reply::Done));
    go_on(&early);
    early.done(Command::Judge);
    early.done(Command::Finish);
    let refusal = refused(take(&late, &file));
    assert!(matches!(refusal, Refusal::Hand { .. }), "{refusal:?}");
}

fn cli(args: &[&str]) -> Output {
    Program::new(env!("CARGO_BIN_EXE_evenwire-cli")).args(args).env_remove("EVENWIRE_DB").output().expect("it runs")
}

#[test]
fn the_same_without_a_screen() {
    let (mut early, job) = early();
    early.done(Command::LeaveJob);
    early.end();
    let other = tempfile::tempdir().unwrap();
    let (from, to) = (early.path(), other.path().join("late.db"));
    let (from, to, job) = (from.to_str().unwrap(), to.to_str().unwrap(), job.to_string());
    let out = other.path().join("job.zip");
    let out = out.to_str().unwrap();
    let given = cli(&["handover", "--db", from, "give", &job, out, "--to", "late shift"]);
    assert!(given.status.success(), "{given:?}");
    let twice = cli(&["handover", "--db", from, "give", &job, out]);
    assert!(twice.status.code() == Some(1) && String::from_utf8_lossy(&twice.stderr).contains("there already"));
    assert!(cli(&["verify", out]).status.success());
    let taken = cli(&["handover", "--db", to, "take", out]);
    let words = String::from_utf8_lossy(&taken.stdout).into_owned();
    assert!(taken.status.success() && words.contains("W-2041") && words.contains("key"), "{taken:?}");
    let again = cli(&["handover", "--db", to, "take", out]);
    assert!(again.status.code() == Some(1) && String::from_utf8_lossy(&again.stderr).contains("here already"));
    assert!(cli(&["handover", "--db", from, "back", &job]).status.success());
    assert_eq!(cli(&["handover", "--db", from, "again", &job, out]).status.code(), Some(1));
}
