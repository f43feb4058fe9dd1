//! The next glove of a hand: what changes in each zone, and why.

use serde::{Deserialize, Serialize};

use crate::draft::GirthReduction;
use crate::model::HandEstimate;

use super::{Feeling, FitZone, PerZone, Verdict};

/// A test glove that was judged on one hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    /// Number of its version.
    pub glove: i64,
    /// The hand it was drafted for.
    pub hand: HandEstimate,
    /// The reduction it was drafted with.
    pub reduction: GirthReduction,
    /// Its changes beside the reduction, mm.
    pub changes: PerZone,
    /// What was said.
    pub verdict: Verdict,
}

impl Tried {
    /// Size the glove should have had in a zone, mm as [`FitZone::plain_mm`]; `None` where nothing
    /// was said.
    #[must_use]
    pub fn wanted_mm(&self, zone: FitZone) -> Option<f64> {
        let asked = self.verdict.change_mm(zone)?;
        Some(zone.plain_mm(&self.hand, &self.reduction) + self.changes[zone] + asked)
    }

    /// What this fitting says of the fabric's ease in a zone: how much more room than the stretch
    /// test gives was wanted, in the units of [`FitZone::scale_mm`].
    #[must_use]
    pub fn ease_seen(&self, zone: FitZone, tested: &GirthReduction) -> Option<f64> {
        let wanted = self.wanted_mm(zone)?;
        Some((wanted - zone.plain_mm(&self.hand, tested)) / zone.scale_mm(&self.hand))
    }
}

/// Why a zone is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// Nothing is known beyond the stretch test.
    StretchTest,
    /// Fittings of others in this fabric.
    Learned,
    /// The last fitting of this hand.
    Fitting,
    /// Two fittings of one glove that contradict each other: their mean.
    Contradiction,
    /// Set by hand.
    Edited,
}

/// The change of one zone against the plain reduction.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Change {
    /// Which zone.
    pub zone: FitZone,
    /// More room than the plain reduction gives, mm.
    pub mm: f64,
    /// What the last glove's fitting asked for in mm, where it did.
    pub asked_mm: Option<f64>,
    /// Why.
    pub reason: Reason,
    /// Whether the change was cut off at its bound.
    pub is_limited: bool,
}

/// What a cutter should think about before cutting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Warning {
    /// A sign of constriction was seen: nothing is taken in.
    Constriction,
    /// Everything was much too tight: is it the right hand, scale and fabric?
    AllTight,
    /// Everything was much too loose.
    AllLoose,
    /// Two fittings of one glove contradict each other.
    Contradiction,
    /// A change was cut off at its bound.
    Limited,
}

/// The changes of the next glove, all zones in order. A zone set by hand stays; else the last glove
/// that was judged there decides, the mean of its fittings; else what was learned of the fabric.
///
/// `tried` are the gloves of this hand in this fabric, `learned` the fabric's memory in the units of
/// [`FitZone::scale_mm`], `edits` what was set by hand, mm.
#[must_use]
pub fn next_glove(
    hand: &HandEstimate,
    reduction: &GirthReduction,
    learned: &PerZone,
    tried: &[Tried],
    edits: &[(FitZone, f64)],
) -> Vec<Change> {
    FitZone::ALL
        .into_iter()
        .map(|zone| {
            let edited = edits.iter().rev().find(|(edited, _)| *edited == zone);
            let (mm, asked_mm, reason) = match (edited, judged(zone, tried)) {
                (Some((_, mm)), judged) => (*mm, judged.map(|j| j.asked_mm), Reason::Edited),
                (None, Some(judged)) => {
                    let reason = if judged.is_contradiction {
                        Reason::Contradiction
                    } else {
                        Reason::Fitting
                    };
                    let mm = judged.wanted_mm - zone.plain_mm(hand, reduction);
                    (mm, Some(judged.asked_mm), reason)
                }
                (None, None) if learned[zone] == 0.0 => (0.0, None, Reason::StretchTest),
                (None, None) => (learned[zone] * zone.scale_mm(hand), None, Reason::Learned),
            };
            let most = zone.change_max_mm(hand);
            let kept = if mm.is_finite() { tenth(mm.clamp(-most, most)) } else { 0.0 };
            Change { zone, mm: kept, asked_mm, reason, is_limited: (kept - mm).abs() > 0.1 }
        })
        .collect()
}

/// To a tenth of a millimetre: no scissors cut finer, and nothing shown differs from what is drafted.
fn tenth(mm: f64) -> f64 {
    // Adding 0 turns -0 into 0.
    (mm * 10.0).round() / 10.0 + 0.0
}

struct Judged {
    wanted_mm: f64,
    asked_mm: f64,
    is_contradiction: bool,
}

fn judged(zone: FitZone, tried: &[Tried]) -> Option<Judged> {
    let said = |t: &&Tried| t.verdict.answers.contains_key(&zone);
    let glove = tried.iter().filter(said).map(|t| t.glove).max()?;
    let of_glove: Vec<(f64, f64)> = tried
        .iter()
        .filter(|t| t.glove == glove)
        .filter_map(|t| Some((t.wanted_mm(zone)?, t.verdict.change_mm(zone)?)))
        .collect();
    let count = of_glove.len() as f64;
    let mean = |pick: fn(&(f64, f64)) -> f64| of_glove.iter().map(pick).sum::<f64>() / count;
    let tighter = of_glove.iter().any(|(_, asked)| *asked < 0.0);
    let looser = of_glove.iter().any(|(_, asked)| *asked > 0.0);
    Some(Judged {
        wanted_mm: mean(|judged| judged.0),
        asked_mm: mean(|judged| judged.1),
        is_contradiction: tighter && looser,
    })
}

/// What to think about before the next glove is cut.
#[must_use]
pub fn warnings(changes: &[Change], tried: &[Tried]) -> Vec<Warning> {
    let last = tried.iter().map(|t| t.glove).max();
    let latest = || tried.iter().filter(|t| Some(t.glove) == last);
    [
        (Warning::Constriction, latest().any(|t| !t.verdict.signs.is_empty())),
        (Warning::AllTight, latest().any(|t| t.verdict.is_all(Feeling::MuchTooTight))),
        (Warning::AllLoose, latest().any(|t| t.verdict.is_all(Feeling::MuchTooLoose))),
        (Warning::Contradiction, changes.iter().any(|c| c.reason == Reason::Contradiction)),
        (Warning::Limited, changes.iter().any(|c| c.is_limited)),
    ]
    .into_iter()
    .filter_map(|(warning, is_so)| is_so.then_some(warning))
    .collect()
}
