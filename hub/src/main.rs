//! `evenwire-hub`.

mod cli;

use clap::Parser;
use mimalloc::MiMalloc;
use std::io::IsTerminal;
use std::process::ExitCode;
use tracing_subscriber::EnvFilter;

/// What a batch brings is read on one thread and let go on another, in many small pieces.
#[global_allocator]
static MEMORY: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("evenwire_hub=info,warn"));
    let ansi = std::io::stderr().is_terminal();
    tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(ansi).init();
    match cli::run(cli::Cli::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error:#}");
            ExitCode::FAILURE
        }
    }
}
