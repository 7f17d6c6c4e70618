//! A job goes from bench to bench through the real hub: photos and names along, one version at the office; and what
//! becomes of it when the hub ends in the middle, or two take it.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::{Command, Job, Stage};
use evenwire_core::view::Ask;
use evenwire_hub::behind;
use evenwire_store::{Glance, Store};
use evenwire_tests::hub_yard::{Device, Office, story};
use std::path::Path;
use uuid::Uuid;

async fn bench(folder: &Path, office: &Office, name: &str) -> Result<Device> {
    let mut device = Device::ended(folder.join(format!("{name}.db")));
    device.start()?;
    device.pair(office, name).await?;
    Ok(device)
}

async fn open(device: &Device, job: Uuid, wish: Option<Command>) -> Result<()> {
    device.done(Ask::Do { command: Command::OpenJob { job } }).await?;
    for command in wish.into_iter().chain([Command::LeaveJob]) {
        device.done(Ask::Do { command }).await?;
    }
    Ok(())
}

async fn hand_over(device: &Device, office: &Office, job: Uuid) -> Result<()> {
    open(device, job, Some(Command::ReleaseJob { job, to: "whoever is there".into() })).await?;
    device.sent().await?;
    behind::work_off(&office.hub().app).await?;
    Ok(())
}

/// How many versions of the job the office is shown.
async fn versions(office: &Office, job: Uuid) -> Result<usize> {
    let app = &office.hub().app;
    behind::work_off(app).await?;
    Ok(app.storage.lines_of(job).await?.iter().filter(|line| line.counts).count())
}

fn here(device: &Device, job: Uuid) -> Result<Option<Job>> {
    Ok(Job::from_entries(&Glance::at(&device.path)?.entries_of(job)?))
}

fn take(job: Uuid, anyway: bool) -> Ask {
    Ask::TakeFromShop { job, anyway }
}

#[test]
fn the_late_shift_takes_it_from_the_shop_and_the_office_sees_one_job() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let early = bench(folder, &office, "Bench 1").await?;
        let mut late = bench(folder, &office, "Bench 2").await?;
        let job = early.job_with_photos("W-2041", 3).await?;
        ensure!(late.waiting().await?.is_empty(), "nothing waits yet");
        hand_over(&early, &office, job).await?;
        ensure!(early.waiting().await?.is_empty(), "whoever gave it does not wait");
        ensure!(late.waiting().await? == [("W-2041".to_owned(), false)], "it waits");
        late.done(take(job, false)).await?;
        let there = here(&late, job)?.context("it is here")?;
        ensure!(there.photos.len() == 3 && there.stage() == Stage::Start, "all of it, and cautions to be read");
        late.sent().await?;
        office.has_all_of(&late.path).await?;
        ensure!(versions(&office, job).await? == 1, "one job");
        ensure!(late.waiting().await?.is_empty(), "it does not wait any more");
        // Handed on by the other, and back where it came from.
        late.done(Ask::Do { command: Command::LeaveJob }).await?;
        hand_over(&late, &office, job).await?;
        early.done(take(job, false)).await?;
        early.sent().await?;
        ensure!(versions(&office, job).await? == 1, "still one");
        late.end().await?;
        let report = Store::open(&late.path, Uuid::nil())?.check()?;
        ensure!(report.is_whole(), "{report:?}");
        Ok(())
    });
}

#[test]
fn of_two_who_want_it_one_has_it_and_the_other_goes_on_knowing_that() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let early = bench(folder, &office, "Bench 1").await?;
        let (late, third) = (bench(folder, &office, "Bench 2").await?, bench(folder, &office, "Bench 3").await?);
        let job = early.job_with_photos("W-2041", 1).await?;
        hand_over(&early, &office, job).await?;
        late.done(take(job, false)).await?;
        let refused = third.refused(take(job, false)).await?;
        ensure!(refused.words.contains("Bench 2"), "{refused:?}");
        ensure!(here(&third, job)?.is_none(), "nothing was written");
        ensure!(third.waiting().await? == [("W-2041".to_owned(), true)], "the list says so, too");
        third.done(take(job, true)).await?;
        late.sent().await?;
        third.sent().await?;
        ensure!(versions(&office, job).await? == 2, "side by side");
        Ok(())
    });
}

#[test]
fn a_hub_that_ends_in_the_middle_loses_nothing_and_it_can_be_taken_afterwards() {
    story(async |folder| {
        let mut office = Office::open(folder.join("hub")).await?;
        let early = bench(folder, &office, "Bench 1").await?;
        let late = bench(folder, &office, "Bench 2").await?;
        let job = early.job_with_photos("W-2041", 2).await?;
        hand_over(&early, &office, job).await?;
        office.switch_off().await;
        late.failed(take(job, false)).await?;
        ensure!(here(&late, job)?.is_none(), "nothing was written");
        office.switch_on().await?;
        late.done(take(job, false)).await?;
        late.done(Ask::Do { command: Command::LeaveJob }).await?;
        let twice = late.refused(take(job, false)).await?;
        ensure!(twice.code == "hand" || twice.code == "no-such-job", "{twice:?}");
        // The one who gave it goes on after all, and both are kept.
        open(&early, job, Some(Command::TakeJobBack { job })).await?;
        early.sent().await?;
        late.sent().await?;
        ensure!(versions(&office, job).await? == 2, "side by side");
        Ok(())
    });
}
