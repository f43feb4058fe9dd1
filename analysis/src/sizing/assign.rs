//! Which size a performer takes, with the probability of each, and how many to cut.

use nalgebra::{Cholesky, DVector};
use statrs::distribution::{Binomial, DiscreteCDF};

use super::misfit::{FitRules, Size, Wearer};
use super::random::Deviates;
use super::table::best_of;
use crate::dimension::Dimension;
use crate::hand::{Hands, Side};
use crate::model::joint::{SLOTS, observations, slot};
use crate::model::{HandModel, Population};

/// Draws behind the probabilities of one performer (assumed: a share of one half is then good to
/// four points in a hundred at one standard deviation).
pub const DRAWS: usize = 200;

/// Added to the diagonal of a covariance of logarithms that has directions without variance: a
/// hundredth of a thousandth of a dimension.
const RIDGE: f64 = 1e-10;

/// Chance that the gloves cut do not run out (assumed).
pub const STOCK_CHANCE: f64 = 0.9;

/// Draws pairs of hands as they may truly be, given what was measured: joint normal logarithms
/// with the model's mean and covariance.
#[must_use]
pub fn likely_hands(
    model: &HandModel,
    population: Population,
    hands: &Hands,
    rules: &FitRules,
    seed: u64,
) -> Vec<Wearer> {
    let mut belief = model.belief(population, &observations(hands));
    for at in 0..SLOTS {
        belief.covariance[(at, at)] += RIDGE;
    }
    let Some(root) = Cholesky::new(belief.covariance).map(|factor| factor.l()) else {
        return Vec::new();
    };
    let mut random = Deviates::new(seed);
    (0..DRAWS)
        .map(|_| {
            let away = &root * DVector::from_fn(SLOTS, |_, _| random.normal());
            let mm = |side: Side, dimension: Dimension| {
                let at = slot(side, dimension);
                belief.mm[at] * away[at].exp()
            };
            Wearer::new(rules, mm)
        })
        .collect()
}

/// Share of likely hands that take each size, and share that none of them fits.
#[derive(Debug, Clone, PartialEq)]
pub struct Probabilities {
    /// By size; they add up to 1.
    pub sizes: Vec<f64>,
    /// That no size fits in every zone.
    pub outside: f64,
}

/// Probability of each size for one performer.
#[must_use]
pub fn probabilities(likely: &[Wearer], sizes: &[Size]) -> Probabilities {
    let mut counts = vec![0_usize; sizes.len()];
    let mut outside = 0_usize;
    for wearer in likely {
        if let Some((at, fit)) = best_of(sizes.iter().map(|size| size.fit(wearer))) {
            counts[at] += 1;
            outside += usize::from(!fit.fits);
        }
    }
    let share = |count: usize| count as f64 / likely.len().max(1) as f64;
    Probabilities { sizes: counts.into_iter().map(share).collect(), outside: share(outside) }
}

/// Spare pairs of each size for `understudies` people not known yet: the smallest number that
/// suffices with a chance of [`STOCK_CHANCE`], taking each size as often as the cast does. One is
/// added to every size's count before shares are taken (Laplace's rule), so that a size nobody
/// wears yet is not ruled out.
#[must_use]
pub fn spare_pairs(taken: &[usize], understudies: u64) -> Vec<u64> {
    let all: usize = taken.iter().map(|count| count + 1).sum();
    taken
        .iter()
        .map(|count| {
            let share = (count + 1) as f64 / all as f64;
            Binomial::new(share, understudies).map_or(0, |spares| spares.inverse_cdf(STOCK_CHANCE))
        })
        .collect()
}
