//! `serve`: the screens in a browser on this machine.

use crate::bench::{Bench, BenchOptions};
use crate::ending::told_to_end;
use crate::serve::Server;
use std::io::Write;
use std::process::ExitCode;

/// Serves until the process is told to end, and ends when everything a meter sent is written. Exit code 0: ended as
/// told; 1: the ledger cannot be opened, the port is taken, or the last samples were not written in time.
pub fn run(options: BenchOptions, port: u16) -> ExitCode {
    let database = options.database.display().to_string();
    let bench = match Bench::start(options) {
        Ok(bench) => bench,
        Err(error) => {
            eprintln!("{}", super::rescue::no_bench(&error));
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
        // Before anybody can know that it runs, and tell it to end.
        let end = told_to_end()?;
        let server = Server::bind(bench, port).await?;
        println!("The record is kept in {database}.");
        println!("Open this address in a browser on this machine: {}", server.address()?);
        std::io::stdout().flush()?;
        server.run(end).await
    });
    runtime.shutdown_background();
    match served {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => {
            eprintln!("{database}: the bench did not end in time; the last second of what a meter sent may be missing");
            ExitCode::FAILURE
        }
        Err(error) => {
            eprintln!("port {port}: {error}");
            ExitCode::FAILURE
        }
    }
}
