//! The window opens, is its right size, and passes on what a person does.

use evenwire_tests::window::{Opening, Window};
use serde_json::json;
use std::time::Duration;

/// Width and height of a PNG, from its first chunk.
fn size_of(png: &[u8]) -> (u32, u32) {
    assert_eq!(png.get(..8), Some(&b"\x89PNG\r\n\x1a\n"[..]), "no PNG");
    let number = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().expect("four bytes"));
    (number(16), number(20))
}

fn open(folder: &tempfile::TempDir) -> Window {
    Window::open(&Opening::at(folder.path())).expect("the window opens")
}

#[test]
fn a_first_start_shows_a_window_with_a_page() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let window = open(&folder);
    window.see("main").expect("the page has a main part");
    let rect = window.rect().expect("the window is there");
    assert_eq!((rect.width, rect.height), (1100, 760));
    window.keep_picture("window").expect("a picture can be kept");
    window.close().expect("the window closes when asked");
}

#[test]
fn a_window_can_be_as_narrow_as_a_phone() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let window = open(&folder);
    window.see("main").expect("the page has a main part");
    let rect = window.resize(390, 844).expect("the window can be made small");
    assert_eq!((rect.width, rect.height), (390, 844));
    assert_eq!(size_of(&window.picture().expect("a picture")), (390, 844));
    let smaller = window.resize(200, 300).expect("the window stays at its smallest");
    assert_eq!((smaller.width, smaller.height), (360, 600));
}

#[test]
fn the_page_is_kept_from_everything_but_the_shell() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let window = open(&folder);
    window.see("main").expect("the page has a main part");
    let outside = "const l = document.createElement('script'); l.textContent = 'window.broken = true';
        document.head.append(l); return window.broken === true;";
    assert_eq!(
        window.run(outside, &[]).expect("the script runs"),
        false,
        "a script written into the page must not run"
    );
}

#[test]
fn the_page_may_call_the_shell_s_two_commands_and_none_of_the_framework_s() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let window = open(&folder);
    window.see("main").expect("the page has a main part");
    let nothing = json!({});
    for command in
        ["plugin:app|version", "plugin:window|title", "plugin:webview|internal_toggle_devtools", "plugin:path|resolve"]
    {
        let fault = window.invoke(command, &nothing).expect_err(command).to_string();
        assert!(fault.contains("not allowed"), "{command}: {fault}");
    }
    let jobs = json!({"ask": "jobs", "search": "", "skip": 0, "limit": 10});
    window.tell(&jobs).expect("its own command is answered");
}

#[test]
fn an_ask_is_answered_and_nonsense_is_not() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let window = open(&folder);
    let jobs = json!({"ask": "jobs", "search": "", "skip": 0, "limit": 10});
    let reply = window.tell(&jobs).expect("the shell reads it");
    assert_eq!(reply, json!({"reply": "jobs", "lines": [], "more": false, "words": ""}), "a fresh ledger has no jobs");
    let fault = window.tell(&json!({"ask": "forget-everything"})).expect_err("there is no such ask");
    assert!(fault.to_string().contains("forget-everything"), "{fault}");
}

#[test]
fn what_is_not_shown_is_said_with_what_is() {
    let folder = tempfile::tempdir().expect("a folder of its own");
    let mut window = open(&folder);
    window.run("document.body.innerHTML = '<main>Conductor 4 is open.</main>'", &[]).expect("the script runs");
    assert_eq!(window.read("main", "4").expect("it is there"), "Conductor 4 is open.");
    window.gone("nav").expect("there is none");
    window.wait_at_most(Duration::from_millis(200)).expect("the window is there");
    let fault = window.read("main", "5").expect_err("no such words");
    assert!(format!("{fault:#}").contains("Conductor 4 is open."), "{fault:#}");
}
