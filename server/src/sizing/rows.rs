//! The shapes of the report on sizes, as JSON and templates read them.

use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::sizing::en::{self, EnSize, EnSizes};
use analysis::sizing::inches::Inch;
use analysis::sizing::misfit::{Size, Strain};
use serde::Serialize;
use utoipa::ToSchema;

use super::cloth::Cloth;
use crate::person::tenth;

/// Fabric gloves go by half inches (trade fact of low grade).
const STEPS_OF_AN_INCH: u8 = 2;

/// The report.
#[derive(Debug, Serialize, ToSchema)]
pub struct SizeReport {
    /// Performers who count: somebody measured at least one dimension.
    pub counted: usize,
    /// Codes of performers not measured yet.
    pub unmeasured: Vec<String>,
    /// Whom the sizes are chosen for: `cast`, or the key of a population for stock.
    pub chosen_for: String,
    /// How many people that is; drawn ones for stock.
    pub people: usize,
    /// `real_hands` or `centres`.
    pub by: &'static str,
    /// How many sizes are shown.
    pub sizes: usize,
    /// People not known yet for whom spare pairs are cut.
    pub understudies: u64,
    /// Misfit and coverage for every number of sizes.
    pub curve: Vec<CurvePoint>,
    /// The sizes.
    pub chosen: Vec<ChosenSize>,
    /// What the pairs to cut take of the cloth.
    pub cloth: Option<Cloth>,
    /// Who takes which.
    pub performers: Vec<SizedPerformer>,
    /// How many no size fits.
    pub outside: usize,
    /// Share of published people the sizes would fit.
    pub coverage: Vec<CoveredPopulation>,
    /// Somebody known by a few readings, if asked for.
    pub quick: Option<QuickAnswer>,
    /// The cast in the sizes of EN ISO 21420.
    pub en: Vec<EnRow>,
}

/// What a number of sizes does.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CurvePoint {
    /// How many sizes.
    pub sizes: usize,
    /// Mean misfit.
    pub misfit: f64,
    /// People whom one of them fits in every zone.
    pub covered: usize,
    /// The same, percent.
    pub covered_percent: f64,
    /// Whether no other choice of as many sizes has less misfit.
    pub is_proven: bool,
    /// Whether the curve bends here.
    pub is_knee: bool,
}

/// One size.
#[derive(Debug, Serialize, ToSchema)]
pub struct ChosenSize {
    /// A, B, C, by hand girth.
    pub name: String,
    /// Code of the performer whose hands it is drafted for; they can try it on. None for a centre
    /// and for stock.
    pub drafted_for: Option<String>,
    /// Hand girth of the right hand, mm.
    pub girth_mm: f64,
    /// Hand length of the right hand, mm.
    pub length_mm: f64,
    /// In the sizes of EN ISO 21420.
    pub en: En,
    /// By hand girth in both inches, each with its name.
    pub inches: Vec<GloveNumber>,
    /// Performers who take it and whom it fits.
    pub taken: usize,
    /// Share of those it was chosen for who take it and whom it fits, percent.
    pub share_percent: f64,
    /// Spare pairs for people not known yet.
    pub spare: u64,
    /// Pairs to cut.
    pub cut: u64,
    /// Cloth of one pair's pieces, square centimetres; none where it cannot be drafted.
    pub pair_cm2: Option<f64>,
    /// The hands it is drafted for.
    pub hands: Vec<SizeDimension>,
}

/// One dimension of the hands a size is drafted for.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SizeDimension {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// Value, mm.
    pub mm: f64,
}

/// A hand in the sizes of EN ISO 21420.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct En {
    /// By hand girth: `8`, `below_6`, `above_11`.
    pub by_girth: String,
    /// By hand length.
    pub by_length: String,
    /// Whether both ask for the same size.
    pub agree: bool,
}

impl En {
    /// From both answers.
    #[must_use]
    pub fn of(sizes: EnSizes) -> En {
        let key = |size: EnSize| match size {
            EnSize::Size(n) => n.to_string(),
            EnSize::BelowTheTable => "below_6".to_owned(),
            EnSize::AboveTheTable => "above_11".to_owned(),
        };
        En { by_girth: key(sizes.by_girth), by_length: key(sizes.by_length), agree: sizes.agree() }
    }
}

/// A glove number with its system.
#[derive(Debug, Serialize, ToSchema)]
pub struct GloveNumber {
    /// Whose inch: `english` or `french`.
    pub system: Inch,
    /// The number.
    pub number: f64,
}

/// The numbers of a hand girth.
#[must_use]
pub fn glove_numbers(girth_mm: f64) -> Vec<GloveNumber> {
    let number = |system: &Inch| system.glove_number(girth_mm, STEPS_OF_AN_INCH);
    Inch::BOTH
        .iter()
        .map(|system| GloveNumber { system: *system, number: number(system) })
        .collect()
}

/// One performer among the sizes.
#[derive(Debug, Serialize, ToSchema)]
pub struct SizedPerformer {
    /// Code.
    pub code: String,
    /// The size.
    pub size: String,
    /// Misfit in it.
    pub misfit: f64,
    /// Whether it fits in every zone; otherwise gloves are made to measure.
    pub fits: bool,
    /// Where it strains most.
    pub worst: Strain,
    /// Name of that dimension.
    pub worst_name: &'static str,
    /// The same, percent of the room there, without sign.
    pub worst_percent: f64,
    /// Probability of each size, percent, given how well the hands are known.
    pub probabilities_percent: Vec<f64>,
    /// Probability that none fits, percent.
    pub outside_percent: f64,
    /// In the sizes of EN ISO 21420.
    pub en: En,
}

/// Somebody known by a few readings.
#[derive(Debug, Serialize, ToSchema)]
pub struct QuickAnswer {
    /// Key of the population compared with.
    pub population: String,
    /// The most probable size.
    pub size: String,
    /// Probability of each size, percent.
    pub probabilities_percent: Vec<f64>,
    /// Probability that none fits, percent.
    pub outside_percent: f64,
    /// Whether a check asks for a second look at the readings.
    pub is_flagged: bool,
}

/// A population and how much of it is covered, percent.
#[derive(Debug, Serialize, ToSchema)]
pub struct CoveredPopulation {
    /// Key.
    pub population: String,
    /// Share one of the sizes fits in every zone.
    pub percent: f64,
    /// Lower end of 95 %: the draw and the figures together.
    pub low_percent: f64,
    /// Upper end.
    pub high_percent: f64,
    /// Lower end of 95 %: the draw alone.
    pub drawn_low_percent: f64,
    /// Upper end.
    pub drawn_high_percent: f64,
    /// Share one of the sizes fits in hand girth and middle finger alone.
    pub two_keys_percent: f64,
}

/// A size of EN ISO 21420 and who takes it, by right hand.
#[derive(Debug, Serialize, ToSchema)]
pub struct EnRow {
    /// By girth and length.
    pub size: En,
    /// Codes.
    pub codes: Vec<String>,
}

/// Hand girth and length of the right hand a size is drafted for, mm.
#[must_use]
pub fn girth_and_length(size: &Size) -> (f64, f64) {
    let hands = size.hands();
    let mm = |d: Dimension| hands.right[d].map_or(0.0, |summary| summary.median_mm);
    (mm(Dimension::HandGirth), mm(Dimension::PalmLength) + mm(Dimension::MiddleLength))
}

/// A hand with this girth and length in the sizes of EN ISO 21420.
#[must_use]
pub fn en_of(girth_mm: f64, length_mm: f64) -> En {
    En::of(en::sizes(girth_mm, length_mm))
}

/// The hands a size is drafted for, dimension by dimension.
#[must_use]
pub fn dimensions_of(size: &Size) -> Vec<SizeDimension> {
    let hands = size.hands();
    Side::BOTH
        .into_iter()
        .flat_map(|side| {
            let own = hands.side(side).iter();
            own.filter_map(move |(dimension, summary)| {
                Some(SizeDimension { side, dimension, mm: tenth(summary.as_ref()?.median_mm) })
            })
            .collect::<Vec<_>>()
        })
        .collect()
}
