//! The command line as a person at a shell meets it: arguments, streams and exit codes.

use evenwire_core::job::{Job, Stage};
use evenwire_core::meter::checksum::ChecksumKind;
use evenwire_core::record::Head;
use evenwire_core::verdict::SetVerdict;
use evenwire_store::Store;
use serde_json::Value;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use uuid::Uuid;

const PROFILES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../src/meter/profiles");
const PROCEDURES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../src/procedure/builtin");
const PARTS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/src/practice/parts");
const CASES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/cases-public.jsonl");

struct Answer {
    code: i32,
    out: String,
    err: String,
}

impl Answer {
    fn lines(&self) -> Vec<Value> {
        self.out.lines().map(|line| serde_json::from_str(line).expect("one JSON object a line")).collect()
    }
}

fn text(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes).expect("UTF-8")
}

fn cli(arguments: &[&str]) -> Answer {
    cli_with(arguments, b"")
}

fn cli_with(arguments: &[&str], input: &[u8]) -> Answer {
    let mut child = Command::new(env!("CARGO_BIN_EXE_evenwire-cli"))
        .args(arguments)
        .env_remove("EVENWIRE_DB")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    let (mut stdin, input) = (child.stdin.take().expect("piped"), input.to_vec());
    // Written beside reading: a program that answers early must not be waited for.
    let writer = std::thread::spawn(move || drop(stdin.write_all(&input)));
    let Output { status, stdout, stderr } = child.wait_with_output().expect("it ends");
    writer.join().expect("written");
    Answer { code: status.code().expect("not killed"), out: text(stdout), err: text(stderr) }
}

fn file(folder: &tempfile::TempDir, name: &str, text: &str) -> String {
    let path = folder.path().join(name);
    std::fs::write(&path, text).expect("a temporary file");
    path.to_str().expect("a plain path").to_owned()
}

/// `got` holds everything of `want`: numbers to 1e-6, codes and reasons as sets.
fn agrees(want: &Value, got: &Value) -> bool {
    match (want, got) {
        (Value::Object(want), Value::Object(got)) => want.iter().all(|(key, value)| {
            got.get(key).is_some_and(|found| match key.as_str() {
                "codes" | "reasons" => set(value) == set(found),
                _ => agrees(value, found),
            })
        }),
        (Value::Array(want), Value::Array(got)) => {
            want.len() == got.len() && want.iter().zip(got).all(|(want, got)| agrees(want, got))
        }
        (Value::Number(want), Value::Number(got)) => {
            (want.as_f64().unwrap() - got.as_f64().unwrap()).abs() <= 1.000_001e-6
        }
        _ => want == got,
    }
}

fn set(list: &Value) -> std::collections::BTreeSet<String> {
    list.as_array().expect("a list").iter().map(Value::to_string).collect()
}

// --- judge and sweep ---

#[test]
fn the_public_cases_come_out_of_both_verbs_as_expected() {
    let cases: Vec<Value> = std::fs::read_to_string(CASES)
        .expect("the cases")
        .lines()
        .map(|line| serde_json::from_str(line).expect("a case"))
        .collect();
    for (verb, test, many) in [("judge", "verdict", 53), ("sweep", "sweep", 9)] {
        let answer = cli(&[verb, CASES]);
        assert_eq!((answer.code, answer.err.as_str()), (0, ""));
        let wanted: Vec<&Value> = cases.iter().filter(|case| case["test"] == test).collect();
        let got = answer.lines();
        assert_eq!((wanted.len(), got.len()), (many, many), "{verb}");
        for (want, got) in wanted.iter().zip(&got) {
            assert_eq!(want["id"], got["id"]);
            assert!(agrees(&want["expect"], got), "{}: want {} got {got}", want["id"], want["expect"]);
        }
    }
}

#[test]
fn a_bad_line_is_named_and_the_rest_judged() {
    let input = "{\"id\":1,\"resolution\":0.1,\"conductors\":[]}\nnonsense\n\n{\"id\":2,\"resolution\":0.1,\"conductors\":[]}\n";
    let answer = cli_with(&["judge", "-"], input.as_bytes());
    assert_eq!(answer.code, 1);
    let ids: Vec<Value> = answer.lines().into_iter().map(|line| line["id"].clone()).collect();
    assert_eq!(ids, [1, 2]);
    assert_eq!(answer.err.lines().count(), 1, "{}", answer.err);
    assert!(answer.err.starts_with("-:2: "), "{}", answer.err);
    assert_eq!(cli_with(&["judge", "-"], b"").code, 0, "no line is no fault");
}

#[test]
fn a_file_that_is_not_there_and_wrong_usage_are_exit_code_two() {
    let profile = format!("{PROFILES}/text-line.toml");
    for arguments in [
        &["judge", "no-such-file"][..],
        &["sweep", "no-such-file"],
        &["check", "no-such-file"],
        &["decode", "--profile", &profile, "no-such-file"],
        &["decode", "--profile", "no-such-file", "-"],
        &["decode", "-"],
        &["practice", "--seed", "1", "--part", "no-such-file"],
        &["practice"],
        &["practice", "--seed", "one"],
        &["practice", "--seed", "1", "--meter", "0.5"],
        &["judge"],
        &["mend"],
        &[],
    ] {
        let answer = cli(arguments);
        assert_eq!(answer.code, 2, "{arguments:?}: {}{}", answer.out, answer.err);
        assert!(!answer.err.is_empty() && answer.out.is_empty(), "{arguments:?}");
    }
    assert_eq!(cli(&["--help"]).code, 0);
}

// --- decode ---

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A frame of the counted float meter.
fn counted_float(ohm: f32) -> String {
    let mut frame = vec![0xAA, 6, 0x00];
    frame.extend(ohm.to_le_bytes());
    let check = ChecksumKind::Crc8Smbus.of(&frame);
    frame.push(check.to_le_bytes()[0]);
    hex(&frame)
}

/// A frame of the status and integer meter, three places.
fn status_integer(status: u8, number: u32) -> String {
    let [_, high, middle, low] = number.to_be_bytes();
    let mut frame = vec![0xA5, 0x5A, 2, 3, status, high, middle, low];
    frame.extend(ChecksumKind::Crc16Modbus.of(&frame[2..]).to_le_bytes());
    hex(&frame)
}

#[test]
fn every_built_in_profile_decodes_its_recording() {
    let line = |text: &str| hex(format!("#{text:<12}\r\n").as_bytes());
    let recordings = [
        ("text-line.toml", line("+0.352 ohm"), line("OL    ohm"), "0.352"),
        ("named-medfloat.toml", "23e0".to_owned(), "fe07".to_owned(), "0.35"),
        ("status-integer.toml", status_integer(0x10, 352), status_integer(0x11, 0x7F_FFFF), "0.352"),
        ("counted-float.toml", counted_float(0.352), counted_float(f32::INFINITY), "0.352"),
    ];
    let there = std::fs::read_dir(PROFILES).expect("the profiles").count();
    assert_eq!(there, recordings.len(), "every profile has a recording here");
    for (profile, value, over, shown) in recordings {
        let frames = format!("# recorded\n40 {value}\n290 {over}\n");
        let answer = cli_with(&["decode", "--profile", &format!("{PROFILES}/{profile}"), "-"], frames.as_bytes());
        assert_eq!(answer.code, 0, "{profile}: {}", answer.err);
        let lines = answer.lines();
        assert_eq!(lines.len(), 2, "{profile}: {}", answer.out);
        assert_eq!(
            (&lines[0]["at_ms"], &lines[0]["state"], &lines[0]["unit"]),
            (&40.into(), &"value".into(), &"ohm".into())
        );
        assert_eq!(
            (&lines[0]["value"], &lines[1]["state"], &lines[1]["value"]),
            (&shown.into(), &"over-range".into(), &Value::Null)
        );
        assert!(answer.err.starts_with("2 readings, 0 frames without a reading, 0 bad lines, 0 bytes skipped"));
    }
}

#[test]
fn damaged_frames_and_lines_are_told_and_the_rest_decoded() {
    let profile = format!("{PROFILES}/status-integer.toml");
    let good = status_integer(0x10, 352);
    let frames = format!("10 {good}\nten {good}\n20 ffff{}\n30 {good}\n", &good[4..]);
    let answer = cli_with(&["decode", "--profile", &profile, "-"], frames.as_bytes());
    assert_eq!((answer.code, answer.lines().len()), (1, 2), "{}", answer.err);
    assert!(answer.err.contains("-:2: "), "{}", answer.err);
}

// --- check ---

#[test]
fn what_is_right_is_said_to_be_right() {
    for folder in [PROFILES, PARTS, PROCEDURES] {
        for entry in std::fs::read_dir(folder).expect("the built-in files") {
            let path = entry.expect("listed").path();
            let answer = cli(&["check", path.to_str().expect("plain")]);
            assert_eq!((answer.code, answer.err.as_str()), (0, ""), "{}", path.display());
        }
    }
}

#[test]
fn mistakes_are_told_with_line_column_and_what_to_write_instead() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let damaged = |path: &Path, from: &str, to: &str| {
        let text = std::fs::read_to_string(path).expect("built in");
        assert!(text.contains(from), "{from}");
        let line = 1 + text[..text.find(from).expect("there")].matches('\n').count();
        (file(&folder, "damaged.toml", &text.replacen(from, to, 1)), line)
    };
    let profile = PathBuf::from(format!("{PROFILES}/text-line.toml"));
    let part = PathBuf::from(format!("{PARTS}/first-practice.toml"));
    let procedure = PathBuf::from(format!("{PROCEDURES}/steering-coil.toml"));
    for (path, from, to) in [
        (&profile, "unit = \"ohm\"", "unit = \"mho\""),
        (&profile, "cut = \"marked\"", "cut = \"guessed\""),
        (&part, "cavities = 8", "cavities = 65"),
        (&part, "at = \"open-plug\"", "at = \"inflator\""),
        (&part, "format = 1", "format = 9"),
        (&procedure, "at_least = \"180 s\"", "at_least = \"60 s\""),
        (&procedure, "status = \"draft\"", "status = \"final\""),
    ] {
        let (name, line) = damaged(path, from, to);
        let answer = cli(&["check", &name]);
        assert_eq!((answer.code, answer.out.as_str()), (1, ""), "{to}");
        let told = answer.err.lines().next().unwrap_or_default();
        let fields: Vec<&str> =
            told.strip_prefix(&format!("{name}:")).expect("the file first").splitn(5, ':').collect();
        assert_eq!(fields.len(), 5, "{told}");
        // An end that may not be measured is told at the conductor, some lines above.
        let at: usize = fields[0].parse().expect("a line");
        assert!(at <= line && line - at <= 3, "{told}: line {line}");
        assert!(fields[1].parse::<usize>().is_ok(), "{told}");
    }
}

// --- practice ---

fn practice(arguments: &[&str], database: &Path) -> (Answer, Value) {
    let database = database.to_str().expect("plain");
    let answer = cli(&[&["practice", "--json", "--db", database], arguments].concat());
    assert_eq!(answer.code, 0, "{arguments:?}: {}", answer.err);
    let last = answer.out.lines().last().expect("a last line").to_owned();
    (answer, serde_json::from_str(&last).expect("the last line is one JSON object"))
}

#[test]
fn a_practice_job_is_told_and_stored() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let database = folder.path().join("one.db");
    let (answer, told) = practice(&["--seed", "7", "--part", "first-practice"], &database);
    let keys: Vec<&str> = told.as_object().expect("an object").keys().map(String::as_str).collect();
    assert_eq!(keys, ["action", "conductors", "database", "entries", "job", "reasons", "set", "swept", "zero"]);
    assert_eq!((&told["zero"], &told["swept"]), (&Value::Null, &Value::Array(vec![Value::Null; 8])));
    assert_eq!(
        (&told["set"], &told["action"], &told["conductors"][3]),
        (&"fail".into(), &"REPLACE".into(), &"high".into())
    );
    assert_eq!(told["database"], database.to_str().expect("plain"));
    assert!(answer.out.contains("Conductor 4 reads too high. The part is condemned."), "{}", answer.out);
    assert!(answer.out.contains("PRACTICE, nothing real was measured"));

    let store = Store::open(&database, Uuid::nil()).expect("the ledger opens again");
    assert!(store.check().expect("checked").is_whole());
    let job: Uuid = told["job"].as_str().expect("a text").parse().expect("an id");
    let entries = store.entries_after(0, 10_000).expect("all entries");
    assert_eq!(entries[0].entry().kind, "device-keyed");
    assert_eq!(told["entries"], entries.len() - 1, "of the job");
    let device = entries[0].entry().device;
    let head = entries.iter().try_fold(Head::empty(device), |head, entry| head.after(entry)).expect("a whole chain");
    assert_eq!(head, store.head().expect("its head"));
    let stored = Job::from_entries(&store.entries_of(job).expect("its entries")).expect("a job");
    assert_eq!(stored.stage(), Stage::Done);
    let touches: Vec<_> = stored.touches.iter().flat_map(|kept| &kept.fact.chunks).collect();
    assert!(touches.len() >= 16, "two touches on each of eight conductors");
    assert!(touches.into_iter().all(|hash| store.chunk(*hash).expect("read").is_some_and(|chunk| chunk.closed)));
}

#[test]
fn the_same_seed_gives_the_same_verdict_and_a_ledger_takes_a_second_job() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    for seed in ["1", "4711", "18446744073709551615"] {
        let (_, first) = practice(&["--seed", seed], &at(&format!("{seed}.db")));
        let (_, again) = practice(&["--seed", seed], &at(&format!("{seed}-again.db")));
        let (_, second) = practice(&["--seed", seed], &at(&format!("{seed}.db")));
        for key in ["set", "conductors", "reasons", "action", "entries"] {
            assert_eq!(first[key], again[key], "seed {seed}: {key}");
        }
        assert_eq!(first["set"], second["set"]);
        let entries = |told: &Value| told["entries"].as_u64().expect("a number");
        assert_eq!(entries(&second), entries(&first) - 1, "the meter is known by then");
        assert_ne!(first["job"], second["job"]);
        let store = Store::open(&at(&format!("{seed}.db")), Uuid::nil()).expect("opens");
        assert!(store.check().expect("checked").is_whole());
        assert_eq!(store.jobs("", 0, 10).expect("listed").0.len(), 2);
    }
}

#[test]
fn a_fault_that_shows_only_while_turning_is_told_when_it_is_swept() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let part = ["--seed", "3", "--part", "only-turning"];
    let (answer, told) = practice(&part, &at("rest.db"));
    assert_eq!((&told["set"], &told["action"]), (&"pass".into(), &"SWEEP".into()));
    assert!(answer.out.contains("Alike at rest. Not yet proved turning."));
    let (answer, told) = practice(&[&part[..], &["--zero", "--sweep"]].concat(), &at("turned.db"));
    assert_eq!((&told["set"], &told["action"]), (&"fail".into(), &"REPLACE".into()), "{}", answer.out);
    assert_eq!(told["swept"], serde_json::json!(["steady", "steady", "dropout", "steady", "steady", "steady"]));
    assert!(told["reasons"].as_array().expect("a list").contains(&"SWEEP_FAULT".into()), "{told}");
    let zero: f64 = told["zero"].as_str().expect("a text").parse().expect("a number");
    assert!((0.19..=0.24).contains(&zero), "{zero}");
}

/// A part file of one declared group.
fn part_of(ohms: &[f64]) -> String {
    let many = ohms.len();
    let mut text = "format = 1\nname = \"Coil\"\n".to_owned();
    for name in ["A", "B"] {
        text += &format!("[[connectors]]\nname = \"{name}\"\ncavities = {many}\n");
    }
    for (number, ohm) in (1..).zip(ohms) {
        let end = |name: &str| format!("{{ connector = \"{name}\", cavity = {number}, at = \"open-plug\" }}");
        text += &format!(
            "[[conductors]]\nname = \"{number}\"\ngroup = \"ribbon\"\nfrom = {}\nto = {}\nohm = {ohm:?}\n",
            end("A"),
            end("B")
        );
    }
    text
}

/// Clips add up to some hundredths, so that a tenth may show as the next one; the answer is the same at every seed.
#[test]
fn twelve_beside_a_third_is_condemned_and_a_flickering_tenth_is_not() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let worn = file(&folder, "worn.toml", &part_of(&[0.3, 0.4, 0.3, 12.0]));
    let sound = file(&folder, "sound.toml", &part_of(&[0.3, 0.4, 0.3, 0.3, 0.3]));
    for seed in ["1", "2", "3", "4", "5"] {
        let at = |name: &str| folder.path().join(format!("{name}-{seed}.db"));
        let (_, told) = practice(&["--seed", seed, "--meter", "0.1", "--part", &worn], &at("worn"));
        assert_eq!((&told["set"], &told["action"]), (&"fail".into(), &"REPLACE".into()), "seed {seed}");
        assert_eq!(told["conductors"], serde_json::json!(["consistent", "consistent", "consistent", "high"]));
        let (answer, told) = practice(&["--seed", seed, "--meter", "0.1", "--part", &sound], &at("sound"));
        assert_eq!(told["set"], "pass", "seed {seed}: {}", answer.out);
        assert!(answer.out.contains("Alike at rest. Not yet proved turning."));
    }
}

#[test]
fn the_roster_is_listed_added_to_and_taken_off_and_the_pin_comes_by_standard_input() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("shop.db");
    let database = database.to_str().unwrap();
    let people = |more: &[&str], input: &str| {
        let arguments: Vec<&str> = ["people", "--db", database].iter().chain(more).copied().collect();
        cli_with(&arguments, input.as_bytes())
    };
    let names = || -> Vec<String> {
        people(&["list"], "").lines().iter().map(|line| line["name"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(names(), [""; 0]);
    for name in ["Ruth Amsel", "Jakob Specht"] {
        let added = people(&["add", name, "--role", "technician"], "4711\n");
        assert_eq!((added.code, added.err.as_str()), (0, ""));
    }
    assert_eq!(names(), ["Jakob Specht", "Ruth Amsel"]);
    let refused = people(&["add", "Lena Star"], "47\n");
    assert_eq!((refused.code, refused.err.as_str()), (1, "A PIN has 4 to 12 digits. Type it with digits only.\n"));
    assert_eq!(people(&["remove", "Lena Star"], "").code, 1);
    assert_eq!(people(&["remove", "Ruth Amsel"], "").code, 0);
    assert_eq!(names(), ["Jakob Specht"]);
    assert_eq!(people(&["add"], "").code, 2);
}

/// All three procedures that come with the program, from first to last step, with the machine down once in the middle:
/// what made the vehicle safe is done again, and the ledger is whole afterwards.
#[test]
fn run_works_a_whole_procedure_through_with_photos_signatures_and_a_restart() {
    for (procedure, before, photos) in [
        ("steering-coil", "wheel-off", 17),
        ("door-harness", "plugs-apart", 9),
        ("seat-connector", "unit-plug-apart", 16),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let ledger = folder.path().join("run.db");
        let answer = cli(&["run", procedure, "--db", ledger.to_str().unwrap(), "--reboot-before", before]);
        assert_eq!(answer.code, 0, "{procedure}: {}", answer.err);
        assert!(answer.out.contains("\nRepaired. Technician: Practice technician.\n"), "{procedure}: {}", answer.out);
        assert!(answer.out.contains("Restarts of the machine: 1.\n"), "{procedure}");
        assert!(answer.out.contains(&format!("Photos: {photos}.")), "{procedure}: {}", answer.out);
        let store = Store::open(&ledger, Uuid::nil()).unwrap();
        let report = store.check().unwrap();
        assert!(report.bad_entry.is_none() && report.bad_chunks.is_empty(), "{procedure}: {report:?}");
        assert_eq!(count(&store, "photo-taken"), photos, "{procedure}");
        // What was signed is what stands, and the part that came out is what the other one was held against.
        let job = Job::from_entries(&store.entries_of(store.newest_job().unwrap().unwrap()).unwrap()).unwrap();
        assert!(job.verdict.as_ref().is_none_or(|verdict| !verdict.outdated), "{procedure}");
        // What is fitted is judged with all its conductors; a pair of terminals is renewed and not measured again.
        let set = job.verdict.map(|verdict| verdict.judgement.set);
        assert_eq!(set, (procedure != "seat-connector").then_some(SetVerdict::Pass), "{procedure}");
        let parts = usize::from(procedure == "steering-coil");
        assert_eq!(count(&store, "old-part-taken"), parts, "{procedure}");
        // The same without a restart.
        let whole = folder.path().join("whole.db");
        assert_eq!(cli(&["run", procedure, "--db", whole.to_str().unwrap()]).code, 0);
        let whole = Store::open(&whole, Uuid::nil()).unwrap();
        let once_more = count(&store, "step-done") - count(&whole, "step-done");
        assert_eq!(once_more, 3, "{procedure}: cable, wait and proof");
    }
}

/// Entries of that kind of the newest job.
fn count(store: &Store, kind: &str) -> usize {
    let job = store.newest_job().unwrap().expect("a job");
    store.entries_of(job).unwrap().iter().filter(|sealed| sealed.entry().kind == kind).count()
}

#[test]
fn run_says_what_it_does_not_know() {
    assert_eq!(cli(&["run", "gearbox"]).code, 2);
    let answer = cli(&["run", "steering-coil", "--reboot-before", "tea"]);
    assert_eq!(answer.code, 2);
    assert!(answer.err.contains("tea: the procedure orrin-3-steering-coil has no such step"), "{}", answer.err);
    let folder = tempfile::tempdir().unwrap();
    let ledger = folder.path().join("used.db");
    let line = ["run", "seat-connector", "--db", ledger.to_str().unwrap()];
    assert_eq!(cli(&line).code, 0);
    let again = cli(&line);
    assert_eq!((again.code, again.err.contains("a ledger that is in use")), (1, true), "{}", again.err);
}
