//! A cast described: each dimension by side, two dimensions together, and where the cast stands
//! among published people.
//!
//! A measured value is the median of its readings; an estimated one is the centre of what the
//! model leaves open. They are told apart everywhere, and only measured ones are tested against
//! the published people: estimates lean on those people already.

use serde::{Deserialize, Serialize};

use crate::dimension::Dimension;
use crate::goodness::{KolmogorovSmirnov, kolmogorov_smirnov};
use crate::hand::{Hands, Side};
use crate::model::{Basis, FilledHands, HandModel, LogPair, Population};

/// Widths a column of a histogram may have, mm.
const BIN_WIDTHS_MM: [f64; 7] = [1.0, 2.0, 4.0, 5.0, 10.0, 20.0, 50.0];

/// Most columns of a histogram (assumed: more are thinner than their lines on a phone).
const MOST_BINS: f64 = 24.0;

/// Share of the people of a population inside its ellipse.
pub const INSIDE: f64 = 0.9;

/// Chi-squared with two degrees of freedom at [`INSIDE`]: `-2 ln(1 - 0.9)`.
const ELLIPSE: f64 = 4.605_170_185_988_091;

/// Points of an ellipse.
const ELLIPSE_POINTS: usize = 72;

/// Ellipses drawn at most (assumed: more cannot be told apart); the most frequent populations.
pub const MOST_ELLIPSES: usize = 4;

/// One person of the cast.
#[derive(Debug, Clone)]
pub struct Member<'a> {
    /// Published people to compare with.
    pub population: Population,
    /// Readings the estimates rest on.
    pub hands: &'a Hands,
    /// Both hands, complete.
    pub filled: &'a FilledHands,
}

/// One dimension of one hand of one person.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Value {
    /// Position of the person in the cast.
    pub who: usize,
    /// Median reading, or estimate, mm.
    pub mm: f64,
    /// Which of the two.
    pub basis: Basis,
    /// Share of the person's own population below it, percent.
    pub percentile: f64,
}

/// Mean, spread and quantiles of some values, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Spread {
    /// How many.
    pub n: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation of the people they stand for (divided by n - 1); none of one value.
    pub sd: Option<f64>,
    /// Smallest.
    pub min: f64,
    /// 5th percentile.
    pub p5: f64,
    /// 25th percentile.
    pub p25: f64,
    /// Median.
    pub p50: f64,
    /// 75th percentile.
    pub p75: f64,
    /// 95th percentile.
    pub p95: f64,
    /// Largest.
    pub max: f64,
}

impl Spread {
    /// Of values in any order; `None` of none. Quantiles lie on the straight line between
    /// neighbouring values (Hyndman and Fan 1996, definition 7).
    #[must_use]
    pub fn of(values: &[f64]) -> Option<Spread> {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        let (min, max) = (*sorted.first()?, *sorted.last()?);
        let n = sorted.len() as f64;
        let mean = sorted.iter().sum::<f64>() / n;
        let squares: f64 = sorted.iter().map(|value| (value - mean).powi(2)).sum();
        let at = |share: f64| {
            let place = share * (n - 1.0);
            let below = place.floor() as usize;
            let low = sorted.get(below).copied().unwrap_or(max);
            let high = sorted.get(below + 1).copied().unwrap_or(max);
            low + (high - low) * (place - place.floor())
        };
        Some(Spread {
            n: sorted.len(),
            mean,
            sd: (sorted.len() > 1).then(|| (squares / (n - 1.0)).sqrt()),
            min,
            p5: at(0.05),
            p25: at(0.25),
            p50: at(0.5),
            p75: at(0.75),
            p95: at(0.95),
            max,
        })
    }
}

/// A column of a histogram.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Bin {
    /// Lower end, mm.
    pub from_mm: f64,
    /// Upper end, mm; a value at it belongs to the next column.
    pub to_mm: f64,
    /// Measured values.
    pub measured: usize,
    /// Estimated values.
    pub estimated: usize,
    /// How many published people would stand here, were there as many of each population as in
    /// the cast.
    pub published: f64,
}

/// One dimension of one hand over the cast.
#[derive(Debug, Clone, PartialEq)]
pub struct Distribution {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// Everybody's value, in the order of the cast.
    pub values: Vec<Value>,
    /// Of measured values.
    pub measured: Option<Spread>,
    /// Of all values.
    pub all: Option<Spread>,
    /// Of the percentiles of measured values: 50 in the middle where the cast is like the
    /// published people.
    pub percentiles: Option<Spread>,
    /// Measured values against the published people, each against their own population.
    pub test: Option<KolmogorovSmirnov>,
}

/// Value of one dimension of one hand of one person.
fn value(model: &HandModel, member: &Member<'_>, who: usize, side: Side, d: Dimension) -> Value {
    let read = member.hands.side(side)[d].map(|summary| summary.median_mm);
    let mm = read.unwrap_or_else(|| member.filled.side(side).mm(d));
    let basis = if read.is_some() { Basis::Measured } else { Basis::Estimated };
    Value { who, mm, basis, percentile: 100.0 * model.share_below(member.population, d, mm) }
}

/// One dimension of one hand over the cast.
#[must_use]
pub fn distribution(
    model: &HandModel,
    cast: &[Member<'_>],
    side: Side,
    dimension: Dimension,
) -> Distribution {
    let values: Vec<Value> = cast
        .iter()
        .enumerate()
        .map(|(who, member)| value(model, member, who, side, dimension))
        .collect();
    let of = |all: bool, what: fn(&Value) -> f64| -> Vec<f64> {
        values.iter().filter(|v| all || v.basis == Basis::Measured).map(what).collect()
    };
    let percentiles = of(false, |value| value.percentile);
    let shares: Vec<f64> = percentiles.iter().map(|percent| percent / 100.0).collect();
    Distribution {
        side,
        dimension,
        measured: Spread::of(&of(false, |value| value.mm)),
        all: Spread::of(&of(true, |value| value.mm)),
        percentiles: Spread::of(&percentiles),
        test: kolmogorov_smirnov(&shares),
        values,
    }
}

/// Columns over all values of a distribution and the middle nine tenths of the published people.
#[must_use]
pub fn histogram(model: &HandModel, cast: &[Member<'_>], of: &Distribution) -> Vec<Bin> {
    let Some(spread) = of.all else { return Vec::new() };
    let d = of.dimension;
    let ends = |share: f64, pick: fn(f64, f64) -> f64, own: f64| {
        cast.iter().map(|member| model.reading_at(member.population, d, share)).fold(own, pick)
    };
    let (low, high) = (ends(0.05, f64::min, spread.min), ends(0.95, f64::max, spread.max));
    // Half of Freedman and Diaconis's width (1981), as a cast is a mixture and spread the more for
    // it; then the next wider of the widths people read off easily.
    let wished = (spread.p75 - spread.p25) / (spread.n as f64).cbrt();
    let least = (high - low) / MOST_BINS;
    let wide = BIN_WIDTHS_MM.into_iter().find(|width| *width >= wished.max(least));
    let width = wide.unwrap_or(100.0);
    let first = (low / width).floor();
    let count = ((high / width).floor() - first) as usize + 1;
    let mut bins: Vec<Bin> = (0..count)
        .map(|at| {
            let from_mm = (first + at as f64) * width;
            let to_mm = from_mm + width;
            let share = |member: &Member<'_>| {
                let below = |mm: f64| model.share_below(member.population, d, mm);
                below(to_mm) - below(from_mm)
            };
            let published = cast.iter().map(share).sum();
            Bin { from_mm, to_mm, measured: 0, estimated: 0, published }
        })
        .collect();
    for value in &of.values {
        let at = ((value.mm / width).floor() - first).max(0.0) as usize;
        if let Some(bin) = bins.get_mut(at) {
            match value.basis {
                Basis::Measured => bin.measured += 1,
                Basis::Estimated => bin.estimated += 1,
            }
        }
    }
    bins
}

/// One person in two dimensions of one hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairPoint {
    /// Position of the person in the cast.
    pub who: usize,
    /// Both values, mm.
    pub mm: [f64; 2],
    /// Measured where both are.
    pub basis: Basis,
    /// Whether it lies inside the ellipse of a population behind the person's own.
    pub is_inside: bool,
}

/// Where nine in ten people of a population stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Ellipse {
    /// Whose.
    pub population: Population,
    /// How many of the cast are compared with them, halves where no sex is stated.
    pub people: f64,
    /// Once round, mm. On logarithms it is an ellipse.
    pub outline: Vec<[f64; 2]>,
}

/// Two dimensions of one hand over the cast.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// Which hand.
    pub side: Side,
    /// Which dimensions.
    pub dimensions: [Dimension; 2],
    /// Everybody, in the order of the cast.
    pub points: Vec<PairPoint>,
    /// The most frequent populations, at most [`MOST_ELLIPSES`].
    pub ellipses: Vec<Ellipse>,
    /// Pearson's correlation of the measured; none of fewer than three or of equal values.
    pub correlation: Option<f64>,
}

/// Two dimensions of one hand over the cast.
#[must_use]
pub fn scatter(
    model: &HandModel,
    cast: &[Member<'_>],
    side: Side,
    dimensions: [Dimension; 2],
) -> Scatter {
    let mut people: Vec<(LogPair, f64)> = Vec::new();
    let mut points = Vec::with_capacity(cast.len());
    for (who, member) in cast.iter().enumerate() {
        let pairs = model.pairs(member.population, side, dimensions);
        for (weight, pair) in &pairs {
            match people.iter_mut().find(|(known, _)| known.population == pair.population) {
                Some((_, count)) => *count += weight,
                None => people.push((*pair, *weight)),
            }
        }
        let both = dimensions.map(|d| value(model, member, who, side, d));
        let mm = both.map(|value| value.mm);
        let is_read = both.iter().all(|value| value.basis == Basis::Measured);
        let basis = if is_read { Basis::Measured } else { Basis::Estimated };
        let is_inside = pairs.iter().any(|(_, pair)| pair.squared_distance(mm) <= ELLIPSE);
        points.push(PairPoint { who, mm, basis, is_inside });
    }
    people.sort_by(|a, b| b.1.total_cmp(&a.1));
    let ellipses = people
        .into_iter()
        .take(MOST_ELLIPSES)
        .map(|(pair, people)| Ellipse {
            population: pair.population,
            people,
            outline: pair.outline(ELLIPSE, ELLIPSE_POINTS),
        })
        .collect();
    let correlation = correlation(&points);
    Scatter { side, dimensions, points, ellipses, correlation }
}

fn correlation(points: &[PairPoint]) -> Option<f64> {
    let read: Vec<[f64; 2]> =
        points.iter().filter(|p| p.basis == Basis::Measured).map(|p| p.mm).collect();
    if read.len() < 3 {
        return None;
    }
    let n = read.len() as f64;
    let mean = [0, 1].map(|axis| read.iter().map(|mm| mm[axis]).sum::<f64>() / n);
    let [mut xx, mut xy, mut yy] = [0.0; 3];
    for mm in &read {
        let (x, y) = (mm[0] - mean[0], mm[1] - mean[1]);
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    let scale = (xx * yy).sqrt();
    (scale > 0.0).then(|| (xy / scale).clamp(-1.0, 1.0))
}
