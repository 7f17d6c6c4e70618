//! Hundreds of files with random damage: none breaks the reader, and one that is let in as "at least as strict" is held
//! against the original once more, by plain TOML and without any of the code that let it in.

use super::*;
use crate::procedure::{Amount, at_least_as_strict};
use std::collections::BTreeSet;
use toml::{Table, Value};

/// Files drawn for each procedure.
const EACH: usize = 300;

/// The same numbers in every run.
struct Chance(u64);

impl Chance {
    fn below(&mut self, end: usize) -> usize {
        // Knuth's MMIX constants.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((self.0 >> 33) % u64::try_from(end.max(1)).unwrap()).unwrap()
    }

    fn pick<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len())]
    }
}

/// Replaces one of the places where `from` stands.
fn one_of(text: &str, (from, to): (&str, &str), chance: &mut Chance) -> String {
    let places: Vec<usize> = text.match_indices(from).map(|(at, _)| at).collect();
    if places.is_empty() {
        return text.to_owned();
    }
    let at = places[chance.below(places.len())];
    format!("{}{to}{}", &text[..at], &text[at + from.len()..])
}

fn lines(text: &str, change: impl FnOnce(&mut Vec<&str>)) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    change(&mut lines);
    lines.join("\n") + "\n"
}

/// The list items of the file: `"…"` followed by a comma or bracket.
fn without_an_item(text: &str, chance: &mut Chance) -> String {
    lines(text, |lines| {
        let starts = ["needs", "cautions", "evidence", "gives", "after", "cancels", "plugs", "conductors"];
        let listed = |line: &&str| starts.iter().any(|start| line.starts_with(start)) && line.contains("[\"");
        let at: Vec<usize> = (0..lines.len()).filter(|at| listed(&lines[*at])).collect();
        // An earlier damage may have cut all of them away.
        if at.is_empty() {
            return;
        }
        let at = at[chance.below(at.len())];
        let (key, list) = lines[at].split_once(" = [").unwrap();
        let mut items: Vec<&str> = list.trim_end_matches(']').split(", ").collect();
        items.remove(chance.below(items.len()));
        lines[at] = Box::leak(format!("{key} = [{}]", items.join(", ")).into_boxed_str());
    })
}

fn swapped_steps(text: &str, chance: &mut Chance) -> String {
    let mut parts: Vec<&str> = text.split("[[steps]]\n").collect();
    if parts.len() < 2 {
        return text.to_owned();
    }
    let (one, other) = (1 + chance.below(parts.len() - 1), 1 + chance.below(parts.len() - 1));
    parts.swap(one, other);
    parts.join("[[steps]]\n")
}

fn mutated(text: &str, chance: &mut Chance) -> String {
    match chance.below(14) {
        0 => lines(text, |lines| {
            let _ = lines.remove(chance.below(lines.len()));
        }),
        1 => lines(text, |lines| {
            let at = chance.below(lines.len());
            lines.insert(at, lines[at]);
        }),
        2 => lines(text, |lines| {
            let at = chance.below(lines.len() - 1);
            lines.swap(at, at + 1);
        }),
        3 | 4 => without_an_item(text, chance),
        5 => swapped_steps(text, chance),
        6 => {
            let digit = chance.pick(&["0", "1", "2", "3", "5", "8"]);
            let to = chance.pick(&["0", "1", "2", "4", "9", "99", "-1"]);
            one_of(text, (digit, to), chance)
        }
        7 => {
            let from = chance.pick(&[" s\"", " Ω\"", " V\"", " MΩ\"", " N·m\"", " turns\"", " min\"", " °\""]);
            let to = chance.pick(&[" min\"", " mΩ\"", " kΩ\"", " mV\"", " lbf·ft\"", "\"", " s\""]);
            one_of(text, (from, to), chance)
        }
        8 => {
            let facts = ["cable_off", "wait_done", "dead_proven", "zero_valid", "lamp_off", "loads_home", "centred"];
            one_of(text, (chance.pick(&facts), chance.pick(&facts)), chance)
        }
        9 => {
            let words = ["open-plug", "inflator", "control-unit", "unknown", "squib", "signal", "photo", "check", "do"];
            let (from, to) = (chance.pick(&words), chance.pick(&words));
            one_of(text, (&format!("\"{from}\""), &format!("\"{to}\"")), chance)
        }
        10 => one_of(text, ("true", "false"), chance),
        11 => one_of(text, ("[[steps]]\n", "[[steps]]\nskip = { en = \"a\", de = \"b\" }\n"), chance),
        12 => {
            let odd = chance.pick(&["\u{202E}", "\0", "\"", "'", "[", "}", "=", "\u{1F9F0}", "\\", "#"]);
            let at = (0..).map(|_| chance.below(text.len())).find(|at| text.is_char_boundary(*at)).unwrap();
            format!("{}{odd}{}", &text[..at], &text[at..])
        }
        _ => {
            let at = (0..).map(|_| chance.below(text.len())).find(|at| text.is_char_boundary(*at)).unwrap();
            text[..at].to_owned()
        }
    }
}

// --- plain TOML against plain TOML ---

fn steps(file: &Table) -> Vec<&Table> {
    file["steps"].as_array().unwrap().iter().map(|step| step.as_table().unwrap()).collect()
}

fn set(table: &Table, key: &str) -> BTreeSet<String> {
    let all = table.get(key).and_then(Value::as_array).cloned().unwrap_or_default();
    all.iter().map(Value::to_string).collect()
}

fn figure(table: &Table, key: &str) -> Option<Amount> {
    table.get(key).and_then(Value::as_str).map(|text| Amount::parse(text).unwrap())
}

/// What `two` has loosened of `one`, by the letter of the file.
fn loosened(one: &Table, two: &Table) -> Vec<String> {
    let mut found = Vec::new();
    let ends = |file: &Table| -> Vec<Table> { list(file, "conductors") };
    for wire in ends(one) {
        let other = ends(two).into_iter().find(|other| other["id"] == wire["id"]);
        let kept = |end: &str| {
            let at = |wire: &Table| wire[end]["at"].as_str().unwrap().to_owned();
            other.as_ref().is_some_and(|other| at(&wire) == at(other) || at(&wire) == "open-plug")
        };
        if !kept("from")
            || !kept("to")
            || other.is_some_and(|o| wire["class"] == "squib".into() && o["class"] != wire["class"])
        {
            found.push(format!("conductor {}", wire["id"]));
        }
    }
    let mut rest = steps(two).into_iter();
    for step in steps(one) {
        // In the same order: the iterator only goes on.
        let Some(other) = rest.find(|other| other.get("id") == step.get("id")) else {
            found.push(format!("step {} gone or moved", step["id"]));
            break;
        };
        let mut note = |what: &str| found.push(format!("step {}: {what}", step["id"]));
        for key in ["needs", "cautions", "evidence", "after", "cancels", "plugs", "conductors", "pairs"] {
            if !set(step, key).is_subset(&set(other, key)) {
                note(key);
            }
        }
        for key in [
            "kind",
            "battery_on",
            "loads_out",
            "loads_in",
            "locks_out",
            "locks_in",
            "starts",
            "when",
            "closes",
            "group",
        ] {
            let plain = |table: &Table| {
                table.get(key).filter(|v| **v != Value::Integer(0) && **v != Value::Boolean(false)).cloned()
            };
            if plain(step) != plain(other) && !(key == "starts" && other.get(key).is_none()) {
                note(key);
            }
        }
        for key in ["limit", "drift", "jump", "tolerance", "steady_within"] {
            if figure(step, key).is_some_and(|one| !figure(other, key).is_some_and(|two| two.at_most(one))) {
                note(key);
            }
        }
        for key in ["at_least", "above", "free_each_side"] {
            if figure(step, key).is_some_and(|one| !figure(other, key).is_some_and(|two| one.at_most(two))) {
                note(key);
            }
        }
        for key in ["value", "also", "total", "back", "target"] {
            if figure(step, key) != figure(other, key) {
                note(key);
            }
        }
        if step.get("skip").is_none() && other.get("skip").is_some() {
            note("skip");
        }
        if step.get("sign_off").is_some() && step.get("sign_off") != other.get("sign_off") {
            note("sign_off");
        }
    }
    found
}

fn list(file: &Table, key: &str) -> Vec<Table> {
    file[key].as_array().unwrap().iter().map(|one| one.as_table().unwrap().clone()).collect()
}

#[test]
fn random_damage_is_refused_or_loosens_nothing() {
    let (mut refused, mut looser, mut let_in) = (0, 0, 0);
    for (seed, (name, text)) in (1u64..).zip(built_in()) {
        let mut chance = Chance(seed);
        let original = right(text);
        let plain: Table = toml::from_str(text).unwrap();
        for case in 0..EACH {
            let mut damaged = mutated(text, &mut chance);
            if chance.below(4) == 0 {
                damaged = mutated(&damaged, &mut chance);
            }
            let damaged = damaged.replacen("version = 1\n", "version = 2\n", 1);
            let changed = match Procedure::parse(&damaged) {
                Ok(changed) => changed,
                Err(errors) => {
                    let last = damaged.lines().count() + 1;
                    assert!(!errors.is_empty() && errors.iter().all(|e| (1..=last).contains(&e.line) && e.column > 0));
                    refused += 1;
                    continue;
                }
            };
            match at_least_as_strict(&original, &changed) {
                Err(_) => looser += 1,
                Ok(()) => {
                    let other: Table = toml::from_str(&damaged).unwrap();
                    assert_eq!(loosened(&plain, &other), Vec::<String>::new(), "{name}, case {case}");
                    let_in += 1;
                }
            }
        }
    }
    // Each way out was gone often enough to mean something.
    assert!(refused > 300 && looser > 60 && let_in > 60, "refused {refused}, looser {looser}, let in {let_in}");
}

/// What only ever weakens is never let in.
#[test]
fn a_list_that_lost_an_item_is_never_let_in() {
    for (seed, (name, text)) in (11u64..).zip(built_in()) {
        let mut chance = Chance(seed);
        let original = right(text);
        for case in 0..100 {
            let less = without_an_item(text, &mut chance).replacen("version = 1\n", "version = 2\n", 1);
            if let Ok(changed) = Procedure::parse(&less) {
                assert!(at_least_as_strict(&original, &changed).is_err(), "{name}, case {case}");
            }
        }
    }
}
