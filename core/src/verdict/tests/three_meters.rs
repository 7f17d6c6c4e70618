//! One part, read with three meters: what they say may differ in what can be told, and in nothing else.

use super::*;
use crate::verdict::statistics::below;
use crate::verdict::words::{Language, action_sentence};
use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use std::cell::RefCell;

/// What is true about a part, before any meter rounds it.
#[derive(Clone, Debug)]
struct TruePart {
    /// Ohms of each time the clips were on, for each conductor; none below 1000 is open.
    contacts: Vec<Vec<f64>>,
    declared: bool,
    bars_open: Option<bool>,
    leads: TrueLeads,
    ceiling: Option<f64>,
    known_good: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum TrueLeads {
    Zeroed,
    Read(f64),
    Forgotten(f64),
}

impl TruePart {
    fn read_with(&self, step: f64) -> PartReadings {
        let shown = |ohms: f64| (ohms / step).round() * step;
        let in_the_leads = match self.leads {
            TrueLeads::Zeroed => 0.0,
            TrueLeads::Read(ohms) | TrueLeads::Forgotten(ohms) => ohms,
        };
        let read = |ohms: &f64| {
            if *ohms < 1000.0 { vec![Sample::Value(shown(ohms + in_the_leads)); 3] } else { vec![Sample::OverRange; 3] }
        };
        let conductors = self.contacts.iter().map(|contacts| ConductorReadings {
            group: self.declared.then(|| "a".to_owned()),
            touches: contacts.iter().map(read).collect(),
            ..Default::default()
        });
        let known = |value| KnownGood::Everywhere(KnownGoodLevel { value, u: 0.02, t: None, same_meter: true });
        PartReadings {
            conductors: conductors.collect(),
            bars_open: self.bars_open,
            leads: match self.leads {
                TrueLeads::Zeroed => Leads { zeroed: true, ..Leads::default() },
                TrueLeads::Read(ohms) => Leads { zero: Some(shown(ohms)), ..Leads::default() },
                TrueLeads::Forgotten(_) => Leads::default(),
            },
            ceiling: self.ceiling,
            known_good: self.known_good.map(known),
            ..Default::default()
        }
    }
}

/// How a conductor differs from its neighbours.
fn any_oddity(level: f64) -> impl Strategy<Value = f64> {
    let high = (0.15 * level).max(0.2);
    let low = (0.3 * level).max(0.06);
    prop_oneof![
        4 => (-0.25..0.25_f64).prop_map(move |off| level + high + off),
        3 => (-0.15..0.15_f64).prop_map(move |off| (level - low + off).max(0.0)),
        2 => (0.35..0.65_f64).prop_map(move |share| level * share),
        1 => 0.0..0.06_f64,
        1 => (1.0..6.0_f64).prop_map(move |more| level + more),
        1 => Just(5000.0),
    ]
}

fn any_true_part() -> impl Strategy<Value = TruePart> {
    let leads = prop_oneof![
        3 => Just(TrueLeads::Zeroed),
        1 => (0.05..0.4_f64).prop_map(TrueLeads::Read),
        1 => (0.05..0.4_f64).prop_map(TrueLeads::Forgotten),
    ];
    let level = prop_oneof![3 => 0.2..0.6_f64, 2 => 0.6..2.4_f64, 1 => 2.3..2.7_f64];
    (level, leads, any::<bool>(), prop::sample::select(vec![None, Some(true), Some(false)])).prop_flat_map(
        |(level, leads, declared, bars_open)| {
            let sound = prop::collection::vec((0.95..1.05_f64).prop_map(move |share| level * share), 1..7);
            let odd = prop::collection::vec(any_oddity(level), 0..3);
            let contacts = prop::collection::vec(prop::collection::vec(-0.03..0.03_f64, 1..5), 9);
            let ceiling = prop::option::weighted(0.2, level * 0.9..level * 2.5);
            let known_good = prop::option::weighted(0.2, level * 0.7..level * 1.1);
            (sound, odd, contacts, ceiling, known_good).prop_map(move |(sound, odd, contacts, ceiling, known_good)| {
                let ohms = odd.into_iter().chain(sound);
                let contacts =
                    ohms.zip(contacts).map(|(ohms, clips)| clips.iter().map(|clip| ohms + clip).collect()).collect();
                TruePart { contacts, declared, bars_open, leads, ceiling, known_good }
            })
        },
    )
}

/// From the coarsest.
const STEPS: [f64; 3] = [0.1, 0.01, 0.001];
const PARTS: u32 = 2_000;

fn decided(state: ConductorState) -> bool {
    matches!(state, High | Low | Open | Consistent)
}

/// Two meters may call one conductor by different names for two reasons only, both in the rules themselves.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Reason {
    /// On the low side nothing is taken off before a conductor is accepted: by one step the coarse meter may accept
    /// what the finer one finds low.
    NoGuardBelow,
    /// They see other conductors agree, and so compare with another level.
    OtherLevel,
}

/// Why two verdicts, the coarser meter's first, decide differently about a conductor; an error if nothing explains it.
fn explained(coarse: &Verdict, fine: &Verdict, i: usize, step: f64) -> Result<Reason, TestCaseError> {
    let (x, y) = (&coarse.conductors[i], &fine.conductors[i]);
    let group = |verdict: &Verdict| verdict.groups.values().next().cloned().unwrap();
    let (theirs, ours) = (group(coarse), group(fine));
    let within_a_step = below(x.deviation.unwrap() - step, -theirs.low_tolerance.unwrap());
    if (x.state, y.state) == (Consistent, Low) && within_a_step {
        return Ok(Reason::NoGuardBelow);
    }
    prop_assert!(theirs.members != ours.members, "conductor {i}: {x:?} and {y:?}");
    Ok(Reason::OtherLevel)
}

/// A part that fails for what is low in it, and for nothing else.
fn is_only_low(verdict: &Verdict) -> bool {
    let high_or_open = verdict.reasons.contains(&Code::High) || verdict.reasons.contains(&Code::Open);
    verdict.action.code == ActionCode::CheckIsolation && !high_or_open
}

/// One step less, and a conductor would be suspected of being low.
fn near_the_low_border(verdict: &Verdict, step: f64) -> bool {
    let border = -verdict.groups.values().next().unwrap().low_tolerance.unwrap();
    verdict.conductors.iter().any(|c| below(c.deviation.unwrap() - step, border))
}

/// Does what can be done at once with this meter: the bars opened, the groups named, each at most once.
fn with_the_facts_given(part: &TruePart, step: f64) -> (TruePart, Verdict) {
    let mut part = part.clone();
    loop {
        let verdict = judged(&part.read_with(step), step);
        match verdict.action.code {
            ActionCode::OpenBars if part.bars_open != Some(true) => part.bars_open = Some(true),
            ActionCode::SetGroups if !part.declared => part.declared = true,
            _ => return (part, verdict),
        }
    }
}

/// In both languages the sentence on what to do next names another meter, another touch or the zero.
fn names_a_way_out(action: &NextAction) -> bool {
    let names = |language, ways: [&str; 4]| {
        let name = action.conductor.map(|i| format!("Conductor {}", i + 1));
        let sentence = action_sentence(action, name.as_deref(), language);
        ways.iter().any(|way| sentence.contains(way))
    };
    names(Language::En, ["smaller step", "more accurate multimeter", "clip on again", "Zero the leads"])
        && names(Language::De, ["feinerer Anzeigestufe", "genaueren Multimeter", "neu anklemmen", "nullen"])
}

/// Nothing at the bench is left to ask for: the clips scatter by more than a step, or the level is too high to be
/// believed, or the meter is as fine as the rules ask for.
fn only_a_limit_is_left(verdict: &Verdict, step: f64) -> bool {
    let asked = verdict.action.conductor.map(|i| &verdict.conductors[i]);
    let restless = asked.is_some_and(|c| c.codes.contains(&Code::AtTheLimit) && below(step, c.expanded.unwrap()));
    let implausible = asked.is_none() && verdict.reasons.contains(&Code::LevelImplausible);
    verdict.action.code == ActionCode::EnterLimit && (restless || implausible || step <= Rules::default().fine_step)
}

#[derive(Debug, Default)]
struct Seen {
    unlike: usize,
    other_level: usize,
    settled_by_the_finer: usize,
}

fn compare(part: &TruePart, seen: &RefCell<Seen>) -> Result<(), TestCaseError> {
    let verdicts = STEPS.map(|step| judged(&part.read_with(step), step));
    for (a, b) in [(0, 1), (0, 2), (1, 2)] {
        let (coarse, fine) = (&verdicts[a], &verdicts[b]);
        let mut reasons = Vec::new();
        for i in 0..part.contacts.len() {
            let (x, y) = (coarse.conductors[i].state, fine.conductors[i].state);
            if decided(x) && decided(y) && x != y {
                reasons.push(explained(coarse, fine, i, STEPS[a])?);
            }
        }
        seen.borrow_mut().unlike += usize::from(!reasons.is_empty());
        seen.borrow_mut().other_level += usize::from(reasons.contains(&Reason::OtherLevel));
        if coarse.set == SetVerdict::Pass && fine.set == SetVerdict::Fail {
            prop_assert!(is_only_low(fine) && near_the_low_border(coarse, STEPS[a]), "{coarse:?} {fine:?}");
        }
        prop_assert!((coarse.set, fine.set) != (SetVerdict::Fail, SetVerdict::Pass), "{coarse:?} {fine:?}");
        let (facts, coarse) = with_the_facts_given(part, STEPS[a]);
        let fine = judged(&facts.read_with(STEPS[b]), STEPS[b]);
        if coarse.set == SetVerdict::Undecided && fine.set != SetVerdict::Undecided {
            seen.borrow_mut().settled_by_the_finer += 1;
            prop_assert!(
                names_a_way_out(&coarse.action) || only_a_limit_is_left(&coarse, STEPS[a]),
                "{:?} of {coarse:?}",
                coarse.action
            );
        }
    }
    Ok(())
}

#[test]
fn three_meters_differ_in_what_can_be_told_and_in_nothing_else() {
    let seen = RefCell::new(Seen::default());
    let config = ProptestConfig {
        cases: PARTS,
        rng_seed: prop::test_runner::RngSeed::Fixed(31),
        failure_persistence: None,
        ..Default::default()
    };
    let outcome = TestRunner::new(config).run(&any_true_part(), |part| compare(&part, &seen));
    if let Err(failure) = outcome {
        panic!("{failure}");
    }
    let seen = seen.into_inner();
    println!("{seen:?}");
    assert!(seen.settled_by_the_finer > 200, "too few parts on the border: {seen:?}");
    // Of three pairs of meters for each part.
    assert!(seen.unlike * 300 < 3 * PARTS as usize, "meters disagree too often: {seen:?}");
}

/// The one way in which a coarse meter passes what a fine one condemns, and how far it goes: one step.
#[test]
fn a_coarse_meter_may_accept_a_conductor_one_step_too_low() {
    let half_way = |low: f64| TruePart {
        contacts: vec![vec![low; 2], vec![0.32; 2], vec![0.33; 2], vec![0.32; 2]],
        declared: true,
        bars_open: Some(true),
        leads: TrueLeads::Zeroed,
        ceiling: None,
        known_good: None,
    };
    let said = |low, step| {
        let verdict = judged(&half_way(low).read_with(step), step);
        (verdict.set, verdict.conductors[0].state)
    };
    assert_eq!(said(0.17, 0.01), (SetVerdict::Fail, Low));
    assert_eq!(said(0.17, 0.1), (SetVerdict::Pass, Consistent));
    assert_ne!(said(0.14, 0.1).0, SetVerdict::Pass);
}
