//! A step waits for a second person, the office signs it, and it stands when the device has it.

use anyhow::{Context, Result, ensure};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::job::{Command, Job, Stage};
use evenwire_core::procedure::built_in;
use evenwire_core::record::{Details, Outcome, Pin};
use evenwire_core::view::Ask;
use evenwire_core::work::{Second, StepAct, StepEntry};
use evenwire_engine::photo;
use evenwire_hub::behind;
use evenwire_store::{Glance, Store};
use evenwire_tests::hub_yard::{Clerk, Device, Office, story};
use serde_json::{Value, json};
use std::path::Path;
use uuid::Uuid;

const OWN: &str = "own-coil";

/// The steering coil's procedure with a first step that a second person signs.
fn own_file() -> String {
    let text = built_in()[0].1.replace("id = \"orrin-3-steering-coil\"", &format!("id = \"{OWN}\""));
    text.replace("id = \"identify\"\n", "id = \"identify\"\nsign_off = \"second\"\n")
}

async fn wish(device: &Device, command: Command) -> Result<()> {
    device.done(Ask::Do { command }).await
}

async fn bench(folder: &Path, office: &Office, (name, technician): (&str, &str)) -> Result<(Device, Uuid)> {
    let mut device = Device::ended(folder.join(format!("{name}.db")));
    device.start()?;
    device.pair(office, name).await?;
    let pin = Pin::typed("4711");
    wish(&device, Command::AddPerson { name: technician.into(), pin, role: String::new() }).await?;
    let people = Glance::at(&device.path)?.people()?;
    let person = people.first().context("somebody is on the roster")?.person;
    Ok((device, person))
}

async fn at_step(device: &Device, (job, step): (Uuid, &str), act: StepAct) -> Result<()> {
    wish(device, Command::AtStep { job, step: step.into(), act }).await
}

/// The first step is done, alone, with a photo no other time has.
async fn identifies(device: &Device, job: Uuid, width: u32) -> Result<()> {
    at_step(device, (job, "identify"), StepAct::Begin).await?;
    let (jpeg, ..) = photo::drawn((width, 120)).context("a photo can be drawn")?;
    device.done(Ask::KeepPhoto { job, step: Some("identify".into()), picture: STANDARD.encode(jpeg) }).await?;
    let done = StepAct::Done { words: "plate compared".into(), entry: StepEntry::Tick };
    at_step(device, (job, "identify"), done).await
}

/// A job on the bench whose first step waits; the office has all of it.
async fn waits(device: &Device, office: &Office, technician: Uuid) -> Result<Uuid> {
    wish(device, Command::KeepProcedure { text: own_file() }).await?;
    let new = Command::NewJob { order: "W-2041".into(), vehicle: "Yard van".into(), details: Details::default() };
    wish(device, new).await?;
    let job = device.until("the job", |view| view.bench.as_ref()?.job.parse::<Uuid>().ok()).await?;
    let pin = Some(Pin::typed("4711"));
    wish(device, Command::BeginProcedure { procedure: OWN.into(), technician: Some(technician), pin }).await?;
    identifies(device, job, 160).await?;
    device.sent().await?;
    behind::work_off(&office.hub().app).await?;
    Ok(job)
}

fn here(device: &Device, job: Uuid) -> Result<Job> {
    Job::from_entries(&Glance::at(&device.path)?.entries_of(job)?).context("a job")
}

fn second(device: &Device, job: Uuid) -> Result<Option<Second>> {
    Ok(here(device, job)?.work.and_then(|work| work.state("identify")?.second))
}

fn count(device: &Device, kind: &str) -> Result<usize> {
    let all = Glance::at(&device.path)?.entries_after(0, u32::MAX)?;
    Ok(all.iter().filter(|sealed| sealed.entry().kind == kind).count())
}

async fn open_items(clerk: &Clerk, office: &Office) -> Result<Value> {
    behind::work_off(&office.hub().app).await?;
    Ok(clerk.reads(office, "/v1/office/today").await?["open"][0]["open"].clone())
}

#[test]
fn somebody_who_works_alone_is_signed_second_at_the_office_and_closes() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let clerk = Clerk::comes_in(&office, "Toma Quell").await?;
        let (mut bench, jakob) = bench(folder, &office, ("Bench 1", "Jakob Specht")).await?;
        let job = waits(&bench, &office, jakob).await?;
        let shown = clerk.waiting(&office, job).await?[0].clone();
        ensure!(
            shown["waits"]["by"] == "Jakob Specht"
                && shown["waits"]["photos"].as_array().is_some_and(|it| it.len() == 1),
            "{shown}"
        );
        ensure!(open_items(&clerk, &office).await? == json!(["signature", "not-closed"]));
        clerk.signs(&office, (job, "identify")).await?.map_err(|code| anyhow::anyhow!(code))?;
        ensure!(clerk.waiting(&office, job).await?[0]["given"]["refused"].is_null(), "under way");
        ensure!(second(&bench, job)?.is_none() && open_items(&clerk, &office).await?[0] == "signature", "not yet");

        // Another job lies on the bench when it comes.
        wish(&bench, Command::LeaveJob).await?;
        let other = bench.job_with_photos("W-2042", 1).await?;
        wish(&bench, Command::OpenJob { job: other }).await?;
        bench.sent().await?;
        ensure!(second(&bench, job)?.is_some_and(|second| second.at_office), "it is written down");
        ensure!(clerk.waiting(&office, job).await? == json!([]), "and the office has heard so");
        let open = open_items(&clerk, &office).await?;
        ensure!(!open.as_array().is_some_and(|items| items.contains(&json!("signature"))), "{open}");
        let on_bench = bench.until("a bench", |view| Some(view.bench.as_ref()?.job.clone())).await?;
        ensure!(on_bench == other.to_string(), "whoever works is not disturbed");
        wish(&bench, Command::LeaveJob).await?;
        wish(&bench, Command::OpenJob { job }).await?;
        let words =
            |view: &evenwire_core::view::View| Some(view.bench.as_ref()?.work.as_ref()?.steps[0].second.clone());
        ensure!(bench.until("its words", words).await? == "Signed second by Toma Quell at the office.");
        let outcome = Some(Outcome::NotRepaired);
        at_step(&bench, (job, "close"), StepAct::Begin).await?;
        let done = StepAct::Done { words: "sold as it is".into(), entry: StepEntry::Sign { outcome } };
        at_step(&bench, (job, "close"), done).await?;
        bench.sent().await?;
        office.has_all_of(&bench.path).await?;
        ensure!(here(&bench, job)?.stage() == Stage::Done);
        let told = clerk.reads(&office, &format!("/v1/jobs/{job}?language=en")).await?.to_string();
        ensure!(told.contains("Second signature, at the office, Identify the vehicle: Toma Quell, "), "{told}");

        // The device forgets the shop and is taken in again: all that ever was for it comes once more.
        bench.done(Ask::LeaveShop).await?;
        bench.pair(&office, "Bench 1").await?;
        bench.sent().await?;
        ensure!((count(&bench, "step-signed-at-office")?, count(&bench, "signature-not-taken")?) == (1, 0), "once");
        bench.end().await?;
        let report = Store::open(&bench.path, Uuid::nil())?.check()?;
        ensure!(report.is_whole(), "{report:?}");
        Ok(())
    });
}

#[test]
fn what_was_signed_of_a_step_that_was_done_again_is_refused_and_told() {
    story(async |folder| {
        let mut office = Office::open(folder.join("hub")).await?;
        let clerk = Clerk::comes_in(&office, "Toma Quell").await?;
        let (bench, jakob) = bench(folder, &office, ("Bench 1", "Jakob Specht")).await?;
        let job = waits(&bench, &office, jakob).await?;
        clerk.signs(&office, (job, "identify")).await?.map_err(|code| anyhow::anyhow!(code))?;
        // Out of reach, the step is done again.
        office.switch_off().await;
        at_step(&bench, (job, "identify"), StepAct::Again { reason: "wrong plate".into() }).await?;
        identifies(&bench, job, 170).await?;
        office.switch_on().await?;
        bench.sent().await?;
        ensure!(second(&bench, job)?.is_none() && count(&bench, "signature-not-taken")? == 1, "for something else");
        let told = clerk.waiting(&office, job).await?[0].clone();
        ensure!(told["given"]["refused"] == "sign-done-again" && told["refused"].is_null(), "{told}");
        clerk.signs(&office, (job, "identify")).await?.map_err(|code| anyhow::anyhow!(code))?;
        bench.sent().await?;
        ensure!(second(&bench, job)?.is_some() && clerk.waiting(&office, job).await? == json!([]), "signed anew");
        Ok(())
    });
}

#[test]
fn a_job_that_is_handed_over_is_signed_where_it_goes_on() {
    story(async |folder| {
        let office = Office::open(folder.join("hub")).await?;
        let clerk = Clerk::comes_in(&office, "Toma Quell").await?;
        let (early, jakob) = bench(folder, &office, ("Bench 1", "Jakob Specht")).await?;
        let (late, toma) = bench(folder, &office, ("Bench 2", "toma  quell")).await?;
        let job = waits(&early, &office, jakob).await?;
        // Out of reach, the device gives it away before it hears of the signature.
        office.line.lead_nowhere();
        wish(&early, Command::ReleaseJob { job, to: "late shift".into() }).await?;
        clerk.signs(&office, (job, "identify")).await?.map_err(|code| anyhow::anyhow!(code))?;
        office.line.lead_to(office.hub().listens);
        wish(&early, Command::LeaveJob).await?;
        early.sent().await?;
        ensure!(second(&early, job)?.is_none(), "it is not at this bench");
        let told = clerk.waiting(&office, job).await?[0].clone();
        ensure!(told["given"]["refused"] == "sign-handed-over" && told["refused"] == "sign-handed-over", "{told}");
        behind::work_off(&office.hub().app).await?;
        late.done(Ask::TakeFromShop { job, anyway: false }).await?;
        late.sent().await?;
        ensure!(clerk.signs(&office, (job, "identify")).await? == Err("sign-doer-unknown".into()));
        let pin = Pin::typed("4711");
        wish(&late, Command::NameTechnician { job, person: toma, pin }).await?;
        late.sent().await?;
        ensure!(clerk.signs(&office, (job, "identify")).await? == Err("sign-own-second".into()), "by name");
        Ok(())
    });
}
