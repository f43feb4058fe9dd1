//! What is said and seen at a fitting, and what it means in mm.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::FitZone;

/// Largest figure taken at a fitting, mm (assumed: a glove that is farther off was made for another
/// hand).
pub const FIGURE_MAX_MM: f64 = 20.0;

/// The five answers from tight to loose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Feeling {
    /// Much too tight, or much too short.
    MuchTooTight,
    /// Too tight.
    TooTight,
    /// As it should be.
    Good,
    /// Too loose.
    TooLoose,
    /// Much too loose, or much too long.
    MuchTooLoose,
}

impl Feeling {
    /// Every answer, from tight to loose.
    pub const ALL: [Feeling; 5] = [
        Feeling::MuchTooTight,
        Feeling::TooTight,
        Feeling::Good,
        Feeling::TooLoose,
        Feeling::MuchTooLoose,
    ];
}

/// An answer for one zone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(untagged)]
pub enum Answer {
    /// One of the five.
    Feeling(Feeling),
    /// A figure, mm: more room is positive, "take in 2" is -2.
    Mm(f64),
}

impl Answer {
    /// The change of the glove that is asked for, mm.
    #[must_use]
    pub fn change_mm(self, zone: FitZone) -> f64 {
        let (bit, much) = zone.steps_mm();
        match self {
            Answer::Feeling(Feeling::MuchTooTight) => much,
            Answer::Feeling(Feeling::TooTight) => bit,
            Answer::Feeling(Feeling::Good) => 0.0,
            Answer::Feeling(Feeling::TooLoose) => -bit,
            Answer::Feeling(Feeling::MuchTooLoose) => -much,
            Answer::Mm(mm) => mm,
        }
    }

    /// Whether a figure is one that can be meant.
    #[must_use]
    pub fn is_sensible(self) -> bool {
        match self {
            Answer::Feeling(_) => true,
            Answer::Mm(mm) => mm.is_finite() && mm.abs() <= FIGURE_MAX_MM,
        }
    }
}

/// Signs of constriction: the glove comes off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Sign {
    /// Pain.
    Pain,
    /// Tingling.
    Tingling,
    /// Numbness.
    Numbness,
    /// The skin changed colour.
    ColourChange,
    /// Colour is slow to come back after pressing a nail.
    SlowColour,
}

impl Sign {
    /// Every sign.
    pub const ALL: [Sign; 5] =
        [Sign::Pain, Sign::Tingling, Sign::Numbness, Sign::ColourChange, Sign::SlowColour];
}

/// What was said and seen of one test glove.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Verdict {
    /// Answers by zone; a zone that was not asked is absent.
    pub answers: BTreeMap<FitZone, Answer>,
    /// Signs of constriction seen.
    #[serde(default)]
    pub signs: Vec<Sign>,
    /// After how long worn, minutes.
    #[serde(default)]
    pub worn_minutes: u32,
}

impl Verdict {
    /// The change asked for in a zone, mm. After a sign of constriction no girth is taken in.
    #[must_use]
    pub fn change_mm(&self, zone: FitZone) -> Option<f64> {
        let asked = self.answers.get(&zone)?.change_mm(zone);
        let spared = !self.signs.is_empty() && zone.kind() == super::ZoneKind::Girth;
        Some(if spared { asked.max(0.0) } else { asked })
    }

    /// Whether every answer is "much too tight" (or much too loose), of at least five: then hand,
    /// scale or fabric are wrong, and not the ease.
    #[must_use]
    pub fn is_all(&self, feeling: Feeling) -> bool {
        self.answers.len() >= 5 && self.answers.values().all(|a| *a == Answer::Feeling(feeling))
    }
}
