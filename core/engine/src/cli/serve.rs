//! `serve`: the screens in a browser on this machine.

use crate::bench::{Bench, BenchOptions};
use crate::serve::Server;
use std::io::Write;
use std::process::ExitCode;

/// Serves until the process is told to end. Exit code 0: ended as told; 1: the ledger cannot be opened, or
/// the port is taken.
pub fn run(options: BenchOptions, port: u16) -> ExitCode {
    let database = options.database.display().to_string();
    let bench = match Bench::start(options) {
        Ok(bench) => bench,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::FAILURE;
        }
    };
    let runtime = match tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => {
            eprintln!("the system gives no threads: {error}");
            return ExitCode::FAILURE;
        }
    };
    let served = runtime.block_on(async {
        let server = Server::bind(bench, port).await?;
        println!("The record is kept in {database}.");
        println!("Open this address in a browser on this machine: {}", server.address()?);
        std::io::stdout().flush()?;
        server.run(told_to_end()).await
    });
    runtime.shutdown_background();
    match served {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("port {port}: {error}");
            ExitCode::FAILURE
        }
    }
}

async fn told_to_end() {
    let interrupt = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        // Without the signal the process simply ends when it is told to.
        let Ok(mut terminate) = signal(SignalKind::terminate()) else { return drop(interrupt.await) };
        tokio::select! {
            _ = interrupt => {}
            _ = terminate.recv() => {}
        }
    }
    #[cfg(not(unix))]
    drop(interrupt.await);
}
