//! A fitting as a phone or a form sends it: everything is text, understood and refused at its place.

use std::collections::BTreeMap;

use analysis::fitting::{Answer, FIGURE_MAX_MM, FitZone, Sign, Verdict};
use analysis::hand::Side;
use serde::Deserialize;
use serde::de::IntoDeserializer;
use serde::de::value::StrDeserializer;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::error::Problem;

/// Longest time a test glove is worn at a fitting, minutes (assumed: a day).
const WORN_MAX_MINUTES: u32 = 24 * 60;

/// A fitting as sent.
#[derive(Debug, Clone, Deserialize, ToSchema)]
pub struct SentFitting {
    /// UUID version 7 made by the phone.
    #[schema(value_type = Uuid)]
    pub id: String,
    /// The performer.
    #[schema(value_type = Uuid)]
    pub performer: String,
    /// `left` or `right`.
    #[schema(value_type = Side)]
    pub side: String,
    /// Id of the version that was sewn.
    #[schema(value_type = Uuid)]
    pub version: String,
    /// By key of the zone: one of the five answers, or mm with a minus for "take in".
    #[serde(default)]
    pub answers: BTreeMap<String, String>,
    /// Keys of the signs of constriction seen.
    #[serde(default)]
    #[schema(value_type = Vec<Sign>)]
    pub signs: Vec<String>,
    /// After how many minutes.
    #[serde(default)]
    pub worn_minutes: String,
    /// Remark.
    #[serde(default)]
    pub note: String,
    /// When, by the phone's clock, ms since 1970.
    #[serde(default)]
    pub taken_ms: i64,
}

/// A fitting that was understood.
#[derive(Debug, Clone)]
pub struct Tried {
    /// Made by the phone.
    pub id: Uuid,
    /// Whose hand.
    pub performer: Uuid,
    /// Which hand.
    pub side: Side,
    /// The version that was sewn.
    pub version: Uuid,
    /// What was said and seen.
    pub verdict: Verdict,
    /// Remark.
    pub note: String,
    /// When, ms since 1970.
    pub taken_ms: i64,
}

fn keyed<'a, T: Deserialize<'a>>(key: &'a str) -> Option<T> {
    let key: StrDeserializer<'a, serde::de::value::Error> = key.into_deserializer();
    T::deserialize(key).ok()
}

/// The version that was sewn.
///
/// # Errors
/// A refusal at the glove.
pub fn version(text: &str) -> Result<Uuid, Problem> {
    Uuid::try_parse(text).map_err(|_| unknown_glove())
}

/// The problem of a fitting for a draft that does not exist.
#[must_use]
pub fn unknown_glove() -> Problem {
    Problem::at("version", "glove_unknown")
}

/// Answers, signs and time worn.
///
/// # Errors
/// A refusal at the input concerned.
pub fn verdict(sent: &SentFitting) -> Result<Verdict, Problem> {
    let mut answers = BTreeMap::new();
    for (key, text) in &sent.answers {
        let text = text.trim();
        if text.is_empty() {
            continue;
        }
        let zone = FitZone::from_key(key).ok_or_else(|| Problem::at("answers", "zone_unknown"))?;
        answers.insert(zone, answer(key, text)?);
    }
    let mut signs: Vec<Sign> = Vec::new();
    for key in &sent.signs {
        signs.push(keyed(key).ok_or_else(|| Problem::at("signs", "sign_unknown"))?);
    }
    signs.sort_unstable();
    signs.dedup();
    if answers.is_empty() && signs.is_empty() {
        return Err(Problem::at("answers", "fitting_empty"));
    }
    Ok(Verdict { answers, signs, worn_minutes: minutes(&sent.worn_minutes)? })
}

fn answer(key: &str, text: &str) -> Result<Answer, Problem> {
    if let Some(feeling) = keyed(text) {
        return Ok(Answer::Feeling(feeling));
    }
    let plain = text.replace(',', ".").replace('\u{2212}', "-");
    let is_plain =
        plain.len() <= 8 && plain.chars().all(|c| c.is_ascii_digit() || "+-.".contains(c));
    let figure = plain.parse().ok().filter(|_| is_plain).map(Answer::Mm);
    let Some(figure) = figure else {
        return Err(Problem::at(key, "fitting_not_a_number"));
    };
    if !figure.is_sensible() {
        return Err(Problem::at(key, "fitting_figure").with("most", FIGURE_MAX_MM));
    }
    Ok(figure)
}

fn minutes(text: &str) -> Result<u32, Problem> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(0);
    }
    text.parse()
        .ok()
        .filter(|minutes| *minutes <= WORN_MAX_MINUTES)
        .ok_or_else(|| Problem::at("worn_minutes", "worn_minutes").with("most", WORN_MAX_MINUTES))
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::fitting::Feeling;

    fn sent(answers: &[(&str, &str)]) -> SentFitting {
        SentFitting {
            id: String::new(),
            performer: String::new(),
            side: "right".to_owned(),
            version: String::new(),
            answers: answers.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect(),
            signs: Vec::new(),
            worn_minutes: String::new(),
            note: String::new(),
            taken_ms: 0,
        }
    }

    #[test]
    fn answers_and_figures_are_understood() {
        let said =
            verdict(&sent(&[("palm", "too_tight"), ("wrist", "\u{2212}2,5"), ("index_root", "")]));
        let said = said.expect("understood").answers;
        assert_eq!(said[&FitZone::Palm], Answer::Feeling(Feeling::TooTight));
        assert_eq!(said[&FitZone::Wrist], Answer::Mm(-2.5));
        assert_eq!(said.len(), 2);
    }

    #[test]
    fn what_cannot_be_meant_is_refused_at_its_zone() {
        for (text, code) in [
            ("tight", "fitting_not_a_number"),
            ("1e3", "fitting_not_a_number"),
            ("NaN", "fitting_not_a_number"),
            ("21", "fitting_figure"),
        ] {
            let problem = verdict(&sent(&[("palm", text)])).expect_err(text);
            assert_eq!((problem.field.as_deref(), problem.code()), (Some("palm"), code));
        }
        assert_eq!(verdict(&sent(&[])).expect_err("nothing").code(), "fitting_empty");
        let ear = verdict(&sent(&[("ear", "good")])).expect_err("no such zone");
        assert_eq!(ear.code(), "zone_unknown");
    }
}
