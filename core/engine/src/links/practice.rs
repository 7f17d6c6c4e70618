//! The practice link: a made-up part and meter that answer as a meter on the radio would. For the first
//! run without hardware, for training and for showing.

use super::Generations;
use super::front::{Front, Gone};
use crate::practice::{MeterModel, PartModel, PracticeBench, PracticeWish, encoding};
use evenwire_core::meter::link::{FoundMeter, LinkCommand, LinkEvent, Source};
use evenwire_core::unit::Millis;
use std::time::Duration;
use tokio::sync::mpsc;

/// Handle of the practice meter in [`LinkCommand::Connect`].
pub const ID: &str = "practice";
/// Slowest and fastest run of the practice bench, per cent of life.
const SPEED_PERCENT: (u32, u32) = (10, 10_000);

/// What lies on the practice bench.
#[derive(Clone, Debug)]
pub struct PracticeSetting {
    /// The part.
    pub part: PartModel,
    /// The meter.
    pub meter: MeterModel,
    /// The same seed and wishes give the same bytes.
    pub seed: u64,
    /// 100 is as in life; 10 to 10000.
    pub speed_percent: u32,
}

/// The ends of the channels a practice link holds.
#[derive(Debug)]
pub struct Ports {
    /// What the link is told.
    pub commands: mpsc::Receiver<LinkCommand>,
    /// What the practice hands are asked for. Dropping its other end leaves them as they are.
    pub wishes: mpsc::Receiver<PracticeWish>,
    /// What the link reports.
    pub events: mpsc::Sender<LinkEvent>,
}

/// Runs the link until `commands` or `events` is dropped at its other end. `clock` is the boot clock;
/// `generations` numbers the connections.
pub async fn run(
    ports: Ports,
    setting: PracticeSetting,
    clock: impl Fn() -> Millis + Send + Sync + 'static,
    generations: Generations,
) {
    let found =
        FoundMeter { id: ID.to_owned(), name: encoding::NAME.to_owned(), signal: None, source: Source::Practice };
    let (slowest, fastest) = SPEED_PERCENT;
    let work = Work {
        commands: ports.commands,
        wishes: Some(ports.wishes),
        front: Front::new(ports.events, generations, found),
        bench: PracticeBench::new(setting.part, setting.meter, setting.seed),
        speed_percent: u64::from(setting.speed_percent.clamp(slowest, fastest)),
        start: clock(),
        clock,
    };
    let Gone = work.run().await;
}

struct Work<C> {
    commands: mpsc::Receiver<LinkCommand>,
    wishes: Option<mpsc::Receiver<PracticeWish>>,
    front: Front,
    bench: PracticeBench,
    speed_percent: u64,
    start: Millis,
    clock: C,
}

impl<C: Fn() -> Millis> Work<C> {
    async fn run(mut self) -> Gone {
        loop {
            let wait = self.to_next_frame();
            let listening = self.front.is_listening();
            let done = tokio::select! {
                biased;
                command = self.commands.recv() => match command {
                    Some(command) => self.command(command).await,
                    None => Err(Gone),
                },
                wish = next_wish(&mut self.wishes) => self.wish(wish).await,
                () = tokio::time::sleep(wait), if listening => self.move_on().await,
            };
            if let Err(gone) = done {
                return gone;
            }
        }
    }

    async fn command(&mut self, command: LinkCommand) -> Result<(), Gone> {
        self.move_on().await?;
        let offer = self.bench.offer();
        self.front.obey(command, offer).await.map(|_| ())
    }

    async fn wish(&mut self, wish: Option<PracticeWish>) -> Result<(), Gone> {
        let Some(wish) = wish else {
            self.wishes = None;
            return Ok(());
        };
        self.move_on().await?;
        if let Err(refused) = self.bench.wish(wish.at_speed(self.speed_percent)) {
            tracing::warn!(%refused, "practice hands do not clip there");
        }
        Ok(())
    }

    /// Lets the bench catch up with the clock; what nobody listens to is not kept.
    async fn move_on(&mut self) -> Result<(), Gone> {
        let now = (self.clock)();
        let bench_now = Millis(now.since(self.start).0.saturating_mul(self.speed_percent) / 100);
        for frame in self.bench.step(bench_now) {
            self.front.notify(frame.bytes, now).await?;
        }
        Ok(())
    }

    fn to_next_frame(&self) -> Duration {
        let elapsed = (self.clock)().since(self.start).0;
        let due = (self.bench.next_at().0 * 100).div_ceil(self.speed_percent);
        Duration::from_millis(due.saturating_sub(elapsed))
    }
}

/// The next wish; never, when nobody can wish any more.
async fn next_wish(wishes: &mut Option<mpsc::Receiver<PracticeWish>>) -> Option<PracticeWish> {
    match wishes {
        Some(wishes) => wishes.recv().await,
        None => std::future::pending().await,
    }
}

#[cfg(test)]
mod tests;
