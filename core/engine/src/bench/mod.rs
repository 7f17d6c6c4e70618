//! The running bench: one thread owns session and store, links push into bounded channels, and whoever shows
//! screens holds a [`Bench`].

mod desk;
mod faults;
mod handover;
mod hub;
pub(crate) mod identity;
mod listener;
mod papers;
mod pictures;
pub(crate) mod pins;
mod profiles;
mod traces;

pub use identity::{Identity, settle};
pub use listener::Listener;

use crate::clock;
use crate::code;
use crate::hub::Hub;
use crate::key_store::KeyPlace;
use crate::links::ble::BleLink;
use crate::links::practice::{self, Ports, PracticeSetting};
use crate::links::{Generations, Patience, replay};
use crate::near::{Near, NearSetting};
use crate::photo;
use crate::practice::{Encoding, MeterModel, PartModel};
use desk::{Desk, Inlets, Message};
use evenwire_core::job::{Command, LogoWish, Refusal};
use evenwire_core::meter::link::{LinkCommand, LinkEvent};
use evenwire_core::record::Shop;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{Ask, Notice, Reply, hub_notice};
use evenwire_store::StoreError;
use papers::Papers;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{broadcast, mpsc, oneshot, watch};

/// Asks and link events that wait at most; whoever sends more waits.
const ROOM: usize = 1_024;
/// Signals a slow listener may lag behind before it misses some; a missed tone is not a lost record.
const SIGNALS: usize = 64;
/// How long closing may take: twice what the store waits for a lock of another program.
pub const CLOSING: Duration = Duration::from_secs(10);

/// How a bench is set up.
#[derive(Clone, Debug)]
pub struct BenchOptions {
    /// The ledger's file; it is made if it is not there.
    pub database: PathBuf,
    /// A folder with a person's own meter profiles, each a file that ends in `.toml`; it need not be there.
    pub profiles: PathBuf,
    /// Look for meters by Bluetooth LE.
    pub radio: bool,
    /// Seed of the practice meter.
    pub practice_seed: u64,
    /// The part at the practice meter; the built-in first practice part if none.
    pub practice_part: Option<PartModel>,
    /// How fast the practice bench runs, per cent of life.
    pub practice_speed_percent: u32,
    /// A recorded stream to be offered as a meter.
    pub replay: Option<PathBuf>,
    /// How long the radio is waited for.
    pub patience: Patience,
    /// Where reports are put; none: they are handed to whoever asked.
    pub reports: Option<PathBuf>,
    /// How jobs go to devices on the same network.
    pub near: NearSetting,
    /// Where the secret of the device's key is kept.
    pub key: KeyPlace,
}

impl BenchOptions {
    /// A bench on this file, with radio and practice meter, and with own profiles from the folder `profiles` beside
    /// the file.
    pub fn on(database: PathBuf) -> BenchOptions {
        BenchOptions {
            profiles: database.with_file_name("profiles"),
            database,
            radio: true,
            practice_seed: 1,
            practice_part: None,
            practice_speed_percent: 100,
            replay: None,
            patience: Patience::default(),
            reports: None,
            near: NearSetting::default(),
            key: KeyPlace::default(),
        }
    }
}

/// Why a bench cannot be set up.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The ledger cannot be opened.
    #[error("the ledger {}: {source}", path.display())]
    Store {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: StoreError,
    },
    /// The recording cannot be read.
    #[error("the recording {}: {words}", path.display())]
    Replay {
        /// Which file.
        path: PathBuf,
        /// Why, with the line.
        words: String,
    },
    /// The ledger was opened, and taking it up met a fault of our own.
    #[error("a fault of its own ended the start; nothing recorded is lost")]
    Bug,
    /// The system gives no thread, no random bytes, or no runtime.
    #[error("the system refuses: {0}")]
    System(String),
}

/// A handle to the running bench; clones reach the same one. It ends when it is closed through any of them, or when
/// the last one is dropped; only closing waits for it.
#[derive(Clone, Debug)]
pub struct Bench {
    messages: mpsc::Sender<Message>,
    views: watch::Receiver<listener::Latest>,
    signals: broadcast::Sender<evenwire_core::session::Signal>,
    /// Closed when the thread has ended and the ledger is closed.
    over: watch::Receiver<()>,
    /// Where reports are made from and put.
    papers: Arc<Papers>,
    /// Sends what is recorded to the shop.
    hub: Hub,
    /// Between this device and those on the same network.
    near: Near,
}

impl Bench {
    /// Opens the ledger and starts thread and links.
    ///
    /// # Errors
    /// [`StartError`]; nothing runs then.
    pub fn start(options: BenchOptions) -> Result<Bench, StartError> {
        let system = |error: &dyn std::fmt::Display| StartError::System(error.to_string());
        let links = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .thread_name("evenwire-links")
            .enable_all()
            .build()
            .map_err(|e| system(&e))?;
        let papers = Arc::new(Papers { database: options.database.clone(), folder: options.reports.clone() });
        let (messages, asks) = mpsc::channel(ROOM);
        let (signals, _) = broadcast::channel(SIGNALS);
        let (inlets, outlets) = start_links(&links, &options)?;
        let desk = AssertUnwindSafe(|| Desk::open(&options, outlets, signals.clone()));
        let mut desk = catch_unwind(desk).unwrap_or(Err(StartError::Bug))?;
        desk.look_at_everything(messages.downgrade());
        // Before anybody sends: what has no signature yet gets it first.
        desk.use_key(messages.downgrade());
        let views = desk.views();
        let (running, over) = watch::channel(());
        let hub = hub::start(&options.database, (messages.downgrade(), over.clone())).map_err(|e| system(&e))?;
        desk.send_by(hub.clone());
        let near = Near::new(options.near, over.clone());
        desk.offer_by(near.clone());
        std::thread::Builder::new()
            .name("evenwire-bench".into())
            .spawn(move || {
                desk.run(asks, inlets);
                // Links may be inside a call to the system that only its own time limit ends.
                links.shutdown_background();
                drop(running);
            })
            .map_err(|e| system(&e))?;
        Ok(Bench { messages, views, signals, over, papers, hub, near })
    }

    /// Asks, and waits for the answer. What it answers as done is recorded.
    pub async fn ask(&self, ask: Ask) -> Reply {
        let (reply, answer) = oneshot::channel();
        let message = match ask {
            // Work on pixels is not the bench's: it would keep readings waiting.
            Ask::KeepPhoto { job, step, picture } => {
                match tokio::task::spawn_blocking(move || photo::prepare((job, step), &picture)).await {
                    Ok(Some(photo)) => Message::Photo { photo, reply },
                    Ok(None) | Err(_) => return Reply::refused(Refusal::NoPhoto, self.language()),
                }
            }
            Ask::ReadCode { picture } => {
                return match tokio::task::spawn_blocking(move || code::read(&picture)).await {
                    Ok(Some(text)) => Reply::Code { text },
                    Ok(None) | Err(_) => Reply::refused(Refusal::NoCode, self.language()),
                };
            }
            // Neither is a logo: whatever a camera or a program wrote beside it is left behind here.
            Ask::Do { command: Command::DescribeShop { shop, logo: LogoWish::Change } } if !shop.logo.is_empty() => {
                match tokio::task::spawn_blocking(move || photo::logo(&shop.logo).map(|logo| Shop { logo, ..shop }))
                    .await
                {
                    Ok(Some(shop)) => {
                        let command = Command::DescribeShop { shop, logo: LogoWish::Change };
                        Message::Ask { ask: Ask::Do { command }, reply }
                    }
                    Ok(None) | Err(_) => return Reply::refused(Refusal::NoPhoto, self.language()),
                }
            }
            Ask::Report { job, letter } => {
                return self.paper(move |papers, language| papers.report((job, letter), language)).await;
            }
            Ask::Claim { job, letter } => {
                return self.paper(move |papers, language| papers.claim((job, letter), language)).await;
            }
            Ask::HandOver { job } => {
                return self.paper(move |papers, language| papers.hand_over(job, language)).await;
            }
            Ask::Offer { job } => {
                let near = self.near.clone();
                return self.paper(move |papers, language| papers.offer((job, &near), language)).await;
            }
            Ask::EndOffer => {
                self.near.end();
                return Reply::Done;
            }
            Ask::BackUp => return self.paper(|papers, language| papers.back_up(language)).await,
            Ask::Waiting => return handover::waiting(&self.papers.database, self.language()).await,
            ask @ (Ask::TakeOver { .. } | Ask::TakeFromShop { .. } | Ask::TakeOffer { .. }) => {
                match self.handed(ask).await {
                    Ok(handed) => Message::TakeOver { handed, reply },
                    Err(said) => return said,
                }
            }
            // Whoever sends is no part of the bench, which it would keep waiting.
            ask @ (Ask::PairWithShop { .. } | Ask::SendToShop | Ask::LeaveShop | Ask::PutNoteAway { .. }) => {
                return hub::answer(&self.hub, ask, self.language()).await;
            }
            ask => Message::Ask { ask, reply },
        };
        if self.messages.send(message).await.is_err() {
            return Reply::Failed { notice: faults::gone(self.language()) };
        }
        match answer.await {
            Ok(reply) => reply,
            Err(_) if self.messages.is_closed() => Reply::Failed { notice: faults::gone(self.language()) },
            // Work on the ask ended in a panic, and began anew without it.
            Err(_) => Reply::Failed { notice: faults::bug(self.language()) },
        }
    }

    /// Sends to the shop what is not there, and waits until all of it is.
    ///
    /// # Errors
    /// What is in the way, in words.
    pub async fn send_to_shop(&self) -> Result<(), Notice> {
        self.hub.sent().await.map_err(|trouble| hub_notice(trouble, self.language()))
    }

    /// What is made from the ledger's file, beside the bench's thread.
    async fn paper(&self, make: impl FnOnce(&Papers, Language) -> Reply + Send + 'static) -> Reply {
        let (papers, language) = (self.papers.clone(), self.language());
        let made = tokio::task::spawn_blocking(move || make(&papers, language)).await;
        made.unwrap_or_else(|_| Reply::Failed { notice: faults::bug(self.language()) })
    }

    /// Ends the bench, whoever else holds a handle, and waits until everything a meter sent is written and the
    /// ledger is closed. Asks that come later are told that it has ended. True when it has ended; false when that
    /// took longer than [`CLOSING`], so that the last samples may be missing.
    pub async fn close(&self) -> bool {
        let closed = async {
            // One that has ended takes no message, and is over.
            let _ended = self.messages.send(Message::Close).await;
            let mut over = self.over.clone();
            while over.changed().await.is_ok() {}
            self.hub.ended().await;
            self.near.ended().await;
        };
        tokio::time::timeout(CLOSING, closed).await.is_ok()
    }

    /// What is said to an ask that cannot be read.
    pub(crate) fn not_understood(&self) -> Notice {
        faults::not_understood(self.language())
    }

    /// The language of the screens.
    pub fn language(&self) -> Language {
        self.views.borrow().language
    }

    /// Listens to what the bench says without being asked; the present view comes first.
    pub fn listen(&self) -> Listener {
        Listener::new(self.views.clone(), self.signals.subscribe())
    }
}

/// Where the desk tells links what to do.
#[derive(Debug)]
pub(super) struct Outlets {
    radio: Option<mpsc::Sender<LinkCommand>>,
    practice: mpsc::Sender<LinkCommand>,
    wishes: mpsc::Sender<crate::practice::PracticeWish>,
    replay: Option<mpsc::Sender<LinkCommand>>,
}

fn start_links(runtime: &tokio::runtime::Runtime, options: &BenchOptions) -> Result<(Inlets, Outlets), StartError> {
    let generations = Generations::new();
    let link = || (mpsc::channel::<LinkCommand>(ROOM), mpsc::channel::<LinkEvent>(ROOM));
    let ((radio, radio_commands), (radio_events, radio_in)) = link();
    let ((practice, practice_commands), (practice_events, practice_in)) = link();
    let ((replay, replay_commands), (replay_events, replay_in)) = link();
    let (wishes, practice_wishes) = mpsc::channel(ROOM);
    if options.radio {
        let link = BleLink::new(clock::boot_millis, generations.clone()).with_patience(options.patience.clone());
        runtime.spawn(link.run(radio_commands, radio_events));
    }
    let setting = PracticeSetting {
        part: options.practice_part.clone().unwrap_or_else(PartModel::first_practice),
        // Its profile knows accuracy, step and range, so that a first practice asks for none of them.
        meter: MeterModel { encoding: Encoding::StatusInteger, ..MeterModel::default() },
        seed: options.practice_seed,
        speed_percent: options.practice_speed_percent,
    };
    let ports = Ports { commands: practice_commands, wishes: practice_wishes, events: practice_events };
    runtime.spawn(practice::run(ports, setting, clock::boot_millis, generations.clone()));
    if let Some(path) = &options.replay {
        let refused = |words: String| StartError::Replay { path: path.clone(), words };
        let text = std::fs::read_to_string(path).map_err(|e| refused(e.to_string()))?;
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let recording = replay::Recording::parse(&name, &text).map_err(|e| refused(e.to_string()))?;
        let ports = replay::Ports { commands: replay_commands, events: replay_events };
        let setting = replay::ReplaySetting { recording, speed_percent: 100 };
        runtime.spawn(replay::run(ports, setting, clock::boot_millis, generations));
    }
    let inlets = Inlets { radio: radio_in, practice: practice_in, replay: replay_in };
    let outlets = Outlets {
        radio: options.radio.then_some(radio),
        practice,
        wishes,
        replay: options.replay.is_some().then_some(replay),
    };
    Ok((inlets, outlets))
}
