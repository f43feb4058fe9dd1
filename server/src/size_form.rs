//! What is asked of the sizes, as it is typed in a form.

use analysis::dimension::Dimension;
use analysis::draft::GloveOptions;
use analysis::hand::{Hands, Side};
use analysis::model::Population;
use analysis::sizing::curve::MOST_SIZES;
use analysis::units::{self, Unit};
use serde::{Deserialize, Serialize};
use utoipa::IntoParams;

use crate::error::Problem;
use crate::sizing::{By, For, Quick, SizeOrder};
use crate::store::fabric::Fabric;

/// People not known yet taken at most.
pub const MOST_UNDERSTUDIES: u64 = 500;

/// The form. An empty input means the default.
#[derive(Debug, Clone, Default, Deserialize, Serialize, IntoParams)]
#[serde(default)]
pub struct SizeForm {
    /// How many sizes.
    pub sizes: String,
    /// People not known yet.
    pub understudies: String,
    /// Id of a fabric.
    pub fabric: String,
    /// Key of the population stock is for; empty for the cast.
    #[serde(rename = "for")]
    pub chosen_for: String,
    /// `centres`, or empty for real hands.
    pub by: String,
    /// Codes of the performers whose gloves are the sizes.
    pub kept: String,
    /// Key of a population whose coverage is asked for.
    pub also: String,
    /// Somebody new: key of the population to compare with.
    pub who: String,
    /// Hand girth, as typed.
    pub girth: String,
    /// Hand length, as typed.
    pub length: String,
    /// Girth of the middle finger's knuckle, as typed.
    pub knuckle: String,
    /// Key of the paper that gloves are printed on; A4 where it is empty.
    pub paper: String,
}

/// Readings by which somebody new is sized: input and dimension (assumed to be the quickest that
/// say most: once round the hand, once along it, once round a finger).
const QUICK: [(&str, Dimension); 3] = [
    ("girth", Dimension::HandGirth),
    ("length", Dimension::HandLength),
    ("knuckle", Dimension::MiddleKnuckleGirth),
];

/// A whole number within bounds, or nothing for an empty input.
///
/// # Errors
/// A refusal at the field.
pub fn whole(field: &str, text: &str, low: u64, high: u64) -> Result<Option<u64>, Problem> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse() {
        Ok(number) if (low..=high).contains(&number) => Ok(Some(number)),
        _ => Err(Problem::at(field, "number_out_of_bounds").with("least", low).with("most", high)),
    }
}

/// What a list offers no choice of.
#[must_use]
pub fn unknown(field: &str) -> Problem {
    Problem::at(field, "not_on_the_list")
}

fn population(field: &str, key: &str) -> Result<Option<Population>, Problem> {
    match key {
        "" => Ok(None),
        key => Population::from_key(key).map(Some).ok_or_else(|| unknown(field)),
    }
}

impl SizeForm {
    /// The fabric asked for.
    ///
    /// # Errors
    /// A refusal where the production has no such fabric.
    pub fn fabric<'a>(&self, fabrics: &'a [Fabric]) -> Result<Option<&'a Fabric>, Problem> {
        match self.fabric.as_str() {
            "" => Ok(None),
            id => {
                let found = fabrics.iter().find(|fabric| fabric.id.to_string() == id);
                found.map(Some).ok_or_else(|| unknown("fabric"))
            }
        }
    }

    /// The order, for performers of these codes.
    ///
    /// # Errors
    /// A refusal at the first input that is not understood.
    pub fn order(&self, options: GloveOptions, codes: &[&str]) -> Result<SizeOrder, Problem> {
        let sizes = whole("sizes", &self.sizes, 1, MOST_SIZES as u64)?;
        let by = match self.by.as_str() {
            "" | "real_hands" => By::RealHands,
            "centres" => By::Centres,
            _ => return Err(unknown("by")),
        };
        let stock = match self.chosen_for.as_str() {
            "cast" => None,
            key => population("for", key)?,
        };
        Ok(SizeOrder {
            options,
            chosen_for: stock.map_or(For::Cast, For::Stock),
            by,
            sizes: sizes.and_then(|sizes| usize::try_from(sizes).ok()),
            kept: self.kept(codes)?,
            understudies: whole("understudies", &self.understudies, 0, MOST_UNDERSTUDIES)?,
            also: population("also", &self.also)?,
            quick: self.quick()?,
        })
    }

    fn kept(&self, codes: &[&str]) -> Result<Vec<String>, Problem> {
        let separator = |c: char| c.is_whitespace() || matches!(c, ',' | ';');
        let mut kept: Vec<String> = Vec::new();
        for code in self.kept.split(separator).filter(|code| !code.is_empty()) {
            if !codes.contains(&code) {
                let code: String = code.chars().take(20).collect();
                return Err(Problem::at("kept", "performer_code_unknown").with("code", code));
            }
            if !kept.iter().any(|known| known == code) {
                kept.push(code.to_owned());
            }
        }
        if kept.len() > MOST_SIZES {
            return Err(Problem::at("kept", "too_many_codes").with("most", MOST_SIZES));
        }
        Ok(kept)
    }

    fn quick(&self) -> Result<Option<Quick>, Problem> {
        let typed = [&self.girth, &self.length, &self.knuckle];
        let mut readings = Vec::new();
        for ((field, dimension), text) in QUICK.into_iter().zip(typed) {
            if !text.trim().is_empty() {
                let typed = units::parse(text, Unit::Mm).map_err(|error| {
                    Problem::at(field, error.code())
                        .with("text", error.text())
                        .with("least", units::SMALLEST_READING_MM)
                        .with("most", units::LARGEST_READING_MM)
                })?;
                readings.push((Side::Right, dimension, typed.mm));
            }
        }
        let population = population("who", &self.who)?.unwrap_or(Population::Adults);
        let hands = Hands::from_readings(&readings);
        Ok((!readings.is_empty()).then_some(Quick { population, hands }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(form: &SizeForm) -> Option<String> {
        form.order(GloveOptions::default(), &["TW01", "TW02"]).err().and_then(|p| p.field)
    }

    #[test]
    fn an_empty_form_is_the_default_and_nonsense_is_refused_at_its_input() {
        let order = SizeForm::default().order(GloveOptions::default(), &[]).expect("understood");
        assert!(order.quick.is_none() && order.kept.is_empty() && order.sizes.is_none());
        let form = |set: fn(&mut SizeForm)| {
            let mut form = SizeForm::default();
            set(&mut form);
            form
        };
        for (field, form) in [
            ("sizes", form(|f| f.sizes = "13".into())),
            ("sizes", form(|f| f.sizes = "-1".into())),
            ("understudies", form(|f| f.understudies = "a few".into())),
            ("for", form(|f| f.chosen_for = "girl_99".into())),
            ("by", form(|f| f.by = "guess".into())),
            ("kept", form(|f| f.kept = "TW01 TW09".into())),
            ("also", form(|f| f.also = "giants".into())),
            ("girth", form(|f| f.girth = "wide".into())),
            ("length", form(|f| f.length = "0".into())),
            ("knuckle", form(|f| f.knuckle = "-5".into())),
            ("who", form(|f| f.who = "nobody".into())),
        ] {
            assert_eq!(refused(&form).as_deref(), Some(field));
        }
    }

    #[test]
    fn codes_are_taken_apart_and_counted_once_and_readings_in_any_unit() {
        let form = SizeForm {
            kept: "TW02, TW01;TW02".to_owned(),
            girth: "20,3 cm".to_owned(),
            who: "boy_9".to_owned(),
            ..SizeForm::default()
        };
        let order = form.order(GloveOptions::default(), &["TW01", "TW02"]).expect("understood");
        assert_eq!(order.kept, ["TW02", "TW01"]);
        let quick = order.quick.expect("one reading");
        let girth = quick.hands.right[Dimension::HandGirth].expect("girth").median_mm;
        assert!((girth - 203.0).abs() < 1e-9);
        assert_eq!(quick.population.key(), "boy_9");
    }
}
