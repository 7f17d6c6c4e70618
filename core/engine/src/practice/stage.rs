//! Session and practice bench side by side in counted time: what the meter sends reaches the session, what the
//! session announces moves the hands.

use super::rehearsal::{NotFinished, Setting};
use super::{MeterModel, PartModel, PracticeBench, guide};
use crate::bench::pins;
use crate::clock;
use evenwire_core::caution::Caution;
use evenwire_core::job::Command;
use evenwire_core::meter::link::{FoundMeter, LinkEvent, LinkState, Source};
use evenwire_core::record::{Conditions, DeviceKey, Sealed};
use evenwire_core::session::{Batch, Beginning, Input, Output, Session, Wanted};
use evenwire_core::unit::{BootId, Millis, Now, Stamp};
use uuid::Uuid;

/// The practice bench's handle.
const METER: &str = "practice";
/// One step of counted time: shorter than any sample period of the meter model.
pub(super) const STEP_MS: u64 = 20;
/// Clips were on for so long, and the display shows over-range: a person would say that it means something.
const OVER_RANGE_AFTER_MS: u64 = 3_000;
/// No practice job takes longer.
pub(super) const LONGEST_MS: u64 = 30 * 60 * 1_000;
/// The boot clock when the program is there again after the machine went down, ms.
const RESTART_MS: u64 = 40_000;

/// A session with the practice meter connected to it, and the time.
pub(super) struct Stage<'a> {
    pub(super) session: Session,
    pub(super) bench: PracticeBench,
    pub(super) now: Now,
    commit: &'a mut dyn FnMut(&Batch) -> Result<(), String>,
    /// All that was committed: what a program that is started again reads.
    pub(super) kept: Batch,
    key: Option<DeviceKey>,
    /// Connections of the meter so far.
    generation: u32,
    /// Starts of the machine after the first.
    pub(super) boots: u32,
    over_since: Option<Millis>,
    /// When it began by the wall clock, and what was counted since, ms.
    wall: (Stamp, u64),
}

impl<'a> Stage<'a> {
    /// Nothing is on the bench but the part and the meter, which is not connected.
    pub(super) fn new((part, meter, seed): (PartModel, MeterModel, u64), setting: Setting<'a>) -> Stage<'a> {
        let wall = (setting.wall.clone(), 0);
        let now = Now { boot: Millis(1_000), boot_id: BootId("practice".into()), wall: setting.wall };
        let beginning = Beginning {
            head: setting.ledger.head,
            device_entries: setting.ledger.device_entries.clone(),
            people: Vec::new(),
            key: setting.ledger.key.clone(),
            seed: setting.seed,
            profiles: evenwire_core::meter::built_in(),
            now: now.clone(),
        };
        let bench = PracticeBench::new(part, meter, seed);
        Stage {
            session: Session::new(beginning),
            bench,
            now,
            commit: setting.commit,
            kept: Batch { entries: setting.ledger.device_entries, ..Batch::default() },
            key: setting.ledger.key,
            generation: 0,
            boots: 0,
            over_since: None,
            wall,
        }
    }

    /// Connects the meter and describes it for the job on the bench, up to the first conductor that is announced.
    pub(super) fn meter_at_hand(&mut self) -> Result<(), NotFinished> {
        self.connect()?;
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

    /// Finds the practice meter and connects it.
    fn connect(&mut self) -> Result<(), NotFinished> {
        let found =
            FoundMeter { id: METER.into(), name: "Practice meter".into(), signal: None, source: Source::Practice };
        self.link(LinkEvent::Found(found))?;
        self.wish(Command::ConnectMeter { id: METER.into() })?;
        self.generation += 1;
        self.link(LinkEvent::Connected { generation: self.generation, offer: self.bench.offer() })?;
        self.link(LinkEvent::State(LinkState::Subscribed))
    }

    /// The machine goes down and comes up again: another run of its boot clock, the program begins from what was
    /// committed, the job is opened again, and the meter is not connected.
    pub(super) fn reboot(&mut self, seed: [u8; 32]) -> Result<(), NotFinished> {
        let job = self.session.job().map(|job| job.id);
        self.boots += 1;
        self.count(RESTART_MS);
        (self.now.boot, self.now.boot_id) = (Millis(RESTART_MS), BootId(format!("practice-{}", self.boots)));
        let of_device = |sealed: &&Sealed| sealed.entry().job.is_none();
        self.session = Session::new(Beginning {
            head: self.session.head().clone(),
            device_entries: self.kept.entries.iter().filter(of_device).cloned().collect(),
            people: self.kept.people.clone(),
            key: self.key.clone(),
            seed,
            profiles: evenwire_core::meter::built_in(),
            now: self.now.clone(),
        });
        let (part, meter) = (self.bench.part().clone(), self.bench.meter().clone());
        self.bench = PracticeBench::new(part, meter, u64::from(seed[0]));
        job.map_or(Ok(()), |job| self.wish(Command::OpenJob { job }))
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

    /// The wall clock goes on as well, to the second.
    fn count(&mut self, ms: u64) {
        let before = self.wall.1;
        self.wall.1 += ms;
        if before / 1_000 != self.wall.1 / 1_000 {
            self.now.wall = clock::later(&self.wall.0, self.wall.1);
        }
    }

    /// Lets so many ms pass.
    pub(super) fn pass(&mut self, ms: u64) -> Result<(), NotFinished> {
        let until = self.now.boot.0 + ms;
        let (_, characteristic) = self.bench.meter().encoding.channel_ids();
        while self.now.boot.0 < until {
            let step = STEP_MS.min(until - self.now.boot.0);
            self.now.boot = Millis(self.now.boot.0 + step);
            self.count(step);
            for wish in guide::bars(&self.session).into_iter().chain(guide::wish(&self.session)) {
                // The bench refuses a clip where none may go, and its hands stay as they are.
                let _refused = self.bench.wish(wish);
            }
            for frame in self.bench.step(self.now.boot) {
                self.link(LinkEvent::Bytes {
                    generation: self.generation,
                    characteristic,
                    bytes: frame.bytes,
                    at: frame.at,
                })?;
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
                Output::Append(batch) => {
                    (self.commit)(&batch).map_err(NotFinished::Commit)?;
                    self.keep(batch);
                }
                Output::Load(job, wanted) => self.load(job, wanted)?,
                Output::CheckPin { pin, hash } => self.input(Input::PinChecked { fits: pins::fits(&pin, &hash) })?,
                Output::HashPin { pin } => {
                    let hash = pins::hash(&pin).ok_or_else(|| NotFinished::Commit("no random bytes".into()))?;
                    self.input(Input::PinHashed(hash))?;
                }
                Output::Refused(refusal) => return Err(NotFinished::Refused(refusal)),
                // Nothing is erased at a practice bench.
                Output::Link(..) | Output::Signal(_) | Output::Collect(_) => {}
            }
        }
        Ok(())
    }

    fn keep(&mut self, batch: Batch) {
        self.kept.entries.extend(batch.entries);
        self.kept.details.extend(batch.details);
        for person in batch.people {
            self.kept.people.retain(|kept| kept.person != person.person);
            self.kept.people.push(person);
        }
    }

    fn load(&mut self, job: Uuid, wanted: Wanted) -> Result<(), NotFinished> {
        let of = |sealed: &&Sealed| sealed.entry().job == Some(job);
        let entries: Vec<Sealed> = self.kept.entries.iter().filter(of).cloned().collect();
        let details = self.kept.details.iter().rfind(|details| details.job == job).cloned();
        let newest_job = self.kept.entries.iter().rev().find_map(|sealed| sealed.entry().job);
        self.input(Input::Loaded { wanted, entries, details, newest_job })
    }
}
