//! A verdict on paper is the verdict that was given.

use super::*;
use crate::verdict::cases::judged;
use proptest::prelude::*;

const PUBLIC: &str = include_str!("../../../../tests/data/cases-public.jsonl");

/// Every number of `verdict`, in a fixed order; a missing one is NaN.
fn numbers(verdict: &Verdict) -> Vec<f64> {
    let mut all = vec![verdict.touch_u];
    let mut put = |number: Option<f64>| all.push(number.unwrap_or(f64::NAN));
    for c in &verdict.conductors {
        [c.value, c.deviation, c.u, c.expanded, c.probability].into_iter().for_each(&mut put);
        if let Some(l) = &c.limit {
            [Some(l.value), Some(l.u), Some(l.expanded), l.high, l.low, Some(l.probability)]
                .into_iter()
                .for_each(&mut put);
        }
    }
    for g in verdict.groups.values() {
        [g.reference, g.u_ref, g.tolerance, g.low_tolerance].into_iter().for_each(&mut put);
    }
    all
}

/// The same verdict with all its numbers taken out.
fn words(verdict: &Verdict) -> Verdict {
    let mut words = verdict.clone();
    words.touch_u = 0.0;
    for c in &mut words.conductors {
        for number in [&mut c.value, &mut c.deviation, &mut c.u, &mut c.expanded, &mut c.probability] {
            *number = number.map(|_| 0.0);
        }
        if let Some(l) = &mut c.limit {
            (l.value, l.u, l.expanded, l.probability) = (0.0, 0.0, 0.0, 0.0);
            (l.high, l.low) = (l.high.map(|_| 0.0), l.low.map(|_| 0.0));
        }
    }
    for g in words.groups.values_mut() {
        for number in [&mut g.reference, &mut g.u_ref, &mut g.tolerance, &mut g.low_tolerance] {
            *number = number.map(|_| 0.0);
        }
    }
    words
}

#[test]
fn the_public_cases_come_back_from_paper_to_a_millionth() {
    let mut seen = 0;
    for line in PUBLIC.lines() {
        let Some(verdict) = judged(line).unwrap() else { continue };
        // Conductors 3, 5, 7 … of a part: the others were not measured.
        let indices: Vec<u32> = (0u32..).map(|i| 3 + 2 * i).take(verdict.conductors.len()).collect();
        let written = Judgement::write(&verdict, &indices);
        let json = serde_json::to_string(&written).unwrap();
        let again: Judgement = serde_json::from_str(&json).unwrap();
        assert_eq!(again, written);
        assert!(!json.contains("e-") && !json.contains("NaN"), "{json}");
        assert!(written.conductors.iter().all(|c| indices.contains(&c.conductor)));
        assert_eq!(written.action_conductor, verdict.action.conductor.map(|i| indices[i]));
        let read = again.read();
        assert_eq!(words(&read), words(&verdict), "{line}");
        let pairs = numbers(&read).into_iter().zip(numbers(&verdict));
        for (got, want) in pairs {
            assert!((got - want).abs() <= 0.500_001e-6 || (got.is_nan() && want.is_nan()), "{got} {want}: {line}");
        }
        seen += 1;
    }
    assert_eq!(seen, 53);
}

#[test]
fn no_binary_float_stands_in_a_written_verdict() {
    fn floats(value: &serde_json::Value) -> usize {
        match value {
            serde_json::Value::Number(number) => usize::from(number.is_f64()),
            serde_json::Value::Array(list) => list.iter().map(floats).sum(),
            serde_json::Value::Object(map) => map.values().map(floats).sum(),
            _ => 0,
        }
    }
    let verdict = judged(PUBLIC.lines().next().unwrap()).unwrap().unwrap();
    let written = serde_json::to_value(Judgement::write(&verdict, &[0, 1, 2, 3])).unwrap();
    assert_eq!(floats(&written), 0);
    assert_eq!(written["conductors"][3]["deviation"], "11.666667");
}

proptest! {
    #[test]
    fn every_figure_comes_back(value in prop_oneof![-2e3..2e3f64, -1e25..1e25f64, -1e-5..1e-5f64]) {
        let figure = Figure::write(value);
        let again = Figure::try_from(String::from(figure.clone())).unwrap();
        prop_assert_eq!(&again, &figure);
        prop_assert!((again.read() - value).abs() <= 0.5e-6 + value.abs() * 1e-15);
        if value.abs() < 1e9 {
            prop_assert_eq!(figure.millionths(), (value * 1e6).round_ties_even() as i64);
        }
    }

    #[test]
    fn any_text_is_a_figure_or_not(text in "-?[0-9]{0,40}[.]?[0-9]{0,7}") {
        if let Ok(figure) = Figure::try_from(text) {
            prop_assert!(figure.read().is_finite());
            let _ = figure.millionths();
        }
    }
}
