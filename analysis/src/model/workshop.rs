//! Learning from the workshop's own hands.
//!
//! The person part of the model (the mean of a person's two hands) is estimated again by
//! [`super::expectation_maximisation`], with the published figures as a prior of stated weight.
//! Left/right differences and measuring errors stay as published. Everything is computed from the
//! readings handed in, every time: a performer who was erased is gone from it.

use nalgebra::{DMatrix, DVector};

use super::component::Component;
use super::expectation_maximisation::{Entry, Prior, Row, estimate};
use super::fill;
use super::joint::{error_share, observations};
use super::{HandModel, Population};
use crate::dimension::{Dimension, PerDimension};
use crate::hand::{Hands, Side};

/// Below this many hands nothing is learned.
pub const FEWEST_HANDS: usize = 30;
/// Hands' owners the published means count for. Assumed: a workshop's tape and its people soon say
/// more about its means than other people's.
pub const MEAN_WEIGHT: f64 = 30.0;
/// Owners the published covariance counts for. Assumed: correlations take hundreds of people.
pub const COVARIANCE_WEIGHT: f64 = 200.0;

const ACCURACY: f64 = 1e-3;
const MOST_STEPS: usize = 50;

/// What was learned, for the page to show.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// Hands with at least one reading.
    pub hands: usize,
    /// Women and men they count for; people of unspecified sex are shared out by their readings.
    pub people: [f64; 2],
    /// Mean of women's and men's hands over the published one, by dimension.
    pub ratio: [PerDimension<f64>; 2],
    /// Their spread over the published one: SDs of the logarithm of one reading.
    pub spread: [PerDimension<f64>; 2],
}

/// The model refined by the workshop's own hands, and what was learned; the model as it was, and
/// `None`, below [`FEWEST_HANDS`]. Hand in readings without open flags only. Children do not count:
/// their growth is published, and a workshop seldom has thirty of one age.
#[must_use]
pub fn learn(model: &HandModel, people: &[(Population, Hands)]) -> (HandModel, Option<Learned>) {
    let hands = hands_of_adults(people);
    if hands < FEWEST_HANDS {
        return (model.clone(), None);
    }
    let mut components = model.shared.components.clone();
    let mut learned = Learned {
        hands,
        people: [0.0; 2],
        ratio: [PerDimension::from_fn(|_| 1.0), PerDimension::from_fn(|_| 1.0)],
        spread: [PerDimension::from_fn(|_| 1.0), PerDimension::from_fn(|_| 1.0)],
    };
    for (index, component) in components.iter_mut().take(2).enumerate() {
        let rows: Vec<Row> = people
            .iter()
            .map(|(population, hands)| Row {
                entries: entries(component, hands),
                weight: weight_in(model, *population, hands, component.population),
            })
            .filter(|row| row.weight > 0.0 && !row.entries.is_empty())
            .collect();
        learned.people[index] = rows.iter().map(|r| r.weight).sum();
        if let Some(next) = refit(component, &rows) {
            learned.ratio[index] =
                PerDimension::from_fn(|d| (next.log_mean[d] - component.log_mean[d]).exp());
            learned.spread[index] =
                PerDimension::from_fn(|d| next.reading(d).sigma / component.reading(d).sigma);
            *component = next;
        }
    }
    (model.with_components(components), Some(learned))
}

/// How many hands of adults have a reading: what may be learned from.
#[must_use]
pub fn hands_of_adults(people: &[(Population, Hands)]) -> usize {
    people
        .iter()
        .filter(|(population, _)| !matches!(population, Population::Child { .. }))
        .flat_map(|(_, hands)| Side::BOTH.map(|s| hands.side(s).values().flatten().count()))
        .filter(|readings| *readings > 0)
        .count()
}

/// How much a person counts among the people of one component.
fn weight_in(
    model: &HandModel,
    population: Population,
    hands: &Hands,
    component: Population,
) -> f64 {
    let observed = observations(hands);
    let joints = model.joints(population, &observed);
    let weights = fill::weights(&joints);
    joints
        .iter()
        .zip(weights)
        .filter(|((_, joint), _)| joint.component.population == component)
        .map(|(_, weight)| weight)
        .sum()
}

/// What a person's readings say of the mean of the two hands, those taken at home apart: one hand alone is off by its side's
/// departure, two halve it.
fn entries(component: &Component, hands: &Hands) -> Vec<Entry> {
    Dimension::ALL
        .into_iter()
        .filter_map(|d| {
            let read: Vec<(f64, f64)> = Side::BOTH
                .into_iter()
                .filter_map(|side| hands.side(side)[d])
                .filter(|s| s.median_mm > 0.0 && s.median_mm.is_finite() && !s.is_home)
                .map(|s| (s.median_mm.ln(), error_share(&s)))
                .collect();
            let error = component.error[d].powi(2);
            // The departures of the two hands are opposite, so they cancel in their mean.
            let departure = component.difference[(d.index(), d.index())] / 2.0;
            let (value, error_variance) = match read.as_slice() {
                [(value, share)] => (*value, departure + error * share),
                [(a, share_a), (b, share_b)] => {
                    (f64::midpoint(*a, *b), error * (share_a + share_b) / 4.0)
                }
                _ => return None,
            };
            Some(Entry { at: d.index(), value, error_variance })
        })
        .collect()
}

fn refit(component: &Component, rows: &[Row]) -> Option<Component> {
    let prior = Prior {
        mean: DVector::from_iterator(Dimension::COUNT, component.log_mean.values().copied()),
        // The mean of two hands has half the covariance of (left + right) / sqrt 2.
        covariance: &component.mean * 0.5,
        mean_weight: MEAN_WEIGHT,
        covariance_weight: COVARIANCE_WEIGHT,
    };
    let found = estimate(rows, &prior, ACCURACY, MOST_STEPS)?;
    let person: DMatrix<f64> = found.covariance;
    let within = person + &component.difference * 0.5;
    let log_mean = PerDimension::from_fn(|d| found.mean[d.index()]);
    Some(Component {
        error: component.error,
        ..Component::new(component.population, log_mean, within, &component.difference)
    })
}
