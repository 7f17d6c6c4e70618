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
        chunk.payload = payload;
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
