//! One process for each story, under plain `cargo test`.

use super::address;
use std::future::Future;
use std::path::{Path, PathBuf};
use std::process::Command;

const FOLDER: &str = "EVENWIRE_STORY_FOLDER";

/// Runs `story` in a process of its own, which is this same test binary asked for the one test `name`,
/// with `DBUS_SYSTEM_BUS_ADDRESS` and `DBUS_SESSION_BUS_ADDRESS` pointing into a folder made for it.
///
/// # Panics
/// The story failed, or `name` is not the full name of the calling test (then nothing would have run).
pub fn own_process<F: Future<Output = anyhow::Result<()>>>(name: &str, story: impl FnOnce(PathBuf) -> F) {
    if let Some(folder) = std::env::var_os(FOLDER) {
        let folder = PathBuf::from(folder);
        std::fs::write(told(&folder), name).expect("the folder can be written");
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build();
        let outcome = runtime.expect("a runtime").block_on(story(folder));
        if let Err(error) = outcome {
            panic!("{error:?}");
        }
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let run = Command::new(std::env::current_exe().expect("this binary"))
        .args([name, "--exact", "--nocapture", "--test-threads=1"])
        .env(FOLDER, folder.path())
        .env("DBUS_SYSTEM_BUS_ADDRESS", address(folder.path()))
        .env("DBUS_SESSION_BUS_ADDRESS", address(folder.path()))
        .output()
        .expect("this binary can be started");
    let said = format!("{}{}", String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
    assert!(run.status.success(), "the story {name} failed in its own process:\n{said}");
    assert!(told(folder.path()).exists(), "no test is called {name}");
    // bluez-async drops a panic of its background tasks where nobody looks; the link must not cause one.
    assert!(!said.contains("panicked at"), "a task panicked during {name}:\n{said}");
}

/// The same for a program: `work` runs in a process of its own, which is this program started again with the
/// same words, and says what it has to say on this one's output.
///
/// # Errors
/// Those of `work`, or the program cannot be started again.
pub fn program_on_own_bus<F: Future<Output = anyhow::Result<()>>>(
    work: impl FnOnce(PathBuf) -> F,
) -> anyhow::Result<()> {
    if let Some(folder) = std::env::var_os(FOLDER) {
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
        return runtime.block_on(work(PathBuf::from(folder)));
    }
    let folder = tempfile::tempdir()?;
    let run = Command::new(std::env::current_exe()?)
        .args(std::env::args_os().skip(1))
        .env(FOLDER, folder.path())
        .env("DBUS_SYSTEM_BUS_ADDRESS", address(folder.path()))
        .status()?;
    anyhow::ensure!(run.success(), "it ended with {run}");
    Ok(())
}

fn told(folder: &Path) -> PathBuf {
    folder.join("started")
}
