//! A PostgreSQL of the tests' own: started with the first test that wants one, and gone with the last. It is the one that
//! Debian installs, run as a user who may do nothing else, on a socket in a folder of its own.

use evenwire_hub::storage::ServerAddress;
use postgres::{Client, NoTls};
use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// How long a server may take to be there.
const DEADLINE: Duration = Duration::from_secs(60);

/// Begins a server and ends it with whoever started it: when nobody holds the other end of its input any more.
const KEEPER: &str = r#"
set -e
[ -d "$2/rows" ] || "$1/initdb" -D "$2/rows" -U evenwire -A trust -E UTF8 --locale=C.UTF-8 --no-sync >/dev/null
"$1/postgres" -D "$2/rows" -k "$2" -c listen_addresses= -c max_connections=300 -c fsync="$3" </dev/null >"$2/log" 2>&1 &
server=$!
echo "$server"
cat >/dev/null
kill -QUIT "$server" 2>/dev/null || true
wait "$server" || true
[ "$4" = stays ] || rm -rf "$2"
"#;

/// A database of its own where this run of the tests is about PostgreSQL.
pub fn store() -> Option<ServerAddress> {
    (env!("CARGO_CRATE_NAME") == "postgres").then(database)
}

/// An empty database at the server that the tests of this process share.
pub fn database() -> ServerAddress {
    static SHARED: OnceLock<(PathBuf, Option<Keeper>)> = OnceLock::new();
    let (folder, _) = SHARED.get_or_init(|| {
        let folder = std::env::temp_dir().join(format!("evenwire-rows-{}", std::process::id()));
        // Tests of one process are several modules, each with its own of these.
        let keeper = fs::create_dir(&folder).is_ok().then(|| Keeper::start(&folder, ["off", "goes"]));
        (folder, keeper)
    });
    fresh_database(folder)
}

/// An empty database at the server of that folder, once it is there.
pub fn fresh_database(folder: &Path) -> ServerAddress {
    let name = format!("shop_{}", evenwire_hub::app::random_id().simple());
    let make = format!("CREATE DATABASE {name}");
    let at = address(folder, "postgres");
    // The client may not wait on a thread that others wait on.
    std::thread::spawn(move || connect(&at).batch_execute(&make).unwrap()).join().unwrap();
    address(folder, &name)
}

/// A server that waits for its disk, in a folder `server` of that place, with an empty database.
pub fn on_its_disk(place: &Path) -> (Keeper, ServerAddress) {
    let rows = place.join("server");
    fs::set_permissions(place, std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    fs::create_dir(&rows).unwrap();
    let keeper = Keeper::start(&rows, ["on", "stays"]);
    let store = fresh_database(&rows);
    (keeper, store)
}

/// Where a database of that server is reached.
pub fn address(folder: &Path, name: &str) -> ServerAddress {
    ServerAddress(format!("postgres:///{name}?user=evenwire&host={}", folder.display()))
}

/// A client of the tests' own, as soon as somebody answers.
pub fn connect(at: &ServerAddress) -> Client {
    let begun = Instant::now();
    loop {
        match Client::connect(&at.0, NoTls) {
            Ok(client) => return client,
            Err(error) if begun.elapsed() > DEADLINE => panic!("no server answers: {error}"),
            Err(_) => std::thread::yield_now(),
        }
    }
}

/// Ends the server when it is dropped, or when this process ends.
pub struct Keeper {
    shell: Child,
    /// Process of the server.
    pub server: u32,
}

impl Keeper {
    /// Starts a server in a folder that is there: with or without waiting for the disk, in a folder that stays or goes
    /// with it.
    pub fn start(folder: &Path, how: [&str; 2]) -> Keeper {
        let mut command = as_nobody_special(folder);
        command.args(["sh", "-c", KEEPER, "sh"]).arg(programs()).arg(folder).args(how);
        let mut shell = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(shell.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let server = line.trim().parse().unwrap_or_else(|_| panic!("no server was started: {line:?}"));
        Keeper { shell, server }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        drop(self.shell.stdin.take());
        let _ = self.shell.wait();
    }
}

/// A server does not run as root; then as the user that Debian made for it.
pub fn as_nobody_special(folder: &Path) -> Command {
    if fs::metadata("/proc/self").unwrap().uid() != 0 {
        return Command::new("env");
    }
    assert!(Command::new("chown").arg("postgres:postgres").arg(folder).status().unwrap().success());
    let mut command = Command::new("setpriv");
    command.args(["--reuid=postgres", "--regid=postgres", "--clear-groups", "--"]);
    command
}

/// Folder of the newest server that is installed.
pub fn programs() -> PathBuf {
    let installed = fs::read_dir("/usr/lib/postgresql").expect("PostgreSQL is installed: `apt-get install postgresql`");
    let number = |path: &PathBuf| path.file_name().and_then(|name| name.to_str()?.parse::<u32>().ok());
    installed.flatten().map(|folder| folder.path()).max_by_key(number).expect("a version").join("bin")
}
