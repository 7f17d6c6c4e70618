//! Number formats. Sources: Bluetooth Assigned Numbers of 2026-06-23, section 2.4.1 for the format codes, its
//! `uuids/units.yaml` for the units, and the special values of medfloats; the layout of medfloats is
//! IEEE 11073-20601, from memory.

use super::{channel, only, seen};
use crate::meter::float::{FloatShape, FloatWidth};
use crate::meter::integer::{IntegerShape, Order};
use crate::meter::medfloat::MedfloatWidth;
use crate::meter::presentation::{Format, Presentation};
use crate::meter::{ChannelRefused, Decoder, FrameError, Shown};
use crate::unit::{MAX_PLACES, Millis, Quantity, Unit};
use proptest::prelude::*;

const OHM: Unit = Unit::Ohm;

fn descriptor(format: u8, exponent: i8) -> [u8; 7] {
    [format, exponent.cast_unsigned(), 0x2A, 0x27, 1, 0, 0]
}

fn decoder(format: u8, exponent: i8, places: Option<u8>) -> Decoder {
    Decoder::for_presentation(&channel(&descriptor(format, exponent)), places).expect("readable")
}

fn reads(decoder: &mut Decoder, bytes: &[u8], display: &str, step: Option<&str>) {
    let reading = only(decoder, bytes).expect("a reading");
    assert_eq!(seen(reading.shown), display, "{bytes:02X?}");
    assert_eq!(reading.step.map(|s| s.to_string()).as_deref(), step, "step of {bytes:02X?}");
}

/// Assigned Numbers 2.4.1 (seen).
#[test]
fn format_codes_are_the_assigned_ones() {
    let integer = |bytes, signed| Some(Format::Integer(IntegerShape { bytes, signed, order: Order::Little }));
    let table = [
        (0x01, None),
        (0x04, integer(1, false)),
        (0x06, integer(2, false)),
        (0x08, integer(4, false)),
        (0x0C, integer(1, true)),
        (0x0E, integer(2, true)),
        (0x0F, integer(3, true)),
        (0x10, integer(4, true)),
        (0x12, None),
        (0x13, None),
        (0x14, Some(Format::Float(FloatWidth::Single))),
        (0x15, Some(Format::Float(FloatWidth::Double))),
        (0x16, Some(Format::Medfloat(MedfloatWidth::Short))),
        (0x17, Some(Format::Medfloat(MedfloatWidth::Long))),
        (0x19, None),
        (0x1B, None),
    ];
    for (code, format) in table {
        assert_eq!(Format::from_assigned(code), format, "0x{code:02X}");
    }
}

/// `uuids/units.yaml` (seen): only three of these are measured here, the others are refused by number.
#[test]
fn unit_codes_are_the_assigned_ones() {
    let table = [(0x272A, Some(Unit::Ohm)), (0x2728, Some(Unit::Volt)), (0x272F, Some(Unit::Celsius))];
    let others = [0x2700, 0x2703, 0x2704, 0x2705, 0x2729, 0x272B, 0x27AC].map(|code| (code, None));
    for (code, unit) in table.into_iter().chain(others) {
        let [low, high] = u16::to_le_bytes(code);
        let bytes = [0x0E, 0xFE, low, high, 1, 0, 0];
        assert_eq!(Presentation::parse(&bytes).expect("a number").unit(), unit, "0x{code:04X}");
        let built = Decoder::for_presentation(&channel(&bytes), None);
        assert_eq!(built.err(), unit.is_none().then_some(ChannelRefused::UnknownUnit(code)));
    }
}

/// `0E FE 2A 27 01 00 00`: 185 is 1.85 ohm.
#[test]
fn sint16_in_hundredths_of_an_ohm() {
    let bytes = [0x0E, 0xFE, 0x2A, 0x27, 0x01, 0x00, 0x00];
    let presentation = Presentation::parse(&bytes).expect("readable");
    assert_eq!((presentation.exponent, presentation.unit_code), (-2, 0x272A));
    assert_eq!((presentation.namespace, presentation.description), (1, 0));
    let mut meter = Decoder::for_presentation(&channel(&bytes), None).expect("readable");
    reads(&mut meter, &185i16.to_le_bytes(), "1.85", Some("0.01"));
    reads(&mut meter, &180i16.to_le_bytes(), "1.80", Some("0.01"));
    reads(&mut meter, &(-3i16).to_le_bytes(), "-0.03", Some("0.01"));
}

/// `14 00 2A 27 01 00 00`: float32 ohm; `1B 2F ED 3F` is 1.853 000 044 822 69.
#[test]
fn float32_shows_the_places_of_the_display() {
    let bytes = [0x14, 0x00, 0x2A, 0x27, 0x01, 0x00, 0x00];
    let value = [0x1B, 0x2F, 0xED, 0x3F];
    for (places, display) in [(0, "2"), (1, "1.9"), (2, "1.85"), (3, "1.853"), (10, "1.8530000448")] {
        let mut meter = Decoder::for_presentation(&channel(&bytes), Some(places)).expect("readable");
        assert_eq!(seen(only(&mut meter, &value).expect("a reading").shown), display);
    }
    // 1.853000044822692 to twelve places, the most that are kept.
    reads(&mut decoder(0x14, 0, Some(12)), &value, "1.853000044823", Some("0.000000000001"));
}

#[test]
fn a_float_without_known_places_is_refused() {
    for format in [0x14, 0x15] {
        let refused = Decoder::for_presentation(&channel(&descriptor(format, 0)), None);
        assert_eq!(refused.err(), Some(ChannelRefused::StepUnknown));
        let refused = Decoder::for_presentation(&channel(&descriptor(format, 0)), Some(13));
        assert_eq!(refused.err(), Some(ChannelRefused::Places(13)));
    }
}

/// IEEE 754: infinite, not-a-number, zero, smallest, ties and size.
#[test]
fn floats_that_are_states_or_at_an_edge() {
    let mut single = decoder(0x14, 0, Some(3));
    for (bits, display) in [
        (f32::INFINITY.to_bits(), "over-range"),
        (f32::NEG_INFINITY.to_bits(), "over-range"),
        (f32::NAN.to_bits(), "blank"),
        (0x7F80_0001, "blank"),
        (0x8000_0000, "0.000"),
        (1, "0.000"),
        (0.0625f32.to_bits(), "0.063"),
        ((-0.0625f32).to_bits(), "-0.063"),
        (0.062_499f32.to_bits(), "0.062"),
        (1e6f32.to_bits(), "1000000.000"),
    ] {
        assert_eq!(seen(only(&mut single, &bits.to_le_bytes()).expect("a reading").shown), display, "{bits:08X}");
    }
    let mut double = decoder(0x15, 0, Some(2));
    reads(&mut double, &1.853f64.to_le_bytes(), "1.85", Some("0.01"));
    for large in [1e17f64, 1e300, -1e300] {
        assert_eq!(only(&mut double, &large.to_le_bytes()), Err(FrameError::TooManyDigits));
    }
}

/// The SFLOAT table. 1.853 has its own last place, so the step is told by every value.
#[test]
fn medfloat16_values_are_exact() {
    let mut meter = decoder(0x16, 0, None);
    for (bytes, display, step) in [
        ([0xB9, 0xE0], "1.85", "0.01"),
        ([0x3D, 0xD7], "1.853", "0.001"),
        ([0x72, 0xF0], "11.4", "0.1"),
        ([0x72, 0x00], "114", "1"),
        ([0xD0, 0xD7], "2.000", "0.001"),
        ([0xFF, 0xCF], "-0.0001", "0.0001"),
        // A positive exponent: 114 × 10² with a step of a hundred.
        ([0x72, 0x20], "11400", "100"),
        // The ends of the mantissa, ±2045.
        ([0xFD, 0x07], "2045", "1"),
        ([0x03, 0x08], "-2045", "1"),
    ] {
        reads(&mut meter, &bytes, display, Some(step));
    }
}

/// Special values (seen): NaN, NRes, +INF, −INF, reserved.
#[test]
fn medfloat16_special_values_are_states() {
    let mut meter = decoder(0x16, 0, None);
    for (bytes, display) in [
        ([0xFF, 0x07], "blank"),
        ([0x00, 0x08], "blank"),
        ([0xFE, 0x07], "over-range"),
        ([0x02, 0x08], "over-range"),
        ([0x01, 0x08], "blank"),
        // The same mantissas beside an exponent: no number may use them.
        ([0xFE, 0xD7], "over-range"),
        ([0xFF, 0xF7], "blank"),
    ] {
        reads(&mut meter, &bytes, display, None);
    }
}

/// The FLOAT table with its special values (seen).
#[test]
fn medfloat32_values_and_special_values() {
    let mut meter = decoder(0x17, 0, None);
    reads(&mut meter, &[0x3D, 0x07, 0x00, 0xFD], "1.853", Some("0.001"));
    reads(&mut meter, &[0x6C, 0x01, 0x00, 0xFF], "36.4", Some("0.1"));
    reads(&mut meter, &[0xFF, 0xFF, 0x7F, 0x00], "blank", None);
    reads(&mut meter, &[0x00, 0x00, 0x80, 0x00], "blank", None);
    reads(&mut meter, &[0xFE, 0xFF, 0x7F, 0x00], "over-range", None);
    reads(&mut meter, &[0x02, 0x00, 0x80, 0x00], "over-range", None);
    reads(&mut meter, &[0x01, 0x00, 0x80, 0x00], "blank", None);
    assert_eq!(only(&mut meter, &[1, 0, 0, 0x80]), Err(FrameError::TooManyDigits));
}

/// A 12-bit mantissa holds at most ±2045: 1.853 fits, 18.534 does not.
#[test]
fn a_short_medfloat_holds_four_digits_at_most() {
    let mantissas: Vec<i64> = (0..=0x0FFFu16)
        .filter_map(|raw| MedfloatWidth::Short.read(&raw.to_le_bytes(), OHM))
        .filter_map(|number| match number.expect("exponent 0").shown {
            Shown::Value(quantity) => Some(quantity.digits()),
            _ => None,
        })
        .collect();
    assert_eq!(mantissas.iter().max(), Some(&2045));
    assert_eq!(mantissas.iter().min(), Some(&-2045));
    assert!(mantissas.contains(&1853) && !mantissas.contains(&18534));
}

#[test]
fn integers_of_every_width() {
    reads(&mut decoder(0x04, 0, None), &[0xFF], "255", Some("1"));
    reads(&mut decoder(0x0C, -1, None), &[0xFF], "-0.1", Some("0.1"));
    reads(&mut decoder(0x06, 1, None), &[0xFF, 0xFF], "655350", Some("10"));
    reads(&mut decoder(0x0F, -3, None), &[0x01, 0x00, 0x80], "-8388.607", Some("0.001"));
    reads(&mut decoder(0x0F, -3, None), &[0x60, 0x01, 0x00], "0.352", Some("0.001"));
    reads(&mut decoder(0x08, -6, None), &[0xFF; 4], "4294.967295", Some("0.000001"));
    reads(&mut decoder(0x10, 0, None), &[0, 0, 0, 0x80], "-2147483648", Some("1"));
    assert_eq!(only(&mut decoder(0x08, 18, None), &[0xFF; 4]), Err(FrameError::TooManyDigits));
}

#[test]
fn a_notification_of_another_length_is_no_value() {
    let mut meter = decoder(0x0E, -2, None);
    for wrong in [&[][..], &[1], &[1, 2, 3]] {
        assert_eq!(only(&mut meter, wrong), Err(FrameError::Length(wrong.len())));
    }
    assert_eq!(meter.skipped(), 4);
    reads(&mut meter, &[185, 0], "1.85", Some("0.01"));
}

#[test]
fn a_descriptor_that_cannot_be_trusted_is_refused() {
    let refused = |bytes: &[u8]| Decoder::for_presentation(&channel(bytes), Some(3)).err();
    assert_eq!(refused(&[0x0E, 0xFE, 0x2A, 0x27]), Some(ChannelRefused::DescriptorLength(4)));
    assert_eq!(refused(&[0; 8]), Some(ChannelRefused::DescriptorLength(8)));
    assert_eq!(refused(&descriptor(0x19, 0)), Some(ChannelRefused::UnknownFormat(0x19)));
    assert_eq!(refused(&descriptor(0x0E, -13)), Some(ChannelRefused::Exponent(-13)));
    assert_eq!(refused(&descriptor(0x0E, 19)), Some(ChannelRefused::Exponent(19)));
    for float in [0x14, 0x15, 0x16, 0x17] {
        assert_eq!(refused(&descriptor(float, -3)), Some(ChannelRefused::ExponentBesideFloat(-3)));
    }
    let mut plain = channel(&descriptor(0x0E, -2));
    plain.presentation = None;
    assert_eq!(Decoder::for_presentation(&plain, None).err(), Some(ChannelRefused::NoDescriptor));
}

/// A meter without a special value sends its largest number instead: above its valid range is overload.
#[test]
fn above_the_valid_range_is_over_range() {
    let mut ranged = channel(&descriptor(0x0E, -2));
    ranged.valid_range = Some(vec![0x00, 0x00, 0x70, 0x17]);
    let mut meter = Decoder::for_presentation(&ranged, None).expect("readable");
    assert_eq!(meter.facts().top, Quantity::new(6000, 2, OHM));
    assert_eq!(meter.facts().step, Quantity::new(1, 2, OHM));
    reads(&mut meter, &6000i16.to_le_bytes(), "60.00", Some("0.01"));
    reads(&mut meter, &6001i16.to_le_bytes(), "over-range", Some("0.01"));
    // Below it is a reading: after a relative zero a good contact shows a little under nothing.
    reads(&mut meter, &(-2i16).to_le_bytes(), "-0.02", Some("0.01"));
}

#[test]
fn a_valid_range_that_makes_no_sense_tells_nothing() {
    for range in [&[][..], &[0, 0, 0x70], &[0x70, 0x17, 0, 0], &[0, 0, 0, 0], &[0; 8]] {
        let mut ranged = channel(&descriptor(0x0E, -2));
        ranged.valid_range = Some(range.to_vec());
        let mut meter = Decoder::for_presentation(&ranged, None).expect("readable");
        assert_eq!(meter.facts().top, None, "{range:02X?}");
        reads(&mut meter, &32767i16.to_le_bytes(), "327.67", Some("0.01"));
    }
    let mut ranged = channel(&descriptor(0x16, 0));
    ranged.valid_range = Some(vec![0x00, 0x00, 0xFE, 0x07]);
    assert_eq!(Decoder::for_presentation(&ranged, None).expect("readable").facts().top, None);
}

#[test]
fn readings_carry_time_and_connection() {
    let mut meter = decoder(0x0E, -2, None).with_generation(7);
    let reading = meter.push(&[1, 0], Millis(1250)).remove(0).expect("a reading");
    assert_eq!((reading.at, reading.generation), (Millis(1250), 7));
}

fn shape() -> impl Strategy<Value = IntegerShape> {
    let order = prop_oneof![Just(Order::Little), Just(Order::Big)];
    (1u8..=4, any::<bool>(), order).prop_map(|(bytes, signed, order)| IntegerShape { bytes, signed, order })
}

proptest! {
    #[test]
    fn integers_come_back(shape in shape(), raw in any::<i64>()) {
        let bits = 8 * u32::from(shape.bytes);
        let number = if shape.signed { (raw << (64 - bits)) >> (64 - bits) } else { raw & ((1i64 << bits) - 1) };
        let mut bytes = number.to_le_bytes()[..usize::from(shape.bytes)].to_vec();
        if shape.order == Order::Big {
            bytes.reverse();
        }
        prop_assert_eq!(shape.read(&bytes), Some(number));
    }

    #[test]
    fn short_medfloats_come_back(mantissa in -2045i16..=2045, exponent in -8i8..=7) {
        let raw = (mantissa.cast_unsigned() & 0x0FFF) | (u16::from(exponent.cast_unsigned() & 0x0F) << 12);
        let number = MedfloatWidth::Short.read(&raw.to_le_bytes(), OHM).expect("two bytes").expect("kept");
        let expected = Quantity::scaled(i64::from(mantissa), i32::from(exponent), OHM).expect("kept");
        prop_assert_eq!(number.shown, Shown::Value(expected));
    }

    /// What a display showed comes back digit for digit from the float nearest to it.
    #[test]
    fn a_display_of_six_digits_survives_a_single_float(digits in -999_999i64..=999_999, places in 0u8..=6) {
        let shown = Quantity::new(digits, places, OHM).expect("few places");
        let nearest: f32 = shown.to_string().parse().expect("a number");
        let shape = FloatShape { width: FloatWidth::Single, order: Order::Big, places };
        let number = shape.read(&nearest.to_be_bytes(), OHM).expect("four bytes").expect("kept");
        prop_assert_eq!(number.shown, Shown::Value(shown));
    }

    /// Against the standard library's exact printing (ties aside, which it rounds to even).
    #[test]
    fn doubles_round_as_exact_decimals(
        // Biased exponents of numbers below 2^20; those from about 10^-13 on are not all zeros to twelve places.
        exponent in prop_oneof![1 => 0u64..980, 9 => 980u64..=1042],
        fraction in 0u64..1 << 52,
        negative in any::<bool>(),
        places in 0u8..=MAX_PLACES,
    ) {
        let bits = (u64::from(negative) << 63) | (exponent << 52) | fraction;
        let value = f64::from_bits(bits);
        let shape = FloatShape { width: FloatWidth::Double, order: Order::Little, places };
        let number = shape.read(&bits.to_le_bytes(), OHM).expect("eight bytes").expect("kept");
        let printed = format!("{value:.width$}", width = usize::from(places));
        let expected = Quantity::parse(&printed, OHM).expect("a number");
        let Shown::Value(got) = number.shown else { panic!("finite") };
        let tie = value.abs() * 2.0 == (value.abs() * 2.0).trunc() && places == 0;
        prop_assert!(got == expected || tie, "{} against {}", got, printed);
    }
}
