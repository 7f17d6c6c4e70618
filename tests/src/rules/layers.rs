//! Who may use whom: the order of core's modules, what core may never touch, where SQL and the
//! radio live, and which crate may stand on which.

use super::code::Code;
use super::{Finding, Source};
use toml::{Table, Value};

/// A module of core uses only modules declared above it in `core/src/lib.rs`.
///
/// `super` is followed as far as it can lead out of a module: out of a file directly under
/// `core/src` it must not be used at all, and `super::super` nowhere.
pub fn upward_only(sources: &[Source]) -> Vec<Finding> {
    let Some(lib) = sources.iter().find(|source| source.path == "core/src/lib.rs") else {
        return vec![Finding { path: "core/src/lib.rs".into(), line: 0, what: "is missing".into() }];
    };
    let order = match Code::whole(lib) {
        Ok(code) => code.modules(),
        Err(finding) => return vec![finding],
    };
    let below = |source: &&Source| source.path.starts_with("core/src/") && source.is("rs") && source.path != lib.path;
    sources.iter().filter(below).flat_map(|source| upward_in(source, &order)).collect()
}

fn upward_in(source: &Source, order: &[String]) -> Vec<Finding> {
    let inside = source.path.trim_start_matches("core/src/");
    let module = inside.split(['/', '.']).next().unwrap_or_default();
    let is_top = inside == format!("{module}.rs") || inside == format!("{module}/mod.rs");
    let Some(own) = order.iter().position(|name| name == module) else {
        return vec![Finding::new(source, 0, format!("module `{module}` is not declared in core/src/lib.rs"))];
    };
    let code = match Code::whole(source) {
        Ok(code) => code,
        Err(finding) => return vec![finding],
    };
    let mut findings = Vec::new();
    for name in code.names() {
        let second = name.parts.get(1).map(String::as_str);
        let wrong = match (name.parts[0].as_str(), second) {
            ("crate", Some(used)) => match order.iter().position(|other| other == used) {
                Some(place) if place <= own => None,
                Some(_) => Some(format!("`{module}` uses `{used}`, which stands below it in lib.rs")),
                None => Some(format!("`crate::{used}` is no module of lib.rs: name the module it lives in")),
            },
            ("super", Some("super")) => Some("write `crate::…`: the order cannot be read off `super::super`".into()),
            ("super", _) if is_top && name.depth == 0 => Some("write `crate::…` instead of `super`".into()),
            _ => None,
        };
        findings.extend(wrong.map(|what| Finding::new(source, name.line, what)));
    }
    findings
}

/// What core's code may not name: the world it is kept apart from, and maps without an order.
const OUTSIDE: [&[&str]; 14] = [
    &["std", "fs"],
    &["std", "net"],
    &["std", "thread"],
    &["std", "env"],
    &["std", "process"],
    &["std", "os"],
    &["SystemTime"],
    &["Instant"],
    &["HashMap"],
    &["HashSet"],
    &["tokio"],
    &["tracing"],
    &["async"],
    &["await"],
];

/// Macros that write to the screen.
const PRINTING: [&str; 5] = ["println", "print", "eprintln", "eprint", "dbg"];

/// Core's code, tests aside, touches no disk, net, clock, thread or screen, and keeps order.
pub fn core_is_pure(source: &Source) -> Vec<Finding> {
    if !source.path.starts_with("core/src/") || !source.is("rs") || source.is_test_code() {
        return Vec::new();
    }
    let code = match Code::shipped(source) {
        Ok(code) => code,
        Err(finding) => return vec![finding],
    };
    let mut findings = Vec::new();
    for name in code.names() {
        for outside in OUTSIDE {
            if name.parts.windows(outside.len()).any(|parts| parts == outside) {
                let what = format!("core may not use `{}`: take it as an argument", outside.join("::"));
                findings.push(Finding::new(source, name.line, what));
            }
        }
    }
    for (name, line) in code.macros() {
        if PRINTING.contains(&name.as_str()) {
            findings.push(Finding::new(source, line, format!("core may not use `{name}!`: give it back as an output")));
        }
    }
    findings
}

/// A measured value never travels as a binary float: none in what is recorded or shown. Tests may
/// draw curves with them.
pub fn exact_in_record_and_view(source: &Source) -> Vec<Finding> {
    let inside = source.path.trim_start_matches("core/src/");
    let module = inside.split(['/', '.']).next().unwrap_or_default();
    if inside == source.path || !matches!(module, "record" | "view") || !source.is("rs") || source.is_test_code() {
        return Vec::new();
    }
    let code = match Code::shipped(source) {
        Ok(code) => code,
        Err(finding) => return vec![finding],
    };
    let is_float = |text: &str| text == "f64" || text == "f32";
    let named = code.names().into_iter().filter(|name| name.parts.iter().any(|part| is_float(part)));
    let written = code.numbers().into_iter().filter(|(number, _)| {
        let hexadecimal = number.starts_with("0x");
        number.ends_with("f64") || number.ends_with("f32") || !hexadecimal && number.contains(['.', 'e'])
    });
    let lines = named.map(|name| name.line).chain(written.map(|(_, line)| line));
    lines.map(|line| Finding::new(source, line, "no binary float here: use an exact quantity or text")).collect()
}

/// Where SQL may stand.
const SQL_HOMES: [&str; 3] = ["core/store/", "hub/src/storage/", "hub/tests/"];

/// SQL stands only in the ledger's crate and in the hub's storage.
pub fn sql_at_home(source: &Source) -> Vec<Finding> {
    if SQL_HOMES.iter().any(|home| source.path.starts_with(home)) {
        return Vec::new();
    }
    if source.is("sql") {
        return vec![Finding::new(source, 0, "SQL belongs in core/store or hub/src/storage")];
    }
    if !source.is("rs") {
        return Vec::new();
    }
    match Code::whole(source) {
        Ok(code) => {
            let sql = code.strings().into_iter().filter(|(text, _)| is_sql(text));
            sql.map(|(_, line)| Finding::new(source, line, "SQL belongs in core/store or hub/src/storage")).collect()
        }
        Err(finding) => vec![finding],
    }
}

/// Words a statement in capitals starts with; written small, so that this file keeps its own rule.
const STATEMENTS: &str =
    "alter attach begin create delete drop insert pragma replace savepoint select update vacuum with";

/// Beginnings that are statements in any case and cannot open an English sentence.
const BEGINNINGS: &str = "|select *|select count(|insert into |delete from |create table |create index |drop table \
    |alter table |begin immediate|pragma ";

fn is_sql(text: &str) -> bool {
    let lower = text.trim_start().to_lowercase();
    if BEGINNINGS.split('|').any(|start| !start.is_empty() && lower.starts_with(start)) {
        return true;
    }
    let mut words = text.split_whitespace();
    let first = words.next().unwrap_or_default().trim_end_matches(';');
    let shouted = first.chars().all(|letter| letter.is_ascii_uppercase());
    let verb = first.to_lowercase();
    // One shouted word alone is a code or a key, unless it is a whole statement by itself.
    let whole = words.next().is_some() || matches!(verb.as_str(), "vacuum" | "begin");
    shouted && whole && STATEMENTS.split(' ').any(|statement| statement == verb)
}

/// The library alone, as what `make bench` holds the link against. It ships with nothing.
const BARE_RADIO: &str = "core/engine/examples/bare_radio.rs";

/// Whether a file may speak to the Bluetooth library.
fn is_radio(path: &str) -> bool {
    path == "core/engine/src/links/ble.rs" || path.starts_with("core/engine/src/links/ble/") || path == BARE_RADIO
}

/// The Bluetooth library is named only in the one link that uses it.
pub fn radio_at_home(source: &Source) -> Vec<Finding> {
    if !source.is("rs") || is_radio(&source.path) {
        return Vec::new();
    }
    match Code::whole(source) {
        Ok(code) => {
            let radio = code.names().into_iter().filter(|name| name.parts[0] == "btleplug");
            radio.map(|name| Finding::new(source, name.line, "btleplug belongs in core/engine/src/links/ble")).collect()
        }
        Err(finding) => vec![finding],
    }
}

/// What each crate may not stand on, by its manifest. `evenwire` is the window shell.
const APART: [(&str, &[&str]); 6] = [
    (
        "core/Cargo.toml",
        &[
            "tokio",
            "rusqlite",
            "tauri",
            "tracing",
            "reqwest",
            "btleplug",
            "axum",
            "zbus",
            "rand",
            "getrandom",
            "log",
            "chrono",
            "evenwire-store",
            "evenwire-engine",
            "evenwire-paper",
            "evenwire",
        ],
    ),
    ("core/store/Cargo.toml", &["tokio", "btleplug", "tauri", "evenwire-engine", "evenwire"]),
    (
        "core/paper/Cargo.toml",
        &["tokio", "btleplug", "tauri", "rusqlite", "evenwire-store", "evenwire-engine", "evenwire"],
    ),
    ("core/engine/Cargo.toml", &["tauri", "rusqlite", "evenwire"]),
    ("hub/Cargo.toml", &["tauri", "btleplug", "evenwire-engine", "evenwire"]),
    ("tests/Cargo.toml", &["tauri", "rusqlite", "btleplug", "evenwire"]),
];

/// No crate stands on one it is kept apart from, in any kind of dependency.
pub fn crates_apart(source: &Source) -> Vec<Finding> {
    let Some((_, forbidden)) = APART.iter().find(|(path, _)| *path == source.path) else { return Vec::new() };
    let manifest: Table = match source.text.parse() {
        Ok(manifest) => manifest,
        Err(fault) => return vec![Finding::new(source, 0, format!("does not parse: {fault}"))],
    };
    let mut used = Vec::new();
    dependencies(&manifest, &mut used);
    let wrong = used.into_iter().filter(|name| forbidden.contains(&name.as_str()));
    wrong.map(|name| Finding::new(source, 0, format!("may not depend on {name}"))).collect()
}

fn dependencies(manifest: &Table, used: &mut Vec<String>) {
    for (key, value) in manifest {
        match (key.as_str(), value) {
            ("dependencies" | "dev-dependencies" | "build-dependencies", Value::Table(listed)) => {
                for (name, wanted) in listed {
                    // A dependency can be renamed; what counts is what is fetched.
                    let package = wanted.get("package").and_then(Value::as_str);
                    used.push(package.unwrap_or(name).to_owned());
                }
            }
            ("target", Value::Table(targets)) => {
                targets.values().filter_map(Value::as_table).for_each(|target| dependencies(target, used));
            }
            _ => {}
        }
    }
}
