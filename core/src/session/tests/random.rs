//! Any order of wishes, readings, losses and restarts: the bench checks what is written after each.

use super::bench::*;
use crate::caution::Caution;
use crate::job::Command;
use crate::meter::link::{LinkEvent, Source};
use crate::record::{BarState, Details, Sealed};
use crate::session::Input;
use crate::sweep::plan::{Movement, SweepPlan};
use crate::unit::Millis;
use crate::verdict::words::Language;
use proptest::prelude::*;
use uuid::Uuid;

#[derive(Clone, Debug)]
enum Step {
    Wish(Command),
    /// Open the first, second … job again.
    Open(usize),
    /// Correct the job on the bench.
    Correct(String, String),
    /// Measure a candidate against the first, second … job.
    Candidate(usize),
    /// Take back the newest touch, or name the one before it.
    Undo(bool),
    /// Take back some reading that was taken.
    Withdraw(prop::sample::Index),
    /// Read isolation, over-range by key or so many hundredths.
    Isolate(u32, Option<u32>, Option<i32>),
    /// Zero the leads, or check a resistor.
    Zero(Option<i32>, i32),
    /// Read a meter by eye.
    Type(i32),
    /// Sweep a conductor for so long.
    Sweep(u32, u64),
    Clip(i32),
    Hold(Face, u64),
    Waver(i32, u64),
    TakeWavering(i32, u64),
    TakeOpen(u64),
    Late(Face, u64),
    /// Bytes of another connection, source or value.
    Foreign(u8, i32),
    Silence(u64),
    Lose,
    Reach,
    Connect(Source, bool),
    StartAgain,
}

fn any_face() -> impl Strategy<Value = Face> {
    prop_oneof![
        4 => (20i32..60).prop_map(Face::Ohm),
        1 => (-5i32..200_000).prop_map(Face::Ohm),
        3 => Just(Face::Over),
        1 => (20i32..60).prop_map(Face::LowBattery),
        1 => (20i32..60).prop_map(Face::Volt),
        1 => (20i32..60).prop_map(Face::Relative),
        1 => Just(Face::Garbage),
    ]
}

fn any_wish() -> impl Strategy<Value = Command> {
    let part = (0usize..4, 0u8..6).prop_map(|(left_out, touches)| {
        let mut part = coil();
        part.conductors.truncate(4 - left_out);
        part.touches_wanted = touches;
        Command::DescribePart { part }
    });
    let meter = prop_oneof![Just(spec("bench meter 2")), Just(spec("spare")), Just(spec(""))];
    prop_oneof![
        4 => prop::sample::subsequence(Caution::ALL.to_vec(), 1..=6).prop_map(|cautions| Command::AcceptCautions { cautions }),
        9 => any_proof(),
        2 => part,
        2 => meter.prop_map(|spec| Command::DescribeMeter { spec }),
        2 => (any::<bool>(), prop::option::of(-60i64..120))
            .prop_map(|(zeroed, celsius)| Command::StateConditions { conditions: conditions(zeroed, celsius) }),
        6 => (0u32..5).prop_map(|conductor| Command::ChooseConductor { conductor }),
        3 => Just(Command::TakeAsItIs),
        4 => Just(Command::TakeOverRange),
        // Whichever is the newest by then.
        8 => Just(Command::Judge),
        4 => Just(Command::MeasureMore),
        1 => Just(Command::Finish),
        1 => Just(Command::LeaveJob),
        2 => "[a-c ]{0,2}".prop_map(|order| new_job(&order)),
        1 => "[a-c ]{0,2}".prop_map(|name| Command::SaveTemplate { name }),
        1 => Just(Command::Speak { language: Language::De }),
        1 => Just(Command::DisconnectMeter),
        1 => Just(Command::SearchMeters),
    ]
}

/// Wishes about what supports a reading.
fn any_proof() -> impl Strategy<Value = Command> {
    let bar = (0u32..5, 0u32..5, prop::option::of(any::<bool>()), "[a ]{0,2}", any::<bool>());
    let bar = bar.prop_map(|(a, b, present, opened, restored)| BarState { a, b, present, opened, restored });
    let typed = prop_oneof![Just("0,35"), Just("1,234"), Just("-0.02"), Just("x"), Just("0.345"), Just("")];
    let plan = (1u8..4, 0u8..4, any::<bool>()).prop_map(|(count, pace, turns)| SweepPlan {
        movement: if turns { Movement::Turns { each_side: count } } else { Movement::Flexes { passes: count } },
        pace_s: pace,
    });
    prop_oneof![
        3 => Just(Command::ZeroLeads),
        1 => Just(Command::CheckMeter { resistor: "10,0".into(), tolerance_percent: "1".into() }),
        3 => bar.prop_map(|bar| Command::StateBar { bar }),
        3 => (0u32..5, prop::option::of(0u32..5)).prop_map(|(a, other)| Command::MeasureIsolation { a, other }),
        2 => (0u32..5, plan.clone()).prop_map(|(conductor, plan)| Command::PlanSweep { conductor, plan }),
        6 => (0u32..5, plan).prop_map(|(conductor, plan)| Command::Sweep { conductor, plan }),
        2 => Just(Command::MarkSweep),
        4 => Just(Command::EndSweep),
        1 => Just(Command::BackToConductors),
        1 => Just(Command::UseTypedMeter { spec: spec("eye meter") }),
        3 => (typed, any::<bool>()).prop_map(|(text, confirmed)| Command::TypeReading { text: text.into(), confirmed }),
        1 => Just(Command::TypeOverRange),
    ]
}

fn any_step() -> impl Strategy<Value = Step> {
    prop_oneof![
        8 => (25i32..45).prop_map(Step::Clip),
        10 => any_wish().prop_map(Step::Wish),
        6 => (any_face(), 0u64..3_000).prop_map(|(face, ms)| Step::Hold(face, ms)),
        3 => (2i32..9, 6_000u64..8_000).prop_map(|(by, ms)| Step::Waver(by, ms)),
        2 => (0u64..3_000).prop_map(Step::TakeOpen),
        2 => (2i32..9, 6_500u64..8_000).prop_map(|(by, ms)| Step::TakeWavering(by, ms)),
        2 => (any_face(), 0u64..2_000).prop_map(|(face, late)| Step::Late(face, late)),
        2 => (0u8..3, 20i32..60).prop_map(|(kind, n)| Step::Foreign(kind, n)),
        1 => (0u64..5_000).prop_map(Step::Silence),
        1 => Just(Step::Lose),
        2 => Just(Step::Reach),
        1 => (any::<bool>(), any::<bool>())
            .prop_map(|(radio, serial)| Step::Connect(if radio { Source::Radio } else { Source::Practice }, serial)),
        1 => Just(Step::StartAgain),
        1 => (0usize..4).prop_map(Step::Open),
        2 => ("[a-c ]{0,2}", "[xy]{0,1}").prop_map(|(order, customer)| Step::Correct(order, customer)),
        1 => (0usize..4).prop_map(Step::Candidate),
        2 => (any::<prop::sample::Index>()).prop_map(Step::Withdraw),
        4 => (0u32..4, 3_000u64..14_000).prop_map(|(conductor, ms)| Step::Sweep(conductor, ms)),
        3 => (0u32..4, prop::option::of(0u32..4), prop::option::of(0i32..50))
            .prop_map(|(a, other, ohm)| Step::Isolate(a, other, ohm)),
        2 => (prop::option::of(-20i32..60), 15i32..30).prop_map(|(celsius, ohm)| Step::Zero(celsius, ohm)),
        2 => (20i32..60).prop_map(Step::Type),
        3 => (0usize..5).prop_map(|dice| Step::Undo(dice == 0)),
    ]
}

fn perform(bench: &mut Bench, step: Step) {
    match step {
        Step::Undo(older) => {
            let touches = bench.session.job().map_or(Vec::new(), |job| job.touches.clone());
            let standing: Vec<Uuid> = touches.iter().rev().filter(|k| !k.undone).map(|k| k.fact.touch).collect();
            let named = standing.get(usize::from(older)).copied().unwrap_or(Uuid::nil());
            let refused = bench.wish(Command::UndoTouch { touch: named });
            assert!(!older || refused.is_some(), "one that is not the newest was taken back");
        }
        Step::Wish(command) => drop(bench.wish(command)),
        Step::Open(nth) => {
            let opened = bench.entries.iter().filter(|e| e.entry().kind == "job-opened").nth(nth);
            if let Some(job) = opened.and_then(|e| e.entry().job) {
                bench.done(Command::OpenJob { job });
            }
        }
        Step::Correct(order, customer) => {
            if let Some(job) = bench.session.job().map(|job| job.id) {
                let details = Details { customer, ..Details::default() };
                bench.wish(Command::CorrectJob { job, order, vehicle: String::new(), details });
            }
        }
        Step::Candidate(nth) => {
            let opened = bench.entries.iter().filter(|e| e.entry().kind == "job-opened").nth(nth);
            if let Some(old) = opened.and_then(|e| e.entry().job) {
                bench.wish(Command::LeaveJob);
                bench.wish(Command::MeasureCandidate { old });
            }
        }
        Step::Withdraw(which) => {
            let named = |e: &Sealed| {
                let body: serde_json::Value = serde_json::from_str(e.entry().body.text()).expect("JSON");
                ["sweep", "reading", "zero"].iter().find_map(|k| body[k].as_str()?.parse().ok())
            };
            let readings: Vec<uuid::Uuid> = bench.entries.iter().filter_map(named).collect();
            if !readings.is_empty() {
                bench.wish(Command::Withdraw { reading: *which.get(&readings) });
            }
        }
        Step::Isolate(a, other, ohm) => {
            bench.wish(Command::AcceptCautions { cautions: vec![Caution::C7, Caution::C9] });
            if let Some(b) = other {
                let bar = BarState { a, b, present: Some(ohm.is_none()), opened: "adapter".into(), restored: false };
                bench.wish(Command::StateBar { bar });
            }
            bench.wish(Command::MeasureIsolation { a, other });
            match ohm {
                Some(hundredths) => bench.clip(hundredths),
                None => {
                    bench.hold(Face::Over, 2_000);
                    bench.wish(Command::TakeOverRange);
                }
            }
        }
        Step::Zero(celsius, hundredths) => {
            bench.wish(Command::StateConditions { conditions: conditions(false, celsius.map(i64::from)) });
            let check = Command::CheckMeter { resistor: "0,2".into(), tolerance_percent: "5".into() };
            bench.wish(if celsius.is_some() { Command::ZeroLeads } else { check });
            bench.clip(hundredths);
        }
        Step::Type(hundredths) => {
            bench.wish(Command::UseTypedMeter { spec: spec("eye meter") });
            bench.wish(Command::TypeReading { text: format!("0,{hundredths}"), confirmed: false });
        }
        Step::Sweep(conductor, ms) => {
            bench.wish(Command::Sweep { conductor, plan: SweepPlan::default() });
            bench.wish(Command::AcceptCautions { cautions: vec![Caution::C8] });
            bench.hold(Face::Over, 800);
            bench.hold(Face::Ohm(35), ms);
            bench.wish(Command::EndSweep);
        }
        Step::Clip(hundredths) => bench.clip(hundredths),
        Step::Hold(face, ms) => bench.hold(face, ms),
        Step::Waver(by, ms) => waver(bench, by, ms),
        Step::TakeWavering(by, ms) => {
            waver(bench, by, ms);
            bench.wish(Command::TakeAsItIs);
        }
        Step::TakeOpen(ms) => {
            bench.hold(Face::Over, ms);
            bench.wish(Command::TakeOverRange);
        }
        Step::Late(face, late) => {
            bench.now += PERIOD;
            bench.show_late(face, late);
        }
        Step::Foreign(kind, hundredths) => {
            bench.now += PERIOD;
            bench.foreign(kind, hundredths);
        }
        Step::Silence(ms) => {
            bench.now += ms;
            bench.input(Input::Tick);
        }
        Step::Lose => bench.lose(),
        Step::Reach => {
            let wanted = bench.session.meter(&bench.time()).wanted.map(|w| w.source);
            if let Some(source) = wanted {
                bench.reach(source, None);
            }
        }
        Step::Connect(source, serial) => bench.connect(source, serial.then_some("SN 1")),
        Step::StartAgain => {
            // What was begun beside the conductors is gone with the program; the conductor is still there.
            bench.wish(Command::BackToConductors);
            let announced = bench.session.announced();
            bench.start_again();
            assert_eq!(bench.session.announced(), announced, "the same conductor is next");
        }
    }
}

fn waver(bench: &mut Bench, by: i32, ms: u64) {
    bench.hold(Face::Over, 800);
    for turn in 0..ms / PERIOD {
        bench.show(Face::Ohm(35 + if turn % 2 == 0 { by } else { -by }));
    }
}

impl Bench {
    /// Bytes that belong to nothing that is listened to.
    fn foreign(&mut self, kind: u8, hundredths: i32) {
        let (source, generation, characteristic) = match kind {
            0 => (Source::Radio, 0, VALUE),
            1 => (Source::Replay, self.newest_generation(), VALUE),
            _ => (Source::Radio, self.newest_generation(), uuid::Uuid::nil()),
        };
        let (bytes, at) = (frame(Face::Ohm(hundredths)), Millis(self.now));
        self.link(source, LinkEvent::Bytes { generation, characteristic, bytes, at });
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

    #[test]
    fn what_is_recorded_is_true_in_whatever_order_things_happen(
        steps in prop::collection::vec(any_step(), 1..60), prepared in prop::bool::weighted(0.8)
    ) {
        let mut bench = if prepared { Bench::measuring() } else { Bench::new() };
        for step in steps {
            perform(&mut bench, step);
        }
        bench.check_nothing_is_lost();
    }
}

/// The property above would hold of a session that never takes anything; this one shows that it does.
#[test]
fn the_random_bench_reaches_touches_verdicts_and_refusals() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[3; 32]);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    let steps = prop::collection::vec(any_step(), 1..60);
    let mut kinds = std::collections::BTreeMap::<String, usize>::new();
    for _ in 0..160 {
        let mut bench = Bench::measuring();
        steps.new_tree(&mut runner).unwrap().current().into_iter().for_each(|step| perform(&mut bench, step));
        for entry in &bench.entries {
            *kinds.entry(entry.entry().kind.clone()).or_default() += 1;
        }
        for touch in bench.touches() {
            *kinds.entry(format!("{:?}", touch.taken.kind)).or_default() += 1;
        }
    }
    for kind in ["touch-taken", "judged", "touch-undone", "measuring-resumed", "conductor-chosen", "meter-used"] {
        assert!(kinds.get(kind).is_some_and(|n| *n >= 3), "{kind}: {kinds:?}");
    }
    let proofs = ["zero-taken", "bar-stated", "isolation-taken", "sweep-taken", "reading-withdrawn", "resistor-read"];
    for kind in proofs {
        assert!(kinds.contains_key(kind), "{kind}: {kinds:?}");
    }
    for kind in ["Settled", "AsItWas", "OverRange", "Typed"] {
        assert!(kinds.contains_key(kind), "{kind}: {kinds:?}");
    }
}

/// Details are drawn so that no field could be missed.
#[test]
fn no_personal_text_stands_in_any_entry() {
    let mut bench = Bench::new();
    let details = Details {
        odometer: String::new(),
        customer: "Marlene Sturmvogel".into(),
        phone: "0000 112233".into(),
        plate: "ZZ-QX 404".into(),
        vin: "ZZZEVENW1RE000042".into(),
        technician: "Ottokar Klemm".into(),
        complaint: "Horn is dead when turning left".into(),
    };
    bench.done(Command::NewJob { order: "4711".into(), vehicle: "Blue estate".into(), details: details.clone() });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    bench.done(Command::DescribePart { part: coil() });
    assert_eq!(bench.session.details(), &details);
    let kept = bench.details.values().next().expect("kept beside the ledger");
    for text in
        [&details.customer, &details.phone, &details.plate, &details.vin, &details.technician, &details.complaint]
    {
        assert!(kept.text.contains(text.as_str()));
        for entry in &bench.entries {
            assert!(
                !String::from_utf8_lossy(entry.bytes()).contains(text.as_str()),
                "{text} in {}",
                entry.entry().kind
            );
        }
    }
    // Reloaded without its details the job goes on, and shows none.
    let job = bench.session.job().expect("on the bench").id;
    bench.details.clear();
    bench.done(Command::OpenJob { job });
    assert_eq!(bench.session.details(), &Details::default());
}
