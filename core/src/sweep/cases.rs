//! Sweep case lines: one JSON object in, one out. Used by `evenwire-cli sweep` and by the golden cases.

use super::lenient::{fields, is_of, number, reading, resolution};
use super::numbers::six_places;
use super::{JUMP_OHM, MIN_S, SweepInput, SweepOutcome, SweepSample, examine};
use serde_json::{Map, Value, json};

pub use super::lenient::LineError;

/// Judges one line. `Ok(None)` for a line of another `test`. The answer is one line of JSON without its end.
///
/// A line without `test` is one of these if it has `samples`.
/// Takes `resolution` (ohm, above 0), `samples` (`[seconds, ohm or null, degrees?]`), `jump` (ohm, default 0.05),
/// `min_s` (seconds, default 10), `id` (copied through). Unknown fields are ignored.
pub fn judge_line(line: &str) -> Result<Option<String>, LineError> {
    let case = fields(line)?;
    if !is_of(&case, "sweep", "samples") {
        return Ok(None);
    }
    let outcome = examine(&input(&case)?);
    Ok(Some(answer(case.get("id").unwrap_or(&Value::Null), &outcome).to_string()))
}

fn input(case: &Map<String, Value>) -> Result<SweepInput, LineError> {
    let samples = match case.get("samples") {
        Some(Value::Array(samples)) => samples.iter().map(sample).collect(),
        None | Some(Value::Null) => Vec::new(),
        Some(_) => {
            return Err(LineError::Field { field: "samples", want: "a list of [seconds, ohm or null, degrees?]" });
        }
    };
    Ok(SweepInput {
        resolution: resolution(case)?,
        samples,
        jump: number(case.get("jump")).filter(|j| *j > 0.0).unwrap_or(JUMP_OHM),
        min_s: number(case.get("min_s")).filter(|s| *s >= 0.0).unwrap_or(MIN_S),
    })
}

/// What is not a reading keeps its place as NaN, so that the examination counts it among the bad ones.
fn sample(value: &Value) -> SweepSample {
    let part = |i: usize| value.get(i);
    SweepSample {
        t: number(part(0)).unwrap_or(f64::NAN),
        ohms: part(1).and_then(reading).unwrap_or(Some(f64::NAN)),
        angle: number(part(2)),
    }
}

fn answer(id: &Value, outcome: &SweepOutcome) -> Value {
    let events: Vec<Value> = outcome
        .events
        .iter()
        .map(|event| {
            json!({
                "kind": event.kind,
                "start": six_places(event.start),
                "duration": six_places(event.duration),
                "samples": event.samples,
                "peak": event.peak.map(six_places),
                "angle": event.angle.map(six_places),
            })
        })
        .collect();
    let gaps: Vec<[f64; 2]> = outcome.gaps.iter().map(|gap| [six_places(gap.start), six_places(gap.length)]).collect();
    json!({
        "id": id,
        "verdict": outcome.verdict,
        "codes": outcome.codes,
        "events": events,
        "baseline": outcome.baseline.map(six_places),
        "slope": outcome.slope.map(six_places),
        "noise": outcome.noise.map(six_places),
        "threshold": outcome.threshold.map(six_places),
        "gaps": gaps,
        "rate": outcome.rate.map(six_places),
    })
}
