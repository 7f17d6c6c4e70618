//! The product against outside libraries, case by case: see `tests/reference/README.md`.
//!
//! The cases come from `tests/reference/cases.py`; `make test` writes them and says where. Without them every test here
//! fails: a comparison that did not take place is no comparison that held.

use evenwire_core::copper;
use evenwire_core::dtc::{NotATroubleCode, StandardCode, TroubleCode};
use evenwire_core::meter::{Decoder, FrameError, Shown, link::Channel};
use evenwire_core::sweep::plan::{PlacedMark, place_at};
use evenwire_core::sweep::{self, JUMP_OHM, MIN_S, SweepInput, SweepSample};
use evenwire_core::torque::{self, Adapter, Torque, TorqueUnit, WrenchRange};
use evenwire_core::unit::{Decimal, Millis};
use evenwire_core::verdict::{
    self, ConductorReadings, Leads, Limit, LimitVerdict, MeterSpec, PartReadings, ResistorReading, ResistorResult,
    Rules, Sample, Verdict,
};
use evenwire_core::vin::{Vin, VinCheck};
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::LazyLock;
use uuid::Uuid;

const PATH: &str = "EVENWIRE_REFERENCE_CASES";

/// Everything compared here, with the fewest cases that count as a comparison.
const COMPARED: [(&str, usize); 21] = [
    ("temperature-factor", 1000),
    ("resistance", 1000),
    ("wire-gauge", 44),
    ("torque", 2000),
    ("wrench-range", 1000),
    ("setting", 1000),
    ("vin", 1000),
    ("trouble-code", 1000),
    ("integer", 1000),
    ("medfloat16", 1000),
    ("medfloat32", 1000),
    ("float32", 1000),
    ("float64", 1000),
    ("statistics", 500),
    ("conformity", 1000),
    ("simple-group", 1000),
    ("known-good", 400),
    ("limit", 500),
    ("sweep", 300),
    ("resistor", 500),
    ("place", 500),
];

type Cases = BTreeMap<String, Vec<Value>>;

static CASES: LazyLock<Result<Cases, String>> = LazyLock::new(|| {
    let remedy = "run `make test`, or write the cases with tests/scripts/reference.sh and name the file it prints";
    let path = std::env::var(PATH).map_err(|_| format!("{PATH} is not set: {remedy}"))?;
    let text = std::fs::read_to_string(&path).map_err(|fault| format!("{PATH}={path}: {fault}: {remedy}"))?;
    let mut cases = Cases::new();
    for (at, line) in text.lines().enumerate() {
        let case: Value = serde_json::from_str(line).map_err(|fault| format!("{path}:{}: {fault}", at + 1))?;
        let of = case["of"].as_str().ok_or_else(|| format!("{path}:{}: no case", at + 1))?;
        cases.entry(of.to_owned()).or_default().push(case);
    }
    Ok(cases)
});

fn cases() -> &'static Cases {
    match &*CASES {
        Ok(cases) => cases,
        Err(remedy) => panic!("{remedy}"),
    }
}

/// Compares every case of one kind; says how many differ and shows the first of them.
fn compare(of: &str, differs: impl Fn(&Value, &Value) -> Option<String>) {
    let (_, fewest) = COMPARED.iter().find(|(name, _)| *name == of).expect("listed above");
    let cases = cases().get(of).map_or(&[] as &[Value], Vec::as_slice);
    assert!(cases.len() >= *fewest, "{of}: {} cases, at least {fewest} are a comparison", cases.len());
    let wrong: Vec<String> = cases
        .iter()
        .filter_map(|case| differs(&case["in"], &case["out"]).map(|what| format!("{what}\n    {case}")))
        .collect();
    let first = wrong.iter().take(3).map(String::as_str).collect::<Vec<_>>().join("\n  ");
    assert!(wrong.is_empty(), "{of}: {} of {} cases differ, first\n  {first}", wrong.len(), cases.len());
}

/// A number written as text, or as a number.
fn number(value: &Value) -> f64 {
    match value {
        Value::String(text) => text.parse().expect("a number"),
        other => other.as_f64().unwrap_or_else(|| panic!("{other} is no number")),
    }
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("{value} is no text"))
}

fn decimal(value: &Value) -> Decimal {
    Decimal::parse(text(value)).unwrap_or_else(|fault| panic!("{value}: {fault}"))
}

/// `None` when `got` is `want` within a share of it, or within `floor`.
fn share(what: &str, got: f64, want: f64, (share, floor): (f64, f64)) -> Option<String> {
    let holds = (got - want).abs() <= (share * want.abs()).max(floor);
    (!holds).then(|| format!("{what}: got {got}, want {want}"))
}

fn same(what: &str, got: impl ToString, want: &str) -> Option<String> {
    let got = got.to_string();
    (got != want).then(|| format!("{what}: got {got}, want {want}"))
}

/// Every kind of case that was written is compared, and nothing is compared that was not written.
#[test]
fn nothing_is_left_out() {
    let written: Vec<&str> = cases().keys().map(String::as_str).collect();
    let mut compared: Vec<&str> = COMPARED.iter().map(|(of, _)| *of).collect();
    compared.sort_unstable();
    assert_eq!(written, compared);
}

// --- copper ---

#[test]
fn temperature_factors_are_those_of_exact_fractions() {
    compare("temperature-factor", |given, answer| {
        let got = copper::temperature_factor(number(&given["from"]), number(&given["to"]));
        share("factor", got, number(&answer["factor"]), (1e-14, 0.0))
    });
}

#[test]
fn resistances_are_those_of_pint() {
    compare("resistance", |given, answer| {
        let got = copper::resistance(number(&given["length_m"]), number(&given["area_mm2"])).expect("a wire");
        share("ohm", got, number(&answer["ohm"]), (1e-13, 0.0))
    });
}

#[test]
fn wire_gauges_are_those_of_sixty_digits() {
    compare("wire-gauge", |given, answer| {
        let gauge = i8::try_from(given["number"].as_i64().expect("a gauge")).expect("a gauge");
        let diameter = copper::awg_diameter_mm(gauge).expect("a gauge");
        let area = copper::awg_cross_section_mm2(gauge).expect("a gauge");
        share("diameter", diameter, number(&answer["diameter_mm"]), (1e-14, 0.0))
            .or_else(|| share("area", area, number(&answer["area_mm2"]), (1e-14, 0.0)))
    });
}

// --- torque ---

fn unit(value: &Value) -> TorqueUnit {
    serde_json::from_value(value.clone()).expect("a unit")
}

fn torque_of(value: &Value, of: &Value) -> Torque {
    Torque::new(decimal(value), unit(of)).expect("a torque")
}

#[test]
fn torques_in_another_unit_are_those_of_pint_to_the_last_digit() {
    compare("torque", |given, answer| {
        let places = u8::try_from(given["places"].as_u64().expect("places")).expect("few");
        let shown = torque_of(&given["value"], &given["unit"]).shown_in(unit(&given["other"]), places);
        let back = shown.shown_in(unit(&given["unit"]), places).shown();
        same("shown", shown.shown(), text(&answer["shown"])).or_else(|| same("back", back, text(&given["value"])))
    });
}

#[test]
fn wrench_ranges_are_those_of_pint() {
    compare("wrench-range", |given, answer| {
        let wrench = torque_of(&given["most"], &given["most_unit"]);
        let place = match torque_of(&given["value"], &given["unit"]).suits(wrench) {
            WrenchRange::Below => "below",
            WrenchRange::Within => "within",
            WrenchRange::Above => "above",
        };
        same("range", place, text(&answer["range"]))
    });
}

#[test]
fn settings_are_those_of_cross_products() {
    compare("setting", |given, answer| {
        let torque = Torque::new(decimal(&given["torque"]), TorqueUnit::NewtonMetre).expect("a torque");
        let adapter = Adapter { length: decimal(&given["adapter"]), angle_degree: decimal(&given["angle"]) };
        let set = torque::setting(torque, decimal(&given["length"]), adapter).expect("a setting");
        share("set", set.value().to_f64(), number(&answer["set"]), (1e-13, 0.000_500_001))
    });
}

// --- identification ---

#[test]
fn check_digits_are_those_of_vininfo() {
    compare("vin", |given, answer| {
        let got = match Vin::parse(text(&given["vin"])).expect("a VIN").check() {
            VinCheck::Fits => text(&given["vin"])[8..9].to_owned(),
            VinCheck::Differs { fitting } => fitting.to_string(),
        };
        let fits = got == text(&given["vin"])[8..9];
        same("fitting", got, text(&answer["fitting"])).or_else(|| same("fits", fits, &answer["fits"].to_string()))
    });
}

#[test]
fn trouble_codes_are_those_of_their_bits() {
    compare("trouble-code", |given, answer| {
        let bytes = bytes(&given["bytes"]);
        let code = match *bytes.as_slice() {
            [high, low] => StandardCode::from_two([high, low]),
            [high, low, failure] => StandardCode::from_three([high, low, failure]),
            _ => panic!("{given} has two bytes or three"),
        };
        let (Some(code), Some(wanted)) = (code, answer["code"].as_str()) else {
            let none = code.is_none() && answer["code"].is_null();
            return (!none).then(|| format!("got {code:?}, want {}", answer["code"]));
        };
        let read = TroubleCode::parse(wanted);
        let reads_back = read == Ok::<_, NotATroubleCode>(TroubleCode::Standard(code));
        same("code", code, wanted).or_else(|| (!reads_back).then(|| format!("reads back as {read:?}")))
    });
}

// --- what a meter sends ---

fn bytes(value: &Value) -> Vec<u8> {
    let digits = text(value).as_bytes();
    let pair = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).expect("ASCII"), 16).expect("hexadecimal");
    digits.chunks(2).map(pair).collect()
}

/// What the display of a meter that describes itself so shows for one notification.
fn shown(given: &Value, answer: &Value) -> Option<String> {
    let channel = Channel {
        service: Uuid::from_u128(1),
        characteristic: Uuid::from_u128(2),
        notifies: true,
        presentation: Some(bytes(&given["descriptor"])),
        valid_range: None,
    };
    let places = given["places"].as_u64().map(|places| u8::try_from(places).expect("few"));
    let mut decoder = Decoder::for_presentation(&channel, places).expect("it can be read");
    let display = match decoder.push(&bytes(&given["bytes"]), Millis(0)).as_slice() {
        [Ok(reading)] => match reading.shown {
            Shown::Value(quantity) => quantity.to_string(),
            Shown::OverRange => "over-range".to_owned(),
            Shown::Blank => "blank".to_owned(),
        },
        [Err(FrameError::TooManyDigits)] => "refused".to_owned(),
        other => panic!("{other:?}"),
    };
    same("display", display, text(&answer["shown"]))
}

#[test]
fn integers_are_those_of_exact_decimals() {
    compare("integer", shown);
}

#[test]
fn short_medfloats_are_those_of_exact_decimals() {
    compare("medfloat16", shown);
}

#[test]
fn long_medfloats_are_those_of_exact_decimals() {
    compare("medfloat32", shown);
}

#[test]
fn single_floats_are_those_of_exact_decimals() {
    compare("float32", shown);
}

#[test]
fn double_floats_are_those_of_exact_decimals() {
    compare("float64", shown);
}

// --- statistics, through the verdict ---

/// A meter without an error of its own, so fine that its step counts for nothing.
const FINE: MeterSpec = MeterSpec { resolution: 1e-9, accuracy_pct: 0.0, accuracy_counts: 0.0 };

/// One conductor with zeroed leads.
fn judged(conductor: ConductorReadings, rules: &Rules) -> Verdict {
    let leads = Leads { zeroed: true, ..Leads::default() };
    let part = PartReadings { conductors: vec![conductor], leads, ..PartReadings::default() };
    verdict::judge(&part, &FINE, rules)
}

#[test]
fn means_and_deviations_are_those_of_exact_fractions() {
    let rules = Rules { tolerance_abs: 1e12, settle_abs: 1e12, open_ohm: f64::MAX, touch_u: 0.0, ..Rules::default() };
    compare("statistics", |given, answer| {
        let values: Vec<f64> = given["values"].as_array().expect("values").iter().map(number).collect();
        let sample = |x: &f64| Sample::Value(*x);
        let one_touch = ConductorReadings { touches: vec![values.iter().map(sample).collect()], ..Default::default() };
        let many =
            ConductorReadings { touches: values.iter().map(|x| vec![sample(x)]).collect(), ..Default::default() };
        let mean = judged(one_touch, &rules).conductors[0].value.expect("one touch");
        let deviation = judged(many, &rules).touch_u;
        let (want_mean, want_deviation) = (number(&answer["mean"]), number(&answer["deviation"]));
        // Two passes lose what rounding the mean to a binary float loses, squared.
        let lost = (f64::EPSILON * want_mean / want_deviation).powi(2);
        share("mean", mean, want_mean, (4.0 * f64::EPSILON, 1e-15))
            .or_else(|| share("deviation", deviation, want_deviation, (1e-12 + lost, 0.0)))
    });
}

fn result_of(limit: &LimitVerdict) -> String {
    serde_json::to_value(limit.result).expect("a word").as_str().expect("a word").to_owned()
}

#[test]
fn conformity_is_that_of_scipy() {
    compare("conformity", |given, answer| {
        let (value, u) = (number(&given["value"]), number(&given["u"]));
        let end = |name: &str| (!given[name].is_null()).then(|| number(&given[name]));
        let conductor = ConductorReadings {
            touches: vec![vec![Sample::Value(value)]],
            limit: Some(Limit { high: end("high"), low: end("low"), t: None }),
            ..ConductorReadings::default()
        };
        let rules = Rules { touch_u: u, ..Rules::default() };
        let limit = judged(conductor, &rules).conductors[0].limit.expect("a limit and a value");
        share("p", limit.probability, number(&answer["p"]), (0.0, 1e-11))
            .or_else(|| share("U", limit.expanded, 2.0 * u, (1e-10, 0.0)))
            .or_else(|| same("result", result_of(&limit), text(&answer["result"])))
    });
}

// --- whole verdicts and sweeps ---

/// Half a step of the six places an answer is printed with, and what is lost on the way.
const PRINTED: f64 = 0.6e-6;

/// `None` when `got` holds everything `want` says: numbers to the last place printed, all else exactly.
fn differs(path: &str, got: &Value, want: &Value) -> Option<String> {
    match (got, want) {
        (Value::Object(got), Value::Object(want)) => want
            .iter()
            .find_map(|(key, want)| differs(&format!("{path}.{key}"), got.get(key).unwrap_or(&Value::Null), want)),
        (Value::Array(got), Value::Array(want)) if got.len() == want.len() => {
            let mut pairs = got.iter().zip(want).enumerate();
            pairs.find_map(|(at, (got, want))| differs(&format!("{path}[{at}]"), got, want))
        }
        (Value::Number(_), Value::Number(_)) => share(path, number(got), number(want), (0.0, PRINTED)),
        _ => (got != want).then(|| format!("{path}: got {got}, want {want}")),
    }
}

fn line(given: &Value, answer: &Value) -> Option<String> {
    let judged = verdict::cases::judge_line(text(&given["line"])).expect("it can be judged").expect("a verdict line");
    differs("", &serde_json::from_str(&judged).expect("JSON"), answer)
}

#[test]
fn verdicts_on_simple_groups_are_those_of_gtc_and_scipy() {
    compare("simple-group", line);
}

#[test]
fn verdicts_by_a_known_good_part_are_those_of_gtc_and_scipy() {
    compare("known-good", line);
}

#[test]
fn verdicts_by_a_limit_are_those_of_gtc_and_scipy() {
    compare("limit", line);
}

#[test]
fn baselines_of_sweeps_are_those_of_numpy_and_scipy() {
    compare("sweep", |given, answer| {
        let samples = given["samples"].as_array().expect("samples").iter().map(|sample| SweepSample {
            t: number(&sample[0]),
            ohms: (!sample[1].is_null()).then(|| number(&sample[1])),
            angle: None,
        });
        let input =
            SweepInput { resolution: number(&given["step"]), samples: samples.collect(), jump: JUMP_OHM, min_s: MIN_S };
        let outcome = sweep::examine(&input);
        let verdict = serde_json::to_value(outcome.verdict).expect("a word");
        let numbers = [
            ("baseline", outcome.baseline),
            ("slope", outcome.slope),
            ("noise", outcome.noise),
            ("threshold", outcome.threshold),
            ("rate", outcome.rate),
        ];
        let wrong = numbers
            .iter()
            .find_map(|(name, got)| share(name, got.unwrap_or(f64::NAN), number(&answer[*name]), (1e-9, 1e-12)));
        wrong.or_else(|| same("verdict", text(&verdict), text(&answer["verdict"])))
    });
}

#[test]
fn known_resistors_are_judged_as_gtc_would() {
    compare("resistor", |given, answer| {
        let line = &given["line"];
        let ohm = |value: &Value| (!value.is_null()).then(|| number(value));
        let leads = &line["leads"];
        let reading = ResistorReading {
            ohm: number(&given["ohm"]),
            resistor: number(&given["resistor"]),
            tolerance_pct: number(&given["percent"]),
            leads: Leads {
                zeroed: leads["zeroed"].as_bool().expect("said"),
                zero: ohm(&leads["zero"]),
                zero_end: ohm(&leads["zero_end"]),
            },
        };
        let meter = MeterSpec {
            resolution: number(&line["resolution"]),
            accuracy_pct: number(&line["accuracy"]["pct"]),
            accuracy_counts: number(&line["accuracy"]["counts"]),
        };
        let (result, difference, allowed) = verdict::check_resistor(&reading, &meter, &Rules::default());
        let word = match result {
            ResistorResult::Within => "within",
            ResistorResult::Outside => "outside",
            ResistorResult::Undecided => "undecided",
        };
        share("difference", difference, number(&answer["difference"]), (0.0, 1e-12))
            .or_else(|| share("allowed", allowed, number(&answer["allowed"]), (1e-12, 0.0)))
            .or_else(|| same("result", word, text(&answer["result"])))
    });
}

#[test]
fn places_between_marks_are_those_of_numpy() {
    compare("place", |given, answer| {
        let whole = |value: &Value| value.as_u64().expect("milliseconds");
        let marks: Vec<PlacedMark> = given["marks"]
            .as_array()
            .expect("marks")
            .iter()
            .map(|mark| PlacedMark {
                at_ms: Millis(whole(&mark[0])),
                milli: i32::try_from(mark[1].as_i64().expect("thousandths")).expect("a few turns"),
            })
            .collect();
        match (place_at(&marks, Millis(whole(&given["at"]))), &answer["place"]) {
            (None, Value::Null) => None,
            (Some((milli, off)), Value::Object(want)) => share("place", milli, number(&want["milli"]), (0.0, 1e-9))
                .or_else(|| share("off by", off, number(&want["off"]), (1e-14, 0.0))),
            (got, want) => Some(format!("place: got {got:?}, want {want}")),
        }
    });
}
