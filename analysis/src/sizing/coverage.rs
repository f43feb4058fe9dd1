//! Which share of a published population a set of sizes would fit, by seeded simulation.
//!
//! Two things leave the share open. The draw: as many people as are drawn, 95 % by Wilson's score
//! interval (1927). The figures: they were computed from so many people, so means and spreads are
//! moved as another sample of as many people would move them (a parametric bootstrap: Efron 1979),
//! and the same people are tried again. Whether the model's form is true is in neither.

use super::misfit::{FitRules, Size};
use super::random::Deviates;
use super::stock::{Group, Logs, drawn, wearer};
use crate::dimension::{Dimension, PerDimension};
use crate::hand::Side;
use crate::model::{HandModel, Population, Sampler};
use crate::reference::{Reference, Sex, children};

/// People drawn (assumed: the share is then good to two points in a hundred).
pub const PEOPLE: usize = 2000;

/// Samples of the figures (assumed: their spread is then known to a sixth).
const SAMPLES: usize = 20;

/// People behind a figure that is assumed: as if so few had been measured (assumed).
const ASSUMED_PEOPLE: f64 = 30.0;

/// Standard normal quantile of a 95 % interval.
const Z: f64 = 1.959_964;

/// The two dimensions a size system of two key dimensions looks at: girth of the hand and length of
/// the middle finger. The glove literature finds middle finger length and hand breadth the best
/// keys; the draft knows the girth in place of the breadth.
pub const TWO_KEYS: [Dimension; 2] = [Dimension::HandGirth, Dimension::MiddleLength];

/// Share of a population that a set of sizes fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    /// Whom.
    pub population: Population,
    /// Share whom one size fits in every zone of both hands.
    pub share: f64,
    /// Ends of 95 %, draw and figures together.
    pub low: f64,
    /// The upper end.
    pub high: f64,
    /// Ends of 95 %, the draw alone.
    pub drawn: (f64, f64),
    /// Share whom one size fits in the two key dimensions of both hands: what a size system of two
    /// dimensions would call fitted.
    pub two_keys: f64,
}

/// Draws people of a population and tries them in the sizes. `None` for a population without
/// figures.
#[must_use]
pub fn coverage(
    model: &HandModel,
    population: Population,
    rules: &FitRules,
    sizes: &[Size],
    seed: u64,
) -> Option<Coverage> {
    let groups = drawn(model, population, PEOPLE, seed);
    let people: usize = groups.iter().map(|group| group.people.len()).sum();
    if people == 0 {
        return None;
    }
    let fitted = fitted(&groups, rules, sizes, None);
    let keys: Vec<Size> = sizes.iter().map(|size| size.only(&TWO_KEYS)).collect();
    let two_keys = self::fitted(&groups, rules, &keys, None);
    let samples: Vec<f64> = (0..SAMPLES)
        .map(|sample| {
            let seed = seed ^ (sample as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let moves: Vec<Option<Moved>> =
                groups.iter().map(|group| Moved::of(model, group, seed)).collect();
            self::fitted(&groups, rules, sizes, Some(&moves)) as f64 / people as f64
        })
        .collect();
    let share = fitted as f64 / people as f64;
    let drawn = wilson(fitted, people);
    let mean = samples.iter().sum::<f64>() / SAMPLES as f64;
    let squares: f64 = samples.iter().map(|sample| (sample - mean).powi(2)).sum();
    let of_figures = Z * (squares / (SAMPLES - 1) as f64).sqrt();
    let end = |of_draw: f64| of_draw.hypot(of_figures);
    Some(Coverage {
        population,
        share,
        low: (share - end(share - drawn.0)).max(0.0),
        high: (share + end(drawn.1 - share)).min(1.0),
        drawn,
        two_keys: two_keys as f64 / people as f64,
    })
}

/// How many people one of the sizes fits.
fn fitted(
    groups: &[Group],
    rules: &FitRules,
    sizes: &[Size],
    moves: Option<&[Option<Moved>]>,
) -> usize {
    let mut count = 0;
    for (at, group) in groups.iter().enumerate() {
        let moved = moves.and_then(|moves| moves.get(at)).and_then(Option::as_ref);
        for person in &group.people {
            let wearer = wearer(rules, |side, d| {
                let log = person[usize::from(side == Side::Right)][d.index()];
                moved.map_or(log, |moved| moved.apply(group.log_mean[d], d, log))
            });
            count += usize::from(sizes.iter().any(|size| size.fit(&wearer).fits));
        }
    }
    count
}

/// Figures as another sample of people would have given them.
struct Moved {
    shift: PerDimension<f64>,
    stretch: PerDimension<f64>,
}

impl Moved {
    /// The mean of n people departs from the truth as one person does, by a root of n less; a
    /// spread by one part in the root of 2n.
    fn of(model: &HandModel, group: &Group, seed: u64) -> Option<Moved> {
        let mut random = Deviates::new(seed);
        let sampler = Sampler::new(model, group.population)?;
        let [left, _]: Logs = sampler.truth(|| random.normal()).map(|hand| hand.map(f64::ln));
        let behind = people_behind(group.population);
        Some(Moved {
            shift: PerDimension::from_fn(|d| {
                (left[d.index()] - group.log_mean[d]) / behind[d].sqrt()
            }),
            stretch: PerDimension::from_fn(|d| (random.normal() / (2.0 * behind[d]).sqrt()).exp()),
        })
    }

    fn apply(&self, mean: f64, d: Dimension, log: f64) -> f64 {
        mean + self.shift[d] + self.stretch[d] * (log - mean)
    }
}

/// How many people stand behind the figures of a population of one sex and age.
fn people_behind(population: Population) -> PerDimension<f64> {
    let reference = Reference::published();
    let adults = |sex: Sex, d: Dimension| {
        let people = reference.figure(sex, d).map_or(0, |figure| figure.n);
        if people == 0 { ASSUMED_PEOPLE } else { f64::from(people) }
    };
    PerDimension::from_fn(|d| match population {
        Population::Women | Population::Adults => adults(Sex::Female, d),
        Population::Men => adults(Sex::Male, d),
        Population::Child { age_years, sex } => {
            let own = f64::from(children::people(sex.unwrap_or(Sex::Female), age_years));
            let is_own = matches!(d, Dimension::HandLength | Dimension::HandBreadth);
            // What no child was measured in is carried over from adults.
            let is_own = is_own || children::growth_of(d).is_some();
            if is_own { own } else { own.min(ASSUMED_PEOPLE) }
        }
    })
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
