//! `evenwire-cli sweep FILE`: what each trace shows.

use evenwire_core::sweep::cases::judge_line;
use std::path::Path;
use std::process::ExitCode;

/// Examines every sweep line of a file (`-` is standard input); see [`super::lines::run`] for the exit codes.
pub fn run(path: &Path) -> ExitCode {
    super::lines::run(path, judge_line)
}
