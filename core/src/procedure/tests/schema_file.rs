//! The schema for editors says what the reader takes.

use super::*;
use crate::procedure::read_kind::KINDS;
use crate::procedure::schema;
use serde_json::Value;
use std::collections::BTreeSet;

const ODD: &str = "zzzzzzzzzzzzzzzz = 1\n";

#[test]
fn the_schema_file_is_up_to_date() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/procedure/schema.json");
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(path, schema::text()).unwrap();
    }
    let written = std::fs::read_to_string(path).expect("the file is there: run with UPDATE=1");
    assert!(written == schema::text(), "schema.json is not what the code says: run with UPDATE=1 and look at the diff");
}

/// The keys the reader knows where `text` holds an odd one, as its own mistake lists them.
fn known_to_the_reader(text: &str) -> BTreeSet<String> {
    let errors = Procedure::parse(text).unwrap_err();
    let odd = errors.iter().find(|error| error.what.contains("zzzz")).unwrap_or_else(|| panic!("{}", told(&errors)));
    let keys = odd.instead.strip_prefix("known here: ").expect("no key is near to it");
    keys.split(", ").map(str::to_owned).collect()
}

fn keys_of(schema: &Value) -> BTreeSet<String> {
    schema["properties"].as_object().expect("an object").keys().cloned().collect()
}

#[test]
fn the_schema_knows_the_keys_the_reader_knows() {
    let schema = schema::schema();
    let coil = text("steering-coil");
    let within = |header: &str| coil.replacen(header, &format!("{header}\n{ODD}"), 1);
    assert_eq!(known_to_the_reader(&coil.replacen("format = 1\n", &format!("format = 1\n{ODD}"), 1)), keys_of(&schema));
    for list in ["sources", "connectors", "conductors", "bars"] {
        let known = known_to_the_reader(&within(&format!("[[{list}]]")));
        assert_eq!(known, keys_of(&schema["properties"][list]["items"]), "{list}");
    }
    let end = coil.replacen("cavity = 1,", "zzzzzzzzzzzzzzzz = 1, cavity = 1,", 1);
    assert_eq!(known_to_the_reader(&end), keys_of(&schema["properties"]["conductors"]["items"]["properties"]["from"]));
    for kind in KINDS {
        let steps = schema["properties"]["steps"]["items"]["oneOf"].as_array().unwrap();
        let step = steps.iter().find(|step| step["properties"]["kind"]["const"] == kind).expect("every kind");
        // The source of a limit is asked for only where there is a limit.
        let own = if kind == "measure" { "low = \"0 Ω\"\n" } else { "" };
        let text = format!("{coil}\n[[steps]]\nkind = \"{kind}\"\n{own}{ODD}");
        assert_eq!(known_to_the_reader(&text), keys_of(step), "{kind}");
    }
}

/// Enough of JSON Schema for the one there is.
fn fits(value: &Value, schema: &Value) -> bool {
    // Patterns are not looked at, so that of the kinds of facts two may fit.
    if let Some(any) = schema.get("anyOf") {
        return any.as_array().unwrap().iter().any(|one| fits(value, one));
    }
    if let Some(one_of) = schema.get("oneOf") {
        return one_of.as_array().unwrap().iter().filter(|one| fits(value, one)).count() == 1;
    }
    let fits_const = schema.get("const").is_none_or(|only| only == value);
    let fits_enum = schema.get("enum").is_none_or(|all| all.as_array().unwrap().contains(value));
    let fits_type = match schema["type"].as_str() {
        None => true,
        Some("string") => value.is_string(),
        Some("integer") => {
            let least = schema.get("minimum").and_then(Value::as_i64);
            let most = schema.get("maximum").and_then(Value::as_i64);
            value.as_i64().is_some_and(|n| least.is_none_or(|l| l <= n) && most.is_none_or(|m| n <= m))
        }
        Some("boolean") => value.is_boolean(),
        Some("array") => value.as_array().is_some_and(|all| all.iter().all(|one| fits(one, &schema["items"]))),
        Some("object") => value.as_object().is_some_and(|object| {
            let known = &schema["properties"];
            let required = schema.get("required").and_then(Value::as_array).cloned().unwrap_or_default();
            object.iter().all(|(key, value)| known.get(key).is_some_and(|known| fits(value, known)))
                && required.iter().all(|key| object.contains_key(key.as_str().unwrap()))
        }),
        Some(other) => panic!("{other} is not looked at here"),
    };
    fits_const && fits_enum && fits_type
}

#[test]
fn the_built_in_procedures_fit_the_schema() {
    let schema = schema::schema();
    for (name, text) in built_in() {
        let value: toml::Value = toml::from_str(text).unwrap();
        let value = serde_json::to_value(value).unwrap();
        assert!(fits(&value, &schema), "{name}");
        for (from, to) in
            [("kind = \"wait\"", "kind = \"weight\""), ("touches = 3", "touches = 9"), ("author", "auther")]
        {
            let value: toml::Value = toml::from_str(&text.replacen(from, to, 1)).unwrap();
            assert!(!fits(&serde_json::to_value(value).unwrap(), &schema), "{name}: {to}");
        }
    }
}
