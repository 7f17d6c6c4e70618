//! Whole numbers of one to four bytes.

/// Which byte comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Least significant first, as everything in Bluetooth's own formats.
    Little,
    /// Most significant first.
    Big,
}

/// How a whole number lies in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IntegerShape {
    /// Bytes it takes: 1 to 4.
    pub bytes: u8,
    /// Two's complement.
    pub signed: bool,
    /// Byte order.
    pub order: Order,
}

impl IntegerShape {
    /// The number. `None` when `bytes` is not as long as the shape, or the shape is not 1 to 4 bytes.
    ///
    /// ```
    /// use evenwire_core::meter::integer::{IntegerShape, Order};
    /// let sint16 = IntegerShape { bytes: 2, signed: true, order: Order::Little };
    /// assert_eq!(sint16.read(&[0xFE, 0xFF]), Some(-2));
    /// ```
    pub fn read(self, bytes: &[u8]) -> Option<i64> {
        if !(1..=4).contains(&self.bytes) || bytes.len() != usize::from(self.bytes) {
            return None;
        }
        let add = |whole: u64, byte: &u8| (whole << 8) | u64::from(*byte);
        let whole = match self.order {
            Order::Little => bytes.iter().rev().fold(0, add),
            Order::Big => bytes.iter().fold(0, add),
        };
        Some(if self.signed { sign_extended(whole, 8 * u32::from(self.bytes)) } else { whole.cast_signed() })
    }
}

/// The low `bits` (1 to 63) of `raw` as two's complement.
pub(super) fn sign_extended(raw: u64, bits: u32) -> i64 {
    let unused = 64 - bits;
    (raw << unused).cast_signed() >> unused
}
