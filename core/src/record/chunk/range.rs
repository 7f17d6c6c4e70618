//! A binary range coder: each bit costs what it tells, by how often it was seen.
//!
//! The same walk over the samples writes and reads: [`End::bit`] is given a bit and gives it back, or gives the one that
//! was written. So the two cannot part.

/// One place where a bit is coded, and what was seen there.
#[derive(Clone, Copy)]
pub(super) struct Seen {
    /// Share of ones, of 65 536.
    ones: u16,
    times: u16,
}

/// From here on old bits weigh as much as new ones.
const MOST_TIMES: u16 = 60;
/// No bit is ever thought to be certain.
const LEAST: u16 = 32;

impl Default for Seen {
    fn default() -> Seen {
        Seen { ones: 0x8000, times: 0 }
    }
}

impl Seen {
    /// As Krichevsky and Trofimov estimate: half a bit of each was seen before the first.
    fn learn(&mut self, one: bool) {
        let (goal, weight) = (if one { i32::from(u16::MAX) } else { 0 }, i32::from(self.times) + 2);
        let ones = i32::from(self.ones) + (goal - i32::from(self.ones)) / weight;
        self.ones = u16::try_from(ones).unwrap_or(u16::MAX).clamp(LEAST, u16::MAX - LEAST);
        self.times = (self.times + 1).min(MOST_TIMES);
    }
}

/// One end of a payload.
pub(super) trait End {
    /// Codes `one`; what is coded is given back.
    fn bit(&mut self, seen: &mut Seen, one: bool) -> bool;
}

/// Below this the range is widened by a byte.
const NARROW: u32 = 1 << 24;

fn part(range: u32, seen: Seen) -> u32 {
    (range >> 16) * u32::from(seen.ones)
}

/// The end that writes.
pub(super) struct Writer {
    low: u64,
    range: u32,
    /// The newest byte, which may still grow by one, and how many of 255 follow it.
    held: Option<u8>,
    full: usize,
    out: Vec<u8>,
}

impl Writer {
    /// Writes on after `out`.
    pub(super) fn after(out: Vec<u8>) -> Writer {
        Writer { low: 0, range: u32::MAX, held: None, full: 0, out }
    }

    fn shift(&mut self) {
        let carried = self.low > u64::from(u32::MAX);
        if carried || self.low < 0xff00_0000 {
            if let Some(held) = self.held {
                self.out.push(held.wrapping_add(u8::from(carried)));
            }
            let fill = if carried { 0 } else { 0xff };
            self.out.extend(std::iter::repeat_n(fill, self.full));
            self.full = 0;
            self.held = Some((self.low >> 24) as u8);
        } else {
            self.full += 1;
        }
        self.low = (self.low & 0x00ff_ffff) << 8;
    }

    /// Everything that was written.
    pub(super) fn finish(mut self) -> Vec<u8> {
        // Four bytes tell the place within the range; one more pushes out what is held.
        for _ in 0..5 {
            self.shift();
        }
        self.out
    }
}

impl End for Writer {
    fn bit(&mut self, seen: &mut Seen, one: bool) -> bool {
        let ones = part(self.range, *seen);
        if one {
            self.range = ones;
        } else {
            self.low += u64::from(ones);
            self.range -= ones;
        }
        seen.learn(one);
        while self.range < NARROW {
            self.range <<= 8;
            self.shift();
        }
        one
    }
}

/// The end that reads. Past the end of the bytes it reads zeros, and says so.
pub(super) struct Reader<'a> {
    rest: &'a [u8],
    range: u32,
    code: u32,
    over: bool,
}

impl<'a> Reader<'a> {
    pub(super) fn of(bytes: &'a [u8]) -> Reader<'a> {
        let mut reader = Reader { rest: bytes, range: u32::MAX, code: 0, over: false };
        for _ in 0..4 {
            reader.next();
        }
        reader
    }

    fn next(&mut self) {
        let byte = self.rest.split_first().map(|(byte, rest)| {
            self.rest = rest;
            *byte
        });
        self.over |= byte.is_none();
        self.code = self.code << 8 | u32::from(byte.unwrap_or(0));
    }

    /// Exactly what there is was read.
    pub(super) fn is_at_its_end(&self) -> bool {
        self.rest.is_empty() && !self.over
    }
}

impl End for Reader<'_> {
    fn bit(&mut self, seen: &mut Seen, _: bool) -> bool {
        let ones = part(self.range, *seen);
        let one = self.code < ones;
        if one {
            self.range = ones;
        } else {
            self.code -= ones;
            self.range -= ones;
        }
        seen.learn(one);
        while self.range < NARROW {
            self.range <<= 8;
            self.next();
        }
        one
    }
}
