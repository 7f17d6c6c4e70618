//! Mean and deviation of published data sets, through the verdict.

use crate::bench::{deviation, mean};
use crate::near;

/// NIST StRD, univariate, NumAcc1 to NumAcc4. A sum of squares less the square of the sum gives a variance of −2 for the
/// last: the trap this set was made for.
#[test]
fn nist_numacc_through_the_verdict() {
    near(mean(&[10_000_001.0, 10_000_003.0, 10_000_002.0]), 10_000_002.0, 0.0);
    near(deviation(&[10_000_001.0, 10_000_003.0, 10_000_002.0]), 1.0, 0.0);
    for (middle, low, high) in
        [(1.2, 1.1, 1.3), (1_000_000.2, 1_000_000.1, 1_000_000.3), (10_000_000.2, 10_000_000.1, 10_000_000.3)]
    {
        let set: Vec<f64> = std::iter::once(middle).chain([low, high].into_iter().cycle().take(1000)).collect();
        near(mean(&set), middle, 2.0 * f64::EPSILON * middle);
        near(deviation(&set), 0.1, 1e-9);
        if middle > 5_000_000.0 {
            let (n, sum) = (set.len() as f64, set.iter().sum::<f64>());
            let naive = (set.iter().map(|x| x * x).sum::<f64>() - sum * sum / n) / (n - 1.0);
            assert!((naive - 0.01).abs() > 1.0, "the trap is none: {naive}");
        }
    }
}

/// JCGM 100:2008 (GUM), 4.4.3: mean 100.145, s 1.489. Five repeats at a bench: computed outside, not published.
#[test]
fn gum_4_4_3_and_five_repeats() {
    let temperatures = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11,
        101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    near(mean(&temperatures), 100.145, 1e-9);
    near(deviation(&temperatures), 1.489, 0.0005);
    let repeats = [1.853, 1.861, 1.849, 1.857, 1.855];
    near(mean(&repeats), 1.855, 1e-12);
    near(deviation(&repeats), 0.004_472, 5e-7);
}
