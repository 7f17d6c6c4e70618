//! The level a stream runs along, and how much it wanders about it.

use super::Point;
use super::numbers::{below, lower_median, median};

/// The fastest drift that warming leads explain, in ohms a second (0.05 ohm a minute); anything faster stays in
/// the readings and is seen.
const SLOPE_LIMIT: f64 = 0.05 / 60.0;
/// Seconds a slice has at best, and the fewest and most slices.
const SLICE_S: f64 = 3.0;
const SLICES: (usize, usize) = (4, 12);
/// A slice with fewer finite readings says nothing.
const SLICE_MIN: usize = 3;
/// From a median absolute deviation to a standard deviation of a normal distribution.
const MAD_TO_SIGMA: f64 = 1.4826;
/// A stream that changes fewer times than this has no wander to speak of.
const MIN_CHANGES: usize = 5;

/// A straight line through the undisturbed part of a stream.
#[derive(Debug)]
pub(super) struct Baseline {
    start: f64,
    /// Ohms at the first reading.
    pub level: f64,
    /// Ohms a second, limited to what is plausible for warming.
    pub slope: f64,
    /// Ohms a second as found.
    pub raw_slope: f64,
    /// Robust standard deviation of the readings, in ohms.
    pub noise: f64,
}

impl Baseline {
    /// The baseline of a cleaned stream with at least one finite reading.
    pub fn of(points: &[Point]) -> Baseline {
        let start = points.first().map_or(0.0, |p| p.t);
        let finite: Vec<(f64, f64)> = points.iter().filter_map(|p| Some((p.t - start, p.ohms?))).collect();
        let duration = points.last().map_or(0.0, |p| p.t) - start;
        let raw_slope = median_slope(&finite, duration);
        let slope = raw_slope.clamp(-SLOPE_LIMIT, SLOPE_LIMIT);
        let flattened: Vec<f64> = finite.iter().map(|(t, x)| x - slope * t).collect();
        // The lower median: with half the stream raised it still stands on a real, lower level.
        let level = lower_median(&flattened).unwrap_or(0.0);
        let noise = wander(points, &flattened, level);
        Baseline { start, level, slope, raw_slope, noise }
    }

    /// Ohms expected at a time of the input.
    pub fn at(&self, t: f64) -> f64 {
        self.level + self.slope * (t - self.start)
    }
}

/// The median of the slopes between the middles of equal slices of time: a fault in some slices does not tilt it.
fn median_slope(finite: &[(f64, f64)], duration: f64) -> f64 {
    let count = ((duration / SLICE_S) as usize).clamp(SLICES.0, SLICES.1);
    let mut slices: Vec<(Vec<f64>, Vec<f64>)> = vec![Default::default(); count];
    for (t, x) in finite {
        let slice = if duration > 0.0 { (t / duration * count as f64) as usize } else { 0 };
        let (times, values) = &mut slices[slice.min(count - 1)];
        times.push(*t);
        values.push(*x);
    }
    let middles: Vec<(f64, f64)> = slices
        .iter()
        .filter(|(times, _)| times.len() >= SLICE_MIN)
        .filter_map(|(times, values)| Some((median(times)?, median(values)?)))
        .collect();
    let mut slopes = Vec::new();
    for (i, (t0, x0)) in middles.iter().enumerate() {
        for (t1, x1) in &middles[i + 1..] {
            slopes.push((x1 - x0) / (t1 - t0));
        }
    }
    median(&slopes).unwrap_or(0.0)
}

/// The smaller of the wander about the line and the wander from reading to reading: a step is not noise.
fn wander(points: &[Point], flattened: &[f64], level: f64) -> f64 {
    let changes: Vec<f64> = points
        .windows(2)
        .filter_map(|pair| Some((pair[1].ohms? - pair[0].ohms?).abs()))
        .filter(|change| below(0.0, *change))
        .collect();
    if changes.len() < MIN_CHANGES {
        return 0.0;
    }
    let about_line: Vec<f64> = flattened.iter().map(|x| (x - level).abs()).collect();
    let line = MAD_TO_SIGMA * median(&about_line).unwrap_or(0.0);
    let step = MAD_TO_SIGMA / std::f64::consts::SQRT_2 * median(&changes).unwrap_or(0.0);
    line.min(step)
}
