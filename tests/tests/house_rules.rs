//! The house keeps its rules, and every rule is shown to be able to fail.

use evenwire_tests::rules::{Finding, Source, layers, names, size, traces, tracked};

/// Files over the soft limit: path, lines granted, and why each is still one file.
const LONG_FILES: &[(&str, usize)] = &[];

/// No line is objected to.
const NOWHERE: [usize; 0] = [];

/// Every tracked file passes `rule`.
fn held(rule: impl Fn(&Source) -> Vec<Finding>) {
    let sources = tracked().expect("the repository can be listed");
    none(sources.iter().flat_map(rule).collect());
}

fn none(findings: Vec<Finding>) {
    let lines: Vec<String> = findings.iter().map(Finding::to_string).collect();
    assert!(lines.is_empty(), "\n{}\n", lines.join("\n"));
}

/// The lines at which `rule` objects to `text` at `path`.
fn caught(rule: impl Fn(&Source) -> Vec<Finding>, path: &str, text: &str) -> Vec<usize> {
    rule(&Source::new(path, text)).into_iter().map(|finding| finding.line).collect()
}

// --- the order a measurement travels ---

#[test]
fn core_modules_use_only_what_stands_above_them() {
    none(layers::upward_only(&tracked().expect("the repository can be listed")));
}

/// The lines at which the order rule objects to `text` as `core/src/PATH`, in a core of three modules.
fn order_caught(path: &str, text: &str) -> Vec<usize> {
    let lib = Source::new("core/src/lib.rs", "pub mod unit;\npub mod settle;\npub mod verdict;\n");
    let file = Source::new(&format!("core/src/{path}"), text);
    layers::upward_only(&[lib, file]).into_iter().map(|finding| finding.line).collect()
}

#[test]
fn a_use_of_a_module_below_is_caught_however_it_is_written() {
    assert_eq!(order_caught("settle.rs", "use crate::verdict::Verdict;"), [1]);
    assert_eq!(order_caught("settle.rs", "\nuse crate::{unit::Millis, verdict};"), [2]);
    assert_eq!(order_caught("settle.rs", "fn f(v: &crate::verdict::Verdict) {}"), [1]);
    assert_eq!(order_caught("settle/deep.rs", "fn f() { assert!(crate::verdict::judge()); }"), [1]);
    assert_eq!(order_caught("settle.rs", "#[cfg(test)]\nmod tests {\n    use crate::verdict;\n}"), [3]);
    assert_eq!(order_caught("settle.rs", "use super::verdict;"), [1]);
    assert_eq!(order_caught("settle/deep.rs", "use super::super::verdict;"), [1]);
    assert_eq!(order_caught("settle.rs", "use crate::Shortcut;"), [1]);
    assert_eq!(order_caught("forgotten.rs", "fn f() {}"), [0]);
    assert_eq!(order_caught("settle.rs", "fn f( {"), [1]);
}

#[test]
fn what_stands_above_and_what_lies_inside_may_be_used() {
    assert_eq!(order_caught("verdict/mod.rs", "use crate::{settle::Touch, unit, verdict::words};"), NOWHERE);
    assert_eq!(order_caught("settle/deep.rs", "use super::Settler;"), NOWHERE);
    assert_eq!(order_caught("settle.rs", "mod tests { use super::*; }"), NOWHERE);
    assert_eq!(order_caught("settle.rs", "//! Feeds [`crate::verdict`].\nfn f() {}"), NOWHERE);
}

// --- core is pure ---

#[test]
fn core_touches_no_outside_world() {
    held(layers::core_is_pure);
}

#[test]
fn a_core_that_looks_outside_is_caught() {
    let caught = |text: &str| caught(layers::core_is_pure, "core/src/settle.rs", text);
    assert_eq!(caught("use std::fs;"), [1]);
    assert_eq!(caught("use std::{fmt, net::TcpStream};"), [1]);
    assert_eq!(caught("fn f() { std::thread::yield_now(); }"), [1]);
    assert_eq!(caught("use std::time::{Duration, Instant};"), [1]);
    assert_eq!(caught("fn f(at: SystemTime) {}"), [1]);
    assert_eq!(caught("\nfn f() { println!(\"4.7\"); }"), [2]);
    assert_eq!(caught("async fn f() {}"), [1]);
    assert_eq!(caught("use std::collections::HashMap;"), [1]);
    assert_eq!(caught("fn f() { tokio::spawn(g()); }"), [1]);
}

#[test]
fn a_core_that_minds_itself_is_not() {
    let caught = |text: &str| caught(layers::core_is_pure, "core/src/settle.rs", text);
    assert_eq!(
        caught("//! No std::fs, no Instant.\nuse std::collections::BTreeMap;\nuse std::time::Duration;"),
        NOWHERE
    );
    assert_eq!(caught("#[cfg(test)]\nmod tests {\n    use std::fs;\n    fn f() { println!(); }\n}"), NOWHERE);
    assert_eq!(caught("fn f() { let print = 1; assert!(print != 2); write!(out, \"{print}\"); }"), NOWHERE);
    assert_eq!(caught("#[cfg(not(test))]\nuse std::fs;"), [2]);
}

#[test]
fn crates_stand_only_on_what_they_may() {
    held(layers::crates_apart);
}

#[test]
fn a_crate_on_a_forbidden_one_is_caught() {
    let caught = |path: &str, text: &str| caught(layers::crates_apart, path, text).len();
    assert_eq!(caught("core/Cargo.toml", "[dependencies]\ntokio = \"1\"\n"), 1);
    assert_eq!(caught("core/Cargo.toml", "[dev-dependencies]\nrusqlite.workspace = true\n"), 1);
    assert_eq!(caught("core/Cargo.toml", "[target.'cfg(unix)'.dependencies]\nlog = { package = \"tracing\" }\n"), 1);
    assert_eq!(caught("core/engine/Cargo.toml", "[dependencies]\nevenwire = { path = \"../../src-tauri\" }\n"), 1);
    assert_eq!(caught("tests/Cargo.toml", "[dependencies]\nevenwire.workspace = true\n"), 1);
    assert_eq!(caught("hub/Cargo.toml", "[dependencies]\nevenwire-engine.workspace = true\n"), 1);
    assert_eq!(caught("core/Cargo.toml", "[dependencies\n"), 1);
    assert_eq!(caught("core/Cargo.toml", "[dependencies]\nserde = \"1\"\n"), 0);
    assert_eq!(caught("src-tauri/Cargo.toml", "[dependencies]\ntauri = \"2\"\n"), 0);
}

// --- everything in its place ---

#[test]
fn measured_values_are_exact_in_record_and_view() {
    held(layers::exact_in_record_and_view);
}

#[test]
fn a_float_in_record_or_view_is_caught() {
    let caught = |path: &str, text: &str| caught(layers::exact_in_record_and_view, path, text);
    assert_eq!(caught("core/src/record/mod.rs", "pub struct Entry {\n    pub ohm: f64,\n}"), [2]);
    assert_eq!(caught("core/src/view/ladder.rs", "fn f() -> Vec<f32> { g() }"), [1]);
    assert_eq!(caught("core/src/view.rs", "const BAND: Ohm = Ohm(0.35);"), [1]);
    assert_eq!(caught("core/src/view.rs", "fn f() { g(1f64) }"), [1]);
    assert_eq!(caught("core/src/view.rs", "/// An f64 of 0.35.\nconst MASK: u32 = 0xfe + 1_000;"), NOWHERE);
    assert_eq!(caught("core/src/verdict/mod.rs", "fn f(x: f64) {}"), NOWHERE);
    assert_eq!(caught("core/src/view/model/picture.rs", "fn f(x: f64) {}"), [1]);
    assert_eq!(caught("core/src/record/tests.rs", "const A: f64 = 0.5;"), NOWHERE);
}

#[test]
fn sql_stays_where_it_belongs() {
    held(layers::sql_at_home);
}

#[test]
fn sql_elsewhere_is_caught() {
    let caught = |path: &str, text: &str| caught(layers::sql_at_home, path, text);
    let query = "fn f() { c.execute(\"SELECT seq FROM entry\"); }";
    assert_eq!(caught("core/engine/src/lib.rs", query), [1]);
    assert_eq!(caught("hub/src/router.rs", query), [1]);
    assert_eq!(caught("src-tauri/src/lib.rs", "const Q: &str = r#\"\n  insert into entry values (1)\"#;"), [1]);
    assert_eq!(caught("core/src/job/mod.rs", "fn f() { run(concat!(\"PRAGMA journal_mode\", \"=WAL\")) }"), [1]);
    assert_eq!(caught("core/engine/src/lib.rs", "fn f() { c.batch(\"BEGIN;\") }"), [1]);
    let statements = "|select * from a|drop table a|begin immediate|WITH a AS (x)|ATTACH 'a' AS b";
    for statement in statements.split('|').skip(1) {
        assert_eq!(caught("core/engine/src/lib.rs", &format!("const Q: &str = \"{statement}\";")), [1], "{statement}");
    }
    assert_eq!(caught("core/engine/schema.sql", "-- Entries.\nCREATE TABLE entry (seq INTEGER);"), [0]);
    assert_eq!(caught("core/store/src/lib.rs", query), NOWHERE);
    assert_eq!(caught("hub/src/storage/sqlite.rs", query), NOWHERE);
    assert_eq!(
        caught("core/engine/src/lib.rs", "/// SELECT one.\nconst T: &str = \"Update the part first.\";"),
        NOWHERE
    );
}

#[test]
fn the_radio_is_spoken_to_in_one_place() {
    held(layers::radio_at_home);
}

#[test]
fn a_radio_elsewhere_is_caught() {
    let caught = |path: &str, text: &str| caught(layers::radio_at_home, path, text);
    assert_eq!(caught("core/engine/src/links/replay.rs", "use btleplug::api::Central;"), [1]);
    assert_eq!(caught("core/engine/src/lib.rs", "fn f(m: &btleplug::platform::Manager) {}"), [1]);
    assert_eq!(caught("core/engine/src/links/ble.rs", "use btleplug::api::Central;"), NOWHERE);
    assert_eq!(caught("core/engine/src/links/ble/scan.rs", "use btleplug::api::Central;"), NOWHERE);
    assert_eq!(caught("core/engine/examples/bare_radio.rs", "use btleplug::api::Central;"), NOWHERE);
    assert_eq!(caught("core/engine/examples/other.rs", "use btleplug::api::Central;"), [1]);
    assert_eq!(caught("core/engine/src/lib.rs", "//! Not btleplug::api here.\nfn f() {}"), NOWHERE);
}

// --- sizes ---

#[test]
fn rust_files_are_short() {
    held(|source| size::rust_file(source, LONG_FILES));
}

#[test]
fn every_file_granted_more_lines_exists() {
    let sources = tracked().expect("the repository can be listed");
    for (path, lines) in LONG_FILES {
        assert!(sources.iter().any(|source| source.path == *path), "{path} is gone: take it off the list");
        assert!((size::FILE..=size::FILE_HARD).contains(lines), "{path}: {lines} is no budget");
    }
}

#[test]
fn a_long_file_is_caught_and_its_tests_do_not_count() {
    let file = |lines: usize| "const A: u8 = 1;\n".repeat(lines);
    let caught = |lines: usize, budget: &[(&str, usize)]| {
        size::rust_file(&Source::new("core/src/job/mod.rs", &file(lines)), budget).len()
    };
    let budget = [("core/src/job/mod.rs", 500)];
    assert_eq!(caught(400, &[]), 0);
    assert_eq!(caught(401, &[]), 1);
    assert_eq!(caught(500, &budget), 0);
    assert_eq!(caught(501, &budget), 1);
    assert_eq!(caught(400, &budget), 1, "a grant that is no longer needed");
    assert_eq!(caught(601, &[("core/src/job/mod.rs", 700)]), 1, "nothing grants more than the hard end");
    let tests = format!("{}#[cfg(test)]\nmod tests {{\n{}}}\n", file(390), file(300));
    assert_eq!(size::rust_file(&Source::new("core/src/job/mod.rs", &tests), &[]), []);
    assert_eq!(size::rust_file(&Source::new("core/src/job/tests.rs", &file(900)), &[]), []);
}

#[test]
fn functions_are_short_and_take_little() {
    held(size::functions);
}

#[test]
fn a_long_function_is_caught() {
    let function =
        |lines: usize| format!("impl A {{\n    fn f(&self) {{\n{}    }}\n}}\n", "        g();\n".repeat(lines - 2));
    assert_eq!(caught(size::functions, "core/src/job/mod.rs", &function(70)), NOWHERE);
    assert_eq!(caught(size::functions, "core/src/job/mod.rs", &function(71)), [2]);
    assert_eq!(caught(size::functions, "core/src/job/tests.rs", &function(171)), NOWHERE);
}

#[test]
fn a_function_of_many_arguments_is_caught() {
    let caught = |text: &str| caught(size::functions, "core/src/job/mod.rs", text);
    assert_eq!(caught("fn f(a: u8, b: u8, c: u8, d: u8, e: u8) {}"), [1]);
    assert_eq!(caught("trait T { fn f(&self, a: u8, b: u8, c: u8, d: u8, e: u8); }"), [1]);
    assert_eq!(caught("mod inner { fn g() { fn f(a: u8, b: u8, c: u8, d: u8, e: u8) {} } }"), [1]);
    assert_eq!(caught("impl A { fn f(&mut self, a: u8, b: u8, c: u8, d: u8) {} }"), NOWHERE);
    assert_eq!(caught("impl Theirs for A { fn f(&self, a: u8, b: u8, c: u8, d: u8, e: u8) {} }"), NOWHERE);
    assert_eq!(caught("unsafe extern \"C\" fn f(a: u8, b: u8, c: u8, d: u8, e: u8) {}"), NOWHERE, "called by C");
}

#[test]
fn components_are_short() {
    held(size::component);
}

#[test]
fn a_long_component_is_caught() {
    assert_eq!(caught(size::component, "ui/src/Ladder.svelte", &"<p></p>\n".repeat(150)), NOWHERE);
    assert_eq!(caught(size::component, "ui/src/Ladder.svelte", &"<p></p>\n".repeat(151)), [0]);
}

// --- names ---

#[test]
fn names_say_what_things_are() {
    held(names::telling);
}

#[test]
fn a_name_that_says_nothing_is_caught() {
    let caught = |path: &str, text: &str| caught(names::telling, path, text);
    assert_eq!(caught("core/src/job/mod.rs", "struct JobManager;\nenum TouchInfo {}\ntype JobData = u8;"), [1, 2, 3]);
    assert_eq!(caught("core/src/job/mod.rs", "fn frame_processor() {}\nmod misc {}\ntrait Helpers {}"), [1, 2, 3]);
    assert_eq!(caught("core/src/job/mod.rs", "impl A { fn load_data(&self) {} }"), [1]);
    assert_eq!(caught("core/src/util.rs", ""), [0]);
    assert_eq!(caught("ui/src/lib/common/x.css", ""), [0]);
    assert_eq!(caught("ui/src/app.ts", "export interface ViewData {\n}\nexport function utils() {}"), [1, 3]);
    assert_eq!(caught("core/src/job/mod.rs", "struct SyncService;"), [1]);
}

#[test]
fn a_name_that_says_something_is_not() {
    let caught = |path: &str, text: &str| caught(names::telling, path, text);
    assert_eq!(
        caught("core/src/job/mod.rs", "struct Database;\nfn inform() {}\n/// A manager.\nfn g() { info!(\"x\") }"),
        NOWHERE
    );
    assert_eq!(caught("core/engine/src/links/ble/find.rs", "struct GattService;\nfn service_uuid() {}"), NOWHERE);
    assert_eq!(caught("core/src/job/mod.rs", "impl Theirs for A { fn data(&self) {} }"), NOWHERE);
    assert_eq!(caught("tests/data/event.json", ""), NOWHERE);
}

// --- traces of a machine ---

#[test]
fn no_file_knows_the_machine_it_was_written_on() {
    held(traces::none);
}

#[test]
fn a_trace_of_a_machine_is_caught() {
    let caught = |path: &str, text: &str| caught(traces::none, path, text);
    // The folders and hosts are put together here, or this file would break the rule it proves.
    let folder = |name: &str| format!("cp a \"/{name}/b\"");
    for name in ["home", "root", "Users", "work", "tmp"] {
        assert_eq!(caught("tests/scripts/a.sh", &folder(name)), [1], "{name}");
    }
    assert_eq!(caught("Makefile", &format!("X = /{}", "tmp")), [1]);
    assert_eq!(caught("Makefile", &format!("\nX = https://static.{}{}/a", "crates", ".io")), [2]);
    assert_eq!(caught("ui/package-lock.json", "\"resolved\": \"https://a.example/b.tgz\","), [1]);
    assert_eq!(caught("Cargo.lock", "source = \"registry+https://a.example/index\""), [1]);
    assert_eq!(caught("Cargo.lock", "source = \"git+https://a.example/b\""), [1]);
}

#[test]
fn a_path_inside_the_project_is_no_trace() {
    let caught = |path: &str, text: &str| caught(traces::none, path, text);
    assert_eq!(caught("Makefile", "rm -r ./tmp a/work $(OUT)/tmp ~/work /workshop /tmpfs and/or"), NOWHERE);
    let locked = format!("source = \"registry+https://github.com/rust-lang/{}{}-index\"", "crates", ".io");
    assert_eq!(caught("Cargo.lock", &locked), NOWHERE);
    assert_eq!(caught("ui/package-lock.json", "\"url\": \"https://a.example/funding\""), NOWHERE);
}
