//! A person's key store: the real `gnome-keyring-daemon` on a private message bus, with a keyring of its own in a folder.

use crate::bluez::{Bus, address};
use anyhow::{Context, Result, ensure};
use futures::StreamExt;
use std::collections::HashMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use zbus::{Connection, ObjectPath, OwnedObjectPath};

const NAME: &str = "org.freedesktop.secrets";
const PLACE: &str = "/org/freedesktop/secrets";
const SERVICE: &str = "org.freedesktop.Secret.Service";
/// Made up, as is the keyring it opens.
const PASSWORD: &str = "bench password";

/// The key store, and the bus it answers on: the one in `DBUS_SESSION_BUS_ADDRESS` of a story's own process.
#[derive(Debug)]
pub struct Keyring {
    folder: PathBuf,
    daemon: Option<Child>,
    connection: Connection,
    /// Last, so that whoever is on it goes first.
    bus: Bus,
}

impl Keyring {
    /// A bus in `folder` with nobody on it who keeps keys.
    ///
    /// # Errors
    /// As [`Bus::start`].
    pub async fn nobody(folder: &Path) -> Result<Keyring> {
        let bus = Bus::start(folder)?;
        let connection = zbus::connection::Builder::address(address(folder).as_str()).build().await?;
        let run = folder.join("run");
        std::fs::create_dir_all(&run)?;
        std::fs::set_permissions(&run, std::os::unix::fs::PermissionsExt::from_mode(0o700))?;
        Ok(Keyring { folder: folder.to_owned(), daemon: None, connection, bus })
    }

    /// The same with an open keyring.
    ///
    /// # Errors
    /// As [`Keyring::start`].
    pub async fn open(folder: &Path) -> Result<Keyring> {
        let mut keyring = Keyring::nobody(folder).await?;
        keyring.start(true).await?;
        Ok(keyring)
    }

    /// The daemon begins, with the keyring `open` or as it is after a login without a password; who was there before ends.
    ///
    /// # Errors
    /// It is not installed, or does not take its name on the bus.
    pub async fn start(&mut self, open: bool) -> Result<()> {
        self.end();
        let owners = zbus::fdo::DBusProxy::new(&self.connection).await?;
        let mut changes = owners.receive_name_owner_changed_with_args(&[(0, NAME)]).await?;
        while owners.name_has_owner(NAME.try_into()?).await? {
            changes.next().await.context("the bus goes on")?;
        }
        let mut daemon = Command::new("gnome-keyring-daemon");
        daemon.args(["--foreground", "--components=secrets"]).args(open.then_some("--unlock"));
        let mut daemon = daemon
            .env("DBUS_SESSION_BUS_ADDRESS", address(&self.folder))
            .env("HOME", &self.folder)
            .env("XDG_DATA_HOME", self.folder.join("keys"))
            .env("XDG_RUNTIME_DIR", self.folder.join("run"))
            .env_remove("GNOME_KEYRING_CONTROL")
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .context("gnome-keyring-daemon could not be started: is the package gnome-keyring installed?")?;
        daemon.stdin.take().context("piped")?.write_all(PASSWORD.as_bytes())?;
        self.daemon = Some(daemon);
        while !owners.name_has_owner(NAME.try_into()?).await? {
            changes.next().await.context("the bus goes on")?;
        }
        Ok(())
    }

    /// The daemon is killed, if it runs.
    pub fn end(&mut self) {
        if let Some(mut daemon) = self.daemon.take() {
            // Both fail only if it is gone already, which is what is wanted.
            let _ = daemon.kill();
            let _ = daemon.wait();
        }
    }

    /// The daemon stands still, so that calls come and none is answered; or goes on.
    ///
    /// # Errors
    /// It does not run.
    pub fn stand_still(&self, still: bool) -> Result<()> {
        let daemon = self.daemon.as_ref().context("it runs")?;
        stand_still(daemon.id(), still)
    }

    /// The whole bus stands still, so that not even a connection comes about; or goes on.
    ///
    /// # Errors
    /// It does not run.
    pub fn bus_stands_still(&self, still: bool) -> Result<()> {
        stand_still(self.bus.id(), still)
    }

    /// Every keyring is locked, as by the person.
    ///
    /// # Errors
    /// The daemon does not answer.
    pub async fn lock(&self) -> Result<()> {
        let keyrings = [ObjectPath::try_from("/org/freedesktop/secrets/collection/login")?];
        let answer = self.connection.call_method(Some(NAME), PLACE, Some(SERVICE), "Lock", &(&keyrings[..],)).await?;
        let (locked, _): (Vec<OwnedObjectPath>, OwnedObjectPath) = answer.body().deserialize()?;
        ensure!(locked.len() == 1, "it does not lock without asking");
        Ok(())
    }

    /// How many keys of this program lie in keyrings that are open, and in those that are locked.
    ///
    /// # Errors
    /// The daemon does not answer.
    pub async fn keys(&self) -> Result<(usize, usize)> {
        let (open, locked) = self.items().await?;
        Ok((open.len(), locked.len()))
    }

    /// Somebody deletes every key of this program.
    ///
    /// # Errors
    /// The daemon does not answer.
    pub async fn delete_keys(&self) -> Result<()> {
        for item in self.items().await?.0 {
            let item_face = "org.freedesktop.Secret.Item";
            self.connection.call_method(Some(NAME), item, Some(item_face), "Delete", &()).await?;
        }
        Ok(())
    }

    async fn items(&self) -> Result<(Vec<OwnedObjectPath>, Vec<OwnedObjectPath>)> {
        let ours = HashMap::from([("application", evenwire_engine::place::FOLDER)]);
        let answer = self.connection.call_method(Some(NAME), PLACE, Some(SERVICE), "SearchItems", &(ours,)).await?;
        Ok(answer.body().deserialize()?)
    }
}

fn stand_still(process: u32, still: bool) -> Result<()> {
    let signal = if still { "-STOP" } else { "-CONT" };
    ensure!(Command::new("kill").args([signal, &process.to_string()]).status()?.success(), "it is gone");
    Ok(())
}

impl Drop for Keyring {
    fn drop(&mut self) {
        self.end();
    }
}
