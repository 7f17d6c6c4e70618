//! What a meter offers, read once after each connect and before anything is subscribed to.

use super::Patience;
use super::radio::{CharPropFlags, Characteristic, Peripheral, PeripheralCalls};
use super::trouble::{Trouble, within};
use evenwire_core::meter::link::{Channel, Offer, RefusedWhy};
use uuid::Uuid;

/// Serial Number String, Valid Range, Characteristic Presentation Format (Bluetooth Assigned Numbers).
const SERIAL: Uuid = assigned(0x2A25);
const VALID_RANGE: Uuid = assigned(0x2906);
const PRESENTATION: Uuid = assigned(0x2904);

/// Characters of a serial number or name that are kept.
const LONGEST: usize = 64;

const fn assigned(code: u16) -> Uuid {
    Uuid::from_u128(0x0000_0000_0000_1000_8000_0080_5F9B_34FB | ((code as u128) << 96))
}

/// Discovers the services and reads descriptors and serial number. Reads no other value, so the
/// measuring characteristic is never read.
///
/// # Errors
/// No services, or the connection does not hold. A descriptor the meter refuses to show is left out.
pub(super) async fn read(peripheral: &Peripheral, patience: &Patience) -> Result<Offer, Trouble> {
    within(patience.discover, peripheral.discover_services()).await?;
    let all = peripheral.characteristics();
    if peripheral.services().is_empty() || all.is_empty() {
        return Err(Trouble::Refused(RefusedWhy::NoServices));
    }
    let told = within(patience.call, peripheral.properties()).await?;
    let name = clean(&told.and_then(|told| told.local_name).unwrap_or_default());
    let mut offer = Offer { name, serial: None, channels: Vec::new() };
    for characteristic in all {
        if characteristic.uuid == SERIAL {
            let bytes = allowed(within(patience.call, peripheral.read(&characteristic)).await)?;
            offer.serial = bytes.map(|bytes| clean(&String::from_utf8_lossy(&bytes))).filter(|text| !text.is_empty());
        }
        offer.channels.push(channel(peripheral, patience, &characteristic).await?);
    }
    Ok(offer)
}

async fn channel(peripheral: &Peripheral, patience: &Patience, of: &Characteristic) -> Result<Channel, Trouble> {
    let mut channel = Channel {
        service: of.service_uuid,
        characteristic: of.uuid,
        notifies: of.properties.intersects(CharPropFlags::NOTIFY | CharPropFlags::INDICATE),
        presentation: None,
        valid_range: None,
    };
    for descriptor in &of.descriptors {
        let place = match descriptor.uuid {
            PRESENTATION => &mut channel.presentation,
            VALID_RANGE => &mut channel.valid_range,
            _ => continue,
        };
        *place = allowed(within(patience.call, peripheral.read_descriptor(descriptor)).await)?;
    }
    Ok(channel)
}

/// What a meter refuses to show is not there; what could not be asked is trouble, for a meter must not
/// lose its presentation format to a bad moment.
fn allowed(read: Result<Vec<u8>, Trouble>) -> Result<Option<Vec<u8>>, Trouble> {
    match read {
        Ok(bytes) => Ok(Some(bytes)),
        Err(Trouble::Failed(_) | Trouble::NoPermission) => Ok(None),
        Err(trouble) => Err(trouble),
    }
}

/// Text from outside: no control characters, no padding, not endless.
fn clean(text: &str) -> String {
    let kept: String = text.chars().filter(|character| !character.is_control()).take(LONGEST).collect();
    kept.trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serial_numbers_lose_padding_and_control_characters() {
        assert_eq!(clean("OM-0042\0\0"), "OM-0042");
        assert_eq!(clean(" \u{7}OM\n1 "), "OM1");
        assert_eq!(clean(&"9".repeat(500)).len(), LONGEST);
    }
}
