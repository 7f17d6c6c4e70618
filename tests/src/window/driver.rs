//! Starting the hand that drives the window.

use super::{Opening, PATIENCE, Screen, Started};
use anyhow::{Context, Result, bail, ensure};
use std::fs::File;
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::process::Command;
use std::time::{Duration, Instant};

/// Drivers started at most, each on a port of its own, until one listens.
const DRIVERS: usize = 5;

/// Starts a driver and waits until it listens. A port that was free a moment ago may be taken by now, so that a
/// driver that ends by itself is started again on another one.
pub(super) fn start_driver(opening: &Opening, screen: &Screen) -> Result<(Started, String)> {
    let mut last = None;
    for _ in 0..DRIVERS {
        let port = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?.local_addr()?.port();
        let mut driver = driver_on(port, opening, screen)?;
        match listens(&mut driver, port) {
            Ok(()) => return Ok((driver, format!("http://127.0.0.1:{port}"))),
            Err(fault) => last = Some(fault),
        }
    }
    let log = std::fs::read_to_string(opening.folder.join("window.log")).unwrap_or_default();
    Err(last.context("no driver was started")?.context(format!("{DRIVERS} drivers in turn; the last wrote: {log}")))
}

fn driver_on(port: u16, opening: &Opening, screen: &Screen) -> Result<Started> {
    let log = File::create(opening.folder.join("window.log"))?;
    let own = |name: &str| opening.folder.join(name);
    let driver = Command::new("WebKitWebDriver")
        .args(["--host=127.0.0.1", &format!("--port={port}")])
        .env("DISPLAY", screen.name())
        .env_remove("WAYLAND_DISPLAY")
        // Without this the app never answers the driver, which then waits for good.
        .env("TAURI_WEBVIEW_AUTOMATION", "true")
        .env("EVENWIRE_DB", own("evenwire.db"))
        .env("XDG_DATA_HOME", own("share"))
        .env("XDG_CONFIG_HOME", own("config"))
        .env("XDG_CACHE_HOME", own("cache"))
        .envs(opening.env.iter().map(|(name, value)| (name, value)))
        .stdout(log.try_clone()?)
        .stderr(log)
        .spawn()
        .context("WebKitWebDriver starts (package webkit2gtk-driver)")?;
    Ok(Started(driver))
}

fn listens(driver: &mut Started, port: u16) -> Result<()> {
    let begun = Instant::now();
    loop {
        let somebody = TcpStream::connect((Ipv4Addr::LOCALHOST, port)).is_ok();
        // Looked at after it: where the driver has ended, somebody else listens there.
        if let Some(status) = driver.0.try_wait()? {
            bail!("WebKitWebDriver ended with {status} before it listened on port {port}");
        }
        if somebody {
            return Ok(());
        }
        ensure!(begun.elapsed() < PATIENCE, "WebKitWebDriver does not listen on port {port}");
        // It says nothing when it is ready; asking again is the only way to know.
        std::thread::sleep(Duration::from_millis(5));
    }
}
