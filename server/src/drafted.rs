//! One performer's draft as pages, files, API and demo make it: the same choices, hands, labels and
//! versions.

use analysis::draft::{Draft, DraftError, GloveOptions, draft};
use analysis::hand::Side;
use analysis::model::HandEstimate;
use uuid::Uuid;

use crate::batch::{BatchPerformer, DraftInputs, hands_to_draft};
use crate::dates::today;
use crate::draft_options::{DraftForm, Wanted, out_of_bounds};
use crate::error::Problem;
use crate::export::SheetLabels;
use crate::fits::{Fits, Known};
use crate::models::InUse;
use crate::person::{Assessed, Person};
use crate::store::draft_version::{self, DraftVersion};
use crate::store::fabric::{self, Fabric};
use crate::store::production::{self, Production};
use crate::store::{Conn, StoreResult};
use crate::wanted::{Base, kept, to_draft};

/// Written instead of a number on a draft that no batch has issued as a version.
pub(crate) const TRIAL: &str = "trial";

/// Everything one performer's drafts follow from.
pub(crate) struct Source {
    pub(crate) person: Person,
    pub(crate) production: Production,
    pub(crate) fabrics: Vec<Fabric>,
    pub(crate) latest: Option<DraftVersion>,
    pub(crate) fits: Fits,
}

/// Reads what one performer's drafts follow from.
pub(crate) fn read(c: &Conn, id: Uuid) -> StoreResult<Source> {
    let person = Person::load(c, id)?;
    let home = person.performer.production;
    let fabrics = fabric::list(c, home)?;
    let fabric = fabrics.iter().find(|fabric| Some(fabric.id) == person.performer.fabric);
    let known = fabric.map(|fabric| Known::of(c, fabric)).transpose()?;
    Ok(Source {
        production: production::get(c, home)?,
        fits: Fits::load(c, id, known.as_ref())?,
        fabrics,
        latest: draft_version::latest(c, id)?,
        person,
    })
}

impl Source {
    /// The fabric of their gloves.
    pub(crate) fn fabric(&self) -> Option<&Fabric> {
        self.fabrics.iter().find(|fabric| Some(fabric.id) == self.person.performer.fabric)
    }

    /// What is drafted where nothing is chosen.
    pub(crate) fn base(&self, assessed: &Assessed) -> Base {
        let facts = self.fabric().map(|fabric| &fabric.facts);
        Base::of(facts, &assessed.filled, self.person.performer.population)
            .with_fits(&assessed.filled, self.fits.clone())
    }

    /// These choices, over those that were kept.
    pub(crate) fn chosen(&self, form: DraftForm) -> DraftForm {
        form.over(&kept(&self.production, &self.person.performer))
    }

    /// What is drafted now. Choices that cannot be used are said on the draft page; here the fabric's
    /// own stand in.
    pub(crate) fn wanted(&self, base: &Base) -> Wanted {
        base.wanted(&self.chosen(DraftForm::default()))
            .or_else(|_| base.wanted(&DraftForm::default()))
            .unwrap_or(Wanted { options: base.options, master: None })
    }

    /// Inputs of the version with these choices; `model` is the tag of the hand model in use.
    pub(crate) fn inputs(&self, performer: &BatchPerformer, model: &str) -> String {
        DraftInputs::of(&self.production.name, performer).with_model(model).text()
    }

    /// Labels with the number and date of the version that has these very inputs, if there is one.
    pub(crate) fn labels(&self, assessed: &Assessed, wanted: Wanted, model: &str) -> SheetLabels {
        let performer = to_draft(&self.person, assessed, self.fabric(), wanted);
        let inputs = self.inputs(&performer, model);
        let issued = self.latest.as_ref().filter(|latest| latest.inputs == inputs);
        let (version, date) = match issued {
            Some(issued) => (issued.number.to_string(), issued.date.clone()),
            None => (TRIAL.to_owned(), today()),
        };
        SheetLabels {
            production: self.production.name.clone(),
            performer_code: performer.code,
            fabric: performer.fabric,
            version,
            date,
        }
    }
}

/// Keeps a performer's gloves as they stand as a version, if the newest is not the very same; gives
/// what is drafted, and the version.
pub(crate) fn keep(
    c: &Conn,
    in_use: &InUse,
    id: Uuid,
) -> StoreResult<(BatchPerformer, DraftVersion)> {
    let source = read(c, id)?;
    let assessed = source.person.assess(&in_use.model);
    let wanted = source.wanted(&source.base(&assessed));
    let performer = to_draft(&source.person, &assessed, source.fabric(), wanted);
    let inputs = source.inputs(&performer, &in_use.tag);
    let version = draft_version::issue(c, id, &inputs, &today())?;
    Ok((performer, version))
}

/// A draft with what it was made from.
pub(crate) struct Made {
    pub(crate) draft: Draft,
    pub(crate) wanted: Wanted,
    /// Whether both gloves come from one master.
    pub(crate) is_master: bool,
}

/// Drafts one glove with these choices.
pub(crate) fn make(
    assessed: &Assessed,
    side: Side,
    base: &Base,
    chosen: &DraftForm,
) -> Result<Made, Problem> {
    let wanted = base.wanted(chosen)?;
    let hands = hands_to_draft(&assessed.filled, wanted.master);
    let draft = draft_of(hands.side(side), side, &wanted.options)?;
    Ok(Made { draft, wanted, is_master: hands.left == hands.right })
}

/// Drafts one glove for a hand.
///
/// # Errors
/// A refusal with the reason where it cannot be drafted.
pub(crate) fn draft_of(
    hand: &HandEstimate,
    side: Side,
    options: &GloveOptions,
) -> Result<Draft, Problem> {
    draft(hand, side, options).map_err(draft_problem)
}

fn draft_problem(error: DraftError) -> Problem {
    match error {
        DraftError::Option(outside) => out_of_bounds(outside),
        other => Problem::at("draft", "hand_not_draftable").with("why", other.to_string()),
    }
}
