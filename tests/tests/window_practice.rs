//! A practice job in the real window: on a computer without Bluetooth, through a kill, and on a record that a newer
//! version wrote.

use evenwire_core::job::Stage;
use evenwire_core::verdict::SetVerdict;
use evenwire_store::Store;
use evenwire_tests::window::{Opening, Window, closed, job_in, signal_app};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::time::Duration;

/// How long a table may take to fill itself on a busy machine: 16 contacts, each at least 2 s.
const TABLE: Duration = Duration::from_secs(180);
/// How long the page may take to answer a key before it is pressed again.
const SOON: Duration = Duration::from_secs(10);
/// What the meter step says once a meter sends.
const CONNECTED: (&str, &str) = ("main", "Your meter shows this now?");
/// Per cent of life. Hands are quicker; how long a contact has to stand still stays as it is.
const SPEED: &str = "300";
/// What stands on the measuring screen: conductor asked for, touches as text.
const SHOWN: &str = "return {
  asked: document.querySelector('tr.now')?.dataset.conductor ?? null,
  touches: [...document.querySelectorAll('tr[data-conductor] li.digits')].map((e) => e.textContent.trim()),
};";

/// A window on a computer without Bluetooth and with quick practice hands.
fn open(folder: &Path) -> Window {
    // Without a file that names the documents of a person, reports lie beside the ledger.
    let opening = Opening::at(folder)
        .with("XDG_CONFIG_HOME", &folder.join("config").display().to_string())
        .with("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")
        .with("LC_ALL", "C.UTF-8")
        .with("EVENWIRE_PRACTICE_SPEED", SPEED);
    Window::open(&opening).expect("the window opens")
}

/// Presses the key until the page says what comes after it. A page that moves at the very moment of a click lets it
/// land beside its key, as under a finger, and a person presses again.
fn press(window: &mut Window, key: &str, (css, words): (&str, &str)) {
    window.wait_at_most(SOON).expect("the window is there");
    for _ in 0..6 {
        // The key may have gone by now, because the press before did land.
        let pressed = window.click_on("button", key);
        if pressed.is_err() {
            // A caution ends below what can be seen.
            let _none = window.click_on("button", "Read on");
        }
        if window.read(css, words).is_ok() {
            window.wait_at_most(TABLE).expect("the window is there");
            return;
        }
    }
    window.keep_picture("window-stuck").expect("a picture can be kept");
    panic!("{key:?} was pressed six times, and {css} does not say {words:?}");
}

fn says(window: &Window, css: &str, words: &str) -> String {
    window.read(css, words).expect("the words are there")
}

/// From the first screen to the practice meter's first value.
fn connect(window: &mut Window) {
    press(window, "Start a practice job", ("main", "does not replace"));
    press(window, "I have read this", ("main", "Which part lies on the bench?"));
    press(window, "Practice coil, eight conductors", ("button", "This is the part"));
    press(window, "This is the part", ("button", "Look for meters"));
    press(window, "Look for meters", ("main", "Bluetooth is not available on this computer."));
    says(window, "main", "The practice meter works without it.");
    window.keep_picture("window-no-bluetooth").expect("a picture can be kept");
    press(window, "no hardware needed", CONNECTED);
}

/// From the first screen to the one that asks for the first clip.
fn begin(window: &mut Window) {
    connect(window);
    press(window, "Use this meter", ("main", "Never put a meter on an airbag"));
    press(window, "I have read this", ("h3", "Clip conductor 1:"));
}

fn shown(window: &Window) -> (String, Vec<String>) {
    let shown = window.run(SHOWN, &[]).expect("the page is there");
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    (text(&shown["asked"]), shown["touches"].as_array().expect("a list").iter().map(text).collect())
}

#[test]
fn a_practice_job_comes_to_its_verdict_without_bluetooth_and_is_kept() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let mut window = open(folder.path());
    begin(&mut window);
    says(&window, "h3", "Every touch is taken.");
    press(&mut window, "Judge", ("main", "Conductor 4 reads too high. The part is condemned."));
    says(&window, "main", "nothing real was measured");
    window.keep_picture("window-verdict").expect("a picture can be kept");
    press(&mut window, "Finish", ("main", "What stands in the record"));
    press(&mut window, "Report as a PDF", ("main", "Kept as"));
    window.keep_picture("window-report").expect("a picture can be kept");
    window.close().expect("the window closes when asked");
    let reports = fs::read_dir(folder.path().join("reports")).expect("the folder was made");
    let report = reports.filter_map(Result::ok).next().expect("a report is in it").path();
    assert_eq!(&fs::read(&report).expect("it can be read")[..5], b"%PDF-", "{}", report.display());

    let job = job_in(folder.path());
    assert_eq!(job.touches.len(), 16);
    let given = job.verdict.as_ref().expect("the verdict is in the ledger");
    assert_eq!(given.judgement.set, SetVerdict::Fail);
    assert_eq!(job.stage(), Stage::Done);
}

#[test]
fn an_app_killed_while_measuring_goes_on_at_the_same_conductor() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let mut window = open(folder.path());
    begin(&mut window);
    says(&window, "main", "3 of 16 touches");
    let before = shown(&window);
    signal_app("-KILL", folder.path());
    drop(window);
    assert_eq!((before.0.as_str(), before.1.len()), ("1", 3), "{before:?}");

    let mut window = open(folder.path());
    press(&mut window, "Measuring: 3 of 16 touches.", ("h3", "You were about to measure conductor 2."));
    assert_eq!(shown(&window), before, "what was shown as taken is there, and the same conductor is asked for");
    window.keep_picture("window-back-again").expect("a picture can be kept");
    press(&mut window, "Connect the meter", ("main", "no hardware needed"));
    press(&mut window, "no hardware needed", CONNECTED);
    press(&mut window, "Back to the open step", ("h3", "Clip conductor 2 again:"));
    says(&window, "main", "4 of 16 touches");
    assert_eq!(shown(&window).1[..3], before.1);
    window.close().expect("the window closes when asked");
}

#[test]
fn an_app_told_to_end_writes_what_the_meter_sent_last() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let mut window = open(folder.path());
    connect(&mut window);
    signal_app("-TERM", folder.path());
    closed(folder.path()).expect("it puts its record away");
    let store = Store::open(&folder.path().join("evenwire.db"), uuid::Uuid::nil()).expect("the ledger can be opened");
    let (lines, _) = store.jobs("", 0, 10).expect("the list can be read");
    let chunks = store.chunks_of(lines[0].job).expect("the samples can be read");
    // A chunk that is still open when the app ends lacks what came since it was written, up to a second of it.
    assert!(!chunks.is_empty() && chunks.iter().all(|chunk| chunk.closed), "{chunks:?}");
}

#[test]
fn a_record_of_a_newer_version_is_left_alone_and_named() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let ledger = folder.path().join("evenwire.db");
    drop(Store::open(&ledger, uuid::Uuid::from_u128(7)).expect("a fresh ledger"));
    let mut bytes = fs::read(&ledger).expect("it is there");
    // The format stands in the file's header, four bytes from 60 on.
    bytes[60..64].copy_from_slice(&9_999_u32.to_be_bytes());
    fs::write(&ledger, &bytes).expect("it can be written");

    let window = open(folder.path());
    let said = says(&window, "[role=alert]", "A newer Evenwire wrote this record.");
    assert!(said.contains("has changed nothing in it") && said.contains("evenwire.db"), "{said}");
    window.gone("button").expect("there is nothing to press");
    window.keep_picture("window-newer-record").expect("a picture can be kept");
    window.close().expect("the window closes when asked");
    assert_eq!(fs::read(&ledger).expect("it is there"), bytes, "not one byte of it was changed");
}
