//! The sample period of a meter, learned from when its readings arrive.

use crate::unit::Millis;
use std::collections::VecDeque;

/// Arrivals looked at.
const KEPT: usize = 17;
/// Before two intervals are known, and without a told period.
const FIRST_GUESS: Millis = Millis(200);
/// A radio delivers in bunches: a shorter silence is not a gap, however fast the meter.
const SHORTEST_GAP_MS: u64 = 100;

/// Learned period.
#[derive(Clone, Debug, Default)]
pub(super) struct Pace {
    told: Option<Millis>,
    arrivals: VecDeque<Millis>,
}

impl Pace {
    pub(super) fn new(told: Option<Millis>) -> Pace {
        Pace { told, arrivals: VecDeque::new() }
    }

    pub(super) fn push(&mut self, at: Millis) {
        if self.arrivals.len() == KEPT {
            self.arrivals.pop_front();
        }
        self.arrivals.push_back(at);
    }

    /// Median of half the spans over two intervals: readings that arrive in pairs do not halve it.
    pub(super) fn period(&self) -> Millis {
        let mut spans: Vec<u64> =
            self.arrivals.iter().zip(self.arrivals.iter().skip(2)).map(|(a, b)| b.since(*a).0).collect();
        spans.sort_unstable();
        match (spans.get(spans.len() / 2), self.told) {
            (Some(span), _) if spans.len() >= 2 => Millis(span.div_ceil(2)),
            (_, Some(told)) => told,
            _ => FIRST_GUESS,
        }
    }

    /// Longer than three periods: the stream was interrupted.
    pub(super) fn is_gap(&self, silence: Millis) -> bool {
        silence.0 > (3 * self.period().0).max(SHORTEST_GAP_MS)
    }
}
