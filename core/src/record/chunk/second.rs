//! Coding 2: each column told by how it differs from what could be expected, and coded by a range coder.
//!
//! Times: by how an interval differs from the period. Digits: by how they differ from those before, or from their
//! middle, whichever is shorter. Raw bytes: by how they differ from those that came with the same readings before; where
//! a meter says the same in the same way they cost next to nothing.

use super::coding::{CodingError, MOST_READINGS, sign_of, unit_of};
use super::range::{End, Reader, Seen, Writer};
use super::{MOST, MOST_RAW, Sample};
use crate::meter::Shown;
use crate::unit::{Millis, Quantity};

/// Bits below the highest one of a number that are learned; those below them are taken as they come.
const LEARNED: u32 = 6;
/// Places of raw bytes that are learned each by itself; those behind share one.
const PLACES: usize = 64;

/// How a payload is told: whether times and digits are compared with those before them.
#[derive(Clone, Copy)]
struct Ways {
    intervals_before: bool,
    digits_before: bool,
}

pub(super) fn encode(samples: &[Sample], begun: Vec<u8>) -> Vec<u8> {
    let ways = [(false, false), (false, true), (true, false), (true, true)];
    let ways = ways.map(|(intervals_before, digits_before)| Ways { intervals_before, digits_before });
    let bare: Vec<Sample> = samples.iter().map(|sample| Sample { raw: Vec::new(), ..sample.clone() }).collect();
    let shortest = ways.into_iter().min_by_key(|ways| told(&bare, *ways, Vec::new()).len());
    told(samples, shortest.unwrap_or(ways[0]), begun)
}

fn told(samples: &[Sample], ways: Ways, begun: Vec<u8>) -> Vec<u8> {
    let mut writer = Writer::after(begun);
    let mut samples = samples.to_vec();
    let walked = Walk::new(&mut writer).samples(&mut samples, ways);
    debug_assert!(walked.is_some(), "only what is read can be damaged");
    writer.finish()
}

pub(super) fn decode(bytes: &[u8]) -> Result<Vec<Sample>, CodingError> {
    let mut reader = Reader::of(bytes);
    let mut samples = Vec::new();
    let ways = Ways { intervals_before: false, digits_before: false };
    let walked = Walk::new(&mut reader).samples(&mut samples, ways);
    if walked.is_some() && reader.is_at_its_end() { Ok(samples) } else { Err(CodingError::Damaged) }
}

/// A whole number of either sign. That it is zero is told first: most columns hardly ever are anything else.
struct Number {
    zero: Seen,
    /// How many bits it has: a tree of choices.
    length: [Seen; 128],
    below: Vec<[Seen; 1 << LEARNED]>,
}

impl Number {
    fn new() -> Number {
        Number {
            zero: Seen::default(),
            length: [Seen::default(); 128],
            below: vec![[Seen::default(); 1 << LEARNED]; 65],
        }
    }

    /// `None`: it was read, and is none.
    fn code(&mut self, end: &mut impl End, value: i64) -> Option<i64> {
        if end.bit(&mut self.zero, value == 0) {
            return Some(0);
        }
        // Small ones of either sign become small.
        let folded = ((value << 1) ^ (value >> 63)) as u64;
        let length = tree(end, &mut self.length, (7, u64::from(64 - folded.leading_zeros())));
        let below = self.below.get_mut(usize::try_from(length).ok()?)?;
        let length = u32::try_from(length).ok()?;
        let mut found = u64::from(length > 0);
        let mut node: usize = 1;
        for place in (0..length.saturating_sub(1)).rev() {
            let one = folded >> place & 1 == 1;
            let mut even = Seen::default();
            let is_learned = node < 1 << LEARNED;
            let one = end.bit(if is_learned { &mut below[node] } else { &mut even }, one);
            node = if is_learned { node << 1 | usize::from(one) } else { node };
            found = found << 1 | u64::from(one);
        }
        Some((found >> 1) as i64 ^ -((found & 1) as i64))
    }
}

/// `value` of so many bits, its highest first, each learned by those above it.
fn tree(end: &mut impl End, seen: &mut [Seen], (bits, value): (u32, u64)) -> u64 {
    let mut node: usize = 1;
    for place in (0..bits).rev() {
        let one = end.bit(&mut seen[node], value >> place & 1 == 1);
        node = node << 1 | usize::from(one);
    }
    node as u64 - (1 << bits)
}

struct Walk<'e, E> {
    end: &'e mut E,
    header: Number,
}

impl<'e, E: End> Walk<'e, E> {
    fn new(end: &'e mut E) -> Walk<'e, E> {
        Walk { end, header: Number::new() }
    }

    fn count(&mut self, of: &mut Number, (value, most): (usize, usize)) -> Option<usize> {
        let found = of.code(self.end, i64::try_from(value).ok()?)?;
        usize::try_from(found).ok().filter(|found| *found <= most)
    }

    fn flag(&mut self, is: bool) -> bool {
        self.end.bit(&mut Seen::default(), is)
    }

    /// All of them; where they are read, `samples` is empty before. `None`: what was read is damaged.
    fn samples(&mut self, samples: &mut Vec<Sample>, ways: Ways) -> Option<()> {
        let count = self.header.code(self.end, i64::try_from(samples.len()).ok()?)?;
        let count = usize::try_from(count).ok().filter(|count| *count <= MOST)?;
        samples.resize_with(count, || Sample { at: Millis(0), raw: Vec::new(), shown: Vec::new() });
        self.times(samples, ways)?;
        self.readings(samples, ways)?;
        self.raw(samples)
    }

    fn times(&mut self, samples: &mut [Sample], ways: Ways) -> Option<()> {
        let is_before = self.flag(ways.intervals_before);
        let intervals = samples.windows(2).map(|two| (two[1].at.0 as i64).wrapping_sub(two[0].at.0 as i64));
        let period = self.header.code(self.end, middle(intervals))?;
        let (mut at, mut interval, mut number) = (0i64, period, Number::new());
        for (place, sample) in samples.iter_mut().enumerate() {
            let own = (sample.at.0 as i64).wrapping_sub(at);
            // The first time is none of an interval.
            let found = if place == 0 {
                self.header.code(self.end, own)?
            } else {
                let expected = if is_before { interval } else { period };
                interval = number.code(self.end, own.wrapping_sub(expected))?.wrapping_add(expected);
                interval
            };
            at = at.wrapping_add(found);
            sample.at = Millis(at as u64);
        }
        Some(())
    }

    fn readings(&mut self, samples: &mut [Sample], ways: Ways) -> Option<()> {
        let (mut counts, mut all) = (Number::new(), 0);
        for sample in samples.iter_mut() {
            let count = self.count(&mut counts, (sample.shown.len(), MOST_READINGS))?;
            all += count;
            if all > MOST_READINGS {
                return None;
            }
            sample.shown.resize(count, Shown::Blank);
        }
        let is_before = self.flag(ways.digits_before);
        let values = samples.iter().flat_map(|sample| &sample.shown).filter_map(|shown| match shown {
            Shown::Value(quantity) => Some(quantity.digits()),
            Shown::OverRange | Shown::Blank => None,
        });
        let center = self.header.code(self.end, middle(values))?;
        let mut column = Readings::beginning(center);
        for shown in samples.iter_mut().flat_map(|sample| &mut sample.shown) {
            *shown = column.code(self.end, *shown, (!is_before).then_some(center))?;
        }
        Some(())
    }

    fn raw(&mut self, samples: &mut [Sample]) -> Option<()> {
        let mut lengths = Number::new();
        for sample in samples.iter_mut() {
            let length = self.count(&mut lengths, (sample.raw.len(), MOST_RAW))?;
            sample.raw.resize(length, 0);
        }
        let like = alike(samples);
        let mut bytes: Vec<(Seen, [Seen; 256])> = vec![(Seen::default(), [Seen::default(); 256]); PLACES + 1];
        let mut as_expected = Seen::default();
        for (place, like) in like.into_iter().enumerate() {
            let (before, from) = samples.split_at_mut(place);
            let own = &mut from[0].raw;
            if let Some(like) = like
                && self.end.bit(&mut as_expected, *own == before[like].raw)
            {
                own.clone_from(&before[like].raw);
                continue;
            }
            let model = before.get(like.unwrap_or(place.wrapping_sub(1)));
            for (at, byte) in own.iter_mut().enumerate() {
                let expected = model.and_then(|model| model.raw.get(at)).copied().unwrap_or(0);
                let (same, seen) = &mut bytes[at.min(PLACES)];
                let is_same = self.end.bit(same, *byte == expected);
                *byte = if is_same { expected } else { tree(self.end, seen, (8, u64::from(*byte))) as u8 };
            }
        }
        Some(())
    }
}

/// For each sample the newest one before it with the same readings and as many bytes.
fn alike(samples: &[Sample]) -> Vec<Option<usize>> {
    let same = |a: &Sample, b: &Sample| a.raw.len() == b.raw.len() && a.shown == b.shown;
    let newest = |place: usize| (0..place).rev().find(|before| same(&samples[*before], &samples[place]));
    (0..samples.len()).map(newest).collect()
}

/// The column of what was read, and what came last.
struct Readings {
    signs: [[Seen; 8]; 8],
    sign: u8,
    places: Number,
    place: u8,
    digits: Number,
    digit: i64,
}

impl Readings {
    fn beginning(center: i64) -> Readings {
        let (places, digits) = (Number::new(), Number::new());
        Readings { signs: [[Seen::default(); 8]; 8], sign: 0, places, place: 0, digits, digit: center }
    }

    /// The next one; digits are compared with `center`, or with those before.
    fn code(&mut self, end: &mut impl End, shown: Shown, center: Option<i64>) -> Option<Shown> {
        let sign = tree(end, &mut self.signs[usize::from(self.sign)], (3, u64::from(sign_of(shown)))) as u8;
        self.sign = sign;
        let Some(unit) = unit_of(sign) else {
            return match sign {
                0 => Some(Shown::OverRange),
                1 => Some(Shown::Blank),
                _ => None,
            };
        };
        let (digits, places) = match shown {
            Shown::Value(quantity) => (quantity.digits(), quantity.places()),
            Shown::OverRange | Shown::Blank => (0, 0),
        };
        let differs = self.places.code(end, i64::from(places) - i64::from(self.place))?;
        self.place = u8::try_from(i64::from(self.place).checked_add(differs)?).ok()?;
        let expected = center.unwrap_or(self.digit);
        self.digit = self.digits.code(end, digits.wrapping_sub(expected))?.wrapping_add(expected);
        Quantity::new(self.digit, self.place, unit).map(Shown::Value)
    }
}

/// The one in the middle when they are put in order; 0 of none.
fn middle(of: impl Iterator<Item = i64>) -> i64 {
    let mut all: Vec<i64> = of.collect();
    all.sort_unstable();
    all.get(all.len() / 2).copied().unwrap_or(0)
}
