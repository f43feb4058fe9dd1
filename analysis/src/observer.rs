//! Measurers over a production: do their repeats agree, do their readings drift, do they round.
//!
//! - **Technical error of measurement**: `TEM = sqrt(sum of squares within repeats / degrees of
//!   freedom)`; for pairs this is `sqrt(sum d^2 / 2n)`; relative TEM is its share of the mean.
//!   **Coefficient of reliability**: `R = 1 - TEM^2 / SD^2`, SD that of readings of the dimension
//!   among published people of the same sex and age (Ulijaszek and Kerr 1999, British Journal of
//!   Nutrition 82, 165-177). A dimension repeated blind, in the repeat exercise, is judged by those
//!   repeats alone: others are taken when something looked odd, and disagree more.
//! - **Bias**: mean departure of a measurer's readings from what all other readings of the same
//!   person lead to expect, with a 95 % t interval.
//! - **Digit preference**: last digits of whole millimetres against equal shares, chi-squared with
//!   nine degrees of freedom.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

use crate::check::Evidence;
use crate::dimension::{Dimension, PerDimension};
use crate::hand::{Hands, Side};
use crate::model::joint::{Observation, observations};
use crate::model::{Basis, HandModel, Population};

/// Probability that a measurer with the usual error has any dimension flagged for its repeats:
/// shared among the dimensions. Assumed.
const REPEATS_TAIL: f64 = 0.01;
/// Variance of rounding to whole millimetres, mm^2.
const ROUNDING_VARIANCE: f64 = 1.0 / 12.0;
/// Confidence of the bias interval.
const BIAS_CONFIDENCE: f64 = 0.95;
/// Probability that a measurer without bias has any dimension flagged for one: shared among the
/// dimensions. Assumed.
const BIAS_TAIL: f64 = 0.01;
/// A bias counts only when larger than this share of the usual measuring error. Assumed: below half
/// a reading's error nobody would measure differently.
const BIAS_OF_ERROR: f64 = 0.5;
/// Fewest people with readings of a dimension for a bias. Assumed.
const BIAS_FROM: usize = 5;
/// Fewest readings for digits: five expected a digit, the usual rule for chi-squared.
const DIGITS_FROM: usize = 50;
/// Preference of digits is flagged below this probability. Assumed.
const DIGITS_TAIL: f64 = 0.001;

/// One reading, with who took it of whom. People are positions in the list given to [`observe`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taken {
    /// Which measurer, by any number of the caller's.
    pub measurer: usize,
    /// Which person, as a position among the people.
    pub person: usize,
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// Value, mm.
    pub mm: f64,
    /// Whether it was taken in the repeat exercise, without sight of the other reading.
    pub blind: bool,
}

/// Agreement of repeats of one dimension.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Repeatability {
    /// Which dimension.
    pub dimension: Dimension,
    /// Degrees of freedom: repeats beyond the first of each hand.
    pub freedom: usize,
    /// Whether the repeats were taken blind.
    pub blind: bool,
    /// Technical error of measurement, mm.
    pub tem_mm: f64,
    /// The same as a percentage of the mean of the repeated readings.
    pub relative_percent: f64,
    /// Usual error of one reading, mm.
    pub usual_mm: f64,
    /// Coefficient of reliability, at most 1.
    pub reliability: f64,
    /// Repeats that lie furthest apart: of whom, which hand, and how far, mm.
    pub widest: (usize, Side, f64),
    /// Whether the repeats disagree more than the usual error explains.
    pub flagged: bool,
}

/// Drift of one dimension.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bias {
    /// Which dimension.
    pub dimension: Dimension,
    /// How many readings.
    pub readings: usize,
    /// Of how many people.
    pub people: usize,
    /// Mean departure, person by person, from what the person's other readings lead to expect, mm.
    pub mm: f64,
    /// Lower end of the 95 % interval, mm.
    pub low_mm: f64,
    /// Upper end of the 95 % interval, mm.
    pub high_mm: f64,
    /// Whether it is worth a word with the measurer.
    pub flagged: bool,
}

/// Last digits of whole millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Digits {
    /// How often each digit, 0 to 9, came last.
    pub counts: [usize; 10],
    /// Chi-squared against equal shares.
    pub chi_squared: f64,
    /// Probability of as much, nine degrees of freedom.
    pub probability: f64,
    /// Whether some digits are preferred.
    pub flagged: bool,
}

/// What can be said of one measurer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ObserverReport {
    /// Which measurer.
    pub measurer: usize,
    /// How many readings stand behind it.
    pub readings: usize,
    /// Dimensions with repeats.
    pub repeats: Vec<Repeatability>,
    /// Dimensions with enough readings for a bias.
    pub biases: Vec<Bias>,
    /// Last digits, when there are enough readings.
    pub digits: Option<Digits>,
}

/// Reports on every measurer among the readings, in the order of their numbers. Readings of a
/// person the list does not hold are left out.
#[must_use]
pub fn observe(
    model: &HandModel,
    people: &[Population],
    readings: &[Taken],
) -> Vec<ObserverReport> {
    let usable: Vec<Taken> = readings
        .iter()
        .filter(|r| r.person < people.len() && r.mm > 0.0 && r.mm.is_finite())
        .copied()
        .collect();
    let expected = expectations(model, people, &usable);
    let mut by_measurer: BTreeMap<usize, Vec<Taken>> = BTreeMap::new();
    for r in usable {
        by_measurer.entry(r.measurer).or_default().push(r);
    }
    by_measurer
        .into_iter()
        .map(|(measurer, own)| ObserverReport {
            measurer,
            readings: own.len(),
            repeats: repeats(model, people, &own),
            biases: biases(&expected, &own),
            digits: digits(&own),
        })
        .collect()
}

#[expect(clippy::cast_precision_loss, reason = "counts of readings")]
fn real(count: usize) -> f64 {
    count as f64
}

/// A dimension of one hand of one person.
type Place = (usize, Side, Dimension);

/// What the rest of each person's readings leads to expect of each reading, mm.
fn expectations(
    model: &HandModel,
    people: &[Population],
    readings: &[Taken],
) -> BTreeMap<Place, f64> {
    let mut by_person: BTreeMap<usize, Vec<(Side, Dimension, f64)>> = BTreeMap::new();
    for r in readings {
        by_person.entry(r.person).or_default().push((r.side, r.dimension, r.mm));
    }
    let mut expected = BTreeMap::new();
    for (person, own) in by_person {
        let observed: Vec<Observation> = observations(&Hands::from_readings(&own));
        let Some(population) = people.get(person) else { continue };
        let evidence = Evidence::new(&model.joints(*population, &observed), &observed);
        for (i, o) in observed.iter().enumerate() {
            let mm = evidence.given_others(i).estimate(Basis::Estimated).mm;
            expected.insert((person, o.side, o.dimension), mm);
        }
    }
    expected
}

/// Repeats of one dimension, pooled over hands.
#[derive(Debug, Default)]
struct Pool {
    freedom: usize,
    squares: f64,
    count: usize,
    sum: f64,
    /// Variance among people, times the degrees of freedom it counts for.
    among_people: f64,
    widest: Option<(usize, Side, f64)>,
}

fn repeats(model: &HandModel, people: &[Population], own: &[Taken]) -> Vec<Repeatability> {
    let sets = |blind: bool| {
        let mut sets: BTreeMap<Place, Vec<f64>> = BTreeMap::new();
        for r in own.iter().filter(|r| r.blind || !blind) {
            sets.entry((r.person, r.side, r.dimension)).or_default().push(r.mm);
        }
        sets.retain(|_, values| values.len() > 1);
        sets
    };
    let blind = sets(true);
    let is_blind = PerDimension::from_fn(|d| blind.keys().any(|(_, _, of)| *of == d));
    let ordinary = sets(false).into_iter().filter(|((_, _, d), _)| !is_blind[*d]);
    let mut pools = PerDimension::from_fn(|_| Pool::default());
    for ((person, side, d), values) in blind.iter().map(|(k, v)| (*k, v.clone())).chain(ordinary) {
        let mean = values.iter().sum::<f64>() / real(values.len());
        let pool = &mut pools[d];
        pool.freedom += values.len() - 1;
        pool.squares += values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
        pool.count += values.len();
        pool.sum += values.iter().sum::<f64>();
        let variance = people.get(person).map_or(0.0, |p| variance_among(model, *p, d));
        pool.among_people += variance * real(values.len() - 1);
        let (low, high) = values
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
        if pool.widest.is_none_or(|(_, _, apart)| high - low > apart) {
            pool.widest = Some((person, side, high - low));
        }
    }
    let repeated = pools.values().filter(|pool| pool.freedom > 0).count();
    pools
        .iter()
        .filter_map(|(dimension, pool)| {
            let widest = pool.widest?;
            let usual_mm = dimension.measuring_error_mm();
            let tail = ChiSquared::new(real(pool.freedom)).map_or(1.0, |chi| {
                chi.sf(pool.squares / (usual_mm * usual_mm + ROUNDING_VARIANCE))
            });
            let variance = pool.squares / real(pool.freedom);
            let tem_mm = variance.sqrt();
            Some(Repeatability {
                dimension,
                freedom: pool.freedom,
                blind: is_blind[dimension],
                tem_mm,
                relative_percent: 100.0 * tem_mm * real(pool.count) / pool.sum,
                usual_mm,
                reliability: 1.0 - variance * real(pool.freedom) / pool.among_people,
                widest,
                flagged: tail < REPEATS_TAIL / real(repeated),
            })
        })
        .collect()
}

/// Variance of readings of a dimension among people of one sex and age, mm^2; where no sex is
/// stated, the mean of both.
fn variance_among(model: &HandModel, population: Population, d: Dimension) -> f64 {
    model
        .components(population)
        .iter()
        .map(|(weight, component)| weight * component.reading(d).sd().powi(2))
        .sum()
}

fn biases(expected: &BTreeMap<Place, f64>, own: &[Taken]) -> Vec<Bias> {
    // A person's own proportions depart from the expected in all their readings alike, so the
    // person counts, not the reading.
    let mut departures: PerDimension<BTreeMap<usize, Vec<f64>>> = PerDimension::default();
    for r in own {
        if let Some(mm) = expected.get(&(r.person, r.side, r.dimension)) {
            departures[r.dimension].entry(r.person).or_default().push(r.mm - mm);
        }
    }
    let enough = |people: &BTreeMap<usize, Vec<f64>>| people.len() >= BIAS_FROM;
    let dimensions = departures.values().filter(|people| enough(people)).count();
    departures
        .iter()
        .filter(|(_, people)| enough(people))
        .filter_map(|(dimension, people)| {
            let means: Vec<f64> = people
                .values()
                .map(|values| values.iter().sum::<f64>() / real(values.len()))
                .collect();
            let n = real(means.len());
            let mean = means.iter().sum::<f64>() / n;
            let variance = means.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
            let error = (variance / n).sqrt();
            let t = StudentsT::new(0.0, 1.0, n - 1.0).ok()?;
            let reach = t.inverse_cdf(f64::midpoint(1.0, BIAS_CONFIDENCE)) * error;
            let tail = 2.0 * t.sf(mean.abs() / error.max(f64::MIN_POSITIVE));
            let large = mean.abs() > BIAS_OF_ERROR * dimension.measuring_error_mm();
            Some(Bias {
                dimension,
                readings: people.values().map(Vec::len).sum(),
                people: people.len(),
                mm: mean,
                low_mm: mean - reach,
                high_mm: mean + reach,
                flagged: large && tail < BIAS_TAIL / real(dimensions),
            })
        })
        .collect()
}

fn digits(own: &[Taken]) -> Option<Digits> {
    let mut counts = [0usize; 10];
    for r in own.iter().filter(|r| (r.mm - r.mm.round()).abs() < 1e-6 && r.mm < 1e6) {
        let last = r.mm.round() % 10.0;
        if let Some(count) = (0..10_u8).position(|digit| f64::from(digit) == last) {
            counts[count] += 1;
        }
    }
    let all: usize = counts.iter().sum();
    if all < DIGITS_FROM {
        return None;
    }
    let share = real(all) / 10.0;
    let chi_squared = counts.iter().map(|c| (real(*c) - share).powi(2) / share).sum();
    let probability = ChiSquared::new(9.0).ok()?.sf(chi_squared);
    Some(Digits { counts, chi_squared, probability, flagged: probability < DIGITS_TAIL })
}
