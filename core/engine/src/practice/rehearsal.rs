//! A whole job at the practice bench without a screen and without waiting: bytes, decoder, settling, verdict,
//! ledger, through the same session as at a real bench. Time is counted, not waited for.

use super::{MeterModel, PartModel, PracticeBench, guide};
use evenwire_core::caution::Caution;
use evenwire_core::job::{Command, Job, Refusal};
use evenwire_core::meter::link::{FoundMeter, LinkEvent, LinkState, Source};
use evenwire_core::record::{Conditions, Details, Head};
use evenwire_core::session::{Batch, Beginning, Input, Output, Session};
use evenwire_core::unit::{BootId, Millis, Now, Stamp};
use evenwire_core::verdict::{ActionCode, SetVerdict};
use uuid::Uuid;

/// The practice bench's handle.
const METER: &str = "practice";
/// One step of counted time: shorter than any sample period of the meter model.
const STEP_MS: u64 = 20;
/// Clips were on for so long, and the display shows over-range: this conductor is open, a person would say.
const OPEN_AFTER_MS: u64 = 3_000;
/// No practice job takes longer.
const LONGEST_MS: u64 = 30 * 60 * 1_000;
/// Verdicts asked for at most: each asks for one more thing to be done.
const MOST_VERDICTS: usize = 12;

/// What a rehearsal needs from outside.
pub struct Setting<'a> {
    /// The end of the ledger the job is written to.
    pub head: Head,
    /// 32 bytes the ids are drawn from.
    pub seed: [u8; 32],
    /// When the job is said to have begun.
    pub wall: Stamp,
    /// Commits a batch; nothing goes on before it returns.
    pub commit: &'a mut dyn FnMut(&Batch) -> Result<(), String>,
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
    let started = Now { boot: Millis(1_000), boot_id: BootId("practice".into()), wall: setting.wall };
    let beginning = Beginning {
        head: setting.head,
        device_entries: Vec::new(),
        seed: setting.seed,
        profiles: evenwire_core::meter::built_in(),
        now: started.clone(),
    };
    let mut stage = Rehearsal {
        described: part.to_part(),
        session: Session::new(beginning),
        bench: PracticeBench::new(part, meter, bench_seed),
        now: started,
        commit: setting.commit,
        over_since: None,
    };
    stage.prepare()?;
    for _ in 0..MOST_VERDICTS {
        stage.measure()?;
        stage.wish(Command::Judge)?;
        if !stage.follow_verdict()? {
            break;
        }
    }
    stage.wish(Command::Finish)?;
    let head = stage.session.head().clone();
    Ok((stage.session.job().cloned().ok_or(NotFinished::TooLong)?, head))
}

struct Rehearsal<'a> {
    described: evenwire_core::part::Part,
    session: Session,
    bench: PracticeBench,
    now: Now,
    commit: &'a mut dyn FnMut(&Batch) -> Result<(), String>,
    over_since: Option<Millis>,
}

impl Rehearsal<'_> {
    fn prepare(&mut self) -> Result<(), NotFinished> {
        self.wish(Command::NewJob { order: "Practice".into(), vehicle: String::new(), details: Details::default() })?;
        self.wish(Command::AcceptCautions { cautions: vec![Caution::C0] })?;
        self.wish(Command::DescribePart { part: self.described.clone() })?;
        let found =
            FoundMeter { id: METER.into(), name: "Practice meter".into(), signal: None, source: Source::Practice };
        self.link(LinkEvent::Found(found))?;
        self.wish(Command::ConnectMeter { id: METER.into() })?;
        self.link(LinkEvent::Connected { generation: 1, offer: self.bench.offer() })?;
        self.link(LinkEvent::State(LinkState::Subscribed))?;
        // A few readings tell the step; the accuracy stands in the profile or is the usual one of a handheld.
        self.pass(1_000)?;
        let mut spec = self.session.meter(&self.now).spec;
        let step = format!("0.{:0>places$}", 1, places = usize::from(self.bench.meter().places));
        let or = |text: String, other: String| if text.is_empty() { other } else { text };
        spec.step = or(spec.step, step);
        spec.accuracy_percent = or(spec.accuracy_percent, "0.8".into());
        spec.accuracy_counts = or(spec.accuracy_counts, "3".into());
        spec.top = or(spec.top, self.bench.meter().top_ohm.to_string());
        self.wish(Command::DescribeMeter { spec })?;
        let conditions = Conditions { leads_zeroed: self.bench.meter().leads_zeroed, ..Conditions::default() };
        self.wish(Command::StateConditions { conditions })?;
        self.wish(Command::AcceptCautions { cautions: vec![Caution::C1] })
    }

    /// Clips from conductor to conductor until every wanted touch is taken.
    fn measure(&mut self) -> Result<(), NotFinished> {
        while self.session.announced().is_some() {
            self.pass(STEP_MS)?;
            self.take_over_range_as_a_person_would()?;
            if self.now.boot.0 > LONGEST_MS {
                return Err(NotFinished::TooLong);
            }
        }
        Ok(())
    }

    /// The clips are seen to be on, and the display shows over-range: only a person can tell.
    fn take_over_range_as_a_person_would(&mut self) -> Result<(), NotFinished> {
        let standing = self.session.settler().is_some_and(|s| s.over_range_stands());
        if !standing || !self.bench.clips_are_on() {
            self.over_since = None;
            return Ok(());
        }
        let since = *self.over_since.get_or_insert(self.now.boot);
        if self.now.boot.since(since) < Millis(OPEN_AFTER_MS) {
            return Ok(());
        }
        self.over_since = None;
        self.wish(Command::TakeOverRange)?;
        // The person lifts the clips by hand: over-range looks the same before and after.
        self.lift()
    }

    fn lift(&mut self) -> Result<(), NotFinished> {
        self.bench.lift();
        self.pass(super::hands::PAUSE_MS)
    }

    /// Does what the verdict asks for, if it is something a practice bench has; true if there is more to measure.
    fn follow_verdict(&mut self) -> Result<bool, NotFinished> {
        let Some(judgement) = self.session.job().and_then(|j| j.verdict.as_ref()).map(|v| v.judgement.clone()) else {
            return Ok(false);
        };
        if judgement.set != SetVerdict::Undecided {
            return Ok(false);
        }
        match judgement.action {
            ActionCode::TouchAgain | ActionCode::Measure => {
                self.wish(Command::MeasureMore)?;
                Ok(true)
            }
            ActionCode::OpenBars if self.session.job().is_some_and(|j| j.conditions.bars_open.is_none()) => {
                let conditions = self.session.job().map(|j| j.conditions.clone()).unwrap_or_default();
                self.wish(Command::StateConditions { conditions: Conditions { bars_open: Some(true), ..conditions } })?;
                Ok(true)
            }
            _ => Ok(false),
        }
    }

    fn pass(&mut self, ms: u64) -> Result<(), NotFinished> {
        let until = self.now.boot.0 + ms;
        let (_, characteristic) = self.bench.meter().encoding.channel_ids();
        while self.now.boot.0 < until {
            self.now.boot = Millis((self.now.boot.0 + STEP_MS).min(until));
            if let Some(wish) = guide::wish(&self.session) {
                // The bench refuses a clip where none may go, and its hands stay as they are.
                let _refused = self.bench.wish(wish);
            }
            for frame in self.bench.step(self.now.boot) {
                self.link(LinkEvent::Bytes { generation: 1, characteristic, bytes: frame.bytes, at: frame.at })?;
            }
            self.input(Input::Tick)?;
        }
        Ok(())
    }

    fn wish(&mut self, command: Command) -> Result<(), NotFinished> {
        self.input(Input::Wish(command))
    }

    fn link(&mut self, event: LinkEvent) -> Result<(), NotFinished> {
        self.input(Input::Link(Source::Practice, event))
    }

    fn input(&mut self, input: Input) -> Result<(), NotFinished> {
        for output in self.session.handle(input, &self.now) {
            match output {
                Output::Append(batch) => (self.commit)(&batch).map_err(NotFinished::Commit)?,
                Output::Refused(refusal) => return Err(NotFinished::Refused(refusal)),
                Output::Link(..) | Output::Load(..) | Output::Signal(_) => {}
            }
        }
        Ok(())
    }
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
