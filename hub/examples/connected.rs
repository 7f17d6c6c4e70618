//! How much memory a hub takes with many devices connected at once: the real program as a process of its own, what it
//! holds while they only are connected, and the most it held while all of them sent at the same moment.
//!
//! `connected PROGRAM [devices …]`: 10, 100 and 1000 without. Linux tells what a process holds.

#[path = "../tests/shop/mod.rs"]
mod shop;

use anyhow::{Context, Result};
use evenwire_core::record::{Event, Hash, StepFact};
use evenwire_core::sync::MOST_ENTRIES;
use evenwire_core::unit::BootId;
use evenwire_hub::app::random_id;
use evenwire_hub::storage::{Issue, Storage};
use reqwest::Method;
use shop::process::{Process, machine, start_program, taken_in};
use shop::{Phone, done};
use std::path::{Path, PathBuf};

/// Bytes of a photo.
const PHOTO: usize = 1_000_000;
/// Until when tokens are good, ms since 1970: longer than this runs.
const LATE: i64 = 4_000_000_000_000;

#[tokio::main]
async fn main() -> Result<()> {
    let _ = rustls::crypto::ring::default_provider().install_default();
    let program = PathBuf::from(std::env::args_os().nth(1).context("the program of the hub")?);
    let mut counts: Vec<usize> = std::env::args().filter_map(|text| text.parse().ok()).collect();
    if counts.is_empty() {
        counts = vec![10, 100, 1_000];
    }
    println!(
        "{:<10}{:>12}{:>14}{:>22}{:>22}",
        "devices", "alone, MB", "connected", "500 entries each, most", "a photo each, most"
    );
    for count in counts {
        let place = tempfile::tempdir()?;
        let phones = phones(place.path(), count).await?;
        let hub = start_program(&program, place.path(), None);
        let alone = held(&hub, "VmRSS:")?;
        let phones = each(phones, &hub, async |phone| {
            let _ = phone.tail().await.expect("it is told");
        })
        .await?;
        let connected = held(&hub, "VmRSS:")?;
        let phones = each(phones, &hub, async |phone| {
            let _ = phone.push_from(1).await.expect("it is taken");
        })
        .await?;
        let entries = held(&hub, "VmHWM:")?;
        forget_the_most(&hub)?;
        each(phones, &hub, async |phone| {
            let photo = photo(phone);
            let path = format!("/v1/blobs/{}", Hash::of(&photo));
            done(phone.request(Method::PUT, &path).body(photo)).await.expect("it is taken");
        })
        .await?;
        let photos = held(&hub, "VmHWM:")?;
        println!("{count:<10}{alone:>12.1}{connected:>14.1}{entries:>22.1}{photos:>22.1}");
    }
    println!("({})", machine());
    Ok(())
}

fn photo(phone: &Phone) -> Vec<u8> {
    let mut photo = vec![7; PHOTO];
    photo[..16].copy_from_slice(phone.id.as_bytes());
    photo
}

/// Devices that were taken in, each with a batch of entries and a photo, and with a token.
async fn phones(folder: &Path, count: usize) -> Result<Vec<Phone>> {
    let mut phones = Vec::new();
    for number in 0..count {
        let mut phone = taken_in(folder, None, &format!("Bench {number}")).await;
        let job = phone.open_job("W-1", &Default::default()).job;
        let photo = photo(&phone);
        phone.take_photo(job, &photo);
        while phone.ledger.len() < MOST_ENTRIES {
            let (step, boot) = ("read-the-codes".to_owned(), BootId("one run".to_owned()));
            phone.write(Some(job), &Event::StepSkipped(StepFact { step, boot, said: "a".repeat(280) }));
        }
        phones.push(phone);
    }
    let storage = Storage::open(folder)?;
    for phone in &mut phones {
        let device = storage.device(phone.id).await?.context("it was taken in")?.number;
        phone.token = random_id().to_string();
        let token = (Hash::of(phone.token.as_bytes()), LATE);
        let issued = storage.issue(Issue { device, assertion: (random_id(), LATE), token, at_ms: 1 }).await?;
        anyhow::ensure!(issued.is_ok(), "a token is given");
    }
    Ok(phones)
}

/// All of them at once.
async fn each(
    phones: Vec<Phone>,
    hub: &Process,
    does: impl AsyncFn(&Phone) + Copy + Send + Sync + 'static,
) -> Result<Vec<Phone>> {
    let local = tokio::task::LocalSet::new();
    let port = hub.listens.port();
    local
        .run_until(async move {
            let at_once: Vec<_> = phones
                .into_iter()
                .map(|mut phone| {
                    phone.port = port;
                    tokio::task::spawn_local(async move {
                        does(&phone).await;
                        phone
                    })
                })
                .collect();
            let mut phones = Vec::new();
            for one in at_once {
                phones.push(one.await?);
            }
            Ok(phones)
        })
        .await
}

/// What the process holds, MB.
fn held(hub: &Process, what: &str) -> Result<f64> {
    let said = std::fs::read_to_string(format!("/proc/{}/status", hub.child.id()))?;
    let line = said.lines().find_map(|line| line.strip_prefix(what)).context("Linux tells it")?;
    let kilobytes: f64 = line.trim().trim_end_matches(" kB").parse()?;
    Ok(kilobytes / 1_000.0)
}

/// The most it held counts from now on.
fn forget_the_most(hub: &Process) -> Result<()> {
    Ok(std::fs::write(format!("/proc/{}/clear_refs", hub.child.id()), "5")?)
}
