//! The one thread that owns session and store. The order it keeps: what a session wants committed is committed
//! before anything after it is told. What the screen shows as recorded is recorded.

mod key;
mod links;
mod list;
mod look;
mod mend;
mod near;
mod shop;
mod tell;
#[cfg(test)]
mod tests;

use super::listener::Latest;
use super::{BenchOptions, Outlets, StartError, faults, identity, pictures, pins, profiles, traces};
use crate::clock::Clock;
use crate::near::Near;
use crate::practice::PracticeWish;
use crate::practice::guide::Guide;
use evenwire_core::claim::Handed;
use evenwire_core::job::{Command, Refusal};
use evenwire_core::meter::Profile;
use evenwire_core::meter::link::{LinkEvent, Source};
use evenwire_core::record::DeviceKey;
use evenwire_core::session::{Batch, Input, NewPhoto, Output, Session, Signal};
use evenwire_core::sync::{Countersigned, Trouble};
use evenwire_core::unit::Millis;
use evenwire_core::view::{self, Ask, Notice, Reply};
use evenwire_store::{CheckReport, Store, StoreError};
use futures::FutureExt;
use key::Key;
use look::Sound;
use mend::{MOST_FALLS, random, restore_lines};
use std::panic::AssertUnwindSafe;
use std::sync::Arc;
use tokio::sync::{broadcast, mpsc, oneshot, watch};

/// Views are not told more often than this while only samples arrive: 30 a second is more than an eye takes in.
const VIEW_EVERY: Millis = Millis(33);
/// While a meter is connected the age of its value is told anew this often.
const AGE_EVERY: Millis = Millis(500);
/// Events taken in one go before the view is looked at.
const GO: usize = 256;

/// What a handle sends.
pub(super) enum Message {
    /// An ask, and where its answer goes.
    Ask { ask: Ask, reply: oneshot::Sender<Reply> },
    /// A photo to be kept, and where the answer goes.
    Photo { photo: NewPhoto, reply: oneshot::Sender<Reply> },
    /// A job that another device handed over, and where the answer goes.
    TakeOver { handed: Box<Handed>, reply: oneshot::Sender<Reply> },
    /// A second person signed at the office; where the answer goes.
    SignedAtOffice { given: Box<Countersigned>, reply: oneshot::Sender<Reply> },
    /// What a look at everything that is recorded came to.
    Looked(Result<CheckReport, StoreError>),
    /// The key that was not to be had is here.
    KeyCame(DeviceKey),
    /// Write what is gathered, and end.
    Close,
}

/// What links report.
pub(super) struct Inlets {
    pub(super) radio: mpsc::Receiver<LinkEvent>,
    pub(super) practice: mpsc::Receiver<LinkEvent>,
    pub(super) replay: mpsc::Receiver<LinkEvent>,
}

pub(super) struct Desk {
    /// First, so that nobody reads the ledger any more when it is closed.
    sound: Sound,
    session: Session,
    store: Store,
    key: Key,
    clock: Clock,
    outlets: Outlets,
    signals: broadcast::Sender<Signal>,
    views: watch::Sender<Latest>,
    fault: Option<Notice>,
    /// The session could not be built anew: nothing is done any more. The session is an empty one, to be looked at.
    broken: bool,
    /// Panics since a view was told.
    falls: u32,
    /// Told to end.
    closing: bool,
    profiles: Vec<Profile>,
    at_hub: shop::AtHub,
    near: Near,
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
    pub(super) fn open(
        options: &BenchOptions,
        outlets: Outlets,
        signals: broadcast::Sender<Signal>,
    ) -> Result<Desk, StartError> {
        let path = options.database.as_path();
        let store_error = |source| StartError::Store { path: path.to_owned(), source };
        let fresh = uuid::Builder::from_random_bytes(random()?).into_uuid();
        let mut store = Store::open(path, fresh).map_err(store_error)?;
        let clock = Clock::new();
        let who = identity::of(&mut store, &clock.now(), options.key)?;
        restore_lines(&mut store).map_err(store_error)?;
        let profiles = profiles::known(&options.profiles);
        let key = Key::new(who.kept, who.key);
        let session = mend::begin(&store, &profiles, key.there(), clock.now())?;
        let mut desk = Desk {
            sound: Sound::default(),
            views: watch::Sender::new(Arc::new(view::of(&session, &clock.now()))),
            fault: who.renewed.map(|reason| faults::renewed(reason, session.language())),
            session,
            store,
            key,
            clock,
            outlets,
            signals,
            broken: false,
            falls: 0,
            closing: false,
            profiles,
            at_hub: shop::AtHub::default(),
            near: Near::default(),
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

    /// Runs until it is told to close, or every handle is dropped.
    ///
    /// The one place where a panic of anything the bench does is caught. What it was doing is lost, and whoever
    /// asked for it hears so; work goes on from the ledger.
    pub(super) fn run(mut self, mut asks: mpsc::Receiver<Message>, mut inlets: Inlets) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build();
        let runtime = runtime.expect("a runtime of one thread needs nothing from the system but a timer");
        runtime.block_on(async {
            while self.falls <= MOST_FALLS {
                let work = async {
                    self.mend();
                    self.work(&mut asks, &mut inlets).await;
                };
                match AssertUnwindSafe(work).catch_unwind().await {
                    Ok(()) => return,
                    Err(_) => self.fell(),
                }
            }
        });
    }

    async fn work(&mut self, asks: &mut mpsc::Receiver<Message>, inlets: &mut Inlets) {
        let mut news = self.at_hub.news();
        let mut offers = self.near.standing();
        while !self.closing {
            let sleep = tokio::time::sleep(self.sleep());
            tokio::select! {
                biased;
                message = asks.recv() => match message {
                    Some(Message::Ask { ask, reply }) => self.answer(ask, reply),
                    Some(Message::Photo { photo, reply }) => self.tried(reply, |desk| desk.input(Input::Photo(photo))),
                    Some(Message::TakeOver { handed, reply }) => self.tried(reply, |desk| desk.take_over(*handed)),
                    Some(Message::SignedAtOffice { given, reply }) => {
                        self.tried(reply, |desk| desk.signed_at_office(*given));
                    }
                    Some(Message::Looked(came)) => self.looked(came),
                    Some(Message::KeyCame(key)) => self.key_came(key),
                    Some(Message::Close) | None => self.closing = true,
                },
                Some(event) = inlets.radio.recv() => self.drain(Source::Radio, event, &mut inlets.radio),
                Some(event) = inlets.practice.recv() => self.drain(Source::Practice, event, &mut inlets.practice),
                Some(event) = inlets.replay.recv() => self.drain(Source::Replay, event, &mut inlets.replay),
                Ok(()) = news.changed() => {
                    let told = news.borrow_and_update().clone();
                    self.heard_of_hub(told);
                }
                Ok(()) = offers.changed() => (self.urgent, self.dirty) = (true, true),
                () = sleep => {
                    self.dirty = true;
                    self.input(Input::Tick);
                }
            }
            self.guide_hands();
            self.offer_what_is_here();
            self.tell_if_due();
        }
        self.finish(inlets);
    }

    fn answer(&mut self, ask: Ask, reply_to: oneshot::Sender<Reply>) {
        let language = self.session.language();
        let reply = match ask {
            Ask::Do { command } => {
                let outcome = self.wish(command);
                self.told(outcome)
            }
            // Made small before it comes here.
            Ask::KeepPhoto { .. } => self.told(Outcome::Refused(Refusal::NoPhoto)),
            // Read before it comes here.
            Ask::ReadCode { .. } => self.told(Outcome::Refused(Refusal::NoCode)),
            Ask::Picture { photo } => match pictures::picture(&self.session, &self.store, photo) {
                Ok(reply) => reply,
                Err(error) => Reply::Failed { notice: self.not_read(&error) },
            },
            Ask::Jobs { search, open, skip, limit } => self.jobs((&search, open), (skip, limit), language),
            Ask::LookAtErasing { months } => self.look_at_erasing(months, language),
            Ask::Shop => Reply::Shop { shop: self.session.shop().clone() },
            Ask::LookAtVin { vin } => view::look_at_vin(&vin, language),
            // Never come here: whoever sends is asked itself.
            Ask::PairWithShop { .. } | Ask::SendToShop | Ask::LeaveShop | Ask::PutNoteAway { .. } => {
                Reply::Failed { notice: view::hub_notice(Trouble::NotPaired, language) }
            }
            // Made from the file beside this thread.
            Ask::Report { .. }
            | Ask::Claim { .. }
            | Ask::HandOver { .. }
            | Ask::BackUp
            | Ask::TakeOver { .. }
            | Ask::Offer { .. }
            | Ask::EndOffer
            | Ask::TakeOffer { .. }
            | Ask::Waiting
            | Ask::TakeFromShop { .. } => self.told(Outcome::Refused(Refusal::NoSuchJob)),
            Ask::Procedures => view::procedures(&self.session),
            Ask::Step { step } => view::step_card(&self.session, &step, &self.clock.now()),
            Ask::CheckPart { part } => view::check_part(&part, language),
            Ask::ReadBack { text, confirmed } => view::read_back(&self.session, &text, confirmed),
            Ask::Trace { sweep } => match traces::trace(&self.session, &self.store, sweep) {
                Ok(reply) => reply,
                Err(error) => Reply::Failed { notice: self.not_read(&error) },
            },
        };
        self.reply(reply, reply_to);
    }

    fn tried(&mut self, reply_to: oneshot::Sender<Reply>, deed: impl FnOnce(&mut Desk) -> Outcome) {
        let outcome = deed(self);
        let told = self.told(outcome);
        self.reply(told, reply_to);
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

    /// Hands an input to the session and performs what it wants, in order.
    fn input(&mut self, input: Input) -> Outcome {
        if self.broken {
            return Outcome::Failed(faults::stopped(self.session.language()));
        }
        let now = self.clock.now();
        let outputs = self.session.handle(input, &now);
        self.perform(outputs)
    }

    fn commit(&mut self, batch: &Batch) -> Result<(), StoreError> {
        self.offer_nothing_of(batch);
        #[cfg(test)]
        batch.entries.iter().try_for_each(|sealed| tests::fault(&sealed.entry().kind))?;
        self.store.append(batch)?;
        self.grown(batch);
        if !batch.heads.is_empty() {
            self.witness();
        }
        Ok(())
    }

    fn perform(&mut self, outputs: Vec<Output>) -> Outcome {
        let mut outcome = Outcome::Done;
        for output in outputs {
            match output {
                Output::Append(batch) => {
                    self.urgent |= !batch.entries.is_empty();
                    if let Err(error) = self.commit(&batch) {
                        tracing::error!(%error, "the ledger was not written to");
                        let notice = faults::not_written(&error, self.session.language());
                        self.begin_anew(notice.clone(), self.session.job().map(|job| job.id));
                        return Outcome::Failed(notice);
                    }
                    if !batch.entries.is_empty() {
                        self.fault = None;
                    }
                    // Gone from the file; what was written of it before may still be in the file's log.
                    if !batch.erased.is_empty() && self.store.checkpoint().is_err() {
                        return Outcome::Failed(faults::still_in_the_log(self.session.language()));
                    }
                }
                Output::Collect(erasing) => match mend::collect(&self.store, erasing) {
                    Ok(lines) => outcome = self.input(Input::Collected(erasing, lines)),
                    Err(error) => return Outcome::Failed(self.not_read(&error)),
                },
                Output::Link(source, command) => self.send(source, &command),
                Output::Load(job, wanted) => match self.load(job, wanted) {
                    Ok(loaded) => outcome = self.input(loaded),
                    Err(error) => return Outcome::Failed(self.not_read(&error)),
                },
                // Nobody listening is no fault.
                Output::Signal(signal) => drop(self.signals.send(signal)),
                // At once, on this thread: what is signed cannot change while the PIN is looked at.
                Output::CheckPin { pin, hash } => {
                    outcome = self.input(Input::PinChecked { fits: pins::fits(&pin, &hash) });
                }
                Output::HashPin { pin } => match pins::hash(&pin) {
                    Some(hash) => outcome = self.input(Input::PinHashed(hash)),
                    None => return Outcome::Failed(faults::no_random(self.session.language())),
                },
                Output::Refused(refusal) => outcome = Outcome::Refused(refusal),
            }
        }
        outcome
    }

    fn not_read(&mut self, error: &StoreError) -> Notice {
        tracing::error!(%error, "the ledger was not read");
        let notice = faults::not_read(error, self.session.language());
        self.fault = Some(notice.clone());
        notice
    }
}
