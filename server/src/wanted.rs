//! From a person, a fabric and what was chosen to what is drafted.

use analysis::draft::{Construction, GirthReduction, GloveOptions};
use analysis::fabric::{Ease, FabricFacts};
use analysis::hand::Side;
use analysis::model::{FilledHands, HandModel};

use crate::batch::BatchPerformer;
use crate::person::{Assessed, Person};
use crate::store::fabric::Fabric;

/// Options a fabric asks for on these hands, or those of the house. Both gloves get the same ease:
/// in each zone the gentler of the two hands.
#[must_use]
pub fn base_options(facts: Option<&FabricFacts>, hands: &FilledHands) -> GloveOptions {
    let defaults = GloveOptions::default();
    // Tests are checked when they are entered; one that is impossible all the same is as none.
    let Some((facts, behaviour)) =
        facts.and_then(|facts| Some((facts, facts.behaviour().ok().flatten()?)))
    else {
        return defaults;
    };
    let ease =
        |side: Side| facts.ease(hands.side(side)).ok().flatten().map(|e: Ease| e.reduction());
    let reduction = match (ease(Side::Left), ease(Side::Right)) {
        (Some(left), Some(right)) => gentler(left, right),
        _ => defaults.reduction,
    };
    let construction =
        if reduction.palm < 0.0 { Construction::Fourchette } else { defaults.construction };
    GloveOptions { reduction, construction, fabric: Some(behaviour), ..defaults }
}

fn gentler(a: GirthReduction, b: GirthReduction) -> GirthReduction {
    GirthReduction {
        palm: a.palm.min(b.palm),
        wrist: a.wrist.min(b.wrist),
        fingers: a.fingers.min(b.fingers),
        thumb: a.thumb.min(b.thumb),
    }
}

/// A person as a batch drafts them.
#[must_use]
pub fn to_draft(person: &Person, model: &HandModel, fabrics: &[Fabric]) -> BatchPerformer {
    let fabric = fabrics.iter().find(|fabric| Some(fabric.id) == person.performer.fabric);
    let assessed = person.assess(model);
    let options = base_options(fabric.map(|fabric| &fabric.facts), &assessed.filled);
    with_options(person, &assessed, fabric, options)
}

/// A person with options of their own, as a batch drafts them.
#[must_use]
pub fn with_options(
    person: &Person,
    assessed: &Assessed,
    fabric: Option<&Fabric>,
    options: GloveOptions,
) -> BatchPerformer {
    BatchPerformer {
        kept_flags: person.kept_flags(&assessed.hands).into_iter().map(|(key, _)| key).collect(),
        hands: assessed.hands.clone(),
        code: person.performer.code.clone(),
        population: person.performer.population,
        fabric: fabric.map(|fabric| fabric.name.clone()).unwrap_or_default(),
        cloth: fabric.map(|fabric| fabric.facts.clone()),
        options: options.worn_by(person.performer.population),
        master: None,
    }
}
