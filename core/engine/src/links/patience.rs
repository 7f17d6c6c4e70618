//! How long a link waits for what. Tests shorten it; the program uses the defaults.

use std::time::Duration;

/// Waiting times of a link.
#[derive(Clone, Debug)]
pub struct Patience {
    /// For a connection.
    pub connect: Duration,
    /// For the list of services, once connected.
    pub discover: Duration,
    /// For the first value after notifications were switched on.
    pub first_sample: Duration,
    /// For any other call to the Bluetooth system.
    pub call: Duration,
    /// For the question whether a silent meter is still connected.
    pub check: Duration,
    /// Between looks for a missing daemon or adapter.
    pub poll: Duration,
    /// While searching, with nothing heard at all: then searching is started anew.
    pub rescan: Duration,
    /// Before the first new try after a loss; doubles up to `retry_max`.
    pub retry_min: Duration,
    /// Longest wait between tries.
    pub retry_max: Duration,
    /// From a loss until the person is asked.
    pub give_up: Duration,
    /// Shortest silence that makes the link ask whether the meter is still there.
    pub watchdog_min: Duration,
    /// Longest such silence, however slow the meter is.
    pub watchdog_max: Duration,
    /// A meter that says it is connected and has been silent this long is connected anew.
    pub silence: Duration,
    /// Refusals in a row that are taken as final.
    pub refusals: u32,
}

impl Default for Patience {
    fn default() -> Self {
        Patience {
            connect: Duration::from_secs(15),
            discover: Duration::from_secs(30),
            first_sample: Duration::from_secs(5),
            call: Duration::from_secs(5),
            check: Duration::from_secs(2),
            poll: Duration::from_secs(2),
            rescan: Duration::from_secs(10),
            retry_min: Duration::from_millis(500),
            retry_max: Duration::from_secs(8),
            give_up: Duration::from_secs(60),
            watchdog_min: Duration::from_secs(1),
            watchdog_max: Duration::from_secs(5),
            silence: Duration::from_secs(10),
            refusals: 3,
        }
    }
}

impl Patience {
    /// The wait before try `attempt` (1 is the first): doubles from `retry_min`, with `random` (any
    /// number) taking off up to a quarter so that two benches do not try in step, within
    /// `retry_min..=retry_max`.
    ///
    /// ```
    /// use evenwire_engine::links::Patience;
    /// let patience = Patience::default();
    /// assert_eq!(patience.retry(3, 0).as_millis(), 2_000);
    /// assert_eq!(patience.retry(40, 0).as_millis(), 8_000);
    /// assert_eq!(patience.retry(1, u32::MAX).as_millis(), 500);
    /// ```
    pub fn retry(&self, attempt: u32, random: u32) -> Duration {
        let doubled = 2u32.saturating_pow(attempt.saturating_sub(1).min(16));
        let full = self.retry_min.saturating_mul(doubled).min(self.retry_max);
        let share = random % 1_000;
        (full - full / 4 * share / 1_000).max(self.retry_min)
    }
}
