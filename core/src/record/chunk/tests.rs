use super::*;
use crate::unit::{Quantity, Unit};
use proptest::prelude::*;

fn any_shown() -> impl Strategy<Value = Shown> {
    let unit = prop_oneof![Just(Unit::Ohm), Just(Unit::Volt), Just(Unit::Celsius)];
    prop_oneof![
        Just(Shown::OverRange),
        Just(Shown::Blank),
        (any::<i64>(), 0u8..=12, unit).prop_map(|(d, p, u)| Shown::Value(Quantity::new(d, p, u).unwrap())),
    ]
}

fn any_sample() -> impl Strategy<Value = Sample> {
    (any::<u64>(), prop::collection::vec(any::<u8>(), 0..40), prop::collection::vec(any_shown(), 0..3))
        .prop_map(|(at, raw, shown)| Sample { at: Millis(at), raw, shown })
}

fn gathered(samples: &[Sample]) -> Chunk {
    let mut gathering = Gathering::new(Uuid::nil(), None, Uuid::nil(), 1);
    samples.iter().for_each(|s| gathering.push(s.clone()));
    gathering.chunk(Millis(9), true)
}

proptest! {
    #[test]
    fn every_sample_comes_back_as_it_went_in(samples in prop::collection::vec(any_sample(), 0..60)) {
        prop_assert_eq!(gathered(&samples).samples().unwrap(), samples);
    }

    #[test]
    fn any_bytes_as_payload_are_read_or_refused_and_never_panic(payload in prop::collection::vec(any::<u8>(), 0..400)) {
        let mut chunk = gathered(&[]);
        chunk.payload = miniz_oxide::deflate::compress_to_vec(&payload, 1);
        let _ = chunk.samples();
        chunk.payload = payload.clone();
        let _ = chunk.samples();
        chunk.payload = [vec![gathered(&[]).payload[0]], payload].concat();
        let _ = chunk.samples();
    }

    #[test]
    fn a_cut_payload_is_damaged(samples in prop::collection::vec(any_sample(), 1..20), cut in 1usize..400) {
        let mut chunk = gathered(&samples);
        let left = chunk.payload.len().saturating_sub(cut);
        chunk.payload.truncate(left);
        prop_assert_eq!(chunk.samples(), Err(CodingError::Damaged));
    }
}

#[test]
fn an_unknown_codec_is_named() {
    let mut chunk = gathered(&[]);
    chunk.codec = 7;
    assert_eq!(chunk.samples(), Err(CodingError::Codec(7)));
}

#[test]
fn columns_tell_smallest_largest_first_and_last() {
    let ohm = |d, p| Shown::Value(Quantity::new(d, p, Unit::Ohm).unwrap());
    let sample = |at, shown| Sample { at: Millis(at), raw: vec![1], shown: vec![shown] };
    let chunk = gathered(&[
        sample(10, ohm(352, 3)),
        sample(20, Shown::OverRange),
        sample(30, ohm(36, 2)),
        sample(40, ohm(349, 3)),
        sample(50, ohm(351, 3)),
    ]);
    assert_eq!((chunk.min, chunk.max, chunk.first, chunk.last), (Some(349), Some(360), Some(352), Some(351)));
    assert_eq!((chunk.count, chunk.first_at, chunk.last_at, chunk.places), (5, Millis(10), Millis(50), 3));
}

#[test]
fn an_open_chunk_is_due_a_second_after_the_last_writing_and_only_if_something_came() {
    let mut gathering = Gathering::new(Uuid::nil(), None, Uuid::nil(), 1);
    assert_eq!(gathering.due_at(), None);
    gathering.push(Sample { at: Millis(100), raw: vec![], shown: vec![] });
    assert!(!gathering.is_due(Millis(1_099)));
    assert!(gathering.is_due(Millis(1_100)));
    gathering.chunk(Millis(1_100), false);
    assert!(!gathering.is_due(Millis(9_000)));
}

/// What coding 1 made of them.
const FIRST: &str = "25c8b10d80201040d1fb772209581bb7d35164131b4b1b0b6a1dc26d8868c22b5fbfbde129c1df1c29e6140151\
                     5315ac53355306b91cfb94c7b3d406cc10a7b056bfccd5c3bf1f";
/// And coding 2.
const SECOND: &str = "56fb7e80328d6a56bc73003a9916efdbaf41db27d276d03fe024e955972c3a98705e3d30000000000208ef1e8\
                      1bedaf0e7cf83ee0d13186302cf32c2eb1ad937d400";

fn frozen() -> Vec<Sample> {
    let ohm = |d, p| Shown::Value(Quantity::new(d, p, Unit::Ohm).unwrap());
    let volt = Shown::Value(Quantity::new(-1204, 2, Unit::Volt).unwrap());
    let warm = Shown::Value(Quantity::new(231, 1, Unit::Celsius).unwrap());
    let sample = |at, raw: &[u8], shown: &[Shown]| Sample { at: Millis(at), raw: raw.to_vec(), shown: shown.to_vec() };
    vec![
        sample(90_000, &[0x01, 0x60, 0x01], &[ohm(352, 3)]),
        sample(90_101, &[0x01, 0x5f, 0x01], &[ohm(351, 3)]),
        sample(90_198, &[0x80], &[Shown::OverRange]),
        sample(90_198, &[], &[]),
        sample(u64::MAX, &[0xff; 5], &[Shown::Blank, volt]),
        sample(3, &[7, 7], &[warm, ohm(i64::MIN, 12), ohm(i64::MAX, 0)]),
    ]
}

fn unhex(text: &str) -> Vec<u8> {
    text.as_bytes().chunks(2).map(|two| u8::from_str_radix(std::str::from_utf8(two).unwrap(), 16).unwrap()).collect()
}

#[test]
fn what_was_written_once_is_read_for_good() {
    assert_eq!(samples_of(&unhex(FIRST)), Ok(frozen()));
    let hex: String = gathered(&frozen()).payload.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(hex, SECOND);
    assert_eq!(samples_of(&unhex(SECOND)), Ok(frozen()));
    let old = Chunk { codec: 1, payload: unhex(FIRST), ..gathered(&[]) };
    assert_eq!(old.samples(), Ok(frozen()));
}

/// The floor is the entropy of what was drawn: three values, 1.5 bits each.
#[test]
fn a_column_costs_little_more_than_it_tells() {
    let mut random = 1u64;
    let mut draw = || {
        random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        [352, 352, 351, 353][(random >> 62) as usize]
    };
    let samples: Vec<Sample> = (0..MOST as u64)
        .map(|at| {
            let digits = draw();
            let shown = vec![Shown::Value(Quantity::new(digits, 3, Unit::Ohm).unwrap())];
            Sample { at: Millis(at * 100), raw: format!("R {digits} ohm").into_bytes(), shown }
        })
        .collect();
    let payload = gathered(&samples).payload;
    assert_eq!(samples_of(&payload), Ok(samples));
    let floor = MOST as f64 * 1.5 / 8.0;
    assert!((floor..floor * 2.0).contains(&(payload.len() as f64)), "{} bytes, at least {floor}", payload.len());
}
