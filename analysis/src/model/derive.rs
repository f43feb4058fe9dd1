//! From published figures to one population's hand: means, covariance, and what each entry rests on.
//!
//! **Scale.** Everything is on natural logarithms; a published mean `m` and SD `s` stand for a
//! lognormal variable: `sigma^2 = ln(1 + s^2/m^2)`, `mu = ln m - sigma^2/2`.
//!
//! **Transport.** Sources measured people of different size. A dimension is carried to the base
//! population (2012 survey) by its anchor, hand length for lengths and heights, hand girth for
//! girths: `mu` moves by the difference of the anchors' `mu`, `sigma` by the ratio of the anchors'
//! `sigma`. [`PersonFigures::in_source`] is the way back, so no published figure is lost.
//!
//! **Readings and truth.** Published spreads are spreads of readings. The covariance of true
//! dimensions is the published one less the square of the measuring error on the diagonal. The
//! measuring error is ours ([`Dimension::measuring_error_mm`]) except for hand length and palm
//! length of the 2012 survey, whose error follows from the identity: with the middle finger's
//! spread and its correlation with the palm (Hsiao 2015) and the survey's correlation of hand
//! length and palm, `T_hl = w_p^2 T_p + w_m^2 T_m + 2 w_p w_m T_pm` leaves one solution.
//!
//! **Identity.** On logarithms `hand length = palm + middle finger` is, to first order,
//! `w_p palm + w_m middle` with the shares at the mean. Hand length is that combination exactly;
//! 24 free dimensions remain.
//!
//! **Completion.** Unpublished entries are those of the largest-determinant covariance
//! ([`super::maximum_entropy`]).

use nalgebra::{DMatrix, DVector};

use super::maximum_entropy::{Constraint, complete};
use crate::dimension::{Dimension, PerDimension};
use crate::reference::{
    Anchor, Correlation, Grade, Reference, Sex, Source, Value, scales_with_length,
    side_difference_mm,
};

const N: usize = Dimension::COUNT;

/// Mean and SD of the logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogNormal {
    /// Mean of the natural logarithm.
    pub mu: f64,
    /// Standard deviation of the natural logarithm.
    pub sigma: f64,
}

impl LogNormal {
    /// From mean and SD on the plain scale.
    #[must_use]
    pub fn from_mean_sd(mean: f64, sd: f64) -> LogNormal {
        let variance = (1.0 + (sd / mean).powi(2)).ln();
        LogNormal { mu: mean.ln() - variance / 2.0, sigma: variance.sqrt() }
    }

    /// Mean on the plain scale.
    #[must_use]
    pub fn mean(self) -> f64 {
        (self.mu + self.sigma * self.sigma / 2.0).exp()
    }

    /// Standard deviation on the plain scale.
    #[must_use]
    pub fn sd(self) -> f64 {
        self.mean() * (self.sigma * self.sigma).exp_m1().sqrt()
    }
}

/// One sex of adults: everything the model needs, and its grades.
#[derive(Debug, Clone)]
pub struct PersonFigures {
    /// Readings of the base population: mean and SD of the logarithm.
    pub readings: PerDimension<LogNormal>,
    /// Covariance of true log dimensions of one hand, 25 x 25 (rank 24: the identity).
    pub truth: DMatrix<f64>,
    /// Covariance of one hand's true departure from the person's mean hand, 25 x 25.
    pub asymmetry: DMatrix<f64>,
    /// Measuring error of the published readings, SD on the log scale.
    pub source_error: PerDimension<f64>,
    /// Share of the palm in hand length at the mean.
    pub palm_share: f64,
    /// What each entry of the covariance rests on, and where.
    grades: DMatrix<(Grade, Source)>,
    /// Largest miss of any published figure, on variances scaled to 1.
    pub worst: f64,
    transport: PerDimension<Transport>,
    survey_palm: LogNormal,
}

/// How a dimension was carried from its source to the base population.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Transport {
    source: Source,
    shift: f64,
    stretch: f64,
}

impl PersonFigures {
    /// Correlation of single readings of two dimensions, on logarithms.
    #[must_use]
    pub fn correlation(&self, a: Dimension, b: Dimension) -> f64 {
        if a == b {
            return 1.0;
        }
        self.truth[(a.index(), b.index())] / (self.readings[a].sigma * self.readings[b].sigma)
    }

    /// What the correlation of two dimensions rests on.
    #[must_use]
    pub fn grade(&self, a: Dimension, b: Dimension) -> (Grade, Source) {
        self.grades[(a.index(), b.index())]
    }

    /// The dimension's mean and SD among the people of its own source: transport undone.
    #[must_use]
    pub fn in_source(&self, dimension: Dimension) -> (Source, LogNormal) {
        let Transport { source, shift, stretch } = self.transport[dimension];
        let LogNormal { mu, sigma } = self.readings[dimension];
        (source, LogNormal { mu: mu - shift, sigma: sigma / stretch })
    }

    /// Palm length in the 2012 survey's definition (its crease lies nearer the finger tip), in
    /// ours: equal standard scores.
    #[must_use]
    pub fn palm_from_survey(&self, survey_mm: f64) -> f64 {
        let theirs = self.survey_palm;
        let ours = self.readings[Dimension::PalmLength];
        (ours.mu + ours.sigma * (survey_mm.ln() - theirs.mu) / theirs.sigma).exp()
    }
}

/// Derives one sex of adults.
#[must_use]
pub fn derive(reference: &Reference, sex: Sex) -> PersonFigures {
    let (readings, transport) = marginals(reference, sex);
    let assembled = assemble(&readings, &reference.correlations, sex);
    PersonFigures {
        asymmetry: asymmetry(&readings, assembled.palm_share),
        truth: assembled.truth,
        source_error: assembled.source_error,
        palm_share: assembled.palm_share,
        grades: grades(reference),
        worst: assembled.worst,
        readings,
        transport,
        survey_palm: {
            let [women, men] = reference.survey_palm;
            let (mean, sd) = if sex == Sex::Female { women } else { men };
            LogNormal::from_mean_sd(mean, sd)
        },
    }
}

/// The covariance of true dimensions and what went with finding it.
pub(crate) struct Assembled {
    pub truth: DMatrix<f64>,
    pub source_error: PerDimension<f64>,
    pub palm_share: f64,
    pub worst: f64,
}

/// Completes the covariance of true log dimensions from the spreads of readings and the published
/// correlations.
pub(crate) fn assemble(
    readings: &PerDimension<LogNormal>,
    correlations: &[Correlation],
    sex: Sex,
) -> Assembled {
    let error = PerDimension::from_fn(|d| d.measuring_error_mm() / readings[d].mean());
    let triple = Triple::solve(correlations, sex, readings, &error);
    let mut source_error = error;
    source_error[Dimension::HandLength] = triple.hand_length_error;
    source_error[Dimension::PalmLength] = triple.palm_error;
    let free: Vec<Dimension> =
        Dimension::ALL.into_iter().filter(|d| *d != Dimension::HandLength).collect();
    let scale = |d: Dimension| {
        (readings[d].sigma.powi(2) - source_error[d].powi(2)).max(f64::MIN_POSITIVE).sqrt()
    };
    // A dimension as a combination of the free ones, each scaled to variance 1.
    let form = |d: Dimension| {
        DVector::from_fn(free.len(), |row, _| {
            let of = free[row];
            match (d, of) {
                (Dimension::HandLength, Dimension::PalmLength) => triple.palm_share * scale(of),
                (Dimension::HandLength, Dimension::MiddleLength) => {
                    (1.0 - triple.palm_share) * scale(of)
                }
                _ if d == of => scale(of),
                _ => 0.0,
            }
        })
    };
    let mut constraints: Vec<Constraint> = free
        .iter()
        .map(|d| Constraint { u: form(*d) / scale(*d), v: form(*d) / scale(*d), value: 1.0 })
        .collect();
    for c in correlations {
        let pair = [c.a, c.b];
        if pair.contains(&Dimension::HandLength) && pair.contains(&Dimension::PalmLength) {
            continue; // met through the triple: it fixes the same entry
        }
        let (a, b) = (readings[c.a].sigma, readings[c.b].sigma);
        // A correlation of readings, except that of palm and middle finger, one of true lengths.
        let value = if (c.a, c.b) == (Dimension::PalmLength, Dimension::MiddleLength) {
            triple.palm_middle / (a * b)
        } else {
            c.of(sex)
        };
        constraints.push(Constraint { u: form(c.a) / a, v: form(c.b) / b, value });
    }
    let completion = complete(free.len(), &constraints);
    let to_all = DMatrix::from_fn(N, free.len(), |d, column| form(Dimension::ALL[d])[column]);
    Assembled {
        truth: &to_all * completion.covariance * to_all.transpose(),
        source_error,
        palm_share: triple.palm_share,
        worst: completion.worst,
    }
}

/// Means and spreads of readings in the base population, and how each was carried there.
fn marginals(
    reference: &Reference,
    sex: Sex,
) -> (PerDimension<LogNormal>, PerDimension<Transport>) {
    let none = LogNormal { mu: 0.0, sigma: 1.0 };
    let base = reference.anchor(sex, Source::Ansur2);
    let pick = |anchor: Option<&Anchor>, d: Dimension| {
        let anchor = anchor?;
        let (mean, sd) =
            if scales_with_length(d) { anchor.hand_length } else { anchor.hand_girth }?;
        Some(LogNormal::from_mean_sd(mean, sd))
    };
    let mut readings = PerDimension::from_fn(|_| none);
    let mut transport =
        PerDimension::from_fn(|_| Transport { source: Source::Assumed, shift: 0.0, stretch: 1.0 });
    let of_kind = |ratio: bool| {
        Dimension::ALL.into_iter().filter_map(move |d| {
            let figure = reference.figure(sex, d)?;
            (matches!(figure.value, Value::RatioAndCv(..)) == ratio).then_some((d, *figure))
        })
    };
    for (d, figure) in of_kind(false) {
        let (mean, sd) = match figure.value {
            Value::MeanAndSd(mean, sd) => (mean, sd),
            Value::MeanAndCv(mean, cv) => (mean, mean * cv),
            Value::RatioAndCv(..) => continue,
        };
        let there = LogNormal::from_mean_sd(mean, sd);
        let (shift, stretch) = match (pick(reference.anchor(sex, figure.source), d), pick(base, d))
        {
            (Some(from), Some(to)) => (to.mu - from.mu, to.sigma / from.sigma),
            _ => (0.0, 1.0),
        };
        readings[d] = LogNormal { mu: there.mu + shift, sigma: there.sigma * stretch };
        transport[d] = Transport { source: figure.source, shift, stretch };
    }
    for (d, figure) in of_kind(true) {
        if let Value::RatioAndCv(of, ratio, cv) = figure.value {
            let mean = readings[of].mean() * ratio;
            readings[d] = LogNormal::from_mean_sd(mean, cv * mean);
            transport[d].source = figure.source;
        }
    }
    (readings, transport)
}

/// Hand length, palm and middle finger: the one solution of identity, spreads and correlations.
struct Triple {
    palm_share: f64,
    palm_middle: f64,
    hand_length_error: f64,
    palm_error: f64,
}

impl Triple {
    fn solve(
        correlations: &[Correlation],
        sex: Sex,
        readings: &PerDimension<LogNormal>,
        error: &PerDimension<f64>,
    ) -> Triple {
        use Dimension::{HandLength, MiddleLength, PalmLength};
        let r = |a: Dimension, b: Dimension| {
            let pair = correlations.iter().find(|c| (c.a, c.b) == (a, b));
            pair.map_or(0.0, |c| c.of(sex))
        };
        let (palm, middle) = (readings[PalmLength], readings[MiddleLength]);
        let palm_share = palm.mean() / (palm.mean() + middle.mean());
        let middle_share = 1.0 - palm_share;
        let true_middle = (middle.sigma.powi(2) - error[MiddleLength].powi(2)).max(0.0).sqrt();
        let covariance = r(HandLength, PalmLength) * readings[HandLength].sigma * palm.sigma;
        // w_p t^2 + w_m r T_m t = cov(hand length, palm), t the SD of the true palm.
        let half = middle_share * r(PalmLength, MiddleLength) * true_middle / (2.0 * palm_share);
        let true_palm = (half * half + covariance / palm_share).sqrt() - half;
        let palm_middle = r(PalmLength, MiddleLength) * true_palm * true_middle;
        let true_length = palm_share.powi(2) * true_palm.powi(2)
            + middle_share.powi(2) * true_middle.powi(2)
            + 2.0 * palm_share * middle_share * palm_middle;
        let left = |published: f64, truth: f64| (published.powi(2) - truth).max(0.0).sqrt();
        Triple {
            palm_share,
            palm_middle,
            hand_length_error: left(readings[HandLength].sigma, true_length),
            palm_error: left(palm.sigma, true_palm.powi(2)),
        }
    }
}

/// One hand's departure from the person's mean hand: independent over the free dimensions.
pub(crate) fn asymmetry(readings: &PerDimension<LogNormal>, palm_share: f64) -> DMatrix<f64> {
    let mut matrix = DMatrix::zeros(N, N);
    for d in Dimension::ALL {
        let mean = readings[d].mean();
        let variance = (side_difference_mm(d, mean) / mean).powi(2) / 2.0;
        matrix[(d.index(), d.index())] = variance;
    }
    let (length, palm, middle) = (
        Dimension::HandLength.index(),
        Dimension::PalmLength.index(),
        Dimension::MiddleLength.index(),
    );
    let (of_palm, of_middle) =
        (palm_share * matrix[(palm, palm)], (1.0 - palm_share) * matrix[(middle, middle)]);
    matrix[(length, length)] = palm_share * of_palm + (1.0 - palm_share) * of_middle;
    for (other, covariance) in [(palm, of_palm), (middle, of_middle)] {
        matrix[(length, other)] = covariance;
        matrix[(other, length)] = covariance;
    }
    matrix
}

/// What each entry rests on: itself published or assumed; derived through the identity when two of
/// the triple are known for the same other dimension; else completed, which counts as assumed.
fn grades(reference: &Reference) -> DMatrix<(Grade, Source)> {
    let mut grades = DMatrix::from_element(N, N, (Grade::Assumed, Source::Assumed));
    let mut set = |a: Dimension, b: Dimension, value: (Grade, Source)| {
        grades[(a.index(), b.index())] = value;
        grades[(b.index(), a.index())] = value;
    };
    for d in Dimension::ALL {
        set(d, d, (Grade::Published, Source::Assumed));
        if let Some(figure) = reference.figure(Sex::Female, d) {
            set(d, d, (figure.grade(), figure.source));
        }
    }
    let known = |a: Dimension, b: Dimension| {
        reference.correlations.iter().find(|c| (c.a, c.b) == (a, b) || (c.a, c.b) == (b, a))
    };
    for (i, a) in Dimension::ALL.into_iter().enumerate() {
        for b in Dimension::ALL.into_iter().skip(i + 1) {
            if let Some(c) = known(a, b) {
                let grade =
                    if c.source == Source::Assumed { Grade::Assumed } else { Grade::Published };
                set(a, b, (grade, c.source));
            }
        }
    }
    let triple = [Dimension::HandLength, Dimension::PalmLength, Dimension::MiddleLength];
    set(triple[0], triple[2], (Grade::Derived, Source::Hsiao2015));
    for other in Dimension::ALL.iter().filter(|d| !triple.contains(d)) {
        let published: Vec<_> = triple
            .iter()
            .filter_map(|t| known(*t, *other).filter(|c| c.source != Source::Assumed))
            .collect();
        if let [one, _] = published.as_slice() {
            for t in triple.iter().filter(|t| known(**t, *other).is_none()) {
                set(*t, *other, (Grade::Derived, one.source));
            }
        }
    }
    grades
}
