//! Seeded randomness for simulations: SplitMix64 (Steele, Lea, Flood 2014) and Box-Muller.
#![allow(dead_code, reason = "each test file uses a part")]

pub mod hands;
pub mod measuring;

/// A stream of deviates; the same seed gives the same stream.
#[derive(Debug, Clone)]
pub struct Deviates(u64);

impl Deviates {
    pub fn new(seed: u64) -> Deviates {
        Deviates(seed)
    }

    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in (0, 1).
    pub fn uniform(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Uniform among `0..n`.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n - 1)
    }

    pub fn normal(&mut self) -> f64 {
        let r = (-2.0 * self.uniform().ln()).sqrt();
        r * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }
}
