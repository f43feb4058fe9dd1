//! What can be said of the measurers of a production, for the page and the API.

use std::collections::HashSet;

use analysis::dimension::{Dimension, Instrument};
use analysis::hand::Side;
use analysis::model::{HandModel, Population};
use analysis::observer::{Bias, Digits, ObserverReport, Repeatability, Taken, observe};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::person::Person;

/// One measurer.
#[derive(Debug, Serialize, ToSchema)]
pub struct MeasurerReport {
    /// Account name.
    pub name: String,
    /// Readings behind the figures.
    pub readings: usize,
    /// Whether nothing is worth a word.
    pub is_good: bool,
    /// Agreement of repeats, by dimension.
    pub repeats: Vec<RepeatRow>,
    /// Drift, by dimension.
    pub biases: Vec<BiasRow>,
    /// Last digits, from fifty readings on.
    pub digits: Option<DigitsRow>,
}

/// Agreement of repeats of one dimension.
#[derive(Debug, Serialize, ToSchema)]
pub struct RepeatRow {
    /// Which dimension.
    pub dimension: Dimension,
    /// Degrees of freedom: repeats beyond the first of each hand.
    pub pairs: usize,
    /// Whether they were taken in the repeat exercise.
    pub blind: bool,
    /// Technical error of measurement, mm.
    pub tem_mm: f64,
    /// The same in percent of the mean.
    pub relative_percent: f64,
    /// Usual error of one reading, mm.
    pub usual_mm: f64,
    /// Coefficient of reliability.
    pub reliability: f64,
    /// Code of the performer whose readings lie furthest apart.
    pub widest_code: String,
    /// Their hand.
    pub widest_side: Side,
    /// How far, mm.
    pub widest_mm: f64,
    /// Whether they disagree more than usual.
    pub flagged: bool,
}

/// Drift of one dimension.
#[derive(Debug, Serialize, ToSchema)]
pub struct BiasRow {
    /// Which dimension.
    pub dimension: Dimension,
    /// Of how many people.
    pub people: usize,
    /// Mean departure from what the person's other readings lead to expect, mm.
    pub mm: f64,
    /// Lower end of its 95 % interval, mm.
    pub low_mm: f64,
    /// Upper end, mm.
    pub high_mm: f64,
    /// Whether it is worth a word.
    pub flagged: bool,
    /// Key of what to do about it.
    pub advice: &'static str,
}

/// Last digits of whole millimetres.
#[derive(Debug, Serialize, ToSchema)]
pub struct DigitsRow {
    /// How often 0 to 9 came last.
    pub counts: [usize; 10],
    /// Chi-squared against equal shares, nine degrees of freedom.
    pub chi_squared: f64,
    /// Probability of as much.
    pub probability: f64,
    /// Whether some digits are preferred.
    pub flagged: bool,
}

/// Reports on everybody who measured, in the order of their names. Only readings taken by a
/// measurer with a tape count, and none that an open flag calls a slip: those are another matter.
#[must_use]
pub fn report(model: &HandModel, people: &[Person], blind: &HashSet<Uuid>) -> Vec<MeasurerReport> {
    let mut names: Vec<&str> = Vec::new();
    let mut taken = Vec::new();
    for (place, person) in people.iter().enumerate() {
        let trusted = person.assess(model).trusted;
        let counts = |r: &&crate::store::reading::Reading| {
            r.origin == "form" && trusted.side(r.side)[r.dimension].is_some()
        };
        for r in person.readings.iter().filter(counts) {
            let known = names.iter().position(|name| *name == r.measurer);
            let measurer = known.unwrap_or_else(|| {
                names.push(&r.measurer);
                names.len() - 1
            });
            let (side, dimension, mm) = (r.side, r.dimension, r.mm);
            let blind = blind.contains(&r.id);
            taken.push(Taken { measurer, person: place, side, dimension, mm, blind });
        }
    }
    let populations: Vec<Population> = people.iter().map(|p| p.performer.population).collect();
    let mut reports: Vec<MeasurerReport> = observe(model, &populations, &taken)
        .into_iter()
        .map(|found| of_one(names.get(found.measurer).copied().unwrap_or(""), found, people))
        .collect();
    reports.sort_by(|a, b| a.name.cmp(&b.name));
    reports
}

fn of_one(name: &str, found: ObserverReport, people: &[Person]) -> MeasurerReport {
    let is_good = !found.repeats.iter().any(|r| r.flagged)
        && !found.biases.iter().any(|b| b.flagged)
        && !found.digits.is_some_and(|d| d.flagged);
    MeasurerReport {
        name: name.to_owned(),
        readings: found.readings,
        is_good,
        repeats: found.repeats.into_iter().map(|r| repeat_row(r, people)).collect(),
        biases: found.biases.into_iter().map(bias_row).collect(),
        digits: found.digits.map(digits_row),
    }
}

fn repeat_row(found: Repeatability, people: &[Person]) -> RepeatRow {
    let (person, widest_side, widest_mm) = found.widest;
    RepeatRow {
        dimension: found.dimension,
        pairs: found.freedom,
        blind: found.blind,
        tem_mm: hundredth(found.tem_mm),
        relative_percent: hundredth(found.relative_percent),
        usual_mm: hundredth(found.usual_mm),
        reliability: (found.reliability * 1000.0).round() / 1000.0,
        widest_code: people.get(person).map(|p| p.performer.code.clone()).unwrap_or_default(),
        widest_side,
        widest_mm: hundredth(widest_mm),
        flagged: found.flagged,
    }
}

fn bias_row(found: Bias) -> BiasRow {
    let advice = match (found.dimension.instrument(), found.mm > 0.0) {
        (Instrument::Tape, true) => "tape_slack",
        (Instrument::Tape, false) => "tape_tight",
        (Instrument::Ruler, _) => "ruler",
        (Instrument::Calliper, _) => "calliper",
    };
    BiasRow {
        dimension: found.dimension,
        people: found.people,
        mm: hundredth(found.mm),
        low_mm: hundredth(found.low_mm),
        high_mm: hundredth(found.high_mm),
        flagged: found.flagged,
        advice,
    }
}

fn digits_row(found: Digits) -> DigitsRow {
    let Digits { counts, chi_squared, probability, flagged } = found;
    let probability = (probability * 1e4).round() / 1e4;
    DigitsRow { counts, chi_squared: hundredth(chi_squared), probability, flagged }
}

fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
