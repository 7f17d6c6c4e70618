//! A half-measured coil that goes from one device to another.

#![allow(dead_code, reason = "each test file uses some of it")]

use super::device::Device;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::caution::Caution;
use evenwire_core::job::{Command, MeterSpecEntry};
use evenwire_core::part::{AtEnd, Conductor, Connector, End, Part};
use evenwire_core::record::{Details, Sealed};
use evenwire_core::view::{Ask, Reply};
use evenwire_engine::near::NearSetting;
use image::{ImageFormat, Rgb, RgbImage};
use std::io::Cursor;
use std::process::{Command as Program, Output};
use uuid::Uuid;

pub fn read(device: &Device, text: &str) {
    device.done(Command::TypeReading { text: text.into(), confirmed: false });
}

pub fn entries(device: &Device, job: Uuid) -> Vec<Sealed> {
    let ledger = evenwire_store::Glance::at(&device.path()).unwrap();
    ledger.entries_of(job).unwrap()
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
pub fn early(near: NearSetting) -> (Device, Uuid) {
    let device = Device::set(near);
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

pub fn release(device: &Device, job: Uuid) {
    device.done(Command::ReleaseJob { job, to: "late shift".into() });
}

pub fn go_on(device: &Device) {
    device.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    device.done(Command::UseTypedMeter { spec: meter() });
    device.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
}

pub fn cli(args: &[&str]) -> Output {
    Program::new(env!("CARGO_BIN_EXE_evenwire-cli")).args(args).env_remove("EVENWIRE_DB").output().expect("it runs")
}
