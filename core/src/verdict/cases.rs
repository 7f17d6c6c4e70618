//! Verdict case lines: one JSON object in, one out. Used by `evenwire-cli judge` and by the golden cases.

use super::words::{Language, action_sentence};
use super::{
    ConductorReadings, ConductorVerdict, GroupVerdict, KnownGood, KnownGoodLevel, Leads, Limit, MeterSpec,
    PartReadings, Rules, Sample, Tolerance, Verdict, judge,
};
use crate::sweep::SweepVerdict;
use crate::sweep::lenient::{fields, is_of, number, reading, resolution};
use crate::sweep::numbers::six_places;
use serde_json::{Map, Value, json};

pub use crate::sweep::lenient::LineError;

/// Judges one line. `Ok(None)` for a line of another `test`. The answer is one line of JSON without its end.
///
/// A line without `test` is one of these if it has `conductors`. Takes `resolution` (ohm, above 0), `accuracy`,
/// `leads`, `t`, `bars_open`, `ceiling`, `tolerance`, `known_good`, `conductors`, and `id` (copied through). A field
/// that is missing or null has its default; unknown fields are ignored. A reading of null, or of 1000 and more, is
/// over-range; what is no number is no reading.
pub fn judge_line(line: &str) -> Result<Option<String>, LineError> {
    let case = fields(line)?;
    if !is_of(&case, "verdict", "conductors") {
        return Ok(None);
    }
    let (part, meter) = input(&case)?;
    let verdict = judge(&part, &meter, &Rules::default());
    Ok(Some(answer(case.get("id").unwrap_or(&Value::Null), &verdict, &meter).to_string()))
}

/// The verdict on a line; `None` for a line of another `test`.
#[cfg(test)]
pub(crate) fn judged(line: &str) -> Result<Option<Verdict>, LineError> {
    Ok(readings(line)?.map(|(part, meter)| judge(&part, &meter, &Rules::default())))
}

/// What a line judges; `None` for a line of another `test`.
#[cfg(test)]
pub(crate) fn readings(line: &str) -> Result<Option<(PartReadings, MeterSpec)>, LineError> {
    let case = fields(line)?;
    if is_of(&case, "verdict", "conductors") { input(&case).map(Some) } else { Ok(None) }
}

fn input(case: &Map<String, Value>) -> Result<(PartReadings, MeterSpec), LineError> {
    let mut meter = MeterSpec::handheld(resolution(case)?);
    if let Some(accuracy) = case.get("accuracy") {
        meter.accuracy_pct = number(accuracy.get("pct")).unwrap_or(meter.accuracy_pct);
        meter.accuracy_counts = number(accuracy.get("counts")).unwrap_or(meter.accuracy_counts);
    }
    let leads = case.get("leads").unwrap_or(&Value::Null);
    let part = PartReadings {
        conductors: conductors(case.get("conductors"))?,
        bars_open: case.get("bars_open").and_then(Value::as_bool),
        temperature: number(case.get("t")),
        leads: Leads {
            zeroed: leads.get("zeroed").and_then(Value::as_bool).unwrap_or(false),
            zero: number(leads.get("zero")),
            zero_end: number(leads.get("zero_end")),
        },
        ceiling: number(case.get("ceiling")),
        tolerance: case.get("tolerance").and_then(tolerance),
        known_good: case.get("known_good").and_then(known_good),
    };
    Ok((part, meter))
}

fn tolerance(value: &Value) -> Option<Tolerance> {
    let (abs, rel) = (number(value.get("abs")), number(value.get("rel")));
    let rules = Rules::default();
    (abs.is_some() || rel.is_some())
        .then(|| Tolerance { abs: abs.unwrap_or(rules.tolerance_abs), rel: rel.unwrap_or(rules.tolerance_rel) })
}

fn known_good(value: &Value) -> Option<KnownGood> {
    match value.get("groups") {
        Some(Value::Object(groups)) => Some(KnownGood::ByGroup(
            groups.iter().filter_map(|(name, level)| Some((name.clone(), known_good_level(level)?))).collect(),
        )),
        _ => known_good_level(value).map(KnownGood::Everywhere),
    }
}

fn known_good_level(value: &Value) -> Option<KnownGoodLevel> {
    Some(KnownGoodLevel {
        value: number(value.get("value"))?,
        u: number(value.get("u")).unwrap_or(0.0),
        t: number(value.get("t")),
        same_meter: value.get("same_meter").and_then(Value::as_bool).unwrap_or(true),
    })
}

fn conductors(value: Option<&Value>) -> Result<Vec<ConductorReadings>, LineError> {
    let wrong = LineError::Field { field: "conductors", want: "a list of objects" };
    match value {
        None | Some(Value::Null) => Ok(Vec::new()),
        Some(Value::Array(list)) if list.iter().all(Value::is_object) => list.iter().map(conductor).collect(),
        Some(_) => Err(wrong),
    }
}

fn conductor(value: &Value) -> Result<ConductorReadings, LineError> {
    let touches = match value.get("touches") {
        None | Some(Value::Null) => Vec::new(),
        Some(Value::Array(touches)) => touches.iter().map(touch).collect(),
        Some(_) => return Err(LineError::Field { field: "touches", want: "a list of lists of readings" }),
    };
    let group = match value.get("group") {
        None | Some(Value::Null) => None,
        Some(Value::String(name)) => Some(name.clone()),
        Some(other) => Some(other.to_string()),
    };
    let limit = value.get("limit").filter(|limit| limit.is_object()).map(|limit| Limit {
        high: number(limit.get("high")),
        low: number(limit.get("low")),
        t: number(limit.get("t")),
    });
    let sweep = match value.get("sweep") {
        None | Some(Value::Null) => None,
        Some(word) => Some(
            serde_json::from_value::<SweepVerdict>(word.clone())
                .map_err(|_| LineError::Field { field: "sweep", want: "null or a sweep verdict such as \"steady\"" })?,
        ),
    };
    Ok(ConductorReadings { group, touches, limit, sweep, touches_something: false })
}

/// What is no list of readings holds no reading, and so is no touch.
fn touch(value: &Value) -> Vec<Sample> {
    let samples = value.as_array().map_or(&[] as &[Value], Vec::as_slice);
    samples.iter().filter_map(reading).map(|ohms| ohms.map_or(Sample::OverRange, Sample::Value)).collect()
}

fn answer(id: &Value, verdict: &Verdict, meter: &MeterSpec) -> Value {
    let name = verdict.action.conductor.map(|i| format!("Conductor {}", i + 1));
    let mut text = action_sentence(&verdict.action, name.as_deref(), Language::En);
    if verdict.action.code == super::ActionCode::FinerMeter
        && let Some(against) = verdict.action.conductor.and_then(|i| step_against(verdict, i, meter))
    {
        text = format!("{text} {against}");
    }
    json!({
        "id": id,
        "set": verdict.set,
        "reasons": verdict.reasons,
        "action": { "code": verdict.action.code, "conductor": verdict.action.conductor, "text": text },
        "conductors": verdict.conductors.iter().map(conductor_answer).collect::<Vec<_>>(),
        "groups": verdict.groups.iter().map(|(name, group)| (name.clone(), group_answer(group))).collect::<Map<_, _>>(),
    })
}

/// "A step of 0.1 ohm cannot separate 0.3 from 0.6."
fn step_against(verdict: &Verdict, index: usize, meter: &MeterSpec) -> Option<String> {
    let conductor = &verdict.conductors[index];
    let value = conductor.value?;
    let reference = value - conductor.deviation?;
    let (step, reference, value) = (six_places(meter.resolution), six_places(reference), six_places(value));
    Some(format!("A step of {step} ohm cannot separate {reference} from {value}."))
}

fn conductor_answer(conductor: &ConductorVerdict) -> Value {
    let mut answer = json!({
        "verdict": conductor.state,
        "provisional": conductor.provisional,
        "basis": conductor.basis,
        "value": conductor.value.map(six_places),
        "deviation": conductor.deviation.map(six_places),
        "u": conductor.u.map(six_places),
        "U": conductor.expanded.map(six_places),
        "p": conductor.probability.map(six_places),
        "touches": conductor.touches,
        "codes": conductor.codes,
    });
    if let Some(limit) = &conductor.limit {
        answer["limit"] = json!({
            "value": six_places(limit.value),
            "u": six_places(limit.u),
            "U": six_places(limit.expanded),
            "high": limit.high.map(six_places),
            "low": limit.low.map(six_places),
            "result": limit.result,
            "p": six_places(limit.probability),
        });
    }
    answer
}

fn group_answer(group: &GroupVerdict) -> Value {
    json!({
        "kind": group.kind,
        "reference": group.reference.map(six_places),
        "u_ref": group.u_ref.map(six_places),
        "tolerance": group.tolerance.map(six_places),
        "low_tolerance": group.low_tolerance.map(six_places),
        "members": group.members,
        "lower": group.lower,
        "level": group.level,
    })
}
