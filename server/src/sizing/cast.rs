//! The cast described: a row of figures for each dimension of each hand, one of them drawn as a
//! histogram, two of them against each other.

use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::{Basis, HandModel, Population};
use analysis::sizing::describe::{
    Bin, Distribution, Member, Scatter, Spread, Value, distribution, histogram, scatter,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{Cast, Chosen, SizeOrder, letter, thousandth};
use crate::person::{Person, tenth};
use crate::words::dimension_name;

/// What is asked of the description.
#[derive(Debug, Clone)]
pub struct CastOrder {
    /// Which hand is drawn.
    pub side: Side,
    /// Which dimension is drawn as a histogram.
    pub dimension: Dimension,
    /// Which two are drawn against each other.
    pub pair: [Dimension; 2],
    /// Whose boxes are drawn over them.
    pub sizes: SizeOrder,
}

impl Default for CastOrder {
    fn default() -> CastOrder {
        CastOrder {
            side: Side::Right,
            dimension: Dimension::HandGirth,
            pair: [Dimension::HandGirth, Dimension::MiddleLength],
            sizes: SizeOrder::default(),
        }
    }
}

/// The description.
#[derive(Debug, Serialize, ToSchema)]
pub struct CastReport {
    /// Performers who count: somebody measured at least one dimension.
    pub counted: usize,
    /// Codes of performers not measured yet.
    pub unmeasured: Vec<String>,
    /// Published people the cast is compared with.
    pub populations: Vec<CountedPopulation>,
    /// Each dimension of each hand.
    pub rows: Vec<CastRow>,
    /// The one that is drawn.
    pub shown: ShownDistribution,
    /// The two that are drawn against each other.
    pub pair: ShownPair,
}

/// A population and how many of the cast are compared with it.
#[derive(Debug, Serialize, ToSchema)]
pub struct CountedPopulation {
    /// Key.
    pub population: String,
    /// How many.
    pub performers: usize,
}

/// Figures of one dimension of one hand, of measured values, mm.
#[derive(Debug, Serialize, ToSchema)]
pub struct CastRow {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// Its name.
    pub name: &'static str,
    /// Measured performers.
    pub measured: usize,
    /// Estimated ones: not in the figures.
    pub estimated: usize,
    /// Mean, spread and quantiles of the measured; none of nobody.
    pub figures: Option<Spread>,
    /// Median of the performers' percentiles among their own published people.
    pub percentile: Option<f64>,
    /// Kolmogorov-Smirnov distance from the published people.
    pub distance: Option<f64>,
    /// Its p value.
    pub p: Option<f64>,
}

/// One dimension of one hand, drawn.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShownDistribution {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// The columns.
    pub bins: Vec<Bin>,
    /// Everybody.
    pub values: Vec<ShownValue>,
}

/// One performer's value.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShownValue {
    /// Code.
    pub code: String,
    /// Value, mm.
    pub mm: f64,
    /// Measured or estimated.
    pub basis: Basis,
    /// Share of the performer's own population below it, percent.
    pub percentile: f64,
}

/// Two dimensions of one hand, drawn.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShownPair {
    /// Which hand.
    pub side: Side,
    /// The dimension along.
    pub along: Dimension,
    /// The dimension up.
    pub up: Dimension,
    /// Everybody.
    pub points: Vec<ShownPoint>,
    /// Measured in both.
    pub measured: usize,
    /// Of these, inside the ellipse of their population; nine in ten are expected.
    pub inside: usize,
    /// Pearson's correlation of the measured.
    pub correlation: Option<f64>,
    /// Where nine in ten published people stand.
    pub ellipses: Vec<ShownEllipse>,
    /// What each chosen size fits in these two dimensions.
    pub boxes: Vec<SizeBox>,
}

/// One performer in two dimensions.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShownPoint {
    /// Code.
    pub code: String,
    /// Value along, mm.
    pub along_mm: f64,
    /// Value up, mm.
    pub up_mm: f64,
    /// Measured where both are.
    pub basis: Basis,
    /// Inside the ellipse of the performer's population.
    pub is_inside: bool,
}

/// An ellipse.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShownEllipse {
    /// Key of the population.
    pub population: String,
    /// How many of the cast are compared with it, halves where no sex is stated.
    pub performers: f64,
    /// Once round, mm along and up.
    pub outline_mm: Vec<[f64; 2]>,
}

/// What a size fits in two dimensions; an end is missing where the dimension decides nothing.
#[derive(Debug, Serialize, ToSchema)]
pub struct SizeBox {
    /// Name of the size.
    pub size: String,
    /// Smallest and largest value along, mm.
    pub along_mm: Option<(f64, f64)>,
    /// Smallest and largest value up, mm.
    pub up_mm: Option<(f64, f64)>,
}

/// Describes a cast. `None` when nobody is measured yet.
#[must_use]
pub fn describe(model: &HandModel, people: &[Person], order: &CastOrder) -> Option<CastReport> {
    let cast = Cast::of(model, people);
    let members = members(&cast);
    let chosen = Chosen::of(model, &cast, &order.sizes)?;
    let shown = distribution(model, &members, order.side, order.dimension);
    let pair = scatter(model, &members, order.side, order.pair);
    let code = |who: usize| cast.people.get(who).map(|(person, _)| person.performer.code.clone());
    Some(CastReport {
        counted: members.len(),
        populations: populations(&members),
        rows: rows(model, &members).iter().map(row).collect(),
        shown: ShownDistribution {
            side: order.side,
            dimension: order.dimension,
            bins: histogram(model, &members, &shown).into_iter().map(rounded).collect(),
            values: shown
                .values
                .iter()
                .filter_map(|v| Some(shown_value(code(v.who)?, v)))
                .collect(),
        },
        pair: shown_pair(&pair, &chosen, code),
        unmeasured: cast.unmeasured.clone(),
    })
}

/// One value of one performer, for the long table.
#[derive(Debug)]
pub struct Entry {
    /// Code.
    pub code: String,
    /// Key of the population.
    pub population: String,
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// The value.
    pub value: Value,
}

/// Every value of everybody.
#[must_use]
pub fn entries(model: &HandModel, people: &[Person]) -> Vec<Entry> {
    let cast = Cast::of(model, people);
    let mut entries = Vec::new();
    for found in rows(model, &members(&cast)) {
        for value in found.values {
            if let Some((person, _)) = cast.people.get(value.who) {
                entries.push(Entry {
                    code: person.performer.code.clone(),
                    population: person.performer.population.key(),
                    side: found.side,
                    dimension: found.dimension,
                    value,
                });
            }
        }
    }
    entries
}

/// Everybody as the description sees them.
#[must_use]
pub fn members<'a>(cast: &'a Cast<'_>) -> Vec<Member<'a>> {
    cast.people
        .iter()
        .map(|(person, assessed)| Member {
            population: person.performer.population,
            hands: &assessed.trusted,
            filled: &assessed.filled,
        })
        .collect()
}

/// Name of a dimension with its unit, for an axis.
#[must_use]
pub fn axis(words: &serde_json::Value, dimension: Dimension) -> String {
    format!("{}, mm", dimension_name(words, dimension))
}

fn rows(model: &HandModel, members: &[Member<'_>]) -> Vec<Distribution> {
    Dimension::ALL
        .into_iter()
        .flat_map(|d| Side::BOTH.map(|side| distribution(model, members, side, d)))
        .collect()
}

fn populations(members: &[Member<'_>]) -> Vec<CountedPopulation> {
    let mut counts: Vec<(Population, usize)> = Vec::new();
    for member in members {
        match counts.iter_mut().find(|(known, _)| *known == member.population) {
            Some((_, count)) => *count += 1,
            None => counts.push((member.population, 1)),
        }
    }
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let counted = |(population, performers): (Population, usize)| CountedPopulation {
        population: population.key(),
        performers,
    };
    counts.into_iter().map(counted).collect()
}

fn row(found: &Distribution) -> CastRow {
    let measured = found.measured.map_or(0, |spread| spread.n);
    CastRow {
        side: found.side,
        dimension: found.dimension,
        name: found.dimension.name(),
        measured,
        estimated: found.values.len() - measured,
        figures: found.measured.map(|spread| Spread {
            n: spread.n,
            mean: tenth(spread.mean),
            sd: spread.sd.map(tenth),
            min: tenth(spread.min),
            p5: tenth(spread.p5),
            p25: tenth(spread.p25),
            p50: tenth(spread.p50),
            p75: tenth(spread.p75),
            p95: tenth(spread.p95),
            max: tenth(spread.max),
        }),
        percentile: found.percentiles.map(|spread| spread.p50.round()),
        distance: found.test.map(|test| thousandth(test.distance)),
        p: found.test.map(|test| thousandth(test.p)),
    }
}

fn rounded(bin: Bin) -> Bin {
    Bin { published: tenth(bin.published), ..bin }
}

fn shown_value(code: String, value: &Value) -> ShownValue {
    let percentile = tenth(value.percentile);
    ShownValue { code, mm: tenth(value.mm), basis: value.basis, percentile }
}

fn shown_pair(
    pair: &Scatter,
    chosen: &Chosen,
    code: impl Fn(usize) -> Option<String>,
) -> ShownPair {
    let points = pair.points.iter().filter_map(|point| {
        Some(ShownPoint {
            code: code(point.who)?,
            along_mm: tenth(point.mm[0]),
            up_mm: tenth(point.mm[1]),
            basis: point.basis,
            is_inside: point.is_inside,
        })
    });
    let measured = || pair.points.iter().filter(|point| point.basis == Basis::Measured);
    let ends = |(low, high): (f64, f64)| (tenth(low), tenth(high));
    let boxes = chosen.sizes.iter().enumerate().map(|(slot, picked)| {
        let [along_mm, up_mm] = pair.dimensions.map(|d| {
            let range = picked.size.range_mm(&chosen.rules, pair.side, d);
            range.map(ends)
        });
        SizeBox { size: letter(slot), along_mm, up_mm }
    });
    let ellipses = pair.ellipses.iter().map(|ellipse| ShownEllipse {
        population: ellipse.population.key(),
        performers: ellipse.people,
        outline_mm: ellipse.outline.iter().map(|mm| mm.map(tenth)).collect(),
    });
    ShownPair {
        side: pair.side,
        along: pair.dimensions[0],
        up: pair.dimensions[1],
        measured: measured().count(),
        inside: measured().filter(|point| point.is_inside).count(),
        correlation: pair.correlation.map(thousandth),
        points: points.collect(),
        ellipses: ellipses.collect(),
        boxes: boxes.collect(),
    }
}
