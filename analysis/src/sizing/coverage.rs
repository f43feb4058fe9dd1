//! Which share of a published population a set of sizes would fit, by seeded simulation.

use super::misfit::{FitRules, Size, Wearer};
use super::random::Deviates;
use crate::hand::Side;
use crate::model::{HandModel, Population, Sampler};

/// People drawn (assumed: the share is then good to two points in a hundred).
pub const PEOPLE: usize = 2000;

/// Standard normal quantile of a 95 % interval.
const Z: f64 = 1.959_964;

/// Share of a population that a set of sizes fits, with a 95 % interval of the simulation (Wilson
/// 1927). How well the published figures describe a population is not in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    /// Whom.
    pub population: Population,
    /// Share whom one size fits in every zone of both hands.
    pub share: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Draws people of one sex and tries them in the sizes. `None` for a population without figures.
#[must_use]
pub fn coverage(
    model: &HandModel,
    population: Population,
    rules: &FitRules,
    sizes: &[Size],
    seed: u64,
) -> Option<Coverage> {
    let sampler = Sampler::new(model, population)?;
    let mut random = Deviates::new(seed);
    let fitted = (0..PEOPLE)
        .filter(|_| {
            let hands = sampler.truth(|| random.normal());
            let wearer = Wearer::new(rules, |side, dimension| {
                let [left, right] = &hands;
                let hand = if side == Side::Left { left } else { right };
                hand[dimension.index()]
            });
            sizes.iter().any(|size| size.fit(&wearer).fits)
        })
        .count();
    let (low, high) = wilson(fitted, PEOPLE);
    Some(Coverage { population, share: fitted as f64 / PEOPLE as f64, low, high })
}

/// 95 % interval of a share (Wilson 1927, score interval).
#[must_use]
pub fn wilson(hits: usize, of: usize) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let n = of as f64;
    let p = hits as f64 / n;
    let centre = p + Z * Z / (2.0 * n);
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + Z * Z / n;
    (((centre - half) / scale).max(0.0), ((centre + half) / scale).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    // Newcombe 1998, Statistics in Medicine 17, 857-872, table I, method 3 (Wilson score without
    // continuity correction): 81 of 263, 15 of 148, 0 of 20 and 1 of 29. From memory.
    #[test]
    fn the_score_interval_gives_the_published_limits() {
        for (hits, of, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let found = wilson(hits, of);
            assert!((found.0 - low).abs() < 5e-5 && (found.1 - high).abs() < 5e-5, "{found:?}");
        }
    }
}
