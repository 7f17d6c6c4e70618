//! The arithmetic that `sweep` and `verdict` share: one rule for comparing, one for medians, one for sums.
//!
//! Everything here is `f64` in the unit of the caller. Nothing panics on NaN; a comparison with NaN is false,
//! so an uncomputable number can never prove that something is within a limit.

/// Places behind the point down to which two numbers are told apart: a millionth.
const STEPS_PER_UNIT: f64 = 1e6;

/// Rounds to whole millionths, ties to even.
fn millionths(difference: f64) -> f64 {
    (difference * STEPS_PER_UNIT).round_ties_even()
}

/// `a ≤ b`, told apart to a millionth: `0.3 - 0.1` is 0.2. A number exactly at a limit belongs to the allowed side.
pub fn at_most(a: f64, b: f64) -> bool {
    millionths(a - b) <= 0.0
}

/// `a < b`, told apart to a millionth. The exact opposite of `at_most(b, a)` for finite numbers.
pub fn below(a: f64, b: f64) -> bool {
    millionths(a - b) < 0.0
}

/// Rounded to six places, ties to even, never "minus zero". What is printed in case lines.
pub fn six_places(x: f64) -> f64 {
    let steps = millionths(x);
    // Beyond 2^53 millionths a double has no six places to round to.
    if steps.is_finite() && steps.abs() < 9e15 { steps / STEPS_PER_UNIT + 0.0 } else { x }
}

/// The sum with the rounding errors carried along (Neumaier): a small value after a large one is not lost.
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let mut total = 0.0_f64;
    let mut lost = 0.0_f64;
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() { (total - next) + value } else { (value - next) + total };
        total = next;
    }
    total + lost
}

/// The median: the middle value, of an even count the mean of the two middle ones. `None` when empty.
pub fn median(values: &[f64]) -> Option<f64> {
    let ordered = ascending(values);
    let upper = *ordered.get(ordered.len() / 2)?;
    if ordered.len() % 2 == 1 { Some(upper) } else { Some(f64::midpoint(ordered[ordered.len() / 2 - 1], upper)) }
}

/// The lower median: always one of the values, of an even count the smaller of the two middle ones.
pub fn lower_median(values: &[f64]) -> Option<f64> {
    ascending(values).get(values.len().checked_sub(1)? / 2).copied()
}

fn ascending(values: &[f64]) -> Vec<f64> {
    let mut ordered = values.to_vec();
    ordered.sort_by(f64::total_cmp);
    ordered
}
