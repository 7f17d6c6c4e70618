//! Work orders for the reading of meters.

mod choosing;
mod frames;
mod numbers;
mod profiles;
mod recorded;
mod texts;

use super::fault::FrameError;
use super::link::Channel;
use super::{Decoder, Profile, Reading, Shown};
use crate::unit::Millis;
use uuid::Uuid;

/// The display as a person would write it down.
fn seen(shown: Shown) -> String {
    match shown {
        Shown::Value(quantity) => quantity.to_string(),
        Shown::OverRange => "over-range".to_owned(),
        Shown::Blank => "blank".to_owned(),
    }
}

fn seen_all(results: &[Result<Reading, FrameError>]) -> Vec<String> {
    results.iter().map(|result| result.as_ref().map_or_else(ToString::to_string, |r| seen(r.shown))).collect()
}

fn channel(presentation: &[u8]) -> Channel {
    Channel {
        service: Uuid::from_u128(1),
        characteristic: Uuid::from_u128(2),
        notifies: true,
        presentation: Some(presentation.to_vec()),
        valid_range: None,
    }
}

fn built_in(name: &str) -> Profile {
    let (_, text) = super::profile::BUILT_IN.iter().find(|(file, _)| *file == name).expect("a built-in profile");
    Profile::parse(text).expect("valid")
}

/// One push, its only outcome.
fn only(decoder: &mut Decoder, bytes: &[u8]) -> Result<Reading, FrameError> {
    let mut results = decoder.push(bytes, Millis(0));
    assert_eq!(results.len(), 1, "one frame gives one outcome");
    results.remove(0)
}

/// What the practice meter's text line looks like.
fn text_line(number: &str) -> Vec<u8> {
    format!("#{number:<12}\r\n").into_bytes()
}

/// A frame of the status-and-integer meter.
fn status_integer(setting: u8, places: u8, status: u8, number: i32) -> Vec<u8> {
    let [_, high, middle, low] = number.to_be_bytes();
    let mut frame = vec![0xA5, 0x5A, setting, places, status, high, middle, low];
    let check = super::checksum::ChecksumKind::Crc16Modbus.of(&frame[2..]);
    frame.extend(check.to_le_bytes());
    frame
}

/// A frame of the counted float meter.
fn counted_float(status: u8, bits: u32) -> Vec<u8> {
    let mut frame = vec![0xAA, 6, status];
    frame.extend(bits.to_le_bytes());
    let check = super::checksum::ChecksumKind::Crc8Smbus.of(&frame);
    frame.push(u8::try_from(check).expect("eight bits"));
    frame
}
