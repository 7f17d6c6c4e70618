//! Where the secret of a device's key lies, with a real key store: open, locked, silent, killed, gone, and of another
//! person. Whatever it does, a device goes on as the same one unless its key is surely lost.

use anyhow::{Context, Result, ensure};
use evenwire_core::record::{KeptKey, SignedHead};
use evenwire_core::view::{Ask, Notice, Pushed};
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_engine::key_store::KeyPlace;
use evenwire_store::{Glance, Store};
use evenwire_tests::bluez::own_process;
use evenwire_tests::hub_yard::{Device, Office};
use evenwire_tests::keyring::Keyring;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use uuid::Uuid;

/// How long a start may take with a key store that says nothing.
const PATIENCE: Duration = Duration::from_secs(15);

fn cli() -> Command {
    let program = std::env::var_os("EVENWIRE_CLI").expect("EVENWIRE_CLI names evenwire-cli; make test sets it");
    let mut cli = Command::new(program);
    cli.env_remove("EVENWIRE_DB").env_remove("EVENWIRE_KEY").env_remove("RUST_LOG");
    cli
}

/// A ledger and the file beside it.
#[derive(Clone)]
struct Ledger(PathBuf);

impl Ledger {
    fn new(folder: &Path, name: &str) -> Ledger {
        Ledger(folder.join(name))
    }

    fn key_file(&self) -> PathBuf {
        PathBuf::from(format!("{}.key", self.0.display()))
    }

    fn kept(&self) -> Result<KeptKey> {
        Glance::at(&self.0)?.kept_key()?.context("a key")
    }

    fn device(&self) -> Result<Uuid> {
        Ok(Glance::at(&self.0)?.head()?.device)
    }

    /// The app's page is served, by a process of its own, until it has said where it is. Gives what it said of the key.
    fn served(&self, env: &[(&str, &str)]) -> Result<String> {
        let mut serving = self.serving(env)?;
        let said = lines(&mut serving, 3)?;
        ensure!(Command::new("kill").args(["-TERM", &serving.id().to_string()]).status()?.success());
        ensure!(serving.wait()?.success(), "it ends in good order");
        said.get(1).cloned().context("it says where the key lies")
    }

    fn serving(&self, env: &[(&str, &str)]) -> Result<Child> {
        let mut serve = cli();
        serve.args(["serve", "--no-radio", "--db"]).arg(&self.0).envs(env.iter().copied());
        Ok(serve.stdout(Stdio::piped()).stderr(Stdio::null()).spawn()?)
    }

    /// A whole job at the practice bench, by a process of its own.
    fn practise(&self, seed: u32) -> Result<()> {
        let done = cli().args(["practice", "--seed", &seed.to_string(), "--db"]).arg(&self.0).output()?;
        ensure!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        Ok(())
    }

    /// The claim file of the newest job, by a process of its own: whether there is one, and what was said else.
    fn claim(&self, out: &Path) -> Result<(bool, String)> {
        let job = self.newest_job()?;
        let made =
            cli().args(["claim", "--job", &job.to_string(), "--out"]).arg(out).arg("--db").arg(&self.0).output()?;
        Ok((made.status.success(), String::from_utf8(made.stderr)?))
    }

    fn newest_job(&self) -> Result<Uuid> {
        Store::open(&self.0, Uuid::nil())?.newest_job()?.context("a job")
    }

    /// How many signed heads the newest job has; each is of the key that is named, and of all its entries.
    fn signed(&self) -> Result<usize> {
        let job = self.newest_job()?;
        let ledger = Glance::at(&self.0)?;
        let (key, entries) = (self.kept()?.public(), ledger.entries_of(job)?.len() as u64);
        let heads = ledger.heads_of(job)?;
        for head in &heads {
            let signed = SignedHead::verify(&key, &head.jws)?;
            ensure!(signed.job.is_some_and(|job| job.entries == entries), "of the whole job");
        }
        Ok(heads.len())
    }

    fn whole(&self) -> Result<()> {
        let store = Store::open(&self.0, Uuid::nil())?;
        ensure!(store.check()?.is_whole(), "{:?}", store.check()?);
        Ok(())
    }

    fn bench(&self) -> Result<Bench> {
        Ok(Bench::start(BenchOptions { radio: false, key: KeyPlace::InStore, ..BenchOptions::on(self.0.clone()) })?)
    }
}

fn lines(child: &mut Child, count: usize) -> Result<Vec<String>> {
    let out = BufReader::new(child.stdout.take().context("piped")?);
    let said: Vec<String> = out.lines().map_while(Result::ok).take(count).collect();
    ensure!(said.len() == count, "it said no more than {said:?}");
    Ok(said)
}

/// What the newest view says that is wrong, as soon as `fits` takes it.
async fn until(bench: &Bench, fits: impl Fn(Option<&Notice>) -> bool) -> Result<Option<Notice>> {
    let mut listener = bench.listen();
    let heard = async {
        loop {
            match listener.next().await.context("the bench goes on")? {
                Pushed::View { view } if fits(view.fault.as_ref()) => return Ok(view.fault),
                _ => {}
            }
        }
    };
    tokio::time::timeout(PATIENCE, heard).await.context("it says nothing of the kind")?
}

async fn shown(bench: &Bench) -> Result<Option<Notice>> {
    until(bench, |_| true).await
}

fn code(notice: Option<&Notice>) -> &str {
    notice.map_or("", |notice| notice.code.as_str())
}

#[test]
fn a_new_key_lies_in_the_key_store_and_nowhere_else_and_every_program_signs_with_it() {
    own_process(
        "a_new_key_lies_in_the_key_store_and_nowhere_else_and_every_program_signs_with_it",
        |folder| async move {
            let keyring = Keyring::open(&folder).await?;
            let (ledger, other) = (Ledger::new(&folder, "shop.db"), Ledger::new(&folder, "van.db"));
            let said = ledger.served(&[])?;
            ensure!(said == "The key by which this device signs lies in the system’s key store.", "{said}");
            ensure!(ledger.kept()?.seed().is_none(), "no secret is in the file");
            ensure!(fs::read_dir(&folder)?.count() > 0 && !fs::read_to_string(ledger.key_file())?.contains("seed"));
            ensure!(keyring.keys().await? == (1, 0));
            let device = ledger.device()?;
            ledger.practise(8)?;
            ensure!((ledger.device()?, ledger.signed()?) == (device, 1));
            ensure!(ledger.claim(&folder.join("claim.zip"))? == (true, String::new()));
            // Another ledger has a key of its own.
            other.served(&[])?;
            ensure!(keyring.keys().await? == (2, 0) && other.kept()?.public() != ledger.kept()?.public());
            ledger.whole()
        },
    );
}

#[test]
fn a_key_that_lies_in_a_file_moves_and_wherever_that_is_cut_off_it_is_the_same_key() {
    own_process(
        "a_key_that_lies_in_a_file_moves_and_wherever_that_is_cut_off_it_is_the_same_key",
        |folder| async move {
            let mut keyring = Keyring::nobody(&folder).await?;
            let ledger = Ledger::new(&folder, "shop.db");
            // No key store: a file.
            let said = ledger.served(&[])?;
            ensure!(said.ends_with("lies in a file beside the record that only you can read."), "{said}");
            let (device, key) = (ledger.device()?, ledger.kept()?.public());
            let in_file = fs::read(ledger.key_file())?;
            ensure!(ledger.kept()?.key().context("in the file")?.public() == key);
            // One that is locked takes nothing.
            keyring.start(true).await?;
            keyring.lock().await?;
            ledger.served(&[])?;
            ensure!(ledger.kept()?.seed().is_some() && keyring.keys().await? == (0, 0));
            // One that is open has it, and it goes from the file.
            keyring.start(true).await?;
            ledger.served(&[])?;
            ensure!(ledger.kept()?.seed().is_none() && keyring.keys().await? == (1, 0));
            // Killed after it was put there and before the file knew: the file still has it, and the next start goes on.
            fs::write(ledger.key_file(), &in_file)?;
            ledger.served(&[])?;
            ensure!(ledger.kept()?.seed().is_none() && keyring.keys().await? == (1, 0), "one entry, not two");
            // Killed while the file was written.
            fs::write(folder.join("shop.db.key.new"), &in_file[..40])?;
            ledger.served(&[])?;
            ensure!((ledger.device()?, ledger.kept()?.public()) == (device, key));
            ensure!(!folder.join("shop.db.key.aside-1").exists(), "no key was put aside");
            // A person who wants a file has one again, and needs no key store any more.
            let said = ledger.served(&[("EVENWIRE_KEY", "file")])?;
            ensure!(said.contains("in a file") && fs::read_to_string(ledger.key_file())?.contains("seed"), "{said}");
            keyring.end();
            ledger.practise(8)?;
            ensure!((ledger.device()?, ledger.kept()?.public(), ledger.signed()?) == (device, key, 1));
            ledger.whole()
        },
    );
}

#[test]
fn with_a_locked_key_store_it_is_the_same_device_which_signs_when_it_is_unlocked() {
    own_process("with_a_locked_key_store_it_is_the_same_device_which_signs_when_it_is_unlocked", |folder| async move {
        let mut keyring = Keyring::open(&folder).await?;
        let ledger = Ledger::new(&folder, "shop.db");
        ledger.served(&[])?;
        let (device, key) = (ledger.device()?, ledger.kept()?.public());
        keyring.lock().await?;
        ensure!(keyring.keys().await? == (0, 1));
        // A job is done and closed meanwhile. Nobody signs it, nothing is lost, and no key is made.
        ledger.practise(8)?;
        ensure!((ledger.device()?, ledger.kept()?.public(), ledger.signed()?) == (device, key, 0));
        let (made, why) = ledger.claim(&folder.join("claim.zip"))?;
        ensure!(!made && why.contains("locked") && why.contains("unlock it"), "{why}");
        let said = ledger.served(&[])?;
        ensure!(said.ends_with("It cannot be read there now: what is closed is signed once it can."), "{said}");
        // The bench says so, and goes on when it is unlocked.
        let bench = ledger.bench()?;
        let notice = shown(&bench).await?.context("it says so")?;
        ensure!(notice.code == "key-locked" && notice.remedy.starts_with("Unlock the key store"), "{notice:?}");
        keyring.start(true).await?;
        until(&bench, |fault| fault.is_none()).await?;
        ensure!(bench.close().await);
        ensure!((ledger.device()?, ledger.kept()?.public(), ledger.signed()?) == (device, key, 1), "signed late");
        ensure!(ledger.kept()?.unsigned_after.is_none(), "nothing is left to be signed");
        ensure!(ledger.claim(&folder.join("claim.zip"))?.0);
        ledger.whole()
    });
}

#[test]
fn what_was_closed_without_the_key_is_signed_by_the_next_start_that_has_it() {
    own_process("what_was_closed_without_the_key_is_signed_by_the_next_start_that_has_it", |folder| async move {
        let mut keyring = Keyring::open(&folder).await?;
        let ledger = Ledger::new(&folder, "shop.db");
        ledger.served(&[])?;
        keyring.end();
        ledger.practise(8)?;
        ensure!(ledger.signed()? == 0 && ledger.kept()?.unsigned_after.is_some());
        keyring.start(true).await?;
        ledger.served(&[])?;
        ensure!(ledger.signed()? == 1 && ledger.kept()?.unsigned_after.is_none());
        ledger.served(&[])?;
        ensure!(ledger.signed()? == 1, "once");
        ledger.whole()
    });
}

#[test]
fn a_key_store_that_says_nothing_keeps_nobody_waiting_and_takes_no_key_away() {
    own_process("a_key_store_that_says_nothing_keeps_nobody_waiting_and_takes_no_key_away", |folder| async move {
        let keyring = Keyring::open(&folder).await?;
        let (ledger, fresh) = (Ledger::new(&folder, "shop.db"), Ledger::new(&folder, "van.db"));
        ledger.served(&[])?;
        let (device, key) = (ledger.device()?, ledger.kept()?.public());
        keyring.stand_still(true)?;
        // Killed while it waits.
        let mut waiting = ledger.serving(&[])?;
        waiting.kill()?;
        waiting.wait()?;
        // Neither a daemon nor a bus that stands still keeps a start waiting for long.
        for bus_too in [false, true] {
            keyring.bus_stands_still(bus_too)?;
            let starts = ledger.clone();
            let start = tokio::task::spawn_blocking(move || starts.bench());
            let bench = tokio::time::timeout(PATIENCE, start).await.context("it does not start")???;
            let notice = shown(&bench).await?;
            ensure!(code(notice.as_ref()) == "key-away", "{notice:?}");
            ensure!(bench.close().await);
            ensure!((ledger.device()?, ledger.kept()?.public()) == (device, key));
        }
        keyring.bus_stands_still(false)?;
        // A new ledger begins with a file.
        fresh.served(&[])?;
        ensure!(fresh.kept()?.seed().is_some());
        keyring.stand_still(false)?;
        ledger.served(&[])?;
        ensure!((ledger.device()?, ledger.kept()?.public()) == (device, key));
        ensure!(!folder.join("shop.db.key.aside-1").exists());
        fresh.served(&[])?;
        ensure!(fresh.kept()?.seed().is_none(), "and goes to the key store when it answers");
        ledger.whole()
    });
}

#[test]
fn only_where_the_key_is_surely_lost_the_device_goes_on_under_another_number() {
    own_process("only_where_the_key_is_surely_lost_the_device_goes_on_under_another_number", |folder| async move {
        let mut keyring = Keyring::open(&folder).await?;
        let ledger = Ledger::new(&folder, "shop.db");
        ledger.served(&[])?;
        let (device, key) = (ledger.device()?, ledger.kept()?.public());
        // Nobody is there: it may come back.
        keyring.end();
        ledger.served(&[])?;
        ensure!((ledger.device()?, ledger.kept()?.public()) == (device, key));
        // Deleted, and every keyring is locked: nobody can tell.
        keyring.start(true).await?;
        keyring.delete_keys().await?;
        keyring.lock().await?;
        ledger.served(&[])?;
        ensure!((ledger.device()?, ledger.kept()?.public()) == (device, key));
        // Open, and surely without it: as a folder that was copied to another person's machine.
        keyring.start(true).await?;
        let bench = ledger.bench()?;
        let notice = shown(&bench).await?;
        ensure!(code(notice.as_ref()) == "identity-key-missing", "{notice:?}");
        ensure!(bench.close().await);
        ensure!(ledger.device()? != device && ledger.kept()?.public() != key);
        ensure!(folder.join("shop.db.key.aside-1").exists() && keyring.keys().await? == (1, 0));
        ledger.whole()
    });
}

#[test]
fn nothing_goes_to_the_shop_without_the_key_and_all_of_it_when_it_comes() {
    own_process("nothing_goes_to_the_shop_without_the_key_and_all_of_it_when_it_comes", |folder| async move {
        let mut keyring = Keyring::open(&folder).await?;
        let ledger = Ledger::new(&folder, "shop.db");
        ledger.served(&[])?;
        keyring.lock().await?;
        ledger.practise(8)?;
        let office = Office::open(folder.join("hub")).await?;
        let mut device = Device::ended(ledger.0.clone());
        device.start()?;
        let ask = Ask::PairWithShop { invitation: office.invitation().await?, name: "Bench 2".into() };
        let notice = device.failed(ask).await?;
        ensure!(notice.code == "hub-key-away", "{notice:?}");
        keyring.start(true).await?;
        device.until("the key", |view| view.fault.is_none().then_some(())).await?;
        device.pair(&office, "Bench 2").await?;
        device.complete().await?;
        office.has_all_of(&device.path).await?;
        device.end().await?;
        ensure!(ledger.signed()? == 1);
        ledger.whole()
    });
}
