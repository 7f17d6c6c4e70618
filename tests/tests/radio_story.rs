//! The whole way over the air: a part with one bad conductor, a meter on it, the real Bluetooth library, the
//! bench, its screen, a pair of hands that clip where the screen says, and the ledger as it lies there afterwards.

use anyhow::{Context, Result, ensure};
use evenwire_core::job::{Command, MeterSpecEntry};
use evenwire_core::meter::Shown;
use evenwire_core::record::{Event, Sample, TouchFact};
use evenwire_core::session::Signal;
use evenwire_core::settle::TouchKind;
use evenwire_core::verdict::written::Judgement;
use evenwire_core::verdict::{ActionCode, ConductorState, SetVerdict};
use evenwire_core::view::View;
use evenwire_engine::practice::{MeterModel, PartModel, PracticeBench, PracticeWish};
use evenwire_store::Store;
use evenwire_tests::bluez::{Bluez, own_process};
use evenwire_tests::radio_bench::RadioBench;
use evenwire_tests::yard::Yard;
use std::fmt::Write;

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

#[test]
fn a_worn_conductor_is_condemned_over_the_air_and_stands_in_the_ledger() {
    own_process("a_worn_conductor_is_condemned_over_the_air_and_stands_in_the_ledger", |folder| async move {
        let bench = RadioBench::start(Bluez::start(&folder).await?, &folder).await?;
        let meter = MeterModel { period_ms: 50, jitter_ms: 3, leads_zeroed: true, ..MeterModel::default() };
        let practice = PracticeBench::new(part()?, meter, 21);
        let described = practice.part().to_part();
        let mut yard = Yard::open(bench, practice, described).await?;

        // Clips are off: over-range. The leads together tell the display step.
        let clips = |practice: &mut PracticeBench, wish| practice.wish(wish).context("nothing forbids it");
        clips(&mut yard.practice, PracticeWish::LeadsTogether)?;
        // Clips half on are read in a higher range first; the number that follows tells the step of the lowest.
        let step = yard.work(|view| (view.meter.spec.step == "0.01").then(|| view.meter.spec.clone())).await?;
        assert_eq!(step.top, "20000000");
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
        let sent: Vec<Vec<u8>> = sent.into_iter().map(|sent| sent.bytes).collect();
        the_ledger_holds_it(&store, &sent)
    });
}

fn the_ledger_holds_it(store: &Store, sent: &[Vec<u8>]) -> Result<()> {
    let report = store.check()?;
    ensure!(report.is_whole(), "{report:#?}");
    let (lines, _) = store.jobs("", 0, 10)?;
    let job = lines.first().context("one job")?.job;
    let entries = store.entries_of(job)?;
    let events: Vec<Event> = entries.iter().filter_map(|sealed| sealed.entry().event()).collect();
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
