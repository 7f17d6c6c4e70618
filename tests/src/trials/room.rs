//! A disk that is full, at many fill levels, and files and folders that may only be read. The disk is a small one in
//! memory; where none can be mounted, that is said and nothing is tried.

use super::truth::Truth;
use super::{Ground, Tally, work};
use anyhow::{Context, Result, anyhow, ensure};
use evenwire_core::session::Batch;
use evenwire_engine::practice::chance::Chance;
use evenwire_store::{Store, StoreError};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// Bytes of the disk: a log of full length and a ledger fit on it.
const DISK: u64 = 12 << 20;
/// Room that is left at most when work begins. A page is 4 KiB; a job needs more than this.
const MOST_LEFT: u64 = 400 << 10;
/// Jobs begun until there is no room.
const MOST_JOBS: u32 = 60;

/// A disk in memory, unmounted when dropped.
#[derive(Debug)]
pub struct Disk(PathBuf);

impl Disk {
    /// Mounts one at `folder`.
    ///
    /// # Errors
    /// The system refuses; the text says what it said.
    pub fn mount(folder: &Path, bytes: u64) -> Result<Disk> {
        fs::create_dir_all(folder)?;
        let size = format!("size={bytes}");
        told(Command::new("mount").args(["-t", "tmpfs", "-o", &size, "evenwire-trial"]).arg(folder))?;
        Ok(Disk(folder.to_owned()))
    }

    /// Lets it be read only, or written again.
    ///
    /// # Errors
    /// As [`Disk::mount`]; something is open on it.
    pub fn only_read(&self, only: bool) -> Result<()> {
        let how = if only { "remount,ro" } else { "remount,rw" };
        told(Command::new("mount").args(["-o", how]).arg(&self.0))
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        if let Err(fault) = told(Command::new("umount").arg(&self.0)) {
            eprintln!("{}: {fault:#}", self.0.display());
        }
    }
}

fn told(command: &mut Command) -> Result<()> {
    let out = command.output().with_context(|| format!("{:?}", command.get_program()))?;
    let said = String::from_utf8_lossy(&out.stderr);
    if out.status.success() { Ok(()) } else { Err(anyhow!("{}", said.trim())) }
}

/// Fills the disk to as many levels as asked for.
///
/// # Errors
/// Only what keeps the trial itself from running.
pub fn full(ground: &Ground) -> Result<Tally> {
    let mut tally = Tally::of("disk full");
    let disk = match Disk::mount(&ground.folder.join("full"), DISK) {
        Ok(disk) => disk,
        Err(refused) => {
            tally.not_run.push(format!("no disk in memory can be mounted here ({refused:#})"));
            return Ok(tally);
        }
    };
    let mut chance = ground.chance(2);
    let start = Instant::now();
    for level in 0..ground.amount.levels {
        if ground.is_over(start, &mut tally) {
            break;
        }
        // The first ones one page apart, where a new ledger does not find room.
        let left = if level % 4 == 0 { u64::from(level) * 1_024 } else { chance.whole(0, MOST_LEFT) };
        let seed = chance.bits();
        let came = at_level(&disk.0, (left, seed), &mut tally);
        tally.take(|| format!("with {left} bytes left (seed {seed})"), came);
    }
    Ok(tally)
}

fn at_level(disk: &Path, (left, seed): (u64, u64), tally: &mut Tally) -> Result<()> {
    for entry in fs::read_dir(disk)? {
        fs::remove_file(entry?.path())?;
    }
    let (path, filler) = (disk.join("van.db"), disk.join("films"));
    let (mut truth, mut chance) = (Truth::default(), Chance::new(seed));
    // Every second ledger is there before the disk is full, the others are made on the full disk.
    let mut store = if seed.is_multiple_of(2) {
        let mut store = work::open(&path, seed)?;
        until_full((&mut store, &mut truth), &mut chance, 1)?;
        fill(disk, &filler, left)?;
        store
    } else {
        fill(disk, &filler, left)?;
        match Store::open(&path, evenwire_engine::practice::rehearsal::device(seed)) {
            Ok(store) => store,
            Err(refused) => {
                ensure!(matches!(refused, StoreError::Full { .. }), "a new ledger: {refused} ({refused:?})");
                tally.see("no room for a new ledger");
                fs::remove_file(&filler)?;
                let mut store = work::open(&path, seed)?;
                until_full((&mut store, &mut truth), &mut chance, 1)?;
                return truth.all_in(&store);
            }
        }
    };
    let refused = until_full((&mut store, &mut truth), &mut chance, MOST_JOBS)?.context("the disk was never full")?;
    ensure!(matches!(refused, StoreError::Full { .. }), "not called full: {refused} ({refused:?})");
    tally.see("refused as full");
    truth.all_in(&store).context("at once")?;
    drop(store);
    match Store::open(&path, uuid::Uuid::nil()) {
        Ok(store) => truth.all_in(&store).context("opened on the full disk")?,
        Err(refused) => {
            ensure!(matches!(refused, StoreError::Full { .. }), "opening, not called full: {refused} ({refused:?})");
            tally.see("opening refused as full");
        }
    }
    fs::remove_file(&filler)?;
    let mut store = work::open(&path, seed)?;
    truth.all_in(&store).context("with room again")?;
    let before = truth.newest();
    ensure!(until_full((&mut store, &mut truth), &mut chance, 1)?.is_none(), "full again, with room");
    ensure!(truth.newest() > before, "nothing was written with room again");
    truth.all_in(&store).context("after more work")
}

/// Works until there is no room, at most so many jobs. Gives what the store said then.
fn until_full((store, truth): (&mut Store, &mut Truth), chance: &mut Chance, jobs: u32) -> Result<Option<StoreError>> {
    for _ in 0..jobs {
        let mut refused = None;
        let mut commit = |store: &mut Store, batch: &Batch| match store.append(batch) {
            Ok(()) => {
                truth.learn(batch);
                Ok(())
            }
            Err(fault) => Err(refused.insert(fault).to_string()),
        };
        // Plain jobs: their PINs take no time. What the store refused is what is asked for.
        let done = work::job(store, chance.bits() & !1, &mut commit);
        if refused.is_some() {
            return Ok(refused);
        }
        done?;
    }
    Ok(None)
}

/// Writes until so many bytes are left.
fn fill(disk: &Path, filler: &Path, left: u64) -> Result<()> {
    let used: u64 = fs::read_dir(disk)?.filter_map(|entry| entry.ok()?.metadata().ok()).map(|of| pages(of.len())).sum();
    let room = DISK.saturating_sub(used + left) / 4_096 * 4_096;
    fs::write(filler, vec![0x5A; usize::try_from(room)?]).context("filling the disk")
}

fn pages(bytes: u64) -> u64 {
    bytes.div_ceil(4_096) * 4_096
}

/// Files, folders and a disk that may only be read.
///
/// # Errors
/// Only what keeps the trial itself from running.
pub fn only_read(ground: &Ground) -> Result<Tally> {
    let mut tally = Tally::of("read only");
    let folder = ground.folder.join("locked");
    match Disk::mount(&folder, DISK) {
        Err(refused) => tally.not_run.push(format!("a disk that may only be read: none can be mounted ({refused:#})")),
        Ok(disk) => {
            let came = a_disk(&disk, ground.seed);
            tally.take(|| "a disk".into(), came);
        }
    }
    #[cfg(unix)]
    for (case, file, around) in [("file", 0o444, 0o777), ("folder", 0o666, 0o555), ("file and folder", 0o444, 0o555)] {
        match rights(ground, case, (file, around)) {
            Ok(Some(why)) => tally.not_run.push(format!("{case} that may only be read: {why}")),
            came => tally.take(|| case.into(), came.map(drop)),
        }
    }
    Ok(tally)
}

fn a_disk(disk: &Disk, seed: u64) -> Result<()> {
    let path = disk.0.join("van.db");
    let (mut truth, mut chance) = (Truth::default(), Chance::new(seed));
    let mut store = work::open(&path, seed)?;
    until_full((&mut store, &mut truth), &mut chance, 1)?;
    drop(store);
    disk.only_read(true)?;
    for path in [&path, &disk.0.join("new.db")] {
        let refused = Store::open(path, uuid::Uuid::nil()).err().context("it was opened")?;
        ensure!(matches!(refused, StoreError::ReadOnly { .. }), "{}: {refused} ({refused:?})", path.display());
    }
    disk.only_read(false)?;
    let mut store = work::open(&path, seed)?;
    truth.all_in(&store)?;
    until_full((&mut store, &mut truth), &mut chance, 1)?;
    truth.all_in(&store)
}

/// Somebody who may only read opens it. Gives why it cannot be tried, if it cannot.
#[cfg(unix)]
fn rights(ground: &Ground, case: &str, (file, around): (u32, u32)) -> Result<Option<String>> {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    let folder = ground.folder.join(format!("rights of {case}"));
    fs::create_dir_all(&folder)?;
    let path = folder.join("van.db");
    let (mut truth, mut chance) = (Truth::default(), Chance::new(ground.seed));
    let mut store = work::open(&path, ground.seed)?;
    until_full((&mut store, &mut truth), &mut chance, 1)?;
    drop(store);
    let before = fs::read(&path)?;
    let set = |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode));
    set(&path, file)?;
    set(&folder, around)?;
    let mut child = Command::new(&ground.program);
    child.arg("open").arg(&path);
    // The administrator may write everywhere, so that somebody else has to try.
    if nix_is_root(&folder)? {
        set(&ground.folder, 0o755)?;
        child.uid(65_534).gid(65_534);
    }
    let out = child.output();
    set(&folder, 0o755)?;
    set(&path, 0o644)?;
    let out = match out {
        Ok(out) => out,
        Err(refused) => return Ok(Some(format!("nobody else can start the program ({refused})"))),
    };
    let said = String::from_utf8_lossy(&out.stdout).trim().to_owned();
    ensure!(said == "read-only", "said {said:?} {}", String::from_utf8_lossy(&out.stderr));
    ensure!(fs::read(&path)? == before, "the file was changed");
    let mut store = work::open(&path, ground.seed)?;
    truth.all_in(&store)?;
    until_full((&mut store, &mut truth), &mut chance, 1)?;
    truth.all_in(&store)?;
    Ok(None)
}

/// Whether what is made here belongs to the administrator.
#[cfg(unix)]
fn nix_is_root(folder: &Path) -> Result<bool> {
    Ok(std::os::unix::fs::MetadataExt::uid(&fs::metadata(folder)?) == 0)
}

/// The child: opens the ledger at `path` and says in one word what came of it.
pub fn open_and_say(path: &Path) -> String {
    match Store::open(path, uuid::Uuid::nil()) {
        Ok(mut store) => match store.head() {
            Ok(mut head) => match store.append(&nothing_much(&mut head)) {
                Ok(()) => "written".into(),
                Err(StoreError::ReadOnly { .. }) => "read-only".into(),
                Err(other) => format!("{other:?}"),
            },
            Err(other) => format!("{other:?}"),
        },
        Err(StoreError::ReadOnly { .. }) => "read-only".into(),
        Err(other) => format!("{other:?}"),
    }
}

fn nothing_much(head: &mut evenwire_core::record::Head) -> Batch {
    use evenwire_core::record::{Clock, Draft, Event};
    let (kind, body) = Event::LanguageChosen { language: evenwire_core::verdict::words::Language::En }.parts();
    let draft = Draft {
        id: uuid::Uuid::nil(),
        job: None,
        kind,
        version: Event::VERSION,
        elapsed_ms: evenwire_core::unit::Millis(1),
        wall: evenwire_engine::clock::wall(),
        clock: Clock::Ok,
        body,
    };
    Batch { entries: vec![head.seal(uuid::Uuid::nil(), draft)], ..Batch::default() }
}
