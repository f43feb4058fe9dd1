//! People drawn from a population, to choose sizes for stock and to see whom sizes fit.

use super::misfit::{FitRules, Wearer};
use super::random::Deviates;
use crate::dimension::{Dimension, PerDimension};
use crate::hand::Side;
use crate::model::{HandModel, Population, Sampler};

/// Logarithms of every dimension, left hand then right.
pub(super) type Logs = [[f64; Dimension::COUNT]; 2];

/// People of one sex and age.
#[derive(Debug, Clone)]
pub(super) struct Group {
    /// Whose.
    pub population: Population,
    /// Mean of the logarithm, by dimension.
    pub log_mean: PerDimension<f64>,
    /// Everybody.
    pub people: Vec<Logs>,
}

/// Draws people of a population; of a mixture as many of each part as its weights say.
pub(super) fn drawn(
    model: &HandModel,
    population: Population,
    count: usize,
    seed: u64,
) -> Vec<Group> {
    let mut random = Deviates::new(seed);
    let mut groups = Vec::new();
    for (weight, component) in model.components(population) {
        let Some(sampler) = Sampler::new(model, component.population) else { continue };
        let share = (count as f64 * weight).round() as usize;
        let logs = |hands: [[f64; Dimension::COUNT]; 2]| hands.map(|hand| hand.map(f64::ln));
        groups.push(Group {
            population: component.population,
            log_mean: component.log_mean,
            people: (0..share).map(|_| logs(sampler.truth(|| random.normal()))).collect(),
        });
    }
    groups
}

/// The hands of logarithms.
pub(super) fn wearer(rules: &FitRules, log: impl Fn(Side, Dimension) -> f64) -> Wearer {
    Wearer::new(rules, |side, dimension| log(side, dimension).exp())
}

/// Invented people of a population, ready to be tried in sizes. The same seed gives the same people.
#[must_use]
pub fn people(
    model: &HandModel,
    population: Population,
    rules: &FitRules,
    count: usize,
    seed: u64,
) -> Vec<Wearer> {
    let groups = drawn(model, population, count, seed);
    let logs = groups.iter().flat_map(|group| &group.people);
    logs.map(|[left, right]| {
        wearer(rules, |side, d| if side == Side::Left { left[d.index()] } else { right[d.index()] })
    })
    .collect()
}
