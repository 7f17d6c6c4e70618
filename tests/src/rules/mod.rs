//! Rules about the code itself, as functions over paths and texts.
//!
//! Each takes files and gives findings; none of them runs, builds or changes anything. The rules
//! are held, and shown to be able to fail, in `tests/house_rules.rs`.

pub mod code;
pub mod layers;
pub mod names;
pub mod size;
pub mod traces;

use anyhow::{Context, ensure};
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A file as a rule sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// Relative to the top of the repository, with `/` between the folders.
    pub path: String,
    /// All of it.
    pub text: String,
}

impl Source {
    /// A file with this path and text.
    pub fn new(path: &str, text: &str) -> Source {
        Source { path: path.into(), text: text.into() }
    }

    /// Whether its name ends with a dot and `ending`.
    pub fn is(&self, ending: &str) -> bool {
        Path::new(&self.path).extension().is_some_and(|found| found == ending)
    }

    /// Whether it is Rust that only runs in tests: a crate's `tests/` folder, a `tests.rs`, a bench.
    pub fn is_test_code(&self) -> bool {
        self.path.ends_with("/tests.rs") || self.path.contains("/tests/") || self.path.contains("/benches/")
    }
}

/// Something that breaks a rule.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Finding {
    /// The file.
    pub path: String,
    /// The line, from 1; 0 when it is about the whole file.
    pub line: usize,
    /// What is wrong and what to do instead.
    pub what: String,
}

impl Finding {
    /// A finding in `source` at `line`.
    pub fn new(source: &Source, line: usize, what: impl Into<String>) -> Finding {
        Finding { path: source.path.clone(), line, what: what.into() }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}:{}: {}", self.path, self.line, self.what)
    }
}

/// The top folder of the repository.
pub fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests crate lies one folder below the top").into()
}

/// Every text file that is tracked, or would be after `git add`: what ignore rules leave out is left out.
///
/// # Errors
/// When git is missing or the folder is no repository.
pub fn tracked() -> anyhow::Result<Vec<Source>> {
    let listed = Command::new("git")
        .args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"])
        .current_dir(top())
        .output()
        .context("git lists the files of the repository")?;
    ensure!(listed.status.success(), "git ls-files: {}", String::from_utf8_lossy(&listed.stderr));
    let mut sources = Vec::new();
    for path in String::from_utf8(listed.stdout)?.split('\0').filter(|path| !path.is_empty()) {
        // What is no text is a picture; what cannot be read was deleted and not yet committed.
        if let Ok(text) = std::fs::read_to_string(top().join(path)) {
            sources.push(Source::new(path, &text));
        }
    }
    ensure!(sources.len() > 10, "only {} files found: not the repository", sources.len());
    Ok(sources)
}
