//! `evenwire-cli judge FILE`: the verdict on each case line.

use evenwire_core::verdict::cases::judge_line;
use std::path::Path;
use std::process::ExitCode;

/// Judges every verdict line of a file (`-` is standard input); see [`super::lines::run`] for the exit codes.
pub fn run(path: &Path) -> ExitCode {
    super::lines::run(path, judge_line)
}
