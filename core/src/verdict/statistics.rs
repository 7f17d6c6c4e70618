//! The statistics of the verdict. Two-pass, with compensated sums: ten million and a tenth come out right.

pub use crate::sweep::numbers::{at_most, below, median, sum};

/// Arithmetic mean. `None` when empty.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| sum(values.iter().copied()) / values.len() as f64)
}

/// Sum of squared deviations from the mean; 0 for fewer than two values.
pub fn squares_about_mean(values: &[f64]) -> f64 {
    let Some(mean) = mean(values) else { return 0.0 };
    sum(values.iter().map(|x| (x - mean) * (x - mean)))
}

/// Experimental variance with n − 1 (GUM 4.2.2); 0 for fewer than two values.
pub fn variance(values: &[f64]) -> f64 {
    if values.len() < 2 { 0.0 } else { (squares_about_mean(values) / (values.len() - 1) as f64).max(0.0) }
}

/// Standard normal distribution function.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// Probability that a normal quantity `x` with standard uncertainty `u` lies between two limits; a missing limit
/// does not bound. 0 for limits that exclude each other.
pub fn probability_between(low: Option<f64>, high: Option<f64>, x: f64, u: f64) -> f64 {
    let above_low = low.map_or(f64::INFINITY, |low| (x - low) / u);
    let under_high = high.map_or(f64::INFINITY, |high| (high - x) / u);
    (1.0 - normal_cdf(-above_low) - normal_cdf(-under_high)).clamp(0.0, 1.0)
}
