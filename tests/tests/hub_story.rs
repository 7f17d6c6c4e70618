//! Devices and the hub of one shop, both real: what is said to be safe at the shop is there.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::Stage;
use evenwire_core::record::{Event, Hash};
use evenwire_core::sync::Change;
use evenwire_core::view::Ask;
use evenwire_hub::copy::copy_hub;
use evenwire_store::{Delivery, Glance, restore};
use evenwire_tests::hub_yard::{Device, Office, story};
use std::path::Path;
use std::sync::atomic::Ordering;
use uuid::Uuid;

/// The photos a job's entries name.
fn photos(path: &Path, job: Uuid) -> Result<Vec<Hash>> {
    let read = |sealed: &evenwire_core::record::Sealed| {
        let entry = sealed.entry();
        match entry.event() {
            Some(Event::PhotoTaken(fact)) => Some(fact.photo),
            _ => None,
        }
    };
    Ok(Glance::at(path)?.entries_of(job)?.iter().filter_map(read).collect())
}

/// All jobs are marked, and safe or not.
async fn marks(device: &Device) -> Result<Vec<bool>> {
    let lines = device.lines().await?;
    lines.into_iter().map(|line| Ok(line.at_shop.context("a job without a mark")?.safe)).collect()
}

#[test]
fn a_device_is_taken_in_after_both_looked_and_its_jobs_are_safe_once_they_are_there() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let bench = Device::practised(folder.join("bench.db"), 3)?;
        assert!(bench.lines().await?.iter().all(|line| line.at_shop.is_none()), "paired with nobody");
        assert!(!Delivery::is_there(&bench.path)?, "nothing is kept of a hub that nobody named");
        let pair =
            |invitation: &str, name: &str| Ask::PairWithShop { invitation: invitation.into(), name: name.into() };
        assert_eq!(bench.failed(pair("evenwire", "Bench 2")).await?.code, "hub-no-invitation");
        let text = office.invitation().await?;
        assert_eq!(bench.failed(pair(&text[..60], "Bench 2")).await?.code, "hub-invitation-not-whole");
        assert_eq!(bench.failed(pair(&text, " ")).await?.code, "hub-name");
        assert_eq!(bench.failed(Ask::SendToShop).await?.code, "hub-not-paired");

        bench.done(pair(&text, "Bench 2")).await?;
        office.decide(false).await?;
        bench.trouble("hub-refused").await?;
        assert_eq!(bench.failed(pair(&text, "Bench 2")).await?.code, "hub-refused", "asked again with the same code");

        bench.pair(&office, "Bench 2").await?;
        bench.complete().await?;
        office.has_all_of(&bench.path).await?;
        assert_eq!(marks(&bench).await?, [true]);

        let job = bench.job_with_photos("W-2041", 3).await?;
        let lines = bench.lines().await?;
        assert!(!lines[0].at_shop.as_ref().unwrap().safe, "nobody sent it");
        assert!(lines[1].at_shop.as_ref().unwrap().safe, "the other one still is");
        bench.complete().await?;
        office.has_all_of(&bench.path).await?;
        assert_eq!(marks(&bench).await?, [true, true]);
        let photos = photos(&bench.path, job)?;
        assert_eq!(photos.len(), 3);
        for photo in photos {
            office.has_photo(photo).await?;
        }
        assert_eq!(bench.one_more_photo(job).await?, (true, false), "what was there is, the new photo is not");
        assert_eq!(marks(&bench).await?, [false, true]);
        bench.sent().await?;
        office.has_all_of(&bench.path).await?;
        Ok(())
    });
}

#[test]
fn whatever_is_cut_or_ended_on_the_way_everything_arrives_and_nothing_is_safe_before() {
    let seed = std::env::var("EVENWIRE_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(20_261_126);
    println!("EVENWIRE_SEED={seed}");
    story(async |folder| {
        let mut office = Office::open(folder.join("hub")).await?;
        let mut bench = Device::practised(folder.join("bench.db"), 4)?;
        bench.pair(&office, "Bench 2").await?;
        bench.complete().await?;
        for turn in 0..6 {
            office.line.cut_by(seed + turn);
            bench.job_with_photos(&format!("W-{turn}"), 8).await?;
            for again in 0..12 {
                // Cut, or through: both are told.
                if bench.sent().await.is_ok() {
                    break;
                }
                match (turn + again) % 5 {
                    0 => {
                        bench.end().await?;
                        bench.start()?;
                        bench.until("paired still", |view| (view.hub.state == "paired").then_some(())).await?;
                    }
                    3 => {
                        office.switch_off().await;
                        office.switch_on().await?;
                    }
                    _ => {}
                }
                let safe = marks(&bench).await?.first().copied();
                ensure!(safe != Some(true) || office.has_all_of(&bench.path).await.is_ok(), "safe, and it is not");
            }
        }
        ensure!(office.line.cuts.load(Ordering::SeqCst) >= 6, "nothing was cut: {:?}", office.line.cuts);
        office.line.cut_by(0);
        bench.complete().await?;
        office.has_all_of(&bench.path).await?;
        assert!(marks(&bench).await?.into_iter().all(|safe| safe));
        Ok(())
    });
}

#[test]
fn a_hub_that_lost_its_disk_and_got_an_older_copy_back_is_sent_everything_again() {
    story(async |folder| {
        let mut office = Office::open(folder.join("hub")).await?;
        let bench = Device::practised(folder.join("bench.db"), 5)?;
        bench.pair(&office, "Bench 2").await?;
        bench.complete().await?;
        office.switch_off().await;
        // Its database may still be closing: copied as one that is in use.
        copy_hub((&folder.join("hub"), None), &folder.join("kept")).await?;
        office.switch_on().await?;
        bench.job_with_photos("W-2041", 2).await?;
        bench.complete().await?;
        office.switch_off().await;
        std::fs::remove_dir_all(folder.join("hub"))?;
        copy_hub((&folder.join("kept"), None), &folder.join("hub")).await?;
        office.switch_on().await?;
        assert!(office.has_all_of(&bench.path).await.is_err(), "it lacks the last job");
        bench.done(Ask::SendToShop).await?;
        bench.until("sent again", |view| view.hub.progress.contains("sent again").then_some(())).await?;
        bench.complete().await?;
        office.has_all_of(&bench.path).await?;
        Ok(())
    });
}

#[test]
fn a_ledger_that_was_put_back_is_safe_nowhere_until_the_shop_takes_it_in_anew() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let mut bench = Device::practised(folder.join("bench.db"), 6)?;
        bench.pair(&office, "Bench 2").await?;
        bench.complete().await?;
        let before = bench.id()?;
        Glance::at(&bench.path)?.back_up(&folder.join("backup"))?;
        bench.job_with_photos("W-2041", 2).await?;
        bench.complete().await?;
        bench.end().await?;
        for file in ["bench.db", "bench.db-wal", "bench.db-shm"].map(|name| folder.join(name)) {
            if file.exists() {
                std::fs::remove_file(file)?;
            }
        }
        restore(&folder.join("backup"), &bench.path, (Uuid::from_u128(0xbe_77), [7; 32]))?;
        bench.start()?;
        let hub = bench.trouble("hub-other-identity").await?;
        assert!(hub.pair_again && !hub.complete);
        assert!(bench.lines().await?.iter().all(|line| line.at_shop.is_none()), "what was said to another device");
        bench.job_with_photos("W-2042", 1).await?;
        assert!(bench.lines().await?.iter().all(|line| line.at_shop.is_none()));

        bench.pair(&office, "Bench 2 again").await?;
        bench.complete().await?;
        ensure!(bench.id()? != before, "it goes on under its old id");
        office.has_all_of(&bench.path).await?;
        assert_eq!(marks(&bench).await?, [true, true]);
        Ok(())
    });
}

#[test]
fn a_copy_of_a_device_is_found_out_and_nothing_of_it_is_called_safe() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let mut bench = Device::practised(folder.join("bench.db"), 7)?;
        bench.pair(&office, "Bench 2").await?;
        bench.complete().await?;
        bench.end().await?;
        std::fs::create_dir(folder.join("copy"))?;
        for name in ["bench.db", "bench.db.key", "bench.db.shop"] {
            std::fs::copy(folder.join(name), folder.join("copy").join(name))?;
        }
        bench.start()?;
        bench.job_with_photos("W-2041", 1).await?;
        bench.complete().await?;
        let mut copy = Device::ended(folder.join("copy").join("bench.db"));
        copy.start()?;
        copy.job_with_photos("W-9000", 1).await?;
        copy.done(Ask::SendToShop).await?;
        let hub = copy.trouble("hub-fork").await?;
        assert!(!hub.complete);
        assert!(!copy.lines().await?[0].at_shop.as_ref().context("paired")?.safe);
        Ok(())
    });
}

#[test]
fn somebody_else_at_the_hubs_address_and_a_shop_that_took_the_device_off_are_told_apart() {
    story(async |folder| {
        let mut office = Office::open(folder.join("hub")).await?;
        let bench = Device::practised(folder.join("bench.db"), 8)?;
        bench.pair(&office, "Bench 2").await?;
        bench.complete().await?;
        let number = office.number(bench.id()?).await?;
        let now = office.hub().app.clock.now_ms();
        ensure!(office.hub().app.storage.revoke(bench.id()?, now).await?, "the office takes it off");
        bench.job_with_photos("W-2041", 1).await?;
        bench.done(Ask::SendToShop).await?;
        let hub = bench.trouble("hub-revoked").await?;
        assert!(hub.pair_again && !hub.complete);
        assert_eq!(marks(&bench).await?, [false, true]);
        let had = office.hub().app.storage.tail(number).await?;

        office.switch_off().await;
        bench.done(Ask::SendToShop).await?;
        bench.trouble("hub-unreachable").await?;
        let own = std::mem::replace(&mut office.folder, folder.join("impostor"));
        office.switch_on().await?;
        bench.done(Ask::SendToShop).await?;
        bench.trouble("hub-certificate").await?;
        office.switch_off().await;
        office.folder = own;
        office.switch_on().await?;
        assert_eq!(office.hub().app.storage.tail(number).await?, had, "nothing was taken meanwhile");
        bench.done(Ask::LeaveShop).await?;
        bench.until("left", |view| (view.hub.state == "none" && view.hub.trouble.is_none()).then_some(())).await?;
        assert!(bench.lines().await?.iter().all(|line| line.at_shop.is_none()));
        Ok(())
    });
}

#[test]
fn what_the_office_did_is_done_at_the_device_once() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let bench = Device::practised(folder.join("bench.db"), 9)?;
        bench.pair(&office, "Bench 2").await?;
        bench.complete().await?;
        let app = &office.hub().app;
        let (device, now) = (bench.id()?, app.clock.now_ms());
        let note = Change::Note { job: None, text: "The loaner is back on Monday.".into() };
        ensure!(app.storage.tell(Some(device), note, now).await?, "told");
        let open = bench.job_with_photos("W-2041", 1).await?;
        bench.done(Ask::SendToShop).await?;
        let told = bench.until("the note", |view| view.hub.notes.first().cloned()).await?;
        assert_eq!(told.text, "The loaner is back on Monday.");
        bench.complete().await?;

        // The job is open here: what is personal in it waits until it is closed.
        ensure!(app.storage.erase_job(open, now).await?, "erased at the office");
        bench.sent().await?;
        bench.done(Ask::PutNoteAway { number: told.number }).await?;
        bench.until("read", |view| view.hub.notes.is_empty().then_some(())).await?;
        assert!(Glance::at(&bench.path)?.details(open)?.is_some());

        let lines = bench.lines().await?;
        let closed: Uuid =
            lines.iter().find(|line| line.stage == Stage::Done).context("the practised job")?.job.parse()?;
        ensure!(app.storage.erase_job(closed, now).await?, "erased at the office");
        bench.sent().await?;
        let erased = bench.lines().await?.into_iter().find(|line| line.job == closed.to_string());
        assert!(erased.context("its line")?.words.contains("Details erased."));
        assert!(Glance::at(&bench.path)?.details(closed)?.is_none());
        Ok(())
    });
}
