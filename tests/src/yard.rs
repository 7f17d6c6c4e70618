//! A yard with a part, a meter and a pair of hands on one side of the radio and the bench on the other: real
//! time, real Bluetooth library, and hands that know nothing but the screen.

use crate::bluez::Device;
use crate::radio_bench::{RadioBench, device_of};
use anyhow::{Context, Result, ensure};
use evenwire_core::job::Stage;
use evenwire_core::part::Part;
use evenwire_core::unit::Millis;
use evenwire_core::view::View;
use evenwire_engine::clock;
use evenwire_engine::practice::{Place, PracticeBench, PracticeWish};
use std::time::{Duration, Instant};
use uuid::Uuid;

const METER: &str = "C0:00:00:00:00:01";
/// No work in the yard takes longer.
const LONGEST: Duration = Duration::from_secs(300);

/// A notification that went over the air.
#[derive(Clone, Debug)]
pub struct Sent {
    /// Boot clock just before.
    pub boot: Millis,
    /// The same moment, finer.
    pub when: Instant,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A part, a meter and hands on one side, the bench on the other, and what went over the air.
#[derive(Debug)]
pub struct Yard {
    /// The bench.
    pub bench: RadioBench,
    /// Part, meter and hands.
    pub practice: PracticeBench,
    /// What went over the air, in order.
    pub sent: Vec<Sent>,
    value: Uuid,
    start: Instant,
}

impl Yard {
    /// Opens a job for the part as `described` and connects the meter; it is not yet taken for the job.
    ///
    /// # Errors
    /// As [`RadioBench::ask_for`].
    pub async fn open(mut bench: RadioBench, practice: PracticeBench, described: Part) -> Result<Yard> {
        let value = practice.meter().encoding.channel_ids().1;
        bench.open_job(described).await?;
        let device: Device = device_of(METER, &practice.offer());
        bench.ask_for(device).await?;
        bench.bluez.until_listened(METER, value).await?;
        Ok(Yard { bench, practice, sent: Vec::new(), value, start: Instant::now() })
    }

    /// The meter sends as time goes on, until `pick` takes what is on the screen; the hands do what it says.
    ///
    /// # Errors
    /// As [`RadioBench::next`]; it takes longer than five minutes; a clip would go where none may.
    pub async fn work<T>(&mut self, mut pick: impl FnMut(&View) -> Option<T>) -> Result<T> {
        loop {
            if let Some(taken) = pick(&self.bench.view) {
                return Ok(taken);
            }
            ensure!(self.start.elapsed() < LONGEST, "too slow: {:#?}", self.bench.view);
            let due = self.start + Duration::from_millis(self.practice.next_at().0);
            tokio::select! {
                () = tokio::time::sleep_until(due.into()) => self.send().await?,
                said = self.bench.next() => drop(said?),
            }
            if let Some(wish) = hands(&self.bench.view) {
                self.practice.wish(wish).context("the screen says to clip where no clip may go")?;
            }
        }
    }

    async fn send(&mut self) -> Result<()> {
        let now = Millis(u64::try_from(self.start.elapsed().as_millis())?);
        for frame in self.practice.step(now) {
            let (boot, when) = (clock::boot_millis(), Instant::now());
            ensure!(self.bench.send((METER, self.value), &frame.bytes).await?, "nobody listens any more");
            self.sent.push(Sent { boot, when, bytes: frame.bytes });
        }
        Ok(())
    }
}

/// What a person does who knows nothing but the screen.
fn hands(view: &View) -> Option<PracticeWish> {
    let bench = view.bench.as_ref()?;
    let measure = bench.measure.as_ref().filter(|_| bench.stage == Stage::Measure)?;
    match measure.contact.state.as_str() {
        "taken" | "lift" | "will-not-stand" => return Some(PracticeWish::Taken),
        _ => {}
    }
    let faces = (0u8..).zip(&bench.part.as_ref()?.faces);
    let clips: Vec<Place> = faces
        .flat_map(|(connector, face)| {
            let clip = face.cavities.iter().filter(|cavity| cavity.state == "clip");
            clip.map(move |cavity| Place { connector, cavity: cavity.number })
        })
        .collect();
    match clips[..] {
        [from, to] => Some(PracticeWish::Announced { from, to }),
        _ => None,
    }
}
