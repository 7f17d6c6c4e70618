//! The command line of Evenwire. Exit code 0: done. 1: it ran, but some input was bad or the answer is no (said on
//! standard error). 2: wrong usage. `-` is standard input.

use clap::{Parser, Subcommand};
use evenwire_engine::bench::BenchOptions;
use evenwire_engine::practice::PartModel;
use evenwire_engine::practice::rehearsal::Beside;
use evenwire_engine::{cli, place};
use std::path::PathBuf;
use std::process::ExitCode;

/// Find the conductor that does not read like the others, and keep a record of it.
#[derive(Parser)]
#[command(name = "evenwire-cli", version, about)]
struct Line {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    /// Serve the screens on this machine's own address; prints the address with its key.
    Serve {
        /// The ledger; made if it is not there. Without this, the file that EVENWIRE_DB names; without that,
        /// evenwire.db in the app's own folder, the same one as the window's: works.evenwire.bench in
        /// $XDG_DATA_HOME or ~/.local/share on Linux, ~/Library/Application Support on macOS, %APPDATA% on Windows.
        /// Own meter profiles are the *.toml files in the folder `profiles` beside it.
        #[arg(long)]
        db: Option<PathBuf>,
        /// Port of the loopback address; 0 takes a free one.
        #[arg(long, default_value_t = 0)]
        port: u16,
        /// Do not use Bluetooth.
        #[arg(long)]
        no_radio: bool,
        /// Part at the practice meter: a part file, or first-practice, all-good, only-turning.
        #[arg(long)]
        part: Option<PathBuf>,
        /// Seed of the practice meter.
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// Speed of the practice bench, per cent of life (10 to 10000).
        #[arg(long, default_value_t = 100)]
        speed: u32,
        /// A recorded stream, offered as a meter.
        #[arg(long)]
        replay: Option<PathBuf>,
    },
    /// Do a whole job without a screen at the practice bench.
    ///
    /// With --json the last line is one object: job, set, conductors, reasons, action, database, entries; zero (what
    /// the leads read first, as shown, or null) and swept (for each conductor the word of its sweeps, or null).
    Practice {
        /// Seed: the same one gives the same verdict.
        #[arg(long)]
        seed: u64,
        /// A part file, or first-practice, all-good, only-turning; a part drawn from the seed if none.
        #[arg(long)]
        part: Option<PathBuf>,
        /// Display step of the meter in ohm: 0.1, 0.01 or 0.001.
        #[arg(long, value_parser = ["0.1", "0.01", "0.001"], default_value = "0.01")]
        meter: String,
        /// The ledger; a new one in the temporary folder if none.
        #[arg(long)]
        db: Option<PathBuf>,
        /// Read the leads before the first touch and after the last one.
        #[arg(long)]
        zero: bool,
        /// Sweep every conductor where the verdict asks for it: two turns to each side, a mark each four seconds.
        #[arg(long)]
        sweep: bool,
        /// Print one JSON object as the last line.
        #[arg(long)]
        json: bool,
    },
    /// Work a whole procedure through without a screen at the practice bench: every wait, photo and signature.
    Run {
        /// A procedure that comes with the program: steering-coil, door-harness, seat-connector, or its id.
        procedure: String,
        /// Seed of meter and hands.
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// A new ledger; one in the temporary folder if none is named.
        #[arg(long)]
        db: Option<PathBuf>,
        /// Let the machine go down once, before this step is begun.
        #[arg(long, value_name = "STEP")]
        reboot_before: Option<String>,
    },
    /// Judge cases, one JSON object a line; prints one object each.
    Judge {
        /// The cases; - is standard input.
        cases: PathBuf,
    },
    /// Examine sweep traces, one JSON object a line; prints one object each.
    Sweep {
        /// The traces; - is standard input.
        traces: PathBuf,
    },
    /// Decode recorded notifications: lines "milliseconds hex" to readings as JSON lines.
    Decode {
        /// The meter profile.
        #[arg(long)]
        profile: PathBuf,
        /// The notifications; - is standard input.
        frames: PathBuf,
    },
    /// The people of the shop who may sign: list, add, remove.
    People {
        /// The ledger, as with `serve`.
        #[arg(long)]
        db: Option<PathBuf>,
        /// What is done.
        #[command(subcommand)]
        deed: cli::people::Deed,
    },
    /// Check a procedure, a meter profile or a practice part file.
    Check {
        /// The file.
        file: PathBuf,
    },
}

fn main() -> ExitCode {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env().unwrap_or_else(|_| "warn".into());
    tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).init();
    match Line::parse().verb {
        Verb::Serve { db, port, no_radio, part, seed, speed, replay } => {
            let part = match part.as_deref().map(cli::practice::part_model).transpose() {
                Ok(part) => part,
                Err(words) => return usage(&words),
            };
            let database = match ledger(db) {
                Ok(database) => database,
                Err(words) => return usage(&words),
            };
            let options = BenchOptions {
                radio: !no_radio,
                practice_seed: seed,
                practice_part: part,
                practice_speed_percent: speed,
                replay,
                ..BenchOptions::on(database)
            };
            cli::serve::run(options, port)
        }
        Verb::Practice { seed, part, meter, db, zero, sweep, json } => {
            let part = match part.as_deref().map(cli::practice::part_model).transpose() {
                Ok(part) => part.unwrap_or_else(|| PartModel::random(seed)),
                Err(words) => return usage(&words),
            };
            let places = u8::try_from(meter.len() - 2).expect("one of three texts");
            let beside = Beside { zero, sweep };
            cli::practice::run(part, &cli::practice::Wanted { seed, places, database: db, beside, json })
        }
        Verb::Run { procedure, seed, db, reboot_before } => {
            cli::run::run(&cli::run::Wanted { procedure, seed, database: db, reboot_before })
        }
        Verb::Judge { cases } => cli::judge::run(&cases),
        Verb::Sweep { traces } => cli::sweep::run(&traces),
        Verb::Decode { profile, frames } => cli::decode::run(&profile, &frames),
        Verb::People { db, deed } => match ledger(db) {
            Ok(database) => cli::people::run(database, &deed),
            Err(words) => usage(&words),
        },
        Verb::Check { file } => cli::check::run(&file),
    }
}

fn usage(words: &str) -> ExitCode {
    eprintln!("{words}");
    ExitCode::from(2)
}

/// The ledger that was named on the command line, by the environment, or else the app's own.
fn ledger(named: Option<PathBuf>) -> Result<PathBuf, String> {
    let named = named.map(PathBuf::into_os_string).or_else(|| std::env::var_os(place::OVERRIDE));
    let is_named = named.as_ref().is_some_and(|name| !name.is_empty());
    let folder = match place::folder() {
        Some(folder) => folder,
        None if is_named => PathBuf::new(),
        None => return Err("There is no folder for a program's own files here: name the ledger with --db.".into()),
    };
    place::database(folder, named).map_err(|error| format!("The ledger's folder cannot be made: {error}"))
}
