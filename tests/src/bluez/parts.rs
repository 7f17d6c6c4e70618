//! What a pretended device is made of, as a table a test can write down.

use std::time::Duration;
use uuid::Uuid;

/// The 128-bit form of a 16-bit Bluetooth UUID.
pub const fn assigned(code: u16) -> Uuid {
    Uuid::from_u128(0x0000_0000_0000_1000_8000_0080_5F9B_34FB | ((code as u128) << 96))
}

/// Service of the ready-made ohm meter. Drawn at random: there is no assigned one.
pub const OHM_SERVICE: Uuid = Uuid::from_u128(0x6f1d_0a10_52c4_4b7e_9d38_8e5a_21c7_4401);
/// Measuring characteristic of the ready-made ohm meter.
pub const OHM_VALUE: Uuid = Uuid::from_u128(0x6f1d_0a11_52c4_4b7e_9d38_8e5a_21c7_4401);
/// Serial number string, in Device Information.
pub const SERIAL: Uuid = assigned(0x2A25);
/// Device Information.
pub const DEVICE_INFORMATION: Uuid = assigned(0x180A);
/// Characteristic Presentation Format.
pub const PRESENTATION: Uuid = assigned(0x2904);
/// Valid Range.
pub const VALID_RANGE: Uuid = assigned(0x2906);

/// A device that can be heard.
#[derive(Clone, Debug)]
pub struct Device {
    /// `C0:00:00:00:00:01`; its handle in every call of the stand-in.
    pub address: String,
    /// The name it announces.
    pub name: String,
    /// Received strength, dBm.
    pub signal: i16,
    /// What it offers once connected.
    pub services: Vec<Service>,
}

/// A service of a [`Device`].
#[derive(Clone, Debug)]
pub struct Service {
    /// Its UUID.
    pub uuid: Uuid,
    /// Its characteristics, in the order of their handles.
    pub characteristics: Vec<Characteristic>,
}

/// A characteristic of a [`Service`].
#[derive(Clone, Debug)]
pub struct Characteristic {
    /// Its UUID.
    pub uuid: Uuid,
    /// As BlueZ spells them: `read`, `notify`, `indicate`, …
    pub flags: Vec<String>,
    /// What a read answers.
    pub value: Vec<u8>,
    /// UUID and content of each descriptor.
    pub descriptors: Vec<(Uuid, Vec<u8>)>,
}

/// How a call is answered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Answer {
    /// As it should be.
    #[default]
    Does,
    /// With this D-Bus error name.
    Refuses(&'static str),
    /// Never.
    Hangs,
}

/// How a device behaves.
#[derive(Clone, Debug)]
pub struct Manners {
    /// What `Connect` gets.
    pub connecting: Answer,
    /// What `StartNotify` gets.
    pub subscribing: Answer,
    /// What reading a value or a descriptor gets.
    pub reading: Answer,
    /// Values sent the moment notifications are on, before the call is even answered.
    pub at_once: Vec<Vec<u8>>,
    /// After a connect the services become known.
    pub resolves: bool,
    /// Every answer of this device comes this much later.
    pub delay: Duration,
}

impl Default for Manners {
    fn default() -> Self {
        Manners {
            connecting: Answer::Does,
            subscribing: Answer::Does,
            reading: Answer::Does,
            at_once: Vec::new(),
            resolves: true,
            delay: Duration::ZERO,
        }
    }
}

/// A meter that describes itself: resistance with a presentation format descriptor (unit 0x272A), a
/// valid range, and a serial number in Device Information.
///
/// `format` and `exponent` are those of the descriptor; 0x0E and -2 mean sint16 in hundredths of an ohm.
///
/// ```
/// let meter = evenwire_tests::bluez::ohm_meter("C0:00:00:00:00:01", 0x0E, -2);
/// assert_eq!(meter.services[1].characteristics[0].descriptors[0].1, [0x0E, 0xFE, 0x2A, 0x27, 1, 0, 0]);
/// ```
pub fn ohm_meter(address: &str, format: u8, exponent: i8) -> Device {
    let [low, high] = 0x272Au16.to_le_bytes();
    let presentation = vec![format, exponent.to_le_bytes()[0], low, high, 1, 0, 0];
    let read = |uuid, value: &[u8]| Characteristic {
        uuid,
        flags: vec!["read".into()],
        value: value.to_vec(),
        descriptors: Vec::new(),
    };
    Device {
        address: address.into(),
        name: "Bench ohm meter".into(),
        signal: -52,
        services: vec![
            Service { uuid: DEVICE_INFORMATION, characteristics: vec![read(SERIAL, b"OM-0042")] },
            Service {
                uuid: OHM_SERVICE,
                characteristics: vec![Characteristic {
                    uuid: OHM_VALUE,
                    flags: vec!["read".into(), "notify".into()],
                    value: vec![0, 0],
                    descriptors: vec![(PRESENTATION, presentation), (VALID_RANGE, vec![0, 0, 0x0F, 0x27])],
                }],
            },
        ],
    }
}
