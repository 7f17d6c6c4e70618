//! A job done, packed and checked by the real program, as an insurer gets it: with the file and nothing else.

use evenwire_core::record::{Details, KeptDetails};
use evenwire_core::session::Batch;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

const SURVEY: &str = "import sys, zipfile\nwith zipfile.ZipFile(sys.argv[1]) as z:\n    bad = z.testzip()\n    assert bad is None, bad\n    print(*z.namelist(), sep='\\n')";

fn cli(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_evenwire-cli")).args(args).env_remove("EVENWIRE_DB").output().expect("it runs")
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

/// A whole procedure in a ledger of its own, and the claim file of its job.
struct Shop {
    folder: TempDir,
    job: String,
}

impl Shop {
    fn worked() -> Shop {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("shop.db");
        let run = cli(&["run", "seat-connector", "--db", database.to_str().unwrap()]);
        assert!(run.status.success(), "{}", told(&run));
        let job = evenwire_store::Store::open(&database, uuid::Uuid::nil())
            .unwrap()
            .newest_job()
            .unwrap()
            .expect("a job was done");
        Shop { folder, job: job.to_string() }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn claim(&self, name: &str, more: &[&str]) -> Output {
        let (database, out) = (self.at("shop.db"), self.at(name));
        let args = ["claim", "--db", database.to_str().unwrap(), "--job", &self.job, "--out", out.to_str().unwrap()];
        cli(&[&args[..], more].concat())
    }
}

fn verify(file: &Path, more: &[&str]) -> Output {
    cli(&[&["verify", file.to_str().unwrap()], more].concat())
}

#[test]
fn a_claim_is_checked_elsewhere_and_whoever_changes_it_is_found() {
    let shop = Shop::worked();
    let made = shop.claim("claim.zip", &[]);
    assert!(made.status.success(), "{}", told(&made));
    // Away from ledger and key.
    let away = tempfile::tempdir().unwrap();
    let file = away.path().join("from-the-shop.zip");
    std::fs::copy(shop.at("claim.zip"), &file).unwrap();
    let proved = verify(&file, &[]);
    let words = told(&proved);
    assert!(proved.status.success() && words.contains("unchanged since it was signed"), "{words}");
    assert!(words.contains("signed all entries when it closed the job"), "{words}");
    assert!(!words.contains("not in this file"), "{words}");
    let key = words.lines().find_map(|line| line.trim().strip_prefix("file signed by key ")).expect("its fingerprint");
    assert!(verify(&file, &["--key", key]).status.success());
    let other = verify(&file, &["--key", "0000-0000"]);
    assert_eq!(other.status.code(), Some(1), "{}", told(&other));
    // Any program that reads ZIP files reads it.
    let listed = Command::new("python3").arg("-c").arg(SURVEY).arg(&file).output().expect("python3 is there");
    assert!(listed.status.success(), "{}", told(&listed));
    let listed = told(&listed);
    for name in [
        "READ-ME.txt",
        "report.pdf",
        "readings.csv",
        "manifest.jws",
        "details.json",
        "entries/",
        "photos/",
        "people/",
        "samples/",
        "heads/",
    ] {
        assert!(listed.lines().any(|line| line.starts_with(name)), "{name} in {listed}");
    }
    let mut bytes = std::fs::read(&file).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x20;
    std::fs::write(&file, bytes).unwrap();
    let changed = verify(&file, &[]);
    assert_eq!(changed.status.code(), Some(1));
    assert!(told(&changed).contains("NOT as it was signed"), "{}", told(&changed));
}

#[test]
fn without_what_is_personal_no_name_goes_along_and_it_still_proves() {
    let shop = Shop::worked();
    let made = shop.claim("bare.zip", &["--impersonal"]);
    assert!(made.status.success() && told(&made).contains("customer and vehicle: not in this file"), "{}", told(&made));
    let ledger = evenwire_store::Glance::at(&shop.at("shop.db")).unwrap();
    let bytes = std::fs::read(shop.at("bare.zip")).unwrap();
    let names: Vec<String> = ledger.people().unwrap().into_iter().map(|kept| kept.text).collect();
    assert!(!names.is_empty());
    for text in names {
        let name = text.split('"').nth(3).expect("the name is the first field").to_owned();
        assert!(!bytes.windows(name.len()).any(|window| window == name.as_bytes()), "{name}");
    }
}

/// A rescue may leave details of another time beside the entries: they prove nothing, and spoil nothing.
#[test]
fn details_that_the_entries_do_not_name_are_left_out() {
    let shop = Shop::worked();
    let job = shop.job.parse().unwrap();
    let mut ledger = evenwire_store::Store::open(&shop.at("shop.db"), uuid::Uuid::nil()).unwrap();
    let other = KeptDetails::new(job, [1; 32], &Details { customer: "somebody else".into(), ..Details::default() });
    ledger.append(&Batch { details: vec![other], ..Batch::default() }).unwrap();
    drop(ledger);
    let made = shop.claim("claim.zip", &[]);
    assert!(made.status.success() && told(&made).contains("customer and vehicle: not in this file"), "{}", told(&made));
}

#[test]
fn what_cannot_be_packed_or_read_is_said() {
    let shop = Shop::worked();
    let job = "00000000-0000-7000-8000-000000000000";
    let database = shop.at("shop.db");
    let out = shop.at("none.zip");
    let none = cli(&["claim", "--db", database.to_str().unwrap(), "--job", job, "--out", out.to_str().unwrap()]);
    assert!(none.status.code() == Some(1) && told(&none).contains("there is no job"), "{}", told(&none));
    assert!(!out.exists());
    std::fs::remove_file(shop.at("shop.db.key")).unwrap();
    let keyless = shop.claim("none.zip", &[]);
    assert!(keyless.status.code() == Some(1) && told(&keyless).contains("key of this ledger"), "{}", told(&keyless));
    assert_eq!(verify(&out, &[]).status.code(), Some(2), "no such file");
    std::fs::write(&out, b"PK something else").unwrap();
    let foreign = verify(&out, &[]);
    assert!(foreign.status.code() == Some(1) && told(&foreign).contains("no claim file"), "{}", told(&foreign));
}
