//! The Bluetooth library with nothing around it: `bare_radio NAME VALUE COUNT` listens to a meter that another
//! program is connected to, says "ready", takes COUNT notifications, and prints for each the microseconds
//! since 1970 at which it had it and its bytes. What `make bench` holds our own link against.

use anyhow::{Context, Result};
use btleplug::api::{Central, Manager as _, Peripheral as _};
use btleplug::platform::{Manager, Peripheral};
use futures::StreamExt;
use std::time::{SystemTime, UNIX_EPOCH};
use uuid::Uuid;

#[tokio::main]
async fn main() -> Result<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [name, value, count] = words.as_slice() else { anyhow::bail!("usage: bare_radio NAME VALUE COUNT") };
    let (value, count): (Uuid, usize) = (value.parse()?, count.parse()?);
    let peripheral = named(name).await?;
    peripheral.discover_services().await?;
    let mut notifications = peripheral.notifications().await?;
    let characteristic = peripheral.characteristics().into_iter().find(|found| found.uuid == value);
    // The other program has switched them on already; that is said as an error.
    let _on_already = peripheral.subscribe(&characteristic.context("no such value")?).await;
    println!("ready");
    let mut taken = Vec::with_capacity(count);
    while taken.len() < count {
        let notification = notifications.next().await.context("the stream ended")?;
        if notification.uuid == value {
            taken.push((SystemTime::now().duration_since(UNIX_EPOCH)?.as_micros(), notification.value));
        }
    }
    for (micros, bytes) in taken {
        println!("{micros} {}", bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>());
    }
    Ok(())
}

async fn named(name: &str) -> Result<Peripheral> {
    let adapter = Manager::new().await?.adapters().await?.into_iter().next().context("no adapter")?;
    for peripheral in adapter.peripherals().await? {
        if peripheral.properties().await?.is_some_and(|told| told.local_name.as_deref() == Some(name)) {
            return Ok(peripheral);
        }
    }
    anyhow::bail!("no device is called {name}")
}
