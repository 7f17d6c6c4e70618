//! Traces of the machine a file was written on: folders and download addresses that mean nothing
//! anywhere else.

use super::{Finding, Source};

/// Folders that belong to one machine. Written without their slash, so that this file keeps its own rule.
const FOLDERS: [&str; 5] = ["home", "root", "Users", "work", "tmp"];

/// Places packages are fetched from, in halves for the same reason.
const HOSTS: [(&str, &str); 7] = [
    ("crates", ".io"),
    ("registry.", "npmjs"),
    ("registry.", "yarnpkg"),
    ("pypi", ".org"),
    ("files.", "pythonhosted"),
    ("deb.", "debian.org"),
    ("proxy.", "golang.org"),
];

/// The one source a locked Rust package may have.
const RUST_REGISTRY: &str = "source = \"registry+https://github.com/rust-lang/crates";

/// No absolute folder of a machine and no package host stands in a tracked file; lock files name no
/// address but the one every Rust user has.
pub fn none(source: &Source) -> Vec<Finding> {
    let lines = source.text.lines().enumerate().map(|(at, line)| (at + 1, line));
    let mut findings = Vec::new();
    for (at, line) in lines {
        let wrong = if source.path.ends_with("Cargo.lock") {
            line.starts_with("source = ") && !line.starts_with(RUST_REGISTRY)
        } else if source.path.ends_with("package-lock.json") {
            line.trim_start().starts_with("\"resolved\": \"http") || machine_folder(line).is_some()
        } else {
            machine_folder(line).is_some() || host(line)
        };
        if wrong {
            findings.push(Finding::new(source, at, format!("a trace of one machine: {}", line.trim())));
        }
    }
    findings
}

fn host(line: &str) -> bool {
    HOSTS.iter().any(|(left, right)| line.contains(&format!("{left}{right}")))
}

fn machine_folder(line: &str) -> Option<&'static str> {
    FOLDERS.into_iter().find(|folder| {
        let absolute = format!("/{folder}");
        line.match_indices(&absolute).any(|(at, _)| {
            // Part of a longer path or word, such as ./tmp or a/work, is no absolute folder.
            let inside = |letter: char| letter.is_alphanumeric() || "_-.~/})]<".contains(letter);
            let before = line[..at].chars().next_back().is_some_and(inside);
            let after = line[at + absolute.len()..].chars().next();
            let longer = after.is_some_and(|letter| letter.is_alphanumeric() || "_-.".contains(letter));
            !before && !longer
        })
    })
}
