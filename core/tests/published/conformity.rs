//! Is a limit kept? JCGM 106:2012: the probability that it is, and the guard band of U = 2u.

use crate::bench::against_limit;
use crate::near;
use evenwire_core::verdict::Limit;
use evenwire_core::verdict::LimitResult::{self, Conform, NotConform, Undecided};

const fn between(low: f64, high: f64) -> Limit {
    Limit { high: Some(high), low: Some(low), t: None }
}

const fn at_most(high: f64) -> Limit {
    Limit { high: Some(high), low: None, t: None }
}

/// JCGM 106:2012, breakdown voltage of a Zener diode (text from memory): −5.47 with u 0.05, at most −5.40: 92 %.
#[test]
fn the_zener_diode_of_jcgm_106() {
    let diode = against_limit(-5.47, 0.05, at_most(-5.40));
    near(diode.probability, 0.92, 0.005);
    near(diode.probability, 0.919_243, 5e-7);
    assert_eq!(diode.result, Undecided, "92 % are not enough to call it conforming");
}

/// JCGM 106:2012, table 1: a value so many u inside a one-sided limit conforms with this probability.
#[test]
fn table_1_of_jcgm_106() {
    for (p, z) in [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)] {
        let at = |z: f64| against_limit(3.0 - 0.06 * z, 0.06, at_most(3.0)).probability;
        assert!(at(z - 0.005) < p && p < at(z + 0.005), "z {z} for p {p}");
    }
}

/// Computed with scipy: 1.0 to 3.0 ohm with u 0.06. At 2.99 a pass must not be printed.
#[test]
fn two_sided_tolerance_of_one_to_three_ohms() {
    let cases = [
        (2.90, 0.952_210, Undecided),
        (2.99, 0.566_184, Undecided),
        (3.05, 0.202_328, Undecided),
        (3.13, 0.015_130, NotConform),
    ];
    for (ohms, p, result) in cases {
        let limit = against_limit(ohms, 0.06, between(1.0, 3.0));
        near(limit.probability, p, 5e-7);
        assert_eq!(limit.result, result, "{ohms}");
    }
}

/// Computed with scipy: at most 1.00 ohm with u 0.0228.
#[test]
fn one_sided_limit_of_one_ohm() {
    for (ohms, p) in [(0.95, 0.9858), (0.97, 0.9059), (0.98, 0.8098), (1.00, 0.5000), (1.02, 0.1902)] {
        near(against_limit(ohms, 0.0228, at_most(1.00)).probability, p, 5e-5);
    }
}

/// JCGM 106:2012, guard band of U = 2u below 3.0 ohm with u 0.06: accepted up to 2.88, where 97.725 % conform.
#[test]
fn a_guard_band_of_u_accepts_up_to_2_88() {
    let result = |ohms: f64| against_limit(ohms, 0.06, at_most(3.0)).result;
    let ends: [(f64, LimitResult); 4] =
        [(2.88, Conform), (2.880_01, Undecided), (3.12, Undecided), (3.120_01, NotConform)];
    for (ohms, wanted) in ends {
        assert_eq!(result(ohms), wanted, "{ohms}");
    }
    near(against_limit(2.88, 0.06, at_most(3.0)).probability, 0.977_250, 5e-7);
    near(against_limit(2.88, 0.06, at_most(3.0)).expanded, 0.12, 1e-12);
}

/// k = 2 covers 95.45 % of a normal distribution (JCGM 100:2008, table G.1). The verdict uses this k and no Student
/// factor.
#[test]
fn k_of_two_covers_95_45_percent() {
    let value = against_limit(2.0, 0.05, between(1.9, 2.1));
    near(value.expanded, 0.1, 1e-9);
    near(value.probability, 0.9545, 5e-5);
    near(value.probability, 0.954_499_736_103_642, 1e-12);
}
