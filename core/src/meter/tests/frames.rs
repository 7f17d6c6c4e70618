//! Cutting frames from what a meter sends.

use super::{built_in, counted_float, only, seen, seen_all, status_integer, text_line};
use crate::meter::checksum::ChecksumKind;
use crate::meter::frame::{MAX_FRAME, Splitter};
use crate::meter::{Decoder, Flags, FrameError, Profile, Setting, Shown};
use crate::unit::{Millis, Quantity, Unit};
use proptest::prelude::*;

const FRAMED: [&str; 3] = ["text-line.toml", "status-integer.toml", "counted-float.toml"];

fn decoder(name: &str) -> Decoder {
    Decoder::for_profile(&built_in(name))
}

/// A frame of each framed built-in meter that shows `digits` thousandths.
fn frame(name: &str, digits: i32) -> Vec<u8> {
    match name {
        "text-line.toml" => {
            let shown = Quantity::new(i64::from(digits), 3, Unit::Ohm).expect("three places");
            text_line(&format!("{shown} ohm"))
        }
        "status-integer.toml" => status_integer(0x02, 3, 0x10, digits),
        _ => {
            let shown = Quantity::new(i64::from(digits), 3, Unit::Ohm).expect("three places");
            counted_float(0, shown.to_string().parse::<f32>().expect("a number").to_bits())
        }
    }
}

/// Check values of the text "123456789" in the public catalogues of checksums, from memory; sum and
/// exclusive or by hand.
#[test]
fn checksums_have_their_known_check_values() {
    let known = [0xDD, 0x31, 0xF4, 0xA1, 0x4B37, 0x29B1, 0x31C3, 0x2189];
    for ((word, kind), value) in ChecksumKind::WORDS.into_iter().zip(known) {
        assert_eq!(kind.of(b"123456789"), value, "{word}");
    }
}

#[test]
fn the_text_line_meter() {
    let mut meter = decoder("text-line.toml");
    let reading = only(&mut meter, &text_line("+0.352 ohm")).expect("a reading");
    assert_eq!((seen(reading.shown).as_str(), reading.step), ("0.352", Quantity::new(1, 3, Unit::Ohm)));
    let mut stream = text_line("OL ohm");
    stream.extend(text_line("----"));
    stream.extend(text_line("12.61 V"));
    stream.extend(text_line("601.3 ohm"));
    let got = seen_all(&meter.push(&stream, Millis(9)));
    assert_eq!(got, ["over-range", "blank", "the meter is set to volts", "over-range"]);
    assert_eq!(meter.skipped(), 0);
}

#[test]
fn the_status_and_integer_meter() {
    let mut meter = decoder("status-integer.toml");
    let reading = only(&mut meter, &status_integer(0x02, 3, 0b0_0110, 352)).expect("a reading");
    assert_eq!(seen(reading.shown), "0.352");
    assert_eq!(reading.flags, Flags { hold: true, relative: true, low_battery: false, auto_range: Some(true) });
    let shows = |meter: &mut Decoder, frame: &[u8]| only(meter, frame).map(|r| seen(r.shown));
    assert_eq!(shows(&mut meter, &status_integer(0x03, 2, 0x10, 125)), Ok("1250".to_owned()), "kilo-ohm");
    assert_eq!(shows(&mut meter, &status_integer(0xF2, 1, 0x10, -4)), Ok("-0.4".to_owned()), "upper bits do not count");
    assert_eq!(shows(&mut meter, &status_integer(0x02, 1, 0x11, 352)), Ok("over-range".to_owned()), "its bit");
    assert_eq!(shows(&mut meter, &status_integer(0x02, 1, 0x10, 0x7F_FFFF)), Ok("over-range".to_owned()), "its number");
    assert_eq!(shows(&mut meter, &status_integer(0x03, 0, 0x10, 20_001)), Ok("over-range".to_owned()), "above the top");
    let volts = only(&mut meter, &status_integer(0x01, 3, 0x11, 352));
    assert_eq!(volts, Err(FrameError::WrongUnit { seen: Setting::Volt }), "overload in volts is not one in ohms");
    let strange = only(&mut meter, &status_integer(0x0E, 3, 0x10, 352));
    assert_eq!(strange, Err(FrameError::UnknownUnit { text: "0x0E".to_owned() }));
}

#[test]
fn the_counted_float_meter() {
    let mut meter = decoder("counted-float.toml");
    let reading = only(&mut meter, &counted_float(0b11, 0.352f32.to_bits())).expect("a reading");
    assert_eq!((seen(reading.shown).as_str(), reading.step), ("0.352", Quantity::new(1, 3, Unit::Ohm)));
    assert!(reading.flags.hold && reading.flags.low_battery);
    assert_eq!(only(&mut meter, &counted_float(0, f32::INFINITY.to_bits())).map(|r| r.shown), Ok(Shown::OverRange));
    assert_eq!(only(&mut meter, &counted_float(0, f32::NAN.to_bits())).map(|r| r.shown), Ok(Shown::Blank));
    let warm = only(&mut meter, &counted_float(0x20, 22.4f32.to_bits()));
    assert_eq!(warm, Err(FrameError::WrongUnit { seen: Setting::Celsius }));
}

#[test]
fn the_named_medfloat_meter_puts_back_its_last_zeros() {
    let mut meter = decoder("named-medfloat.toml");
    let reading = only(&mut meter, &[0x02, 0x00]).expect("2 without places");
    assert_eq!((seen(reading.shown).as_str(), reading.step), ("2.00", Quantity::new(1, 2, Unit::Ohm)));
    let finer = only(&mut meter, &[0x3D, 0xD7]).expect("1.853");
    assert_eq!(seen(finer.shown), "1.853", "digits the meter sent are never cut");
}

#[test]
fn an_auto_ranging_text_never_claims_a_finer_step_than_it_shows() {
    let mut profile = built_in("text-line.toml");
    profile.value.step = Quantity::new(1, 3, Unit::Ohm);
    let mut meter = Decoder::for_profile(&profile);
    assert_eq!(only(&mut meter, &text_line("12.3 ohm")).expect("a reading").step, Quantity::new(1, 1, Unit::Ohm));
    profile.value.step = Quantity::new(5, 1, Unit::Ohm);
    let mut meter = Decoder::for_profile(&profile);
    assert_eq!(only(&mut meter, &text_line("12.3 ohm")).expect("a reading").step, Quantity::new(5, 1, Unit::Ohm));
}

#[test]
fn a_wrong_check_byte_gives_no_reading_and_the_next_frame_does() {
    let mut meter = decoder("status-integer.toml");
    let mut stream = status_integer(0x02, 3, 0x10, 352);
    stream[7] ^= 1;
    stream.extend(status_integer(0x02, 3, 0x10, 353));
    let got = meter.push(&stream, Millis(0));
    assert!(matches!(got[0], Err(FrameError::Checksum { .. })));
    assert_eq!(seen_all(&got)[1..], ["0.353"]);
    assert_eq!(meter.skipped(), 10);
}

/// Bluetooth stacks drop notifications: halves of two lines must not become one number.
#[test]
fn a_line_glued_from_halves_of_two_is_refused() {
    let mut meter = decoder("text-line.toml");
    let (first, second) = (text_line("+0.352 ohm"), text_line("+9.871 ohm"));
    assert_eq!(meter.push(&first[..4], Millis(0)), []);
    let got = meter.push(&second[..], Millis(250));
    assert!(!got.iter().flatten().any(|r| seen(r.shown) != "9.871"), "{got:?}");
    assert_eq!(got.iter().flatten().count(), 1, "the whole line is read");
}

/// The tail of a line that began before we listened must not be a reading.
#[test]
fn without_start_bytes_the_first_line_is_not_believed() {
    let text = r#"
format = 1
name = "Bare lines"
match = { name_contains = "bare" }
frame = { cut = "marked", end = [10], lengths = [11, 7] }
value = { coding = "ascii" }
"#;
    let profile = Profile::parse(text).expect("valid");
    let mut meter = Decoder::for_profile(&profile);
    assert_eq!(meter.push(b"52 ohm\n", Millis(0)), []);
    assert_eq!(seen_all(&meter.push(b"+0.352 ohm\n", Millis(0))), ["0.352"]);
    assert_eq!(meter.skipped(), 7);
    // Longer than any frame without an end: out of step again.
    meter.push(&[b'7'; 300], Millis(0));
    assert_eq!(seen_all(&meter.push(b"52 ohm\n+0.353 ohm\n", Millis(0))), ["0.353"]);
}

#[test]
fn a_reading_has_the_time_of_its_own_last_byte() {
    // Without exact lengths a false start that asks for 202 bytes holds the true frame back.
    let mut profile = built_in("counted-float.toml");
    profile.frame.lengths.clear();
    let mut meter = Decoder::for_profile(&profile);
    let mut stream = vec![0xAA, 200];
    stream.extend(counted_float(0, 1.5f32.to_bits()));
    assert_eq!(meter.push(&stream, Millis(100)), []);
    let later = meter.push(&[0; 256], Millis(9000));
    let readings: Vec<_> = later.iter().flatten().map(|r| (seen(r.shown), r.at)).collect();
    assert_eq!(readings, [("1.500".to_owned(), Millis(100))], "it did not arrive after the conductor was announced");
}

#[test]
fn a_false_start_with_an_impossible_length_holds_nothing_back() {
    let mut meter = decoder("counted-float.toml");
    let mut stream = vec![0xAA, 200];
    stream.extend(counted_float(0, 1.5f32.to_bits()));
    assert_eq!(seen_all(&meter.push(&stream, Millis(0))), ["a frame of 202 bytes does not fit", "1.500"]);
}

#[test]
fn what_is_held_is_bounded() {
    for name in FRAMED {
        let profile = built_in(name);
        let mut splitter = Splitter::new(profile.frame.clone());
        let mut stream = profile.frame.start.clone();
        stream.resize(100_000, 0x41);
        let frames = splitter.push(&stream, Millis(0));
        let used: usize = frames.iter().flatten().map(|(frame, _)| frame.len()).sum();
        let held = stream.len() - used - usize::try_from(splitter.skipped()).expect("small");
        assert!(held <= 2 * MAX_FRAME, "{name} holds {held}");
    }
}

fn parcelled(meter: &mut Decoder, stream: &[u8], cuts: &[usize]) -> Vec<Result<(Shown, Flags), FrameError>> {
    let mut results = Vec::new();
    let mut rest = stream;
    for cut in cuts.iter().chain(&[usize::MAX]) {
        let (head, tail) = rest.split_at((*cut).min(rest.len()));
        results.extend(meter.push(head, Millis(0)));
        rest = tail;
    }
    results.into_iter().map(|result| result.map(|r| (r.shown, r.flags))).collect()
}

/// Bytes that are often a start, an end or a length.
fn likely_bytes(most: usize) -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        3 => any::<u8>(),
        1 => prop::sample::select(vec![0x23u8, 0x0D, 0x0A, 0xA5, 0x5A, 0xAA, 6, 2, b'+', b'0', b'.', b'o']),
    ];
    proptest::collection::vec(byte, 0..most)
}

proptest! {
    #[test]
    fn any_bytes_in_any_parcels_are_taken(
        which in 0usize..4,
        parcels in proptest::collection::vec(likely_bytes(600), 0..8),
    ) {
        let (name, _) = crate::meter::profile::BUILT_IN[which];
        let mut meter = decoder(name);
        for parcel in parcels {
            meter.push(&parcel, Millis(0));
        }
    }

    #[test]
    fn any_descriptor_and_any_value_is_taken(
        descriptor in proptest::collection::vec(any::<u8>(), 0..9),
        format in prop::sample::select(vec![0x04u8, 0x0E, 0x0F, 0x10, 0x14, 0x15, 0x16, 0x17]),
        exponent in any::<u8>(),
        range in proptest::collection::vec(any::<u8>(), 0..17),
        value in proptest::collection::vec(any::<u8>(), 0..9),
        places in proptest::option::of(any::<u8>()),
    ) {
        for descriptor in [descriptor, vec![format, exponent, 0x2A, 0x27, 1, 0, 0]] {
            let mut channel = super::channel(&descriptor);
            channel.valid_range = Some(range.clone());
            if let Ok(mut meter) = Decoder::for_presentation(&channel, places) {
                meter.push(&value, Millis(0));
            }
        }
    }

    /// The same stream in other parcels gives the same readings, errors and count of skipped bytes.
    #[test]
    fn parcels_do_not_matter(
        which in 0usize..3,
        numbers in proptest::collection::vec((0i32..60_000, likely_bytes(6)), 1..6),
        noise in likely_bytes(700),
        cuts in proptest::collection::vec(1usize..40, 0..60),
    ) {
        let name = FRAMED[which];
        let mut stream = noise;
        for (digits, between) in numbers {
            stream.extend(between);
            stream.extend(frame(name, digits));
        }
        let (mut whole, mut parts, mut bytes) = (decoder(name), decoder(name), decoder(name));
        let at_once = parcelled(&mut whole, &stream, &[]);
        prop_assert_eq!(&at_once, &parcelled(&mut parts, &stream, &cuts));
        prop_assert_eq!(&at_once, &parcelled(&mut bytes, &stream, &vec![1; stream.len()]));
        prop_assert_eq!(whole.skipped(), parts.skipped());
        prop_assert_eq!(whole.skipped(), bytes.skipped());
    }

    /// A whole frame after any garbage is found at once. The only excuse is garbage that is a frame itself,
    /// check bytes and all, by accident (one in 256 of those with a start and a length).
    #[test]
    fn garbage_before_a_frame_does_not_lose_it(
        which in 0usize..3,
        garbage in likely_bytes(300),
        digits in 0i32..60_000,
    ) {
        let name = FRAMED[which];
        let truth = frame(name, digits);
        let stream = [garbage, truth.clone()].concat();
        let profile = built_in(name);
        let cut = Splitter::new(profile.frame.clone()).push(&stream, Millis(0));
        let accidents: Vec<_> = cut.iter().flatten().filter(|(bytes, _)| *bytes != truth).collect();
        if let Some(checksum) = profile.frame.checksum {
            prop_assert!(accidents.iter().all(|(bytes, _)| checksum.check(bytes).is_ok()));
            prop_assume!(accidents.is_empty());
        }
        let last = decoder(name).push(&stream, Millis(0)).pop().expect("the frame at the end").expect("a reading");
        let expected = Quantity::new(i64::from(digits), 3, Unit::Ohm).expect("three places");
        prop_assert_eq!(last.shown, Shown::Value(expected));
    }

    #[test]
    fn numbers_come_back(which in 0usize..3, digits in -99_999i32..=99_999) {
        let name = FRAMED[which];
        let expected = Quantity::new(i64::from(digits), 3, Unit::Ohm).expect("three places");
        let reading = only(&mut decoder(name), &frame(name, digits)).expect("a reading");
        prop_assert_eq!(reading.shown, Shown::Value(expected));
        prop_assert_eq!(reading.step, Some(expected.last_place()));
    }
}
