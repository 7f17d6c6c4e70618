//! How long things may be.

use super::code::Code;
use super::{Finding, Source};

/// Lines of a Rust file, its tests aside.
pub const FILE: usize = 400;
/// Where a Rust file must be split, whatever the reason.
pub const FILE_HARD: usize = 600;
/// Lines of a function.
pub const FUNCTION: usize = 70;
/// Arguments of a function, `self` not counted.
pub const ARGUMENTS: usize = 4;
/// Lines of a Svelte component.
pub const COMPONENT: usize = 150;

/// A Rust file stays within [`FILE`] lines, or within what `budget` grants it, never over [`FILE_HARD`].
///
/// `budget` pairs a path with the lines granted. A file that no longer needs its grant is a finding,
/// so that the list only shrinks.
pub fn rust_file(source: &Source, budget: &[(&str, usize)]) -> Vec<Finding> {
    if !source.is("rs") || source.is_test_code() {
        return Vec::new();
    }
    let lines = match Code::shipped(source) {
        Ok(code) => source.text.lines().count() - code.test_lines(),
        Err(finding) => return vec![finding],
    };
    let granted = budget.iter().find(|(path, _)| *path == source.path).map(|(_, lines)| *lines);
    let what = match granted {
        _ if lines > FILE_HARD => format!("{lines} lines without tests: split it, {FILE_HARD} is the end"),
        Some(granted) if lines > granted => format!("{lines} lines without tests, {granted} granted"),
        Some(_) if lines <= FILE => format!("{lines} lines: take it off the list of long files"),
        None if lines > FILE => format!("{lines} lines without tests: split it, or list it with a reason"),
        _ => return Vec::new(),
    };
    vec![Finding::new(source, 0, what)]
}

/// Functions stay within [`FUNCTION`] lines and [`ARGUMENTS`] arguments; tests are stories and exempt.
pub fn functions(source: &Source) -> Vec<Finding> {
    if !source.is("rs") || source.is_test_code() {
        return Vec::new();
    }
    let code = match Code::shipped(source) {
        Ok(code) => code,
        Err(finding) => return vec![finding],
    };
    let mut findings = Vec::new();
    for function in code.functions() {
        let mut say = |what: String| findings.push(Finding::new(source, function.line, what));
        if function.lines > FUNCTION {
            say(format!("`{}` has {} lines, {FUNCTION} is the end", function.name, function.lines));
        }
        if function.arguments > ARGUMENTS && !function.by_trait {
            say(format!("`{}` takes {} arguments, {ARGUMENTS} is the end", function.name, function.arguments));
        }
    }
    findings
}

/// A Svelte component stays within [`COMPONENT`] lines.
pub fn component(source: &Source) -> Vec<Finding> {
    let lines = source.text.lines().count();
    if !source.is("svelte") || lines <= COMPONENT {
        return Vec::new();
    }
    vec![Finding::new(source, 0, format!("{lines} lines: split it, {COMPONENT} is the end"))]
}
