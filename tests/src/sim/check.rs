//! What has to hold after everything that happens, found out from the ledgers alone and held against the hub.

use super::answers::answered;
use super::hub::{Hub, Said};
use super::phone::Phone;
use super::wire::{SharedHub, held};
use anyhow::{Context, Result, bail, ensure};
use evenwire_core::record::{Hash, Sealed, told_of};
use evenwire_core::sync::{BesideChange, BesideKind, changes_by};
use evenwire_hub::app::Shared;
use evenwire_hub::behind;
use evenwire_hub::storage::{DeviceRow, LineRow};
use evenwire_store::DeliveryGlance;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Every ledger that was ever written under an id, by the hashes of its entries.
#[derive(Clone, Debug, Default)]
pub struct Written(BTreeMap<Uuid, Vec<Vec<Hash>>>);

impl Written {
    /// The ledger as it is now.
    ///
    /// # Errors
    /// It cannot be read.
    pub fn note(&mut self, phone: &Phone) -> Result<()> {
        let head = held(&phone.desk).store().head()?;
        if self.0.get(&head.device).is_some_and(|known| known.iter().any(|one| one.last() == Some(&head.hash))) {
            return Ok(());
        }
        let entries = held(&phone.desk).entries()?;
        let device = entries.last().context("it has entries")?.entry().device;
        let hashes: Vec<Hash> = entries.iter().map(Sealed::hash).collect();
        let known = self.0.entry(device).or_default();
        if known.iter().any(|one| one.starts_with(&hashes)) {
            return Ok(());
        }
        known.retain(|one| !hashes.starts_with(one));
        known.push(hashes);
        Ok(())
    }

    fn is_beginning(&self, device: Uuid, stream: &[Hash]) -> bool {
        self.0.get(&device).is_some_and(|known| known.iter().any(|one| one.starts_with(stream)))
    }
}

/// Something beside the entries of one device: hash, job, kind.
type Thing = (Hash, Option<Uuid>, BesideKind);

/// What the hub has, as its entries say.
#[derive(Debug, Default)]
pub struct There {
    /// Its devices with their entries.
    pub streams: Vec<(DeviceRow, Vec<Sealed>)>,
    /// Jobs whose personal details must not be there.
    pub erased: BTreeSet<Uuid>,
    wanted: BTreeMap<Uuid, BTreeSet<Thing>>,
    /// Files that are there as they should be.
    present: BTreeSet<Hash>,
}

fn named(change: BesideChange) -> Option<Hash> {
    match change {
        BesideChange::Named(of) => Some(of.hash),
        BesideChange::Superseded(_) | BesideChange::Erased(_) => None,
    }
}

fn is_personal(kind: BesideKind) -> bool {
    matches!(kind, BesideKind::Photo | BesideKind::Details)
}

impl There {
    /// Looks at everything.
    ///
    /// # Errors
    /// What is not as it was written.
    pub async fn look(app: &Shared, said: &Said) -> Result<There> {
        let mut there = There { erased: said.erased.clone(), ..There::default() };
        for row in app.storage.devices().await? {
            let entries = app.storage.entries(row.number, 1, u32::MAX).await?;
            let mut wanted: BTreeSet<Thing> = BTreeSet::new();
            for change in entries.iter().flat_map(changes_by) {
                match change {
                    BesideChange::Named(of) => drop(wanted.insert((of.hash, of.job, of.kind))),
                    BesideChange::Superseded(job) => {
                        wanted.retain(|(_, of, kind)| *of != Some(job) || *kind != BesideKind::Details);
                    }
                    BesideChange::Erased(job) => drop(there.erased.insert(job)),
                }
            }
            there.wanted.insert(row.id, wanted);
            there.streams.push((row, entries));
        }
        for wanted in there.wanted.values_mut() {
            wanted.retain(|(_, job, kind)| !is_personal(*kind) || job.is_none_or(|job| !there.erased.contains(&job)));
        }
        let hashes: BTreeSet<Hash> = there.wanted.values().flatten().map(|(hash, ..)| *hash).collect();
        // Noted, and the bytes are there.
        let noted = noted(app).await?;
        for hash in hashes.intersection(&noted) {
            ensure!(app.blobs.get(*hash).await?.is_some(), "{hash} is noted and not there");
            there.present.insert(*hash);
        }
        Ok(there)
    }

    /// What of a device's entries wants to be there and is not.
    pub fn missing(&self, device: Uuid) -> BTreeSet<Hash> {
        let wanted = self.wanted.get(&device).into_iter().flatten();
        wanted.map(|(hash, ..)| *hash).filter(|hash| !self.present.contains(hash)).collect()
    }
}

/// The hub by itself: it keeps what it said, and what it keeps are beginnings of ledgers.
///
/// # Errors
/// What does not hold.
pub async fn hub(hub: &SharedHub, written: &Written) -> Result<There> {
    let (app, said) = {
        let hub: &Hub = &held(hub);
        (hub.app.clone(), hub.said.clone())
    };
    let there = There::look(&app, &said).await?;
    for (row, entries) in &there.streams {
        let hashes: Vec<Hash> = entries.iter().map(Sealed::hash).collect();
        ensure!(entries.len() as u64 == row.tail.sequence, "{}: the tail is not its last entry", row.name);
        if !hashes.is_empty() {
            ensure!(written.is_beginning(row.id, &hashes), "{}: no beginning of its ledger", row.name);
        }
        let through = said.through.get(&row.id).copied().unwrap_or_default();
        ensure!(row.tail.sequence >= through, "{}: {through} was said, {} is there", row.name, row.tail.sequence);
        let missing = there.missing(row.id).len() as u64;
        ensure!(row.missing == missing, "{}: it counts {} missing, there are {missing}", row.name, row.missing);
    }
    for device in said.through.keys() {
        ensure!(there.streams.iter().any(|(row, _)| row.id == *device), "{device} is gone");
    }
    let wanted: BTreeSet<Hash> = there.wanted.values().flatten().map(|(hash, ..)| *hash).collect();
    for hash in said.beside.intersection(&wanted) {
        ensure!(there.present.contains(hash), "{hash} was said to be there");
    }
    Ok(there)
}

/// What a device says of its jobs is so: the newest entry of each that is called safe is there, and all its entries name.
///
/// # Errors
/// What was said and is not so.
pub fn safe(phone: &Phone, there: &There, life: u32) -> Result<u64> {
    let Some(glance) = DeliveryGlance::at(&phone.path)? else { return Ok(0) };
    let Some(paired) = glance.paired()? else { return Ok(0) };
    // The hub lost what it had, and nobody could have told the device yet.
    if phone.wire.known() != Some(life) {
        return Ok(0);
    }
    let mut desk = held(&phone.desk);
    let device = desk.store().head()?.device;
    // Nothing is called safe of what was said to another one.
    if device != paired.device {
        return Ok(0);
    }
    let entries = desk.entries()?;
    let mut jobs: BTreeMap<Uuid, Vec<&Sealed>> = BTreeMap::new();
    for sealed in &entries {
        if let Some(job) = sealed.entry().job {
            jobs.entry(job).or_default().push(sealed);
        }
    }
    let mut safe = 0;
    for (job, ours) in jobs {
        let newest = ours.last().context("a job has entries")?.entry().sequence;
        if !glance.of_job(job, device)?.is_some_and(|there| there.is_safe(newest)) {
            continue;
        }
        safe += 1;
        let row = there.streams.iter().find(|(row, _)| row.id == paired.device);
        let (row, stream) =
            row.with_context(|| format!("{}: job {job} is called safe, nobody knows it", phone.name))?;
        let named: BTreeSet<Hash> = ours.iter().flat_map(|sealed| changes_by(sealed)).filter_map(named).collect();
        for sealed in ours {
            let at = stream.get(sealed.entry().sequence as usize - 1);
            ensure!(
                at.is_some_and(|at| at.bytes() == sealed.bytes()),
                "{}: job {job} is called safe, entry {} is not there",
                row.name,
                sealed.entry().sequence
            );
        }
        let lacks = there.wanted.get(&row.id).into_iter().flatten();
        // What a copy of this device named there is not this one's.
        let lacks = lacks.filter(|(hash, of, _)| *of == Some(job) && named.contains(hash));
        let lacks = lacks.filter(|(hash, ..)| !there.present.contains(hash)).count();
        ensure!(lacks == 0, "{}: job {job} is called safe, {lacks} things are not there", row.name);
    }
    Ok(safe)
}

/// A round came to its end: everything of the ledger is there, and what is not there is not on the device either. Whatever
/// was signed for it at the office it has answered, once, if its bench could.
///
/// # Errors
/// What is missing.
pub fn complete(phone: &Phone, there: &There) -> Result<()> {
    let ours = held(&phone.desk).entries()?;
    let device = ours.last().context("it has entries")?.entry().device;
    let found = there.streams.iter().find(|(row, _)| row.id == device);
    let (row, theirs) = found.context("it is not of this shop")?;
    ensure!(row.revoked_ms.is_none(), "{}: it was taken off, and nobody said so", phone.name);
    ensure!(theirs.len() == ours.len(), "{}: {} of {} entries are there", phone.name, theirs.len(), ours.len());
    let first = theirs.iter().zip(&ours).find(|(theirs, ours)| theirs.bytes() != ours.bytes());
    ensure!(first.is_none(), "{}: another ledger is there, and nobody said so", phone.name);
    let missing = there.missing(device);
    ensure!(missing.is_empty(), "{}: {} things are missing", phone.name, missing.len());
    let answered = answered(&ours);
    for (signature, _) in held(&phone.wire.hub).said.signed.iter().filter(|(_, of)| **of == device) {
        let times = answered.iter().filter(|one| *one == signature).count();
        let later = times == 0 && held(&phone.desk).put_off;
        ensure!(times == 1 || later, "{}: signature {signature} was answered {times} times", phone.name);
    }
    Ok(())
}

/// What is done beside the answers is done; then lines made anew are the same, and of what was erased nothing is there.
///
/// # Errors
/// What does not hold.
pub async fn behind(hub: &SharedHub) -> Result<()> {
    let (app, said, folder) = {
        let hub: &Hub = &held(hub);
        (hub.app.clone(), hub.said.clone(), hub.folder.clone())
    };
    behind::work_off(&app).await?;
    let there = There::look(&app, &said).await?;
    let lines = app.storage.all_lines().await?;
    for row in &lines {
        let erased = there.erased.contains(&row.line.job);
        ensure!(!erased || row.line.customer.is_empty(), "the line of an erased job names {}", row.line.customer);
        ensure!(!erased || !row.line.search.contains("customer"), "an erased job is found by its customer");
    }
    let jobs = there.streams.iter().flat_map(|(row, entries)| {
        entries
            .iter()
            .filter(|sealed| sealed.told().entry().kind == "job-opened")
            .map(|sealed| (row.number, sealed.entry().job))
    });
    for (device, job) in jobs {
        ensure!(lines.iter().any(|row| row.device == device && Some(row.line.job) == job), "a job has no line");
    }
    versions(&there, &lines)?;
    app.storage.forget_lines().await?;
    behind::make_lines(&app.storage, &app.blobs).await?;
    let anew = app.storage.all_lines().await?;
    let sorted = |mut rows: Vec<LineRow>| {
        rows.sort_by_key(|row| (row.device, row.line.job));
        rows.into_iter().map(|row| LineRow { number: 0, ..row }).collect::<Vec<_>>()
    };
    ensure!(sorted(lines) == sorted(anew), "lines made anew are others");
    let wanted: BTreeSet<Hash> = there.wanted.values().flatten().map(|(hash, ..)| *hash).collect();
    for file in files(&folder.join("blobs"))? {
        let Ok(hash) = Hash::try_from(file.clone()) else { bail!("a file {file} that is none") };
        ensure!(wanted.contains(&hash), "{hash} is there, and nothing wants it");
    }
    Ok(())
}

/// Of a job those lines count that tell more than every other one, or something else: found out from the entries alone.
fn versions(there: &There, lines: &[LineRow]) -> Result<()> {
    let of = |row: &LineRow| -> Vec<Hash> {
        let stream = there.streams.iter().find(|(device, _)| device.number == row.device);
        let entries = stream.into_iter().flat_map(|(_, entries)| entries);
        let job: Vec<Sealed> = entries.filter(|sealed| sealed.entry().job == Some(row.line.job)).cloned().collect();
        told_of(&job).into_iter().map(Sealed::hash).collect()
    };
    let mut jobs: BTreeMap<Uuid, Vec<(&LineRow, Vec<Hash>)>> = BTreeMap::new();
    lines.iter().for_each(|row| jobs.entry(row.line.job).or_default().push((row, of(row))));
    for (job, all) in jobs {
        let longest: BTreeSet<&Vec<Hash>> = all
            .iter()
            .map(|(_, one)| one)
            .filter(|one| !all.iter().any(|(_, other)| other.len() > one.len() && other.starts_with(one)))
            .collect();
        let counting: BTreeSet<&Vec<Hash>> = all.iter().filter(|(row, _)| row.counts).map(|(_, one)| one).collect();
        let rows = all.iter().filter(|(row, _)| row.counts).count();
        ensure!(counting == longest && rows == longest.len(), "job {job}: {rows} lines count, not {}", longest.len());
        let said = all.iter().all(|(row, _)| row.versions as usize == longest.len());
        ensure!(said, "job {job}: its lines do not say that there are {} versions", longest.len());
    }
    Ok(())
}

async fn noted(app: &Shared) -> Result<BTreeSet<Hash>> {
    let mut noted = BTreeSet::new();
    loop {
        let more = app.storage.noted_blobs(noted.last().copied()).await?;
        if more.is_empty() {
            return Ok(noted);
        }
        noted.extend(more);
    }
}

fn files(folder: &std::path::Path) -> Result<Vec<String>> {
    let mut found = Vec::new();
    for folder in std::fs::read_dir(folder)? {
        for file in std::fs::read_dir(folder?.path())? {
            found.push(file?.file_name().to_string_lossy().into_owned());
        }
    }
    Ok(found)
}
