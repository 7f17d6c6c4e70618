//! The JSON Schema of a procedure file, for editors that help while writing. It says which keys and words there are;
//! whether they fit together and are safe, only [`Procedure::parse`](super::Procedure::parse) tells.
//!
//! Written by hand beside the reader, which has no types a schema could be derived from: it reads key by key to tell
//! every mistake at its place. A test asks the reader for the keys it knows and compares.

use super::amount::Dimension;
use super::fact::{Fact, MAX_ID};
use super::read::STATUSES;
use super::read_circuits::{AT_ENDS, CLASSES};
use super::read_kind::{KINDS, ORIGINS, WHEN};
use super::read_step::{EVIDENCE, MOST_LOOSE, SIGN_OFFS, caution_words};
use super::texts::{INSTRUCTION, LANGUAGES, PASSAGE, Shape, TITLE};
use super::{MAX_STEPS, circuits};
use crate::part::{MAX_CAVITIES, MAX_CONDUCTORS, MAX_CONNECTORS};
use crate::sweep::plan::MOST;
use serde_json::{Map, Value, json};

/// A key, what may stand there, and whether it has to be there.
type Key = (&'static str, Value, bool);

/// The schema.
pub fn schema() -> Value {
    let keys = vec![
        ("format", json!({ "const": 1 }), true),
        ("id", id(), true),
        ("version", json!({ "type": "integer", "minimum": 1, "maximum": 999_999 }), true),
        ("author", name(), true),
        ("reviewer", name(), false),
        ("date", json!({ "type": "string", "format": "date" }), true),
        ("status", words(STATUSES.map(|(word, _)| word)), true),
        ("languages", list(words(LANGUAGES.map(|(word, _)| word)), 2), true),
        ("title", texts(TITLE), true),
        ("applies_to", texts(PASSAGE), true),
        ("tools", list(texts(TITLE), 32), false),
        ("parts_to_renew", list(texts(TITLE), 32), false),
        ("part", texts(TITLE), true),
        ("sources", list(object(vec![("id", id(), true), ("text", texts(PASSAGE), true)]), 64), false),
        ("connectors", list(connector(), MAX_CONNECTORS), true),
        ("conductors", list(conductor(), MAX_CONDUCTORS), true),
        ("bars", list(bar(), circuits::MAX_BARS), false),
        ("steps", list(json!({ "oneOf": KINDS.map(step) }), MAX_STEPS), true),
    ];
    let mut schema = object(keys);
    schema["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    schema["title"] = json!("Evenwire procedure file");
    schema
}

/// The schema as it lies in `schema.json`.
pub fn text() -> String {
    serde_json::to_string_pretty(&schema()).expect("a tree of plain values") + "\n"
}

fn connector() -> Value {
    object(vec![
        ("name", name(), true),
        ("cavities", whole(1, MAX_CAVITIES.into()), true),
        ("rows", whole(1, 4), false),
        ("inflator", id(), false),
        ("restraint", flag(), false),
    ])
}

fn conductor() -> Value {
    let end = || {
        object(vec![
            ("connector", name(), true),
            ("cavity", whole(1, MAX_CAVITIES.into()), true),
            ("at", words(AT_ENDS.map(|(word, _)| word)), true),
        ])
    };
    object(vec![
        ("id", id(), true),
        ("name", texts(TITLE), false),
        ("class", words(CLASSES.map(|(word, _)| word)), true),
        ("group", id(), false),
        ("from", end(), true),
        ("to", end(), true),
        ("drawn_only", flag(), false),
        ("colour", texts(TITLE), false),
        ("size", amount(Dimension::Area), false),
    ])
}

fn bar() -> Value {
    object(vec![
        ("id", id(), true),
        ("pair", json!({ "type": "array", "items": id(), "minItems": 2, "maxItems": 2 }), true),
        ("plugs", list(name(), MAX_CONNECTORS), false),
        ("opened_by", texts(TITLE), true),
    ])
}

/// A step of this kind, with everything that may stand in it.
fn step(kind: &'static str) -> Value {
    let cautions: Vec<String> = caution_words().into_iter().map(|(word, _)| word).collect();
    let mut keys = vec![
        ("id", id(), true),
        ("kind", json!({ "const": kind }), true),
        ("title", texts(TITLE), true),
        ("text", texts(INSTRUCTION), true),
        ("picture", id(), false),
        ("cautions", list(json!({ "enum": cautions }), 64), false),
        ("needs", facts(), false),
        ("after", list(id(), 64), false),
        ("gives", facts(), false),
        ("cancels", facts(), false),
        ("plugs", list(name(), MAX_CONNECTORS), false),
        ("battery_on", flag(), false),
        ("loads_out", whole(0, MOST_LOOSE), false),
        ("loads_in", whole(0, MOST_LOOSE), false),
        ("locks_out", whole(0, MOST_LOOSE), false),
        ("locks_in", whole(0, MOST_LOOSE), false),
        ("evidence", list(words(EVIDENCE.map(|(word, _)| word)), 64), false),
        ("skip", texts(INSTRUCTION), false),
        ("sign_off", words(SIGN_OFFS.map(|(word, _)| word)), false),
    ];
    keys.extend(own(kind));
    object(keys)
}

/// What only a step of this kind has.
fn own(kind: &str) -> Vec<Key> {
    let source = ("source", id(), false);
    let count = || whole(1, MOST.into());
    match kind {
        "wait" => {
            let starts = json!({ "const": Fact::CableOff.name() });
            vec![
                ("at_least", amount(Dimension::Time), true),
                source,
                ("starts", starts, false),
                ("restarts", facts(), false),
            ]
        }
        "prove-dead" => {
            let point = object(vec![("name", texts(TITLE), true), ("connector", name(), false)]);
            vec![
                ("limit", amount(Dimension::Voltage), true),
                source,
                ("known_before", texts(TITLE), true),
                ("known_after", texts(TITLE), true),
                ("points", list(point, 16), true),
            ]
        }
        "codes" => vec![("when", words(WHEN.map(|(word, _)| word)), true), ("erases", flag(), false)],
        "zero" => vec![
            ("leads", texts(TITLE), true),
            ("drift", amount(Dimension::Resistance), true),
            ("drift_steps", count(), false),
            source,
            ("repeat_at_end", flag(), false),
            ("again", id(), false),
        ],
        "measure" => vec![
            ("conductors", list(id(), 64), true),
            ("touches", whole(1, 4), true),
            ("low", amount(Dimension::Resistance), false),
            ("high", amount(Dimension::Resistance), false),
            source,
            ("wires", json!({ "enum": [2, 4] }), false),
        ],
        "sweep" => vec![
            ("conductors", list(id(), 64), true),
            ("turns_each_side", count(), false),
            ("passes", count(), false),
            ("pace_s", whole(2, MOST.into()), false),
            ("jump", amount(Dimension::Resistance), true),
            ("jump_steps", count(), false),
            ("at_least", amount(Dimension::Time), true),
            source,
            ("marks", list(texts(TITLE), 32), false),
        ],
        "isolation" => {
            let pair = json!({ "type": "array", "items": id(), "minItems": 2, "maxItems": 2 });
            vec![
                ("above", amount(Dimension::Resistance), true),
                source,
                ("bars", words(["open", "none"]), true),
                ("pairs", list(pair, 256), true),
            ]
        }
        "compare" => vec![("group", id(), true), ("known_good", flag(), false)],
        other => own_in_the_vehicle(other),
    }
}

/// The kinds that need no bench.
fn own_in_the_vehicle(kind: &str) -> Vec<Key> {
    let source = ("source", id(), false);
    match kind {
        "centre" => vec![
            ("total", amount(Dimension::Turns), true),
            ("back", amount(Dimension::Turns), true),
            ("free_each_side", amount(Dimension::Turns), true),
            ("plug_angle", amount(Dimension::Angle), false),
            source,
        ],
        "torque" => vec![
            ("value", amount(Dimension::Torque), true),
            ("also", amount(Dimension::Torque), false),
            ("lowest", amount(Dimension::Torque), false),
            ("highest", amount(Dimension::Torque), false),
            ("angle", amount(Dimension::Angle), false),
            ("new_fastener", flag(), false),
            ("wrench_length", amount(Dimension::Length), false),
            ("adapter_length", amount(Dimension::Length), false),
            source,
        ],
        "live-value" => {
            let any = || json!({ "type": "string", "description": "a figure with its unit, such as \"0.2 Ω\"" });
            vec![
                ("name", texts(TITLE), true),
                ("target", any(), false),
                ("tolerance", any(), false),
                ("steady_within", any(), false),
                ("stores_zero", flag(), false),
                source,
            ]
        }
        "photo" => vec![("shows", texts(TITLE), true)],
        "sign" => vec![("role", texts(TITLE), true), ("closes", flag(), false)],
        "part" => vec![("name", texts(TITLE), true), ("may_be", list(words(ORIGINS.map(|(word, _)| word)), 3), true)],
        _ => Vec::new(),
    }
}

fn object(keys: Vec<Key>) -> Value {
    let required: Vec<&str> = keys.iter().filter(|(_, _, required)| *required).map(|(key, ..)| *key).collect();
    let properties: Map<String, Value> =
        keys.iter().map(|(key, value, _)| ((*key).to_owned(), value.clone())).collect();
    json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false })
}

fn list(of: Value, most: usize) -> Value {
    json!({ "type": "array", "items": of, "maxItems": most })
}

fn words<const N: usize>(words: [&str; N]) -> Value {
    json!({ "enum": words.to_vec() })
}

fn flag() -> Value {
    json!({ "type": "boolean" })
}

fn whole(least: i64, most: i64) -> Value {
    json!({ "type": "integer", "minimum": least, "maximum": most })
}

fn id() -> Value {
    json!({ "type": "string", "pattern": format!("^[a-z0-9-]{{1,{MAX_ID}}}$") })
}

fn name() -> Value {
    json!({ "type": "string", "minLength": 1, "maxLength": 80 })
}

fn facts() -> Value {
    let about = |name: &str| ["inflator_away", "bar_open", "bar_restored"].contains(&name);
    let plain: Vec<&str> = Fact::NAMES.into_iter().filter(|name| !about(name)).collect();
    let of_things = format!("^(inflator_away|bar_open|bar_restored)\\([a-z0-9-]{{1,{MAX_ID}}}\\)$");
    list(json!({ "anyOf": [{ "enum": plain }, { "type": "string", "pattern": of_things }] }), 64)
}

fn amount(dimension: Dimension) -> Value {
    let description =
        format!("a figure with its unit, such as \"{}\"; units: {}", dimension.example(), dimension.units());
    json!({ "type": "string", "description": description })
}

/// In each language of the file, or plain where the file has only one.
fn texts(shape: Shape) -> Value {
    let one = json!({ "type": "string", "minLength": 1, "maxLength": shape.most });
    let each: Map<String, Value> = LANGUAGES.iter().map(|(word, _)| ((*word).to_owned(), one.clone())).collect();
    let table = json!({ "type": "object", "properties": each, "minProperties": 1, "additionalProperties": false });
    json!({ "anyOf": [one, table] })
}
