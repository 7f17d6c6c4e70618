//! A device of the shop: a folder with a ledger, and the bench that works on it.

use evenwire_core::job::{Command, Refusal};
use evenwire_core::view::{Ask, Pushed, Reply, View};
use evenwire_engine::bench::{Bench, BenchOptions};
use std::path::PathBuf;
use tempfile::TempDir;
use tokio::runtime::{Builder, Runtime};
use uuid::Uuid;

pub struct Device {
    folder: TempDir,
    runtime: Runtime,
    bench: Option<Bench>,
}

impl Device {
    pub fn new() -> Device {
        let runtime = Builder::new_current_thread().enable_all().build().unwrap();
        let mut device = Device { folder: tempfile::tempdir().unwrap(), runtime, bench: None };
        device.start();
        device
    }

    pub fn path(&self) -> PathBuf {
        self.folder.path().join("shop.db")
    }

    pub fn start(&mut self) {
        let options = BenchOptions { radio: false, ..BenchOptions::on(self.path()) };
        self.bench = Some(Bench::start(options).expect("it starts"));
    }

    pub fn end(&mut self) {
        let bench = self.bench.take().expect("it runs");
        assert!(self.runtime.block_on(bench.close()), "it ends in time");
    }

    pub fn ask(&self, ask: Ask) -> Reply {
        self.runtime.block_on(self.bench.as_ref().expect("it runs").ask(ask))
    }

    pub fn tell(&self, command: Command) -> Reply {
        self.ask(Ask::Do { command })
    }

    #[track_caller]
    pub fn done(&self, command: Command) {
        assert_eq!(self.tell(command), Reply::Done);
    }

    pub fn view(&self) -> View {
        let mut listener = self.bench.as_ref().expect("it runs").listen();
        match self.runtime.block_on(listener.next()) {
            Some(Pushed::View { view }) => *view,
            other => panic!("{other:?}"),
        }
    }

    /// The job that is open at the bench.
    pub fn job(&self) -> Uuid {
        self.view().bench.expect("a job").job.parse().unwrap()
    }
}

#[track_caller]
pub fn refused(reply: Reply) -> Refusal {
    match reply {
        Reply::Refused { refusal, .. } => refusal,
        other => panic!("{other:?}"),
    }
}
