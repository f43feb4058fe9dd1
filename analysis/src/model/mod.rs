//! The hand model: what a whole pair of hands looks like, given what was measured of it.
//!
//! Logarithms of the 25 dimensions of both hands are jointly normal within a population:
//! `x = mean + person + side`, with the person part common to both hands. [`derive`] builds the
//! parameters from [`crate::reference`]; filling is conditioning on the readings, measuring error
//! included; unspecified populations are mixtures whose weights follow the readings.

mod children;
mod component;
pub mod derive;
mod estimate;
pub mod expectation_maximisation;
mod fill;
pub(crate) mod joint;
mod maximum_entropy;
mod numbers;
mod population;
pub(crate) mod predictive;
mod published;
mod sample;
pub mod workshop;

use std::sync::{Arc, OnceLock};

use nalgebra::{DMatrix, DVector};

pub use derive::{LogNormal, PersonFigures};
pub use estimate::{Basis, Estimate, HandEstimate};
pub use numbers::{CovarianceNumbers, DimensionNumbers, ModelNumbers, PopulationNumbers};
pub use population::Population;
pub use published::LogPair;
pub use sample::Sampler;

use crate::dimension::Dimension;
use crate::hand::{Hands, Side};
use crate::plan::Belief;
use crate::reference::children::{OLDEST, YOUNGEST};
use crate::reference::{Reference, Sex};
use children::ChildFigures;
use component::Component;
use joint::{Joint, Observation, covariance, observations};
use predictive::{Part, Predictive};

/// Both hands, complete: measured where measured, estimated elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct FilledHands {
    /// The left hand.
    pub left: HandEstimate,
    /// The right hand.
    pub right: HandEstimate,
    /// Populations used and their weights given the readings, adding up to 1.
    pub weights: Vec<(Population, f64)>,
}

impl FilledHands {
    /// One hand.
    #[must_use]
    pub fn side(&self, side: Side) -> &HandEstimate {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }
}

/// Published figures, ready for use. Cheap to clone.
#[derive(Debug, Clone)]
pub struct HandModel {
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    women: PersonFigures,
    men: PersonFigures,
    /// Women, men, then girls and boys by age.
    components: Vec<Component>,
}

impl HandModel {
    /// The model derived from the published figures; derived once and shared.
    #[must_use]
    pub fn published() -> HandModel {
        static PUBLISHED: OnceLock<HandModel> = OnceLock::new();
        PUBLISHED.get_or_init(|| HandModel::derived(&Reference::published())).clone()
    }

    /// The model derived from a reference.
    #[must_use]
    pub fn derived(reference: &Reference) -> HandModel {
        let women = derive::derive(reference, Sex::Female);
        let men = derive::derive(reference, Sex::Male);
        let mut components = vec![
            Component::adult(Population::Women, &women),
            Component::adult(Population::Men, &men),
        ];
        for (sex, adult) in [(Sex::Female, &women), (Sex::Male, &men)] {
            let figures = ChildFigures::derive(sex, adult);
            components.extend((YOUNGEST..=OLDEST).map(|age| Component::child(age, sex, &figures)));
        }
        HandModel { shared: Arc::new(Shared { women, men, components }) }
    }

    /// The same model for readings taken as the published sources took theirs: the adults'
    /// measuring error is the one each figure was published with.
    #[must_use]
    pub fn with_source_error(&self) -> HandModel {
        let Shared { women, men, components } = &*self.shared;
        let mut components = components.clone();
        for (component, figures) in components.iter_mut().zip([women, men]) {
            component.error = figures.source_error;
        }
        self.with_components(components)
    }

    fn with_components(&self, components: Vec<Component>) -> HandModel {
        let (women, men) = (self.shared.women.clone(), self.shared.men.clone());
        HandModel { shared: Arc::new(Shared { women, men, components }) }
    }

    /// The adult figures of one sex and what they rest on.
    #[must_use]
    pub fn adult(&self, sex: Sex) -> &PersonFigures {
        match sex {
            Sex::Female => &self.shared.women,
            Sex::Male => &self.shared.men,
        }
    }

    /// Populations of one sex and age behind a population, each with its weight before any
    /// reading: halves where no sex is stated (assumed).
    pub(crate) fn components(&self, population: Population) -> Vec<(f64, &Component)> {
        let ages = usize::from(OLDEST - YOUNGEST) + 1;
        let of = |index: usize, weight: f64| {
            self.shared.components.get(index).map(|component| (weight, component))
        };
        let child = |age_years: u8, sex: Sex, weight: f64| {
            let age = usize::from(age_years.clamp(YOUNGEST, OLDEST) - YOUNGEST);
            let first = match sex {
                Sex::Female => 2,
                Sex::Male => 2 + ages,
            };
            of(first + age, weight)
        };
        let found = match population {
            Population::Women => vec![of(0, 1.0)],
            Population::Men => vec![of(1, 1.0)],
            Population::Adults => vec![of(0, 0.5), of(1, 0.5)],
            Population::Child { age_years, sex: Some(sex) } => vec![child(age_years, sex, 1.0)],
            Population::Child { age_years, sex: None } => {
                Sex::BOTH.into_iter().map(|sex| child(age_years, sex, 0.5)).collect()
            }
        };
        found.into_iter().flatten().collect()
    }

    /// Mean and SD of the logarithm of one reading among people of a population of one sex; for a
    /// mixture, of its first part.
    #[must_use]
    pub fn reading(&self, population: Population, dimension: Dimension) -> LogNormal {
        self.components(population)
            .first()
            .map_or(LogNormal { mu: 0.0, sigma: 1.0 }, |(_, c)| c.reading(dimension))
    }

    /// The readings conditioned under each population behind `population`, with its prior weight.
    pub(crate) fn joints<'a>(
        &'a self,
        population: Population,
        observed: &'a [Observation],
    ) -> Vec<(f64, Joint<'a>)> {
        self.components(population)
            .into_iter()
            .map(|(prior, component)| (prior, Joint::new(component, observed)))
            .collect()
    }

    /// Natural logarithm of the joint density of the readings' logarithms.
    #[must_use]
    pub fn log_likelihood(&self, population: Population, hands: &Hands) -> f64 {
        let observed = observations(hands);
        let terms: Vec<f64> = self
            .joints(population, &observed)
            .iter()
            .map(|(prior, joint)| prior.ln() + joint.log_likelihood)
            .collect();
        predictive::ln_sum_exp(&terms)
    }

    /// Fills both hands of one person, measuring error included.
    #[must_use]
    pub fn fill(&self, population: Population, hands: &Hands) -> FilledHands {
        let observed = observations(hands);
        let joints = self.joints(population, &observed);
        let weights = fill::weights(&joints);
        let posteriors: Vec<_> = joints
            .iter()
            .zip(&weights)
            .filter(|(_, w)| **w > predictive::NEGLIGIBLE)
            .map(|((_, joint), w)| (*w, joint.posterior()))
            .collect();
        FilledHands {
            left: fill::hand(Side::Left, &posteriors, &observed),
            right: fill::hand(Side::Right, &posteriors, &observed),
            weights: joints
                .iter()
                .zip(weights)
                .map(|((_, joint), w)| (joint.component.population, w))
                .collect(),
        }
    }

    /// Mean and covariance of every true log dimension, mixture included.
    pub(crate) fn belief(&self, population: Population, observed: &[Observation]) -> Belief {
        let joints = self.joints(population, observed);
        let weights = fill::weights(&joints);
        let parts: Vec<_> = joints
            .iter()
            .zip(&weights)
            .filter(|(_, w)| **w > predictive::NEGLIGIBLE)
            .map(|((_, joint), w)| (*w, joint.posterior_covariance()))
            .collect();
        let mut mean = DVector::zeros(joint::SLOTS);
        for (w, (m, _)) in &parts {
            mean.axpy(*w, m, 1.0);
        }
        let mut covariance = DMatrix::zeros(joint::SLOTS, joint::SLOTS);
        for (w, (m, c)) in &parts {
            let apart = m - &mean;
            covariance += c * *w;
            covariance.ger(*w, &apart, &apart, 1.0);
        }
        let mut mm = [0.0; joint::SLOTS];
        for (mm, log) in mm.iter_mut().zip(mean.iter()) {
            *mm = log.exp();
        }
        Belief { mm, covariance }
    }

    /// What a tape would read for one dimension, given everything else that was read: median and
    /// 90 % interval of one reading. A reading of this very dimension and side is left out.
    #[must_use]
    pub fn expected(
        &self,
        population: Population,
        hands: &Hands,
        side: Side,
        dimension: Dimension,
    ) -> Estimate {
        self.predict(population, hands, side, dimension).estimate(Basis::Estimated)
    }

    /// Predictive distribution behind [`HandModel::expected`].
    pub(crate) fn predict(
        &self,
        population: Population,
        hands: &Hands,
        side: Side,
        dimension: Dimension,
    ) -> Predictive {
        let others: Vec<_> = observations(hands)
            .into_iter()
            .filter(|o| (o.side, o.dimension) != (side, dimension))
            .collect();
        let joints = self.joints(population, &others);
        let weights = fill::weights(&joints);
        let parts: Vec<Part> = joints
            .iter()
            .zip(weights)
            .map(|((_, joint), weight)| {
                let cross: Vec<f64> = others
                    .iter()
                    .map(|o| covariance(joint.component, (o.side, o.dimension), (side, dimension)))
                    .collect();
                let (mean, variance) = joint.predict(&cross, dimension);
                Part { weight, mean, sd: variance.sqrt() }
            })
            .collect();
        Predictive::new(&parts)
    }
}
