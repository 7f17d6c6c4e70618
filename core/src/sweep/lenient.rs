//! Case lines as other programs write them: a JSON object in one line, in which some writers put bare `NaN`,
//! `Infinity` and `-Infinity`, which JSON does not know, and numbers too large for a double.

use serde_json::{Map, Value};

/// Why a case line cannot be judged.
#[derive(Debug, thiserror::Error)]
pub enum LineError {
    /// Not JSON.
    #[error("not JSON: {0}")]
    Json(#[from] serde_json::Error),
    /// JSON, but no object.
    #[error("not a case: expected an object")]
    NotAnObject,
    /// A field that must be there is missing or has no usable value.
    #[error("field `{field}`: {want}")]
    Field {
        /// The field's name.
        field: &'static str,
        /// What is expected there.
        want: &'static str,
    },
}

/// Reads a case line into its fields. `+∞` becomes null (over-range, or "not given"); `NaN` and `-∞` become texts,
/// which are no readings.
pub(crate) fn fields(line: &str) -> Result<Map<String, Value>, LineError> {
    match serde_json::from_str(&with_json_numbers(line))? {
        Value::Object(map) => Ok(map),
        _ => Err(LineError::NotAnObject),
    }
}

/// True for a case of this `test`; without a `test`, for one that has the field only such cases have.
pub(crate) fn is_of(case: &Map<String, Value>, test: &str, own_field: &str) -> bool {
    match case.get("test") {
        None | Some(Value::Null) => case.contains_key(own_field),
        Some(named) => named.as_str() == Some(test),
    }
}

/// A finite number, or nothing: null, texts, lists and truth values are not numbers.
pub(crate) fn number(value: Option<&Value>) -> Option<f64> {
    match value {
        Some(Value::Number(number)) => number.as_f64().filter(|x| x.is_finite()),
        _ => None,
    }
}

/// The display step of a case, which must be a number above 0.
pub(crate) fn resolution(case: &Map<String, Value>) -> Result<f64, LineError> {
    number(case.get("resolution"))
        .filter(|q| *q > 0.0)
        .ok_or(LineError::Field { field: "resolution", want: "a display step in ohm above 0" })
}

/// A reading of a case: `Some(None)` is over-range (null or 1000 and more), `None` is no reading.
pub(crate) fn reading(value: &Value) -> Option<Option<f64>> {
    match value {
        Value::Null => Some(None),
        Value::Number(_) => number(Some(value)).map(Some),
        _ => None,
    }
}

/// Rewrites what JSON does not know, outside of texts.
fn with_json_numbers(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    let mut rest = line;
    while let Some(first) = rest.chars().next() {
        let length = if first == '"' {
            text_length(rest)
        } else if first.is_ascii_alphanumeric() || first == '-' {
            rest.find(|c: char| !(c.is_ascii_alphanumeric() || "+-.".contains(c))).unwrap_or(rest.len())
        } else {
            first.len_utf8()
        };
        let (token, after) = rest.split_at(length);
        out.push_str(rewritten(token));
        rest = after;
    }
    out
}

/// Bytes of a text from its opening to its closing quote, or to the end of the line when it is not closed.
fn text_length(text: &str) -> usize {
    let mut escaped = false;
    for (at, c) in text.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return at + 1,
            _ => {}
        }
    }
    text.len()
}

fn rewritten(token: &str) -> &str {
    match token {
        "NaN" | "-NaN" => "\"NaN\"",
        "Infinity" => "null",
        "-Infinity" => "\"-Infinity\"",
        _ if token.starts_with(|c: char| c.is_ascii_digit() || c == '-') => match token.parse::<f64>() {
            Ok(x) if x == f64::INFINITY => "null",
            Ok(x) if x == f64::NEG_INFINITY => "\"-Infinity\"",
            _ => token,
        },
        _ => token,
    }
}
