//! Whose ledger it is, at a running bench and with real files: first start, copies, lost keys, backups.

use evenwire_core::job::Command;
use evenwire_core::record::{Details, Event, Head, KeptKey, PublicKey, Renewal, Sealed, SignedHead, key_named};
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{Ask, Pushed, Reply, View};
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_engine::cli::{backup, practice};
use evenwire_engine::practice::PartModel;
use evenwire_engine::practice::rehearsal::Beside;
use evenwire_store::Store;
use std::fs;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// A folder with a ledger, as it lies on a device.
struct Shop {
    folder: tempfile::TempDir,
    runtime: tokio::runtime::Runtime,
}

/// What a start showed, and what the ledger held when the bench had ended.
struct Started {
    fault: Option<(String, String)>,
    device: Uuid,
    entries: Vec<Sealed>,
}

impl Shop {
    fn new() -> Shop {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        Shop { folder: tempfile::tempdir().unwrap(), runtime }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("shop.db")
    }

    fn key(&self) -> PathBuf {
        self.folder.path().join("shop.db.key")
    }

    /// Starts the bench, opens a job of this order and ends it.
    fn morning(&self, order: &str) -> Started {
        self.run(Some(order))
    }

    /// Starts the bench and ends it.
    fn look(&self) -> Started {
        self.run(None)
    }

    fn run(&self, order: Option<&str>) -> Started {
        let options = BenchOptions { radio: false, ..BenchOptions::on(self.path()) };
        let bench = Bench::start(options).expect("it starts");
        let view = self.view(&bench);
        if let Some(order) = order {
            let (order, vehicle, details) = (order.into(), "Blue estate".into(), Details::default());
            self.done(&bench, Command::NewJob { order, vehicle, details });
            self.done(&bench, Command::LeaveJob);
        }
        assert!(self.runtime.block_on(bench.close()));
        let store = Store::open(&self.path(), Uuid::nil()).unwrap();
        assert!(store.check().unwrap().is_whole(), "{:?}", store.check());
        let entries = store.entries_after(0, u32::MAX).unwrap();
        let head = store.head().unwrap();
        assert_eq!(verified(&entries), head);
        let kept = store.kept_key().unwrap().expect("a key is there");
        assert_eq!(Some(kept.public()), named(&entries, head.device), "and it is the one the ledger names");
        assert_eq!((kept.device, kept.witness.sequence), (head.device, head.sequence));
        let fault = view.fault.map(|notice| (notice.code, format!("{} {}", notice.words, notice.remedy)));
        Started { fault, device: head.device, entries }
    }

    fn view(&self, bench: &Bench) -> View {
        match self.runtime.block_on(bench.listen().next()) {
            Some(Pushed::View { view }) => *view,
            other => panic!("{other:?}"),
        }
    }

    fn done(&self, bench: &Bench, command: Command) {
        assert_eq!(self.runtime.block_on(bench.ask(Ask::Do { command })), Reply::Done);
    }

    /// Another device with the same ledger, and the key if it is to come along.
    fn copied(&self, with_key: bool) -> Shop {
        let copy = Shop::new();
        fs::copy(self.path(), copy.path()).unwrap();
        if with_key {
            fs::copy(self.key(), copy.key()).unwrap();
        }
        copy
    }

    fn store(&self) -> Store {
        Store::open(&self.path(), Uuid::from_u128(0xB1)).unwrap()
    }
}

fn verified(entries: &[Sealed]) -> Head {
    let first = Head::empty(entries[0].entry().device);
    entries.iter().try_fold(first, |head, next| head.after(next)).expect("a whole chain")
}

fn named(entries: &[Sealed], device: Uuid) -> Option<PublicKey> {
    let of_device: Vec<Sealed> = entries.iter().filter(|e| e.entry().job.is_none()).cloned().collect();
    key_named(&of_device, device)
}

fn code(started: &Started) -> &str {
    started.fault.as_ref().map_or("", |(code, _)| code.as_str())
}

fn kinds(entries: &[Sealed]) -> Vec<&str> {
    entries.iter().map(|sealed| sealed.entry().kind.as_str()).collect()
}

fn renewals(entries: &[Sealed]) -> Vec<(u64, Renewal)> {
    let read = |s: &Sealed| s.entry().event();
    let of = |sealed| match read(sealed) {
        Some(Event::IdentityRenewed { from_sequence, reason, .. }) => Some((from_sequence, reason)),
        _ => None,
    };
    entries.iter().filter_map(of).collect()
}

#[test]
fn a_first_start_makes_a_key_names_it_and_says_nothing() {
    let shop = Shop::new();
    let first = shop.morning("2041");
    assert_eq!((kinds(&first.entries), code(&first)), (vec!["device-keyed", "job-opened"], ""));
    let again = shop.look();
    assert_eq!((again.entries, again.fault, again.device), (first.entries, None, first.device));
}

#[test]
fn a_ledger_of_an_older_release_gets_its_key_and_keeps_its_device() {
    let shop = Shop::new();
    drop(shop.store());
    let started = shop.morning("2041");
    assert_eq!((started.device, code(&started)), (Uuid::from_u128(0xB1), ""));
    assert_eq!(kinds(&started.entries), ["device-keyed", "job-opened"]);
}

#[test]
fn a_copied_file_goes_on_under_another_device_and_is_told_so_once() {
    let shop = Shop::new();
    let before = shop.morning("2041").entries;
    let copy = shop.copied(false);
    let there = copy.morning("2042");
    let here = shop.morning("2043");
    assert_eq!((code(&there), code(&here)), ("identity-key-missing", ""));
    assert_ne!(there.device, here.device);
    let parting = before.len();
    assert_eq!((&there.entries[..parting], &here.entries[..parting]), (&before[..], &before[..]), "they begin alike");
    assert_ne!(there.entries[parting].hash(), here.entries[parting].hash());
    assert_eq!(renewals(&there.entries), [(parting as u64, Renewal::KeyMissing)]);
    assert_eq!(renewals(&here.entries), []);
    assert_eq!(code(&copy.look()), "", "told once");
}

#[test]
fn a_lost_or_torn_key_begins_anew_and_the_torn_one_is_kept() {
    let shop = Shop::new();
    let first = shop.morning("2041");
    fs::remove_file(shop.key()).unwrap();
    let second = shop.look();
    assert_eq!(code(&second), "identity-key-missing");
    fs::write(shop.key(), "{\"device\":").unwrap();
    let third = shop.look();
    assert_eq!(code(&third), "identity-key-missing");
    let aside = fs::read_to_string(shop.folder.path().join("shop.db.key.aside-1")).unwrap();
    assert_eq!(aside, "{\"device\":");
    let devices = [first.device, second.device, third.device];
    assert!(devices[0] != devices[1] && devices[1] != devices[2] && devices[0] != devices[2], "{devices:?}");
}

#[test]
fn a_witness_that_cannot_be_noted_keeps_nobody_from_working() {
    let shop = Shop::new();
    let device = shop.morning("2041").device;
    // A folder where the new key file would be written.
    let in_the_way = shop.folder.path().join("shop.db.key.new");
    fs::create_dir_all(in_the_way.join("x")).unwrap();
    let bench = Bench::start(BenchOptions { radio: false, ..BenchOptions::on(shop.path()) }).expect("it starts");
    let details = Details::default();
    shop.done(&bench, Command::NewJob { order: "2042".into(), vehicle: String::new(), details });
    assert!(shop.runtime.block_on(bench.close()));
    fs::remove_dir_all(in_the_way).unwrap();
    let after = shop.look();
    assert_eq!((after.device, code(&after), after.entries.len()), (device, "", 3), "what stood there was still true");
}

#[test]
fn an_older_copy_that_is_put_back_is_told_from_what_went_on() {
    let shop = Shop::new();
    shop.morning("2041");
    let older = shop.copied(false);
    let went_on = shop.morning("2042");
    fs::copy(older.path(), shop.path()).unwrap();
    let back = shop.morning("2043");
    assert_eq!(code(&back), "identity-behind");
    assert_ne!(back.device, went_on.device);
    assert_eq!(back.entries[2].entry().previous, went_on.entries[2].entry().previous, "both go on from the same entry");
    assert_ne!(back.entries[2].hash(), went_on.entries[2].hash());
    assert_eq!(code(&shop.look()), "");
}

#[test]
fn a_folder_copied_with_its_key_parts_where_both_go_on() {
    // Nothing on either device tells: only who holds both sees two entries under one number of one device.
    let shop = Shop::new();
    let before = shop.morning("2041").entries.len();
    let copy = shop.copied(true);
    let (here, there) = (shop.morning("2042"), copy.morning("2043"));
    assert_eq!((code(&here), code(&there), here.device), ("", "", there.device));
    assert_eq!(here.entries[..before], there.entries[..before]);
    assert_ne!(here.entries[before].hash(), there.entries[before].hash());
    // Brought together, the key of the one does not fit the ledger of the other.
    fs::copy(copy.path(), shop.path()).unwrap();
    assert_eq!(code(&shop.look()), "identity-differs");
}

#[test]
fn a_key_that_belongs_to_another_ledger_is_not_used_for_this_one() {
    let (shop, other) = (Shop::new(), Shop::new());
    shop.morning("2041");
    other.morning("2042");
    let foreign = fs::read(other.key()).unwrap();
    fs::write(shop.key(), &foreign).unwrap();
    let started = shop.look();
    assert_eq!(code(&started), "identity-other-key");
    assert_eq!(fs::read(shop.folder.path().join("shop.db.key.aside-1")).unwrap(), foreign);
}

#[test]
fn wherever_a_first_start_is_killed_the_next_one_takes_it_up() {
    // After the ledger, before the key.
    let shop = Shop::new();
    let device = shop.store().head().unwrap().device;
    let started = shop.look();
    assert_eq!((started.device, code(&started)), (device, ""));
    // After the key, before the ledger names it.
    let shop = Shop::new();
    let store = shop.store();
    let head = store.head().unwrap();
    let kept = KeptKey::new((head.device, [5; 32]), &head, None);
    store.keep_key(&kept).unwrap();
    drop(store);
    let started = shop.look();
    assert_eq!(named(&started.entries, head.device), Some(kept.public()), "the same key");
    assert_eq!(kinds(&started.entries), ["device-keyed"]);
    // The key is there and the ledger is not: whatever it was of, this is a new one.
    let gone = Shop::new();
    fs::copy(shop.key(), gone.key()).unwrap();
    let started = gone.look();
    assert_eq!((kinds(&started.entries), code(&started)), (vec!["device-keyed"], ""));
    assert_ne!(named(&started.entries, started.device), Some(kept.public()));
    assert_ne!(started.device, head.device);
}

#[test]
fn wherever_a_new_beginning_is_killed_the_next_start_goes_on_with_it_and_keeps_the_reason() {
    let shop = Shop::new();
    let before = shop.morning("2041");
    let store = shop.store();
    let begun = KeptKey::new((Uuid::from_u128(0xB9), [9; 32]), &store.head().unwrap(), Some(Renewal::Behind));
    store.keep_key(&begun).unwrap();
    drop(store);
    let started = shop.look();
    assert_eq!((started.device, code(&started)), (Uuid::from_u128(0xB9), "identity-behind"));
    assert_eq!(renewals(&started.entries), [(before.entries.len() as u64, Renewal::Behind)]);
    assert_eq!(code(&shop.look()), "");
    // After the entries, before the key knows: nothing is left to do.
    let store = shop.store();
    store.keep_key(&begun).unwrap();
    drop(store);
    let again = shop.look();
    assert_eq!((again.entries, code(&shop.look())), (started.entries, ""));
}

#[test]
fn a_backup_put_back_goes_on_beside_the_ledger_it_was_made_of() {
    let shop = Shop::new();
    let at_backup = shop.morning("2041").entries;
    let monday = shop.folder.path().join("monday.db");
    assert!(succeeds(backup::back_up(&shop.path(), &monday)));
    let went_on = shop.morning("2042");
    assert!(!succeeds(backup::restore(&monday, &shop.path())), "a ledger is there");
    for name in ["shop.db", "shop.db.key"] {
        fs::rename(shop.folder.path().join(name), shop.folder.path().join(format!("lost-{name}"))).unwrap();
    }
    assert!(succeeds(backup::restore(&monday, &shop.path())));
    let back = shop.morning("2043");
    assert_eq!(code(&back), "identity-restored");
    assert_eq!(back.entries[..at_backup.len()], at_backup);
    assert_eq!(renewals(&back.entries), [(at_backup.len() as u64, Renewal::Restored)]);
    assert_ne!(back.device, went_on.device);
    assert_eq!(code(&shop.look()), "");
}

#[test]
fn a_copy_that_the_screen_keeps_is_a_backup() {
    let shop = Shop::new();
    let before = shop.morning("2041");
    let papers = shop.folder.path().join("papers");
    let reports = Some(papers.clone());
    let bench = Bench::start(BenchOptions { radio: false, reports, ..BenchOptions::on(shop.path()) }).unwrap();
    let Reply::Paper { kept, .. } = shop.runtime.block_on(bench.ask(Ask::BackUp)) else { panic!("no copy") };
    let said = shop.view(&bench).key;
    assert!(said.contains("in a file beside the record"), "{said}");
    assert!(shop.runtime.block_on(bench.close()));
    let elsewhere = Shop::new();
    assert!(succeeds(backup::restore(Path::new(&kept), &elsewhere.path())));
    let back = elsewhere.look();
    assert_eq!((code(&back), back.entries[..before.entries.len()].to_vec()), ("identity-restored", before.entries));
    assert_ne!(back.device, before.device);
}

#[test]
fn even_a_backup_of_an_older_release_goes_on_under_another_device() {
    let old = Shop::new();
    let device = old.store().head().unwrap().device;
    let (monday, shop) = (old.folder.path().join("monday.db"), Shop::new());
    assert!(succeeds(backup::back_up(&old.path(), &monday)));
    assert!(succeeds(backup::restore(&monday, &shop.path())));
    let started = shop.look();
    assert_eq!(code(&started), "identity-restored");
    assert_ne!(started.device, device);
}

#[test]
fn a_closed_job_is_signed_by_the_key_its_ledger_names() {
    let shop = Shop::new();
    let practised =
        practice::Wanted { seed: 8, places: 2, database: Some(shop.path()), beside: Beside::default(), json: false };
    assert!(succeeds(practice::run(PartModel::built_in("first-practice").unwrap(), &practised)));
    let started = shop.look();
    assert_eq!(code(&started), "", "practice is done by the same device");
    let store = shop.store();
    let job = store.newest_job().unwrap().unwrap();
    let heads = store.heads_of(job).unwrap();
    assert_eq!(heads.len(), 1);
    let signed = SignedHead::verify(&named(&started.entries, started.device).unwrap(), &heads[0].jws).unwrap();
    assert_eq!(signed.job.unwrap().entries, store.entries_of(job).unwrap().len() as u64);
    assert_eq!((signed.sequence, signed.device), (store.head().unwrap().sequence, started.device));
}

#[test]
fn what_is_told_is_calm_and_says_what_to_do_in_both_languages() {
    let shop = Shop::new();
    shop.morning("2041");
    let en = shop.copied(false).look().fault.unwrap().1;
    assert!(en.contains("stays and is valid") && en.contains("Tell the shop"), "{en}");
    let runtime = &shop.runtime;
    let bench = Bench::start(BenchOptions { radio: false, ..BenchOptions::on(shop.path()) }).unwrap();
    shop.done(&bench, Command::Speak { language: Language::De });
    assert!(runtime.block_on(bench.close()));
    let de = shop.copied(false).look().fault.unwrap().1;
    assert!(de.contains("bleibt und gilt") && de.contains("Sag in der Werkstatt Bescheid"), "{de}");
}

fn succeeds(code: std::process::ExitCode) -> bool {
    format!("{code:?}") == format!("{:?}", std::process::ExitCode::SUCCESS)
}

/// Nothing of the key is anywhere but in its own file.
#[test]
fn the_secret_stands_in_the_key_file_alone() {
    let shop = Shop::new();
    shop.morning("2041");
    let text = fs::read_to_string(shop.key()).unwrap();
    let seed = text.split("\"seed\":\"").nth(1).and_then(|rest| rest.get(..64)).expect("64 digits");
    let raw: Vec<u8> = (0..32).map(|at| u8::from_str_radix(&seed[at * 2..at * 2 + 2], 16).unwrap()).collect();
    let holds = |path: &Path| {
        let bytes = fs::read(path).unwrap();
        [seed.as_bytes(), &raw].iter().any(|secret| bytes.windows(secret.len()).any(|part| part == *secret))
    };
    let files: Vec<PathBuf> = fs::read_dir(shop.folder.path()).unwrap().map(|file| file.unwrap().path()).collect();
    let holding: Vec<&PathBuf> = files.iter().filter(|path| holds(path)).collect();
    assert_eq!(holding, [&shop.key()]);
}
