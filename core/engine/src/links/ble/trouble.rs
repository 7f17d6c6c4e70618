//! What can go wrong, told apart by the error names on the message bus rather than by texts.

use super::radio;
use evenwire_core::meter::link::{LinkState, RefusedWhy};
use std::future::Future;
use std::time::Duration;

/// Why the link cannot go on as it was asked to.
#[derive(Debug, thiserror::Error)]
pub(super) enum Trouble {
    #[error("there is no Bluetooth on this computer")]
    NoBluetooth,
    #[error("there is no Bluetooth adapter")]
    NoAdapter,
    #[error("the Bluetooth adapter is switched off")]
    AdapterOff,
    #[error("the program may not use Bluetooth")]
    NoPermission,
    #[error("the meter is not known to the Bluetooth system, or not connected")]
    Gone,
    #[error("no answer within the time allowed")]
    Late,
    #[error("the meter is connected but sends nothing")]
    Silent,
    #[error("it is being done already")]
    Doing,
    #[error("the meter cannot be used: {0:?}")]
    Refused(RefusedWhy),
    #[error("the Bluetooth system refuses")]
    Failed(#[source] radio::Error),
}

impl Trouble {
    /// The state of the surroundings this trouble is about, if it is not about the meter.
    pub(super) fn surroundings(&self) -> Option<LinkState> {
        match self {
            Trouble::NoBluetooth => Some(LinkState::NoBluetooth),
            Trouble::NoAdapter => Some(LinkState::NoAdapter),
            Trouble::AdapterOff => Some(LinkState::AdapterOff),
            Trouble::NoPermission => Some(LinkState::NoPermission),
            _ => None,
        }
    }
}

/// Waits for a call no longer than `limit`.
pub(super) async fn within<T>(
    limit: Duration,
    call: impl Future<Output = Result<T, radio::Error>>,
) -> Result<T, Trouble> {
    match tokio::time::timeout(limit, call).await {
        Ok(done) => done.map_err(Trouble::from),
        Err(_) => Err(Trouble::Late),
    }
}

impl From<radio::Error> for Trouble {
    fn from(error: radio::Error) -> Trouble {
        match &error {
            radio::Error::PermissionDenied => Trouble::NoPermission,
            radio::Error::DeviceNotFound | radio::Error::NotConnected => Trouble::Gone,
            radio::Error::NoAdapterAvailable => Trouble::NoAdapter,
            radio::Error::TimedOut(_) => Trouble::Late,
            _ => match name_on_bus(&error).map(by_name) {
                Some(Some(trouble)) => trouble,
                _ => Trouble::Failed(error),
            },
        }
    }
}

#[cfg(target_os = "linux")]
fn name_on_bus(error: &radio::Error) -> Option<&str> {
    use bluez_async::BluetoothError;
    let radio::Error::Other(inner) = error else { return None };
    match inner.downcast_ref::<BluetoothError>()? {
        BluetoothError::DbusError(error) => error.name(),
        // The library's own limit for services, given the name BlueZ would give it.
        BluetoothError::ServiceDiscoveryTimedOut => Some("org.bluez.Error.ServicesUnresolved"),
        _ => None,
    }
}

#[cfg(not(target_os = "linux"))]
fn name_on_bus(_: &radio::Error) -> Option<&str> {
    None
}

fn by_name(name: &str) -> Option<Trouble> {
    const BUS: &str = "org.freedesktop.DBus.Error.";
    const DAEMON: &str = "org.bluez.Error.";
    if let Some(kind) = name.strip_prefix(BUS) {
        return match kind {
            "ServiceUnknown" | "NameHasNoOwner" | "NoServer" | "Disconnected" | "FileNotFound" => {
                Some(Trouble::NoBluetooth)
            }
            "AccessDenied" => Some(Trouble::NoPermission),
            // BlueZ before 5.5x says "unknown method" of an object that is gone.
            "UnknownObject" | "UnknownMethod" | "UnknownInterface" => Some(Trouble::Gone),
            "NoReply" | "Timeout" | "TimedOut" => Some(Trouble::Late),
            _ if kind.starts_with("Spawn.") => Some(Trouble::NoBluetooth),
            _ => None,
        };
    }
    match name.strip_prefix(DAEMON) {
        Some("NotReady") => Some(Trouble::AdapterOff),
        Some("NotConnected" | "DoesNotExist") => Some(Trouble::Gone),
        Some("InProgress" | "AlreadyConnected") => Some(Trouble::Doing),
        Some("ServicesUnresolved") => Some(Trouble::Refused(RefusedWhy::NoServices)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_on_the_bus_are_told_apart() {
        let state = |name| by_name(name).and_then(|trouble| trouble.surroundings());
        assert_eq!(state("org.bluez.Error.NotReady"), Some(LinkState::AdapterOff));
        assert_eq!(state("org.freedesktop.DBus.Error.ServiceUnknown"), Some(LinkState::NoBluetooth));
        assert_eq!(state("org.freedesktop.DBus.Error.Spawn.ServiceNotFound"), Some(LinkState::NoBluetooth));
        assert_eq!(state("org.freedesktop.DBus.Error.AccessDenied"), Some(LinkState::NoPermission));
        assert!(matches!(by_name("org.freedesktop.DBus.Error.UnknownObject"), Some(Trouble::Gone)));
        assert!(matches!(by_name("org.bluez.Error.InProgress"), Some(Trouble::Doing)));
        assert!(by_name("org.bluez.Error.Failed").is_none());
        assert!(by_name("made.up").is_none());
    }
}
