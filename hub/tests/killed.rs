//! The hub's process is killed while devices send, again and again: what it said to have stored is there.

mod shop;

use evenwire_core::record::{Event, Hash, Sealed};
use evenwire_hub::app::random_id;
use evenwire_hub::serve::examine_folder;
use evenwire_hub::storage::Storage;
use shop::process::{start, taken_in};
use shop::trusting;
use std::process::Command;

/// How often it is killed.
const KILLS: usize = 6;

#[tokio::test]
async fn what_was_acknowledged_survives_every_kill() {
    let _ = rustls::crypto::ring::default_provider().install_default();
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("hub");
    let mut phone = taken_in(&folder, None, "Bench 1").await;
    let authority = std::fs::read(folder.join("tls/authority.crt")).unwrap();
    let job = random_id();
    for conductor in 0..600 {
        phone.write(Some(job), &Event::ConductorChosen { conductor });
    }
    let mut acknowledged = 0;
    for kill in 0..KILLS {
        let mut process = start(&folder, None);
        (phone.client, phone.port) = (trusting(&authority, process.listens), process.listens.port());
        phone.sign_in().await;
        let tail = phone.tail().await.unwrap().next_sequence as usize - 1;
        assert!(tail >= acknowledged, "{tail} are there, {acknowledged} were acknowledged");
        let hash = if tail == 0 { Hash::ZERO } else { phone.ledger[tail - 1].hash() };
        assert_eq!(phone.tail().await.unwrap().hash, hash);
        // It dies while the last of these is on its way, sooner or later after it was sent.
        let mut at = tail;
        for _ in 0..=kill {
            let batch = phone.batch(&phone.ledger[at..at + 12]);
            at = phone.push(&batch).await.unwrap().stored_through as usize;
            acknowledged = at;
        }
        let batch = phone.batch(&phone.ledger[at..at + 12]);
        let request = phone.request(reqwest::Method::POST, "/v1/devices/me/entries").json(&batch);
        let sent = tokio::spawn(request.send());
        for _ in 0..kill * 40 {
            tokio::task::yield_now().await;
        }
        process.child.kill().unwrap();
        process.child.wait().unwrap();
        if sent.await.unwrap().is_ok_and(|response| response.status().is_success()) {
            acknowledged = at + 12;
        }
    }
    let found = examine_folder(&folder).await.unwrap();
    assert_eq!((found.wrong, found.lost), (vec![], vec![]));
    let storage = Storage::open(&folder).unwrap();
    let device = storage.device(phone.id).await.unwrap().unwrap();
    let there: Vec<Sealed> = storage.entries(device.number, 1, 1_000).await.unwrap();
    assert!(there.len() >= acknowledged && acknowledged >= 12 * KILLS);
    assert_eq!(there, phone.ledger[..there.len()]);
}

#[cfg(unix)]
#[tokio::test]
async fn told_to_end_it_ends_in_good_order() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("hub");
    let mut process = start(&folder, None);
    let killed = Command::new("kill").args(["-TERM", &process.child.id().to_string()]).status().unwrap();
    assert!(killed.success());
    assert!(process.child.wait().unwrap().success());
    assert_eq!(examine_folder(&folder).await.unwrap().wrong, Vec::<String>::new());
}
