//! What is done beside the answers: lines of the office's list are made from the entries, and files that have to go are
//! taken away. Nobody who brings entries waits for it.

use crate::app::App;
use crate::blobs::Blobs;
use crate::storage::{Stale, Storage, StorageError};
use evenwire_core::job::{Job, Line};
use evenwire_core::record::{Details, KeptDetails};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::time::Duration;

/// Lines made between two looks at what else is to be done.
const AT_ONCE: u32 = 32;
/// How long the work for a shop rests that is alone on its machine.
pub const REST: Duration = Duration::from_secs(60);
/// When nothing came for so long, a burst is over; and it is taken to be over after so long.
const CALM: Duration = Duration::from_millis(200);
const LONGEST_BURST: Duration = Duration::from_secs(3);

/// Works until it is ended; rests so long when nobody wakes it, and after a fault.
pub async fn work(app: Arc<App>, rest: Duration) {
    loop {
        let wakes = app.work.notified();
        if let Err(error) = work_off(&app).await {
            tracing::error!(%error, "work beside the answers failed");
        }
        tokio::select! {
            () = wakes => calm(&app).await,
            () = tokio::time::sleep(rest) => {}
        }
    }
}

/// Waits until a burst is over, but not for ever: whoever brings comes first, and what is made once after it need not be
/// made again with each batch of it.
async fn calm(app: &App) {
    let latest = tokio::time::sleep(LONGEST_BURST);
    tokio::pin!(latest);
    loop {
        tokio::select! {
            () = app.work.notified() => {}
            () = tokio::time::sleep(CALM) => break,
            () = &mut latest => break,
        }
    }
}

/// Does all that is to be done now.
///
/// # Errors
/// [`StorageError`]; the rest is done another time.
pub async fn work_off(app: &App) -> Result<(), StorageError> {
    let mut erased = false;
    loop {
        erased |= app.blobs.remove(app.storage.doomed(), |hash| app.storage.note_gone(hash)).await?;
        let made = make_some(&app.storage, &app.blobs).await?;
        erased |= made.erased;
        if !made.any {
            break;
        }
    }
    // What was written of it before may still stand in the database's log.
    if erased && !app.storage.empty_log().await? {
        tracing::warn!("the log of the database is in use: what was erased stands in it until it is written over");
    }
    Ok(())
}

/// Makes every line that is stale.
///
/// # Errors
/// [`StorageError`]; the rest is done another time.
pub async fn make_lines(storage: &Storage, blobs: &Blobs) -> Result<(), StorageError> {
    while make_some(storage, blobs).await?.any {}
    Ok(())
}

/// What was made.
#[derive(Default)]
struct Made {
    any: bool,
    /// A line of a job whose details were erased was among them.
    erased: bool,
}

/// Makes some lines.
async fn make_some(storage: &Storage, blobs: &Blobs) -> Result<Made, StorageError> {
    let (mut all, mut lines) = (Made::default(), Vec::new());
    for one in storage.stale(AT_ONCE).await? {
        all.any = true;
        if one.damaged {
            tracing::error!(job = %one.job, "entries of a job are damaged: its line stays as it is; run the doctor");
            storage.leave_line(one).await?;
            continue;
        }
        all.erased |= one.erased;
        let made = make(blobs, &one).await?;
        lines.push((one, made));
    }
    storage.put_lines(lines).await?;
    Ok(all)
}

/// The line of a job, and whether it has entries of a newer program; `None` where its entries make no job.
async fn make(blobs: &Blobs, of: &Stale) -> Result<Option<(Line, bool)>, StorageError> {
    let entries = of.entries.clone();
    // A fold that fails is a fault of this program, not of the job: its entries are whole, and the others go on.
    let fold = move || catch_unwind(AssertUnwindSafe(|| Job::from_entries(&entries))).ok();
    let folded = tokio::task::spawn_blocking(fold).await.map_err(|_| StorageError::Closed)?;
    let Some(job) = folded.unwrap_or_else(|| {
        tracing::error!(job = %of.job, "the entries of a job could not be folded");
        None
    }) else {
        return Ok(None);
    };
    if of.erased {
        return Ok(Some((job.line(&Details::default()).without_details(), job.newer_entries)));
    }
    let details = details(blobs, &job).await?;
    Ok(Some((job.line(&details), job.newer_entries)))
}

/// A job's details as far as they are here; those that are not are empty.
///
/// # Errors
/// [`StorageError`] when they cannot be read.
pub async fn details(blobs: &Blobs, job: &Job) -> Result<Details, StorageError> {
    let bytes = match blobs.get(job.personal).await {
        // What decayed or cannot be read is told by the doctor; the list goes on without it.
        Err(error @ (StorageError::Damaged { .. } | StorageError::Failed { .. })) => {
            tracing::error!(%error, "details cannot be read");
            None
        }
        read => read?,
    };
    let kept = bytes.and_then(|bytes| KeptDetails::from_bytes(job.id, &bytes));
    Ok(kept.and_then(|kept| kept.opened(job.personal)).unwrap_or_default())
}
