//! What stands beside the conductors, done by the practice hands through the session.

use super::super::guide::{self, Guide};
use super::super::rehearsal::{Beside, Ledger, NotFinished, Setting, seed_bytes};
use super::super::stage::Stage;
use super::super::{MeterModel, PartModel, Place, PracticeWish, Way};
use evenwire_core::caution::Caution;
use evenwire_core::job::{Command, Job, Refusal};
use evenwire_core::record::{BarState, Conditions, Details, Sealed, SweepFact};
use evenwire_core::session::Batch;
use evenwire_core::sweep::SweepVerdict;
use evenwire_core::sweep::plan::{Movement, SweepPlan, place_at};
use evenwire_core::unit::{Millis, Stamp};
use evenwire_core::verdict::written::Judgement;
use evenwire_core::verdict::{Code, ConductorState, Isolation, SetVerdict};
use uuid::Uuid;

/// A stage up to the first conductor that is announced; gives what `act` gives, and the entries.
fn at_the_bench<T>(part: PartModel, seed: u64, act: impl FnOnce(&mut Stage<'_>) -> T) -> (T, Vec<Sealed>) {
    let mut entries = Vec::new();
    let mut commit = |batch: &Batch| {
        entries.extend(batch.entries.iter().cloned());
        Ok(())
    };
    let setting = Setting {
        ledger: Ledger::empty(Uuid::from_u128(7)),
        seed: seed_bytes(seed),
        wall: Stamp::parse("2026-03-01T08:00:00Z").unwrap(),
        beside: Beside::default(),
        commit: &mut commit,
    };
    let described = part.to_part();
    let mut stage = Stage::new((part, MeterModel::default(), seed), setting);
    done(&mut stage, Command::NewJob { order: "4711".into(), vehicle: String::new(), details: Details::default() });
    done(&mut stage, Command::AcceptCautions { cautions: vec![Caution::C0] });
    done(&mut stage, Command::DescribePart { part: described });
    stage.meter_at_hand().unwrap();
    let given = act(&mut stage);
    (given, entries)
}

fn done(stage: &mut Stage<'_>, command: Command) {
    stage.wish(command.clone()).unwrap_or_else(|why| panic!("{command:?}: {why}"));
}

fn job<'a>(stage: &'a Stage<'_>) -> &'a Job {
    stage.session.job().unwrap()
}

fn judged(stage: &mut Stage<'_>) -> Judgement {
    done(stage, Command::Judge);
    job(stage).verdict.clone().unwrap().judgement
}

fn isolation(stage: &mut Stage<'_>, a: u32, other: Option<u32>) -> Isolation {
    stage.beside(Command::MeasureIsolation { a, other }).unwrap();
    let job = job(stage);
    job.isolation_means(job.proofs.isolation_of(a, other).unwrap())
}

/// Bars are said to be open, or not.
fn bars_open(stage: &mut Stage<'_>, open: bool) {
    done(stage, Command::StateConditions { conditions: Conditions { bars_open: Some(open), ..Conditions::default() } });
}

/// A built-in part with other words in its file.
fn all_good(from: &str, to: &str) -> PartModel {
    let text = include_str!("../parts/all-good.toml");
    assert!(text.contains(from));
    PartModel::parse(&text.replacen(from, to, 1)).unwrap()
}

/// The good part with a bar between conductors 1 and 2.
fn with_bar() -> PartModel {
    all_good("format = 1", "format = 1\nbars = [[\"1\", \"2\"]]")
}

#[test]
fn the_leads_are_read_and_come_off_before_the_first_conductor() {
    at_the_bench(PartModel::first_practice(), 4, |stage| {
        // The clips are on a conductor when the zero is asked for.
        stage.pass(2_500).unwrap();
        assert!(stage.bench.clips_are_on());
        stage.beside(Command::ZeroLeads).unwrap();
        assert!(stage.session.aside().is_none());
        assert_eq!(job(stage).proofs.zeros.len(), 1);
        let zero = job(stage).proofs.zeros[0].taken.middle().unwrap().to_f64();
        assert!((0.19..=0.24).contains(&zero), "{zero}");
        stage.measure().unwrap();
        let judgement = judged(stage);
        assert!(!judgement.reasons.contains(&Code::LeadsNotZeroed));
        let values: Vec<f64> = judgement.conductors.iter().map(|c| c.value.as_ref().unwrap().read()).collect();
        let near = |(index, value): (usize, &f64)| (value - if index == 3 { 12.0 } else { 0.347 }).abs() < 0.05;
        assert!(values.iter().enumerate().all(near), "{values:?}");
    });
}

#[test]
fn a_known_resistor_is_read_on_a_resistor() {
    at_the_bench(PartModel::first_practice(), 4, |stage| {
        stage.beside(Command::CheckMeter { resistor: "22".into(), tolerance_percent: "1".into() }).unwrap();
        let read = job(stage).proofs.resistors[0].taken.middle().unwrap().to_f64();
        // One per cent, and 0.2 ohm of leads with a contact of up to 0.03.
        assert!((21.97..=22.46).contains(&read), "{read}");
    });
}

#[test]
fn hands_rest_while_a_caution_waits_to_be_read() {
    at_the_bench(PartModel::first_practice(), 4, |stage| {
        stage.pass(2_500).unwrap();
        assert!(stage.bench.clips_are_on());
        done(stage, Command::Sweep { conductor: 0, plan: SweepPlan::default() });
        assert_eq!(guide::wish(&stage.session), Some(PracticeWish::Rest));
        stage.pass(5_000).unwrap();
        assert!(!stage.bench.clips_are_on() && stage.session.run().unwrap().readings().is_empty());
        done(stage, Command::AcceptCautions { cautions: vec![Caution::C8] });
        stage.pass(5_000).unwrap();
        assert!(stage.bench.clips_are_on() && !stage.session.run().unwrap().readings().is_empty());
    });
}

#[test]
fn isolation_is_beyond_the_range_unless_something_touches() {
    at_the_bench(PartModel::built_in("all-good").unwrap(), 8, |stage| {
        bars_open(stage, true);
        assert_eq!(isolation(stage, 0, Some(1)), Isolation::BeyondRange);
        assert_eq!(isolation(stage, 4, None), Isolation::BeyondRange);
        assert_eq!(job(stage).proofs.isolation.len(), 2);
        // The conductors come back, and are read as before.
        stage.measure().unwrap();
        assert_eq!(judged(stage).set, SetVerdict::Pass);
    });
    let fault = |what: &str, ohm: &str| {
        let line = "over_angle = [[-2500, 0.422], [0, 0.418], [2500, 0.424]]";
        all_good(line, &format!("{line}\nfault = {{ kind = \"touches\", touches = \"{what}\", ohm = {ohm} }}"))
    };
    for (what, ohm, wanted) in [
        ("2", "3", [Isolation::Touches, Isolation::BeyondRange]),
        ("2", "40000", [Isolation::Touches, Isolation::BeyondRange]),
        ("metal", "12", [Isolation::BeyondRange, Isolation::Touches]),
        // Above a megohm it counts as isolated, and the meter shows how much it is.
        ("metal", "1000000", [Isolation::BeyondRange, Isolation::Isolated]),
    ] {
        let (found, _) = at_the_bench(fault(what, ohm), 8, |stage| {
            bars_open(stage, true);
            let found = [isolation(stage, 3, Some(1)), isolation(stage, 3, None)];
            stage.measure().unwrap();
            let touches = found.contains(&Isolation::Touches);
            assert_eq!(judged(stage).set == SetVerdict::Pass, !touches, "{what} by {ohm}");
            found
        });
        assert_eq!(found, wanted, "{what} by {ohm}");
    }
}

#[test]
fn a_bar_reads_like_one_until_somebody_holds_it_open() {
    at_the_bench(with_bar(), 6, |stage| {
        let refused = stage.wish(Command::MeasureIsolation { a: 0, other: Some(1) });
        assert!(matches!(refused, Err(NotFinished::Refused(Refusal::BarFirst { a: 0, b: 1 }))), "{refused:?}");
        bars_open(stage, false);
        assert_eq!(isolation(stage, 0, Some(1)), Isolation::Bar);
        done(stage, Command::AcceptCautions { cautions: vec![Caution::C7] });
        let bar = BarState { a: 0, b: 1, present: Some(true), opened: "adapter".into(), restored: false };
        done(stage, Command::StateBar { bar: bar.clone() });
        assert_eq!(isolation(stage, 0, Some(1)), Isolation::BeyondRange);
        done(stage, Command::StateBar { bar: BarState { restored: true, ..bar.clone() } });
        assert_eq!(isolation(stage, 0, Some(1)), Isolation::Bar);
        // Taking a bar for none does not open it.
        done(stage, Command::StateBar { bar: BarState { present: Some(false), opened: String::new(), ..bar } });
        assert_eq!(isolation(stage, 0, Some(1)), Isolation::Touches);
        assert_eq!(isolation(stage, 2, Some(3)), Isolation::BeyondRange, "no bar is there");
    });
}

/// The sweep of `conductor` as it stands in the job.
fn sweep(stage: &mut Stage<'_>, conductor: u32, plan: SweepPlan) -> SweepFact {
    stage.beside(Command::Sweep { conductor, plan }).unwrap();
    job(stage).proofs.sweeps_of(conductor).next_back().unwrap().clone()
}

#[test]
fn a_fault_that_shows_only_while_turning_is_condemned_where_it_is() {
    for seed in 0..5 {
        at_the_bench(PartModel::built_in("only-turning").unwrap(), seed, |stage| {
            stage.measure().unwrap();
            let rest = judged(stage);
            assert_eq!((rest.set, rest.swept_steady), (SetVerdict::Pass, false), "alike at rest");
            for conductor in 0..6 {
                let fact = sweep(stage, conductor, SweepPlan::default());
                assert_eq!(fact.marks.len(), SweepPlan::default().marks().len());
                if conductor == 2 {
                    assert_eq!(fact.finding.verdict, SweepVerdict::Dropout);
                    check_places(&fact);
                } else {
                    assert_eq!(fact.finding.verdict, SweepVerdict::Steady, "seed {seed}, conductor {conductor}");
                }
            }
            let turned = judged(stage);
            assert_eq!(turned.set, SetVerdict::Fail);
            assert!(turned.conductors[2].codes.contains(&Code::SweepFault));
            assert_eq!((turned.conductors[2].state, turned.action_conductor), (ConductorState::Unstable, Some(2)));
            stage.pass(8_000).unwrap();
            assert!(stage.bench.turn_milli().abs() < 1e-6 && !stage.bench.clips_are_on(), "back and off");
        });
    }
}

/// Each pass over the spot from 580 to 700 is an event that begins at its near edge.
fn check_places(fact: &SweepFact) {
    assert_eq!(fact.finding.events.len(), 2, "one on the way out, one on the way back");
    for (event, edge) in fact.finding.events.iter().zip([580.0, 700.0]) {
        let at = Millis(fact.from_ms.0 + (event.start.read() * 1_000.0).round() as u64);
        let (place, off) = place_at(&fact.marks, at).unwrap();
        assert!((place - 640.0).abs() <= off, "{place} by {off}");
        assert!((place - edge).abs() < 40.0, "{place} instead of {edge}");
        let told = event.angle.as_ref().unwrap().read() / 0.36;
        assert!((told - edge).abs() < 40.0, "{told} instead of {edge}");
    }
}

#[test]
fn a_sweep_by_key_waits_at_each_mark() {
    at_the_bench(PartModel::built_in("only-turning").unwrap(), 2, |stage| {
        let plan = SweepPlan { movement: Movement::Turns { each_side: 1 }, pace_s: 0 };
        done(stage, Command::Sweep { conductor: 1, plan });
        done(stage, Command::AcceptCautions { cautions: vec![Caution::C8] });
        stage.pass(2_000).unwrap();
        for mark in [1_000, 0, -1_000, 0] {
            stage.pass(3_500).unwrap();
            assert!(
                (stage.bench.turn_milli() - f64::from(mark)).abs() < 1e-6,
                "{} instead of {mark}",
                stage.bench.turn_milli()
            );
            done(stage, Command::MarkSweep);
        }
        done(stage, Command::EndSweep);
        let fact = job(stage).proofs.sweeps_of(1).next_back().unwrap();
        assert_eq!((fact.finding.verdict, fact.marks.len()), (SweepVerdict::Steady, 5));
    });
}

#[test]
fn after_a_sweep_that_was_left_the_part_is_turned_back_before_the_next_touch() {
    at_the_bench(PartModel::built_in("only-turning").unwrap(), 2, |stage| {
        done(stage, Command::Sweep { conductor: 1, plan: SweepPlan::default() });
        done(stage, Command::AcceptCautions { cautions: vec![Caution::C8] });
        while stage.bench.turn_milli() < 640.0 {
            stage.pass(20).unwrap();
        }
        done(stage, Command::BackToConductors);
        while job(stage).touches.is_empty() {
            stage.pass(20).unwrap();
            assert!(
                !stage.bench.clips_are_on()
                    || stage.bench.turn_milli().abs() < 1e-6
                    || stage.bench.turn_milli() > 600.0
            );
        }
    });
}

#[test]
fn a_guide_says_everything_once_and_each_stretch_of_a_sweep() {
    at_the_bench(with_bar(), 6, |stage| {
        let mut guide = Guide::default();
        let place = |connector, cavity| Place { connector, cavity };
        let announced = PracticeWish::Announced { from: place(0, 1), to: place(1, 1) };
        let bars = |open| PracticeWish::Bars { spoken: vec![((place(0, 1), place(0, 2)), open)], others_open: open };
        stage.pass(1_200).unwrap();
        let lay = PracticeWish::Lay { part: Box::new(PartModel::built_in("all-good").unwrap()) };
        assert_eq!(guide.says(&stage.session), [lay, bars(false), announced.clone()]);
        assert_eq!(guide.says(&stage.session), []);
        guide.interrupted();
        assert_eq!(guide.says(&stage.session), [announced]);
        bars_open(stage, true);
        assert_eq!(guide.says(&stage.session)[0], bars(true));
        done(stage, Command::Sweep { conductor: 0, plan: SweepPlan::default() });
        done(stage, Command::AcceptCautions { cautions: vec![Caution::C8] });
        let mut ways = Vec::new();
        while stage.session.run().is_some() {
            for wish in guide.says(&stage.session) {
                if let PracticeWish::Sweep { way, .. } = wish {
                    ways.push(way);
                }
            }
            stage.pass(20).unwrap();
        }
        let wanted = SweepPlan::default().marks().into_iter().skip(1);
        let wanted = wanted.map(|milli| Some(Way { milli, within_ms: Some(4_000) }));
        assert_eq!(ways, std::iter::once(None).chain(wanted).chain([None]).collect::<Vec<_>>());
    });
}

/// What a job with a zero, two isolations and a candidate came to.
#[derive(Debug, PartialEq)]
struct Story {
    old: Judgement,
    isolation: [Isolation; 2],
    candidate: Option<(Judgement, Judgement)>,
}

/// A random part is measured, then a sound one of its sort and its like against it.
fn story(seed: u64) -> (Story, Vec<Sealed>) {
    let part = PartModel::random(seed);
    let mut sound = part.clone();
    sound.wires.iter_mut().for_each(|wire| wire.fault = None);
    let (story, mut entries) = at_the_bench(part.clone(), seed, |stage| {
        stage.beside(Command::ZeroLeads).unwrap();
        stage.measure().unwrap();
        bars_open(stage, true);
        let isolation = [isolation(stage, 0, Some(1)), isolation(stage, 3, Some(2))];
        stage.measure().unwrap();
        let old = judged(stage);
        Story { old, isolation, candidate: None }
    });
    let old_entries = entries.clone();
    let candidate = |model: PartModel| {
        at_the_bench(model.clone(), seed, |stage| {
            done(stage, Command::LeaveJob);
            let old = old_entries.iter().find_map(|sealed| sealed.entry().job).unwrap();
            stage.kept.entries.extend(old_entries.iter().cloned());
            match stage.wish(Command::MeasureCandidate { old }) {
                Err(NotFinished::Refused(Refusal::NothingToCompareWith)) => return None,
                other => other.unwrap(),
            }
            done(stage, Command::AcceptCautions { cautions: vec![Caution::C0, Caution::C1, Caution::C13] });
            assert_eq!(job(stage).part, Some(model.to_part()), "described as the old one");
            stage.beside(Command::ZeroLeads).unwrap();
            stage.measure().unwrap();
            Some(judged(stage))
        })
    };
    let ((same, more), (other, others)) = (candidate(part), candidate(sound));
    entries.extend(more.into_iter().chain(others));
    (Story { candidate: same.zip(other), ..story }, entries)
}

#[test]
fn a_hundred_stories_come_out_the_same_and_no_bad_part_passes() {
    let mut compared = 0;
    for seed in 0..100 {
        let (told, entries) = story(seed);
        let truth = PartModel::random(seed).truth();
        assert_eq!(told.isolation, [Isolation::BeyondRange; 2], "seed {seed}");
        assert!(!told.old.reasons.contains(&Code::LeadsNotZeroed));
        if !truth.bad.is_empty() {
            assert_ne!(told.old.set, SetVerdict::Pass, "seed {seed}");
        }
        if let Some((same, sound)) = &told.candidate {
            compared += 1;
            if !truth.bad.is_empty() {
                assert_ne!(same.set, SetVerdict::Pass, "seed {seed}: {:?} are bad", truth.bad);
            }
            assert_ne!(sound.set, SetVerdict::Fail, "seed {seed}: nothing is wrong with the candidate");
        }
        if seed % 10 == 0 {
            assert_eq!(story(seed), (told, entries), "seed {seed}");
        }
    }
    assert!(compared > 60, "{compared}");
}

#[test]
fn whoever_chooses_another_practice_part_finds_that_one_on_the_bench() {
    let coil = |word| PartModel::built_in(word).unwrap();
    // The bench began with the worn coil; the job is described as the sound one.
    at_the_bench(coil("all-good"), 3, |stage| {
        let mut bench = crate::practice::PracticeBench::new(coil("first-practice"), MeterModel::default(), 3);
        let mut guide = Guide::default();
        guide.says(&stage.session).into_iter().for_each(|wish| bench.wish(wish).unwrap());
        assert_eq!(bench.part(), &coil("all-good"));
        // A part of that description with faults of its own stays where it is.
        let mut own = crate::practice::PracticeBench::new(all_good("[0, 1.231]", "[0, 9.9]"), MeterModel::default(), 3);
        Guide::default().says(&stage.session).into_iter().for_each(|wish| own.wish(wish).unwrap());
        assert_ne!(own.part(), &coil("all-good"));
    });
}
