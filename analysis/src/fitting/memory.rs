//! What a workshop's fittings teach about a fabric: ease by zone, shrunk towards the stretch test.
//!
//! The mixed model and its variance components are in `components`. On top of it:
//!
//! - **Wild answers.** A performer's mean pulls on a zone with at most `k` of its standard deviations
//!   (Huber 1964; fitted by pseudo-values, Huber and Ronchetti 2009, section 7.8). With components
//!   held, one performer therefore moves what others' gloves start from by at most `k tau^2 / sd`,
//!   2.4 % of girth with the SDs believed; and by at most `(k / sd) / (1/tau^2 + n / sd^2)` where n
//!   others stay within the pull's end. Components that a wild answer upsets may add half as much.
//! - **Intervals** count the doubt about the components: a mixture of normals over a grid of them.

use serde::{Deserialize, Serialize};
use statrs::function::erf::erfc;

use super::components::{Cell, Components, Evidence, VariancePrior};
use super::{FitZone, PerZone, ZoneKind};

/// One answer, as ease beyond the stretch test in the units of [`FitZone::scale_mm`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Where.
    pub zone: FitZone,
    /// Whose hand; both hands of one person are one.
    pub performer: u128,
    /// More room wanted than the stretch test gives.
    pub ease: f64,
}

/// What is believed before any fitting, for one kind of zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Belief {
    /// SD of a fabric's true ease about the stretch test's; infinite for no shrinkage.
    pub fabric_sd: f64,
    /// SD of performers about the fabric's ease, and of one answer about the performer's.
    pub performer_sd: f64,
    /// See [`Belief::performer_sd`].
    pub answer_sd: f64,
    /// How many observations the beliefs about both SDs are worth; 0 for none.
    pub weight: f64,
    /// Standard deviations at which a performer's pull ends; infinite for no end.
    pub pull_end: f64,
}

impl Belief {
    /// Assumed: a stretch test by hand is right to 2 % of girth and 1.5 mm, performers' likings and
    /// bodies differ as much, and an answer on a scale of five is good to three quarters of that.
    /// The pull ends at 1.5 standard deviations, where a clean workshop loses 4 % of efficiency.
    #[must_use]
    pub fn of(kind: ZoneKind) -> Belief {
        let (fabric_sd, performer_sd, answer_sd) = match kind {
            ZoneKind::Girth => (0.02, 0.02, 0.015),
            ZoneKind::Length | ZoneKind::Crotch => (1.5, 1.5, 1.2),
        };
        Belief { fabric_sd, performer_sd, answer_sd, weight: 10.0, pull_end: 1.5 }
    }

    /// Restricted maximum likelihood alone: nothing believed, nothing held back.
    #[must_use]
    pub fn none(kind: ZoneKind) -> Belief {
        Belief {
            fabric_sd: f64::INFINITY,
            weight: 0.0,
            pull_end: f64::INFINITY,
            ..Belief::of(kind)
        }
    }

    /// Most that one performer's answers, however wild, move the learned ease when `others` have
    /// answered within the pull's end, with the SDs as believed.
    #[must_use]
    pub fn pull_bound(&self, others: usize) -> f64 {
        let variance = self.performer_sd.powi(2) + self.answer_sd.powi(2);
        let precision = self.fabric_sd.powi(-2) + others as f64 / variance;
        self.pull_end / variance.sqrt() / precision
    }
}

/// What was learned of one zone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Learned {
    /// Which zone.
    pub zone: FitZone,
    /// Ease beyond the stretch test: a share of girth, or mm; exactly 0 without fittings.
    pub ease: f64,
    /// Lower end of its 90 % interval.
    pub low: f64,
    /// Upper end of its 90 % interval.
    pub high: f64,
    /// From how many performers.
    pub performers: usize,
    /// From how many answers.
    pub answers: usize,
}

impl Learned {
    /// SD of what is believed of the ease, from its interval.
    fn sd(&self) -> f64 {
        (self.high - self.low) / (2.0 * NORMAL_95)
    }
}

/// 95th percentile of the standard normal.
const NORMAL_95: f64 = 1.644_853_626_951;

/// The memory of one fabric.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Memory {
    /// Every zone in order.
    pub zones: Vec<Learned>,
    /// SD between performers of girths, lengths and crotches, in the units of the zones.
    pub performer_sd: [f64; 3],
    /// SD of an answer, likewise.
    pub answer_sd: [f64; 3],
}

const KINDS: [ZoneKind; 3] = [ZoneKind::Girth, ZoneKind::Length, ZoneKind::Crotch];

impl Memory {
    /// Learns from every answer in one fabric with the beliefs of the house.
    #[must_use]
    pub fn learn(observations: &[Observation]) -> Memory {
        Memory::learn_with(observations, None, Belief::of)
    }

    /// [`Memory::learn`] from what a fabric it was copied from had learned.
    #[must_use]
    pub fn learn_on(observations: &[Observation], inherited: &Memory) -> Memory {
        Memory::learn_with(observations, Some(inherited), Belief::of)
    }

    /// [`Memory::learn`] with other beliefs. The order of the observations does not matter.
    #[must_use]
    pub fn learn_with(
        observations: &[Observation],
        inherited: Option<&Memory>,
        belief: impl Fn(ZoneKind) -> Belief,
    ) -> Memory {
        let start = inherited.map(Memory::ease).unwrap_or_default();
        let sd = |zone: FitZone| {
            let known = inherited.and_then(|m| m.zones.iter().find(|l| l.zone == zone));
            known.map_or(belief(zone.kind()).fabric_sd, Learned::sd)
        };
        let prior_precision = FitZone::ALL.map(|zone| sd(zone).powi(-2));
        let mut sorted: Vec<&Observation> =
            observations.iter().filter(|seen| seen.ease.is_finite()).collect();
        sorted.sort_unstable_by(|a, b| {
            (a.zone, a.performer).cmp(&(b.zone, b.performer)).then(a.ease.total_cmp(&b.ease))
        });
        let mut memory = Memory {
            zones: Vec::with_capacity(FitZone::COUNT),
            performer_sd: [0.0; 3],
            answer_sd: [0.0; 3],
        };
        for (i, kind) in KINDS.into_iter().enumerate() {
            let groups: Vec<Group> = sorted
                .chunk_by(|a, b| (a.zone, a.performer) == (b.zone, b.performer))
                .filter(|group| group.first().is_some_and(|seen| seen.zone.kind() == kind))
                .filter_map(|group| Group::of(group, &start))
                .collect();
            let fitted = fit(&groups, belief(kind), &prior_precision);
            memory.performer_sd[i] = fitted.components.between.sqrt();
            memory.answer_sd[i] = fitted.components.within.sqrt();
            memory.zones.extend(FitZone::ALL.into_iter().filter(|z| z.kind() == kind).map(
                |zone| {
                    let own = || groups.iter().filter(|group| group.zone == zone);
                    let (ease, low, high) = fitted.zones[zone.index()];
                    let before = inherited.and_then(|m| m.zones.iter().find(|l| l.zone == zone));
                    let (performers, answers) =
                        before.map_or((0, 0), |l| (l.performers, l.answers));
                    Learned {
                        zone,
                        ease: start[zone] + ease,
                        low: start[zone] + low,
                        high: start[zone] + high,
                        performers: performers + own().count(),
                        answers: answers + own().map(|group| group.deviations.len()).sum::<usize>(),
                    }
                },
            ));
        }
        memory.zones.sort_by_key(|learned| learned.zone);
        memory
    }

    /// The learned ease by zone.
    #[must_use]
    pub fn ease(&self) -> PerZone {
        let mut ease = PerZone::default();
        for learned in &self.zones {
            ease[learned.zone] = learned.ease;
        }
        ease
    }
}

/// One performer's answers for one zone.
struct Group {
    zone: FitZone,
    mean: f64,
    deviations: Vec<f64>,
}

impl Group {
    /// The answers about `start`, what was known before.
    fn of(answers: &[&Observation], start: &PerZone) -> Option<Group> {
        let zone = answers.first()?.zone;
        let mean = answers.iter().map(|seen| seen.ease).sum::<f64>() / answers.len() as f64;
        let deviations = answers.iter().map(|seen| seen.ease - mean).collect();
        Some(Group { zone, mean: mean - start[zone], deviations })
    }

    fn n(&self) -> f64 {
        self.deviations.len() as f64
    }
}

struct Fitted {
    components: Components,
    /// Ease and its 90 % interval by zone.
    zones: [(f64, f64, f64); FitZone::COUNT],
}

/// Share of a standard normal's variance that is left when it is cut off at +- k, and the precision
/// of the estimate against the plain mean's, `(E psi')^2 / E psi^2`.
fn cut_off(k: f64) -> (f64, f64) {
    if !k.is_finite() {
        return (1.0, 1.0);
    }
    let density = (-k * k / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let beyond = erfc(k / std::f64::consts::SQRT_2) / 2.0;
    let variance = 1.0 - 2.0 * (k * density + beyond - k * k * beyond);
    let inside = 1.0 - 2.0 * beyond;
    (variance, inside * inside / variance)
}

fn fit(groups: &[Group], belief: Belief, prior_precision: &[f64; FitZone::COUNT]) -> Fitted {
    let believed =
        Components { between: belief.performer_sd.powi(2), within: belief.answer_sd.powi(2) };
    let (left, efficiency) = cut_off(belief.pull_end);
    let mut components = believed;
    let mut centres = [0.0; FitZone::COUNT];
    let look = |components, centres: &[f64; FitZone::COUNT]| {
        evidence(groups, &belief, components, centres, (left, prior_precision))
    };
    let mut evidence = look(components, &centres);
    for _ in 0..100 {
        let before = (components, centres);
        components = evidence.most_likely(components);
        for (zone, (precision, sum)) in pulls(groups, &belief, components, &centres) {
            let prior = prior_precision[zone];
            centres[zone] += (sum - prior * centres[zone]) / (prior + precision);
        }
        evidence = look(components, &centres);
        let moved = centres.iter().zip(before.1).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let swung = (components.between / before.0.between).ln().abs()
            + (components.within / before.0.within).ln().abs();
        if moved < 1e-10 * belief.answer_sd && swung < 1e-9 {
            break;
        }
    }
    let spread = evidence.spread(components);
    let sums: Vec<_> =
        spread.iter().map(|(at, weight)| (evidence.zone_sums(*at), *weight)).collect();
    let mut zones = [(0.0, 0.0, 0.0); FitZone::COUNT];
    for (zone, fitted) in zones.iter_mut().enumerate() {
        let centre = centres[zone];
        let parts: Vec<(f64, f64, f64)> = sums
            .iter()
            .map(|(sums, weight)| {
                let ((precision, sum), prior) = (sums[zone], prior_precision[zone]);
                let a = prior + precision;
                let sd = (prior + efficiency * precision).sqrt().recip();
                (sum / a, sd, *weight)
            })
            .collect();
        // The pseudo-values of the components are widened; only their spread is used, about the
        // estimate itself.
        let middle: f64 = parts.iter().map(|(mean, _, weight)| mean * weight).sum();
        let parts: Vec<_> =
            parts.into_iter().map(|(mean, sd, w)| (mean - middle + centre, sd, w)).collect();
        *fitted = (centre, quantile(&parts, 0.05), quantile(&parts, 0.95));
    }
    Fitted { components, zones }
}

/// For each zone with answers: their precision, and the sum of the performers' pulls on its centre.
fn pulls(
    groups: &[Group],
    belief: &Belief,
    at: Components,
    centres: &[f64; FitZone::COUNT],
) -> Vec<(usize, (f64, f64))> {
    let mut sums: Vec<(usize, (f64, f64))> = Vec::new();
    for group in groups {
        let zone = group.zone.index();
        let variance = at.of_mean(group.n());
        let most = belief.pull_end * variance.sqrt();
        let pull = (group.mean - centres[zone]).clamp(-most, most) / variance;
        match sums.last_mut() {
            Some((last, (precision, sum))) if *last == zone => {
                *precision += 1.0 / variance;
                *sum += pull;
            }
            _ => sums.push((zone, (1.0 / variance, pull))),
        }
    }
    sums
}

/// What the answers, wild ones cut off, say of the components. What is cut off a normal spread is
/// given back by `left`, the share that remains.
fn evidence(
    groups: &[Group],
    belief: &Belief,
    at: Components,
    centres: &[f64; FitZone::COUNT],
    (left, prior_precision): (f64, &[f64; FitZone::COUNT]),
) -> Evidence {
    let widen = left.sqrt().recip();
    let mut cells: Vec<Cell> = Vec::new();
    let (mut within_squares, mut within_freedom) = (0.0, 0.0);
    for group in groups {
        let (zone, n) = (group.zone.index(), group.n());
        let most = belief.pull_end * at.of_mean(n).sqrt();
        let off = (group.mean - centres[zone]).clamp(-most, most) * widen;
        let mean = centres[zone] + off;
        within_freedom += n - 1.0;
        let most = belief.pull_end * (at.within * (n - 1.0) / n).sqrt();
        if group.deviations.len() > 1 {
            within_squares +=
                group.deviations.iter().map(|d| d.clamp(-most, most).powi(2)).sum::<f64>() / left;
        }
        // Groups come zone by zone.
        let own = cells.iter_mut().rev().take_while(|cell| cell.zone == zone);
        match own.into_iter().find(|cell| cell.n == n) {
            Some(cell) => {
                cell.count += 1.0;
                cell.sum += mean;
                cell.squares += mean * mean;
            }
            None => cells.push(Cell { zone, n, count: 1.0, sum: mean, squares: mean * mean }),
        }
    }
    let prior = |variance| VariancePrior { weight: belief.weight, variance };
    let believed = [belief.performer_sd.powi(2), belief.answer_sd.powi(2)];
    // With beliefs, an SD stays within a half and three times what is believed; without, anywhere.
    let bounds = believed.map(|variance| {
        if belief.weight > 0.0 {
            (variance / 4.0, variance * 9.0)
        } else {
            (variance * 1e-8, variance * 1e4)
        }
    });
    Evidence {
        cells,
        within_squares,
        within_freedom,
        prior_precision: *prior_precision,
        priors: believed.map(prior),
        bounds,
    }
}

/// Quantile of a mixture of normals (mean, sd, weight), by bisection.
fn quantile(parts: &[(f64, f64, f64)], level: f64) -> f64 {
    let below = |x: f64| -> f64 {
        parts
            .iter()
            .map(|(mean, sd, weight)| {
                weight * erfc((mean - x) / (sd * std::f64::consts::SQRT_2)) / 2.0
            })
            .sum()
    };
    let reach = parts.iter().map(|(mean, sd, _)| mean.abs() + 8.0 * sd).fold(0.0, f64::max);
    if !reach.is_finite() {
        return if level < 0.5 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    let (mut low, mut high) = (-reach, reach);
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if below(middle) < level {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
