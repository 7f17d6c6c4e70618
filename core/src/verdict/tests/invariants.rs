//! What holds for every part, tried on many invented ones.

use super::*;
use proptest::prelude::*;

/// An invented part: a level, a spread of a few percent, some knowledge about it, and what was read.
#[derive(Clone, Debug)]
struct Bench {
    part: PartReadings,
    step: f64,
}

fn any_bench() -> impl Strategy<Value = Bench> {
    let knowledge = (
        prop::sample::select(vec![0.001, 0.01, 0.1]),
        prop::sample::select(vec![None, Some(true), Some(false)]),
        any::<bool>(),
        prop::sample::select(vec![
            Leads { zeroed: true, zero: None, zero_end: None },
            Leads::default(),
            Leads { zeroed: false, zero: Some(0.2), zero_end: Some(0.22) },
        ]),
    );
    let conductors = prop::collection::vec((0.95..1.05_f64, 1..4_usize, -0.02..0.02_f64), 3..8);
    (knowledge, 0.2..4.0_f64, conductors).prop_map(|((step, bars_open, declared, leads), level, conductors)| {
        let shown = |x: f64| (x / step).round() * step;
        let conductors = conductors
            .into_iter()
            .map(|(spread, touches, clip)| {
                let ohms: Vec<f64> =
                    (0..touches).map(|k| shown(0.2 + level * spread + clip * k as f64 / 2.0)).collect();
                ConductorReadings { group: declared.then(|| "a".to_owned()), ..touched(&ohms) }
            })
            .collect();
        Bench { part: PartReadings { conductors, bars_open, leads, ..Default::default() }, step }
    })
}

fn fixed(seed: u64) -> ProptestConfig {
    ProptestConfig {
        cases: 250,
        rng_seed: prop::test_runner::RngSeed::Fixed(seed),
        failure_persistence: None,
        ..Default::default()
    }
}

proptest! {
    #![proptest_config(fixed(1))]

    /// The promise of the product: an open conductor is never passed, in one touch or several.
    #[test]
    fn no_part_with_an_open_conductor_passes(bench in any_bench(), at in any::<prop::sample::Index>(), touches in 1..4_usize) {
        let mut part = bench.part;
        let i = at.index(part.conductors.len());
        part.conductors[i].touches = vec![vec![Sample::OverRange; 3]; touches];
        let verdict = judged(&part, bench.step);
        prop_assert_ne!(verdict.set, SetVerdict::Pass);
        if touches >= 2 {
            prop_assert_eq!(verdict.set, SetVerdict::Fail);
            prop_assert_eq!(verdict.conductors[i].state, Open);
        }
    }

    /// Nor is one that reads more than one ohm above its group.
    #[test]
    fn no_part_with_a_conductor_an_ohm_above_its_group_passes(
        bench in any_bench(), at in any::<prop::sample::Index>(), more in 1.0..30.0_f64, steady in any::<bool>(),
    ) {
        let mut part = bench.part;
        let i = at.index(part.conductors.len());
        let highest = part.conductors.iter().flat_map(|c| c.touches.iter().flatten()).fold(0.0_f64, |most, sample| {
            if let Sample::Value(x) = sample { most.max(*x) } else { most }
        });
        let reading = ((highest + more) / bench.step).ceil() * bench.step;
        part.conductors[i].touches = vec![vec![Sample::Value(reading); 3]; 2];
        if steady {
            part.conductors.iter_mut().for_each(|c| c.sweep = Some(SweepVerdict::Steady));
        }
        prop_assert_ne!(judged(&part, bench.step).set, SetVerdict::Pass);
    }

    /// Nothing read, nothing settled, a fault in the sweep: none of these passes either.
    #[test]
    fn what_is_not_known_does_not_pass(bench in any_bench(), at in any::<prop::sample::Index>(), what in 0..4_usize) {
        let mut part = bench.part;
        let i = at.index(part.conductors.len());
        let conductor = &mut part.conductors[i];
        match what {
            0 => conductor.touches.clear(),
            1 => conductor.touches = vec![vec![Sample::Value(f64::NAN); 3]; 2],
            2 => conductor.touches = vec![vec![Sample::Value(0.3), Sample::OverRange]],
            _ => conductor.sweep = Some(SweepVerdict::Dropout),
        }
        prop_assert_ne!(judged(&part, bench.step).set, SetVerdict::Pass);
    }

    /// Counting the conductors the other way round changes their numbers and nothing else.
    #[test]
    fn the_order_of_conductors_does_not_matter(bench in any_bench()) {
        let there = judged(&bench.part, bench.step);
        let mut part = bench.part.clone();
        part.conductors.reverse();
        let mut back = judged(&part, bench.step);
        back.conductors.reverse();
        prop_assert_eq!(there.set, back.set);
        prop_assert_eq!(&there.reasons, &back.reasons);
        prop_assert_eq!(there.action.code, back.action.code);
        for (a, b) in there.conductors.iter().zip(&back.conductors) {
            prop_assert_eq!((a.state, &a.codes), (b.state, &b.codes));
            prop_assert_eq!(a.deviation.map(six_places), b.deviation.map(six_places));
        }
    }

    /// A lead resistance that is in every reading, and was read and is taken off, changes nothing in the comparison.
    #[test]
    fn leads_taken_off_leave_the_comparison_as_it_was(bench in any_bench(), steps in 1..40_i32) {
        let mut plain = bench.part;
        plain.leads = Leads { zeroed: true, ..Default::default() };
        let leads = f64::from(steps) * bench.step;
        let mut through_leads = plain.clone();
        through_leads.leads = Leads { zeroed: false, zero: Some(leads), zero_end: None };
        for sample in through_leads.conductors.iter_mut().flat_map(|c| c.touches.iter_mut().flatten()) {
            if let Sample::Value(x) = sample { *x += leads; }
        }
        let (plain, through_leads) = (judged(&plain, bench.step), judged(&through_leads, bench.step));
        prop_assert_eq!((plain.set, plain.action), (through_leads.set, through_leads.action));
        for (a, b) in plain.conductors.iter().zip(&through_leads.conductors) {
            prop_assert_eq!((a.state, &a.codes), (b.state, &b.codes));
            prop_assert_eq!(a.deviation.map(|d| (d * 1e5).round()), b.deviation.map(|d| (d * 1e5).round()));
        }
    }

    /// Half of a conductor's resistance more cannot turn a bad part into a good one.
    #[test]
    fn a_worse_conductor_never_helps(bench in any_bench(), at in any::<prop::sample::Index>(), more in 0.0..2.0_f64) {
        let i = at.index(bench.part.conductors.len());
        let mut sick = bench.part;
        sick.conductors[i].touches = vec![vec![Sample::Value(8.0); 3]; 2];
        let mut worse = sick.clone();
        worse.conductors[i].touches = vec![vec![Sample::Value(8.0 + more); 3]; 2];
        if judged(&sick, bench.step).set != SetVerdict::Pass {
            prop_assert_ne!(judged(&worse, bench.step).set, SetVerdict::Pass);
        }
    }

    /// A reading that is none (NaN, −∞) among good ones changes nothing.
    #[test]
    fn what_is_no_reading_changes_nothing(bench in any_bench(), at in any::<prop::sample::Index>()) {
        let mut part = bench.part.clone();
        let i = at.index(part.conductors.len());
        part.conductors[i].touches[0].push(Sample::Value(f64::NAN));
        part.conductors[i].touches[0].insert(0, Sample::Value(f64::NEG_INFINITY));
        part.conductors[i].touches.push(vec![Sample::Value(f64::NAN)]);
        prop_assert_eq!(judged(&part, bench.step), judged(&bench.part, bench.step));
    }

    /// An undecided part is never sent home, and a condemned conductor always stands outside its tolerance.
    #[test]
    fn verdict_and_action_never_contradict_each_other(bench in any_bench(), bad in prop::option::of(0.0..3.0_f64)) {
        let mut part = bench.part;
        if let Some(bad) = bad {
            part.conductors[0].touches = vec![vec![Sample::Value((bad / bench.step).round() * bench.step); 3]; 2];
        }
        let verdict = judged(&part, bench.step);
        let replaced = matches!(verdict.action.code, ActionCode::Replace | ActionCode::CheckIsolation);
        prop_assert!(!replaced || verdict.set == SetVerdict::Fail);
        prop_assert!(verdict.action.code != ActionCode::Done || verdict.set == SetVerdict::Pass);
        prop_assert_eq!(verdict.set == SetVerdict::Pass,
            verdict.conductors.iter().all(|c| c.state == Consistent)
                && !verdict.reasons.contains(&Code::LevelImplausible)
                && !verdict.reasons.contains(&Code::OneTouchDisagreed)
                && !verdict.reasons.contains(&Code::ZeroSuspect));
        let group = verdict.groups.values().next().unwrap();
        for c in verdict.conductors.iter().filter(|c| c.state == High) {
            prop_assert!(c.deviation.unwrap() - c.expanded.unwrap() > group.tolerance.unwrap());
        }
    }
}
