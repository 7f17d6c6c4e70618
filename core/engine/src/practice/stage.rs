//! Session and practice bench side by side in counted time: what the meter sends reaches the session, what the
//! session announces moves the hands.

use super::rehearsal::{NotFinished, Setting};
use super::{MeterModel, PartModel, PracticeBench, guide};
use evenwire_core::caution::Caution;
use evenwire_core::job::Command;
use evenwire_core::meter::link::{FoundMeter, LinkEvent, LinkState, Source};
use evenwire_core::record::Conditions;
use evenwire_core::session::{Batch, Beginning, Input, Output, Session};
use evenwire_core::unit::{BootId, Millis, Now};

/// The practice bench's handle.
const METER: &str = "practice";
/// One step of counted time: shorter than any sample period of the meter model.
pub(super) const STEP_MS: u64 = 20;
/// Clips were on for so long, and the display shows over-range: a person would say that it means something.
const OVER_RANGE_AFTER_MS: u64 = 3_000;
/// No practice job takes longer.
pub(super) const LONGEST_MS: u64 = 30 * 60 * 1_000;

/// A session with the practice meter connected to it, and the time.
pub(super) struct Stage<'a> {
    pub(super) session: Session,
    pub(super) bench: PracticeBench,
    pub(super) now: Now,
    commit: &'a mut dyn FnMut(&Batch) -> Result<(), String>,
    over_since: Option<Millis>,
}

impl<'a> Stage<'a> {
    /// Nothing is on the bench but the part and the meter, which is not connected.
    pub(super) fn new((part, meter, seed): (PartModel, MeterModel, u64), setting: Setting<'a>) -> Stage<'a> {
        let now = Now { boot: Millis(1_000), boot_id: BootId("practice".into()), wall: setting.wall };
        let beginning = Beginning {
            head: setting.head,
            device_entries: Vec::new(),
            people: Vec::new(),
            seed: setting.seed,
            profiles: evenwire_core::meter::built_in(),
            now: now.clone(),
        };
        let bench = PracticeBench::new(part, meter, seed);
        Stage { session: Session::new(beginning), bench, now, commit: setting.commit, over_since: None }
    }

    /// Connects the meter and describes it for the job on the bench, up to the first conductor that is announced.
    pub(super) fn meter_at_hand(&mut self) -> Result<(), NotFinished> {
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
    pub(super) fn measure(&mut self) -> Result<(), NotFinished> {
        while self.session.announced().is_some() {
            self.work()?;
        }
        Ok(())
    }

    /// Begins something beside the conductors, reads its cautions, and does it to its end.
    pub(super) fn beside(&mut self, wish: Command) -> Result<(), NotFinished> {
        self.wish(wish)?;
        let cautions = self.session.aside_cautions();
        if !cautions.is_empty() {
            self.wish(Command::AcceptCautions { cautions })?;
        }
        while self.session.aside().is_some() {
            self.work()?;
        }
        Ok(())
    }

    /// One step of time, with the key that only a person can press.
    fn work(&mut self) -> Result<(), NotFinished> {
        self.pass(STEP_MS)?;
        self.take_over_range_as_a_person_would()?;
        if self.now.boot.0 > LONGEST_MS { Err(NotFinished::TooLong) } else { Ok(()) }
    }

    /// The clips are seen to be on, and the display shows over-range: only a person can tell.
    fn take_over_range_as_a_person_would(&mut self) -> Result<(), NotFinished> {
        let standing = self.session.settler().is_some_and(|s| s.over_range_stands());
        if !standing || !self.bench.clips_are_on() || self.session.run().is_some() {
            self.over_since = None;
            return Ok(());
        }
        let since = *self.over_since.get_or_insert(self.now.boot);
        if self.now.boot.since(since) < Millis(OVER_RANGE_AFTER_MS) {
            return Ok(());
        }
        self.over_since = None;
        self.wish(Command::TakeOverRange)?;
        // The person lifts the clips by hand: over-range looks the same before and after.
        self.bench.lift();
        self.pass(super::hands::PAUSE_MS)
    }

    /// Lets so many ms pass.
    pub(super) fn pass(&mut self, ms: u64) -> Result<(), NotFinished> {
        let until = self.now.boot.0 + ms;
        let (_, characteristic) = self.bench.meter().encoding.channel_ids();
        while self.now.boot.0 < until {
            self.now.boot = Millis((self.now.boot.0 + STEP_MS).min(until));
            for wish in guide::bars(&self.session).into_iter().chain(guide::wish(&self.session)) {
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

    pub(super) fn wish(&mut self, command: Command) -> Result<(), NotFinished> {
        self.input(Input::Wish(command))
    }

    fn link(&mut self, event: LinkEvent) -> Result<(), NotFinished> {
        self.input(Input::Link(Source::Practice, event))
    }

    /// What the session wants committed is committed; a refusal ends it.
    pub(super) fn input(&mut self, input: Input) -> Result<(), NotFinished> {
        for output in self.session.handle(input, &self.now) {
            match output {
                Output::Append(batch) => (self.commit)(&batch).map_err(NotFinished::Commit)?,
                Output::Refused(refusal) => return Err(NotFinished::Refused(refusal)),
                // Nobody of a roster is here.
                Output::CheckPin { .. } | Output::HashPin { .. } => {}
                Output::Link(..) | Output::Load(..) | Output::Signal(_) => {}
            }
        }
        Ok(())
    }
}
