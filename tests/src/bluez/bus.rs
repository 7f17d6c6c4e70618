//! A private message bus: `dbus-daemon` on a socket in a folder of our own. No root needed.

use anyhow::{Context, Result, ensure};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// The address of the bus in `folder`, to be exported as `DBUS_SYSTEM_BUS_ADDRESS` before the program
/// under test opens its first connection. It has no GUID, so that a bus started anew in the same folder
/// is still the same address (libdbus remembers the first one it was given).
pub fn address(folder: &Path) -> String {
    format!("unix:path={}", socket(folder).display())
}

fn socket(folder: &Path) -> PathBuf {
    folder.join("sock")
}

/// A running `dbus-daemon`; killed when dropped.
#[derive(Debug)]
pub struct Bus {
    child: Child,
}

impl Bus {
    /// Starts the daemon in `folder` and returns once it listens.
    ///
    /// # Errors
    /// `dbus-daemon` is not installed, the folder cannot be written, or its path is too long for a socket.
    pub fn start(folder: &Path) -> Result<Bus> {
        let path = socket(folder);
        match std::fs::remove_file(&path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error.into()),
            _ => {}
        }
        let config = folder.join("bus.conf");
        std::fs::write(&config, configuration(folder))?;
        let mut child = Command::new("dbus-daemon")
            .arg(format!("--config-file={}", config.display()))
            .args(["--nofork", "--nopidfile", "--print-address=1"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .context("dbus-daemon could not be started: is the package dbus installed?")?;
        // The daemon prints its address when the socket listens: nothing has to be guessed by waiting.
        let mut line = String::new();
        let out = child.stdout.take().context("dbus-daemon has no output")?;
        BufReader::new(out).read_line(&mut line)?;
        ensure!(line.starts_with("unix:path="), "dbus-daemon gave no address, but {line:?}");
        Ok(Bus { child })
    }

    /// Its process.
    pub fn id(&self) -> u32 {
        self.child.id()
    }
}

impl Drop for Bus {
    fn drop(&mut self) {
        // Both fail only if the daemon is gone already, which is what is wanted.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn configuration(folder: &Path) -> String {
    format!(
        "<busconfig><type>session</type><listen>{}</listen><auth>EXTERNAL</auth>\
         <policy context=\"default\"><allow send_destination=\"*\" eavesdrop=\"true\"/>\
         <allow eavesdrop=\"true\"/><allow own=\"*\"/></policy></busconfig>",
        address(folder)
    )
}
