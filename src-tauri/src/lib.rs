//! The window and phone shell. Thin on purpose: it opens one window, hands what the page asks to
//! the bench, and hands what the bench pushes to the page. It holds no rule and no state of a job.
//!
//! Two commands are the whole contract with the page: `tell` (an ask, a reply) and `watch` (a channel
//! for what the bench says unasked).

mod commands;
mod no_bench;

use commands::Desk;
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_engine::place;
use std::path::{Path, PathBuf};
use tauri::{AppHandle, Manager, RunEvent, webview::PageLoadEvent};

/// The folder of reports in the person's documents.
const REPORTS: &str = "Evenwire";

/// Opens the window and runs until it is closed.
///
/// Ends the process with code 1 and a sentence on standard error when no window can be opened, as
/// on a machine without a screen.
#[cfg_attr(mobile, tauri::mobile_entry_point)]
pub fn run() {
    start_log();
    if let Err(fault) = open() {
        eprintln!("evenwire: the window cannot be opened: {fault}");
        std::process::exit(1);
    }
}

fn open() -> tauri::Result<()> {
    tauri::Builder::default()
        .invoke_handler(tauri::generate_handler![commands::tell, commands::watch])
        .setup(|app| {
            let database = place::database(app.path().app_data_dir()?, std::env::var_os(place::OVERRIDE))?;
            let papers = app.path().document_dir().ok().map(|folder| folder.join(REPORTS));
            app.manage(set_down(&database, papers));
            #[cfg(desktop)]
            end_when_told(app.handle());
            Ok(())
        })
        .on_page_load(|_, load| {
            if load.event() == PageLoadEvent::Finished {
                tracing::info!("page shown");
            }
        })
        .build(tauri::generate_context!())?
        .run(|app, event| {
            if let RunEvent::Exit = event {
                put_away(app);
            }
        });
    Ok(())
}

/// Logging off, or Ctrl-C where it was started, closes the window as a person would.
#[cfg(desktop)]
fn end_when_told(app: &AppHandle) {
    let app = app.clone();
    tauri::async_runtime::spawn(async move {
        match evenwire_engine::ending::told_to_end() {
            Ok(told) => {
                told.await;
                app.exit(0);
            }
            Err(fault) => tracing::warn!(%fault, "being told to end is not heard"),
        }
    });
}

/// Waits until what a meter sent last is written and the ledger is closed.
fn put_away(app: &AppHandle) {
    // Nothing is managed when the start itself failed.
    let Some(Ok(bench)) = app.try_state::<Desk>().map(|desk| desk.inner().clone()) else { return };
    if !tauri::async_runtime::block_on(bench.close()) {
        tracing::error!("the bench did not end in time; the last second of what a meter sent may be missing");
    }
}

/// The running bench on `database`. Without one the window still opens, and says why nothing can be done.
fn set_down(database: &Path, papers: Option<PathBuf>) -> Desk {
    let mut options = BenchOptions::on(database.to_owned());
    // A window saves no downloads by itself: reports go into a folder that the person knows.
    options.reports = Some(papers.unwrap_or_else(|| database.with_file_name("reports")));
    options.key = place::key_place(std::env::var_os(place::KEY));
    if let Some(percent) = place::practice_speed(std::env::var_os(place::PRACTICE_SPEED)) {
        options.practice_speed_percent = percent;
    }
    Bench::start(options).map_err(|fault| {
        tracing::error!(%fault, "no bench");
        no_bench::notice(&fault, no_bench::language(|name| std::env::var(name).ok()))
    })
}

/// Logs to standard error: warnings, or whatever `RUST_LOG` names.
fn start_log() {
    let wanted = tracing_subscriber::EnvFilter::try_from_default_env().unwrap_or_else(|_| "warn".into());
    // A second subscriber is refused, not replaced: on a phone the activity may be made twice.
    let _already_there = tracing_subscriber::fmt().with_env_filter(wanted).with_writer(std::io::stderr).try_init();
}
