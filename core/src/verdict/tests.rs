//! The verdict on parts of an invented bench.

mod facts;
mod invariants;
mod lines;
mod spoken;
mod three_meters;

use super::*;
use crate::sweep::cases as sweep_cases;
use crate::sweep::numbers::six_places;
use serde_json::Value;

const PUBLIC: &str = include_str!("../../../tests/data/cases-public.jsonl");

/// Where an answer differs from what is expected: numbers to 1e-6, codes and reasons as sets, nulls too.
fn differences(path: &str, want: &Value, got: &Value, out: &mut Vec<String>) {
    match (want, got) {
        (Value::Object(w), Value::Object(g)) => {
            for (key, value) in w {
                match g.get(key) {
                    Some(found) => differences(&format!("{path}.{key}"), value, found, out),
                    None => out.push(format!("{path}.{key}: missing")),
                }
            }
        }
        (Value::Array(w), Value::Array(g)) if path.ends_with("codes") || path.ends_with("reasons") => {
            let set = |list: &[Value]| list.iter().map(Value::to_string).collect::<std::collections::BTreeSet<_>>();
            if set(w) != set(g) {
                out.push(format!("{path}: want {want} got {got}"));
            }
        }
        (Value::Array(w), Value::Array(g)) => {
            if w.len() != g.len() {
                out.push(format!("{path}: want {want} got {got}"));
            }
            for (i, (w, g)) in w.iter().zip(g).enumerate() {
                differences(&format!("{path}[{i}]"), w, g, out);
            }
        }
        (Value::Number(w), Value::Number(g)) => {
            let (w, g) = (w.as_f64().unwrap(), g.as_f64().unwrap());
            if (w - g).abs() > 1.000_001e-6 {
                out.push(format!("{path}: want {w} got {g}"));
            }
        }
        _ if want == got => {}
        _ => out.push(format!("{path}: want {want} got {got}")),
    }
}

#[test]
fn the_public_cases_agree_in_every_field() {
    let (mut verdicts, mut sweeps, mut wrong) = (0, 0, Vec::new());
    for line in PUBLIC.lines() {
        let case: Value = serde_json::from_str(line).unwrap();
        let answer = match (cases::judge_line(line).unwrap(), sweep_cases::judge_line(line).unwrap()) {
            (Some(answer), None) => {
                verdicts += 1;
                answer
            }
            (None, Some(answer)) => {
                sweeps += 1;
                answer
            }
            other => panic!("{}: judged by none or both: {other:?}", case["id"]),
        };
        let answer: Value = serde_json::from_str(&answer).unwrap();
        assert_eq!(answer["id"], case["id"]);
        differences(case["id"].as_str().unwrap(), &case["expect"], &answer, &mut wrong);
    }
    assert_eq!(wrong, Vec::<String>::new());
    assert_eq!((verdicts, sweeps), (53, 9));
}

/// A conductor of group "a" with two touches at the same value, each of three samples.
fn reads(ohms: f64) -> ConductorReadings {
    touched(&[ohms, ohms])
}

/// A conductor of group "a" with one touch for each value.
fn touched(ohms: &[f64]) -> ConductorReadings {
    let touches = ohms.iter().map(|x| vec![Sample::Value(*x); 3]).collect();
    ConductorReadings { group: Some("a".into()), touches, ..Default::default() }
}

/// A conductor that is over-range in two touches.
fn open() -> ConductorReadings {
    ConductorReadings { group: Some("a".into()), touches: vec![vec![Sample::OverRange; 3]; 2], ..Default::default() }
}

/// Zeroed leads, and nothing else known.
fn part(conductors: Vec<ConductorReadings>) -> PartReadings {
    PartReadings { conductors, leads: Leads { zeroed: true, ..Default::default() }, ..Default::default() }
}

fn part_of(ohms: &[f64]) -> PartReadings {
    part(ohms.iter().map(|x| reads(*x)).collect())
}

fn undeclared(mut part: PartReadings) -> PartReadings {
    part.conductors.iter_mut().for_each(|c| c.group = None);
    part
}

fn judged(part: &PartReadings, step: f64) -> Verdict {
    judge(part, &MeterSpec::handheld(step), &Rules::at_the_bench())
}

fn states(verdict: &Verdict) -> Vec<ConductorState> {
    verdict.conductors.iter().map(|c| c.state).collect()
}

fn doing(code: ActionCode, conductor: Option<usize>) -> NextAction {
    NextAction { code, conductor }
}

use ConductorState::{Consistent, High, Low, Open, Undecided, Unstable};

/// Common practice in the trade, no source: the odd one out of a coil is condemned, the even coil is not.
#[test]
fn the_fourth_of_four_is_condemned_and_five_alike_pass() {
    let verdict = judged(&part_of(&[0.3, 0.4, 0.3, 12.0]), 0.1);
    assert_eq!(verdict.set, SetVerdict::Fail);
    assert_eq!(states(&verdict), [Consistent, Consistent, Consistent, High]);
    assert_eq!(verdict.action, doing(ActionCode::Replace, Some(3)));

    let verdict = judged(&part_of(&[0.3, 0.4, 0.3, 0.3, 0.3]), 0.1);
    assert_eq!(verdict.set, SetVerdict::Pass);
    assert!(!verdict.swept_steady);
    assert_eq!(verdict.action, doing(ActionCode::Sweep, None));
}

#[test]
fn swept_steady_throughout_there_is_nothing_left_to_do() {
    let mut coil = part_of(&[0.31, 0.32, 0.31]);
    coil.conductors.iter_mut().for_each(|c| c.sweep = Some(SweepVerdict::Steady));
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.set, verdict.swept_steady), (SetVerdict::Pass, true));
    assert_eq!(verdict.action, doing(ActionCode::Done, None));
    // A poor sweep is neither a fault nor a proof.
    coil.conductors[1].sweep = Some(SweepVerdict::TooShort);
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.set, verdict.swept_steady), (SetVerdict::Pass, false));
    assert_eq!(verdict.action, doing(ActionCode::Sweep, None));
}

#[test]
fn a_sweep_fault_condemns_what_reads_well_and_what_was_not_read_at_all() {
    let mut coil = part(vec![reads(0.3), reads(0.3), reads(0.3), touched(&[])]);
    coil.conductors[3].sweep = Some(SweepVerdict::Jump);
    let verdict = judged(&coil, 0.01);
    assert_eq!(verdict.conductors[3].state, Unstable);
    assert_eq!(verdict.conductors[3].codes, BTreeSet::from([Code::SweepFault]));
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Fail, doing(ActionCode::Replace, Some(3))));
}

#[test]
fn once_open_asks_for_a_second_touch_and_twice_open_condemns() {
    let mut coil = part(vec![reads(0.3), reads(0.3), reads(0.3), open()]);
    assert_eq!(judged(&coil, 0.01).set, SetVerdict::Fail);
    coil.conductors[3].touches.truncate(1);
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Undecided, doing(ActionCode::TouchAgain, Some(3))));
    assert_eq!(verdict.conductors[3].provisional, Some(Open));
}

#[test]
fn one_over_range_sample_unsettles_a_touch_and_no_reading_is_no_touch() {
    let mut coil = part_of(&[0.3, 0.3, 0.3]);
    coil.conductors[2].touches[1][1] = Sample::OverRange;
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.conductors[2].state, verdict.conductors[2].touches), (Undecided, 2));
    assert!(verdict.conductors[2].codes.contains(&Code::TouchesDisagree));

    coil.conductors[2].touches = vec![vec![Sample::Value(f64::NAN)], vec![Sample::Value(f64::NEG_INFINITY)], vec![]];
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.conductors[2].state, verdict.conductors[2].touches), (Undecided, 0));
    assert_eq!(verdict.action, doing(ActionCode::Measure, Some(2)));
}

/// Settling allows two digits, 0.10 ohm and 2 %: 0.02 + 0.10 + 0.0060 at 0.30 on a 0.01 display.
#[test]
fn a_touch_that_does_not_stand_still_is_no_value() {
    let mut coil = part_of(&[0.3, 0.3, 0.3]);
    coil.conductors[2].touches[0] = vec![Sample::Value(0.30), Sample::Value(0.30), Sample::Value(0.426)];
    assert_eq!(judged(&coil, 0.01).conductors[2].state, Consistent);
    coil.conductors[2].touches[0][2] = Sample::Value(0.427);
    assert_eq!(judged(&coil, 0.01).conductors[2].state, Undecided);
}

#[test]
fn three_agreeing_touches_outvote_one_and_a_steady_sweep_any_number() {
    let mut coil = part(vec![reads(0.3), reads(0.3), reads(0.3), touched(&[0.3, 0.3, 0.3, 5.0])]);
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.conductors[3].state, verdict.set), (Consistent, SetVerdict::Undecided));
    assert_eq!(verdict.action, doing(ActionCode::Sweep, Some(3)));
    coil.conductors[3] = touched(&[0.3, 0.3, 0.3, 5.0, 8.0]);
    assert_eq!(judged(&coil, 0.01).conductors[3].state, Unstable);
    coil.conductors[3].sweep = Some(SweepVerdict::Steady);
    assert_eq!(judged(&coil, 0.01).conductors[3].state, Consistent);
}

#[test]
fn touches_that_scatter_widen_the_uncertainty_of_all() {
    let calm = judged(&part_of(&[0.3, 0.3, 0.3]), 0.01);
    assert_eq!(calm.touch_u, 0.03, "what is usual, however calm");
    let restless = part(vec![touched(&[0.25, 0.35]), touched(&[0.25, 0.35]), touched(&[0.25, 0.35])]);
    // Three pairs, each with squares 2 x 0.05^2, three degrees of freedom: s^2 = 0.005.
    assert_eq!(six_places(judged(&restless, 0.01).touch_u), 0.070_711);
    let two_pairs = part(vec![touched(&[0.25, 0.35]), touched(&[0.25, 0.35]), touched(&[0.3])]);
    assert_eq!(judged(&two_pairs, 0.01).touch_u, 0.03, "two degrees of freedom are too few to go by");
}

#[test]
fn a_lead_reading_is_taken_off_and_its_drift_is_counted() {
    let mut coil = part_of(&[0.51, 0.52, 0.50, 0.52]);
    coil.leads = Leads { zeroed: false, zero: Some(0.18), zero_end: Some(0.24) };
    let verdict = judged(&coil, 0.01);
    assert_eq!(verdict.conductors[0].value.map(six_places), Some(0.33));
    // u_i^2 = 0.01^2/12 + 0.03^2/2 + 0.06^2/3 = 0.001658333; u_ref^2 is a quarter of it.
    assert_eq!(verdict.groups["a"].u_ref.map(six_places), Some(six_places((0.001_658_333_333_f64 / 4.0).sqrt())));
    coil.leads.zeroed = true;
    assert_eq!(judged(&coil, 0.01).conductors[0].value.map(six_places), Some(0.51), "zeroed: already off");
}

/// 0.3 ohm at 20 degrees is 0.3 x 1.0786 = 0.32358 at 40; u^2 = 0.02^2 + (0.00393 x 2 x 0.32358)^2.
#[test]
fn a_known_good_level_is_warmed_to_the_part() {
    let mut coil = part_of(&[0.32, 0.33]);
    coil.temperature = Some(40.0);
    let known = KnownGoodLevel { value: 0.3, u: 0.02, t: Some(20.0), same_meter: true };
    coil.known_good = Some(KnownGood::Everywhere(known));
    let group = &judged(&coil, 0.01).groups["a"];
    assert_eq!((group.kind, group.level), (GroupKind::KnownGood, Level::Verified));
    assert_eq!(group.reference.map(six_places), Some(0.323_58));
    assert_eq!(group.u_ref.map(six_places), Some(0.020_161));
    // Another meter adds (0.008 x 0.32358 + 3 x 0.01)^2 / 3; an unknown temperature leaves 0.3 and 6 K.
    coil.known_good = Some(KnownGood::Everywhere(KnownGoodLevel { same_meter: false, ..known }));
    assert_eq!(judged(&coil, 0.01).groups["a"].u_ref.map(six_places), Some(0.027_577));
    coil.known_good = Some(KnownGood::Everywhere(KnownGoodLevel { t: None, ..known }));
    assert_eq!(judged(&coil, 0.01).groups["a"].reference.map(six_places), Some(0.3));
}

#[test]
fn a_known_good_level_is_for_its_group_only() {
    let mut coil = part_of(&[0.9, 0.9, 0.9, 0.9]);
    coil.conductors[2].group = Some("b".into());
    coil.conductors[3].group = Some("b".into());
    let known = KnownGoodLevel { value: 0.3, u: 0.02, t: None, same_meter: true };
    coil.known_good = Some(KnownGood::ByGroup(BTreeMap::from([("b".to_owned(), known)])));
    let verdict = judged(&coil, 0.01);
    assert_eq!(states(&verdict), [Consistent, Consistent, High, High]);
    assert_eq!(verdict.conductors[0].basis, Some(Basis::Group));
    assert_eq!(verdict.conductors[2].basis, Some(Basis::KnownGood));
}

#[test]
fn the_old_part_teaches_what_the_candidate_should_read() {
    let mut old = part_of(&[0.30, 0.32, 0.31, 4.0, 0.70]);
    old.conductors[4].group = Some("b".into());
    old.temperature = Some(20.0);
    let known = known_good_from(&old, &MeterSpec::handheld(0.01), &Rules::default());
    let KnownGood::ByGroup(levels) = &known else { panic!("{known:?}") };
    assert_eq!(levels.keys().collect::<Vec<_>>(), ["a"], "one conductor alone teaches nothing");
    assert_eq!(six_places(levels["a"].value), 0.31);
    // u^2 = max(S^2 = 0.0001, 0.03^2 + 0.01^2/12 = 0.000908333) / 3.
    assert_eq!(six_places(levels["a"].u), 0.017_401);
    let mut candidate = part_of(&[0.9, 0.9, 0.9]);
    candidate.known_good = Some(known);
    assert_eq!(states(&judged(&candidate, 0.01)), [High, High, High], "alike, but not like the old one");

    old.leads = Leads::default();
    let KnownGood::ByGroup(levels) = known_good_from(&old, &MeterSpec::handheld(0.01), &Rules::default()) else {
        panic!()
    };
    assert_eq!(six_places(levels["a"].value), 0.11, "leads nobody zeroed are taken off as guessed");
}

#[test]
fn of_equally_many_the_lower_level_is_sound_when_no_bar_and_no_width_explains_it() {
    let verdict = judged(&part_of(&[0.3, 0.3, 3.0, 3.0]), 0.01);
    assert_eq!(states(&verdict), [Consistent, Consistent, High, High]);
    assert_eq!(verdict.groups["a"].lower, [0, 1]);
    // The same undeclared: 0.1 is a width that occurs.
    let verdict = judged(&undeclared(part_of(&[0.3, 0.3, 3.0, 3.0])), 0.01);
    assert_eq!(states(&verdict), [Undecided; 4]);
    assert_eq!(verdict.action, doing(ActionCode::SetGroups, Some(0)));
}

#[test]
fn a_smaller_upper_level_is_ambiguous_only_where_nobody_said_who_belongs_together() {
    let mixed = part_of(&[0.3, 0.3, 0.3, 1.4, 1.4]);
    let verdict = judged(&mixed, 0.01);
    assert_eq!(states(&verdict), [Consistent, Consistent, Consistent, High, High]);
    let verdict = judged(&undeclared(mixed), 0.01);
    assert_eq!((verdict.set, verdict.groups[""].kind), (SetVerdict::Undecided, GroupKind::Ambiguous));
    assert_eq!(verdict.groups[""].members, [0, 1, 2]);
    // Below 0.09 no width explains it.
    let verdict = judged(&undeclared(part_of(&[0.1, 0.1, 0.1, 1.4, 1.4])), 0.01);
    assert_eq!(verdict.set, SetVerdict::Fail);
}

#[test]
fn a_bridged_pair_asks_for_the_bars_and_a_dead_short_for_its_neighbour() {
    let mut coil = part_of(&[0.72, 1.38, 1.40, 1.37]);
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.conductors[0].state, verdict.set), (Low, SetVerdict::Undecided));
    assert_eq!(verdict.action, doing(ActionCode::OpenBars, Some(0)));
    coil.bars_open = Some(true);
    let verdict = judged(&coil, 0.01);
    assert!(verdict.conductors[0].codes.contains(&Code::Shorted));
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Fail, doing(ActionCode::CheckIsolation, Some(0))));
    // Of two shorted ones in two groups the lowest is named.
    let mut two = part_of(&[0.05, 1.38, 1.40, 0.02, 1.37, 1.38]);
    two.conductors[3..].iter_mut().for_each(|c| c.group = Some("b".into()));
    assert_eq!(judged(&two, 0.01).action, doing(ActionCode::CheckIsolation, Some(3)));
}

#[test]
fn below_zero_nothing_low_condemns_before_the_zero_is_right() {
    let verdict = judged(&part_of(&[-0.30, 0.35, 0.34, 0.35]), 0.01);
    assert_eq!(verdict.conductors[0].state, Low);
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Undecided, doing(ActionCode::ZeroLeads, None)));
    // What is high or open stays bad, but the zero comes first all the same.
    let verdict = judged(&part_of(&[-0.30, 0.35, 0.34, 9.0]), 0.01);
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Fail, doing(ActionCode::ZeroLeads, None)));
}

/// Own limit of 1.00 ohm at 20 degrees, part at unknown temperature: 6 K of 0.00393 on 0.95.
#[test]
fn a_limit_with_a_temperature_counts_that_the_part_has_none() {
    let mut coil = part_of(&[0.95]);
    coil.conductors[0].limit = Some(Limit { high: Some(1.0), low: None, t: Some(20.0) });
    let limit = judged(&coil, 0.01).conductors[0].limit.unwrap();
    // u^2 = 0.000458333 + 0.0001/12 + (0.008 x 0.95 + 0.03)^2/3 + (0.00393 x 6 x 0.95)^2
    assert_eq!((limit.high, six_places(limit.u)), (Some(1.0), 0.037_944));
    assert_eq!(limit.result, LimitResult::Undecided);
    coil.temperature = Some(45.0);
    assert_eq!(judged(&coil, 0.01).conductors[0].limit.unwrap().high.map(six_places), Some(1.098_25));
}

#[test]
fn a_ceiling_is_for_conductors_without_a_high_limit_of_their_own() {
    let mut coil = part_of(&[1.5, 1.5, 1.5]);
    coil.ceiling = Some(1.0);
    coil.conductors[1].limit = Some(Limit { high: Some(2.0), ..Default::default() });
    coil.conductors[2].limit = Some(Limit { low: Some(0.1), ..Default::default() });
    assert_eq!(states(&judged(&coil, 0.01)), [High, Consistent, High]);
}

/// A lowest allowed value says nothing about how high a conductor may be.
#[test]
fn a_low_limit_alone_does_not_acquit_a_high_conductor() {
    let mut coil = part_of(&[0.3, 0.3, 0.3, 12.0]);
    let low = Some(Limit { low: Some(0.1), ..Default::default() });
    coil.conductors.iter_mut().for_each(|c| c.limit = low);
    let verdict = judged(&coil, 0.01);
    assert_eq!(states(&verdict), [Consistent, Consistent, Consistent, High]);
    assert_eq!(verdict.groups["a"].level, Level::Unverified);
    // And an own minimum that is not kept condemns.
    coil.conductors[3] = reads(0.02);
    coil.conductors[3].limit = low;
    assert_eq!(judged(&coil, 0.01).conductors[3].state, Low);
}

/// A dead short, a bridged pair, a conductor that is only suspect: none of them comes near a highest allowed value.
#[test]
fn a_high_limit_alone_does_not_acquit_a_low_conductor() {
    let under_a_ceiling = |ohms: &[f64]| {
        let mut coil = part_of(ohms);
        coil.ceiling = Some(2.0);
        coil.bars_open = Some(true);
        coil
    };
    let shorted = under_a_ceiling(&[0.02, 0.35, 0.34, 0.35]);
    let verdict = judged(&shorted, 0.01);
    assert_eq!(states(&verdict), [Low, Consistent, Consistent, Consistent]);
    assert_eq!(verdict.conductors[0].codes, BTreeSet::from([Code::Shorted]));
    assert_eq!(verdict.conductors[0].limit.unwrap().result, LimitResult::Conform);
    assert_eq!((verdict.conductors[0].basis, verdict.conductors[1].basis), (Some(Basis::Group), Some(Basis::Limit)));
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Fail, doing(ActionCode::CheckIsolation, Some(0))));

    let mut own = part_of(&[0.02, 0.35, 0.34, 0.35]);
    own.conductors[0].limit = Some(Limit { high: Some(2.0), ..Default::default() });
    assert_eq!(judged(&own, 0.01).conductors[0].state, Low, "an own limit says no more than a ceiling");

    let suspect = judged(&under_a_ceiling(&[0.22, 0.35, 0.36, 0.36]), 0.01);
    assert_eq!((suspect.set, suspect.conductors[0].state), (SetVerdict::Undecided, Undecided));
    assert_eq!(suspect.conductors[0].codes, BTreeSet::from([Code::LowSuspect]));

    // Two that touch each other make a level of their own; it is no better for being two.
    let bridged = under_a_ceiling(&[0.72, 0.73, 1.38, 1.40, 1.37]);
    let verdict = judged(&bridged, 0.01);
    assert_eq!(states(&verdict), [Undecided, Undecided, Consistent, Consistent, Consistent]);
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Fail, doing(ActionCode::CheckIsolation, Some(0))));
    let mut bars_unknown = bridged;
    bars_unknown.bars_open = None;
    let verdict = judged(&bars_unknown, 0.01);
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Undecided, doing(ActionCode::OpenBars, Some(0))));
}

/// The lowest level is the reference because what lies above it is taken for bad. A limit that says that it is not bad
/// takes that reason away.
#[test]
fn a_dead_short_does_not_become_the_reference_of_those_a_ceiling_acquits() {
    let under_a_ceiling = |ohms: &[f64]| {
        let mut coil = part_of(ohms);
        coil.ceiling = Some(2.6);
        judged(&coil, 0.01)
    };
    for (ohms, suspects) in
        [(&[0.05, 1.34, 1.49][..], &[0][..]), (&[0.05, 1.40], &[0]), (&[0.05, 0.06, 1.34, 1.35, 1.38], &[0, 1])]
    {
        let verdict = under_a_ceiling(ohms);
        assert_eq!(verdict.set, SetVerdict::Undecided, "{ohms:?}");
        for (i, conductor) in verdict.conductors.iter().enumerate() {
            let suspect = suspects.contains(&i);
            assert_eq!(conductor.codes.contains(&Code::LowSuspect), suspect, "{ohms:?}, conductor {i}");
            assert_eq!(conductor.state, if suspect { Undecided } else { Consistent }, "{ohms:?}, conductor {i}");
        }
    }
    // Those above are over the ceiling, or outnumbered, or not so far above: the low ones stand.
    assert_eq!(states(&under_a_ceiling(&[0.3, 0.3, 3.0, 3.0, 3.1])), [Consistent, Consistent, High, High, High]);
    assert_eq!(states(&under_a_ceiling(&[0.1, 0.1, 0.1, 1.4, 1.4])), [Consistent; 5]);
    assert_eq!(states(&under_a_ceiling(&[0.3, 0.7])), [Consistent; 2], "a closed bar explains it");
    let mut pair = part_of(&[0.3, 0.7]);
    (pair.ceiling, pair.bars_open) = (Some(2.6), Some(true));
    assert_eq!(states(&judged(&pair, 0.01)), [Undecided, Consistent], "open bars do not");
    let mut widths = undeclared(part_of(&[0.15, 1.40]));
    widths.ceiling = Some(2.6);
    assert_eq!(states(&judged(&widths, 0.01)), [Consistent; 2], "nobody said that they should read alike");
    // A limit with a low side says what nothing else does.
    let mut coil = part_of(&[0.15, 1.40]);
    coil.ceiling = Some(2.6);
    assert_eq!(judged(&coil, 0.01).set, SetVerdict::Undecided);
    coil.conductors[0].limit = Some(Limit { high: Some(0.3), low: Some(0.05), t: None });
    assert_eq!(judged(&coil, 0.01).set, SetVerdict::Pass);
}

/// Two at a third of three others, which are within the tolerance of the two: neither level is bad by the other.
#[test]
fn a_low_level_is_not_sound_by_others_it_does_not_find_bad() {
    let verdict = judged(&part_of(&[0.06, 0.06, 0.20, 0.20, 0.20]), 0.01);
    assert_eq!(states(&verdict), [Undecided, Undecided, Consistent, Consistent, Consistent]);
    assert_eq!((verdict.set, verdict.action), (SetVerdict::Undecided, doing(ActionCode::OpenBars, Some(0))));
    let outnumbered = judged(&part_of(&[0.06, 0.06, 0.20]), 0.01);
    assert_eq!(outnumbered.set, SetVerdict::Pass);
}

/// A lowest allowed value is what acquits: the maker knows that conductor, the group does not.
#[test]
fn a_limit_with_a_low_side_acquits_a_conductor_below_its_group() {
    let mut coil = part_of(&[0.12, 0.35, 0.34, 0.35]);
    coil.conductors[0].limit = Some(Limit { high: Some(2.0), low: Some(0.05), t: None });
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.set, verdict.conductors[0].state), (SetVerdict::Pass, Consistent));
    assert_eq!(verdict.conductors[0].codes, BTreeSet::from([Code::DiffersFromGroup]));
    // With its high side from the ceiling it is the same limit.
    coil.conductors[0].limit = Some(Limit { low: Some(0.05), ..Default::default() });
    coil.ceiling = Some(2.0);
    assert_eq!(judged(&coil, 0.01).conductors[0].state, Consistent);
    // A high limit acquits of being high, and of having nobody to be compared with.
    let mut high = part_of(&[0.35, 0.34, 0.35, 0.75]);
    high.ceiling = Some(1.0);
    assert_eq!(states(&judged(&high, 0.01)), [Consistent; 4]);
}

#[test]
fn limits_on_some_conductors_leave_the_level_of_the_group_unverified() {
    let mut coil = part_of(&[3.0, 3.0, 3.0]);
    coil.conductors[0].limit = Some(Limit { high: Some(5.0), ..Default::default() });
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.set, verdict.groups["a"].level), (SetVerdict::Undecided, Level::Implausible));
    assert_eq!(verdict.action, doing(ActionCode::EnterLimit, None));
    coil.ceiling = Some(5.0);
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.set, verdict.groups["a"].level), (SetVerdict::Pass, Level::Verified));
}

#[test]
fn a_tolerance_of_its_own_replaces_the_usual_one() {
    let mut coil = part_of(&[0.3, 0.3, 0.3, 0.6]);
    coil.tolerance = Some(Tolerance { abs: 0.5, rel: 0.0 });
    assert_eq!(judged(&coil, 0.01).set, SetVerdict::Pass);
    coil.tolerance = None;
    assert_eq!(judged(&coil, 0.01).set, SetVerdict::Fail);
}

#[test]
fn an_undecided_part_is_never_done() {
    // The known-good level is so uncertain that even a conductor just below it is not proven.
    let mut coil = part_of(&[0.29, 0.29]);
    coil.conductors.iter_mut().for_each(|c| c.sweep = Some(SweepVerdict::Steady));
    let known = KnownGoodLevel { value: 0.3, u: 0.2, t: None, same_meter: true };
    coil.known_good = Some(KnownGood::Everywhere(known));
    let verdict = judged(&coil, 0.01);
    assert_eq!((verdict.set, verdict.swept_steady), (SetVerdict::Undecided, true));
    assert_eq!(verdict.action, doing(ActionCode::EnterLimit, Some(0)));
}

/// Who holds the bars open already is not told to open them.
#[test]
fn a_low_suspect_with_the_bars_open_is_asked_for_something_else() {
    let suspect = |ohms: &[f64], step: f64, bars_open: bool| {
        let mut coil = part(vec![touched(ohms), reads(0.36), reads(0.35), reads(0.36)]);
        coil.bars_open = Some(bars_open);
        let verdict = judged(&coil, step);
        assert_eq!(verdict.conductors[0].codes, BTreeSet::from([Code::LowSuspect]));
        verdict.action
    };
    assert_eq!(suspect(&[0.22, 0.22], 0.01, false), doing(ActionCode::OpenBars, Some(0)));
    assert_eq!(suspect(&[0.22, 0.22], 0.01, true), doing(ActionCode::TouchAgain, Some(0)));
    assert_eq!(suspect(&[0.22, 0.23, 0.22, 0.24], 0.01, true), doing(ActionCode::EnterLimit, Some(0)));
    assert_eq!(suspect(&[0.22, 0.22], 0.05, true), doing(ActionCode::FinerMeter, Some(0)));
}

/// A conductor below its reference whose uncertainty alone is wider than the tolerance bears no code. What is asked for
/// is what makes the uncertainty smaller, not a sweep.
#[test]
fn what_is_too_uncertain_below_its_reference_is_told_what_would_sharpen_it() {
    let level = |u| Some(KnownGood::Everywhere(KnownGoodLevel { value: 0.55, u, t: None, same_meter: true }));
    let asked = |coil: &PartReadings, step: f64| {
        let verdict = judged(coil, step);
        assert_eq!(verdict.set, SetVerdict::Undecided);
        assert_eq!((verdict.conductors[0].state, verdict.conductors[0].codes.len()), (Undecided, 0));
        verdict.action
    };
    // Leads nobody zeroed do not cancel against a level that was read without them.
    let mut forgotten = part_of(&[0.74, 0.74]);
    forgotten.leads = Leads::default();
    forgotten.known_good = level(0.02);
    assert_eq!(asked(&forgotten, 0.01), doing(ActionCode::ZeroLeads, None));
    let mut above = part_of(&[0.80, 0.80]);
    (above.leads, above.known_good) = (Leads::default(), level(0.02));
    let verdict = judged(&above, 0.01);
    assert_eq!(verdict.conductors[0].codes, BTreeSet::from([Code::AtTheLimit]));
    assert_eq!(verdict.action, doing(ActionCode::ZeroLeads, None));
    forgotten.leads = Leads { zeroed: false, zero: Some(0.2), zero_end: None };
    assert_eq!(judged(&forgotten, 0.01).set, SetVerdict::Pass);
    // A zero that moved by 0.4 ohm meanwhile.
    let mut moved = part_of(&[0.50, 0.50]);
    moved.known_good = level(0.02);
    moved.leads.zero = Some(0.0);
    moved.leads.zero_end = Some(0.4);
    assert_eq!(asked(&moved, 0.01), doing(ActionCode::ZeroLeads, None));
    // A step as wide as all there is to tell.
    let mut coarse = part_of(&[0.5, 0.5]);
    coarse.known_good = level(0.02);
    assert_eq!(asked(&coarse, 0.5), doing(ActionCode::FinerMeter, Some(0)));
    // Clips that scatter by 0.2 ohm, once on this one and three times on the others.
    let restless = || touched(&[0.40, 0.50, 0.60]);
    let mut scattered = part(vec![touched(&[0.50]), restless(), restless(), restless()]);
    scattered.known_good = level(0.1);
    assert_eq!(asked(&scattered, 0.01), doing(ActionCode::TouchAgain, Some(0)));
    // A level that is itself not known well enough: nothing at the bench helps.
    let mut vague = part_of(&[0.50, 0.50]);
    vague.known_good = level(0.2);
    assert_eq!(asked(&vague, 0.01), doing(ActionCode::EnterLimit, Some(0)));
}

#[test]
fn a_meter_that_cannot_be_decides_nothing() {
    for step in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        let verdict = judged(&part_of(&[0.3, 0.3, 0.3]), step);
        assert_eq!(verdict.set, SetVerdict::Undecided, "step {step}");
    }
}

/// Case lines are held to the steps as published; a job is judged with more care. Where both decide, they agree.
#[test]
fn care_takes_a_pass_away_and_never_gives_one() {
    let mut differing = 0;
    for line in PUBLIC.lines() {
        let Ok(Some((part, meter))) = super::cases::readings(line) else { continue };
        let [published, careful] = [Rules::default(), Rules::at_the_bench()].map(|rules| judge(&part, &meter, &rules));
        let worse = published.set == SetVerdict::Pass && careful.set != SetVerdict::Pass;
        assert!(published.set == careful.set || worse, "{line}");
        differing += usize::from(published != careful);
    }
    let mut shorted = part_of(&[0.05, 1.34, 1.49]);
    shorted.ceiling = Some(2.0);
    let [published, careful] =
        [Rules::default(), Rules::at_the_bench()].map(|rules| judge(&shorted, &MeterSpec::handheld(0.01), &rules).set);
    assert_eq!((published, careful), (SetVerdict::Pass, SetVerdict::Undecided));
    assert!(differing < 10, "{differing} public cases differ");
}
