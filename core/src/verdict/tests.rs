use super::*;
use crate::sweep::cases as sweep_cases;
use serde_json::Value;

const PUBLIC: &str = include_str!("../../../tests/data/cases-public.jsonl");

/// Where an answer differs from what is expected: numbers to 1e-6, codes and reasons as sets, nulls too.
pub(crate) fn differences(path: &str, want: &Value, got: &Value, out: &mut Vec<String>) {
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
