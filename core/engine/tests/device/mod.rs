//! Devices of a shop: benches on ledgers of their own, and a job that goes from one to another.

#![allow(dead_code, reason = "each test file uses some of it")]

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::caution::Caution;
use evenwire_core::job::{Command, MeterSpecEntry, Refusal};
use evenwire_core::part::{AtEnd, Conductor, Connector, End, Part};
use evenwire_core::record::Details;
use evenwire_core::view::{Ask, Pushed, Reply, View};
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_engine::near::NearSetting;
use image::{ImageFormat, Rgb, RgbImage};
use std::io::Cursor;
use std::path::PathBuf;
use std::process::{Command as Program, Output};
use tempfile::TempDir;
use tokio::runtime::Runtime;
use uuid::Uuid;

pub struct Device {
    pub folder: TempDir,
    pub runtime: Runtime,
    pub bench: Option<Bench>,
    near: NearSetting,
}

impl Device {
    pub fn new() -> Device {
        Device::set(NearSetting::default())
    }

    pub fn set(near: NearSetting) -> Device {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let mut device = Device { folder: tempfile::tempdir().unwrap(), runtime, bench: None, near };
        device.start();
        device
    }

    pub fn path(&self) -> PathBuf {
        self.folder.path().join("shop.db")
    }

    pub fn start(&mut self) {
        let near = self.near.clone();
        let options = BenchOptions { radio: false, near, ..BenchOptions::on(self.path()) };
        self.bench = Some(Bench::start(options).expect("it starts"));
    }

    pub fn end(&mut self) {
        let bench = self.bench.take().expect("it runs");
        assert!(self.runtime.block_on(bench.close()), "it ends in time");
    }

    pub fn ask(&self, ask: Ask) -> Reply {
        self.runtime.block_on(self.bench.as_ref().expect("it runs").ask(ask))
    }

    #[track_caller]
    pub fn done(&self, command: Command) {
        let reply = self.ask(Ask::Do { command });
        assert!(matches!(reply, Reply::Done), "{reply:?}");
    }

    pub fn view(&self) -> View {
        let mut listener = self.bench.as_ref().expect("it runs").listen();
        match self.runtime.block_on(listener.next()) {
            Some(Pushed::View { view }) => *view,
            other => panic!("{other:?}"),
        }
    }

    pub fn read(&self, text: &str) {
        self.done(Command::TypeReading { text: text.into(), confirmed: false });
    }

    /// The file of a job that was handed over.
    pub fn file(&self, job: Uuid) -> Vec<u8> {
        match self.ask(Ask::HandOver { job }) {
            Reply::Paper { name, file, .. } => {
                assert!(name.ends_with(".job.zip"), "{name}");
                STANDARD.decode(file).unwrap()
            }
            other => panic!("{other:?}"),
        }
    }

    pub fn take(&self, file: &[u8]) -> Reply {
        self.ask(Ask::TakeOver { file: STANDARD.encode(file) })
    }

    pub fn entries(&self, job: Uuid) -> Vec<evenwire_core::record::Sealed> {
        let ledger = evenwire_store::Glance::at(&self.path()).unwrap();
        ledger.entries_of(job).unwrap()
    }
}

pub fn part() -> Part {
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

pub fn meter() -> MeterSpecEntry {
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

pub fn png() -> String {
    let mut bytes = Cursor::new(Vec::new());
    RgbImage::from_pixel(40, 30, Rgb([9, 80, 200])).write_to(&mut bytes, ImageFormat::Png).unwrap();
    STANDARD.encode(bytes.into_inner())
}

/// A photo that hardly becomes smaller.
pub fn noise(seed: u64) -> String {
    let mut random = seed;
    let picture = RgbImage::from_fn(1_600, 1_200, |_, _| {
        random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        Rgb([(random >> 40) as u8, (random >> 48) as u8, (random >> 56) as u8])
    });
    let mut jpeg = Cursor::new(Vec::new());
    picture.write_to(&mut jpeg, ImageFormat::Jpeg).unwrap();
    STANDARD.encode(jpeg.into_inner())
}

/// A device with a job of which two of three conductors were read.
pub fn early() -> (Device, Uuid) {
    early_set(NearSetting::default())
}

pub fn early_set(near: NearSetting) -> (Device, Uuid) {
    let device = Device::set(near);
    let details = Details { customer: "Marlene Sturmvogel".into(), plate: "ZZ-QX 404".into(), ..Details::default() };
    device.done(Command::NewJob { order: "W-2041".into(), vehicle: "Blue estate".into(), details });
    let job = device.view().bench.unwrap().job.parse().unwrap();
    device.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    device.done(Command::DescribePart { part: part() });
    device.done(Command::UseTypedMeter { spec: meter() });
    device.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
    assert!(matches!(device.ask(Ask::KeepPhoto { job, step: None, picture: png() }), Reply::Done));
    device.read("0.35");
    device.read("0.36");
    (device, job)
}

pub fn release(device: &Device, job: Uuid) {
    device.done(Command::ReleaseJob { job, to: "late shift".into() });
}

pub fn go_on(device: &Device) {
    device.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    device.done(Command::UseTypedMeter { spec: meter() });
    device.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
}

pub fn refused(reply: Reply) -> Refusal {
    match reply {
        Reply::Refused { refusal, .. } => refusal,
        other => panic!("{other:?}"),
    }
}

pub fn cli(args: &[&str]) -> Output {
    Program::new(env!("CARGO_BIN_EXE_evenwire-cli")).args(args).env_remove("EVENWIRE_DB").output().expect("it runs")
}
