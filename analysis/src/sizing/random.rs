//! Seeded randomness: SplitMix64 (Steele, Lea and Flood 2014) and Box-Muller. The same seed gives
//! the same stream on every machine and with every version of every crate.

use std::f64::consts::PI;

/// A stream of deviates.
#[derive(Debug, Clone)]
pub(crate) struct Deviates(u64);

impl Deviates {
    pub fn new(seed: u64) -> Deviates {
        Deviates(seed)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in (0, 1).
    pub fn uniform(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Uniform among `0..n`; 0 for none.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        let r = (-2.0 * self.uniform().ln()).sqrt();
        r * (2.0 * PI * self.uniform()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Published test vector of SplitMix64 with seed 1234567 (Vigna's reference program
    // splitmix64.c): first three outputs.
    #[test]
    fn the_stream_is_splitmix64() {
        let mut stream = Deviates::new(1_234_567);
        let first: Vec<u64> = (0..3).map(|_| stream.bits()).collect();
        assert_eq!(
            first,
            [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]
        );
    }
}
