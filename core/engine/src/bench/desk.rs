//! The one thread that owns session and store. The order it keeps: what a session wants committed is committed
//! before anything after it is told. What the screen shows as recorded is recorded.

#[cfg(test)]
mod tests;

use super::listener::Latest;
use super::{Outlets, StartError, faults, traces};
use crate::clock::Clock;
use crate::practice::guide::Guide;
use crate::practice::{PartModel, PracticeWish};
use evenwire_core::job::{Command, Job, Refusal};
use evenwire_core::meter::link::{LinkCommand, LinkEvent, Source};
use evenwire_core::session::{Batch, Beginning, Input, Output, Session, Signal, Wanted};
use evenwire_core::unit::{Millis, Now};
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{self, Ask, Notice, Reply, TemplateView};
use evenwire_store::{Store, StoreError};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use uuid::Uuid;

/// Views are not told more often than this while only samples arrive: 30 a second is more than an eye takes in.
const VIEW_EVERY: Millis = Millis(33);
/// While a meter is connected the age of its value is told anew this often.
const AGE_EVERY: Millis = Millis(500);
/// Events taken in one go before the view is looked at.
const GO: usize = 256;

/// An ask and where its answer goes.
pub(super) struct Message {
    pub(super) ask: Ask,
    pub(super) reply: oneshot::Sender<Reply>,
}

/// What links report.
pub(super) struct Inlets {
    pub(super) radio: mpsc::Receiver<LinkEvent>,
    pub(super) practice: mpsc::Receiver<LinkEvent>,
    pub(super) replay: mpsc::Receiver<LinkEvent>,
}

pub(super) struct Desk {
    session: Session,
    store: Store,
    clock: Clock,
    outlets: Outlets,
    signals: broadcast::Sender<Signal>,
    views: watch::Sender<Latest>,
    fault: Option<Notice>,
    /// The session could not be built anew: what it holds is not what is recorded, and nothing is done with it.
    broken: bool,
    built_in: Vec<TemplateView>,
    guide: Guide,
    told_at: Millis,
    /// Something other than samples happened since the view was told.
    urgent: bool,
    /// Anything happened since the view was told.
    dirty: bool,
}

/// What became of an input.
enum Outcome {
    Done,
    Refused(Refusal),
    Failed(Notice),
}

impl Desk {
    pub(super) fn open(path: &Path, outlets: Outlets, signals: broadcast::Sender<Signal>) -> Result<Desk, StartError> {
        let store_error = |source| StartError::Store { path: path.to_owned(), source };
        let fresh = uuid::Builder::from_random_bytes(random()?).into_uuid();
        let mut store = Store::open(path, fresh).map_err(store_error)?;
        restore_lines(&mut store).map_err(store_error)?;
        let clock = Clock::new();
        let session = Session::new(beginning(&store, random()?, clock.now()).map_err(store_error)?);
        let built_in = PartModel::built_in_words().filter_map(PartModel::built_in).map(|model| {
            let part = model.to_part();
            TemplateView { name: part.name.clone(), part, built_in: true }
        });
        let mut desk = Desk {
            views: watch::Sender::new(Arc::new(view::of(&session, &clock.now()))),
            session,
            store,
            clock,
            outlets,
            signals,
            fault: None,
            broken: false,
            built_in: built_in.collect(),
            guide: Guide::default(),
            told_at: Millis(0),
            urgent: true,
            dirty: true,
        };
        desk.tell_if_due();
        Ok(desk)
    }

    pub(super) fn views(&self) -> watch::Receiver<Latest> {
        self.views.subscribe()
    }

    /// Runs until every handle is dropped.
    pub(super) fn run(mut self, mut asks: mpsc::Receiver<Message>, mut inlets: Inlets) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build();
        let runtime = runtime.expect("a runtime of one thread needs nothing from the system but a timer");
        runtime.block_on(async {
            loop {
                let sleep = tokio::time::sleep(self.sleep());
                tokio::select! {
                    biased;
                    message = asks.recv() => match message {
                        Some(message) => self.answer(message),
                        None => break,
                    },
                    Some(event) = inlets.radio.recv() => self.drain(Source::Radio, event, &mut inlets.radio),
                    Some(event) = inlets.practice.recv() => self.drain(Source::Practice, event, &mut inlets.practice),
                    Some(event) = inlets.replay.recv() => self.drain(Source::Replay, event, &mut inlets.replay),
                    () = sleep => {
                        self.dirty = true;
                        self.input(Input::Tick);
                    }
                }
                self.guide_hands();
                self.tell_if_due();
            }
        });
        // What was gathered and not yet written is written before the thread ends.
        self.input(Input::Wish(Command::DisconnectMeter));
    }

    fn drain(&mut self, source: Source, first: LinkEvent, more: &mut mpsc::Receiver<LinkEvent>) {
        let mut next = Some(first);
        for _ in 0..GO {
            let Some(event) = next else { break };
            self.urgent |= !matches!(event, LinkEvent::Bytes { .. });
            self.dirty = true;
            self.input(Input::Link(source, event));
            next = more.try_recv().ok();
        }
        if let Some(event) = next {
            self.input(Input::Link(source, event));
        }
    }

    fn answer(&mut self, message: Message) {
        let language = self.session.language();
        let reply = match message.ask {
            Ask::Do { command } => match self.wish(command) {
                Outcome::Done => Reply::Done,
                Outcome::Refused(refusal) => {
                    let notice = view::refusal_notice(&refusal, self.session.language());
                    Reply::Refused { refusal, notice }
                }
                Outcome::Failed(notice) => Reply::Failed { notice },
            },
            Ask::Jobs { search, skip, limit } => self.jobs(&search, (skip, limit), language),
            Ask::CheckPart { part } => view::check_part(&part, language),
            Ask::ReadBack { text, confirmed } => view::read_back(&self.session, &text, confirmed),
            Ask::Trace { sweep } => match traces::trace(&self.session, &self.store, sweep) {
                Ok(reply) => reply,
                Err(error) => Reply::Failed { notice: self.note(&error) },
            },
        };
        self.urgent = true;
        self.dirty = true;
        self.guide_hands();
        self.tell_if_due();
        // Whoever asked may have gone; what was done stays done.
        let _gone = message.reply.send(reply);
    }

    fn wish(&mut self, command: Command) -> Outcome {
        let takes_over_range = command == Command::TakeOverRange;
        let outcome = self.input(Input::Wish(command));
        if takes_over_range && matches!(outcome, Outcome::Done) {
            // Over-range looks the same with clips on and off: the practice hands are told to lift.
            let _ended = self.outlets.wishes.try_send(PracticeWish::Taken);
            self.guide.interrupted();
        }
        outcome
    }

    fn jobs(&mut self, search: &str, (skip, limit): (u32, u32), language: Language) -> Reply {
        match self.store.jobs(search, skip, limit.min(100)) {
            Ok((lines, total)) => {
                Reply::Jobs { lines: lines.iter().map(|line| view::job_line(line, language)).collect(), total }
            }
            Err(error) => Reply::Failed { notice: self.note(&error) },
        }
    }

    /// Hands an input to the session and performs what it wants, in order.
    fn input(&mut self, input: Input) -> Outcome {
        if self.broken {
            return Outcome::Failed(self.fault.clone().unwrap_or_else(faults::gone));
        }
        let now = self.clock.now();
        let session = AssertUnwindSafe(&mut self.session);
        let handled = catch_unwind(move || { session }.0.handle(input, &now));
        match handled {
            Ok(outputs) => self.perform(outputs),
            Err(_) => {
                let notice = faults::bug(self.session.language());
                tracing::error!("a bug ended the session; it is built anew from the ledger");
                self.begin_anew(notice.clone());
                Outcome::Failed(notice)
            }
        }
    }

    fn perform(&mut self, outputs: Vec<Output>) -> Outcome {
        let mut outcome = Outcome::Done;
        for output in outputs {
            match output {
                Output::Append(batch) => {
                    self.urgent |= !batch.entries.is_empty();
                    if let Err(error) = self.store.append(&batch) {
                        let notice = self.note(&error);
                        self.begin_anew(notice.clone());
                        return Outcome::Failed(notice);
                    }
                    if !batch.entries.is_empty() {
                        self.fault = None;
                    }
                }
                Output::Link(source, command) => self.send(source, &command),
                Output::Load(job, wanted) => match self.load(job, wanted) {
                    Ok(loaded) => outcome = self.input(loaded),
                    Err(error) => return Outcome::Failed(self.note(&error)),
                },
                // Nobody listening is no fault.
                Output::Signal(signal) => drop(self.signals.send(signal)),
                Output::Refused(refusal) => outcome = Outcome::Refused(refusal),
            }
        }
        outcome
    }

    fn load(&self, job: Uuid, wanted: Wanted) -> Result<Input, StoreError> {
        Ok(Input::Loaded { wanted, entries: self.store.entries_of(job)?, details: self.store.details(job)? })
    }

    /// The session is thrown away and built from the ledger; the job stays on the bench, the meter is let go.
    fn begin_anew(&mut self, notice: Notice) {
        let job = self.session.job().map(|j| j.id);
        self.send(None, &LinkCommand::Disconnect);
        self.fault = Some(notice);
        self.urgent = true;
        self.dirty = true;
        let fresh = random().map_err(|e| e.to_string());
        let begun = fresh.and_then(|seed| beginning(&self.store, seed, self.clock.now()).map_err(|e| e.to_string()));
        match begun {
            Ok(beginning) => self.session = Session::new(beginning),
            Err(error) => {
                tracing::error!(%error, "the session cannot be built from the ledger");
                self.broken = true;
                return;
            }
        }
        if let Some(Ok(loaded)) = job.map(|job| self.load(job, Wanted::Bench)) {
            let now = self.clock.now();
            // Loading writes nothing: no meter is connected in a fresh session.
            self.session.handle(loaded, &now);
        }
    }

    fn note(&mut self, error: &StoreError) -> Notice {
        tracing::error!(%error, "the ledger");
        let notice = faults::store_fault(error, self.session.language());
        self.fault = Some(notice.clone());
        notice
    }

    fn send(&mut self, source: Option<Source>, command: &LinkCommand) {
        let to = |wanted: Source| source.is_none_or(|s| s == wanted);
        let outlets = [
            (to(Source::Radio), self.outlets.radio.as_ref()),
            (to(Source::Practice), Some(&self.outlets.practice)),
            (to(Source::Replay), self.outlets.replay.as_ref()),
        ];
        for outlet in outlets.into_iter().filter_map(|(meant, outlet)| outlet.filter(|_| meant)) {
            // A link takes its commands at once; one that has ended takes none, and its state says so.
            if outlet.try_send(command.clone()).is_err() {
                tracing::warn!(?command, "a link does not take commands");
            }
        }
    }

    fn guide_hands(&mut self) {
        for wish in self.guide.says(&self.session) {
            // Full only when the practice link has ended.
            let _ended = self.outlets.wishes.try_send(wish);
        }
    }

    fn tell_if_due(&mut self) {
        let now = self.clock.now();
        if !self.dirty || (!self.urgent && now.boot.since(self.told_at) < VIEW_EVERY) {
            return;
        }
        let mut view = view::of(&self.session, &now);
        view.templates.extend(self.built_in.iter().cloned());
        view.fault.clone_from(&self.fault);
        if self.broken {
            view.bench = None;
        }
        self.views.send_replace(Arc::new(view));
        self.told_at = now.boot;
        self.urgent = false;
        self.dirty = false;
    }

    /// How long nothing but an event can change what is to be done or seen.
    fn sleep(&self) -> Duration {
        let now = self.clock.now();
        let view = self.dirty.then(|| Millis(self.told_at.0 + VIEW_EVERY.0));
        let age = self.session.meter(&now).live.map(|_| Millis(self.told_at.0 + AGE_EVERY.0));
        let next = self.session.wake_at(&now).into_iter().chain(view).chain(age).min();
        Duration::from_millis(next.map_or(60_000, |at| at.since(now.boot).0.max(1)))
    }
}

fn beginning(store: &Store, seed: [u8; 32], now: Now) -> Result<Beginning, StoreError> {
    Ok(Beginning {
        head: store.head()?,
        device_entries: store.entries_of_device()?,
        seed,
        profiles: evenwire_core::meter::built_in(),
        now,
    })
}

/// Lines of the job list that are missing are made again from the entries.
fn restore_lines(store: &mut Store) -> Result<(), StoreError> {
    let mut lines = Vec::new();
    for id in store.jobs_without_line()? {
        let Some(job) = Job::from_entries(&store.entries_of(id)?) else { continue };
        let details = store.details(id)?.and_then(|kept| kept.opened(job.personal)).unwrap_or_default();
        lines.push(job.line(&details));
    }
    // Only those that are missing are written; the others stay.
    if lines.is_empty() { Ok(()) } else { store.append(&Batch { lines, ..Batch::default() }) }
}

fn random<const N: usize>() -> Result<[u8; N], StartError> {
    let mut bytes = [0u8; N];
    getrandom::fill(&mut bytes).map_err(|e| StartError::System(e.to_string()))?;
    Ok(bytes)
}
