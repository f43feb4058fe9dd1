//! Measurers over a production: do their repeats agree, do their readings drift, do they round.
//!
//! - **Technical error of measurement**: `TEM = sqrt(sum of squares within repeats / degrees of
//!   freedom)`; for pairs this is `sqrt(sum d^2 / 2n)`. **Coefficient of reliability**:
//!   `R = 1 - TEM^2 / SD^2`, SD that of the dimension among people (Ulijaszek and Kerr 1999,
//!   British Journal of Nutrition 82, 165-177).
//! - **Bias**: mean departure of a measurer's readings from what all other readings of the same
//!   person lead to expect, with a 95 % t interval.
//! - **Digit preference**: last digits of whole millimetres against equal shares, chi-squared with
//!   nine degrees of freedom.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

use crate::dimension::{Dimension, PerDimension};
use crate::hand::{Hands, Side};
use crate::model::{HandModel, Population};

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
}

/// Agreement of repeats of one dimension.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Repeatability {
    /// Which dimension.
    pub dimension: Dimension,
    /// Degrees of freedom: repeats beyond the first of each hand.
    pub freedom: usize,
    /// Technical error of measurement, mm.
    pub tem_mm: f64,
    /// Usual error of one reading, mm.
    pub usual_mm: f64,
    /// Coefficient of reliability, at most 1.
    pub reliability: f64,
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
    let mut measurers: Vec<usize> = readings.iter().map(|r| r.measurer).collect();
    measurers.sort_unstable();
    measurers.dedup();
    let hands: Vec<Hands> = (0..people.len())
        .map(|person| {
            let own: Vec<_> = readings
                .iter()
                .filter(|r| r.person == person)
                .map(|r| (r.side, r.dimension, r.mm))
                .collect();
            Hands::from_readings(&own)
        })
        .collect();
    measurers
        .into_iter()
        .map(|measurer| {
            let own: Vec<Taken> = readings
                .iter()
                .filter(|r| r.measurer == measurer && r.mm > 0.0 && r.mm.is_finite())
                .copied()
                .collect();
            ObserverReport {
                measurer,
                readings: own.len(),
                repeats: repeats(model, people, &own),
                biases: biases(model, people, &hands, &own),
                digits: digits(&own),
            }
        })
        .collect()
}

#[expect(clippy::cast_precision_loss, reason = "counts of readings")]
fn real(count: usize) -> f64 {
    count as f64
}

fn repeats(model: &HandModel, people: &[Population], own: &[Taken]) -> Vec<Repeatability> {
    let mut pooled = PerDimension::from_fn(|_| (0usize, 0.0));
    let mut sets: Vec<((usize, Side, Dimension), Vec<f64>)> = Vec::new();
    for r in own {
        let key = (r.person, r.side, r.dimension);
        match sets.iter_mut().find(|(k, _)| *k == key) {
            Some((_, values)) => values.push(r.mm),
            None => sets.push((key, vec![r.mm])),
        }
    }
    for ((_, _, d), values) in &sets {
        let mean = values.iter().sum::<f64>() / real(values.len());
        let (freedom, squares) = &mut pooled[*d];
        *freedom += values.len() - 1;
        *squares += values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    }
    let repeated = pooled.values().filter(|(freedom, _)| *freedom > 0).count();
    pooled
        .iter()
        .filter(|(_, (freedom, _))| *freedom > 0)
        .map(|(dimension, (freedom, squares))| {
            let usual_mm = dimension.measuring_error_mm();
            let sd = people.first().map_or(1.0, |p| model.reading(*p, dimension).sd());
            let tail = ChiSquared::new(real(*freedom))
                .map_or(1.0, |chi| chi.sf(squares / (usual_mm * usual_mm + ROUNDING_VARIANCE)));
            let variance = squares / real(*freedom);
            Repeatability {
                dimension,
                freedom: *freedom,
                tem_mm: variance.sqrt(),
                usual_mm,
                reliability: 1.0 - variance / (sd * sd),
                flagged: tail < REPEATS_TAIL / real(repeated),
            }
        })
        .collect()
}

fn biases(model: &HandModel, people: &[Population], hands: &[Hands], own: &[Taken]) -> Vec<Bias> {
    // A person's own proportions depart from the expected in all their readings alike, so the
    // person counts, not the reading.
    let mut departures: PerDimension<Vec<(usize, Vec<f64>)>> = PerDimension::default();
    for r in own {
        if let (Some(population), Some(hands)) = (people.get(r.person), hands.get(r.person)) {
            let expected = model.expected(*population, hands, r.side, r.dimension);
            let by_person = &mut departures[r.dimension];
            match by_person.iter_mut().find(|(person, _)| *person == r.person) {
                Some((_, values)) => values.push(r.mm - expected.mm),
                None => by_person.push((r.person, vec![r.mm - expected.mm])),
            }
        }
    }
    let enough = |people: &[(usize, Vec<f64>)]| people.len() >= BIAS_FROM;
    let dimensions = departures.values().filter(|people| enough(people)).count();
    departures
        .iter()
        .filter(|(_, people)| enough(people))
        .filter_map(|(dimension, people)| {
            let means: Vec<f64> = people
                .iter()
                .map(|(_, values)| values.iter().sum::<f64>() / real(values.len()))
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
                readings: people.iter().map(|(_, values)| values.len()).sum(),
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
