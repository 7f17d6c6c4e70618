//! A day of the calendar, for dates a person enters.

use serde::{Deserialize, Serialize};

/// A day, written "2026-05-31" (ISO 8601).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Day(jiff::civil::Date);

/// A text that is not a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not a day as in 2026-05-31")]
pub struct NotADay;

impl Day {
    /// # Errors
    /// The text is not a day of the form "2026-05-31".
    pub fn parse(text: &str) -> Result<Day, NotADay> {
        let text = text.trim();
        let shape = text.len() == 10
            && text.bytes().enumerate().all(|(i, b)| match i {
                4 | 7 => b == b'-',
                _ => b.is_ascii_digit(),
            });
        if !shape {
            return Err(NotADay);
        }
        text.parse().map(Day).map_err(|_| NotADay)
    }

    /// The same day so many months before, or the last one of that month.
    ///
    /// ```
    /// use evenwire_core::unit::Day;
    /// let day = Day::parse("2026-03-31").unwrap();
    /// assert_eq!(day.months_before(1).map(|d| d.to_string()), Some("2026-02-28".into()));
    /// assert_eq!(day.months_before(u16::MAX), None, "before the calendar begins");
    /// ```
    pub fn months_before(self, months: u16) -> Option<Day> {
        self.0.checked_sub(jiff::Span::new().try_months(months).ok()?).ok().filter(|d| d.year() > 0).map(Day)
    }

    /// The day a stamp was written on, where it was written.
    pub fn of(stamp: &super::Stamp) -> Option<Day> {
        stamp.as_str().get(..10).and_then(|day| Day::parse(day).ok())
    }
}

impl std::fmt::Display for Day {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl From<Day> for String {
    fn from(day: Day) -> String {
        day.to_string()
    }
}

impl TryFrom<String> for Day {
    type Error = NotADay;
    fn try_from(text: String) -> Result<Day, NotADay> {
        Day::parse(&text)
    }
}
