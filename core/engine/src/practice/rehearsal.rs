//! A whole job at the practice bench without a screen and without waiting: bytes, decoder, settling, verdict,
//! ledger, through the same session as at a real bench. Time is counted, not waited for.

use super::stage::{LONGEST_MS, Stage};
use super::{MeterModel, PartModel};
use crate::bench::{StartError, identity};
use crate::clock::Clock;
use crate::key_store::KeyPlace;
use evenwire_core::caution::Caution;
use evenwire_core::job::{Command, Job, Refusal};
use evenwire_core::record::{Conditions, Details, DeviceKey, Head, Sealed};
use evenwire_core::session::Batch;
use evenwire_core::sweep::SweepVerdict;
use evenwire_core::sweep::plan::SweepPlan;
use evenwire_core::unit::Stamp;
use evenwire_core::verdict::{ActionCode, SetVerdict};
use evenwire_store::Store;
use uuid::Uuid;

/// Verdicts asked for at most: each asks for one more thing to be done.
const MOST_VERDICTS: usize = 12;

/// What a rehearsal needs from outside.
pub struct Setting<'a> {
    /// The ledger the job is written to.
    pub ledger: Ledger,
    /// 32 bytes the ids are drawn from.
    pub seed: [u8; 32],
    /// When the job is said to have begun.
    pub wall: Stamp,
    /// What is done beside the touches.
    pub beside: Beside,
    /// Commits a batch; nothing goes on before it returns.
    pub commit: &'a mut dyn FnMut(&Batch) -> Result<(), String>,
}

/// A ledger as a session finds it.
#[derive(Clone, Debug)]
pub struct Ledger {
    /// Its end.
    pub head: Head,
    /// Entries that belong to no job.
    pub device_entries: Vec<Sealed>,
    /// The key of its device; none: nothing is signed.
    pub key: Option<DeviceKey>,
}

impl Ledger {
    /// An empty one of this device, in which nothing is signed.
    pub fn empty(device: Uuid) -> Ledger {
        Ledger { head: Head::empty(device), device_entries: Vec::new(), key: None }
    }

    /// The ledger in `store`, which names its device's key from here on. A key that is not to be had for now signs
    /// nothing; the next start of the bench does.
    ///
    /// # Errors
    /// As the bench that cannot be started.
    pub fn settled(store: &mut Store) -> Result<Ledger, StartError> {
        let key = identity::of(store, &Clock::new().now(), KeyPlace::AsItIs)?.key.ok();
        let read = || Ok((store.head()?, store.entries_of_device()?));
        let (head, device_entries) =
            read().map_err(|source| StartError::Store { path: store.path().to_owned(), source })?;
        Ok(Ledger { head, device_entries, key })
    }
}

/// What is done beside the touches.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Beside {
    /// The leads are read before the first and after the last touch.
    pub zero: bool,
    /// When the verdict asks for it, every conductor is swept as [`SweepPlan::default`] says.
    pub sweep: bool,
}

/// Why a rehearsal did not come to its end.
#[derive(Debug, thiserror::Error)]
pub enum NotFinished {
    /// Something was not recorded.
    #[error("not recorded: {0}")]
    Commit(String),
    /// The session refused what the procedure asks for.
    #[error("refused: {0:?}")]
    Refused(Refusal),
    /// It took longer than half an hour of counted time.
    #[error("not finished after {} minutes at the bench", LONGEST_MS / 60_000)]
    TooLong,
}

/// Does a whole job on `part` with `meter` and gives the job as it stands closed, with the end of the ledger.
///
/// # Errors
/// [`NotFinished`]; what was committed before stays.
pub fn rehearse(
    part: PartModel,
    meter: MeterModel,
    bench_seed: u64,
    setting: Setting<'_>,
) -> Result<(Job, Head), NotFinished> {
    let (described, beside) = (part.to_part(), setting.beside);
    let mut stage = Stage::new((part, meter, bench_seed), setting);
    stage.wish(Command::NewJob { order: "Practice".into(), vehicle: String::new(), details: Details::default() })?;
    stage.wish(Command::AcceptCautions { cautions: vec![Caution::C0] })?;
    stage.wish(Command::DescribePart { part: described })?;
    stage.meter_at_hand()?;
    if beside.zero {
        stage.beside(Command::ZeroLeads)?;
    }
    for _ in 0..MOST_VERDICTS {
        touch_all(&mut stage, beside)?;
        stage.wish(Command::Judge)?;
        if !follow_verdict(&mut stage, beside)? {
            break;
        }
    }
    stage.wish(Command::Finish)?;
    let head = stage.session.head().clone();
    Ok((stage.session.job().cloned().ok_or(NotFinished::TooLong)?, head))
}

/// Takes every touch that is wanted. A zero at the end that moved sets them aside, and they are taken anew.
fn touch_all(stage: &mut Stage<'_>, beside: Beside) -> Result<(), NotFinished> {
    while stage.session.announced().is_some() {
        stage.measure()?;
        if beside.zero {
            stage.beside(Command::ZeroLeads)?;
        }
    }
    Ok(())
}

/// Does what the verdict asks for, if it is something a practice bench has; true if there is something to judge anew.
fn follow_verdict(stage: &mut Stage<'_>, beside: Beside) -> Result<bool, NotFinished> {
    let Some(judgement) = stage.session.job().and_then(|j| j.verdict.as_ref()).map(|v| v.judgement.clone()) else {
        return Ok(false);
    };
    if judgement.action == ActionCode::Sweep && beside.sweep {
        return sweep_all(stage);
    }
    if judgement.set != SetVerdict::Undecided {
        return Ok(false);
    }
    match judgement.action {
        ActionCode::TouchAgain | ActionCode::Measure => {
            stage.wish(Command::MeasureMore)?;
            Ok(true)
        }
        ActionCode::OpenBars if stage.session.job().is_some_and(|j| j.conditions.bars_open.is_none()) => {
            let conditions = stage.session.job().map(|j| j.conditions.clone()).unwrap_or_default();
            stage.wish(Command::StateConditions { conditions: Conditions { bars_open: Some(true), ..conditions } })?;
            Ok(true)
        }
        _ => Ok(false),
    }
}

/// Sweeps every conductor that was not yet found steady or bad; false if there was none.
fn sweep_all(stage: &mut Stage<'_>) -> Result<bool, NotFinished> {
    let Some(job) = stage.session.job() else { return Ok(false) };
    let Some(part) = &job.part else { return Ok(false) };
    let known = |conductor| job.proofs.swept(conductor).is_some_and(|v| v == SweepVerdict::Steady || v.is_fault());
    let all = (0u32..).take(part.conductors.len());
    let left: Vec<u32> = all.filter(|c| part.clip_points(*c as usize).is_ok() && !known(*c)).collect();
    for conductor in &left {
        stage.beside(Command::Sweep { conductor: *conductor, plan: SweepPlan::default() })?;
    }
    Ok(!left.is_empty())
}

/// 32 bytes that are the same for the same number.
pub fn seed_bytes(seed: u64) -> [u8; 32] {
    let mut chance = super::chance::Chance::new(seed);
    let mut bytes = [0u8; 32];
    bytes.chunks_mut(8).for_each(|eight| eight.copy_from_slice(&chance.bits().to_be_bytes()));
    bytes
}

/// A device id that is the same for the same number, for a ledger of one practice job.
pub fn device(seed: u64) -> Uuid {
    let bytes = seed_bytes(seed ^ u64::MAX);
    let mut sixteen = [0u8; 16];
    sixteen.copy_from_slice(&bytes[..16]);
    uuid::Builder::from_random_bytes(sixteen).into_uuid()
}
