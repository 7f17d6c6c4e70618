//! What supports a reading, as it happens at the bench.

use super::bench::*;
use crate::caution::Caution;
use crate::job::{Command, Refusal, Retired, Stage};
use crate::part::PartLimit;
use crate::record::BarState;
use crate::session::{DoneBeside, Input, Signal};
use crate::sweep::SweepVerdict;
use crate::sweep::plan::{Movement, SweepPlan};
use crate::unit::{Quantity, Unit};
use crate::verdict::{Basis, Code, ConductorState, Isolation, SetVerdict};

fn judged(bench: &mut Bench) -> crate::verdict::written::Judgement {
    bench.done(Command::Judge);
    bench.session.job().unwrap().verdict.clone().unwrap().judgement
}

/// Every touch that is wanted, on conductors that read `hundredths`.
fn measure_all(bench: &mut Bench, hundredths: impl Fn(u32) -> i32) {
    while let Some((conductor, _)) = bench.session.announced() {
        bench.clip(hundredths(conductor));
    }
}

fn ohm(digits: i64, places: u8) -> Option<Quantity> {
    Quantity::new(digits, places, Unit::Ohm)
}

#[test]
fn leads_that_were_read_are_taken_off_and_checked_again_at_the_end() {
    let mut bench = Bench::measuring();
    bench.done(Command::ZeroLeads);
    assert_eq!(bench.session.announced(), None, "the clips go on each other now");
    bench.clip(20);
    assert!(bench.session.aside().is_none(), "the conductors come back by themselves");
    assert_eq!(bench.session.job().unwrap().proofs.zeros.len(), 1);
    measure_all(&mut bench, |_| 55);
    bench.done(Command::ZeroLeads);
    bench.clip(22);
    let judgement = judged(&mut bench);
    assert!(!judgement.reasons.contains(&Code::LeadsNotZeroed));
    let values: Vec<f64> = judgement.conductors.iter().map(|c| c.value.as_ref().unwrap().read()).collect();
    assert!(values.iter().all(|v| (v - 0.35).abs() < 1e-9), "{values:?}");
    let leads = bench.session.job().unwrap().leads();
    assert_eq!((leads.zero, leads.zero_end), (Some(0.20), Some(0.22)));
    bench.check_nothing_is_lost();
}

#[test]
fn a_zero_that_moved_sets_aside_what_was_read_between() {
    let mut bench = Bench::measuring();
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    bench.clip(55);
    bench.clip(56);
    assert_eq!(bench.session.job().unwrap().progress().0, 2);
    bench.done(Command::ZeroLeads);
    // Five hundredths are allowed, and belong to the allowed side.
    bench.clip(25);
    assert_eq!(bench.session.job().unwrap().progress().0, 2);
    bench.done(Command::ZeroLeads);
    bench.clip(26);
    let job = bench.session.job().unwrap();
    assert_eq!(job.progress().0, 0, "they are to be taken again");
    assert_eq!(job.touches.len(), 2, "and stay in the record");
    assert_eq!(job.proofs.retired, Some(Retired::ZeroMoved(ohm(20, 2).unwrap(), ohm(26, 2).unwrap())));
    measure_all(&mut bench, |_| 61);
    assert_eq!(bench.session.job().unwrap().proofs.retired, None);
    assert_eq!(bench.session.job().unwrap().leads().zero, Some(0.26));
}

#[test]
fn readings_below_zero_after_zeroing_are_readings_until_they_are_too_low() {
    let mut bench = Bench::measuring();
    bench.done(Command::ZeroLeads);
    bench.clip(35);
    measure_all(&mut bench, |_| 32);
    let judgement = judged(&mut bench);
    assert!(!judgement.reasons.contains(&Code::ZeroSuspect));
    let first = judgement.conductors[0].value.as_ref().unwrap().read();
    assert!((first + 0.03).abs() < 1e-9);
    bench.done(Command::MeasureMore);
    bench.done(Command::ZeroLeads);
    bench.clip(39);
    let again = judged(&mut bench);
    assert!(!again.reasons.contains(&Code::ZeroSuspect), "the first zero still holds: it moved by 0.04 ohm only");

    let mut bench = Bench::measuring();
    bench.done(Command::ZeroLeads);
    bench.clip(40);
    measure_all(&mut bench, |_| 34);
    assert!(judged(&mut bench).reasons.contains(&Code::ZeroSuspect), "0.06 ohm below nothing");
}

#[test]
fn the_meters_own_zero_switched_midway_never_mixes_two_offsets() {
    let mut bench = Bench::measuring();
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    bench.clip(55);
    bench.clip(55);
    bench.hold(Face::Over, 800);
    bench.hold(Face::Relative(35), 2_200);
    let job = bench.session.job().unwrap();
    assert_eq!(job.leads().zero, None, "a zero read without it is not taken off what it has taken off");
    assert_eq!(job.progress().0, 1, "what was read with the other zero does not stand beside it");
    assert_eq!(job.proofs.retired, Some(Retired::OtherZero));
    while bench.session.announced().is_some() {
        bench.hold(Face::Over, 800);
        bench.hold(Face::Relative(35), 2_200);
    }
    assert!(!judged(&mut bench).reasons.contains(&Code::LeadsNotZeroed), "the meter said that it subtracts them");
}

#[test]
fn a_known_resistor_says_whether_the_meter_keeps_its_sheet() {
    let mut bench = Bench::measuring();
    let check = |resistor: &str| Command::CheckMeter { resistor: resistor.into(), tolerance_percent: "1".into() };
    assert_eq!(bench.wish(check("0")), Some(Refusal::Number { field: "resistor".into(), ambiguous: false }));
    assert_eq!(bench.wish(check("1.234")), Some(Refusal::Number { field: "resistor".into(), ambiguous: true }));
    bench.done(check("10,0"));
    bench.hold(Face::Over, 800);
    bench.hold(Face::Over, 1_200);
    assert_eq!(bench.wish(Command::TakeOverRange), Some(Refusal::NothingToTake), "a resistor is never over-range");
    bench.hold(Face::Ohm(1_003), 2_200);
    let fact = &bench.session.job().unwrap().proofs.resistors[0];
    assert_eq!((fact.resistor, fact.tolerance_milli_percent), (ohm(100, 1).unwrap(), 1_000));
    assert_eq!(fact.taken.middle(), ohm(1_003, 2));
}

#[test]
fn isolation_asks_for_the_bar_first_and_reports_the_limit_of_the_meter() {
    let mut bench = Bench::measuring();
    let bar = |present, opened: &str| BarState { a: 3, b: 2, present, opened: opened.into(), restored: false };
    let pair = Command::MeasureIsolation { a: 2, other: Some(3) };
    assert_eq!(bench.wish(pair.clone()), Some(Refusal::BarFirst { a: 2, b: 3 }));
    let stated = Command::StateBar { bar: bar(Some(true), "adapter") };
    assert_eq!(bench.wish(stated.clone()), Some(Refusal::CautionFirst { caution: Caution::C7 }));
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C7] });
    bench.done(stated);
    assert_eq!(bench.session.job().unwrap().bars_open(), Some(true));
    bench.done(pair.clone());
    bench.clip(3);
    assert_eq!(bench.session.job().unwrap().proofs.isolation.len(), 0, "its caution was not read");
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C9] });
    bench.hold(Face::Over, 2_000);
    bench.done(Command::TakeOverRange);
    let job = bench.session.job().unwrap();
    let fact = job.proofs.isolation_of(3, Some(2)).unwrap();
    assert_eq!((fact.top, fact.bar_open), (ohm(2_000, 0).unwrap(), Some(true)));
    assert_eq!(job.isolation_means(fact), Isolation::RangeTooLow, "over 2 kilo-ohm is not isolated");
    // An inflator's conductor is never measured, not even against metal.
    assert!(matches!(bench.wish(Command::MeasureIsolation { a: 1, other: None }), Some(Refusal::End { .. })));
    assert_eq!(bench.wish(Command::MeasureIsolation { a: 2, other: Some(2) }), Some(Refusal::SameConductor));
    // The same pair at 0.03 ohm, the bar held open: they touch, and that condemns the part.
    bench.done(pair);
    bench.clip(3);
    measure_all(&mut bench, |_| 35);
    let judgement = judged(&mut bench);
    assert_eq!(judgement.set, SetVerdict::Fail);
    assert!(judgement.reasons.contains(&Code::IsolationFault));
    let reading = bench.session.job().unwrap().proofs.isolation_of(2, Some(3)).unwrap().reading;
    bench.done(Command::Withdraw { reading });
    assert_eq!(bench.wish(Command::Withdraw { reading }), Some(Refusal::NoSuchReading));
    bench.done(Command::Judge);
    let again = bench.session.job().unwrap().verdict.clone().unwrap().judgement;
    assert_ne!(again.set, SetVerdict::Fail);
}

fn sweep(conductor: u32, pace_s: u8) -> Command {
    Command::Sweep { conductor, plan: SweepPlan { movement: Movement::Turns { each_side: 1 }, pace_s } }
}

#[test]
fn a_break_at_an_angle_condemns_a_part_that_was_alike_at_rest() {
    let mut bench = Bench::measuring();
    measure_all(&mut bench, |_| 35);
    assert_eq!(judged(&mut bench).set, SetVerdict::Pass);
    assert_eq!(bench.session.job().unwrap().stage(), Stage::Verdict);
    bench.done(sweep(2, 4));
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 3_000);
    assert!(bench.session.run().unwrap().readings().is_empty(), "the caution of the coil was not read");
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    bench.hold(Face::Ohm(35), 3_000);
    assert!(bench.session.run().unwrap().readings().is_empty(), "the clips were on before it was announced");
    bench.hold(Face::Over, 800);
    // How the clips go on is not part of the trace.
    bench.hold(Face::Ohm(50_100), PERIOD);
    bench.hold(Face::Ohm(35), 500 - PERIOD);
    assert!(bench.session.run().unwrap().readings().is_empty());
    bench.signals.clear();
    // Four marks of four seconds; the break lies three eighths of the way to +1 turn, and is passed twice.
    let begin = bench.now + PERIOD;
    while bench.session.run().is_some() {
        let into = (bench.now + PERIOD - begin) as f64 / 1_000.0;
        let turns = if into <= 4.0 {
            into / 4.0
        } else if into <= 12.0 {
            2.0 - into / 4.0
        } else {
            into / 4.0 - 4.0
        };
        bench.show(if (0.32..0.43).contains(&turns) { Face::Ohm(95) } else { Face::Ohm(35) });
    }
    assert_eq!(bench.signals, [Signal::Mark, Signal::Mark, Signal::Mark, Signal::Mark, Signal::Stop]);
    let fact = bench.session.job().unwrap().proofs.sweeps[0].fact.clone();
    assert_eq!(fact.marks.iter().map(|m| m.milli).collect::<Vec<_>>(), [0, 1_000, 0, -1_000, 0]);
    assert_eq!(fact.finding.verdict, SweepVerdict::Jump);
    let degrees: Vec<f64> = fact.finding.events.iter().map(|e| e.angle.as_ref().unwrap().read()).collect();
    assert_eq!(degrees.len(), 2);
    assert!(degrees.iter().all(|d| (d - 135.0).abs() < 25.0), "{degrees:?}");
    let judgement = judged(&mut bench);
    assert_eq!(judgement.set, SetVerdict::Fail);
    let bad = judgement.conductors.iter().find(|c| c.conductor == 2).unwrap();
    assert_eq!((bad.state, bad.codes.contains(&Code::SweepFault)), (ConductorState::Unstable, true));
    bench.check_nothing_is_lost();
}

#[test]
fn every_conductor_swept_steady_is_more_than_alike_at_rest() {
    let mut bench = Bench::measuring();
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    measure_all(&mut bench, |_| 35);
    for conductor in [0, 2, 3] {
        assert!(!judged(&mut bench).swept_steady);
        bench.done(sweep(conductor, 4));
        bench.hold(Face::Over, 800);
        while bench.session.run().is_some() {
            bench.show(Face::Ohm(35));
        }
    }
    let judgement = judged(&mut bench);
    assert_eq!((judgement.set, judgement.swept_steady), (SetVerdict::Pass, true));
}

#[test]
fn a_sweep_by_key_needs_no_tone_and_a_cut_stream_keeps_nothing_of_it() {
    let mut bench = Bench::measuring();
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    assert_eq!(bench.wish(sweep(0, 1)), Some(Refusal::SweepPlan), "a second is too short to follow");
    assert_eq!(bench.wish(Command::MarkSweep), Some(Refusal::NothingAside));
    bench.done(sweep(0, 0));
    assert_eq!(bench.wish(Command::EndSweep), Some(Refusal::NothingSwept));
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 3_000);
    bench.done(Command::MarkSweep);
    bench.hold(Face::Ohm(35), 3_000);
    bench.lose();
    assert_eq!((bench.session.done_beside(), bench.session.run().is_none()), (Some(DoneBeside::Broken), true));
    assert_eq!(bench.session.job().unwrap().proofs.sweeps.len(), 0);
    assert_eq!(bench.session.announced().map(|(c, _)| c), Some(0), "the conductor is announced again");
    bench.reach(crate::meter::link::Source::Radio, None);
    bench.done(sweep(0, 0));
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 6_000);
    bench.show(Face::Relative(35));
    assert_eq!(bench.session.done_beside(), Some(DoneBeside::Broken), "another zero is another trace");
    bench.done(Command::ZeroLeads);
    assert_eq!(bench.session.done_beside(), None, "it is said until the next wish");
}

#[test]
fn a_fault_that_was_seen_once_is_there_until_it_is_taken_back() {
    let mut bench = Bench::measuring();
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    for face in [Face::Over, Face::Ohm(95), Face::Ohm(35)] {
        bench.done(sweep(0, 0));
        bench.hold(Face::Over, 800);
        bench.hold(Face::Ohm(35), 6_000);
        bench.hold(face, 2 * PERIOD);
        bench.hold(Face::Ohm(35), 6_000);
        bench.done(Command::EndSweep);
    }
    let job = bench.session.job().unwrap();
    let verdicts: Vec<SweepVerdict> = job.proofs.sweeps.iter().map(|s| s.fact.finding.verdict).collect();
    assert_eq!(verdicts, [SweepVerdict::Dropout, SweepVerdict::Jump, SweepVerdict::Steady]);
    assert_eq!(job.proofs.swept(0), Some(SweepVerdict::Dropout));
    let names = [0, 1].map(|nth: usize| job.proofs.sweeps[nth].fact.sweep);
    bench.done(Command::Withdraw { reading: names[0] });
    assert_eq!(bench.session.job().unwrap().proofs.swept(0), Some(SweepVerdict::Jump));
    bench.done(Command::Withdraw { reading: names[1] });
    assert_eq!(bench.session.job().unwrap().proofs.swept(0), Some(SweepVerdict::Steady));
}

#[test]
fn a_paced_sweep_goes_on_by_time_alone() {
    let mut bench = Bench::measuring();
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    bench.done(sweep(0, 4));
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 500 + PERIOD);
    let due = bench.session.wake_at(&bench.time()).expect("a tone is due");
    assert!(due.0 <= bench.now + 4_000);
    bench.now += 4_000;
    bench.signals.clear();
    bench.input(Input::Tick);
    assert_eq!(bench.signals, [Signal::Mark]);
}

#[test]
fn a_meter_without_radio_is_read_by_eye_and_judged_by_the_same_rules() {
    let mut bench = Bench::measuring();
    bench.done(Command::UseTypedMeter { spec: spec("eye meter") });
    let typed = |text: &str| Command::TypeReading { text: text.into(), confirmed: false };
    assert_eq!(bench.wish(typed("0.355")), Some(Refusal::FinerThanStep { step: "0.01".into() }));
    assert_eq!(bench.wish(typed("3000")), Some(Refusal::Number { field: "reading".into(), ambiguous: false }));
    assert_eq!(bench.wish(typed("")), Some(Refusal::Number { field: "reading".into(), ambiguous: false }));
    assert_eq!(bench.wish(sweep(0, 4)), Some(Refusal::RadioNeeded));
    for text in ["0,35", "0.3", "0,36", "0.34"] {
        bench.done(typed(text));
    }
    bench.done(Command::TypeOverRange);
    bench.done(Command::TypeOverRange);
    let digits: Vec<(Vec<i64>, u8)> =
        bench.touches().iter().map(|t| (t.taken.digits.clone(), t.taken.places)).collect();
    assert_eq!(digits, [(vec![35], 2), (vec![30], 2), (vec![36], 2), (vec![34], 2), (vec![], 2), (vec![], 2)]);
    assert!(bench.touches().iter().all(|t| t.taken.kind.is_typed()));
    let judgement = judged(&mut bench);
    assert_eq!((judgement.set, judgement.action_conductor), (SetVerdict::Fail, Some(3)));
}

#[test]
fn over_range_of_a_range_that_ends_early_is_not_typed_as_open() {
    let mut bench = Bench::measuring();
    let mut low = spec("eye meter");
    low.top = "200".into();
    bench.done(Command::UseTypedMeter { spec: low });
    assert_eq!(bench.wish(Command::TypeOverRange), Some(Refusal::AboveRange));
}

#[test]
fn nothing_that_comes_by_radio_is_taken_for_a_typed_job() {
    let mut bench = Bench::measuring();
    bench.done(Command::UseTypedMeter { spec: spec("eye meter") });
    bench.connect(crate::meter::link::Source::Radio, None);
    bench.clip(35);
    assert_eq!(bench.touches(), []);
}

#[test]
fn a_calibration_day_is_a_day() {
    let mut bench = Bench::measuring();
    let mut described = spec("bench meter 2");
    for wrong in ["31.05.2026", "2026-02-30", "soon"] {
        described.calibration_due = wrong.into();
        let refused = bench.wish(Command::DescribeMeter { spec: described.clone() });
        assert_eq!(refused, Some(Refusal::Day { field: "calibration_due".into() }), "{wrong}");
    }
    described.calibration_due = "2026-02-28".into();
    bench.done(Command::DescribeMeter { spec: described });
    let due = bench.session.job().unwrap().instrument.as_ref().unwrap().calibration_due;
    assert_eq!(due.unwrap().to_string(), "2026-02-28");
}

#[test]
fn a_candidate_is_compared_with_the_good_conductors_of_the_old_part() {
    let mut bench = Bench::measuring();
    // The old part: one conductor worn, the others at 0.35.
    measure_all(&mut bench, |conductor| if conductor == 2 { 1_235 } else { 55 });
    let old = bench.session.job().unwrap().id;
    assert_eq!(bench.wish(Command::MeasureCandidate { old }), Some(Refusal::BenchTaken));
    bench.done(Command::LeaveJob);
    assert_eq!(bench.wish(Command::MeasureCandidate { old }), Some(Refusal::NothingToCompareWith), "never judged");
    bench.done(Command::OpenJob { job: old });
    bench.done(Command::Judge);
    bench.done(Command::LeaveJob);
    bench.done(Command::MeasureCandidate { old });
    let job = bench.session.job().unwrap();
    assert_eq!((job.order.as_str(), job.stage()), ("Candidate for 4711", Stage::Start));
    assert!(job.instrument.is_some(), "the meter at hand is in use");
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C0, Caution::C1] });
    assert_eq!(bench.session.job().unwrap().stage(), Stage::Start, "a used part has a caution of its own");
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C13] });
    assert_eq!(bench.session.job().unwrap().stage(), Stage::Measure);
    measure_all(&mut bench, |_| 56);
    let judgement = judged(&mut bench);
    assert_eq!(judgement.set, SetVerdict::Undecided, "leads that were not read leave it open");
    assert!(judgement.conductors.iter().all(|c| c.basis == Some(Basis::KnownGood)));
    // Alike with each other is not alike with the old part.
    bench.done(Command::LeaveJob);
    bench.done(Command::MeasureCandidate { old });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C0, Caution::C1, Caution::C13] });
    measure_all(&mut bench, |_| 155);
    let judgement = judged(&mut bench);
    assert_eq!((judgement.set, judgement.alike_within()), (SetVerdict::Fail, None));
}

#[test]
fn leads_read_on_both_parts_let_a_candidate_be_told_alike() {
    let mut bench = Bench::measuring();
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    measure_all(&mut bench, |_| 55);
    let old = bench.session.job().unwrap().id;
    bench.done(Command::Judge);
    bench.done(Command::LeaveJob);
    bench.done(Command::MeasureCandidate { old });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C0, Caution::C1, Caution::C13] });
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    measure_all(&mut bench, |_| 58);
    let judgement = judged(&mut bench);
    assert_eq!(judgement.set, SetVerdict::Pass);
    let within = judgement.alike_within().expect("alike").read();
    assert!((0.03..0.2).contains(&within), "{within}");
}

#[test]
fn a_limit_can_be_entered_after_measuring_and_the_wiring_cannot_change() {
    let mut bench = Bench::measuring();
    measure_all(&mut bench, |_| 35);
    bench.done(Command::Judge);
    let mut part = coil();
    part.ceiling = Some(PartLimit { high: ohm(5, 1), low: None, temperature: None, source: String::new() });
    bench.done(Command::DescribePart { part: part.clone() });
    assert!(bench.session.job().unwrap().verdict.as_ref().unwrap().outdated);
    let judgement = judged(&mut bench);
    assert!(judgement.conductors.iter().all(|c| c.basis == Some(Basis::Limit)));
    part.conductors[0].from.cavity = 4;
    part.conductors[3].from.cavity = 1;
    assert_eq!(bench.wish(Command::DescribePart { part: part.clone() }), Some(Refusal::PartMeasured));
    part = coil();
    part.ceiling = Some(PartLimit { high: ohm(1, 1), low: ohm(5, 1), temperature: None, source: String::new() });
    assert!(matches!(bench.wish(Command::DescribePart { part }), Some(Refusal::PartWrong { .. })));
}

#[test]
fn a_plan_is_confirmed_before_a_clip_is_asked_for() {
    let mut bench = Bench::measuring();
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    let plan = SweepPlan { movement: Movement::Turns { each_side: 3 }, pace_s: 4 };
    bench.done(Command::PlanSweep { conductor: 0, plan });
    assert_eq!(bench.session.aside_points(), None, "no clip goes anywhere yet");
    assert!(!bench.session.watches_clips());
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 3_000);
    assert!(bench.session.run().unwrap().readings().is_empty(), "nothing is read while it is planned");
    assert_eq!(bench.wish(Command::EndSweep), Some(Refusal::NothingSwept));
    let changed = SweepPlan { pace_s: 1, ..plan };
    assert_eq!(bench.wish(Command::PlanSweep { conductor: 0, plan: changed }), Some(Refusal::SweepPlan));
    bench.done(Command::Sweep { conductor: 0, plan });
    assert!(bench.session.aside_points().is_some());
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 3_000);
    assert!(!bench.session.run().unwrap().readings().is_empty());
}
