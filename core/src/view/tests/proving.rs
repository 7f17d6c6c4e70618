//! What supports the readings, as the screen tells it.

use super::*;
use crate::job::MeterSpecEntry;
use crate::record::BarState;
use crate::session::tests::bench::{Bench, Face, coil, conditions, spec};
use crate::sweep::plan::{Movement, SweepPlan};
use crate::verdict::words::Language;

fn proving(bench: &Bench) -> ProvingView {
    of(&bench.session, &bench.time()).bench.expect("a job").proving.expect("a part")
}

fn aside(bench: &Bench) -> Option<AsideView> {
    of(&bench.session, &bench.time()).bench.expect("a job").aside
}

/// Leads of 0.20 ohm taken off, every conductor at 0.35 ohm.
fn zeroed_and_measured() -> Bench {
    let mut bench = Bench::measuring();
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    measure_all(&mut bench, 55);
    bench
}

fn measure_all(bench: &mut Bench, hundredths: i32) {
    while bench.session.announced().is_some() {
        bench.clip(hundredths);
    }
}

#[test]
fn the_zero_says_what_it_is_and_what_it_is_not() {
    let mut bench = Bench::measuring();
    let zero = |bench: &Bench| proving(bench).zero;
    assert_eq!(zero(&bench).state, "none");
    assert!(zero(&bench).words.contains("guessed"), "{}", zero(&bench).words);
    bench.done(Command::ZeroLeads);
    bench.hold(Face::Ohm(35), 400);
    let shown = aside(&bench).unwrap();
    assert_eq!((shown.kind, shown.contact.words.as_str()), (AsideKind::Zero, "Take the clips off."));
    bench.hold(Face::Over, 800);
    assert_eq!(aside(&bench).unwrap().contact.words, "Clips on each other: hold still.");
    bench.clip(20);
    assert_eq!(aside(&bench), None);
    assert_eq!(
        (zero(&bench).state.as_str(), zero(&bench).words.contains("Leads 0.20 Ω, taken off. Not checked")),
        ("good", true)
    );
    bench.clip(55);
    bench.done(Command::ZeroLeads);
    bench.clip(40);
    assert_eq!(zero(&bench).state, "open");
    assert!(zero(&bench).words.starts_with("The leads read 0.20 Ω, then 0.40 Ω: too far apart."));
    measure_all(&mut bench, 75);
    assert_eq!(zero(&bench).words, "Leads 0.40 Ω, taken off. Not checked again yet.");
    bench.done(Command::StateConditions { conditions: conditions(true, None) });
    assert_eq!(zero(&bench).words, "The meter subtracts the leads.");
}

#[test]
fn ticks_and_value_of_a_rung_stand_on_one_scale_when_the_leads_are_taken_off() {
    let bench = zeroed_and_measured();
    let measure = of(&bench.session, &bench.time()).bench.unwrap().measure.unwrap();
    for rung in &measure.ladders[0].rungs {
        assert_eq!(rung.value, "0.35 Ω");
        assert!(rung.touches.iter().all(|t| rung.at.unwrap().abs_diff(*t) <= 1), "{rung:?}");
    }
}

#[test]
fn isolation_is_told_with_the_limit_of_the_meter_and_never_as_infinite() {
    let mut bench = Bench::measuring();
    let mut wide = spec("bench meter 2");
    wide.top = "20000000".into();
    bench.done(Command::DescribeMeter { spec: wide });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C9] });
    let rows = proving(&bench).isolation;
    let pairs: Vec<&str> = rows.iter().map(|r| r.pair.as_str()).collect();
    assert_eq!(
        pairs,
        ["1 to 3", "3 to 4", "1 to metal", "3 to metal", "4 to metal"],
        "the inflator's conductor is left out"
    );
    assert!(rows.iter().all(|r| r.line.state == "none" && r.value.is_empty()));
    bench.done(Command::MeasureIsolation { a: 2, other: None });
    bench.hold(Face::Over, 2_000);
    bench.done(Command::TakeOverRange);
    bench.done(Command::MeasureIsolation { a: 3, other: None });
    bench.clip(150_000);
    // A hand has locked the range: nobody can tell where it ends, whatever was entered before.
    bench.done(Command::MeasureIsolation { a: 0, other: None });
    bench.hold(Face::OverLocked, 2_000);
    bench.done(Command::TakeOverRange);
    assert_eq!(proving(&bench).isolation[2].line.state, "open");
    let rows = proving(&bench).isolation;
    assert_eq!((rows[3].value.as_str(), rows[3].line.state.as_str()), ("> 20 MΩ (as entered for the meter)", "good"));
    assert_eq!((rows[4].value.as_str(), rows[4].line.state.as_str()), ("1.5 kΩ", "bad"));
    bench.done(Command::Speak { language: Language::De });
    assert_eq!(proving(&bench).isolation[3].value, "> 20 MΩ (wie für das Messgerät eingetragen)");
}

#[test]
fn a_few_hundredths_across_a_pair_ask_for_a_bar() {
    let mut bench = Bench::measuring();
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C7, Caution::C9] });
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    let bar = |present, opened: &str, restored| BarState { a: 0, b: 2, present, opened: opened.into(), restored };
    let mut told = Vec::new();
    for state in [bar(Some(true), "", false), bar(Some(true), "adapter", false), bar(Some(true), "adapter", true)] {
        bench.done(Command::StateBar { bar: state });
        told.push(proving(&bench).bars[0].line.clone());
    }
    let states: Vec<&str> = told.iter().map(|l| l.state.as_str()).collect();
    assert_eq!(states, ["open", "open", "good"]);
    assert!(told[1].words.contains("adapter") && told[2].words.contains("springs back"));
    bench.done(Command::MeasureIsolation { a: 0, other: Some(2) });
    bench.clip(23);
    let row = &proving(&bench).bars[0];
    assert_eq!(
        (row.pair.as_str(), row.hint.as_str()),
        ("1 to 3", "0.23 Ω across this pair with the plug apart: a shorting bar?")
    );
    let isolation = proving(&bench).isolation;
    assert_eq!(isolation[0].line.state, "open", "a bar is no fault");
    // Restored, the bar is closed: nothing is told about isolation by it.
    assert_eq!(bench.session.job().unwrap().bars_open(), Some(false));
}

#[test]
fn a_calibration_past_its_day_is_said_calmly_and_one_of_today_is_not() {
    let mut bench = Bench::measuring();
    let mut described = spec("bench meter 2");
    for (due, told) in [("2026-02-28", true), ("2026-03-01", false), ("2026-03-02", false)] {
        described.calibration_due = due.into();
        bench.done(Command::DescribeMeter { spec: described.clone() });
        assert_eq!(proving(&bench).calibration.is_some_and(|w| w.contains(due)), told, "{due}");
    }
}

#[test]
fn a_known_resistor_is_told_with_its_figures() {
    for (shown, state) in [(1_003, "good"), (1_035, "bad"), (1_020, "open")] {
        let mut bench = Bench::measuring();
        bench.done(Command::ZeroLeads);
        bench.clip(1);
        bench.done(Command::CheckMeter { resistor: "10.0".into(), tolerance_percent: "1".into() });
        assert_eq!(aside(&bench).unwrap().instruction, "Clip on the 10.0 Ω resistor and hold still.");
        bench.clip(shown);
        let check = proving(&bench).check;
        assert_eq!(check.state, state, "{}", check.words);
        assert!(check.words.contains("10.0 Ω read as") && check.words.contains("allowed"), "{}", check.words);
    }
}

#[test]
fn a_sweep_tells_what_to_do_with_the_part_at_every_moment() {
    let mut bench = Bench::measuring();
    let plan = SweepPlan { movement: Movement::Turns { each_side: 1 }, pace_s: 4 };
    bench.done(Command::Sweep { conductor: 2, plan });
    let shown = aside(&bench).unwrap();
    assert_eq!((shown.title.as_str(), shown.cautions.len()), ("Sweep conductor 3", 1));
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    bench.hold(Face::Over, 800);
    let shown = aside(&bench).unwrap();
    assert_eq!(shown.instruction, "Part at its centre. Clip conductor 3 and leave the clips on.");
    let run = shown.sweep.unwrap();
    assert_eq!((run.state.as_str(), shown.contact.state.as_str()), ("waits", "clip"));
    assert_eq!((run.conductor, run.plan), (2, plan), "what the plan is changed from");
    let mut told = Vec::new();
    while bench.session.run().is_some() {
        bench.show(Face::Ohm(35));
        // How the clips went on is not looked at: it waits for half a second.
        if let Some(run) = aside(&bench).and_then(|a| a.sweep).filter(|run| run.state != "waits") {
            assert!(run.to_tone <= 1_000 && run.mark_key.is_empty() && !run.end_key.is_empty());
            if told.last() != Some(&run.words) {
                told.push(run.words);
            }
        }
    }
    let marks = ["+1 turn", "centre", "−1 turn", "centre"].map(|mark| format!("At the next tone: {mark}."));
    assert_eq!(told[..4], marks);
    assert_eq!(told[4..], ["Hold still. It ends by itself."]);
    let rows = proving(&bench).sweeps;
    assert_eq!((rows[1].line.state.as_str(), rows[1].sweeps.len()), ("good", 1));
    assert_eq!((rows[0].line.state.as_str(), rows[0].line.words.as_str()), ("none", "not swept"));
    assert_eq!(proving(&bench).plan, plan, "the next one begins with the same plan");
}

#[test]
fn old_part_and_limit_stand_beside_each_rung() {
    let mut bench = zeroed_and_measured();
    let old = bench.session.job().unwrap().id;
    bench.done(Command::Judge);
    bench.done(Command::LeaveJob);
    bench.done(Command::MeasureCandidate { old });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C0, Caution::C1, Caution::C13] });
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    measure_all(&mut bench, 58);
    let mut part = coil();
    part.conductors[0].limit = Some(crate::part::PartLimit {
        high: crate::unit::Quantity::new(100, 2, crate::unit::Unit::Ohm),
        low: None,
        temperature: None,
        source: String::new(),
    });
    bench.done(Command::DescribePart { part });
    bench.done(Command::Judge);
    let shown = of(&bench.session, &bench.time()).bench.unwrap();
    let rungs = &shown.verdict.unwrap().ladders[0].rungs;
    assert_eq!((rungs[0].old_value.as_str(), rungs[0].limit_words.as_str()), ("0.35 Ω", "at most 1.00 Ω (shop's own)"));
    assert!(rungs[0].old_at.unwrap() < rungs[0].at.unwrap() && rungs[0].at < rungs[0].limit_at);
    assert_eq!((rungs[1].limit_at, rungs[1].limit_words.as_str()), (None, ""));
    let old = shown.proving.unwrap().old.unwrap();
    assert_eq!(old.name, "4711, Steering coil");
    assert!(old.words.contains("0.35 Ω at an unknown temperature"), "{}", old.words);
    assert_eq!(old.alike, "Not shown to be alike with the old part.", "one conductor was judged by its limit");
}

#[test]
fn a_meter_that_is_read_by_eye_is_known_by_what_was_said_of_it_last() {
    let mut bench = Bench::measuring();
    let shown = |bench: &Bench| of(&bench.session, &bench.time());
    assert_eq!(shown(&bench).meter.typed_spec, MeterSpecEntry::default());
    let mut said = spec("eye meter");
    said.accuracy_percent = "0,80".into();
    bench.done(Command::UseTypedMeter { spec: said.clone() });
    let meter = shown(&bench).meter;
    assert_eq!((meter.code.as_str(), meter.words.as_str()), ("by-eye", "Read by eye, typed by you."));
    let kept = MeterSpecEntry { step: "0.01".into(), accuracy_percent: "0.8".into(), ..said };
    assert_eq!(meter.typed_spec, kept);
    let key = |bench: &Bench| aside(bench).unwrap().contact.over_range_key;
    bench.done(Command::ZeroLeads);
    assert_eq!(key(&bench), "", "leads on each other are never open");
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C9] });
    bench.done(Command::MeasureIsolation { a: 2, other: None });
    assert_eq!(key(&bench), "Highest range, clips on: take over-range", "nobody else knows the range");
}

#[test]
fn a_typed_reading_is_read_back_before_it_is_taken() {
    let mut bench = Bench::measuring();
    bench.done(Command::UseTypedMeter { spec: spec("eye meter") });
    let view = of(&bench.session, &bench.time()).bench.unwrap().measure.unwrap();
    assert!(view.typed && view.instruction.starts_with("Clip conductor 1"), "{}", view.instruction);
    let back = |text: &str, confirmed| read_back(&bench.session, text, confirmed);
    let Reply::ReadBack { key, why: None, ambiguous: false } = back("0,3", false) else { panic!() };
    assert_eq!(key, "Take 0.30 Ω", "as the display shows it");
    let Reply::ReadBack { key, why: Some(why), .. } = back("0.355", false) else { panic!() };
    assert_eq!((key.as_str(), why.code.as_str()), ("", "finer-than-step"));
    let mut fine = spec("eye meter");
    fine.step = "0.001".into();
    bench.done(Command::UseTypedMeter { spec: fine });
    let Reply::ReadBack { key, why: Some(why), ambiguous: true } = read_back(&bench.session, "1,234", false) else {
        panic!()
    };
    assert_eq!((key.as_str(), why.code.as_str()), ("Take 1.234 Ω", "number"));
    let Reply::ReadBack { ambiguous: false, why: None, .. } = read_back(&bench.session, "1,234", true) else {
        panic!()
    };
}

/// Sweeps a conductor one turn to each side; it reads `at` hundredths from the second to the third second.
fn sweep(bench: &mut Bench, conductor: u32, at: Face) {
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    let plan = SweepPlan { movement: Movement::Turns { each_side: 1 }, pace_s: 4 };
    bench.done(Command::Sweep { conductor, plan });
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 2_000);
    bench.hold(at, 1_000);
    while bench.session.run().is_some() {
        bench.show(Face::Ohm(35));
    }
}

#[test]
fn what_a_sweep_found_is_said_before_it_is_judged_again() {
    let mut bench = Bench::measuring();
    measure_all(&mut bench, 35);
    bench.done(Command::Judge);
    let verdict = |bench: &Bench| of(&bench.session, &bench.time()).bench.unwrap().verdict.unwrap();
    assert_eq!((verdict(&bench).since.as_str(), verdict(&bench).before.as_str()), ("", ""));
    sweep(&mut bench, 0, Face::Ohm(35));
    let shown = verdict(&bench);
    assert_eq!(shown.since, "New readings since this verdict.");
    assert_eq!(shown.before, "Judged before: Alike at rest. Not yet proved turning.");
    assert_eq!((shown.action.as_str(), shown.sentences.len()), ("Judge again.", 0));
    assert!(proving(&bench).last.starts_with("Conductor 1: steady while moved."), "{}", proving(&bench).last);
    bench.done(Command::Judge);
    assert_eq!(proving(&bench).last, "", "it is said until the next wish");
    sweep(&mut bench, 2, Face::Ohm(95));
    let shown = verdict(&bench);
    assert_eq!((shown.since.as_str(), shown.before.as_str()), ("Conductor 3 jumps while turning; judge again.", ""));
    let sentence = &shown.ladders[0].sentence;
    assert!(sentence.starts_with("Conductor 3 jumps while turning. 2 of 3 conductors read alike."), "{sentence}");
    assert!(!sentence.contains("Unsteady"), "said once: {sentence}");
    assert!(proving(&bench).last.contains("Jump, +0.60 Ω"), "{}", proving(&bench).last);
    sweep(&mut bench, 3, Face::Over);
    let two = "Conductor 3 jumps while turning; Conductor 4 breaks while turning; judge again.";
    assert_eq!(verdict(&bench).since, two);
    bench.done(Command::Speak { language: Language::De });
    let german = verdict(&bench).since;
    assert_eq!(german, "Leiter 3 springt beim Drehen; Leiter 4 setzt beim Drehen aus; neu urteilen.");
    bench.done(Command::Judge);
    assert_eq!((verdict(&bench).since.as_str(), verdict(&bench).kind), ("", crate::verdict::SetVerdict::Fail));
    bench.done(Command::StateConditions { conditions: conditions(true, Some(21)) });
    assert!(verdict(&bench).since.starts_with("Messgerät oder Werkbank"), "{}", verdict(&bench).since);
}

#[test]
fn the_plan_of_a_sweep_says_from_where_and_which_way() {
    let mut bench = Bench::measuring();
    bench.done(Command::PlanSweep { conductor: 2, plan: SweepPlan::default() });
    let shown = aside(&bench).unwrap();
    assert_eq!((shown.cautions.len(), shown.contact.state.as_str()), (0, "off"), "the caution comes with the clips");
    let run = shown.sweep.unwrap();
    assert_eq!((run.state.as_str(), run.plan_key.as_str(), run.change_key.as_str()), ("plan", "Sweep like this", ""));
    let way = "From the centre 2 turns clockwise, back, 2 turns anticlockwise, and back to the centre.";
    assert_eq!(run.plan_words[..2], [way, "+ is clockwise from the centre, seen from the driver."]);
    assert!(run.plan_words[2].starts_with("Stop a quarter turn short of its end"), "{:?}", run.plan_words);
    let plan = SweepPlan { movement: Movement::Flexes { passes: 3 }, pace_s: 0 };
    bench.done(Command::PlanSweep { conductor: 2, plan });
    let words = aside(&bench).unwrap().sweep.unwrap().plan_words;
    assert_eq!(words, ["3 times from one end to the other and back."]);
    bench.done(Command::Sweep { conductor: 2, plan: SweepPlan::default() });
    let shown = aside(&bench).unwrap();
    assert_eq!((shown.cautions.len(), shown.sweep.unwrap().change_key.as_str()), (1, "Change the plan"));
}

#[test]
fn which_way_to_turn_agrees_with_the_sign_of_the_next_mark() {
    let mut bench = Bench::measuring();
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C8] });
    let plan = SweepPlan { movement: Movement::Turns { each_side: 1 }, pace_s: 0 };
    bench.done(Command::Sweep { conductor: 2, plan });
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 3_000);
    let mut told = Vec::new();
    while let Some(run) = aside(&bench).and_then(|a| a.sweep) {
        told.push((run.next_mark.clone(), run.direction.clone(), run.ends_by_key));
        let wish = if run.mark_key.is_empty() { Command::EndSweep } else { Command::MarkSweep };
        bench.hold(Face::Ohm(35), 3_000);
        bench.done(wish);
    }
    let row = |mark: &str, way: &str, ends| (mark.to_owned(), way.to_owned(), ends);
    let out = [row("+1 turn", "clockwise", false), row("centre", "anticlockwise", false)];
    let back = [row("−1 turn", "anticlockwise", false), row("centre", "clockwise", false), row("", "", true)];
    assert_eq!(told, [&out[..], &back[..]].concat());
}

#[test]
fn a_zero_taken_again_is_said_with_how_far_it_moved() {
    let mut bench = zeroed_and_measured();
    for (again, told) in [(20, "0.20 Ω when checked again, the same."), (18, "moved by −0.02 Ω.")] {
        bench.done(Command::ZeroLeads);
        bench.clip(again);
        assert!(proving(&bench).last.ends_with(told), "{}", proving(&bench).last);
    }
    let last = |bench: &Bench| proving(bench).last;
    bench.done(Command::CheckMeter { resistor: "10.0".into(), tolerance_percent: "1".into() });
    bench.clip(1_013);
    assert!(last(&bench).contains("10.0 Ω read as 10.13 Ω, less 0.20 Ω of the leads: −0.07 Ω off"), "{}", last(&bench));
}

#[test]
fn a_candidate_is_told_to_zero_the_leads_first() {
    let mut bench = Bench::measuring();
    measure_all(&mut bench, 55);
    let old = bench.session.job().unwrap().id;
    bench.done(Command::Judge);
    bench.done(Command::LeaveJob);
    bench.done(Command::MeasureCandidate { old });
    bench.done(Command::AcceptCautions { cautions: vec![Caution::C0, Caution::C1, Caution::C13] });
    let zero_first = |bench: &Bench| of(&bench.session, &bench.time()).bench.unwrap().measure.unwrap().zero_first;
    assert!(zero_first(&bench).starts_with("Zero the leads first"), "{}", zero_first(&bench));
    bench.done(Command::ZeroLeads);
    bench.clip(20);
    assert_eq!(zero_first(&bench), "");
    let line = job_line(&bench.session.job().unwrap().line(&crate::record::Details::default()), Language::De);
    assert_eq!((line.order.as_str(), line.candidate.as_str()), ("Candidate for 4711", "Ersatz für 4711"));
}
