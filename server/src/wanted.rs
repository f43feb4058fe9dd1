//! From a person, a fabric and what was chosen to what is drafted.

use analysis::dimension::Dimension;
use analysis::draft::{Construction, GirthReduction, GloveOptions};
use analysis::fabric::{Ease, FabricFacts};
use analysis::hand::Side;
use analysis::model::{FilledHands, Population};

use crate::batch::{BatchPerformer, hands_to_draft};
use crate::draft_options::{DraftForm, Wanted};
use crate::error::Problem;
use crate::fits::Fits;
use crate::person::{Assessed, Person};
use crate::store::fabric::Fabric;
use crate::store::performer::Performer;
use crate::store::production::Production;

/// What is drafted where nothing is chosen: what a fabric asks for on two hands.
#[derive(Debug, Clone)]
pub struct Base {
    /// Options of the draft.
    pub options: GloveOptions,
    /// Ease of the tighter hand, where the fabric is known.
    pub ease: Option<Ease>,
    /// The options as a form shows them.
    pub form: DraftForm,
    /// What fittings change, with the hands they change it on.
    fits: Option<(FilledHands, Fits)>,
}

impl Base {
    /// What a fabric asks for, or the house. Both gloves get the same ease: in each zone the
    /// gentler of the two hands.
    #[must_use]
    pub fn of(facts: Option<&FabricFacts>, hands: &FilledHands, population: Population) -> Base {
        let girth = |side| hands.side(side).mm(Dimension::HandGirth);
        let hand_girth_mm = girth(Side::Left).max(girth(Side::Right));
        let ease = facts.and_then(|facts| both(facts, hands));
        let options = options(facts, ease.as_ref()).worn_by(population);
        Base { form: DraftForm::of(&options, hand_girth_mm), options, ease, fits: None }
    }

    /// The same, with what fittings change: the performer's own, and those in the fabric.
    #[must_use]
    pub fn with_fits(self, hands: &FilledHands, fits: Fits) -> Base {
        Base { fits: Some((hands.clone(), fits)), ..self }
    }

    /// What is drafted with these choices.
    ///
    /// # Errors
    /// A refusal at the first input that cannot be used.
    pub fn wanted(&self, chosen: &DraftForm) -> Result<Wanted, Problem> {
        let mut wanted = chosen.wanted(self.options, &self.form)?;
        if let Some((hands, fits)) = &self.fits {
            let hands = hands_to_draft(hands, wanted.master);
            let (reduction, tested) = (wanted.options.reduction, self.options.reduction);
            wanted.options.fitted = fits.fitted(&hands, &reduction, &tested);
        }
        Ok(wanted)
    }
}

/// Ease of both hands together. Tests are checked when they are entered; one that is impossible
/// all the same is as none.
fn both(facts: &FabricFacts, hands: &FilledHands) -> Option<Ease> {
    let left = facts.ease(hands.side(Side::Left)).ok().flatten()?;
    let right = facts.ease(hands.side(Side::Right)).ok().flatten()?;
    Some(left.gentler(right))
}

fn options(facts: Option<&FabricFacts>, ease: Option<&Ease>) -> GloveOptions {
    let defaults = GloveOptions::default();
    let (Some(facts), Some(ease)) = (facts, ease) else { return defaults };
    let reduction: GirthReduction = ease.reduction();
    // Fourchettes give a finger the room that cloth without stretch does not.
    let construction =
        if reduction.fingers < 0.0 { Construction::Fourchette } else { defaults.construction };
    let fabric = facts.behaviour().ok().flatten();
    GloveOptions { reduction, construction, fabric, limits: facts.limits, ..defaults }
}

/// What was kept for one performer, over what was kept for everybody.
#[must_use]
pub fn kept(production: &Production, performer: &Performer) -> DraftForm {
    DraftForm::kept(&performer.choices).over(&DraftForm::kept(&production.choices))
}

/// A person as a batch drafts them.
#[must_use]
pub fn to_draft(
    person: &Person,
    assessed: &Assessed,
    fabric: Option<&Fabric>,
    wanted: Wanted,
) -> BatchPerformer {
    BatchPerformer {
        kept_flags: person.kept_flags(&assessed.hands).into_iter().map(|(key, _)| key).collect(),
        hands: assessed.hands.clone(),
        code: person.performer.code.clone(),
        population: person.performer.population,
        call: person.performer.call.clone(),
        fabric: fabric.map(|fabric| fabric.name.clone()).unwrap_or_default(),
        cloth: fabric.map(|fabric| fabric.facts.clone()),
        options: wanted.options,
        master: wanted.master,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::fabric::{Direction, Load, Material, StretchTest};
    use analysis::hand::Hands;
    use analysis::model::HandModel;

    fn knit() -> FabricFacts {
        let test = StretchTest {
            direction: Direction::Greatest,
            load: Load::Mass { mass_g: 2000.0, strip_width_mm: 50.0 },
            before_mm: 100.0,
            loaded_mm: 140.0,
            released_mm: 101.0,
        };
        FabricFacts { tests: vec![test], ..FabricFacts::default() }
    }

    #[test]
    fn both_gloves_get_the_ease_of_the_hand_that_bears_less() {
        let model = HandModel::published();
        let readings =
            [(Side::Left, Dimension::HandGirth, 180.0), (Side::Right, Dimension::HandGirth, 190.0)];
        let filled = model.fill(Population::Women, &Hands::from_readings(&readings));
        let base = Base::of(Some(&knit()), &filled, Population::Women);
        for side in Side::BOTH {
            let own = knit().ease(filled.side(side)).expect("sound").expect("pulled").reduction();
            assert!(base.options.reduction.palm <= own.palm);
            assert!(base.options.reduction.fingers <= own.fingers);
        }
        assert!(base.options.fabric.is_some());
    }

    #[test]
    fn an_unknown_fabric_is_the_house_and_leather_asks_for_fourchettes() {
        let filled = HandModel::published().fill(Population::Men, &Hands::default());
        assert_eq!(Base::of(None, &filled, Population::Men).options, GloveOptions::default());
        let unpulled = FabricFacts::default();
        assert_eq!(
            Base::of(Some(&unpulled), &filled, Population::Men).options,
            GloveOptions::default()
        );
        let leather = FabricFacts { material: Material::Leather, ..FabricFacts::default() };
        let base = Base::of(Some(&leather), &filled, Population::Men).options;
        assert_eq!(base.construction, Construction::Fourchette);
        assert!(base.reduction.palm < 0.0);
        let along = base.fabric.map(|fabric| fabric.usable_along);
        assert_eq!(along, Some(0.0), "the draft adds length for the bent finger");
    }
}
