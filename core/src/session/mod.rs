//! Joins everything above: an input and the time in, outputs out. No clock, no disk, no radio.
//!
//! Whoever runs a session keeps one order: an [`Output::Append`] is committed before anything after it is
//! performed or told. If it cannot be committed, the session is thrown away and built anew from the ledger.

mod aside;
mod batch;
mod connection;
mod entered;
mod erasing;
mod handed;
mod identity;
mod ids;
mod input;
mod instrument;
mod jobs;
mod library;
mod measuring;
mod meters;
mod office;
mod people;
mod pins;
mod shop;
mod signal;
mod recording;
mod steps;
pub(crate) mod sweeping;
#[cfg(test)]
pub(crate) mod tests;

pub use aside::{Aside, DoneBeside};
pub use batch::Batch;
pub use erasing::older_than;
pub use handed::beyond;
pub use input::{Beginning, Erasing, Input, NewPhoto, Output, TakenOver, Wanted};
pub(crate) use instrument::spec_of;
pub use library::{KeptProcedure, Library};
pub use meters::MeterState;
pub use office::FromOffice;
pub use people::{Member, Roster};
pub use signal::Signal;
pub use sweeping::Run;
pub(crate) use sweeping::readings_of;

use crate::job::{Command, Job, Refusal};
use crate::meter::link::{FoundMeter, Source};
use crate::part::{Part, Point};
use crate::record::{Details, Earlier, Event, Head, Instrument, KeptPerson, Shop, TouchFact};
use crate::settle::Settler;
use crate::unit::{Millis, Now};
use crate::verdict::words::Language;
use identity::Seal;
use ids::Ids;
use meters::Meters;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Wall clocks before this are not set: 2026-01-01T00:00Z in milliseconds.
const EPOCH_OF_THE_PROGRAM: i64 = 1_767_225_600_000;
/// Wall and boot clock may drift apart so far before the wall clock is said to have jumped, ms.
const JUMP_MS: i64 = 5_000;
/// The running bench.
pub struct Session {
    id: Uuid,
    head: Head,
    seal: Seal,
    ids: Ids,
    began: Now,
    language: Language,
    templates: Vec<(String, Part)>,
    instruments: BTreeMap<String, Instrument>,
    library: Library,
    roster: Roster,
    /// Signatures of the office that were not taken.
    not_taken: BTreeSet<Uuid>,
    /// What the answer about a PIN is for; gone with the next thing that happens.
    asked: Option<pins::Asked>,
    /// What stands at the head of a report.
    shop: Shop,
    /// Identity of the meter without radio that was described last.
    read_by_eye: Option<String>,
    job: Option<Job>,
    details: Details,
    /// What stood in their place before, oldest first.
    earlier: Vec<Earlier>,
    meters: Meters,
    /// What is done beside the conductors. Not in the ledger: whoever comes back finds the conductor announced.
    aside: Option<Aside>,
    /// A sweep was broken off since the last wish.
    done_beside: Option<DoneBeside>,
}

impl Session {
    /// A session at the end of a ledger.
    pub fn new(beginning: Beginning) -> Session {
        let mut ids = Ids::new(beginning.seed);
        let mut session = Session {
            id: ids.id(&beginning.now),
            seal: Seal::default(),
            head: beginning.head,
            ids,
            began: beginning.now,
            language: Language::default(),
            templates: Vec::new(),
            instruments: BTreeMap::new(),
            library: Library::new(),
            roster: Roster::default(),
            not_taken: BTreeSet::new(),
            asked: None,
            shop: Shop::default(),
            read_by_eye: None,
            job: None,
            details: Details::default(),
            earlier: Vec::new(),
            meters: Meters::new(beginning.profiles),
            aside: None,
            done_beside: None,
        };
        for sealed in &beginning.device_entries {
            let entry = sealed.entry();
            if let Some(event) = entry.event() {
                session.apply_of_device(event);
            }
        }
        // Only now: other devices that wrote here before were known by keys of their own.
        session.seal = Seal::new(beginning.key, &beginning.device_entries, session.head.device);
        for kept in beginning.people {
            let tries = kept.tries.taken_up(&session.began);
            session.roster.keep(KeptPerson { tries, ..kept });
        }
        session
    }

    /// Takes in what happened and says what is to be done.
    pub fn handle(&mut self, input: Input, now: &Now) -> Vec<Output> {
        let mut outputs = Vec::new();
        if !matches!(input, Input::PinChecked { .. } | Input::PinHashed(_)) {
            self.asked = None;
        }
        if let Err(refusal) = self.take_in(input, now, &mut outputs) {
            outputs.push(Output::Refused(refusal));
        }
        outputs
    }

    fn take_in(&mut self, input: Input, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        match input {
            Input::Wish(command) => {
                if !matches!(command, Command::Speak { .. }) {
                    self.done_beside = None;
                }
                return self.wish(command, now, outputs);
            }
            Input::Loaded { wanted: Wanted::Comparison, entries, .. } => {
                return self.begin_candidate(&entries, now, outputs);
            }
            Input::Photo(photo) => return self.keep_photo(photo, now, outputs),
            Input::TakenOver(taken) => return self.take_over(*taken, now, outputs),
            Input::Collected(erasing, lines) => return self.collected(erasing, &lines, now, outputs),
            Input::PinChecked { fits } => return self.pin_checked(fits, now, outputs),
            Input::PinHashed(hash) => return self.pin_hashed(hash, now, outputs),
            Input::SignedAtOffice(from) => self.signed_at_office(*from, now, outputs),
            Input::Link(source, event) => self.link(source, event, now, outputs),
            Input::Loaded { wanted: Wanted::Bench, entries, details, newest_job } => {
                self.loaded((&entries, newest_job), details, now, outputs);
            }
            Input::Tick => self.tick(now, outputs),
        }
        Ok(())
    }

    /// When time alone will change something: a chunk is due, a value goes stale, or a second of the wait is over.
    pub fn wake_at(&self, now: &Now) -> Option<Millis> {
        let mark = self.run().and_then(Run::due_at);
        let second = self.job.as_ref().and_then(|job| job.work.as_deref()?.next_second(now));
        let pause = self.roster.next_second(now);
        self.meters.wake_at(now.boot).into_iter().chain(mark).chain(second).chain(pause).min()
    }

    /// The job on the bench.
    pub fn job(&self) -> Option<&Job> {
        self.job.as_ref()
    }

    /// What stood in place of the details before they were corrected, oldest first.
    pub fn earlier_details(&self) -> &[Earlier] {
        &self.earlier
    }

    /// Personal details of the job on the bench.
    pub fn details(&self) -> &Details {
        &self.details
    }

    /// The people of the shop.
    pub fn roster(&self) -> &Roster {
        &self.roster
    }

    /// What stands at the head of a report.
    pub fn shop(&self) -> &Shop {
        &self.shop
    }

    /// Saved parts, by name.
    pub fn templates(&self) -> &[(String, Part)] {
        &self.templates
    }

    /// Language of the screens.
    pub fn language(&self) -> Language {
        self.language
    }

    /// The link and the meter.
    pub fn meter(&self, now: &Now) -> MeterState<'_> {
        self.meters.state(now.boot)
    }

    /// The meter that is connected or being connected to.
    pub fn meter_wanted(&self) -> Option<&FoundMeter> {
        self.meters.wanted.as_ref()
    }

    /// The meter without radio that was described last.
    pub fn typed_meter(&self) -> Option<&Instrument> {
        self.instruments.get(self.read_by_eye.as_ref()?).filter(|i| i.source == Source::Typed)
    }

    /// The settler of the present connection.
    pub fn settler(&self) -> Option<&Settler> {
        self.meters.connection.as_ref().map(|c| &c.settler)
    }

    /// Where the clips are to go now: the two ends of the conductor announced, while measuring.
    pub fn announced(&self) -> Option<(u32, (Point, Point))> {
        let job = self.job.as_ref().filter(|j| self.aside.is_none() && j.at_measuring().is_ok())?;
        let next = job.next_conductor()?;
        Some((next, job.part.as_ref()?.clip_points(next as usize).ok()?))
    }

    /// The meter connected now is the one the job on the bench uses.
    pub fn meter_is_of_job(&self) -> bool {
        let used = self.job.as_ref().and_then(|j| j.instrument.as_ref());
        let connected = self.meters.connection.as_ref().and_then(|c| c.described.as_ref());
        used.is_some() && used == connected
    }

    /// The newest touch, if it could be taken back now.
    pub fn may_undo(&self) -> Option<&TouchFact> {
        let job = self.job.as_ref()?;
        job.newest_touch().filter(|newest| job.decide(&Command::UndoTouch { touch: newest.touch }).is_ok())
    }

    /// A verdict could be asked for now.
    pub fn may_judge(&self) -> bool {
        self.job.as_ref().is_some_and(|j| j.may_judge().is_ok())
    }

    /// The end of the ledger.
    pub fn head(&self) -> &Head {
        &self.head
    }

    fn wish(&mut self, command: Command, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        match command {
            Command::NewJob { order, vehicle, details } => self.new_job((order, vehicle, details), now, outputs),
            Command::CorrectJob { job, order, vehicle, details } => {
                self.correct_job((job, &order, &vehicle), details, now, outputs)
            }
            Command::OpenJob { job } => {
                outputs.push(Output::Load(job, Wanted::Bench));
                Ok(())
            }
            Command::MeasureCandidate { old } if self.job.is_none() => {
                outputs.push(Output::Load(old, Wanted::Comparison));
                Ok(())
            }
            Command::MeasureCandidate { .. } => Err(Refusal::BenchTaken),
            Command::LeaveJob => {
                self.leave_job(now, outputs);
                Ok(())
            }
            Command::SaveTemplate { name } => {
                let part = self.job.as_ref().and_then(|j| j.part.clone()).ok_or(Refusal::PartFirst)?;
                if !crate::job::template_name_fits(&name) {
                    return Err(Refusal::TemplateName);
                }
                self.record(vec![Event::TemplateSaved { name: name.trim().to_owned(), part }], now, outputs);
                Ok(())
            }
            Command::Speak { language } => {
                self.record(vec![Event::LanguageChosen { language }], now, outputs);
                Ok(())
            }
            Command::SearchMeters | Command::StopSearch | Command::ConnectMeter { .. } | Command::DisconnectMeter => {
                self.meter_wish(command, now, outputs)
            }
            Command::DescribeMeter { spec } => self.use_meter(&spec, now, outputs),
            Command::UseTypedMeter { spec } => self.use_typed_meter(&spec, now, outputs),
            Command::TypeReading { text, confirmed } => self.type_reading(&text, confirmed, now, outputs),
            Command::TypeOverRange => self.type_over_range(now, outputs),
            Command::ZeroLeads
            | Command::CheckMeter { .. }
            | Command::MeasureIsolation { .. }
            | Command::PlanSweep { .. }
            | Command::Sweep { .. }
            | Command::MarkSweep
            | Command::EndSweep
            | Command::BackToConductors => self.aside_wish(command, now, outputs),
            Command::KeepProcedure { text } => self.keep_procedure(&text, now, outputs),
            Command::WithdrawProcedure { procedure } => self.withdraw_procedure(&procedure, now, outputs),
            Command::BeginProcedure { procedure, technician: None, .. } => self.begin_unnamed(&procedure, now, outputs),
            Command::BeginProcedure { .. }
            | Command::NameTechnician { .. }
            | Command::SignStep { .. }
            | Command::ApproveProcedure { .. }
            | Command::AddPerson { .. }
            | Command::ChangePin { .. }
            | Command::RemovePerson { .. } => self.people_wish(command, now, outputs),
            Command::AtStep { job, step, act } => self.at_step(job, (&step, &act), now, outputs),
            Command::SupplyWasOn { job } => self.supply_was_on(job, now, outputs),
            Command::ReleaseJob { .. } | Command::TakeJobBack { .. } => self.hand_wish(command, now, outputs),
            Command::EraseDetails { job } => {
                self.erase(job, outputs);
                Ok(())
            }
            Command::DescribeShop { shop, logo } => self.describe_shop(shop, logo, now, outputs),
            Command::EraseOlder { months } => self.erase_older(months, now, outputs),
            Command::TakeAsItIs => self.take_as_it_is(now, outputs),
            Command::TakeOverRange => self.take_over_range(now, outputs),
            of_job => self.job_wish(&of_job, now, outputs),
        }
    }

    fn job_wish(&mut self, command: &Command, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let job = self.job.as_ref().ok_or(Refusal::NoJob)?;
        let events = job.decide(command)?;
        // Cautions are read on the way into an aside; every other wish leads out of it.
        if !matches!(command, Command::AcceptCautions { .. }) {
            self.aside = None;
        }
        self.record(events, now, outputs);
        // Whatever the clips touch now was not touched for what is announced from here on.
        self.meters.announce(now.boot);
        Ok(())
    }

    fn tick(&mut self, now: &Now, outputs: &mut Vec<Output>) {
        let chunks = self.meters.due_chunk(now.boot).into_iter().collect();
        push_append(outputs, Batch { chunks, ..Batch::default() });
        self.pass_marks(now, outputs);
    }
}

fn push_append(outputs: &mut Vec<Output>, batch: Batch) {
    if !batch.is_empty() {
        outputs.push(Output::Append(batch));
    }
}
