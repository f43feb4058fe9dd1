//! What a flag says: sentences as codes with their figures. Their words stand with the words of the
//! pages, by language; whoever shows a flag fills them in.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use super::slip::{ScaleSlip, girth_over_breadth};
use crate::dimension::Dimension;
use crate::hand::Side;
use crate::model::joint::Observation;
use crate::model::{Estimate, Population};

/// One sentence of a flag, or the text of a button that repairs. Lengths are in mm, rounded as they
/// are shown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(tag = "say", rename_all = "snake_case")]
#[expect(missing_docs, reason = "each field is a figure of the sentence beside it")]
pub enum Phrase {
    /// "Middle finger length 97 mm."
    Reading { dimension: Dimension, mm: f64 },
    /// "From the other readings 79 mm is expected, 72 to 86 nine times in ten."
    FromOthers { mm: f64, low: f64, high: f64 },
    /// "Among published people 79 mm is expected, 72 to 86 nine times in ten."
    AmongPeople { mm: f64, low: f64, high: f64 },
    /// "184 mm in centimetres reads 18.4."
    Scale { slip: Cow<'static, str>, from: f64, to: f64 },
    /// "79 with its digits swapped reads 97."
    SwappedDigits { from: f64, to: f64 },
    /// "80 measured from the 10 cm mark of the tape reads 180."
    TenCentimetreMark { from: f64, to: f64 },
    /// "20 mm is about what it measures straight across; round it would be some 61 mm."
    BreadthForGirth { mm: f64, round: f64 },
    /// "Index finger length 80 mm and middle finger length 71 mm fit better the other way round."
    FieldsExchanged { dimension: Dimension, mm: f64, other: Dimension, other_mm: f64 },
    /// "Index finger length, left 71 mm and right 80 mm, fits better with the sides exchanged."
    SidesExchanged { dimension: Dimension, side: Side, mm: f64, other_side: Side, other_mm: f64 },
    /// "Left hand: all 12 readings look as if they were entered in another unit."
    WholeHand { hand: Side, count: usize },
    /// "All 24 readings look as if they were entered in another unit."
    BothHands { count: usize },
    /// "Hand length: 183 mm in centimetres reads 18.3."
    WholeHandExample { dimension: Dimension, slip: Cow<'static, str>, from: f64, to: f64 },
    /// "9 of 12 readings do not fit the published figures for women. Is the reference right?"
    WrongPopulation { doubtful: usize, count: usize, population: String },
    /// "No single reading stands out, but the 12 together are an unusual hand."
    UnusualTogether { count: usize },
    /// "Palm 104 mm and middle finger 79 mm add up to 183 mm; hand length reads 191 mm."
    Identity { palm: f64, middle: f64, sum: f64, length: f64 },
    /// "Index finger length, left 71 mm, right 80 mm: two hands seldom differ by 9 mm."
    #[rustfmt::skip]
    Differing { dimension: Dimension, side: Side, mm: f64, other_side: Side, other_mm: f64, apart: f64 },
    /// "Middle finger length: 2 readings lie 9 mm apart; up to 6 mm is usual. Take one more."
    Repeats { dimension: Dimension, count: usize, apart: f64, usual: f64 },
    /// Button: "Use 79 mm".
    Use { mm: f64 },
    /// Button: "Exchange the two".
    Exchange,
    /// Button: "Convert all 12 readings".
    Convert { count: usize },
}

/// A length as it is shown: to a tenth of a millimetre.
pub(crate) fn tenth(mm: f64) -> f64 {
    (mm * 10.0).round() / 10.0
}

impl Phrase {
    pub(crate) fn reading(o: &Observation) -> Phrase {
        Phrase::Reading { dimension: o.dimension, mm: tenth(o.mm) }
    }

    pub(crate) fn from_others(e: &Estimate) -> Phrase {
        let (mm, low, high) = whole(e);
        Phrase::FromOthers { mm, low, high }
    }

    pub(crate) fn among_people(e: &Estimate) -> Phrase {
        let (mm, low, high) = whole(e);
        Phrase::AmongPeople { mm, low, high }
    }

    pub(crate) fn scale(scale: &ScaleSlip, true_mm: f64, recorded_mm: f64) -> Phrase {
        Phrase::Scale { slip: scale.key.into(), from: tenth(true_mm), to: tenth(recorded_mm) }
    }

    /// Nothing for a dimension without a breadth.
    pub(crate) fn breadth_for_girth(o: &Observation) -> Option<Phrase> {
        let round = (o.mm * girth_over_breadth(o.dimension)?).round();
        Some(Phrase::BreadthForGirth { mm: tenth(o.mm), round })
    }

    pub(crate) fn exchanged(a: &Observation, b: &Observation) -> Phrase {
        let (dimension, mm, other_mm) = (a.dimension, tenth(a.mm), tenth(b.mm));
        if a.side == b.side {
            Phrase::FieldsExchanged { dimension, mm, other: b.dimension, other_mm }
        } else {
            Phrase::SidesExchanged { dimension, side: a.side, mm, other_side: b.side, other_mm }
        }
    }

    pub(crate) fn whole_hand(side: Option<Side>, count: usize) -> Phrase {
        match side {
            Some(hand) => Phrase::WholeHand { hand, count },
            None => Phrase::BothHands { count },
        }
    }

    pub(crate) fn whole_hand_example(o: &Observation, scale: &ScaleSlip, true_mm: f64) -> Phrase {
        let (dimension, slip) = (o.dimension, scale.key.into());
        Phrase::WholeHandExample { dimension, slip, from: tenth(true_mm), to: tenth(o.mm) }
    }

    pub(crate) fn wrong_population(doubtful: usize, count: usize, of: Population) -> Phrase {
        Phrase::WrongPopulation { doubtful, count, population: of.key() }
    }

    pub(crate) fn identity(palm: f64, middle: f64, length: f64) -> Phrase {
        let sum = tenth(palm + middle);
        Phrase::Identity { palm: tenth(palm), middle: tenth(middle), sum, length: tenth(length) }
    }

    pub(crate) fn differing(o: &Observation, other: &Observation) -> Phrase {
        Phrase::Differing {
            dimension: o.dimension,
            side: o.side,
            mm: tenth(o.mm),
            other_side: other.side,
            other_mm: tenth(other.mm),
            apart: tenth((o.mm - other.mm).abs()),
        }
    }
}

/// An estimate in whole millimetres.
fn whole(e: &Estimate) -> (f64, f64, f64) {
    (e.mm.round(), e.low_mm.round(), e.high_mm.round())
}
