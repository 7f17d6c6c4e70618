//! A job goes from device to device over the network: real benches, real TLS on this machine's own address, and lines and
//! strangers that are as bad as lines and strangers are.

mod coil;
mod device;
mod stranger;

use coil::{cli, early, entries, go_on, noise, read, release};
use device::{Device, refused};
use evenwire_core::job::{Command, Refusal, Stage};
use evenwire_core::record::{Details, told_of};
use evenwire_core::sync::Offer;
use evenwire_core::unit::Millis;
use evenwire_core::view::{Ask, OfferView, Reply, View};
use evenwire_engine::near::NearSetting;
use std::io::{BufRead, BufReader};
use std::net::{IpAddr, Ipv4Addr, TcpStream};
use std::process::{Command as Program, Stdio};
use stranger::{Line, Stranger};
use uuid::Uuid;

/// At the address of this machine alone, so that no other network is needed.
fn here() -> NearSetting {
    NearSetting { addresses: Some(vec![IpAddr::V4(Ipv4Addr::LOCALHOST)]), ..NearSetting::default() }
}

/// Takes over, and has little patience with a device that says nothing.
fn late() -> Device {
    Device::set(NearSetting { silence: Millis(400), ..here() })
}

fn offer_in(view: &View) -> Option<&OfferView> {
    view.bench.as_ref().and_then(|bench| bench.hand.offer.as_ref())
}

/// How the offer stands, as soon as it stands like this.
fn stands(device: &Device, state: &str) -> OfferView {
    let view = device.until(|view| offer_in(view).is_some_and(|offer| offer.state == state));
    offer_in(&view).expect("asked for").clone()
}

/// It is offered now. Whoever is answered sees what was so by then.
#[track_caller]
fn is_open(device: &Device) -> OfferView {
    device.ask(Ask::Shop);
    let offer = offer_in(&device.view()).cloned().expect("offered");
    assert_eq!(offer.state, "open");
    offer
}

/// It is not offered now.
#[track_caller]
fn stands_nowhere(device: &Device) {
    device.ask(Ask::Shop);
    assert_eq!(offer_in(&device.view()), None);
}

/// Offers the job; what stands on the screen.
fn offers(device: &Device, job: Uuid) -> Offer {
    let reply = device.ask(Ask::Offer { job });
    assert!(matches!(reply, Reply::Done), "{reply:?}");
    Offer::read(&stands(device, "open").text).expect("an offer")
}

/// A device that handed its job over and offers it.
fn giver() -> (Device, Uuid, Offer) {
    let (device, job) = early(here());
    release(&device, job);
    let offer = offers(&device, job);
    (device, job, offer)
}

fn take(device: &Device, offer: &Offer) -> Reply {
    device.ask(Ask::TakeOffer { text: offer.text() })
}

#[track_caller]
fn failed(reply: Reply) -> String {
    match reply {
        Reply::Failed { notice } => notice.code,
        other => panic!("{other:?}"),
    }
}

/// Nothing of a job came here.
#[track_caller]
fn has_nothing(device: &Device, job: Uuid) {
    assert_eq!(entries(device, job).len(), 0, "something was recorded");
}

fn with(offer: &Offer, address: String) -> Offer {
    Offer { addresses: vec![address], ..offer.clone() }
}

#[test]
fn the_late_shift_fetches_it_and_the_early_shift_sees_that_it_was_handed_out() {
    let (mut early, job, offer) = giver();
    let shown = stands(&early, "open");
    assert!(shown.words.contains("Waits for the other device until ") && shown.fields >= 21, "{}", shown.words);
    assert!(shown.path.starts_with("M0 0h7v1h-7z"));
    let mut late = late();
    let before = entries(&early, job);
    assert!(matches!(take(&late, &offer), Reply::Done));
    let bench = late.view().bench.unwrap();
    assert_eq!((bench.order.as_str(), bench.stage, bench.photos.len()), ("W-2041", Stage::Start, 1));
    assert!(!bench.hand.taken_over.is_empty(), "it is told what is not safe");
    let out = stands(&early, "handed-out");
    assert!(out.words.contains("Handed out at ") && out.words.contains("does not prove"), "{}", out.words);
    assert_eq!((out.text.as_str(), out.path.as_str()), ("", ""), "no code is shown any more");
    assert!(early.view().bench.unwrap().stage == Stage::HandedOver, "it stays handed over");
    assert_eq!(entries(&early, job).len(), before.len(), "offering is nothing that is recorded");
    let theirs = entries(&late, job);
    let told = told_of(&theirs);
    assert!(before.iter().zip(&told).all(|(own, told)| own.bytes() == told.bytes()), "byte for byte");
    // One code, one device.
    let second = self::late();
    let code = failed(take(&second, &offer));
    assert!(code == "offer-unreachable" || code == "offer-over", "{code}");
    has_nothing(&second, job);
    go_on(&late);
    read(&late, "0.35");
    early.end();
    late.end();
}

#[test]
fn two_who_fetch_at_once_never_both_have_it() {
    let (early, job, offer) = giver();
    let both = [late(), late()];
    let came = std::thread::scope(|scope| {
        let taking = both.each_ref().map(|device| scope.spawn(|| matches!(take(device, &offer), Reply::Done)));
        taking.map(|taking| taking.join().unwrap())
    });
    assert_eq!(came.iter().filter(|done| **done).count(), 1, "{came:?}");
    for (device, done) in both.iter().zip(came) {
        assert_eq!(entries(device, job).is_empty(), !done);
    }
    stands(&early, "handed-out");
}

#[test]
fn wrong_codes_get_nothing_and_five_end_it() {
    let (early, job, offer) = giver();
    let late = late();
    let wrong = Offer { code: "0000000000".into(), ..offer.clone() };
    for _ in 0..4 {
        assert_eq!(failed(take(&late, &wrong)), "offer-over");
    }
    // Four are too few.
    is_open(&early);
    assert_eq!(failed(take(&late, &wrong)), "offer-over");
    let over = stands(&early, "over");
    assert!(over.words.contains("wrong codes"), "{}", over.words);
    let code = failed(take(&late, &offer));
    assert!(code == "offer-unreachable" || code == "offer-over", "the right one is too late: {code}");
    has_nothing(&late, job);
    // A new offer has a new code, and is as good as the first.
    assert!(matches!(take(&late, &offers(&early, job)), Reply::Done));
}

#[test]
fn whoever_does_not_have_the_certificate_is_told_no_code_and_believed_nothing() {
    let (early, job, offer) = giver();
    let late = late();
    let stranger = Stranger::that_answers(b"HTTP/1.1 200 OK\r\ncontent-length: 2\r\n\r\nno".to_vec());
    assert_eq!(failed(take(&late, &with(&offer, stranger.address()))), "offer-certificate");
    assert_eq!(stranger.heard(), "", "nothing was said to it");
    let of_stranger = Offer { certificate: stranger.offer("x").certificate, ..offer.clone() };
    assert_eq!(failed(take(&late, &of_stranger)), "offer-certificate", "the right device, another certificate");
    has_nothing(&late, job);
    // Where one of two addresses is somebody else's, the other one is asked.
    let two = Offer { addresses: vec![stranger.address(), offer.addresses[0].clone()], ..offer };
    assert!(matches!(take(&late, &two), Reply::Done));
    assert_eq!(stranger.heard(), "");
    stands(&early, "handed-out");
}

#[test]
fn a_line_that_is_cut_anywhere_costs_nothing_but_another_try() {
    let (early, job, offer) = giver();
    let late = late();
    // In the handshake, after it, in the head of the answer, and in the file.
    for bytes in [0, 200, 1_200, 4_000, 12_000] {
        let line = Line::cut_after(bytes, &offer.addresses[0]);
        assert_eq!(failed(take(&late, &with(&offer, line.address()))), "offer-unreachable", "cut after {bytes}");
        has_nothing(&late, job);
        is_open(&early);
    }
    let whole = Line::cut_after(usize::MAX, &offer.addresses[0]);
    assert!(matches!(take(&late, &with(&offer, whole.address())), Reply::Done));
    assert!(whole.carried() > 12_000, "the cuts above were in the middle: {}", whole.carried());
}

#[test]
fn the_giver_ends_it_in_the_middle_and_the_other_keeps_nothing() {
    let (early, job) = early(here());
    // More than lies on a line that nobody reads at its other end.
    for seed in 0..8 {
        let picture = noise(seed);
        assert!(matches!(early.ask(Ask::KeepPhoto { job, step: None, picture }), Reply::Done));
    }
    release(&early, job);
    let offer = offers(&early, job);
    let late = late();
    let line = Line::held_after(40_000, &offer.addresses[0]);
    let through = with(&offer, line.address());
    std::thread::scope(|scope| {
        let taking = scope.spawn(|| failed(take(&late, &through)));
        early.until(|view| offer_in(view).is_some_and(|offer| offer.words.contains("is fetching")));
        assert!(matches!(early.ask(Ask::EndOffer), Reply::Done));
        stands_nowhere(&early);
        line.let_go();
        assert_eq!(taking.join().unwrap(), "offer-unreachable");
    });
    has_nothing(&late, job);
    assert!(matches!(take(&late, &offers(&early, job)), Reply::Done), "offered anew");
}

#[test]
fn a_fetch_that_came_too_late_to_be_kept_is_not_kept() {
    let (early, job, offer) = giver();
    let late = late();
    // All of the file arrives, but the second question does not.
    let line = Line::held_after(usize::MAX, &offer.addresses[0]).without_second_request();
    let through = with(&offer, line.address());
    assert_eq!(failed(take(&late, &through)), "offer-unreachable");
    has_nothing(&late, job);
    is_open(&early);
}

#[test]
fn what_is_taken_back_left_or_ended_is_offered_no_more() {
    let (mut early, job, offer) = giver();
    let late = late();
    early.done(Command::TakeJobBack { job });
    stands_nowhere(&early);
    failed(take(&late, &offer));
    assert!(matches!(early.ask(Ask::Offer { job }), Reply::Refused { .. }), "it is here");
    release(&early, job);
    let again = offers(&early, job);
    assert_ne!(again.code, offer.code);
    early.done(Command::LeaveJob);
    failed(take(&late, &again));
    early.done(Command::OpenJob { job });
    stands_nowhere(&early);
    let last = offers(&early, job);
    let address = last.addresses[0].clone();
    assert!(TcpStream::connect(&address).is_ok());
    early.end();
    assert!(TcpStream::connect(&address).is_err(), "nobody listens when the bench has ended");
    failed(take(&late, &last));
    has_nothing(&late, job);
}

#[test]
fn a_second_code_takes_the_place_of_the_first() {
    let (early, job, first) = giver();
    let second = {
        assert!(matches!(early.ask(Ask::Offer { job }), Reply::Done));
        let other = |offer: &OfferView| offer.state == "open" && offer.text != first.text();
        let view = early.until(|view| offer_in(view).is_some_and(other));
        Offer::read(&offer_in(&view).unwrap().text).unwrap()
    };
    let late = late();
    failed(take(&late, &first));
    assert!(matches!(take(&late, &second), Reply::Done));
}

#[test]
fn when_its_time_is_over_no_code_is_shown_any_more() {
    let (early, job) = early(NearSetting { lasts: Millis(0), ..here() });
    release(&early, job);
    assert!(matches!(early.ask(Ask::Offer { job }), Reply::Done));
    let over = stands(&early, "over");
    assert!(over.words.contains("Time is up") && over.text.is_empty(), "{}", over.words);
}

#[test]
fn a_device_that_says_nothing_too_much_or_something_else_is_left() {
    let late = late();
    let silent = Stranger::that_answers(Vec::new());
    assert_eq!(failed(take(&late, &silent.offer("7K2M9QXTB0"))), "offer-unreachable", "it listens and says nothing");
    let slow = Stranger::that_answers(b"HTTP/1.1 200 OK\r\ncontent-length: 100000\r\n\r\nPK".to_vec());
    assert_eq!(failed(take(&late, &slow.offer("7K2M9QXTB0"))), "offer-unreachable", "it begins and stops");
    assert!(slow.heard().contains("Bearer 7K2M9QXTB0"), "whoever has the certificate is told the code");
    let large = Stranger::that_answers(b"HTTP/1.1 200 OK\r\ncontent-length: 67108865\r\n\r\nPK".to_vec());
    assert_eq!(failed(take(&late, &large.offer("c"))), "offer-not-understood", "more than is taken");
    let endless = Stranger::without_end();
    assert_eq!(failed(take(&late, &endless.offer("c"))), "offer-not-understood", "without an end");
    let other = Stranger::that_answers(b"HTTP/1.1 302 Found\r\nlocation: /\r\ncontent-length: 0\r\n\r\n".to_vec());
    assert_eq!(failed(take(&late, &other.offer("c"))), "offer-not-understood");
    let junk = Stranger::that_answers(b"HTTP/1.1 200 OK\r\ncontent-length: 5\r\n\r\nPK no".to_vec());
    let refusal = refused(take(&late, &junk.offer("c")));
    assert!(matches!(refusal, Refusal::Hand { .. }), "{refusal:?}");
    assert_eq!(junk.heard().matches("HTTP/1.1").count(), 1, "what is no job is not asked for: {}", junk.heard());
    assert_eq!(late.view().bench, None);
}

#[test]
fn nobody_there_and_addresses_of_elsewhere() {
    let late = late();
    let gone = {
        let listener = std::net::TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        listener.local_addr().unwrap().to_string()
    };
    let offer = Stranger::that_answers(Vec::new()).offer("c");
    assert_eq!(failed(take(&late, &with(&offer, gone))), "offer-unreachable");
    for far in ["203.0.113.9:443", "[2001:db8::9]:443", "[::ffff:203.0.113.9]:443", "0.0.0.0:443"] {
        assert_eq!(failed(take(&late, &with(&offer, far.into()))), "offer-far", "{far}");
    }
    let one_far = Offer { addresses: vec![offer.addresses[0].clone(), "203.0.113.9:443".into()], ..offer.clone() };
    assert_eq!(failed(take(&late, &one_far)), "offer-far");
    assert_eq!(failed(take(&late, &with(&offer, "localhost:443".into()))), "offer-not-whole", "no name is looked up");
    let ask = |text: &str| failed(late.ask(Ask::TakeOffer { text: text.into() }));
    assert_eq!(ask("evenwire:hub/1/eyJ"), "offer-none");
    assert_eq!(ask(&offer.text()[..90]), "offer-not-whole");
}

#[test]
fn a_bench_with_another_job_on_it_asks_for_nothing_that_is_given_once() {
    let (early, job, offer) = giver();
    let late = late();
    late.done(Command::NewJob { order: "W-3000".into(), vehicle: String::new(), details: Details::default() });
    assert!(matches!(refused(take(&late, &offer)), Refusal::BenchTaken));
    has_nothing(&late, job);
    is_open(&early);
    late.done(Command::LeaveJob);
    assert!(matches!(take(&late, &offer), Reply::Done));
}

#[test]
fn strangers_who_hold_the_line_and_say_nothing_do_not_reach_the_bench() {
    let (early, job, offer) = giver();
    let silent: Vec<TcpStream> = (0..200).filter_map(|_| TcpStream::connect(&offer.addresses[0]).ok()).collect();
    assert!(silent.len() > 100, "they came in: {}", silent.len());
    early.done(Command::Speak { language: evenwire_core::verdict::words::Language::En });
    assert!(matches!(early.ask(Ask::Report { job, letter: false }), Reply::Paper { .. }), "files can still be opened");
    let late = late();
    failed(take(&late, &offer));
    drop(silent);
    // Their places are free as soon as the device has seen that they left.
    let came = (0..200).any(|_| matches!(take(&late, &offer), Reply::Done));
    assert!(came);
}

#[test]
fn the_same_without_a_screen() {
    let (mut early, job) = early(here());
    early.done(Command::LeaveJob);
    early.end();
    let other = tempfile::tempdir().unwrap();
    let (from, to, job) = (early.path(), other.path().join("late.db"), job.to_string());
    let mut giving = Program::new(env!("CARGO_BIN_EXE_evenwire-cli"))
        .args([
            "handover",
            "--db",
            from.to_str().unwrap(),
            "offer",
            &job,
            "--to",
            "late shift",
            "--address",
            "127.0.0.1",
        ])
        .env_remove("EVENWIRE_DB")
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = BufReader::new(giving.stdout.take().unwrap()).lines().map(Result::unwrap);
    let text = said.find(|line| line.starts_with("evenwire:job/1/")).expect("the text");
    let taken = cli(&["handover", "--db", to.to_str().unwrap(), "fetch", &text]);
    let words = String::from_utf8_lossy(&taken.stdout).into_owned();
    assert!(taken.status.success() && words.contains("W-2041") && words.contains("key"), "{taken:?}");
    assert!(said.any(|line| line.starts_with("Handed out at ")));
    assert!(giving.wait().unwrap().success());
    let again = cli(&["handover", "--db", to.to_str().unwrap(), "fetch", &text]);
    assert!(again.status.code() == Some(1) && String::from_utf8_lossy(&again.stderr).contains("does not answer"));
}
