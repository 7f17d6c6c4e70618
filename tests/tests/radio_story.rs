//! The whole way over the air: a part with one bad conductor, a meter on it, the real Bluetooth library, the
//! bench, its screen, a pair of hands that clip where the screen says, and the ledger as it lies there afterwards.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::{Command, MeterSpecEntry, Stage};
use evenwire_core::meter::Shown;
use evenwire_core::record::{Event, Sample, TouchFact};
use evenwire_core::session::Signal;
use evenwire_core::settle::TouchKind;
use evenwire_core::unit::Millis;
use evenwire_core::verdict::written::Judgement;
use evenwire_core::verdict::{ActionCode, ConductorState, SetVerdict};
use evenwire_core::view::View;
use evenwire_engine::practice::{MeterModel, PartModel, Place, PracticeBench, PracticeWish};
use evenwire_store::Store;
use evenwire_tests::bluez::{Bluez, own_process};
use evenwire_tests::radio_bench::{RadioBench, device_of};
use std::fmt::Write;
use std::time::{Duration, Instant};
use uuid::Uuid;

const METER: &str = "C0:00:00:00:00:01";
/// Conductor 4, counted from 0.
const BAD: u32 = 3;

/// Five conductors, each near 0.35 ohm, but the fourth at 12.
fn part() -> Result<PartModel> {
    let mut text = "format = 1\nname = \"Yard coil\"\n".to_owned();
    for side in ["column", "wheel"] {
        writeln!(text, "[[connectors]]\nname = \"{side}\"\ncavities = 5")?;
    }
    for (number, ohm) in [(1, "0.345"), (2, "0.348"), (3, "0.343"), (4, "12.000"), (5, "0.346")] {
        let end = |side| format!("{{ connector = \"{side}\", cavity = {number}, at = \"open-plug\" }}");
        writeln!(text, "[[conductors]]\nname = \"{number}\"\ngroup = \"ribbon\"\nohm = {ohm}")?;
        writeln!(text, "from = {}\nto = {}", end("column"), end("wheel"))?;
    }
    PartModel::parse(&text).map_err(|errors| anyhow::anyhow!("{errors:?}"))
}

/// A part, a meter and hands on one side, the bench on the other, and what went over the air.
struct Yard {
    bench: RadioBench,
    practice: PracticeBench,
    value: Uuid,
    start: Instant,
    sent: Vec<Vec<u8>>,
}

impl Yard {
    async fn open(bench: RadioBench) -> Result<Yard> {
        let meter = MeterModel { period_ms: 50, jitter_ms: 3, leads_zeroed: true, ..MeterModel::default() };
        let value = meter.encoding.channel_ids().1;
        let practice = PracticeBench::new(part()?, meter, 21);
        let mut yard = Yard { bench, practice, value, start: Instant::now(), sent: Vec::new() };
        let described = yard.practice.part().to_part();
        yard.bench.open_job(described).await?;
        yard.bench.ask_for(device_of(METER, &yard.practice.offer())).await?;
        yard.bench.bluez.until_listened(METER, value).await?;
        yard.start = Instant::now();
        Ok(yard)
    }

    /// The meter sends as time goes on, until `pick` takes what is on the screen; the hands do what it says.
    async fn work<T>(&mut self, mut pick: impl FnMut(&View) -> Option<T>) -> Result<T> {
        loop {
            if let Some(taken) = pick(&self.bench.view) {
                return Ok(taken);
            }
            ensure!(self.start.elapsed() < Duration::from_secs(90), "too slow: {:#?}", self.bench.view);
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
            ensure!(self.bench.send((METER, self.value), &frame.bytes).await?, "nobody listens any more");
            self.sent.push(frame.bytes);
        }
        Ok(())
    }
}

/// What a person does who knows nothing but the screen.
fn hands(view: &View) -> Option<PracticeWish> {
    let bench = view.bench.as_ref()?;
    let measure = bench.measure.as_ref().filter(|_| bench.stage == Stage::Measure)?;
    match measure.contact.as_str() {
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

#[test]
fn a_worn_conductor_is_condemned_over_the_air_and_stands_in_the_ledger() {
    own_process("a_worn_conductor_is_condemned_over_the_air_and_stands_in_the_ledger", |folder| async move {
        let bench = RadioBench::start(Bluez::start(&folder).await?, &folder).await?;
        let mut yard = Yard::open(bench).await?;

        // Clips are off: over-range. The leads together tell the display step.
        let clips = |practice: &mut PracticeBench, wish| practice.wish(wish).context("nothing forbids it");
        clips(&mut yard.practice, PracticeWish::LeadsTogether)?;
        let step = yard.work(|view| (!view.meter.spec.step.is_empty()).then(|| view.meter.spec.clone())).await?;
        assert_eq!((step.step.as_str(), step.top.as_str()), ("0.01", "2000"));
        assert_eq!(yard.bench.view.meter.missing, ["accuracy"]);
        assert_eq!(yard.bench.view.meter.identity.as_deref(), Some("PRACTICE-1"));
        clips(&mut yard.practice, PracticeWish::Lift)?;
        let spec = MeterSpecEntry { accuracy_percent: "0.5".into(), accuracy_counts: "2".into(), ..step };
        yard.bench.use_meter(spec).await?;

        let all_taken = |view: &View| {
            let measure = view.bench.as_ref()?.measure.as_ref()?;
            (measure.wanted > 0 && measure.taken == measure.wanted).then_some(measure.wanted)
        };
        assert_eq!(yard.work(all_taken).await?, 10, "five conductors, two touches each");
        let tones = yard.bench.signals.iter().filter(|signal| **signal == Signal::Taken).count();
        assert_eq!(tones, 10);

        yard.bench.wish(Command::Judge).await?;
        let verdict = yard.work(|view| view.bench.as_ref()?.verdict.clone()).await?;
        assert_eq!((verdict.kind, verdict.action_conductor), (SetVerdict::Fail, Some(BAD)), "{verdict:#?}");
        ensure!(verdict.headline.contains('4'), "{:?} does not name conductor 4", verdict.headline);
        yard.bench.wish(Command::Finish).await?;

        let Yard { bench, sent, .. } = yard;
        let (store, _bluez) = bench.end().await?;
        the_ledger_holds_it(&store, &sent)
    });
}

fn the_ledger_holds_it(store: &Store, sent: &[Vec<u8>]) -> Result<()> {
    let report = store.check()?;
    ensure!(report.is_whole(), "{report:#?}");
    let (lines, _) = store.jobs("", 0, 10)?;
    let job = lines.first().context("one job")?.job;
    let entries = store.entries_of(job)?;
    let events: Vec<Event> = entries
        .iter()
        .filter_map(|sealed| Event::read(&sealed.entry().kind, sealed.entry().version, &sealed.entry().body))
        .collect();
    ensure!(events.len() == entries.len(), "an entry cannot be read");

    let touches: Vec<&TouchFact> =
        events.iter().filter_map(|event| if let Event::TouchTaken(fact) = event { Some(fact) } else { None }).collect();
    assert_eq!(touches.iter().map(|fact| fact.conductor).collect::<Vec<_>>(), [0, 0, 1, 1, 2, 2, 3, 3, 4, 4]);
    for fact in touches {
        touch_stands_on_its_samples(store, fact).with_context(|| format!("touch of conductor {}", fact.conductor))?;
    }

    let judged: Vec<&Judgement> = events
        .iter()
        .filter_map(|event| if let Event::Judged { judgement } = event { Some(judgement) } else { None })
        .collect();
    let [judgement] = judged[..] else { anyhow::bail!("{} verdicts", judged.len()) };
    assert_eq!((judgement.set, judgement.action), (SetVerdict::Fail, ActionCode::Replace));
    let high: Vec<u32> = judgement
        .conductors
        .iter()
        .filter(|conductor| conductor.state == ConductorState::High)
        .map(|conductor| conductor.conductor)
        .collect();
    assert_eq!(high, [BAD]);

    let mut kept = Vec::new();
    for chunk in store.chunks_of(job)? {
        ensure!(chunk.closed, "chunk {} was left open", chunk.id);
        kept.extend(chunk.samples()?.into_iter().map(|sample| sample.raw));
    }
    ensure!(kept == sent, "{} notifications were sent, {} are kept or others", sent.len(), kept.len());
    Ok(())
}

/// The chunks a touch names are there, and its digits are what their samples say.
fn touch_stands_on_its_samples(store: &Store, fact: &TouchFact) -> Result<()> {
    assert_eq!(fact.taken.kind, TouchKind::Settled);
    let mut samples: Vec<Sample> = Vec::new();
    for hash in &fact.chunks {
        samples.extend(store.chunk(*hash)?.context("a chunk is missing")?.samples()?);
    }
    let window = samples.iter().filter(|sample| sample.at >= fact.taken.from_ms && sample.at <= fact.taken.to_ms);
    let digits: Vec<i64> = window
        .flat_map(|sample| &sample.shown)
        .filter_map(|shown| match shown {
            Shown::Value(quantity) => quantity.with_places(fact.taken.places).map(|quantity| quantity.digits()),
            Shown::OverRange | Shown::Blank => None,
        })
        .collect();
    ensure!(fact.taken.digits.len() >= 4 && digits == fact.taken.digits, "{digits:?} but {:?}", fact.taken.digits);
    Ok(())
}
