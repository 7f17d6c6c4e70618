//! What a link to a meter reports, and what it is told. A link moves bytes and decides nothing.

use crate::unit::Millis;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Where a meter is reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// Bluetooth LE.
    Radio,
    /// The practice meter inside the program.
    Practice,
    /// A recorded stream.
    Replay,
    /// No link: a person reads the display and types.
    Typed,
}

/// A meter that was seen while searching.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct FoundMeter {
    /// The link's own handle; good for connecting now, never for recognising an instrument later.
    pub id: String,
    /// The name it announces, empty if none.
    pub name: String,
    /// Received strength in dBm, if told.
    pub signal: Option<i16>,
    /// Where it was found.
    pub source: Source,
}

/// What the link itself can know of its state. `live` and `stale` are not here: they are facts about
/// readings and time, and the session decides them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "state")]
pub enum LinkState {
    /// No meter is asked for.
    Idle,
    /// This computer has no Bluetooth service (no bus, no daemon).
    NoBluetooth,
    /// The service runs, but there is no adapter.
    NoAdapter,
    /// The adapter is switched off.
    AdapterOff,
    /// The system does not let the program use Bluetooth.
    NoPermission,
    /// Listening for meters.
    Searching,
    /// A connection is being made.
    Connecting,
    /// Connected; services and descriptors are being read.
    Discovering,
    /// Notifications are switched on; no value has come yet.
    Subscribed,
    /// The connection broke and is tried again by itself after `retry_ms`.
    Lost {
        /// Tries made since the loss.
        attempt: u32,
        /// Time to the next try, ms.
        retry_ms: u32,
    },
    /// Tried for 60 s without success: the person is asked.
    GaveUp,
    /// The meter was reached but cannot be used.
    Refused {
        /// Why.
        why: RefusedWhy,
    },
}

/// Why a meter that was reached cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum RefusedWhy {
    /// It refused the connection.
    Connection,
    /// It offered no services in time.
    NoServices,
    /// None of its values is one this program can read.
    NoReadableValue,
    /// Switching notifications on failed.
    Notifications,
}

/// One value a meter offers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Channel {
    /// Its service.
    pub service: Uuid,
    /// Its characteristic.
    pub characteristic: Uuid,
    /// It can notify.
    pub notifies: bool,
    /// Raw bytes of its presentation format descriptor (0x2904), if it has one.
    pub presentation: Option<Vec<u8>>,
    /// Raw bytes of its valid range descriptor (0x2906), if it has one.
    pub valid_range: Option<Vec<u8>>,
}

/// What a meter offers, read once after each connect.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offer {
    /// The name it announces.
    pub name: String,
    /// Serial number of Device Information (0x180A / 0x2A25), if it tells one.
    pub serial: Option<String>,
    /// Its values, in the order found.
    pub channels: Vec<Channel>,
}

/// What a link reports. Everything after [`LinkEvent::Connected`] carries that connection's generation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LinkEvent {
    /// A meter was seen (again).
    Found(FoundMeter),
    /// The state changed.
    State(LinkState),
    /// Connected and discovered. The session answers with [`LinkCommand::Listen`] or a refusal.
    Connected {
        /// Counts connections of this program run; every connect has a new one.
        generation: u32,
        /// What the meter offers.
        offer: Offer,
    },
    /// A notification, unread.
    Bytes {
        /// The connection it came through.
        generation: u32,
        /// The characteristic it came from.
        characteristic: Uuid,
        /// The bytes.
        bytes: Vec<u8>,
        /// When they arrived (boot clock).
        at: Millis,
    },
}

/// What a link is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LinkCommand {
    /// Look for meters. Never powers an adapter on that a person switched off.
    Search,
    /// Stop looking.
    StopSearch,
    /// Connect to a found meter, and keep trying after a loss.
    Connect {
        /// As in [`FoundMeter::id`].
        id: String,
    },
    /// Switch on notifications of one channel of the present connection.
    Listen {
        /// The connection meant.
        generation: u32,
        /// Its service.
        service: Uuid,
        /// Its characteristic.
        characteristic: Uuid,
    },
    /// Let the meter go.
    Disconnect,
}
