//! One thing at a time, each as it happens at the bench.

use super::bench::*;
use crate::job::{Command, MeterSpecEntry, Refusal};
use crate::meter::link::{LinkEvent, LinkState, RefusedWhy, Source};
use crate::part::AtEnd;
use crate::record::{Body, Clock, Details, MAX_FIELD};
use crate::session::{Input, Signal};
use crate::unit::{Quantity, Unit};
use crate::verdict::SetVerdict;
use uuid::Uuid;

fn too_long(field: &str) -> Option<Refusal> {
    Some(Refusal::TooLong { field: field.into() })
}

fn number(field: &str, ambiguous: bool) -> Option<Refusal> {
    Some(Refusal::Number { field: field.into(), ambiguous })
}

#[test]
fn a_touch_that_was_taken_since_is_not_taken_back_in_place_of_the_one_that_was_shown() {
    let mut bench = Bench::measuring();
    bench.clip(35);
    let shown = bench.session.may_undo().unwrap().touch;
    bench.clip(36);
    assert_eq!(bench.wish(Command::UndoTouch { touch: shown }), Some(Refusal::NewerTouch));
    assert_eq!(bench.session.job().unwrap().standing(0).count(), 2, "nothing was taken back");
    let newest = bench.session.may_undo().unwrap().touch;
    assert_ne!(newest, shown);
    bench.done(Command::UndoTouch { touch: newest });
    assert_eq!(bench.wish(Command::UndoTouch { touch: newest }), Some(Refusal::NewerTouch), "pressed twice");
    assert_eq!(bench.session.job().unwrap().standing(0).count(), 1, "the one before stays");
    bench.done(Command::UndoTouch { touch: shown });
    assert_eq!(bench.session.job().unwrap().standing(0).count(), 0);
    assert!(bench.session.may_undo().is_none());
    assert_eq!(bench.wish(Command::UndoTouch { touch: shown }), Some(Refusal::NothingToUndo));
}

#[test]
fn a_whole_job_from_order_to_closing() {
    let mut bench = Bench::measuring();
    while let Some((conductor, (from, to))) = bench.session.announced() {
        assert_eq!((from.connector(), to.connector()), (0, 1));
        // The third one is worn.
        bench.clip(if conductor == 2 { 1_185 } else { 35 });
    }
    assert_eq!(bench.touches().iter().map(|t| t.conductor).collect::<Vec<_>>(), [0, 0, 2, 2, 3, 3]);
    assert_eq!(bench.signals, [Signal::Taken; 6]);
    bench.done(Command::Judge);
    let verdict = bench.session.job().unwrap().verdict.clone().unwrap();
    assert_eq!(verdict.judgement.set, SetVerdict::Fail);
    assert_eq!(verdict.judgement.action_conductor, Some(2));
    assert_eq!(verdict.sequence, bench.session.head().sequence);
    bench.done(Command::Finish);
    assert_eq!(bench.wish(Command::UndoTouch { touch: Uuid::nil() }), Some(Refusal::Finished));
    assert_eq!(bench.wish(Command::Judge), Some(Refusal::Finished));
    bench.check_nothing_is_lost();
}

#[test]
fn fields_of_a_job_are_bounded() {
    let mut bench = Bench::new();
    let job = |order: &str, vehicle: &str, details: Details| Command::NewJob {
        order: order.into(),
        vehicle: vehicle.into(),
        details,
    };
    let none = Details::default;
    assert_eq!(bench.wish(job("  ", "", none())), Some(Refusal::OrderMissing));
    assert_eq!(bench.wish(job(&"ü".repeat(81), "", none())), too_long("order"));
    assert_eq!(bench.wish(job("1", &"ü".repeat(81), none())), too_long("vehicle"));
    let long = Details { plate: "x".repeat(MAX_FIELD + 1), ..none() };
    assert_eq!(bench.wish(job("1", "", long)), too_long("plate"));
    let full = Details { complaint: "x".repeat(MAX_FIELD), ..none() };
    assert_eq!(bench.wish(job(&format!(" {} ", "ü".repeat(80)), &"v".repeat(80), full)), None);
    assert_eq!(bench.session.job().unwrap().order, "ü".repeat(80));
    assert_eq!(bench.wish(job("2", "", none())), Some(Refusal::BenchTaken));
    assert_eq!(bench.wish(Command::OpenJob { job: uuid::Uuid::nil() }), Some(Refusal::NoSuchJob));
}

#[test]
fn a_touch_over_the_end_of_a_chunk_names_both_chunks() {
    let mut bench = Bench::measuring();
    // The first chunk is full in the middle of the second the touch rests on.
    (0..crate::record::chunk::MOST - 6).for_each(|_| bench.show(Face::Over));
    bench.hold(Face::Ohm(35), 2_200);
    let [touch] = &bench.touches()[..] else { panic!("one touch") };
    assert_eq!(touch.chunks.len(), 2);
    bench.check_nothing_is_lost();
}

#[test]
fn clips_on_one_conductor_are_never_taken_for_the_one_chosen_meanwhile() {
    let mut bench = Bench::measuring();
    bench.hold(Face::Over, 800);
    bench.hold(Face::Ohm(35), 1_000);
    bench.done(Command::ChooseConductor { conductor: 3 });
    bench.hold(Face::Ohm(35), 6_000);
    assert_eq!(bench.touches(), [], "the clips are still where they were");
    bench.clip(36);
    assert_eq!(bench.touches().iter().map(|t| t.conductor).collect::<Vec<_>>(), [3]);
}

/// A wish for another conductor overtakes two seconds of readings that are still in the queue. Gives when it was told.
fn overtaken(bench: &mut Bench) -> u64 {
    bench.hold(Face::Over, 800);
    let arrived = bench.now;
    bench.now += 2_000;
    bench.done(Command::ChooseConductor { conductor: 3 });
    let told = bench.now;
    for nth in 1..=9 {
        bench.now = arrived + nth * PERIOD;
        bench.show_late(Face::Ohm(35), told + nth - bench.now);
    }
    told
}

#[test]
fn readings_that_waited_while_something_else_was_announced_do_not_count_for_it() {
    let mut bench = Bench::measuring();
    overtaken(&mut bench);
    assert_eq!(bench.touches(), []);
}

#[test]
fn a_contact_that_waited_in_the_queue_has_to_come_off_before_the_next_one_counts() {
    let mut bench = Bench::measuring();
    // The clips went on the conductor asked for then.
    let told = overtaken(&mut bench);
    bench.now = told + PERIOD;
    bench.hold(Face::Ohm(35), 6_000);
    assert_eq!(bench.touches(), [], "the clips are still where they were");
    bench.clip(36);
    assert_eq!(bench.touches().iter().map(|t| t.conductor).collect::<Vec<_>>(), [3]);
}

#[test]
fn readings_that_are_looked_at_too_late_are_not_taken_and_not_shown_as_taken() {
    let mut bench = Bench::measuring();
    bench.hold(Face::Over, 800);
    let arrived = bench.now;
    for nth in 1..=10 {
        bench.now = arrived + nth * PERIOD;
        bench.show_late(Face::Ohm(35), 30_000);
    }
    assert_eq!(bench.touches(), []);
    assert!(!bench.session.settler().unwrap().still_on_taken());
    assert!(bench.signals.contains(&Signal::Stop), "somebody not looking hears it");
}

#[test]
fn a_contact_before_the_meter_is_in_use_is_not_called_taken() {
    let mut bench = Bench::measuring();
    bench.connect(Source::Practice, None);
    bench.clip(35);
    assert_eq!(bench.touches(), []);
    assert!(!bench.session.settler().unwrap().still_on_taken());
    bench.done(Command::DescribeMeter { spec: spec("bench meter 2") });
    bench.hold(Face::Ohm(35), 4_000);
    assert_eq!(bench.touches(), [], "it has to be clipped again");
}

#[test]
fn part_described_anew_forgets_which_conductor_was_chosen() {
    let mut bench = Bench::measuring();
    bench.done(Command::ChooseConductor { conductor: 3 });
    let mut short = coil();
    short.conductors.truncate(3);
    bench.done(Command::DescribePart { part: short });
    assert_eq!(bench.session.announced().map(|(c, _)| c), Some(0));
    bench.done(Command::ChooseConductor { conductor: 2 });
    let mut drawn = coil();
    drawn.conductors[2] = conductor(2, AtEnd::Inflator);
    bench.done(Command::DescribePart { part: drawn });
    assert_eq!(bench.session.announced().map(|(c, _)| c), Some(0));
    let inflator = Refusal::End { why: crate::part::EndRefused::Inflator };
    assert_eq!(bench.wish(Command::ChooseConductor { conductor: 2 }), Some(inflator));
    assert_eq!(bench.wish(Command::ChooseConductor { conductor: 9 }), Some(Refusal::NoSuchConductor));
}

#[test]
fn over_range_waits_for_the_key_and_for_a_range_that_can_tell() {
    let mut bench = Bench::measuring();
    bench.hold(Face::Over, 30_000);
    assert_eq!(bench.touches(), [], "clips in the air look the same");
    assert_eq!(bench.session.may_take_over_range(&bench.time()), Ok(()));
    bench.now += 5_000;
    assert_eq!(bench.wish(Command::TakeOverRange), Some(Refusal::Stale));
    bench.hold(Face::Over, 400);
    assert_eq!(bench.wish(Command::TakeOverRange), Some(Refusal::NotOverRange));
    bench.hold(Face::Over, 1_600);
    bench.done(Command::TakeOverRange);
    assert_eq!(bench.wish(Command::TakeOverRange), Some(Refusal::NotOverRange), "one press, one touch");
    bench.done(Command::DescribeMeter { spec: MeterSpecEntry { top: "600".into(), ..spec("bench meter 2") } });
    bench.hold(Face::Over, 2_000);
    assert_eq!(bench.wish(Command::TakeOverRange), Some(Refusal::AboveRange));
}

#[test]
fn readings_of_two_meters_are_not_judged_together() {
    let mut bench = Bench::measuring();
    bench.clip(35);
    bench.clip(35);
    bench.done(Command::DescribeMeter {
        spec: MeterSpecEntry { accuracy_percent: "1,5".into(), ..spec("bench meter 2") },
    });
    assert_eq!(bench.session.job().unwrap().standing(0).count(), 2, "the same meter, better described");
    bench.done(Command::DescribeMeter { spec: spec("spare") });
    let job = bench.session.job().unwrap();
    assert_eq!(job.standing(0).count(), 0);
    assert_eq!(job.touches.len(), 2, "they stay in the record");
    assert_eq!(bench.session.announced().map(|(c, _)| c), Some(0));
    assert_eq!(bench.wish(Command::Judge), Some(Refusal::NothingMeasured));
}

#[test]
fn a_replay_is_never_taken_for_the_real_meter_of_the_same_serial_number() {
    let mut bench = Bench::measuring();
    bench.connect(Source::Radio, Some("SN 1"));
    bench.done(Command::DescribeMeter { spec: spec("") });
    assert!(bench.session.meter_is_of_job());
    bench.connect(Source::Radio, Some("SN 1"));
    assert!(bench.session.meter_is_of_job(), "known by its serial number");
    bench.connect(Source::Replay, Some("SN 1"));
    assert!(!bench.session.meter_is_of_job());
    bench.clip(35);
    assert_eq!(bench.touches(), []);
    bench.done(Command::DescribeMeter { spec: spec("") });
    assert_eq!(bench.session.job().unwrap().instrument.as_ref().unwrap().source, Source::Replay);
}

#[test]
fn another_instrument_behind_the_same_handle_has_to_be_named_anew() {
    let mut bench = Bench::measuring();
    bench.connect(Source::Radio, Some("SN 1"));
    bench.done(Command::DescribeMeter { spec: spec("") });
    bench.lose();
    bench.reach(Source::Radio, Some("SN 2"));
    assert!(!bench.session.meter_is_of_job());
    bench.lose();
    bench.reach(Source::Radio, Some("SN 1"));
    assert!(bench.session.meter_is_of_job());
}

#[test]
fn what_the_meter_fills_in_may_be_left_as_it_is() {
    let mut bench = Bench::measuring();
    bench.connect(Source::Radio, Some("SN 1"));
    bench.show(Face::Ohm(35));
    let filled = bench.session.meter(&bench.time()).spec;
    assert_eq!((filled.step.as_str(), filled.top.as_str()), ("0.01", "20000000"));
    assert_eq!((filled.accuracy_percent.as_str(), filled.accuracy_counts.as_str()), ("0.5", "2"));
    // Pressed before the fields were filled in, the key takes what the meter has told by then.
    bench.done(Command::DescribeMeter { spec: MeterSpecEntry::default() });
    bench.done(Command::DescribeMeter { spec: filled.clone() });
    // Three places after the point are a riddle when typed, and none when they were filled in.
    let typed = MeterSpecEntry { accuracy_percent: "1,125".into(), ..filled.clone() };
    assert_eq!(bench.wish(Command::DescribeMeter { spec: typed }), number("accuracy_percent", true));
    let typed = MeterSpecEntry { accuracy_percent: "1,1250".into(), ..filled };
    bench.done(Command::DescribeMeter { spec: typed });
    let again = bench.session.meter(&bench.time()).spec;
    assert_eq!(again.accuracy_percent, "1.125");
    bench.done(Command::DescribeMeter { spec: again });
    assert_eq!(bench.session.job().unwrap().instrument.as_ref().unwrap().accuracy_milli_percent, 1_125);
}

#[test]
fn a_meter_is_described_within_limits() {
    let mut bench = Bench::measuring();
    let mut with = |change: fn(&mut MeterSpecEntry)| {
        let mut entry = spec("bench meter 2");
        change(&mut entry);
        bench.wish(Command::DescribeMeter { spec: entry })
    };
    assert_eq!(with(|e| e.step = "0".into()), number("step", false));
    assert_eq!(with(|e| e.step = "-0,01".into()), number("step", false));
    assert_eq!(with(|e| e.step = "fine".into()), number("step", false));
    assert_eq!(with(|e| e.step = String::new()), None, "what was known of it stays");
    assert_eq!(with(|e| e.label = " ".into()), Some(Refusal::MeterUnknown));
    assert_eq!(with(|e| e.label = "x".repeat(61)), too_long("label"));
    assert_eq!(with(|e| e.top = "1.000".into()), number("top", true));
    assert_eq!(with(|e| e.accuracy_percent = "100,01".into()), number("accuracy_percent", false));
    assert_eq!(with(|e| e.accuracy_percent = "-1".into()), number("accuracy_percent", false));
    assert_eq!(with(|e| e.accuracy_percent = "0.00055".into()), number("accuracy_percent", false));
    assert_eq!(with(|e| e.accuracy_counts = "2.5".into()), number("accuracy_counts", false));
    assert_eq!(with(|e| e.accuracy_counts = "10001".into()), number("accuracy_counts", false));
    assert_eq!(with(|e| e.step = "0,001".into()), None);
}

#[test]
fn a_temperature_is_one_of_a_bench_in_celsius() {
    let mut bench = Bench::measuring();
    let mut at = |digits, unit| {
        let temperature = Quantity::new(digits, 1, unit);
        let conditions = crate::record::Conditions { temperature, ..conditions(true, None) };
        bench.wish(Command::StateConditions { conditions })
    };
    let refused = number("temperature", false);
    assert_eq!(at(215, Unit::Celsius), None);
    assert_eq!((at(-400, Unit::Celsius), at(850, Unit::Celsius)), (None, None));
    assert_eq!((at(-401, Unit::Celsius), at(851, Unit::Celsius)), (refused.clone(), refused.clone()));
    assert_eq!((at(215, Unit::Volt), at(i64::MAX, Unit::Ohm)), (refused.clone(), refused));
}

#[test]
fn why_a_meter_was_let_go_stays_on_the_screen() {
    let mut bench = Bench::measuring();
    let mut useless = offer(None);
    useless.channels.clear();
    bench.link(Source::Radio, LinkEvent::Connected { generation: 77, offer: useless });
    bench.link(Source::Radio, LinkEvent::State(LinkState::Idle));
    let link = bench.session.meter(&bench.time()).link;
    assert_eq!(link, LinkState::Refused { why: RefusedWhy::NoReadableValue });
    bench.done(Command::DisconnectMeter);
    assert_ne!(bench.session.meter(&bench.time()).link, link);
}

#[test]
fn two_jobs_never_mix() {
    let mut bench = Bench::measuring();
    let first = bench.session.job().unwrap().id;
    bench.clip(35);
    bench.hold(Face::Over, 600);
    bench.done(Command::LeaveJob);
    bench.hold(Face::Ohm(77), 1_000);
    bench.done(new_job("other"));
    let second = bench.session.job().unwrap().id;
    bench.hold(Face::Ohm(78), 1_000);
    bench.done(Command::OpenJob { job: first });
    bench.hold(Face::Ohm(79), 4_000);
    assert_eq!(bench.touches().len(), 1, "the clips were on before the job was");
    bench.clip(36);
    bench.done(Command::OpenJob { job: second });
    assert!(bench.session.job().unwrap().touches.is_empty());
    bench.check_nothing_is_lost();
    let jobs: std::collections::BTreeSet<_> = bench.chunks.values().map(|c| c.job).collect();
    assert_eq!(jobs, [None, Some(first), Some(second)].into());
}

#[test]
fn an_entry_from_tomorrow_marks_its_job_and_stays_where_it_is() {
    let bench = Bench::measuring();
    let job = bench.session.job().unwrap().id;
    let mut head = bench.session.head().clone();
    let draft = crate::record::Draft {
        id: uuid::Uuid::nil(),
        job: Some(job),
        kind: "torque-noted".into(),
        version: 3,
        elapsed_ms: crate::unit::Millis(1),
        wall: bench.time().wall,
        clock: Clock::Ok,
        body: Body::from(&serde_json::json!({ "torque": "50" })),
    };
    let mut entries = bench.of_job(job);
    entries.push(head.seal(uuid::Uuid::nil(), draft));
    assert!(!bench.session.job().unwrap().newer_entries);
    let loaded = crate::job::Job::from_entries(&entries).unwrap();
    assert!(loaded.newer_entries);
    let known = bench.session.job().unwrap();
    assert_eq!(loaded.entries.len(), known.entries.len() + 1, "it is signed with the others");
    assert_eq!(crate::job::Job { newer_entries: false, entries: known.entries.clone(), ..loaded }, *known);
}

#[test]
fn a_wall_clock_that_moves_is_noted_and_orders_nothing() {
    let mut bench = Bench::new();
    bench.done(new_job("4711"));
    let mut at = |wall: &str| {
        let now = crate::unit::Now { wall: crate::unit::Stamp::parse(wall).unwrap(), ..bench.time() };
        let outputs = bench
            .session
            .handle(Input::Wish(Command::AcceptCautions { cautions: vec![crate::caution::Caution::C0] }), &now);
        let crate::session::Output::Append(batch) = &outputs[0] else { panic!("{outputs:?}") };
        batch.entries[0].entry().clock
    };
    assert_eq!(at("2026-03-01T08:00:14Z"), Clock::Ok);
    assert_eq!(at("2026-03-01T08:00:17Z"), Clock::Jumped);
    assert_eq!(at("2036-03-01T08:00:10Z"), Clock::Jumped);
    assert_eq!(at("1970-01-01T00:00:00Z"), Clock::Unset);
}
