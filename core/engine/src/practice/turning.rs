//! Where the part is turned to, over time.

use evenwire_core::unit::Millis;

/// Turning by hand, thousandths of a turn in a second.
pub const TURN_MILLI_PER_S: f64 = 400.0;

/// A turn from one angle to another at an even speed. Angles are thousandths of a turn.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Turning {
    from: f64,
    since: Millis,
    goal: i32,
    arrives: Millis,
}

impl Turning {
    /// The angle at a time.
    pub(super) fn at(&self, at: Millis) -> f64 {
        let (way, whole) = (at.since(self.since).0, self.arrives.since(self.since).0);
        let goal = f64::from(self.goal);
        if way >= whole { goal } else { self.from + (goal - self.from) * (way as f64 / whole as f64) }
    }

    /// Where it is turned to.
    pub(super) fn goal(&self) -> i32 {
        self.goal
    }

    /// When it stands still again.
    pub(super) fn arrives(&self) -> Millis {
        self.arrives
    }

    /// Turns on to `goal` from where it is, within so many ms, or at a hand's speed.
    pub(super) fn turn(&mut self, goal: i32, now: Millis, within_ms: Option<u64>) {
        let from = self.at(now);
        let by_hand = ((f64::from(goal) - from).abs() * 1_000.0 / TURN_MILLI_PER_S).ceil();
        // A way of some thousand turns at most: far within the whole numbers.
        let ms = within_ms.unwrap_or(by_hand as u64);
        *self = Turning { from, since: now, goal, arrives: Millis(now.0.saturating_add(ms)) };
    }
}
