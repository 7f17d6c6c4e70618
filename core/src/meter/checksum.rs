//! Check bytes at the end of a frame.

use super::fault::FrameError;
use super::integer::Order;

/// How check bytes are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChecksumKind {
    /// Sum of the bytes, low 8 bits.
    Sum8,
    /// Exclusive or of the bytes.
    Xor8,
    /// Polynomial 0x07, start 0, not reflected.
    Crc8Smbus,
    /// Polynomial 0x31, start 0, reflected.
    Crc8Maxim,
    /// Polynomial 0x8005, start 0xFFFF, reflected.
    Crc16Modbus,
    /// Polynomial 0x1021, start 0xFFFF, not reflected.
    Crc16CcittFalse,
    /// Polynomial 0x1021, start 0, not reflected.
    Crc16Xmodem,
    /// Polynomial 0x1021, start 0, reflected.
    Crc16Kermit,
}

impl ChecksumKind {
    /// All kinds with the word for each in a profile.
    pub const WORDS: [(&'static str, ChecksumKind); 8] = [
        ("sum8", ChecksumKind::Sum8),
        ("xor8", ChecksumKind::Xor8),
        ("crc8-smbus", ChecksumKind::Crc8Smbus),
        ("crc8-maxim", ChecksumKind::Crc8Maxim),
        ("crc16-modbus", ChecksumKind::Crc16Modbus),
        ("crc16-ccitt-false", ChecksumKind::Crc16CcittFalse),
        ("crc16-xmodem", ChecksumKind::Crc16Xmodem),
        ("crc16-kermit", ChecksumKind::Crc16Kermit),
    ];

    /// Bytes it takes in the frame: 1 or 2.
    pub fn bytes(self) -> usize {
        use ChecksumKind::{Crc8Maxim, Crc8Smbus, Sum8, Xor8};
        if matches!(self, Sum8 | Xor8 | Crc8Smbus | Crc8Maxim) { 1 } else { 2 }
    }

    /// The check value of `bytes`; kinds of one byte stay below 256.
    pub fn of(self, bytes: &[u8]) -> u16 {
        match self {
            ChecksumKind::Sum8 => bytes.iter().fold(0, |sum, byte| (sum + u16::from(*byte)) & 0xFF),
            ChecksumKind::Xor8 => bytes.iter().fold(0, |sum, byte| sum ^ u16::from(*byte)),
            // Eight bits in the upper half of the register: the same loop serves both widths.
            ChecksumKind::Crc8Smbus => upward(bytes, 0x0700, 0) >> 8,
            ChecksumKind::Crc8Maxim => reflected(bytes, 0x8C, 0),
            ChecksumKind::Crc16Modbus => reflected(bytes, 0xA001, 0xFFFF),
            ChecksumKind::Crc16CcittFalse => upward(bytes, 0x1021, 0xFFFF),
            ChecksumKind::Crc16Xmodem => upward(bytes, 0x1021, 0),
            ChecksumKind::Crc16Kermit => reflected(bytes, 0x8408, 0),
        }
    }
}

fn upward(bytes: &[u8], polynomial: u16, start: u16) -> u16 {
    bytes.iter().fold(start, |register, byte| {
        (0..8).fold(
            register ^ (u16::from(*byte) << 8),
            |r, _| {
                if r & 0x8000 == 0 { r << 1 } else { (r << 1) ^ polynomial }
            },
        )
    })
}

fn reflected(bytes: &[u8], polynomial: u16, start: u16) -> u16 {
    bytes.iter().fold(start, |register, byte| {
        (0..8).fold(register ^ u16::from(*byte), |r, _| if r & 1 == 0 { r >> 1 } else { (r >> 1) ^ polynomial })
    })
}

/// Check bytes as they lie in a frame: last, before the end bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Checksum {
    /// How they are made.
    pub kind: ChecksumKind,
    /// First byte of the frame that is covered; all up to the check bytes are.
    pub from: usize,
    /// Byte order of a check value of two bytes.
    pub order: Order,
}

impl Checksum {
    /// Compares `body` (the frame without its end bytes, check bytes last).
    ///
    /// # Errors
    /// [`FrameError::Checksum`] when they differ, [`FrameError::Length`] when `body` is too short to
    /// have them.
    pub fn check(&self, body: &[u8]) -> Result<(), FrameError> {
        let split = body.len().checked_sub(self.kind.bytes()).filter(|at| *at >= self.from);
        let (covered, check) = body.split_at(split.ok_or(FrameError::Length(body.len()))?);
        let found = match (check, self.order) {
            ([only], _) => u16::from(*only),
            ([first, second], Order::Little) => u16::from_le_bytes([*first, *second]),
            ([first, second], Order::Big) => u16::from_be_bytes([*first, *second]),
            _ => return Err(FrameError::Length(body.len())),
        };
        let computed = self.kind.of(&covered[self.from..]);
        if computed == found { Ok(()) } else { Err(FrameError::Checksum { computed, found }) }
    }
}
