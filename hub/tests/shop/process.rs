//! A hub as a process of its own, and phones that were taken in before it ran.

use super::{Phone, trusting};
use evenwire_core::record::Hash;
use evenwire_hub::app::{Clock, random_id};
use evenwire_hub::storage::{Asked, ServerAddress, Setup, Storage};
use evenwire_hub::tls::Certificates;
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// The program; examples that use these phones are built without it.
const PROGRAM: Option<&str> = option_env!("CARGO_BIN_EXE_evenwire-hub");

/// A hub that runs; killed when it is dropped.
pub struct Process {
    pub child: Child,
    pub listens: SocketAddr,
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Waits for what the hub tells when it listens.
pub fn start(folder: &Path, store: Option<&ServerAddress>) -> Process {
    start_program(Path::new(PROGRAM.unwrap_or("evenwire-hub")), folder, store)
}

/// The same with a program that was built apart.
pub fn start_program(program: &Path, folder: &Path, store: Option<&ServerAddress>) -> Process {
    let mut command = Command::new(program);
    command.args(["serve", "--listen", "127.0.0.1", "--port", "0", "--address", "127.0.0.1", "--folder"]).arg(folder);
    if let Some(store) = store {
        command.env("EVENWIRE_HUB_STORE", &store.0);
    }
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
    // Whatever it calls itself, it is told to listen here.
    let port = line.trim().trim_end_matches("/office/").rsplit(':').next().and_then(|port| port.parse::<u16>().ok());
    let port = port.unwrap_or_else(|| panic!("{line:?} tells no port"));
    Process { listens: SocketAddr::from(([127, 0, 0, 1], port)), child }
}

/// What else this machine does: a time is worth little without it.
pub fn machine() -> String {
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    format!("{cores} cores, load {}", load.split_whitespace().next().unwrap_or("not known"))
}

/// Time of the machine's cores that this process has used so far, seconds; Linux counts it in hundredths.
pub fn cores_used() -> f64 {
    let said = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let behind_the_name = said.rsplit_once(')').map_or("", |(_, behind)| behind);
    let ticks = behind_the_name.split_whitespace().skip(11).take(2).filter_map(|ticks| ticks.parse::<f64>().ok());
    ticks.sum::<f64>() / 100.0
}

/// A phone that was taken in before the hub ran.
pub async fn taken_in(folder: &Path, store: Option<&ServerAddress>, name: &str) -> Phone {
    std::fs::create_dir_all(folder).unwrap();
    let now_ms = Clock::of_machine().now_ms();
    let certificates = Certificates::open(folder, &["127.0.0.1".to_owned()], now_ms).unwrap();
    let storage = Storage::open_at(folder, store).unwrap();
    let hub = storage.begin(Setup { id: random_id(), token: Hash::ZERO, at_ms: 0 }).await.unwrap();
    let phone = Phone::of(hub.id, trusting(certificates.authority(), ([127, 0, 0, 1], 1).into()), name);
    let (code, pairing) = (Hash::of(name.as_bytes()), random_id());
    storage.invite(code, None, 0).await.unwrap();
    let key = phone.key.public();
    let asked = Asked { pairing, code, device: phone.id, name: phone.name.clone(), key, at_ms: 1 };
    storage.ask_pairing(asked).await.unwrap().unwrap();
    storage.decide_pairing(pairing, true, (None, 2)).await.unwrap().unwrap();
    phone
}
