//! Plausibility: is this reading worth a second look, and why. A flag never blocks.

mod evidence;
mod explain;
mod flagging;
mod numbers;
mod repeats;
mod slip;
mod trusted;
mod words;

pub(crate) use evidence::Evidence;
pub use numbers::{CheckNumbers, ScaleNumbers};
pub use trusted::{trusted, unflagged};
pub use words::Phrase;

use serde::{Deserialize, Serialize};

use crate::dimension::Dimension;
use crate::hand::{Hands, Side, Summary};
use crate::model::{Estimate, HandModel, Population};

/// Kinds of flag. Each lives in its own file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
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

impl FlagKind {
    /// Every kind.
    pub const ALL: [FlagKind; 7] = [
        FlagKind::OutOfRange,
        FlagKind::LikelySlip,
        FlagKind::RestOfHand,
        FlagKind::SidesDiffer,
        FlagKind::RepeatsDisagree,
        FlagKind::IdentityBroken,
        FlagKind::WholeHandUnit,
    ];

    /// Stable key, as stored and exchanged.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            FlagKind::OutOfRange => "out_of_range",
            FlagKind::LikelySlip => "likely_slip",
            FlagKind::RestOfHand => "rest_of_hand",
            FlagKind::SidesDiffer => "sides_differ",
            FlagKind::RepeatsDisagree => "repeats_disagree",
            FlagKind::IdentityBroken => "identity_broken",
            FlagKind::WholeHandUnit => "whole_hand_unit",
        }
    }

    /// The kind with this key.
    #[must_use]
    pub fn from_key(key: &str) -> Option<FlagKind> {
        FlagKind::ALL.into_iter().find(|kind| kind.key() == key)
    }
}

/// What a flag suggests instead: each listed reading replaced by another value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Repair {
    /// Short text for a button, for example "Use 79 mm".
    pub says: Phrase,
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
    /// What, why and the figures: one sentence after the other.
    pub says: Vec<Phrase>,
    /// Repairs offered, likeliest first; often none.
    pub repairs: Vec<Repair>,
}

impl Flag {
    /// Names the flag in forms and facts: kind, side and dimension.
    #[must_use]
    pub fn key(&self) -> String {
        let side = self.side.map_or("both", Side::key);
        format!("{}.{side}.{}", self.kind.key(), self.dimension.map_or("hand", Dimension::key))
    }
}

/// Checks both hands of one person. Flags come in the order left hand, right hand, both; within a
/// hand in measuring order.
#[must_use]
pub fn check_hands(model: &HandModel, population: Population, hands: &Hands) -> Vec<Flag> {
    let mut flags = flagging::flags(model, population, hands);
    flags.extend(repeats::flags(hands));
    flags.sort_by_key(|f| (f.side.is_none(), f.side, f.dimension));
    flags
}

/// Flags about one reading as it is typed: the flags of the hands with this reading added, as far
/// as they concern it.
#[must_use]
pub fn check_reading(
    model: &HandModel,
    population: Population,
    hands_so_far: &Hands,
    side: Side,
    dimension: Dimension,
    mm: f64,
) -> Vec<Flag> {
    let mut hands = hands_so_far.clone();
    hands.side_mut(side)[dimension] = Summary::of(&[mm]);
    check_hands(model, population, &hands)
        .into_iter()
        .filter(|f| f.side.is_none_or(|s| s == side) && f.dimension.is_none_or(|d| d == dimension))
        .collect()
}

/// What a tape would read for one dimension given everything else that was read.
#[must_use]
pub fn expected(
    model: &HandModel,
    population: Population,
    hands: &Hands,
    side: Side,
    dimension: Dimension,
) -> Estimate {
    model.expected(population, hands, side, dimension)
}
