//! Children: means by age and sex, spreads and correlations given age and sex.
//!
//! **Means.** Hand length and breadth by age; middle, index and thumb length and wrist girth by
//! their published growth with these two. The palm is what the middle finger leaves of hand length.
//! Joint girths grow from the adult's by the published growth of finger diameters. The rest keeps
//! the adults' proportion (assumed): ring and little finger to the middle finger, their knuckles to
//! the middle knuckle, end joints to their knuckle, webs to the palm, hand girths to hand breadth,
//! the thumb's root to its knuckle.
//!
//! **Covariance.** As for adults ([`super::derive`]), from the children's spreads and correlations,
//! the same at every age on the log scale.

use nalgebra::DMatrix;

use super::derive::{LogNormal, PersonFigures, assemble, asymmetry};
use crate::dimension::{Dimension, PerDimension};
use crate::reference::children::{
    CORRELATIONS, LENGTH_MIDDLE, growth_of, length_and_breadth_mm, log_sd,
};
use crate::reference::{Correlation, Sex, Source};

/// Age at which measuring errors, given in mm, are turned into shares: the middle of the range.
const MIDDLE_AGE: u8 = 10;

/// Children of one sex.
#[derive(Debug, Clone)]
pub(crate) struct ChildFigures {
    sex: Sex,
    /// The adults' mean logarithms, whose proportions are carried.
    adult: PerDimension<f64>,
    /// Covariance of true log dimensions within a hand.
    pub truth: DMatrix<f64>,
    /// Covariance of one hand's departure from the mean hand.
    pub asymmetry: DMatrix<f64>,
    /// Largest miss of any published figure.
    #[cfg_attr(not(test), expect(dead_code, reason = "read by the test of the derivation"))]
    pub worst: f64,
}

impl ChildFigures {
    /// Derives the children of one sex; adults of the same sex lend their proportions.
    pub fn derive(sex: Sex, adult: &PersonFigures) -> ChildFigures {
        use Dimension::{HandLength, MiddleLength, PalmLength};
        let adult = PerDimension::from_fn(|d| adult.readings[d].mu);
        let log_mean = log_mean(sex, MIDDLE_AGE, &adult);
        let mut readings =
            PerDimension::from_fn(|d| LogNormal { mu: log_mean[d], sigma: log_sd(d) });
        // palm = (hand length - w_m middle) / w_p on logarithms: its spread and correlations, true
        // lengths first.
        let error = |d: Dimension| d.measuring_error_mm() / log_mean[d].exp();
        let variance = |d: Dimension| log_sd(d).powi(2) - error(d).powi(2);
        let middle_share = (log_mean[MiddleLength] - log_mean[HandLength]).exp();
        let palm_share = 1.0 - middle_share;
        let cross = LENGTH_MIDDLE * log_sd(HandLength) * log_sd(MiddleLength);
        let palm_variance = (variance(HandLength) + middle_share.powi(2) * variance(MiddleLength)
            - 2.0 * middle_share * cross)
            / palm_share.powi(2);
        let palm_length = (variance(HandLength) - middle_share * cross) / palm_share;
        let palm_middle = (cross - middle_share * variance(MiddleLength)) / palm_share;
        readings[PalmLength].sigma = (palm_variance + error(PalmLength).powi(2)).sqrt();
        let derived = |a: Dimension, b: Dimension, r: f64| Correlation {
            a,
            b,
            women: r,
            men: r,
            n: 1267,
            source: Source::Snyder1977,
        };
        let mut correlations = CORRELATIONS.to_vec();
        correlations.push(derived(
            HandLength,
            PalmLength,
            palm_length / (log_sd(HandLength) * readings[PalmLength].sigma),
        ));
        correlations.push(derived(
            PalmLength,
            MiddleLength,
            palm_middle / (palm_variance * variance(MiddleLength)).sqrt(),
        ));
        let assembled = assemble(&readings, &correlations, sex);
        ChildFigures {
            sex,
            adult,
            asymmetry: asymmetry(&readings, assembled.palm_share),
            truth: assembled.truth,
            worst: assembled.worst,
        }
    }

    /// Mean logarithms at an age in completed years.
    pub fn log_mean(&self, age_years: u8) -> PerDimension<f64> {
        log_mean(self.sex, age_years, &self.adult)
    }
}

fn log_mean(sex: Sex, age_years: u8, adult: &PerDimension<f64>) -> PerDimension<f64> {
    use Dimension::*;
    let (length_mm, breadth_mm) = length_and_breadth_mm(sex, age_years);
    let length = length_mm.ln() - log_sd(HandLength).powi(2) / 2.0;
    let breadth = breadth_mm.ln() - log_sd(HandBreadth).powi(2) / 2.0;
    let published = |d: Dimension| growth_of(d).map(|g| g.at(length, breadth, sex));
    // Growth from a child's to the adult's hand length and breadth.
    let from_adult = |d: Dimension| {
        growth_of(d).map_or(0.0, |g| {
            g.at(length, breadth, sex) - g.at(adult[HandLength], adult[HandBreadth], sex)
        })
    };
    let middle = published(MiddleLength).unwrap_or(adult[MiddleLength]);
    let palm = (length.exp() - middle.exp()).ln();
    PerDimension::from_fn(|d| match d {
        HandLength => length,
        HandBreadth => breadth,
        PalmLength => palm,
        MiddleLength => middle,
        IndexLength | ThumbLength | WristGirth => published(d).unwrap_or(adult[d]),
        RingLength | LittleLength => adult[d] + middle - adult[MiddleLength],
        HandGirth | HandGirthOverThumb => adult[d] + breadth - adult[HandBreadth],
        ThumbKnuckleGirth | ThumbRootGirth => adult[d] + from_adult(ThumbKnuckleGirth),
        IndexKnuckleGirth | IndexTipGirth => adult[d] + from_adult(IndexKnuckleGirth),
        MiddleKnuckleGirth | MiddleTipGirth | RingKnuckleGirth | RingTipGirth
        | LittleKnuckleGirth | LittleTipGirth => adult[d] + from_adult(MiddleKnuckleGirth),
        ThumbWebHeight | IndexMiddleWebHeight | MiddleRingWebHeight | RingLittleWebHeight => {
            adult[d] + palm - adult[PalmLength]
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::derive::derive;
    use crate::reference::Reference;

    #[test]
    fn the_childrens_figures_agree_with_each_other_and_are_kept() {
        for sex in Sex::BOTH {
            let adult = derive(&Reference::published(), sex);
            let child = ChildFigures::derive(sex, &adult);
            assert!(child.worst < 1e-8, "{sex:?}: {}", child.worst);
            // Reading variances of what Snyder published, at the middle age.
            let mean = child.log_mean(MIDDLE_AGE);
            for d in [Dimension::HandLength, Dimension::MiddleLength, Dimension::WristGirth] {
                let error = d.measuring_error_mm() / mean[d].exp();
                let variance = child.truth[(d.index(), d.index())] + error * error;
                assert!((variance.sqrt() - log_sd(d)).abs() < 1e-4, "{}", d.key());
            }
        }
    }

    #[test]
    fn hands_grow_with_age_and_meet_the_adults() {
        for sex in Sex::BOTH {
            let adult = derive(&Reference::published(), sex);
            let child = ChildFigures::derive(sex, &adult);
            let (young, old) = (child.log_mean(3), child.log_mean(17));
            for d in Dimension::ALL {
                assert!(young[d] < old[d] - 0.2, "{}", d.key());
                let gap = (adult.readings[d].mu - old[d]).exp();
                assert!((0.93..1.10).contains(&gap), "{sex:?} {}: {gap}", d.key());
            }
        }
    }
}
