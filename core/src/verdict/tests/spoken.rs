//! What the person is told.

use super::*;
use crate::verdict::words::{Language, action_sentence, code_sentence, conductor_sentence, headline};

const LANGUAGES: [Language; 2] = [Language::En, Language::De];

const CODES: [Code; 23] = [
    Code::AtTheLimit,
    Code::BarClosed,
    Code::DiffersFromGroup,
    Code::High,
    Code::LeadsNotZeroed,
    Code::LevelImplausible,
    Code::LevelUnverified,
    Code::LimitGuardBand,
    Code::Low,
    Code::LowSuspect,
    Code::MoreTouches,
    Code::NothingToCompare,
    Code::NotMeasured,
    Code::OneTouch,
    Code::OneTouchDisagreed,
    Code::Open,
    Code::PairOnly,
    Code::Shorted,
    Code::StepTooCoarse,
    Code::SweepFault,
    Code::TouchesDisagree,
    Code::TwoLevels,
    Code::ZeroSuspect,
];

fn number(index: usize) -> String {
    format!("Conductor {}", index + 1)
}

fn said(part: &PartReadings, step: f64) -> String {
    headline(&judged(part, step), &number, Language::En)
}

#[test]
fn the_fact_comes_first_and_the_reason_after_it() {
    let opened = part(vec![reads(0.3), reads(0.3), reads(0.3), super::open()]);
    assert_eq!(said(&opened, 0.01), "Conductor 4 is open. The part is condemned.");
    assert_eq!(said(&part_of(&[0.3, 0.3, 0.3, 9.0]), 0.01), "Conductor 4 reads too high. The part is condemned.");
    assert_eq!(
        headline(&judged(&opened, 0.01), &|i| format!("Leiter {}", i + 1), Language::De),
        "Leiter 4 ist unterbrochen. Das Teil ist verworfen."
    );
}

#[test]
fn a_pass_at_rest_is_not_a_proof_turning() {
    let mut coil = part_of(&[0.3, 0.3, 0.3]);
    assert_eq!(said(&coil, 0.01), "Alike at rest. Not yet proved turning.");
    coil.conductors.iter_mut().for_each(|c| c.sweep = Some(SweepVerdict::Steady));
    assert_eq!(said(&coil, 0.01), "Alike at rest and turning.");
    // Within their limits, but one far above the others: not "alike".
    coil.conductors[2].touches = vec![vec![Sample::Value(0.8)]; 2];
    coil.ceiling = Some(2.0);
    assert_eq!(said(&coil, 0.01), "Within the limits at rest and steady turning, but not alike.");
}

#[test]
fn what_is_within_tolerance_but_far_above_the_others_is_named() {
    let verdict = judged(&part_of(&[0.300, 0.300, 0.300, 0.300, 0.452]), 0.001);
    assert_eq!(verdict.conductors[4].watch_percent, Some(51));
    assert_eq!(
        conductor_sentence(&verdict.conductors[4], "Conductor 5", Language::En),
        "Conductor 5 is 51 % above the others: within tolerance, watch it in the sweep."
    );
    assert_eq!(verdict.conductors[0].watch_percent, None);
    // 25 % above, but not by more than its uncertainty: not worth a word.
    assert_eq!(judged(&part_of(&[0.3, 0.3, 0.3, 0.3, 0.4]), 0.1).conductors[4].watch_percent, None);
}

#[test]
fn what_is_not_known_is_never_worded_as_a_pass() {
    let parts = [
        part(vec![]),
        part_of(&[0.3]),
        part_of(&[0.3, 0.3, 0.6]),
        part(vec![reads(0.3), reads(0.3), touched(&[])]),
        part(vec![reads(0.3), reads(0.3), touched(&[9.0])]),
        part(vec![reads(0.3), reads(0.3), touched(&[0.3, 9.0])]),
    ];
    for part in &parts {
        let verdict = judged(part, 0.1);
        assert_eq!(verdict.set, SetVerdict::Undecided);
        assert_eq!(said(part, 0.1), "Not decided yet.");
        for conductor in verdict.conductors.iter().filter(|c| c.state == Undecided) {
            for (language, alike) in [(Language::En, "like the others"), (Language::De, "wie die anderen")] {
                assert!(!conductor_sentence(conductor, "X", language).contains(alike));
            }
        }
    }
}

#[test]
fn every_code_and_action_is_a_sentence_and_none_says_ok() {
    let actions = [
        ActionCode::Measure,
        ActionCode::ZeroLeads,
        ActionCode::Replace,
        ActionCode::CheckIsolation,
        ActionCode::TouchAgain,
        ActionCode::Sweep,
        ActionCode::OpenBars,
        ActionCode::SetGroups,
        ActionCode::BetterMeter,
        ActionCode::FinerMeter,
        ActionCode::EnterLimit,
        ActionCode::Done,
    ];
    let mut sentences: Vec<String> = Vec::new();
    for language in LANGUAGES {
        sentences.extend(CODES.iter().map(|code| code_sentence(*code, language).to_owned()));
        for code in actions {
            sentences.push(action_sentence(&doing(code, None), None, language));
            sentences.push(action_sentence(&doing(code, Some(3)), Some("Conductor 4"), language));
        }
    }
    for sentence in &sentences {
        assert!(sentence.ends_with('.') && !sentence.contains("{}"), "{sentence}");
        assert!(!sentence.to_uppercase().split(|c: char| !c.is_alphabetic()).any(|word| word == "OK"), "{sentence}");
    }
    let finer = action_sentence(&doing(ActionCode::FinerMeter, Some(3)), Some("Conductor 4"), Language::En);
    assert!(finer.contains("a few milliamps at most"), "{finer}");
}

#[test]
fn codes_come_out_sorted_by_their_words() {
    let words = CODES.map(|code| serde_json::to_string(&code).unwrap());
    let ordered: Vec<String> = BTreeSet::from(CODES).iter().map(|code| serde_json::to_string(code).unwrap()).collect();
    let mut sorted = words.to_vec();
    sorted.sort();
    assert_eq!(ordered, sorted);
}
