//! From explanations to flags: the likeliest is accepted, the rest of the readings looked at again.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::evidence::Evidence;
use super::explain::{Event, Explanation, explanations, typed};
use super::slip::Slip;
use super::words::tenth;
use super::{Flag, FlagKind, Phrase, Repair};
use crate::dimension::Dimension;
use crate::hand::{HOME_ERROR, HOME_SCALE_SD, Hands, Side};
use crate::model::joint::{Observation, observations};
use crate::model::predictive::{Predictive, ln_sum_exp};
use crate::model::{Basis, Estimate, HandModel, Population};

/// Odds from which a reading is flagged: lower and more clean hands carry a flag (at 0.1 about one
/// in eighty with 25 readings, at 0.05 one in forty), higher and more small slips stay hidden. The
/// tests of injected slips and of the best possible detector hold both sides.
pub(super) const FLAG_ODDS: f64 = 0.1;
/// A reading further out among published people, whatever else was read, is flagged: one in ten
/// thousand clean readings.
pub(super) const RANGE_TAIL: f64 = 1e-4;
/// Within this many SDs of one of the populations no reading is out of range: even at half weight
/// more than [`RANGE_TAIL`] lies beyond.
pub(super) const PLAINLY_WITHIN: f64 = 3.5;
/// The readings together are flagged beyond this quantile of chi-squared.
pub(super) const JOINT_TAIL: f64 = 1e-4;
/// A difference of sides or a broken identity names the flag when it alone is this far out, in SDs.
pub(super) const NAMES_THE_FLAG: f64 = 3.5;
/// When this share of the readings would be flagged, the population or the unit is in doubt.
pub(super) const MOST: f64 = 0.4;
pub(super) const MOST_FROM: usize = 4;

/// Flags of both hands, repeats apart.
pub(crate) fn flags(model: &HandModel, population: Population, hands: &Hands) -> Vec<Flag> {
    let readings = observations(hands);
    let joints = model.joints(population, &readings);
    let mut evidence = Evidence::new(&joints, &readings);
    let mut flags = Vec::new();
    let mut flagged = vec![false; readings.len()];
    // Readings that no slip explains.
    let mut doubtful = 0_usize;
    // Each turn settles one explanation; more turns than readings cannot be needed.
    for _ in 0..readings.len() {
        let found = explanations(&evidence, &readings);
        let Some(best) = strongest(&found, &readings) else { break };
        let close = best.and_close(&found);
        flags.extend(describe(model, population, &evidence, &readings, &close));
        match &best.event {
            Event::One(i, _) if !best.repairs() => evidence.drop(*i),
            _ => evidence.accept(&best.changes),
        }
        if !close.iter().any(|e| e.names()) {
            doubtful += 1;
        }
        for (i, flagged) in flagged.iter_mut().enumerate() {
            *flagged |= best.concerns(i);
        }
    }
    for (i, o) in readings.iter().enumerate() {
        let log_mm = evidence.log_mm(i);
        let plain = joints.iter().any(|(_, joint)| {
            let published = joint.component.reading(o.dimension);
            let sd = (published.sigma.powi(2) + home_variance(o)).sqrt();
            (log_mm - published.mu).abs() < PLAINLY_WITHIN * sd
        });
        if flagged[i] || plain {
            continue;
        }
        let published = published(model, population, o);
        if published.tail(log_mm) < RANGE_TAIL {
            flags.push(out_of_range(o, &published));
            flagged[i] = true;
            doubtful += 1;
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "at most 50 readings")]
    let most = doubtful >= MOST_FROM && doubtful as f64 >= MOST * readings.len() as f64;
    if most && !flags.iter().any(|f| f.kind == FlagKind::WholeHandUnit) {
        return vec![wrong_population(population, doubtful, readings.len())];
    }
    if flags.is_empty() {
        flags.extend(joint_distance(&evidence));
    }
    flags
}

/// The likeliest explanation of the reading most in doubt, if the odds call for a flag: odds add
/// up over the explanations of one reading.
fn strongest<'a>(found: &'a [Explanation], readings: &[Observation]) -> Option<&'a Explanation> {
    let best = found.iter().max_by(|a, b| a.ln_odds.total_cmp(&b.ln_odds))?;
    let together = (0..readings.len())
        .filter(|i| best.concerns(*i))
        .map(|i| {
            let odds: Vec<f64> =
                found.iter().filter(|e| e.concerns(i)).map(|e| e.ln_odds).collect();
            ln_sum_exp(&odds)
        })
        .fold(f64::NEG_INFINITY, f64::max);
    (together > FLAG_ODDS.ln()).then_some(best)
}

/// The flag, or for two exchanged fields the two flags, of the likeliest explanation and those
/// close to it. When nothing in particular is likeliest but a slip is close, the slip is named.
fn describe(
    model: &HandModel,
    population: Population,
    evidence: &Evidence,
    readings: &[Observation],
    close: &[&Explanation],
) -> Vec<Flag> {
    let known: Vec<&Explanation> = close.iter().copied().filter(|e| e.names()).take(2).collect();
    let repairs: Vec<Repair> =
        known.iter().filter(|e| e.repairs()).map(|e| repair(readings, e)).collect();
    match (close, known.as_slice()) {
        ([Explanation { event: Event::One(i, Slip::Unexplained), .. }, ..], []) => {
            vec![unexplained(model, population, evidence, readings, *i)]
        }
        ([Explanation { event: Event::One(i, _), .. }, ..], known) => {
            let o = &readings[*i];
            let e = evidence.given_others(*i).estimate(Basis::Estimated);
            let mut says = vec![Phrase::reading(o), expectation(readings, &e)];
            says.extend(known.iter().filter_map(|explanation| cause(readings, explanation)));
            vec![flag(FlagKind::LikelySlip, o, says, repairs)]
        }
        (_, [best @ Explanation { event: Event::Whole(side, scale), .. }, ..]) => {
            let mut says = vec![Phrase::whole_hand(*side, best.changes.len())];
            says.extend(
                best.changes
                    .first()
                    .map(|(i, log)| Phrase::whole_hand_example(&readings[*i], scale, typed(*log))),
            );
            vec![Flag {
                kind: FlagKind::WholeHandUnit,
                side: *side,
                dimension: None,
                says,
                repairs,
            }]
        }
        (_, [best, ..]) => best
            .changes
            .iter()
            .map(|(i, _)| {
                let says = cause(readings, best).into_iter().collect();
                flag(FlagKind::LikelySlip, &readings[*i], says, repairs.clone())
            })
            .collect(),
        _ => Vec::new(),
    }
}

/// What happened, for an explanation that knows.
fn cause(readings: &[Observation], e: &Explanation) -> Option<Phrase> {
    if let Event::One(i, Slip::BreadthForGirth) = e.event {
        return Phrase::breadth_for_girth(&readings[i]);
    }
    let (i, log) = e.changes.first()?;
    let (from, to) = (typed(*log), readings[*i].mm);
    Some(match &e.event {
        Event::Neighbours(a, b) | Event::Sides(a, b) => {
            Phrase::exchanged(&readings[*a], &readings[*b])
        }
        Event::One(_, Slip::Scale(scale)) => Phrase::scale(scale, from, to),
        Event::One(_, Slip::SwappedDigits) => {
            Phrase::SwappedDigits { from: tenth(from), to: tenth(to) }
        }
        Event::One(_, Slip::TenCentimetreMark) => {
            Phrase::TenCentimetreMark { from: tenth(from), to: tenth(to) }
        }
        Event::One(_, Slip::Unexplained | Slip::BreadthForGirth) | Event::Whole(..) => return None,
    })
}

fn flag(kind: FlagKind, o: &Observation, says: Vec<Phrase>, repairs: Vec<Repair>) -> Flag {
    Flag { kind, side: Some(o.side), dimension: Some(o.dimension), says, repairs }
}

/// What is expected, and from what.
fn expectation(readings: &[Observation], e: &Estimate) -> Phrase {
    if readings.len() > 1 { Phrase::from_others(e) } else { Phrase::among_people(e) }
}

/// Replacement values of an explanation that knows them.
fn repair(readings: &[Observation], e: &Explanation) -> Repair {
    let values: Vec<(Side, Dimension, f64)> = e
        .changes
        .iter()
        .map(|(i, log)| {
            let o = &readings[*i];
            (o.side, o.dimension, (typed(*log) * 100.0).round() / 100.0)
        })
        .collect();
    let says = match (&e.event, values.as_slice()) {
        (Event::One(..), [(_, _, mm)]) => Phrase::Use { mm: tenth(*mm) },
        (Event::Neighbours(..) | Event::Sides(..), _) => Phrase::Exchange,
        _ => Phrase::Convert { count: values.len() },
    };
    Repair { says, values }
}

/// A reading no slip explains: the flag is named by what it contradicts most plainly.
fn unexplained(
    model: &HandModel,
    population: Population,
    evidence: &Evidence,
    readings: &[Observation],
    i: usize,
) -> Flag {
    let o = &readings[i];
    let published = published(model, population, o);
    if published.tail(o.mm.ln()) < RANGE_TAIL {
        return out_of_range(o, &published);
    }
    let e = evidence.given_others(i).estimate(Basis::Estimated);
    let expectation = expectation(readings, &e);
    if let Some(sum) = broken_identity(readings, o) {
        return flag(FlagKind::IdentityBroken, o, vec![sum, expectation], Vec::new());
    }
    if let Some(sides) = differing_sides(model, population, readings, o) {
        return flag(FlagKind::SidesDiffer, o, vec![sides, expectation], Vec::new());
    }
    flag(FlagKind::RestOfHand, o, vec![Phrase::reading(o), expectation], Vec::new())
}

/// The reading's distribution among published people.
fn published(model: &HandModel, population: Population, o: &Observation) -> Predictive {
    model.predict(population, &Hands::default(), o.side, o.dimension).widened(home_variance(o))
}

/// By how much the variance of a log reading is larger when it was taken at home.
fn home_variance(o: &Observation) -> f64 {
    let error = o.dimension.measuring_error_mm() / o.mm;
    let own = (HOME_ERROR * HOME_ERROR - 1.0) * error * error;
    if o.is_home { HOME_SCALE_SD * HOME_SCALE_SD + own } else { 0.0 }
}

fn out_of_range(o: &Observation, published: &Predictive) -> Flag {
    let e = published.estimate(Basis::Estimated);
    let says = vec![Phrase::reading(o), Phrase::among_people(&e)];
    flag(FlagKind::OutOfRange, o, says, Vec::new())
}

/// Palm + middle finger against hand length, where all three were read and `o` is one of them.
fn broken_identity(readings: &[Observation], o: &Observation) -> Option<Phrase> {
    use Dimension::{HandLength, MiddleLength, PalmLength};
    let triple = [HandLength, PalmLength, MiddleLength];
    if !triple.contains(&o.dimension) {
        return None;
    }
    let of = |d: Dimension| readings.iter().find(|r| r.side == o.side && r.dimension == d);
    let (length, palm, middle) = (of(HandLength)?, of(PalmLength)?, of(MiddleLength)?);
    let own = |r: &Observation| if r.is_home { HOME_ERROR } else { 1.0 };
    let error = [length, palm, middle]
        .map(|r| (own(r) * r.dimension.measuring_error_mm()).powi(2))
        .iter()
        .sum::<f64>()
        .sqrt();
    let gap = length.mm - palm.mm - middle.mm;
    (gap.abs() > NAMES_THE_FLAG * error).then(|| Phrase::identity(palm.mm, middle.mm, length.mm))
}

/// The same dimension of the other hand, where it was read and differs too much.
fn differing_sides(
    model: &HandModel,
    population: Population,
    readings: &[Observation],
    o: &Observation,
) -> Option<Phrase> {
    let other = readings.iter().find(|r| r.side != o.side && r.dimension == o.dimension)?;
    let mut alone = Hands::default();
    alone.side_mut(other.side)[other.dimension] = crate::hand::Summary::of(&[other.mm]);
    let e = model.expected(population, &alone, o.side, o.dimension);
    // A 90 % interval spans 2 x 1.645 SDs of the difference.
    let sd = (e.high_mm - e.low_mm) / 3.29;
    ((o.mm - e.mm).abs() > NAMES_THE_FLAG * sd).then(|| Phrase::differing(o, other))
}

/// One flag in place of many: the readings do not look like these people at all.
fn wrong_population(population: Population, doubtful: usize, all: usize) -> Flag {
    Flag {
        kind: FlagKind::OutOfRange,
        side: None,
        dimension: None,
        says: vec![Phrase::wrong_population(doubtful, all, population)],
        repairs: Vec::new(),
    }
}

/// All readings together against chi-squared.
fn joint_distance(evidence: &Evidence) -> Option<Flag> {
    #[expect(clippy::cast_precision_loss, reason = "at most 50 readings")]
    let freedom = evidence.len() as f64;
    let tail = ChiSquared::new(freedom).ok()?.sf(evidence.distance());
    (tail < JOINT_TAIL).then(|| Flag {
        kind: FlagKind::RestOfHand,
        side: None,
        dimension: None,
        says: vec![Phrase::UnusualTogether { count: evidence.len() }],
        repairs: Vec::new(),
    })
}
