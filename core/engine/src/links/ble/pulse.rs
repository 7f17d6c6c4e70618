//! How often values come, learned from those that came, so that silence is noticed soon but not too soon.

use super::Patience;
use std::time::Duration;
use tokio::time::Instant;

/// Gaps remembered.
const GAPS: usize = 16;

/// Arrivals since notifications were switched on.
#[derive(Debug)]
pub(super) struct Pulse {
    opened: Instant,
    last: Option<Instant>,
    gaps: [Duration; GAPS],
    count: usize,
}

impl Pulse {
    pub(super) fn new(now: Instant) -> Pulse {
        Pulse { opened: now, last: None, gaps: [Duration::ZERO; GAPS], count: 0 }
    }

    /// A value arrived.
    pub(super) fn beat(&mut self, now: Instant) {
        if let Some(last) = self.last.replace(now) {
            self.gaps[self.count % GAPS] = now - last;
            self.count += 1;
        }
    }

    /// At least one value arrived.
    pub(super) fn has_beaten(&self) -> bool {
        self.last.is_some()
    }

    /// As [`Pulse::has_beaten`], and starts anew.
    pub(super) fn take_beaten(&mut self) -> bool {
        let beaten = self.has_beaten();
        *self = Pulse::new(Instant::now());
        beaten
    }

    /// The time since which nothing came.
    pub(super) fn silent_since(&self) -> Instant {
        self.last.unwrap_or(self.opened)
    }

    /// When to ask whether the meter is still there: three of its periods after the last value, within
    /// the bounds; before a first value, the time allowed for that.
    pub(super) fn due(&self, patience: &Patience) -> Instant {
        let Some(last) = self.last else { return self.opened + patience.first_sample };
        let mut gaps = self.gaps;
        let known = &mut gaps[..self.count.min(GAPS)];
        known.sort_unstable();
        // The middle gap: a burst or one late value does not move it.
        let period = known.get(known.len() / 2).copied().unwrap_or(patience.watchdog_max);
        last + (period * 3).clamp(patience.watchdog_min, patience.watchdog_max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Beats `gap_ms` apart; how long after the last one the question is due.
    fn due_ms(gaps_ms: &[u64]) -> u128 {
        let mut now = Instant::now();
        let mut pulse = Pulse::new(now);
        pulse.beat(now);
        for gap in gaps_ms {
            now += Duration::from_millis(*gap);
            pulse.beat(now);
        }
        (pulse.due(&Patience::default()) - now).as_millis()
    }

    #[test]
    fn silence_is_three_periods_within_one_and_five_seconds() {
        assert_eq!(due_ms(&[]), 5_000);
        assert_eq!(due_ms(&[100; 20]), 1_000);
        assert_eq!(due_ms(&[500; 20]), 1_500);
        assert_eq!(due_ms(&[4_000; 20]), 5_000);
    }

    #[test]
    fn one_late_value_and_a_few_doubles_do_not_move_the_period() {
        assert_eq!(due_ms(&[500, 500, 500, 3_000, 500, 500, 0, 500]), 1_500);
    }

    #[test]
    fn the_first_value_has_its_own_time() {
        let now = Instant::now();
        assert_eq!(Pulse::new(now).due(&Patience::default()) - now, Duration::from_secs(5));
    }
}
