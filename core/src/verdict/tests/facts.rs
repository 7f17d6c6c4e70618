//! Outside facts: published numbers that the statistics of the verdict must reproduce.

use crate::verdict::statistics::{mean, normal_cdf, probability_between, squares_about_mean, variance};

fn near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "got {got}, want {want} within {within}");
}

fn deviation(values: &[f64]) -> f64 {
    variance(values).sqrt()
}

/// JCGM 100:2008 (GUM), 4.4.3: twenty temperatures; mean 100.145, s 1.489, u 0.333.
#[test]
fn gum_4_4_3_twenty_temperatures() {
    let t = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11,
        101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    near(mean(&t).unwrap(), 100.145, 1e-9);
    near(deviation(&t), 1.489, 0.0005);
    near(deviation(&t) / 20.0_f64.sqrt(), 0.333, 0.0005);
    near(deviation(&t), 1.488_844, 5e-7);
}

/// Middle, then two neighbours in turn five hundred times: how NIST builds NumAcc2, 3 and 4.
fn built(middle: f64, low: f64, high: f64) -> Vec<f64> {
    std::iter::once(middle).chain([low, high].into_iter().cycle().take(1000)).collect()
}

/// NIST StRD, univariate, NumAcc1 to NumAcc4: certified means, certified deviation 0.1 (1 for the first). What remains
/// comes from writing tenths of a million and of ten million in binary, not from the statistics: the third figure is
/// the deviation of the binary data in exact fractions, and it is met to fourteen places.
#[test]
fn nist_numacc_1_to_4() {
    let numacc1 = [10_000_001.0, 10_000_003.0, 10_000_002.0];
    near(mean(&numacc1).unwrap(), 10_000_002.0, 0.0);
    near(deviation(&numacc1), 1.0, 0.0);
    for (data, certified, exact) in [
        (built(1.2, 1.1, 1.3), 1.2, 0.1),
        (built(1_000_000.2, 1_000_000.1, 1_000_000.3), 1_000_000.2, 0.1 + 3.492_459_1e-11),
        (built(10_000_000.2, 10_000_000.1, 10_000_000.3), 10_000_000.2, 0.1 + 5.587_935_4e-10),
    ] {
        assert_eq!(data.len(), 1001);
        near(mean(&data).unwrap(), certified, 2.0 * f64::EPSILON * certified);
        near(deviation(&data), 0.1, 1e-9);
        near(deviation(&data), exact, 1e-14);
    }
}

/// NIST StRD, univariate, Michelson: a hundred determinations of the speed of light, in thousands of km/s. That the
/// data are the right ones in the right order shows in the certified autocorrelation.
#[test]
fn nist_michelson() {
    #[rustfmt::skip]
    let light = [
        299.85, 299.74, 299.90, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88, 300.00, 299.98, 299.93, 299.65,
        299.76, 299.81, 300.00, 300.00, 299.96, 299.96, 299.96, 299.94, 299.96, 299.94, 299.88, 299.80, 299.85, 299.88,
        299.90, 299.84, 299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.80, 299.79, 299.76, 299.80, 299.88, 299.88,
        299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95, 299.88, 299.91, 299.85, 299.87, 299.84, 299.84,
        299.85, 299.84, 299.84, 299.84, 299.89, 299.81, 299.81, 299.82, 299.80, 299.77, 299.76, 299.74, 299.75, 299.76,
        299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85, 299.85, 299.78, 299.89, 299.84, 299.78, 299.81,
        299.76, 299.81, 299.79, 299.81, 299.82, 299.85, 299.87, 299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.80,
        299.81, 299.87,
    ];
    let m = mean(&light).unwrap();
    near(m, 299.8524, 1e-12);
    near(deviation(&light), 0.079_010_547_819_051_8, 1e-12);
    let lagged: f64 = light.windows(2).map(|pair| (pair[0] - m) * (pair[1] - m)).sum();
    near(lagged / squares_about_mean(&light), 0.535_199_668_621_283, 1e-11);
}

/// JCGM 106:2012, table 1: one-sided quantiles of the normal distribution, to the two places printed.
#[test]
fn jcgm_106_table_1() {
    for (p, z) in [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)] {
        assert!(normal_cdf(z - 0.005) < p && p < normal_cdf(z + 0.005), "z {z} for p {p}");
    }
    near(normal_cdf(2.0) - normal_cdf(-2.0), 0.954_499_736_103_642, 1e-14);
}

/// JCGM 106:2012, breakdown voltage of a Zener diode: −5.47 V with u 0.05 V, at most −5.40 V: p is about 92 %.
#[test]
fn jcgm_106_zener_diode() {
    near(probability_between(None, Some(-5.40), -5.47, 0.05), 0.919_243, 5e-7);
    near(probability_between(None, Some(-5.40), -5.47, 0.05), 0.92, 0.005);
}

/// Computed with scipy `norm.cdf`: 2.90, 2.99 and 3.05 ohm with u 0.06 against 1.0 to 3.0 ohm.
#[test]
fn probability_of_keeping_two_limits() {
    for (x, p) in [(2.90, 0.952_210), (2.99, 0.566_184), (3.05, 0.202_328)] {
        near(probability_between(Some(1.0), Some(3.0), x, 0.06), p, 5e-7);
    }
    near(probability_between(None, None, 1.0, 0.1), 1.0, 0.0);
}
