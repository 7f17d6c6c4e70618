//! Words that say nothing about what a thing is.

use super::code::Code;
use super::{Finding, Source};

/// Not in a name of ours.
const BANNED: [&str; 10] =
    ["manager", "service", "helper", "util", "utility", "common", "processor", "data", "info", "misc"];

/// Names of types, functions, modules, files and folders hold none of the banned words.
///
/// A GATT service may be called one where the radio is spoken to. The folder `tests/data` is the
/// one place for golden files. A function of a trait we implement was named by others.
pub fn telling(source: &Source) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut judge = |name: &str, line: usize| {
        if let Some(word) = banned_word(name, &source.path) {
            findings.push(Finding::new(source, line, format!("`{name}`: `{word}` does not say what it is")));
        }
    };
    for part in source.path.split('/') {
        if !(part == "data" && source.path.starts_with("tests/data/")) {
            judge(part, 0);
        }
    }
    if source.is("rs") {
        let code = match Code::whole(source) {
            Ok(code) => code,
            Err(finding) => return vec![finding],
        };
        code.functions().iter().filter(|function| !function.by_trait).for_each(|one| judge(&one.name, one.line));
        code.definitions().iter().for_each(|(name, line)| judge(name, *line));
    }
    if source.is("ts") || source.is("svelte") {
        script_definitions(&source.text).iter().for_each(|(name, line)| judge(name, *line));
    }
    findings
}

fn banned_word(name: &str, path: &str) -> Option<&'static str> {
    let words = words(name);
    let radio = path.contains("/ble") || path.contains("bluez") || path.starts_with("core/src/meter/");
    let gatt = radio || words.iter().any(|word| word == "gatt");
    let bans = |banned: &&&str| {
        let singular = |word: &String| word == *banned || word.strip_suffix('s') == Some(**banned);
        words.iter().any(singular) && !(gatt && **banned == "service")
    };
    BANNED.iter().find(bans).copied()
}

/// The words of a name in any case: `TouchInfo`, `touch_info`, `touch-info.ts`.
fn words(name: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut before_was_small = false;
    for letter in name.chars() {
        let starts = letter.is_uppercase() && before_was_small;
        if starts || !letter.is_alphanumeric() {
            words.push(String::new());
        }
        if letter.is_alphanumeric()
            && let Some(word) = words.last_mut()
        {
            word.extend(letter.to_lowercase());
        }
        before_was_small = letter.is_lowercase() || letter.is_ascii_digit();
    }
    words.retain(|word| !word.is_empty());
    words
}

/// What a TypeScript or Svelte text defines by keyword, with its line.
fn script_definitions(text: &str) -> Vec<(String, usize)> {
    const KEYWORDS: [&str; 5] = ["function", "class", "interface", "type", "enum"];
    let mut found = Vec::new();
    for (at, line) in text.lines().enumerate() {
        let mut words = line.split_whitespace().peekable();
        while let Some(word) = words.next() {
            let Some(next) = words.peek().filter(|_| KEYWORDS.contains(&word)) else { continue };
            let name: String = next.chars().take_while(|letter| letter.is_alphanumeric() || *letter == '_').collect();
            if !name.is_empty() {
                found.push((name, at + 1));
            }
        }
    }
    found
}
