//! The values a pretended meter sends, and who listens to them.

use super::Bluez;
use super::answer::changed;
use super::world::{CHARACTERISTIC1, Facts};
use anyhow::{Context, Result, ensure};
use std::time::Duration;
use uuid::Uuid;
use zbus::Message;

impl Bluez {
    /// Sends values in this order, as fast as the bus takes them. Duplicates and garbage are for the
    /// caller to put in.
    ///
    /// # Errors
    /// Nobody has switched these notifications on, or the bus is gone.
    pub async fn notify(&self, device: &str, value: Uuid, all: impl IntoIterator<Item = Vec<u8>>) -> Result<()> {
        let path = self.notified(device, value)?;
        let connection = self.connection()?;
        for bytes in all {
            connection.send(&told(&path, bytes)?).await?;
        }
        Ok(())
    }

    /// Sends values evenly, `per_second` of them each second.
    ///
    /// # Errors
    /// As [`Bluez::notify`].
    pub async fn notify_evenly(&self, device: &str, per_second: u32, all: (Uuid, Vec<Vec<u8>>)) -> Result<()> {
        ensure!(per_second > 0, "a rate of nothing");
        let path = self.notified(device, all.0)?;
        let connection = self.connection()?;
        let mut ticks = tokio::time::interval(Duration::from_secs(1) / per_second);
        for bytes in all.1 {
            ticks.tick().await;
            connection.send(&told(&path, bytes)?).await?;
        }
        Ok(())
    }

    /// Notifications are on before the program under test asks for them.
    ///
    /// # Errors
    /// No such device or characteristic.
    pub fn start_notifying(&self, device: &str, value: Uuid) -> Result<()> {
        self.change(device, |row| {
            let path = row.path_of(value).context("no such characteristic")?.to_owned();
            row.notifying.insert(path);
            Ok(())
        })?
    }

    /// Another program has started discovery.
    ///
    /// # Errors
    /// There is no adapter.
    pub fn scan_for_another_program(&self) -> Result<()> {
        self.world().adapter.as_mut().context("no adapter")?.discovering = true;
        Ok(())
    }

    /// Someone listens to this value now.
    pub fn is_listened(&self, device: &str, value: Uuid) -> bool {
        self.notified(device, value).is_ok()
    }

    /// Waits, without a limit, until someone listens to this value.
    ///
    /// # Errors
    /// No such device.
    pub async fn until_listened(&self, device: &str, value: Uuid) -> Result<()> {
        self.change(device, |_| ())?;
        let mut calls = self.shared.calls.subscribe();
        calls.wait_for(|_| self.is_listened(device, value)).await?;
        Ok(())
    }

    fn notified(&self, device: &str, value: Uuid) -> Result<String> {
        self.change(device, |row| {
            let path = row.path_of(value).context("no such characteristic")?.to_owned();
            ensure!(row.connected && row.notifying.contains(&path), "nobody listens to {value}");
            Ok(path)
        })?
    }
}

fn told(path: &str, bytes: Vec<u8>) -> zbus::Result<Message> {
    changed(path, CHARACTERISTIC1, Facts::from([("Value", bytes.into())]))
}
