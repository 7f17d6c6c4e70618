//! Case lines as other programs write them.

use crate::verdict::cases::judge_line;
use proptest::prelude::*;
use serde_json::{Value, json};

fn answer(line: &str) -> Value {
    serde_json::from_str(&judge_line(line).unwrap().unwrap()).unwrap()
}

fn case(conductors: &Value) -> Value {
    json!({"test": "verdict", "resolution": 0.01, "leads": {"zeroed": true}, "conductors": conductors})
}

#[test]
fn missing_fields_have_their_defaults_and_unknown_ones_do_not_matter() {
    let bare =
        answer(r#"{"test":"verdict","resolution":0.1,"conductors":[{"touches":[[0.3]],"colour":"red"}],"x":{}}"#);
    assert_eq!(bare["id"], Value::Null);
    assert_eq!(bare["reasons"], json!(["LEADS_NOT_ZEROED", "LEVEL_UNVERIFIED", "NOTHING_TO_COMPARE"]));
    assert_eq!(bare["groups"][""]["kind"], "lone");
    let nulls = answer(
        r#"{"test":"verdict","resolution":0.1,"accuracy":null,"leads":null,"t":null,"bars_open":null,"ceiling":null,
        "tolerance":null,"known_good":null,"conductors":[{"group":null,"touches":[[0.3]],"limit":null,"sweep":null}]}"#,
    );
    assert_eq!(bare, nulls);
}

#[test]
fn what_is_no_number_is_no_reading_and_never_open() {
    let line = r#"{"test":"verdict","resolution":0.01,"conductors":[
        {"touches":[[NaN,-Infinity,"0.3",true,{},[],"OL"],["-inf"]]},
        {"touches":[[Infinity,1e400,null,1000],[1000.0]]},
        {"touches":[[999.99]]}]}"#;
    let answer = answer(line);
    assert_eq!(answer["conductors"][0]["codes"], json!(["NOT_MEASURED"]));
    assert_eq!(answer["conductors"][0]["touches"], 0);
    assert_eq!(answer["conductors"][1]["verdict"], "open");
    assert_eq!(answer["conductors"][2]["value"], 999.99);
}

#[test]
fn what_cannot_be_judged_is_said_and_other_tests_are_skipped() {
    assert_eq!(judge_line(r#"{"test":"sweep","samples":[]}"#).unwrap(), None);
    assert_eq!(judge_line(r#"{"samples":[]}"#).unwrap(), None);
    for (line, what) in [
        ("nonsense", "not JSON"),
        ("7", "expected an object"),
        (r#"{"test":"verdict"}"#, "`resolution`"),
        (r#"{"test":"verdict","resolution":NaN}"#, "`resolution`"),
        (r#"{"test":"verdict","resolution":1,"conductors":{}}"#, "`conductors`"),
        (r#"{"test":"verdict","resolution":1,"conductors":[7]}"#, "`conductors`"),
        (r#"{"test":"verdict","resolution":1,"conductors":[{"touches":0.3}]}"#, "`touches`"),
        (r#"{"test":"verdict","resolution":1,"conductors":[{"sweep":"fine"}]}"#, "`sweep`"),
    ] {
        let error = judge_line(line).unwrap_err().to_string();
        assert!(error.contains(what), "{line}: {error}");
    }
}

#[test]
fn known_good_comes_for_all_or_by_group_name_the_undeclared_one_empty() {
    let mut case = case(&json!([{"touches": [[0.9], [0.9]]}, {"group": "b", "touches": [[0.9], [0.9]]}]));
    case["known_good"] = json!({"value": 0.3, "u": 0.03});
    let all = answer(&case.to_string());
    assert_eq!((&all["groups"][""]["kind"], &all["groups"]["b"]["kind"]), (&json!("known-good"), &json!("known-good")));
    case["known_good"] = json!({"groups": {"": {"value": 0.3, "u": 0.03}, "b": null}});
    let named = answer(&case.to_string());
    assert_eq!((&named["groups"][""]["kind"], &named["groups"]["b"]["kind"]), (&json!("known-good"), &json!("lone")));
}

#[test]
fn numbers_have_six_places_and_the_action_says_what_to_do() {
    let conductors: Vec<Value> = [0.3, 0.3, 0.3, 0.6].iter().map(|x| json!({"touches": [[x], [x]]})).collect();
    let mut case = case(&json!(conductors));
    case["resolution"] = json!(0.1);
    let answer = answer(&case.to_string());
    // u^2 = u_i^2 + u_i^2/3 + (0.008 x 0.3)^2/3 with u_i^2 = 0.1^2/12 + 0.03^2/2.
    assert_eq!(answer["conductors"][3]["u"].to_string(), "0.041389");
    let text = answer["action"]["text"].as_str().unwrap();
    assert!(text.contains("smaller step") && text.contains("cannot separate 0.3 from 0.6"), "{text}");
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::Bool),
        any::<f64>().prop_map(|x| json!(x)),
        (0.0..2.0).prop_map(|x| json!(x)),
        "[a-z\"\\\\]{0,4}".prop_map(Value::String),
    ];
    leaf.prop_recursive(3, 24, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::Array),
            prop::collection::btree_map(
                prop::sample::select(vec!["touches", "group", "limit", "high", "low", "t", "value", "u", "groups"]),
                inner,
                0..5
            )
            .prop_map(|map| map.into_iter().map(|(k, v)| (k.to_owned(), v)).collect()),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 400, rng_seed: prop::test_runner::RngSeed::Fixed(3), failure_persistence: None, ..Default::default()
    })]

    #[test]
    fn no_line_breaks_it(text in ".{0,60}", fields in prop::collection::vec(any_json(), 8)) {
        let _ = judge_line(&text);
        let names = ["accuracy", "leads", "t", "bars_open", "ceiling", "tolerance", "known_good", "conductors"];
        let mut case = json!({"test": "verdict", "resolution": 0.01});
        for (name, value) in names.iter().zip(fields) {
            case[*name] = value;
        }
        if let Ok(Some(answer)) = judge_line(&case.to_string()) {
            let answer: Value = serde_json::from_str(&answer).unwrap();
            let conductors = answer["conductors"].as_array().unwrap();
            prop_assert!(answer["set"] != "pass" || conductors.iter().all(|c| c["verdict"] == "consistent"));
        }
    }
}
