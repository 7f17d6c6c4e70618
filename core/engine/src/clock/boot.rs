//! The clock a wait is counted by: it goes on while the device sleeps, and each start of the device has a name.
//!
//! Only the first of these was ever run. The others are written after what the makers of the systems publish, and have
//! to be tried on a device that sleeps and restarts before a wait is believed there.

use evenwire_core::unit::{BootId, Millis};

/// Linux and Android: `CLOCK_BOOTTIME` counts sleep; the kernel names each boot.
#[cfg(any(target_os = "linux", target_os = "android"))]
mod here {
    use super::*;

    /// Where the kernel names the present boot.
    const BOOT_ID: &str = "/proc/sys/kernel/random/boot_id";

    pub(super) fn millis() -> Millis {
        of(rustix::time::clock_gettime(rustix::time::ClockId::Boottime))
    }

    pub(super) fn id() -> BootId {
        BootId(std::fs::read_to_string(BOOT_ID).map(|text| text.trim().to_owned()).unwrap_or_default())
    }
}

/// macOS and iOS: `CLOCK_MONOTONIC` goes on during sleep there (manual page of `clock_gettime`, from memory; `Instant`
/// does not). The boot session is named by `sysctl`, which an iOS app cannot run: its boots have no name, and a wait
/// never counts. Not run.
#[cfg(target_vendor = "apple")]
mod here {
    use super::*;

    pub(super) fn millis() -> Millis {
        of(rustix::time::clock_gettime(rustix::time::ClockId::Monotonic))
    }

    pub(super) fn id() -> BootId {
        let said = std::process::Command::new("/usr/sbin/sysctl").args(["-n", "kern.bootsessionuuid"]).output();
        let text = said.ok().filter(|said| said.status.success()).and_then(|said| String::from_utf8(said.stdout).ok());
        BootId(text.map(|text| text.trim().to_owned()).unwrap_or_default())
    }
}

/// Windows and the rest: no name of the boot can be had, so each start of the program counts as one, and a wait begins
/// anew with it. `Instant` counts sleep on Windows (its performance counter does). Not run.
#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
mod here {
    use super::*;
    use std::sync::OnceLock;
    use std::time::Instant;

    fn start() -> &'static (Instant, String) {
        static START: OnceLock<(Instant, String)> = OnceLock::new();
        START.get_or_init(|| {
            let mut bytes = [0u8; 16];
            // Without random bytes the start has no name, and no wait counts.
            let named = getrandom::fill(&mut bytes).is_ok();
            let name = uuid::Builder::from_random_bytes(bytes).into_uuid().to_string();
            (Instant::now(), if named { name } else { String::new() })
        })
    }

    pub(super) fn millis() -> Millis {
        Millis(u64::try_from(start().0.elapsed().as_millis()).unwrap_or(u64::MAX))
    }

    pub(super) fn id() -> BootId {
        BootId(start().1.clone())
    }
}

/// Milliseconds of a system clock; a time before its zero is zero.
#[cfg(unix)]
fn of(time: rustix::time::Timespec) -> Millis {
    let seconds = u64::try_from(time.tv_sec).unwrap_or(0);
    let millis = u64::try_from(time.tv_nsec).unwrap_or(0) / 1_000_000;
    Millis(seconds.saturating_mul(1_000).saturating_add(millis))
}

/// Milliseconds since boot, time asleep included.
pub fn boot_millis() -> Millis {
    here::millis()
}

/// Names the present boot; empty when it cannot be known, and then no wait counts.
pub fn boot_id() -> BootId {
    here::id()
}
