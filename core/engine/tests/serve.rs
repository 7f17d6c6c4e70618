//! `serve` as a page and a person at a shell meet it: a real process, a real socket, a recorded meter.

use evenwire_store::Store;
use futures::{SinkExt, StreamExt};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tokio::net::TcpStream;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Message;

/// How long anything may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(20);

/// A recording of the built-in text line meter: three values within a tenth of a second, then a long silence.
fn recording(service: &str, characteristic: &str) -> String {
    let mut text = format!("# evenwire-stream 1 {service} {characteristic} - -\n");
    for (at, value) in [(0, "+0.351"), (50, "+0.352"), (100, "+0.353"), (600_000, "+0.354")] {
        let line: String = format!("#{:<12}\r\n", format!("{value} ohm")).bytes().map(|b| format!("{b:02x}")).collect();
        text += &format!("{at} {line}\n");
    }
    text
}

/// A profile with which that recording can be read.
const TEXT_LINE: &str = include_str!("../../src/meter/profiles/text-line.toml");
const SERVICE: &str = "8d2c0001-6b1f-4f0a-9a57-2f4e5d3b7c10";
const CHARACTERISTIC: &str = "8d2c0002-6b1f-4f0a-9a57-2f4e5d3b7c10";

/// The program, serving; ended with the story.
struct Serving {
    process: Child,
    said: Vec<String>,
}

impl Drop for Serving {
    fn drop(&mut self) {
        // It may have ended by itself; either way it is gone afterwards.
        let _gone = self.process.kill();
        let _reaped = self.process.wait();
    }
}

impl Serving {
    /// Starts it with these arguments and this environment, and waits for its address.
    fn start(arguments: &[&str], env: &[(&str, &Path)]) -> Serving {
        let mut process = Command::new(env!("CARGO_BIN_EXE_evenwire-cli"))
            .args(["serve", "--no-radio"])
            .args(arguments)
            .env_remove("EVENWIRE_DB")
            .env_remove("RUST_LOG")
            // The key store of whoever runs this is not touched.
            .env("EVENWIRE_KEY", "file")
            .envs(env.iter().copied())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it starts");
        let out = BufReader::new(process.stdout.take().expect("piped"));
        let said: Vec<String> = out.lines().map_while(Result::ok).take(3).collect();
        Serving { process, said }
    }

    fn port(&self) -> u16 {
        let address = self.said.get(2).expect("it says its address").split("127.0.0.1:").nth(1).expect("a port");
        address.split('/').next().expect("before the key").parse().expect("a number")
    }

    async fn page(&self) -> WebSocketStream<TcpStream> {
        let token = self.said[2].split("token=").nth(1).expect("a key");
        let stream = TcpStream::connect(("127.0.0.1", self.port())).await.expect("it listens");
        let address = format!("ws://127.0.0.1:{}/socket?token={token}", self.port());
        tokio_tungstenite::client_async(address, stream).await.expect("the key opens").0
    }

    /// Ends it as a person or the system does. Gives its exit code and what it wrote on standard error.
    fn end(mut self) -> (Option<i32>, String) {
        let id = self.process.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &id]).status().expect("kill is there").success());
        let status = self.process.wait().expect("it ends");
        let mut wrote = String::new();
        self.process.stderr.take().expect("piped").read_to_string(&mut wrote).expect("text");
        (status.code(), wrote)
    }
}

fn story<T>(told: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    runtime.block_on(async { tokio::time::timeout(PATIENCE, told).await.expect("in time") })
}

/// The next thing said that `pick` takes.
async fn hear<T>(page: &mut WebSocketStream<TcpStream>, pick: impl Fn(&Value) -> Option<T>) -> T {
    loop {
        let heard = page.next().await.expect("it goes on").expect("it is whole");
        if let Message::Text(text) = heard
            && let Some(picked) = pick(&serde_json::from_str(&text).expect("JSON"))
        {
            return picked;
        }
    }
}

async fn say(page: &mut WebSocketStream<TcpStream>, text: &str) {
    page.send(Message::text(text)).await.expect("it is listened to");
}

/// Asks for the recorded meter and waits until its newest value is on the screen.
async fn measure(page: &mut WebSocketStream<TcpStream>) {
    say(page, &json!({"id": 1, "ask": {"ask": "do", "command": {"wish": "search-meters"}}}).to_string()).await;
    let found = |said: &Value| {
        let found = said["pushed"]["view"]["meter"]["found"].as_array()?;
        found.iter().find(|meter| meter["id"] == "replay").map(drop)
    };
    hear(page, found).await;
    let connect = json!({"wish": "connect-meter", "id": "replay"});
    say(page, &json!({"id": 2, "ask": {"ask": "do", "command": connect}}).to_string()).await;
    let all_came = |said: &Value| {
        let meter = &said["pushed"]["view"]["meter"];
        // On a busy machine the newest value may be old before it is told.
        (meter["display"]["text"] == "0.353" || meter["code"] == "stale").then_some(())
    };
    hear(page, all_came).await;
}

fn write(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, text).expect("a temporary file");
    path
}

#[test]
fn what_a_meter_sent_last_is_in_the_ledger_when_serve_was_told_to_end() {
    let folder = tempfile::tempdir().expect("a folder");
    let recorded = write(folder.path(), "coil.txt", &recording(SERVICE, CHARACTERISTIC));
    let database = folder.path().join("shop.db");
    let text = |path: &Path| path.to_str().expect("plain").to_owned();
    let serving = Serving::start(&["--db", &text(&database), "--replay", &text(&recorded)], &[]);
    let mut page = story(async {
        let mut page = serving.page().await;
        measure(&mut page).await;
        page
    });
    // Less than a second after the first of them, so that no chunk was due yet. The page stays open meanwhile.
    let (code, wrote) = serving.end();
    assert_eq!(code, Some(0), "{wrote}");
    let store = Store::open(&database, uuid::Uuid::nil()).expect("it is closed");
    assert_eq!(store.counts().expect("counted").samples, 3);
    assert!(store.check().expect("checked").is_whole());
    let is_over = async {
        while let Some(Ok(said)) = page.next().await {
            if said.is_close() {
                return;
            }
        }
    };
    story(is_over);
}

#[test]
fn an_ask_that_cannot_be_read_is_answered_under_its_number_or_ends_the_talk() {
    let folder = tempfile::tempdir().expect("a folder");
    let database = folder.path().join("shop.db");
    let serving = Serving::start(&["--db", database.to_str().expect("plain")], &[]);
    story(async {
        let mut page = serving.page().await;
        for (id, text) in [
            (7, r#"{"id": 7, "ask": {"ask": "forget-everything"}}"#),
            (8, r#"{"id": 8}"#),
            (9, r#"{"ask": {"ask": "jobs", "search": 4, "skip": 0, "limit": 1}, "id": 9}"#),
        ] {
            say(&mut page, text).await;
            let notice = hear(&mut page, |said| (said["id"] == id).then(|| said["reply"].clone())).await;
            assert_eq!((&notice["reply"], &notice["notice"]["code"]), (&"failed".into(), &"not-understood".into()));
        }
        say(&mut page, r#"{"id": 10, "ask": {"ask": "jobs", "search": "", "skip": 0, "limit": 1}}"#).await;
        let jobs = hear(&mut page, |said| (said["id"] == 10).then(|| said["reply"].clone())).await;
        assert_eq!(
            jobs,
            json!({"reply": "jobs", "lines": [], "more": false, "words": ""}),
            "the page is still listened to"
        );

        for (senseless, code) in [
            (Message::text("no JSON at all"), 1007),
            (Message::text(r#"{"id": "seven"}"#), 1007),
            (Message::binary(vec![1, 2, 3]), 1003),
        ] {
            let mut page = serving.page().await;
            page.send(senseless).await.expect("it is listened to");
            let closed = loop {
                match page.next().await.expect("an end with a reason").expect("it is whole") {
                    Message::Close(closed) => break closed.expect("a reason"),
                    _ => continue,
                }
            };
            assert_eq!(u16::from(closed.code), code);
            assert!(!closed.reason.is_empty());
        }
    });
    assert_eq!(serving.end().0, Some(0));
}

#[test]
fn a_second_serve_on_the_same_ledger_is_sent_to_the_first() {
    let folder = tempfile::tempdir().expect("a folder");
    let database = folder.path().join("shop.db");
    let first = Serving::start(&["--db", database.to_str().expect("plain")], &[]);
    assert!(first.port() > 0);
    let mut second = Serving::start(&["--db", database.to_str().expect("plain")], &[]);
    assert_eq!(second.process.wait().expect("it ends").code(), Some(1));
    let mut wrote = String::new();
    second.process.stderr.take().expect("piped").read_to_string(&mut wrote).expect("text");
    assert!(wrote.contains("another Evenwire has") && wrote.contains("open: close it there"), "{wrote}");
    assert_eq!(first.end().0, Some(0));
}

#[cfg(target_os = "linux")]
#[test]
fn without_a_name_the_ledger_is_the_window_s() {
    let folder = tempfile::tempdir().expect("a folder");
    let (share, named) = (folder.path().join("share"), folder.path().join("van").join("named.db"));
    let own = share.join("works.evenwire.bench").join("evenwire.db");
    let asked = folder.path().join("asked.db");
    let asked_for: &[&str] = &["--db", asked.to_str().expect("plain")];
    for (arguments, override_name, kept) in
        [(&[][..], Path::new(""), &own), (&[], named.as_path(), &named), (asked_for, named.as_path(), &asked)]
    {
        let serving = Serving::start(arguments, &[("XDG_DATA_HOME", &share), ("EVENWIRE_DB", override_name)]);
        assert_eq!(serving.said[0], format!("The record is kept in {}.", kept.display()));
        assert_eq!(serving.end().0, Some(0));
        assert!(kept.is_file());
    }
}

#[test]
fn own_profiles_beside_the_ledger_are_used_and_a_bad_one_is_told_and_passed_over() {
    let folder = tempfile::tempdir().expect("a folder");
    let (service, characteristic) = (SERVICE.replace("8d2c", "5e11"), CHARACTERISTIC.replace("8d2c", "5e11"));
    let recorded = write(folder.path(), "coil.txt", &recording(&service, &characteristic));
    let profiles = folder.path().join("profiles");
    std::fs::create_dir(&profiles).expect("a folder");
    let mine = TEXT_LINE.replace("8d2c", "5e11").replace("Text line meter", "Stores cupboard meter");
    write(&profiles, "mine.toml", &mine);
    let bad = write(&profiles, "bad.toml", &mine.replace("format = 1", "format = 9"));
    let database = folder.path().join("shop.db");
    let text = |path: &Path| path.to_str().expect("plain").to_owned();
    let serving = Serving::start(&["--db", &text(&database), "--replay", &text(&recorded)], &[]);
    story(async { measure(&mut serving.page().await).await });
    let (code, wrote) = serving.end();
    assert_eq!(code, Some(0), "{wrote}");
    let line = 1 + mine.lines().position(|line| line.starts_with("format = ")).expect("there");
    let told: Vec<&str> = wrote.lines().filter(|line| line.contains("a meter profile is passed over")).collect();
    assert_eq!(told.len(), 1, "{wrote}");
    assert!(told[0].contains(&format!("{}:{line}:", bad.display())), "{wrote}");
}
