//! Chance that can be repeated: the same seed gives the same numbers on every machine.
//!
//! Only additions, multiplications and shifts are used, because the mathematical functions of different
//! systems differ in their last bits.

/// A stream of numbers from a seed: the 64-bit generator of Steele, Lea and Flood (SplitMix, 2014).
#[derive(Clone, Debug)]
pub struct Chance(u64);

impl Chance {
    /// A stream of its own for each seed.
    pub fn new(seed: u64) -> Chance {
        Chance(seed)
    }

    /// 64 evenly spread bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// From 0 up to, not including, 1.
    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// From `low` up to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// A whole number from `low` to `high`, both included. `high` must not be below `low`.
    pub fn whole(&mut self, low: u64, high: u64) -> u64 {
        assert!(low <= high, "a range has its lower end first");
        let span = u128::from(high - low) + 1;
        // The product's upper half: even to one part in 2^64 / span.
        low + u64::try_from((u128::from(self.bits()) * span) >> 64).expect("below the span")
    }

    /// Bell-shaped with mean 0 and deviation 1, never beyond ±6: the sum of twelve shares.
    pub fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }
}

#[cfg(test)]
mod tests {
    use super::Chance;

    #[test]
    fn the_stream_is_the_published_one() {
        // First outputs of SplitMix64 for seed 1234567, as its authors' test vectors give them.
        let mut chance = Chance::new(1_234_567);
        assert_eq!(chance.bits(), 6_457_827_717_110_365_317);
        assert_eq!(chance.bits(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn shares_bells_and_wholes_have_the_spread_they_promise() {
        let mut chance = Chance::new(7);
        let bells: Vec<f64> = (0..20_000).map(|_| chance.bell()).collect();
        let mean = bells.iter().sum::<f64>() / 20_000.0;
        let variance = bells.iter().map(|b| (b - mean) * (b - mean)).sum::<f64>() / 19_999.0;
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((variance - 1.0).abs() < 0.05, "{variance}");
        let mut seen = [0u32; 4];
        for _ in 0..8_000 {
            seen[usize::try_from(chance.whole(3, 6)).unwrap() - 3] += 1;
            assert!((0.0..1.0).contains(&chance.share()));
        }
        assert!(seen.iter().all(|count| (1_850..2_150).contains(count)), "{seen:?}");
        assert_eq!(chance.whole(9, 9), 9);
    }
}
