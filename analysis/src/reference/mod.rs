//! Published people: means, spreads, correlations and left/right differences, each with its source.
//!
//! Nothing here is computed. [`crate::model`] derives the hand model from these figures, and the
//! tests take the model apart again to see that every figure is still in it.

mod adults;
pub mod children;
mod correlations;
mod sides;

use serde::{Deserialize, Serialize};

use crate::dimension::{Dimension, Group};

pub use adults::{ANCHORS, FIGURES, SURVEY_PALM};
pub use correlations::CORRELATIONS;
pub use sides::side_difference_mm;

/// Sex of the people a figure was published for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sex {
    /// Women and girls.
    Female,
    /// Men and boys.
    Male,
}

impl Sex {
    /// Both, in the order they are listed everywhere.
    pub const BOTH: [Sex; 2] = [Sex::Female, Sex::Male];
}

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    /// 2012 anthropometric survey of US Army personnel.
    Ansur2,
    /// Hand anthropometry of US Army personnel.
    Greiner1991,
    /// Firefighters' hands, for glove sizing.
    Hsiao2015,
    /// Women's hands in informal industry.
    Nag2003,
    /// US children up to 18.
    Snyder1977,
    /// Both hands of students in Sabah.
    Khazri2022,
    /// Scans of the hands of 448 men, five observers.
    HilgardScans,
    /// NASA's anthropometric source book.
    Rp1024,
    /// No published figure: an assumption, stated as one beside the figure.
    Assumed,
}

impl Source {
    /// Full reference, as the page and the README print it.
    #[must_use]
    pub fn citation(self) -> &'static str {
        match self {
            Source::Ansur2 => {
                "Gordon et al. (2014), 2012 Anthropometric Survey of US Army Personnel, NATICK/TR-15/007"
            }
            Source::Greiner1991 => {
                "Greiner (1991), Hand Anthropometry of US Army Personnel, NATICK/TR-92/011"
            }
            Source::Hsiao2015 => {
                "Hsiao, Whitestone, Kau, Hildreth (2015), Human Factors 57(8), 1359-1377, Table 2"
            }
            Source::Nag2003 => "Nag, Nag, Desai (2003), Indian J Med Res 117, 260-269",
            Source::Snyder1977 => {
                "Snyder et al. (1977), Anthropometry of Infants, Children and Youths to Age 18, UM-HSRI-77-17"
            }
            Source::Khazri2022 => "Khazri, Shimmi, Parash (2022), PLOS ONE 17(8) e0273840",
            Source::HilgardScans => {
                "Flat-bed scans of the hands of 448 men read by five observers, published data set of a finger-ratio study"
            }
            Source::Rp1024 => "NASA RP-1024 (1978), Anthropometric Source Book vol. II",
            Source::Assumed => "assumed",
        }
    }
}

/// How firmly something is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Stands in a publication.
    Published,
    /// Follows from published figures by arithmetic or by the completion rule.
    Derived,
    /// Assumed.
    Assumed,
}

/// What a source says of one dimension.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// Mean and standard deviation, mm.
    MeanAndSd(f64, f64),
    /// Mean, mm, with a spread from elsewhere as a coefficient of variation.
    MeanAndCv(f64, f64),
    /// A multiple of another dimension of the same people, with a coefficient of variation.
    RatioAndCv(Dimension, f64, f64),
}

/// One published (or assumed) figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// Dimension in our own definition.
    pub dimension: Dimension,
    /// People it was published for.
    pub sex: Sex,
    /// How many of them; 0 for an assumption.
    pub n: u32,
    /// Mean and spread.
    pub value: Value,
    /// Where it stands.
    pub source: Source,
}

impl Figure {
    /// Published when the source gives the figure itself; derived for a mean with a stated
    /// coefficient of variation; assumed when it is carried over by a ratio.
    #[must_use]
    pub fn grade(&self) -> Grade {
        match (self.source, self.value) {
            (Source::Assumed, _) | (_, Value::RatioAndCv(..)) => Grade::Assumed,
            (_, Value::MeanAndCv(..)) => Grade::Derived,
            (_, Value::MeanAndSd(..)) => Grade::Published,
        }
    }
}

/// The two dimensions by which the people of one source are compared with those of another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anchor {
    /// Which source.
    pub source: Source,
    /// Which of its people.
    pub sex: Sex,
    /// Mean and SD of hand length, mm, where lengths are taken from this source.
    pub hand_length: Option<(f64, f64)>,
    /// Mean and SD of hand girth, mm, where girths are taken from this source.
    pub hand_girth: Option<(f64, f64)>,
}

/// A correlation between single readings of two dimensions of one hand, on logarithms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// One dimension.
    pub a: Dimension,
    /// The other.
    pub b: Dimension,
    /// Women's figure.
    pub women: f64,
    /// Men's figure.
    pub men: f64,
    /// How many people stand behind it; 0 for an assumption.
    pub n: u32,
    /// Where it stands.
    pub source: Source,
}

impl Correlation {
    /// The figure for one sex.
    #[must_use]
    pub fn of(&self, sex: Sex) -> f64 {
        match sex {
            Sex::Female => self.women,
            Sex::Male => self.men,
        }
    }
}

/// Everything the adult model is derived from. [`Reference::published`] is the house's own; a test
/// may replace the figures of some people by those of others.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Means and spreads.
    pub figures: Vec<Figure>,
    /// Hand length and girth of each source.
    pub anchors: Vec<Anchor>,
    /// Correlations.
    pub correlations: Vec<Correlation>,
    /// Mean and SD of palm length as the 2012 survey defines it, women's and men's, mm: its crease
    /// lies nearer the finger tip than ours.
    pub survey_palm: [(f64, f64); 2],
}

impl Reference {
    /// The published figures of this module.
    #[must_use]
    pub fn published() -> Reference {
        Reference {
            figures: FIGURES.to_vec(),
            anchors: ANCHORS.to_vec(),
            correlations: CORRELATIONS.to_vec(),
            survey_palm: SURVEY_PALM,
        }
    }

    /// The figure of one dimension for one sex.
    #[must_use]
    pub fn figure(&self, sex: Sex, dimension: Dimension) -> Option<&Figure> {
        self.figures.iter().find(|f| f.sex == sex && f.dimension == dimension)
    }

    /// Hand length and girth of the people of one source.
    #[must_use]
    pub fn anchor(&self, sex: Sex, source: Source) -> Option<&Anchor> {
        self.anchors.iter().find(|a| a.sex == sex && a.source == source)
    }
}

/// Whether a dimension is carried from one population to another by hand length (lengths and
/// heights) or by hand girth (girths and breadth).
#[must_use]
pub fn scales_with_length(dimension: Dimension) -> bool {
    match dimension.group() {
        Group::FingerLength | Group::WebHeight => true,
        Group::WholeHand => matches!(dimension, Dimension::HandLength | Dimension::PalmLength),
        Group::KnuckleGirth | Group::TipGirth | Group::ThumbRoot => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_dimension_has_one_figure_for_each_sex_and_a_source() {
        let reference = Reference::published();
        for sex in Sex::BOTH {
            for dimension in Dimension::ALL {
                let found: Vec<_> = reference
                    .figures
                    .iter()
                    .filter(|f| f.sex == sex && f.dimension == dimension)
                    .collect();
                assert_eq!(found.len(), 1, "{sex:?} {}", dimension.key());
                let figure = found[0];
                assert!(figure.source == Source::Assumed || figure.n > 0);
                if figure.source != Source::Assumed
                    && !matches!(figure.value, Value::RatioAndCv(..))
                {
                    let anchor = reference.anchor(sex, figure.source).expect("an anchor");
                    let by = if scales_with_length(dimension) {
                        anchor.hand_length
                    } else {
                        anchor.hand_girth
                    };
                    assert!(by.is_some(), "{sex:?} {} has no anchor", dimension.key());
                }
            }
        }
    }

    #[test]
    fn no_pair_of_dimensions_is_correlated_twice() {
        let mut seen = std::collections::HashSet::new();
        for c in CORRELATIONS {
            assert!(c.a != c.b && c.women.abs() < 1.0 && c.men.abs() < 1.0);
            assert!(seen.insert((c.a.min(c.b), c.a.max(c.b))), "{} {}", c.a.key(), c.b.key());
            assert_eq!(c.source == Source::Assumed, c.n == 0);
        }
    }
}
