//! What fittings change in a performer's gloves, and what a fabric's fittings teach.

use analysis::draft::{Fitted, GirthReduction};
use analysis::fitting::{
    Change, FitZone, Memory, Observation, PerZone, Tried as TriedGlove, next_glove,
};
use analysis::hand::Side;
use analysis::model::{FilledHands, HandEstimate, HandModel};
use rusqlite::Connection;
use uuid::Uuid;

use crate::batch::{DraftInputs, drafted_hands};
use crate::facts::Sender;
use crate::sent_fitting::Tried;
use crate::store::consent;
use crate::store::draft_version;
use crate::store::fabric::{self, Fabric};
use crate::store::fitting::{self, Edit, Fitting, Glove};
use crate::store::performer;
use crate::store::{StoreError, StoreResult};

/// Stores a fitting with what its glove was drafted from.
///
/// # Errors
/// Refused when the performer has no such version, or a guardian's consent is missing.
pub fn record(c: &Connection, model: &HandModel, tried: Tried, sender: &Sender) -> StoreResult<()> {
    let performer = performer::get(c, tried.performer)?;
    consent::demand(c, &performer)?;
    let version = draft_version::get(c, tried.performer, tried.version)?;
    let inputs = version.as_ref().and_then(|version| DraftInputs::read(&version.inputs));
    let (Some(version), Some(inputs)) = (version, inputs) else {
        return Err(StoreError::Refused {
            field: "version",
            code: "glove_unknown",
            message: "There is no such version of this performer\u{2019}s gloves. Choose the glove that was tried on.".to_owned(),
        });
    };
    let drafted = inputs.performer();
    let (hands, _) = drafted_hands(model, &drafted);
    let options = drafted.options;
    let fabrics = fabric::list(c, performer.production)?;
    let named = fabrics.iter().find(|fabric| fabric.name == drafted.fabric);
    let fitting = Fitting {
        id: tried.id,
        performer: tried.performer,
        side: tried.side,
        version: tried.version,
        // A fabric that was renamed since is still the performer's.
        fabric: named.map(|fabric| fabric.id).or(performer.fabric),
        verdict: tried.verdict,
        glove: Glove::new(
            version.number,
            hands.side(tried.side),
            options.reduction,
            *options.fitted.side(tried.side),
        ),
        note: tried.note,
        measurer: sender.measurer.clone(),
        device: sender.device.chars().take(60).collect(),
        taken_ms: tried.taken_ms,
    };
    fitting::add(c, &fitting).map(drop)
}

/// The reduction a fabric's stretch test asks for on a hand; the house's where it was not pulled.
#[must_use]
pub fn tested(fabric: &Fabric, hand: &HandEstimate) -> GirthReduction {
    fabric.facts.ease(hand).ok().flatten().map(|ease| ease.reduction()).unwrap_or_default()
}

/// What a fabric's fittings teach: everybody's, since its memory begins.
///
/// # Errors
/// Database errors only.
pub fn memory(c: &Connection, fabric: &Fabric) -> StoreResult<Memory> {
    let beginning = fitting::beginning(c, fabric.id)?;
    let mut observations = Vec::new();
    for fitting in fitting::of_fabric(c, fabric.id, beginning.since_ms)? {
        let tried = fitting.tried();
        let tested = tested(fabric, &tried.hand);
        let seen = tried.verdict.answers.keys().filter_map(|zone| {
            let ease = tried.ease_seen(*zone, &tested)?;
            Some(Observation { zone: *zone, performer: fitting.performer.as_u128(), ease })
        });
        observations.extend(seen);
    }
    Ok(match beginning.inherited {
        Some(inherited) => Memory::learn_on(&observations, &inherited),
        None => Memory::learn(&observations),
    })
}

/// A fabric with what was learned of it.
#[derive(Debug, Clone, Copy)]
pub struct Known {
    /// The fabric.
    pub fabric: Uuid,
    /// Ease beyond the stretch test.
    pub learned: PerZone,
}

impl Known {
    /// Learns from a fabric's fittings.
    ///
    /// # Errors
    /// Database errors only.
    pub fn of(c: &Connection, fabric: &Fabric) -> StoreResult<Known> {
        Ok(Known { fabric: fabric.id, learned: memory(c, fabric)?.ease() })
    }
}

/// What is known of one performer's gloves in their fabric.
#[derive(Debug, Clone, Default)]
pub struct Fits {
    /// Fittings in use, oldest first.
    pub fittings: Vec<Fitting>,
    /// What was set by hand and not undone, oldest first.
    pub edits: Vec<Edit>,
    learned: PerZone,
}

impl Fits {
    /// Reads what is known of a performer in a fabric.
    ///
    /// # Errors
    /// Database errors only.
    pub fn load(c: &Connection, performer: Uuid, known: Option<&Known>) -> StoreResult<Fits> {
        let fabric = known.map(|known| known.fabric);
        let mut fittings = fitting::of_performer(c, performer)?;
        fittings.retain(|fitting| fitting.fabric == fabric);
        let mut edits = fitting::edits(c, performer)?;
        edits.retain(|edit| edit.fabric == fabric && edit.undone_ms.is_none());
        let learned = known.map(|known| known.learned).unwrap_or_default();
        Ok(Fits { fittings, edits, learned })
    }

    /// The gloves that were tried on one hand, oldest first.
    #[must_use]
    pub fn tried(&self, side: Side) -> Vec<TriedGlove> {
        self.fittings.iter().filter(|f| f.side == side).map(Fitting::tried).collect()
    }

    /// Zones set by hand; an edit counts until a later fitting judged the zone.
    #[must_use]
    pub fn set_by_hand(&self, side: Side) -> Vec<(FitZone, f64)> {
        let Some(edit) = self.edits.iter().rev().find(|edit| edit.side == side) else {
            return Vec::new();
        };
        let is_judged_since = |zone: &FitZone| {
            self.fittings.iter().any(|fitting| {
                fitting.side == side
                    && fitting.taken_ms > edit.made_ms
                    && fitting.verdict.answers.contains_key(zone)
            })
        };
        let zones = edit.zones.iter().filter(|(zone, _)| !is_judged_since(zone));
        zones.map(|(zone, mm)| (*zone, *mm)).collect()
    }

    /// The changes of the next glove of one hand, drafted with `reduction`. What was learned of the
    /// fabric counts where the reduction is the stretch test's own, `tested`; a reduction somebody
    /// chose rules.
    #[must_use]
    pub fn changes(
        &self,
        side: Side,
        hand: &HandEstimate,
        reduction: &GirthReduction,
        tested: &GirthReduction,
    ) -> Vec<Change> {
        let learned = PerZone::from_fn(|zone| {
            let is_tested = (zone.reduction(reduction) - zone.reduction(tested)).abs() < 1e-9;
            if is_tested { self.learned[zone] } else { 0.0 }
        });
        next_glove(hand, reduction, &learned, &self.tried(side), &self.set_by_hand(side))
    }

    /// The changes of both gloves.
    #[must_use]
    pub fn fitted(
        &self,
        hands: &FilledHands,
        reduction: &GirthReduction,
        tested: &GirthReduction,
    ) -> Fitted {
        let mut fitted = Fitted::default();
        for side in Side::BOTH {
            for change in self.changes(side, hands.side(side), reduction, tested) {
                fitted.side_mut(side)[change.zone] = change.mm;
            }
        }
        fitted
    }
}
