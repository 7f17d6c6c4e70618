//! The thread that sends: woken by what is recorded, by a wish, or by its own clock.

use super::handle::{News, Wish};
use super::line::Outside;
use super::pairing::Asked;
use super::round::on_disk;
use evenwire_core::sync::{AtShop, Doing, Pace, Paired, Trouble, gather, pause, rest};
use evenwire_core::view::Reply;
use evenwire_store::{Delivery, Glance, StoreError};
use futures::future::BoxFuture;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, oneshot, watch};
use tokio::time::Instant;

/// How often the hub is asked whether the office said yes.
const ASK_OFFICE: Duration = Duration::from_secs(2);

/// Hands what the office did to the bench; `None`: it has ended.
pub type ToBench = Box<dyn Fn(News) -> BoxFuture<'static, Option<Reply>> + Send>;

pub(super) struct Worker {
    pub(super) ledger: PathBuf,
    pub(super) bench: ToBench,
    pub(super) outside: Arc<dyn Outside>,
    pub(super) book: Option<Delivery>,
    tells: watch::Sender<Arc<AtShop>>,
    pub(super) asked: Option<Asked>,
    pub(super) pace: Pace,
    pub(super) doing: Doing,
    pub(super) trouble: Option<Trouble>,
    pub(super) failures: u32,
    pub(super) due: Option<Instant>,
    /// Those who wait for the end of a round.
    waits: Vec<oneshot::Sender<Result<(), Trouble>>>,
}

impl Worker {
    pub(super) fn new(
        ledger: PathBuf,
        bench: ToBench,
        (tells, outside): (watch::Sender<Arc<AtShop>>, Arc<dyn Outside>),
    ) -> Worker {
        let (book, asked, trouble, due) = (None, None, None, None);
        let (pace, doing, failures, waits) = (Pace::default(), Doing::Rest, 0, Vec::new());
        Worker { ledger, bench, outside, book, tells, asked, pace, doing, trouble, failures, due, waits }
    }

    pub(super) async fn run(&mut self, mut wishes: mpsc::Receiver<Wish>) {
        self.take_up();
        loop {
            let due = self.due;
            let asks_office = self.asked.is_some();
            tokio::select! {
                biased;
                wish = wishes.recv() => match wish {
                    Some(wish) => self.wish(wish).await,
                    None => return,
                },
                () = tokio::time::sleep(ASK_OFFICE), if asks_office => self.ask_office().await,
                () = tokio::time::sleep_until(due.unwrap_or_else(Instant::now)), if due.is_some() => {
                    if let Some(wish) = self.go(&mut wishes).await {
                        self.wish(wish).await;
                    }
                }
            }
            self.publish();
        }
    }

    /// What was paired when the program ended still is.
    fn take_up(&mut self) {
        match Delivery::is_there(&self.ledger) {
            Ok(true) => match self.book(|book| book.paired()) {
                Ok(paired) => self.due = paired.map(|_| Instant::now()),
                Err(trouble) => self.trouble = Some(trouble),
            },
            Ok(false) => {}
            Err(error) => self.trouble = Some(on_disk(&error)),
        }
        self.publish();
    }

    /// A round, until it ends or somebody wants something else meanwhile, which is given back.
    async fn go(&mut self, wishes: &mut mpsc::Receiver<Wish>) -> Option<Wish> {
        let (mut later, mut other) = (None, None);
        let mut waits = std::mem::take(&mut self.waits);
        let came = {
            let round = self.round();
            tokio::pin!(round);
            loop {
                tokio::select! {
                    came = &mut round => break Some(came),
                    wish = wishes.recv() => match wish {
                        // What is recorded meanwhile is found by the round itself, if it comes that far.
                        Some(Wish::Grew { .. }) => later = Some(Duration::ZERO),
                        Some(Wish::Send { told }) => waits.extend(told),
                        wish => {
                            other = wish;
                            break None;
                        }
                    },
                }
            }
        };
        self.doing = Doing::Rest;
        match came {
            // Whoever asked may have gone.
            Some(came) => waits.into_iter().for_each(|told| {
                let _gone = told.send(came);
            }),
            None => self.waits = waits,
        }
        let random = random();
        let wait = match came {
            Some(Ok(())) => {
                (self.failures, self.trouble) = (0, None);
                later.unwrap_or(Duration::from_millis(rest(random).0))
            }
            Some(Err(trouble)) => {
                self.failures += 1;
                self.trouble = Some(trouble);
                let wait = if trouble.passes() { pause(self.failures, random) } else { rest(random) };
                Duration::from_millis(wait.0)
            }
            None => Duration::ZERO,
        };
        self.due = Some(Instant::now() + wait);
        other
    }

    async fn wish(&mut self, wish: Wish) {
        match wish {
            Wish::Send { told } if self.due.is_none() => {
                let _gone = told.map(|told| told.send(Err(Trouble::NotPaired)));
            }
            Wish::Send { told } => {
                // Whoever pressed the key sees at once that something is done about it.
                self.doing = Doing::Sending;
                self.waits.extend(told);
                self.due_in(Duration::ZERO);
            }
            Wish::Grew { closed: true } => self.due_in(Duration::ZERO),
            Wish::Grew { closed: false } if self.failures == 0 => {
                self.due_in(Duration::from_millis(gather(random()).0));
            }
            Wish::Grew { .. } => {}
            // One that stays is put away once more.
            Wish::PutAway { number } => {
                let _stays = self.book(|book| book.put_away(number));
            }
            Wish::Pair { invitation, name, told } => {
                let asked = self.ask_in(&invitation, name).await;
                // Whoever asked may have gone.
                let _gone = told.send(asked);
            }
            Wish::Unpair { told } => {
                let done = self.leave();
                let _gone = told.send(done);
            }
        }
    }

    /// Due then, or before; never where nobody is paired.
    fn due_in(&mut self, wait: Duration) {
        let at = Instant::now() + wait;
        self.due = self.due.map(|due| due.min(at));
    }

    /// Does something with what is known of the hub; the file is made where there is none.
    pub(super) fn book<T>(&mut self, deed: impl FnOnce(&mut Delivery) -> Result<T, StoreError>) -> Result<T, Trouble> {
        self.outside.before_writing()?;
        let book = match &mut self.book {
            Some(book) => book,
            none => none.insert(Delivery::open(&self.ledger).map_err(|e| on_disk(&e))?),
        };
        deed(book).map_err(|e| on_disk(&e))
    }

    pub(super) fn publish(&mut self) {
        let now = self.standing();
        self.tells.send_if_modified(|told| {
            let new = **told != now;
            if new {
                *told = Arc::new(now);
            }
            new
        });
    }

    pub(super) fn standing(&self) -> AtShop {
        let asked = self.asked.as_ref().map(|asked| (asked.paired.shop.clone(), asked.digits.clone()));
        let (doing, trouble) = (self.doing, self.trouble);
        let known = match &self.book {
            Some(book) => said(book, &self.ledger),
            None => Ok(AtShop::default()),
        };
        let known = known.unwrap_or_else(|e| AtShop { trouble: Some(on_disk(&e)), ..AtShop::default() });
        AtShop { asked, doing, trouble: trouble.or(known.trouble), ..known }
    }
}

/// What the file says, beside the ledger.
fn said(book: &Delivery, ledger: &std::path::Path) -> Result<AtShop, StoreError> {
    let Some(paired) = book.paired()? else { return Ok(AtShop::default()) };
    let delivered = book.standing()?;
    let end = Glance::at(ledger)?.head()?.sequence;
    Ok(AtShop {
        paired: Some(Paired { shop: paired.shop, device: paired.device_name }),
        entries: (delivered.stored_through, end),
        beside: (delivered.there, delivered.named),
        lost: delivered.lost,
        again: delivered.again,
        complete: delivered.complete,
        notes: book.notes()?,
        ..AtShop::default()
    })
}

/// For pauses only: where the system gives none, all wait alike.
fn random() -> u64 {
    let mut bytes = [0; 8];
    getrandom::fill(&mut bytes).map_or(0, |()| u64::from_le_bytes(bytes))
}
