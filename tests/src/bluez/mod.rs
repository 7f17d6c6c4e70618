//! A stand-in for BlueZ: the name `org.bluez` on a private message bus, a table of devices behind it,
//! and every misbehaviour a radio can have, on command.
//!
//! A message bus address is remembered by libdbus for the life of a process. [`own_process`] therefore
//! runs each story in a process of its own, with `DBUS_SYSTEM_BUS_ADDRESS` set from birth.

mod answer;
mod bus;
mod own_process;
mod parts;
mod values;
mod world;

pub use bus::{Bus, address};
pub use own_process::{own_process, program_on_own_bus};
pub use parts::*;

use answer::{added, answer, heard_of, powered, removed, unlinked};
use anyhow::{Context, Result, bail};
use futures::StreamExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use world::{ADAPTER, AdapterRow, DeviceRow, World};
use zbus::{Connection, Message, MessageStream};

/// Longest wait for anything the program under test should do.
pub const DEADLINE: Duration = Duration::from_secs(20);

/// The stand-in. Everything is told to it by its methods, which return when the messages are on the bus.
#[derive(Debug)]
pub struct Bluez {
    folder: PathBuf,
    bus: Option<Bus>,
    daemon: Option<Daemon>,
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    world: Mutex<World>,
    /// Counts calls, so that a test can wait for one.
    calls: watch::Sender<usize>,
}

#[derive(Debug)]
struct Daemon {
    connection: Connection,
    serving: JoinHandle<()>,
}

impl Shared {
    fn world(&self) -> MutexGuard<'_, World> {
        self.world.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Bluez {
    /// A bus in `folder`, the daemon on it, and an adapter that is switched on. No device yet.
    ///
    /// # Errors
    /// As [`Bus::start`], or the name is taken.
    pub async fn start(folder: &Path) -> Result<Bluez> {
        let mut bluez = Bluez::bus_only(folder)?;
        bluez.world().adapter = Some(AdapterRow { powered: true, discovering: false });
        bluez.start_daemon().await?;
        Ok(bluez)
    }

    /// A bus without a daemon and without an adapter.
    ///
    /// # Errors
    /// As [`Bus::start`].
    pub fn bus_only(folder: &Path) -> Result<Bluez> {
        Ok(Bluez { bus: Some(Bus::start(folder)?), ..Bluez::nothing(folder) })
    }

    /// Not even a bus; [`Bluez::revive_bus`] starts it.
    pub fn nothing(folder: &Path) -> Bluez {
        let shared = Arc::new(Shared { world: Mutex::default(), calls: watch::channel(0).0 });
        Bluez { folder: folder.to_owned(), bus: None, daemon: None, shared }
    }

    /// To be exported as `DBUS_SYSTEM_BUS_ADDRESS`.
    pub fn address(&self) -> String {
        address(&self.folder)
    }

    fn world(&self) -> MutexGuard<'_, World> {
        self.shared.world()
    }

    /// The daemon takes its name on the bus.
    ///
    /// # Errors
    /// No bus, or the name is taken.
    pub async fn start_daemon(&mut self) -> Result<()> {
        let connection = zbus::connection::Builder::address(self.address().as_str()).build().await?;
        let mut calls = MessageStream::from(&connection);
        let (shared, out) = (Arc::clone(&self.shared), connection.clone());
        let serving = tokio::spawn(async move {
            while let Some(Ok(message)) = calls.next().await {
                if message.message_type() == zbus::message::Type::MethodCall {
                    serve(&shared, &out, &message).await;
                }
            }
        });
        connection.request_name("org.bluez").await?;
        self.daemon = Some(Daemon { connection, serving });
        Ok(())
    }

    /// The daemon ends without a word, as when it is killed. Links and discovery end with it.
    ///
    /// # Errors
    /// The connection could not be closed.
    pub async fn stop_daemon(&mut self) -> Result<()> {
        let Some(daemon) = self.daemon.take() else { return Ok(()) };
        daemon.serving.abort();
        // The task holds a clone of the connection until it is really gone.
        let _ = daemon.serving.await;
        daemon.connection.close().await?;
        let mut world = self.world();
        world.unlink_all();
        if let Some(adapter) = world.adapter.as_mut() {
            adapter.discovering = false;
        }
        Ok(())
    }

    /// Killed and started again.
    ///
    /// # Errors
    /// As [`Bluez::start_daemon`].
    pub async fn restart(&mut self) -> Result<()> {
        self.stop_daemon().await?;
        self.start_daemon().await
    }

    /// The bus dies, and the daemon with it.
    pub fn kill_bus(&mut self) {
        if let Some(daemon) = self.daemon.take() {
            daemon.serving.abort();
        }
        self.bus = None;
        let mut world = self.world();
        world.unlink_all();
        if let Some(adapter) = world.adapter.as_mut() {
            adapter.discovering = false;
        }
    }

    /// A new bus at the same address, and the daemon on it.
    ///
    /// # Errors
    /// As [`Bluez::start`].
    pub async fn revive_bus(&mut self) -> Result<()> {
        self.bus = Some(Bus::start(&self.folder)?);
        self.start_daemon().await
    }

    /// An adapter is plugged in.
    ///
    /// # Errors
    /// The message could not be sent.
    pub async fn plug_adapter(&self, on: bool) -> Result<()> {
        let told = {
            let mut world = self.world();
            world.adapter = Some(AdapterRow { powered: on, discovering: false });
            added(&world, ADAPTER)?
        };
        self.send([told]).await
    }

    /// The adapter is pulled out.
    ///
    /// # Errors
    /// The message could not be sent.
    pub async fn unplug_adapter(&self) -> Result<()> {
        {
            let mut world = self.world();
            world.adapter = None;
            world.unlink_all();
        }
        self.send([removed(ADAPTER)?]).await
    }

    /// A person switches the adapter on or off.
    ///
    /// # Errors
    /// There is no adapter, or the message could not be sent.
    pub async fn power(&self, on: bool) -> Result<()> {
        let told = powered(&mut self.world(), on).context("no adapter to switch")?;
        self.send(told.into_iter().collect::<zbus::Result<Vec<_>>>()?).await
    }

    /// The adapter is on.
    pub fn is_powered(&self) -> bool {
        self.world().adapter.as_ref().is_some_and(|adapter| adapter.powered)
    }

    /// A device comes within earshot, or comes back. It becomes an object when someone is searching.
    ///
    /// # Errors
    /// The message could not be sent.
    pub async fn appear(&self, device: Device) -> Result<()> {
        let told = {
            let mut world = self.world();
            let path = world::path_of(&device.address);
            world
                .devices
                .entry(device.address.clone())
                .and_modify(|row| row.in_air = true)
                .or_insert_with(|| DeviceRow::new(device));
            let searching = world.adapter.as_ref().is_some_and(|adapter| adapter.discovering);
            if searching { heard_of(&mut world, &path).transpose()? } else { None }
        };
        self.send(told).await
    }

    /// The device is gone and its object is removed: no other word is said about it.
    ///
    /// # Errors
    /// No such device, or the message could not be sent.
    pub async fn vanish(&self, device: &str) -> Result<()> {
        let path = self.change(device, |row| {
            row.unlink();
            row.in_air = false;
            row.known = false;
            row.path()
        })?;
        self.send([removed(&path)?]).await
    }

    /// The link to the device breaks.
    ///
    /// # Errors
    /// No such device, or the message could not be sent.
    pub async fn drop_link(&self, device: &str) -> Result<()> {
        let path = self.change(device, |row| {
            row.unlink();
            row.path()
        })?;
        self.send(unlinked(&path)).await
    }

    /// Says that the link broke when it did not, as a word about an earlier link that comes late.
    ///
    /// # Errors
    /// The message could not be sent.
    pub async fn say_dropped(&self, device: &str) -> Result<()> {
        self.send(unlinked(&world::path_of(device))).await
    }

    /// How the device behaves from now on.
    ///
    /// # Errors
    /// No such device.
    pub fn manners(&self, device: &str, set: impl FnOnce(&mut Manners)) -> Result<()> {
        self.change(device, |row| set(&mut row.manners))
    }

    /// The device is connected.
    pub fn is_connected(&self, device: &str) -> bool {
        self.change(device, |row| row.connected).unwrap_or(false)
    }

    /// Every call so far, as `Member tail-of-path`; for `Set` also property and value.
    pub fn calls(&self) -> Vec<String> {
        self.world().calls.clone()
    }

    /// Waits until calls beginning with `what` were made `times` times since the start.
    ///
    /// # Errors
    /// Not within [`DEADLINE`]; the text lists the calls that were made.
    pub async fn until_called(&self, what: &str, times: usize) -> Result<()> {
        let mut calls = self.shared.calls.subscribe();
        let enough = |_: &usize| self.world().calls.iter().filter(|call| call.starts_with(what)).count() >= times;
        if tokio::time::timeout(DEADLINE, calls.wait_for(enough)).await.is_err() {
            bail!("{what:?} was not called {times} times, but: {:#?}", self.calls());
        }
        Ok(())
    }

    fn change<T>(&self, device: &str, act: impl FnOnce(&mut DeviceRow) -> T) -> Result<T> {
        let mut world = self.world();
        let row = world.devices.get_mut(device).with_context(|| format!("no device {device}"))?;
        Ok(act(row))
    }

    fn connection(&self) -> Result<Connection> {
        Ok(self.daemon.as_ref().context("the daemon is not running")?.connection.clone())
    }

    async fn send(&self, messages: impl IntoIterator<Item = Message>) -> Result<()> {
        // Without a daemon nothing is told to anyone; the table has changed all the same.
        let Ok(connection) = self.connection() else { return Ok(()) };
        for message in messages {
            connection.send(&message).await?;
        }
        Ok(())
    }
}

async fn serve(shared: &Shared, out: &Connection, call: &Message) {
    let outcome = answer(&mut shared.world(), call).expect("the stand-in can build its own messages");
    shared.calls.send_modify(|count| *count += 1);
    if outcome.delay.is_zero() {
        return send_all(out, &outcome.messages).await;
    }
    let out = out.clone();
    tokio::spawn(async move {
        tokio::time::sleep(outcome.delay).await;
        send_all(&out, &outcome.messages).await;
    });
}

/// The bus may be killed on purpose while an answer is on its way; then nobody waits for it.
async fn send_all(out: &Connection, messages: &[Message]) {
    for message in messages {
        if out.send(message).await.is_err() {
            return;
        }
    }
}
