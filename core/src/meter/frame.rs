//! Where a frame begins and ends in what a meter sends.
//!
//! A Bluetooth stack may drop notifications silently when it is busy. A frame that is spread over
//! several of them can therefore be glued from halves of two, and its number would be wrong without
//! looking wrong. That is why a profile whose frames are cut from a stream must have a checksum, or
//! end bytes together with exact lengths (held by the profile's validation).

use super::checksum::Checksum;
use super::fault::FrameError;
use crate::unit::Millis;
use std::ops::Range;

/// Longest frame cut from a stream, in bytes.
pub const MAX_FRAME: usize = 256;

/// How frames are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// Each notification is one frame; start and end bytes, if any, are checked.
    Whole,
    /// So many bytes from the start bytes on.
    Fixed {
        /// All bytes of the frame.
        length: usize,
    },
    /// From the start bytes, if any, to the first end bytes. For texts: what lies between must not
    /// contain the end bytes.
    Marked,
    /// A byte tells the length.
    Counted {
        /// Where that byte is, from the first byte of the frame.
        at: usize,
        /// What is added to it to give the length of the whole frame.
        adds: usize,
    },
}

/// The rule by which frames are cut and checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FrameRule {
    /// How frames are told apart.
    pub cut: Cut,
    /// First bytes of every frame, may be empty.
    pub start: Vec<u8>,
    /// Last bytes of every frame, may be empty.
    pub end: Vec<u8>,
    /// Lengths of whole frames; empty = any.
    pub lengths: Vec<usize>,
    /// Check bytes, if there are any.
    pub checksum: Option<Checksum>,
}

impl FrameRule {
    /// What lies between the start bytes and the check or end bytes.
    pub fn inside(&self, length: usize) -> Range<usize> {
        let check = self.checksum.map_or(0, |c| c.kind.bytes());
        let stop = length.saturating_sub(self.end.len() + check);
        self.start.len().min(stop)..stop
    }

    fn shortest(&self) -> usize {
        (self.start.len() + self.end.len() + self.checksum.map_or(0, |c| c.kind.bytes())).max(1)
    }

    fn can_be(&self, length: usize) -> bool {
        length >= self.shortest() && (self.lengths.is_empty() || self.lengths.contains(&length))
    }

    fn check(&self, frame: &[u8]) -> Result<(), FrameError> {
        if !self.can_be(frame.len()) {
            return Err(FrameError::Length(frame.len()));
        }
        if !frame.starts_with(&self.start) || !frame.ends_with(&self.end) {
            return Err(FrameError::Marker);
        }
        match &self.checksum {
            Some(checksum) => checksum.check(&frame[..frame.len() - self.end.len()]),
            None => Ok(()),
        }
    }
}

/// A frame as it was cut, with the arrival of its last byte; or why there is none.
pub type Cutting = Result<(Vec<u8>, Millis), FrameError>;

/// What the bytes held so far amount to.
enum Found {
    /// More bytes are needed.
    Wait,
    /// These many bytes belong to no frame.
    Skip(usize),
    /// A whole frame of that length.
    Frame(usize),
    /// Not a frame after all: so many bytes are dropped.
    Bad(usize, FrameError),
}

/// Cuts frames from notifications. Holds at most twice [`MAX_FRAME`] bytes: whatever cannot be part of a
/// frame is dropped and counted.
#[derive(Clone, Debug)]
pub struct Splitter {
    rule: FrameRule,
    held: Vec<u8>,
    arrivals: Vec<Millis>,
    /// Without start bytes the first frame begins after the first end bytes: what comes before
    /// may be the tail of a longer text, and "52 ohm" of "+0.352 ohm" must never be a reading.
    in_step: bool,
    skipped: u64,
}

impl Splitter {
    /// A splitter that has seen nothing.
    pub fn new(rule: FrameRule) -> Splitter {
        let in_step = !rule.start.is_empty();
        Splitter { rule, held: Vec::new(), arrivals: Vec::new(), in_step, skipped: 0 }
    }

    /// The rule it cuts by.
    pub fn rule(&self) -> &FrameRule {
        &self.rule
    }

    /// Bytes that were part of no whole frame so far. Bytes still waited with are not among them.
    pub fn skipped(&self) -> u64 {
        self.skipped
    }

    /// Takes one notification and gives the frames that are complete now, in order.
    pub fn push(&mut self, bytes: &[u8], at: Millis) -> Vec<Cutting> {
        if self.rule.cut == Cut::Whole {
            let cut = self.rule.check(bytes);
            if cut.is_err() {
                self.skip(bytes.len());
            }
            return vec![cut.map(|()| (bytes.to_vec(), at))];
        }
        let mut frames = Vec::new();
        for piece in bytes.chunks(MAX_FRAME) {
            self.held.extend_from_slice(piece);
            self.arrivals.resize(self.held.len(), at);
            self.cut_held(&mut frames);
        }
        frames
    }

    fn skip(&mut self, count: usize) {
        self.skipped = self.skipped.saturating_add(u64::try_from(count).unwrap_or(u64::MAX));
    }

    fn cut_held(&mut self, frames: &mut Vec<Cutting>) {
        let mut from = 0;
        while from < self.held.len() {
            let gone = match self.look(from) {
                Found::Wait => break,
                Found::Skip(count) => {
                    self.skip(count);
                    count
                }
                Found::Bad(count, error) => {
                    self.skip(count);
                    frames.push(Err(error));
                    count
                }
                Found::Frame(length) => {
                    let last = self.arrivals[from + length - 1];
                    frames.push(Ok((self.held[from..from + length].to_vec(), last)));
                    length
                }
            };
            from += gone;
        }
        self.held.drain(..from);
        self.arrivals.drain(..from);
    }

    /// Decides by the bytes alone, never by how they were parcelled: the same stream gives the same frames.
    fn look(&mut self, from: usize) -> Found {
        let seen = &self.held[from..];
        let start = &self.rule.start;
        if !seen.starts_with(start) {
            return if start.starts_with(seen) { Found::Wait } else { Found::Skip(1) };
        }
        let length = match self.rule.cut {
            Cut::Whole => seen.len(),
            Cut::Fixed { length } => length,
            Cut::Marked => match first_end(seen, start.len(), &self.rule.end) {
                Some(length) => length,
                None if seen.len() < MAX_FRAME => return Found::Wait,
                None => {
                    self.in_step = !start.is_empty();
                    return Found::Skip(1);
                }
            },
            Cut::Counted { at, adds } => match seen.get(at) {
                Some(count) => usize::from(*count) + adds,
                None => return Found::Wait,
            },
        };
        // A length byte is judged before its frame is waited for: a false start holds nothing back.
        if matches!(self.rule.cut, Cut::Counted { .. }) && (length > MAX_FRAME || !self.rule.can_be(length)) {
            return Found::Bad(1, FrameError::Length(length));
        }
        if seen.len() < length {
            return Found::Wait;
        }
        if !self.in_step {
            self.in_step = true;
            return Found::Skip(length);
        }
        match self.rule.check(&seen[..length]) {
            Ok(()) => Found::Frame(length),
            // The start bytes may have been a number's, and the true ones lie further on. Where
            // there are none, the text up to its end is gone: its tail is no frame.
            Err(error) => Found::Bad(if start.is_empty() { length } else { 1 }, error),
        }
    }
}

/// Length up to and with the first end bytes at or after `from`, within [`MAX_FRAME`].
fn first_end(seen: &[u8], from: usize, end: &[u8]) -> Option<usize> {
    if end.is_empty() {
        return None;
    }
    let within = &seen[from.min(seen.len())..seen.len().min(MAX_FRAME)];
    within.windows(end.len()).position(|window| window == end).map(|at| from + at + end.len())
}
