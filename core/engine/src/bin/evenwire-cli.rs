//! The command line of Evenwire. Exit code 0: done. 1: it ran, but some input was bad or the answer is no (said on
//! standard error). 2: wrong usage. `-` is standard input.

use clap::{Parser, Subcommand};
use evenwire_core::job::Command;
use evenwire_core::verdict::words::Language;
use evenwire_engine::bench::BenchOptions;
use evenwire_engine::practice::PartModel;
use evenwire_engine::practice::rehearsal::Beside;
use evenwire_engine::report::Form;
use evenwire_engine::{cli, place};
use evenwire_paper::{PageSize, ShopHeader};
use jiff::tz::TimeZone;
use std::path::PathBuf;
use std::process::ExitCode;
use uuid::Uuid;

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
    /// The shop's hub: pair with it, send, say what is there, unpair.
    Hub {
        /// The ledger, as with `serve`.
        #[arg(long)]
        db: Option<PathBuf>,
        /// What is done.
        #[command(subcommand)]
        deed: cli::hub::Deed,
    },
    /// Hand a job over to another device as a file or over the network, take it back, or take one over.
    Handover {
        /// The ledger, as with `serve`.
        #[arg(long)]
        db: Option<PathBuf>,
        /// What is done.
        #[command(subcommand)]
        deed: cli::handover::Deed,
    },
    /// Write a copy of a ledger that is read back and checked, while another program may have it open. The key of the
    /// device is never in it; personal details are.
    Backup {
        /// The ledger, as with `serve`.
        #[arg(long)]
        db: Option<PathBuf>,
        /// The file to write; nothing is written over.
        out: PathBuf,
    },
    /// Put a backup back as a ledger, where none is. With the next start it goes on under a new device number and a new
    /// key: what was recorded after the backup may be known elsewhere.
    Restore {
        /// The backup. It stays as it is.
        backup: PathBuf,
        /// The ledger, as with `serve`.
        #[arg(long)]
        db: Option<PathBuf>,
    },
    /// Move a damaged ledger aside and go on with what can be read of it.
    ///
    /// The damaged file is never deleted or written to: it is kept beside the new one as <ledger>.aside-N. The new one has
    /// the entries that are whole, from the first on, with their samples, photos, details and people. What can be read of
    /// later entries stands in <ledger>.rescued-N, a JSON object a line: sequence, hash, whole (whether it is what its hash
    /// says), entry (its exact text). A ledger that is whole is left as it is.
    Rescue {
        /// The ledger, as with `serve`.
        #[arg(long)]
        db: Option<PathBuf>,
    },
    /// Write the report of a job as a PDF. The ledger is only read.
    Report {
        /// The ledger.
        #[arg(long)]
        db: PathBuf,
        /// The job, by its id.
        #[arg(long)]
        job: Uuid,
        /// The PDF to write.
        #[arg(long)]
        out: PathBuf,
        /// Language of the report.
        #[arg(long, value_parser = ["en", "de"], default_value = "en")]
        language: String,
        /// Letter instead of A4.
        #[arg(long)]
        letter: bool,
        /// Name of the shop, at its head; without it the shop as the ledger knows it.
        #[arg(long)]
        shop: Option<String>,
        /// Time zone of its times, as in Europe/Vienna; without it they stand as they were written.
        #[arg(long, value_parser = zone)]
        zone: Option<TimeZone>,
    },
    /// Erase personal details and photos for ever: of one closed job, or of all that were opened long enough ago.
    ///
    /// Order, short name of the vehicle, readings, verdict and signatures stay, and the record says that it was done. Reports that
    /// were handed out are files of their own and are not reached.
    Erase {
        /// The ledger, as with `serve`.
        #[arg(long)]
        db: Option<PathBuf>,
        /// The job, by its id.
        #[arg(long, required_unless_present = "older_than", conflicts_with = "older_than")]
        job: Option<Uuid>,
        /// Months since a job was opened, 1 to 1200; closed or not.
        #[arg(long, value_name = "MONTHS")]
        older_than: Option<u16>,
    },
    /// Print every reading of a job as CSV, or as JSON. The ledger is only read.
    ///
    /// Columns: part, conductor, other, kind (touch, isolation, sweep), value (digits as shown, with a point), state
    /// (value, over-range, none), unit, standard_uncertainty (ohm, of one touch), time (ISO 8601), source (radio,
    /// typed, practice, replay), meter, taken, counts, finding, seconds, id.
    Readings {
        /// The ledger.
        #[arg(long)]
        db: PathBuf,
        /// The job, by its id.
        #[arg(long)]
        job: Uuid,
        /// JSON instead of CSV.
        #[arg(long)]
        json: bool,
        /// Time zone of its times; without it they stand as they were written.
        #[arg(long, value_parser = zone)]
        zone: Option<TimeZone>,
    },
    /// Write a job as one file that proves itself: entries, samples, photos, report, signed by the key of its ledger.
    Claim {
        /// The ledger.
        #[arg(long)]
        db: PathBuf,
        /// The job, by its id.
        #[arg(long)]
        job: Uuid,
        /// The file to write, a ZIP.
        #[arg(long)]
        out: PathBuf,
        /// Language of the report in it.
        #[arg(long, value_parser = ["en", "de"], default_value = "en")]
        language: String,
        /// Leave out what is kept beside the entries: customer, vehicle numbers, photos, names, and the report that
        /// tells them. Order, vehicle in words and what was written at steps are in the entries and go along.
        #[arg(long)]
        impersonal: bool,
        /// Time zone of the times in the report; without it they stand as they were written.
        #[arg(long, value_parser = zone)]
        zone: Option<TimeZone>,
    },
    /// Say that a claim file is as it was signed, or name the first thing that is not. Needs nothing but the file.
    Verify {
        /// The claim file.
        file: PathBuf,
        /// Fingerprint of the key, as the workshop names it.
        #[arg(long, value_name = "FINGERPRINT")]
        key: Option<String>,
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
                key: place::key_place(std::env::var_os(place::KEY)),
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
        Verb::People { db, deed } => at(db, |database| cli::people::run(database, &deed)),
        Verb::Hub { db, deed } => at(db, |database| cli::hub::run(database, &deed)),
        Verb::Handover { db, deed } => at(db, |database| cli::handover::run(database, &deed)),
        Verb::Backup { db, out } => at(db, |database| cli::backup::back_up(&database, &out)),
        Verb::Restore { backup, db } => at(db, |database| cli::backup::restore(&backup, &database)),
        Verb::Erase { db, job, older_than } => erase(db, job, older_than),
        Verb::Rescue { db } => at(db, |database| cli::rescue::run(&database)),
        Verb::Report { db, job, out, language, letter, shop, zone } => {
            let size = if letter { PageSize::Letter } else { PageSize::A4 };
            let shop = shop.map(|name| ShopHeader { name, ..ShopHeader::default() });
            let form = Form { language: spoken(&language), size, shop, zone };
            cli::report::run(&cli::report::Wanted { database: db, job, out, form })
        }
        Verb::Readings { db, job, json, zone } => cli::readings::run((&db, job), zone.as_ref(), json),
        Verb::Claim { db, job, out, language, impersonal, zone } => {
            let form = Form { language: spoken(&language), size: PageSize::A4, shop: None, zone };
            cli::claim::run(&cli::report::Wanted { database: db, job, out, form }, !impersonal)
        }
        Verb::Verify { file, key } => cli::verify::run(&file, key.as_deref()),
        Verb::Check { file } => cli::check::run(&file),
    }
}

/// One of the two texts that are taken.
fn spoken(language: &str) -> Language {
    if language == "de" { Language::De } else { Language::En }
}

fn zone(name: &str) -> Result<TimeZone, String> {
    TimeZone::get(name).map_err(|error| error.to_string())
}

/// One of the two is there: the command line sees to it.
fn erase(db: Option<PathBuf>, job: Option<Uuid>, older_than: Option<u16>) -> ExitCode {
    let older = Command::EraseOlder { months: older_than.unwrap_or_default() };
    at(db, |database| cli::erase::run(database, job.map_or(older, |job| Command::EraseDetails { job })))
}

/// What is done at the ledger that was named, or the app's own.
fn at(named: Option<PathBuf>, deed: impl FnOnce(PathBuf) -> ExitCode) -> ExitCode {
    match ledger(named) {
        Ok(database) => deed(database),
        Err(words) => usage(&words),
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
