//! What a device does next to bring its ledger to the hub. Pure: clock, network and random numbers are arguments.
//!
//! Nothing is remembered here. Whoever performs the steps notes what each came to and asks again, so that a cut at any
//! place costs no more than the step that was under way.

#[cfg(test)]
mod tests;

use super::Tail;
use crate::record::Hash;
use crate::unit::Millis;

/// What is known when the next step is asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Known {
    /// Number of the last entry of the ledger; 0 for none.
    pub end: u64,
    /// It was looked up to here what the entries name.
    pub looked: u64,
    /// The hub's copy ends here, as it said itself since the network was last cut; nothing: it was not asked.
    pub tail: Option<u64>,
    /// Heads of closed jobs up to the tail were signed that the hub was not brought.
    pub heads: bool,
    /// Things that entries up to the tail name, of which nobody knows whether they are there.
    pub unasked: bool,
    /// The next thing that the hub said it lacks and that can be sent.
    pub missing: Option<Hash>,
    /// The office may have something new.
    pub changes: bool,
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Ask where the hub's copy ends.
    AskTail,
    /// Look at what the entries after this one name. Needs no network.
    Look {
        /// Up to here it is known.
        after: u64,
    },
    /// Send entries.
    Send {
        /// After this one.
        after: u64,
        /// So many bytes of them at most; one is always sent.
        bytes: usize,
    },
    /// Bring signed heads.
    SendHeads,
    /// Ask which of the things that entries name are not there.
    AskMissing,
    /// Send this.
    Put(Hash),
    /// Fetch what the office has.
    FetchChanges,
    /// Everything is there.
    Rest,
}

/// The next step. Entries come first: a thing is taken only once its entry is there.
pub fn next_step(known: &Known, pace: Pace) -> Step {
    let Some(tail) = known.tail else { return Step::AskTail };
    if known.looked < known.end {
        return Step::Look { after: known.looked };
    }
    if tail < known.end {
        return Step::Send { after: tail, bytes: pace.bytes() };
    }
    if known.heads {
        return Step::SendHeads;
    }
    match known.missing {
        _ if known.unasked => Step::AskMissing,
        Some(hash) => Step::Put(hash),
        None if known.changes => Step::FetchChanges,
        None => Step::Rest,
    }
}

/// What the hub's tail says to a device that was told before that entries were stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TailSays {
    /// It goes on from what was said before, or from further on.
    GoesOn,
    /// It has less than it said it had: its disk was lost, or an older copy was put back.
    FellBack,
    /// It has an entry that this ledger does not have: two devices write under one name.
    Parted {
        /// The number of that entry.
        sequence: u64,
    },
}

/// Looks at a tail. `stored_through`: what the hub said before; `ours`: hash of our entry of the tail's last number, if
/// there is one ([`Hash::ZERO`] for number 0).
pub fn look_at_tail(tail: &Tail, stored_through: u64, ours: Option<Hash>) -> TailSays {
    // Nobody has no entry at all and wants number 0.
    let Some(sequence) = tail.next_sequence.checked_sub(1) else { return TailSays::Parted { sequence: 0 } };
    match ours {
        Some(hash) if hash == tail.hash && sequence < stored_through => TailSays::FellBack,
        Some(hash) if hash == tail.hash => TailSays::GoesOn,
        _ => TailSays::Parted { sequence },
    }
}

/// How many bytes of entries are sent at once: what came through in good time decides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pace(usize);

/// A batch that took longer is too large, one that took less may grow.
const SLOW: Millis = Millis(8_000);
/// See [`SLOW`].
const QUICK: Millis = Millis(2_000);
/// The smallest batch, and the first: 4 KiB go through a line of 8 kbit/s in four seconds.
const BYTES: (usize, usize) = (4 * 1024, 64 * 1024);

impl Default for Pace {
    fn default() -> Pace {
        Pace(BYTES.1)
    }
}

impl Pace {
    /// Bytes in one batch at most, 4 KiB to [`MOST_BATCH_BYTES`](super::MOST_BATCH_BYTES).
    pub fn bytes(self) -> usize {
        self.0
    }

    /// The pace after a batch came through in `took`.
    pub fn came_through(self, took: Millis) -> Pace {
        match took {
            took if took > SLOW => self.lost(),
            took if took < QUICK => Pace((self.0 * 2).min(super::MOST_BATCH_BYTES)),
            _ => self,
        }
    }

    /// The pace after a batch did not come through.
    pub fn lost(self) -> Pace {
        Pace((self.0 / 2).max(BYTES.0))
    }
}

/// How long an answer is waited for after sending so many bytes: a line of 8 kbit/s is slow, not cut.
pub fn patience(bytes: usize) -> Millis {
    Millis(20_000 + bytes as u64)
}

/// The first pause after a failure, and the longest.
const PAUSES: (u64, u64) = (2_000, 600_000);

/// How long to wait before trying again after `failures` in a row (from 1): doubled each time, and drawn by `random`
/// from its upper half, so that fifteen devices that lost one hub do not come back at once.
pub fn pause(failures: u32, random: u64) -> Millis {
    let doubled = PAUSES.0.saturating_mul(1u64.checked_shl(failures.saturating_sub(1)).unwrap_or(u64::MAX));
    drawn(doubled.min(PAUSES.1), random)
}

/// How long a device that has sent everything waits before it asks for news: five to ten minutes.
pub fn rest(random: u64) -> Millis {
    drawn(PAUSES.1, random)
}

/// How long entries of an open job wait, so that many go in one batch: 10 to 20 seconds.
pub fn gather(random: u64) -> Millis {
    drawn(20_000, random)
}

fn drawn(most: u64, random: u64) -> Millis {
    Millis(most / 2 + random % (most / 2 + 1))
}

/// What of a job is at the hub.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct JobThere {
    /// The newest entry of the job that was looked at.
    pub looked: u64,
    /// The hub said that it has everything up to here.
    pub stored_through: u64,
    /// Photos there, and named by its entries.
    pub photos: (u32, u32),
    /// Everything else beside the entries: there, and named.
    pub others: (u32, u32),
    /// Things that are named and are not on this device any more: they will never be there.
    pub lost: u32,
}

impl JobThere {
    /// The hub has said that it has the job's newest entry, which is `newest`, and everything the job names.
    pub fn is_safe(&self, newest: u64) -> bool {
        let all = |(there, named): (u32, u32)| there == named;
        // Nobody is asked about an entry that was not looked at yet: what it names is not counted.
        newest > 0 && self.looked >= newest && self.stored_through >= newest && all(self.photos) && all(self.others)
    }
}
