//! The handle to the thread that sends: whoever holds it says what is wanted, and hears how things stand.

use super::line::Network;
use super::worker::{ToBench, Worker};
use evenwire_core::job::Command;
use evenwire_core::sync::{AtShop, Countersigned, Invitation, TextFault, Trouble};
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot, watch};

/// Wishes that wait at most. One that finds no room is not needed: whoever wakes looks at everything.
const ROOM: usize = 64;
/// Characters of a device's name at most.
const MOST_NAME: usize = 60;

/// What the office did, for the bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum News {
    /// What a person at the bench could wish, too.
    Wish(Box<Command>),
    /// A second person signed. Nobody at the bench can wish for that.
    Signed(Box<Countersigned>),
}

/// What the worker is set down with.
pub struct Setting {
    /// The ledger's file.
    pub ledger: PathBuf,
    /// Hands what the office did to the bench; `None`: it has ended.
    pub bench: ToBench,
    /// Closed when the bench has ended; the worker ends with it.
    pub over: watch::Receiver<()>,
}

impl std::fmt::Debug for Setting {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Setting").field("ledger", &self.ledger).finish_non_exhaustive()
    }
}

/// What somebody wants of the worker.
#[derive(Debug)]
pub(super) enum Wish {
    Pair { invitation: Box<Invitation>, name: String, told: oneshot::Sender<Result<(), Trouble>> },
    Unpair { told: oneshot::Sender<Result<(), Trouble>> },
    Send { told: Option<oneshot::Sender<Result<(), Trouble>>> },
    Grew { closed: bool },
    PutAway { number: u64 },
}

/// A handle to the worker; clones reach the same one.
#[derive(Clone, Debug)]
pub struct Hub {
    wishes: mpsc::Sender<Wish>,
    standing: watch::Receiver<Arc<AtShop>>,
}

impl Hub {
    /// Starts the worker. It does nothing and keeps nothing until somebody pairs the device.
    ///
    /// # Errors
    /// The system gives no thread.
    pub fn start(setting: Setting) -> std::io::Result<Hub> {
        let (wishes, asked) = mpsc::channel(ROOM);
        let (tells, standing) = watch::channel(Arc::default());
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        std::thread::Builder::new().name("evenwire-hub".into()).spawn(move || {
            let Setting { ledger, bench, mut over } = setting;
            let mut worker = Worker::new(ledger, bench, (tells, Arc::new(Network)));
            runtime.block_on(async {
                tokio::select! {
                    () = worker.run(asked) => {}
                    () = async { while over.changed().await.is_ok() {} } => {}
                }
            });
        })?;
        Ok(Hub { wishes, standing })
    }

    /// A handle to nobody: nothing is paired and nothing can be.
    pub fn nowhere() -> Hub {
        let (wishes, _) = mpsc::channel(1);
        Hub { wishes, standing: watch::channel(Arc::default()).1 }
    }

    /// How things stand, now and whenever they change.
    pub fn standing(&self) -> watch::Receiver<Arc<AtShop>> {
        self.standing.clone()
    }

    /// Asks the shop of `invitation` to take the device in as `name`. Done when the office has been asked; whether it
    /// said yes is told by [`Hub::standing`].
    ///
    /// # Errors
    /// [`Trouble`]; what was paired before still is.
    pub async fn pair(&self, invitation: &str, name: &str) -> Result<(), Trouble> {
        let invitation = Invitation::read(invitation).map_err(|fault| match fault {
            TextFault::Other => Trouble::NoInvitation,
            TextFault::NotWhole => Trouble::InvitationNotWhole,
        })?;
        let name = name.trim().to_owned();
        if name.is_empty() || name.chars().count() > MOST_NAME {
            return Err(Trouble::Name);
        }
        self.told(|told| Wish::Pair { invitation: Box::new(invitation), name, told }).await
    }

    /// Forgets the shop, or what is being asked of it. What was sent stays there.
    ///
    /// # Errors
    /// [`Trouble::Disk`].
    pub async fn unpair(&self) -> Result<(), Trouble> {
        self.told(|told| Wish::Unpair { told }).await
    }

    /// Sends now.
    ///
    /// # Errors
    /// [`Trouble::NotPaired`].
    pub async fn send(&self) -> Result<(), Trouble> {
        if self.standing.borrow().paired.is_none() {
            return Err(Trouble::NotPaired);
        }
        let _ended = self.wishes.send(Wish::Send { told: None }).await;
        Ok(())
    }

    /// Sends now, and waits until everything is there or something is in the way.
    ///
    /// # Errors
    /// [`Trouble`].
    pub async fn sent(&self) -> Result<(), Trouble> {
        self.told(|told| Wish::Send { told: Some(told) }).await
    }

    /// A note of the office was read.
    pub async fn put_away(&self, number: u64) {
        let _ended = self.wishes.send(Wish::PutAway { number }).await;
    }

    /// Waits until the worker has ended, as it does after the bench.
    pub async fn ended(&self) {
        let mut standing = self.standing.clone();
        while standing.changed().await.is_ok() {}
    }

    /// Something was recorded; `closed`: a job was closed by it. Never waits.
    pub fn grew(&self, closed: bool) {
        let _full = self.wishes.try_send(Wish::Grew { closed });
    }

    async fn told(&self, wish: impl FnOnce(oneshot::Sender<Result<(), Trouble>>) -> Wish) -> Result<(), Trouble> {
        let (told, hears) = oneshot::channel();
        let _ended = self.wishes.send(wish(told)).await;
        hears.await.unwrap_or(Err(Trouble::Disk))
    }
}
