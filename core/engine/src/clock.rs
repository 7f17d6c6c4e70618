//! The clocks: one that counts sleep, and the wall clock for display.

mod boot;

pub use boot::{boot_id, boot_millis};

use evenwire_core::unit::{BootId, Now, Stamp};

/// Wall clock with its offset, to the second.
pub fn wall() -> Stamp {
    let now = jiff::ZonedDateTime::now();
    let text = now.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
    Stamp::parse(&text).expect("a date with its offset")
}

/// So many milliseconds after `wall`, to the second, with its offset: for time that is counted and not waited for.
pub fn later(wall: &Stamp, ms: u64) -> Stamp {
    let pieces = jiff::fmt::temporal::Pieces::parse(wall.as_str()).expect("checked when made");
    let zone = jiff::tz::TimeZone::fixed(pieces.to_numeric_offset().unwrap_or(jiff::tz::Offset::UTC));
    let ms = i64::try_from(ms).unwrap_or(i64::MAX);
    let at = jiff::Timestamp::from_millisecond(wall.unix_millis().saturating_add(ms)).unwrap_or(jiff::Timestamp::MAX);
    let text = jiff::ZonedDateTime::new(at, zone).strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
    Stamp::parse(&text).expect("a date with its offset")
}

/// Tells the time, as it is handed to core. The boot cannot change while a program runs, so it is read once.
#[derive(Clone, Debug)]
pub struct Clock {
    boot_id: BootId,
}

impl Clock {
    /// A clock of the present boot.
    pub fn new() -> Clock {
        Clock { boot_id: boot_id() }
    }

    /// Now.
    pub fn now(&self) -> Now {
        Now { boot: boot_millis(), boot_id: self.boot_id.clone(), wall: wall() }
    }
}

impl Default for Clock {
    fn default() -> Clock {
        Clock::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_boot_clock_goes_forward_and_the_boot_has_a_name_here() {
        let (first, second) = (boot_millis(), boot_millis());
        assert!(first.0 > 0 && second >= first);
        assert_eq!(boot_id().0.len(), 36);
        assert_eq!(wall().as_str().len(), 25);
    }
}
