//! Plausibility: is this reading worth a second look, and why. A flag never blocks.

use serde::{Deserialize, Serialize};

use crate::dimension::Dimension;
use crate::hand::{Hands, Side};
use crate::model::{HandModel, Population};

/// Kinds of flag. Each lives in its own file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FlagKind {
    /// Outside the published range of the population.
    OutOfRange,
    /// Very likely a slip of the hand or eye, with the repair it suggests.
    LikelySlip,
    /// Does not fit the other readings of this person.
    RestOfHand,
    /// The two sides differ more than two hands of one person do.
    SidesDiffer,
    /// Repeated readings disagree by more than the measuring error.
    RepeatsDisagree,
    /// Palm length and middle finger length do not add up to hand length.
    IdentityBroken,
    /// A whole hand looks as if it was typed in another unit.
    WholeHandUnit,
}

/// What a flag suggests instead: each listed reading replaced by another value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Repair {
    /// Short text for a button, for example "Use 79 mm".
    pub label: String,
    /// Replacement values: side, dimension and mm.
    pub values: Vec<(Side, Dimension, f64)>,
}

/// One reason for a second look.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Flag {
    /// What kind.
    pub kind: FlagKind,
    /// The hand concerned; `None` when both are.
    pub side: Option<Side>,
    /// The dimension concerned; `None` when the whole hand is.
    pub dimension: Option<Dimension>,
    /// What, why and the figures, in plain words.
    pub sentence: String,
    /// Repairs offered, likeliest first; often none.
    pub repairs: Vec<Repair>,
}

/// Checks both hands of one person.
#[must_use]
pub fn check_hands(model: &HandModel, population: Population, hands: &Hands) -> Vec<Flag> {
    let _ = (model, population, hands);
    Vec::new()
}
