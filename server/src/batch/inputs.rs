//! Everything a performer's drafts follow from, as text that can be kept and compared.

use analysis::dimension::Dimension;
use analysis::draft::GloveOptions;
use analysis::fabric::FabricFacts;
use analysis::hand::{HandSummary, Hands, Side, Summary};
use analysis::model::Population;
use serde::{Deserialize, Serialize};

use super::BatchPerformer;

/// A repeated reading of one dimension, summarised.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Measured {
    side: Side,
    dimension: Dimension,
    count: usize,
    median_mm: f64,
    spread_mm: f64,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    is_home: bool,
}

/// The inputs of a version. A new field needs a default, so that older versions can be read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DraftInputs {
    /// Version of the program: another one may draft otherwise.
    program: String,
    production: String,
    code: String,
    population: String,
    fabric: String,
    #[serde(default)]
    cloth: Option<FabricFacts>,
    options: GloveOptions,
    #[serde(default)]
    master: Option<f64>,
    /// Names the hand model where it has learned from the workshop's own readings.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    model: String,
    #[serde(default)]
    kept_flags: Vec<String>,
    measured: Vec<Measured>,
}

impl DraftInputs {
    /// The inputs of a performer's drafts.
    #[must_use]
    pub fn of(production: &str, performer: &BatchPerformer) -> DraftInputs {
        let side_of = |side: Side| {
            let hand: &HandSummary = performer.hands.side(side);
            hand.iter().filter_map(move |(dimension, summary)| {
                let Summary { count, median_mm, spread_mm, is_home } = (*summary)?;
                Some(Measured { side, dimension, count, median_mm, spread_mm, is_home })
            })
        };
        let mut kept_flags = performer.kept_flags.clone();
        kept_flags.sort();
        DraftInputs {
            program: env!("CARGO_PKG_VERSION").to_owned(),
            production: production.to_owned(),
            code: performer.code.clone(),
            population: performer.population.key(),
            fabric: performer.fabric.clone(),
            cloth: performer.cloth.clone(),
            options: performer.options,
            master: performer.master,
            model: String::new(),
            kept_flags,
            measured: Side::BOTH.into_iter().flat_map(side_of).collect(),
        }
    }

    /// The same, filled by a model of that name.
    #[must_use]
    pub fn with_model(self, model: &str) -> DraftInputs {
        DraftInputs { model: model.to_owned(), ..self }
    }

    /// Canonical text: the same inputs give the same text.
    #[must_use]
    pub fn text(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// Reads the text again; `None` when it is damaged.
    #[must_use]
    pub fn read(text: &str) -> Option<DraftInputs> {
        serde_json::from_str(text).ok()
    }

    /// Name of the production.
    #[must_use]
    pub fn production(&self) -> &str {
        &self.production
    }

    /// The performer as they were; without their call, which no draft follows from.
    #[must_use]
    pub fn performer(&self) -> BatchPerformer {
        let mut hands = Hands::default();
        for one in &self.measured {
            let Measured { count, median_mm, spread_mm, is_home, .. } = *one;
            hands.side_mut(one.side)[one.dimension] =
                Some(Summary { count, median_mm, spread_mm, is_home });
        }
        BatchPerformer {
            code: self.code.clone(),
            population: Population::from_key(&self.population).unwrap_or(Population::Adults),
            hands,
            kept_flags: self.kept_flags.clone(),
            call: String::new(),
            fabric: self.fabric.clone(),
            cloth: self.cloth.clone(),
            options: self.options,
            master: self.master,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inputs_come_back_from_their_text_and_draft_the_same_hands() {
        let readings = [
            (Side::Left, Dimension::HandLength, 181.3),
            (Side::Left, Dimension::HandLength, 182.1),
            (Side::Right, Dimension::WristGirth, 150.0),
        ];
        let performer = BatchPerformer {
            code: "A\"1".to_owned(),
            population: Population::Child { age_years: 9, sex: None },
            hands: Hands::from_readings(&readings),
            kept_flags: vec!["b".to_owned(), "a".to_owned()],
            call: "morning".to_owned(),
            fabric: "Kelp".to_owned(),
            cloth: Some(FabricFacts { usable_share: 0.55, ..FabricFacts::default() }),
            options: GloveOptions { hem_mm: 11.25, ..GloveOptions::default() },
            master: Some(0.02),
        };
        let inputs = DraftInputs::of("The Salt Stair", &performer);
        let again = DraftInputs::read(&inputs.text()).expect("readable");
        assert_eq!(again, inputs);
        let back = again.performer();
        assert_eq!(back.hands, performer.hands);
        assert_eq!(back.population, performer.population);
        assert_eq!((&back.cloth, back.master), (&performer.cloth, performer.master));
        assert_eq!(DraftInputs::of("The Salt Stair", &back), inputs);
        assert_eq!(DraftInputs::read("{\"program\":"), None);
    }
}
