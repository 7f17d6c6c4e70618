//! Work that leaves a record: jobs with touches, sweeps and leads read, and whole procedures with photos and
//! signatures, through the same session as at a bench, as fast as they can be committed.

use anyhow::{Context, Result, anyhow};
use evenwire_core::procedure::{Procedure, built_in};
use evenwire_core::session::Batch;
use evenwire_core::unit::Stamp;
use evenwire_engine::photo;
use evenwire_engine::practice::errand::{self, Errand};
use evenwire_engine::practice::rehearsal::{self, Beside, Ledger, NotFinished, Setting, seed_bytes};
use evenwire_engine::practice::{MeterModel, PartModel};
use evenwire_store::Store;
use uuid::Uuid;

/// Sides of the photos, pixels.
const PHOTO: (u32, u32) = (320, 240);

/// What becomes of each batch: it commits it, and may keep a note of it.
pub type Commit<'a> = &'a mut dyn FnMut(&mut Store, &Batch) -> Result<(), String>;

/// One job from beginning to end, drawn from `seed`: every second one follows a procedure. Gives its id, or nothing
/// when the work could not be finished for reasons of its own.
///
/// # Errors
/// `commit` failed, with its words; or what the work needs is not there.
pub fn job(store: &mut Store, seed: u64, commit: Commit<'_>) -> Result<Option<Uuid>> {
    let head = store.head()?;
    let mut failed = None;
    let mut kept = |batch: &Batch| commit(store, batch).inspect_err(|words| failed = Some(words.clone()));
    // Nothing is signed, and nobody is known: whoever works at it is added anew.
    let setting = Setting {
        ledger: Ledger { head, device_entries: Vec::new(), key: None },
        seed: seed_bytes(seed),
        wall: Stamp::parse("2031-03-04T08:15:00+01:00").expect("a time"),
        beside: Beside { zero: seed.is_multiple_of(4), sweep: true },
        commit: &mut kept,
    };
    let done = if seed.is_multiple_of(2) { plain(seed, setting) } else { procedure(seed, setting) };
    match (done, failed) {
        (_, Some(words)) => Err(anyhow!(words)),
        (Ok(job), None) => Ok(Some(job)),
        // A part drawn by chance may want more than the practice bench has, and leads that moved a second look.
        (Err(_unfinished), None) => Ok(None),
    }
}

fn plain(seed: u64, setting: Setting<'_>) -> Result<Uuid, NotFinished> {
    rehearsal::rehearse(PartModel::random(seed), MeterModel::default(), seed, setting).map(|(job, _)| job.id)
}

fn procedure(seed: u64, setting: Setting<'_>) -> Result<Uuid, NotFinished> {
    let photo = photo::drawn(PHOTO).ok_or_else(|| NotFinished::Commit("no photo".into()))?;
    let (_, text) = built_in()[usize::try_from(seed / 2 % 3).expect("below three")];
    let procedure = Procedure::parse(text).expect("it comes with the program").head.id;
    let errand = Errand { procedure: &procedure, reboot_before: None, photo };
    errand::work_through(&errand, MeterModel::default(), seed, setting).map(|worked| worked.job.id)
}

/// Commits, and nothing else.
///
/// # Errors
/// As the store says.
pub fn append(store: &mut Store, batch: &Batch) -> Result<(), String> {
    store.append(batch).map_err(|fault| fault.to_string())
}

/// Opens the ledger at `path` as this trial's device.
///
/// # Errors
/// As the store says.
pub fn open(path: &std::path::Path, seed: u64) -> Result<Store> {
    Store::open(path, rehearsal::device(seed)).with_context(|| format!("opening {}", path.display()))
}
