//! One performer's hands as the pages and the API show them: readings in use, the filled hands,
//! and the flags with what was decided about them.

use analysis::check::{Flag, FlagKind, Phrase, Repair, check_hands, expected, trusted};
use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::{Basis, FilledHands, HandEstimate, HandModel};
use analysis::plan::{DEFAULT_TOLERANCE_MM, plan};
use rusqlite::Connection;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::store::consent;
use crate::store::fact::{self, Acceptance};
use crate::store::measure_again;
use crate::store::performer::{self, Performer};
use crate::store::reading::{self, Reading};
use crate::store::{Conn, StoreResult};

/// What is stored about one performer.
#[derive(Debug, Clone)]
pub struct Person {
    /// Who.
    pub performer: Performer,
    /// Readings in use.
    pub readings: Vec<Reading>,
    /// Flags kept with a reason.
    pub acceptances: Vec<Acceptance>,
    /// Steps skipped.
    pub skipped: Vec<(Side, Dimension)>,
    /// How a minor's guardian agreed, while the consent is in force.
    pub consent: Option<String>,
    /// Whether somebody decided that they are to be measured again.
    pub is_to_measure_again: bool,
}

/// A reading to take.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Step {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
}

/// What pages and phones say of a performer who is to be measured again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct MeasureAgain {
    /// The one reading that would help most, if one stands out.
    pub helps_most: Option<Step>,
}

/// A flag with its key and whether it was kept.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = Flag)]
pub struct SeenFlag {
    /// Kind, side and dimension: names the flag in forms and facts.
    pub key: String,
    /// What kind.
    pub kind: FlagKind,
    /// The hand concerned; `None` when both are.
    pub side: Option<Side>,
    /// The dimension concerned; `None` when the whole hand is.
    pub dimension: Option<Dimension>,
    /// What, why and the figures: one sentence after the other.
    pub says: Vec<Phrase>,
    /// What it suggests instead.
    pub repairs: Vec<Repair>,
    /// Why it was kept, if it was.
    pub kept: Option<String>,
}

/// Both hands, checked and filled.
#[derive(Debug, Clone)]
pub struct Assessed {
    /// What was measured.
    pub hands: Hands,
    /// What of it the estimates rest on.
    pub trusted: Hands,
    /// What is measured or estimated of every dimension.
    pub filled: FilledHands,
    /// Every flag, kept ones included.
    pub flags: Vec<SeenFlag>,
}

impl Assessed {
    /// Flags nobody has decided about yet.
    pub fn open_flags(&self) -> impl Iterator<Item = &SeenFlag> {
        self.flags.iter().filter(|flag| flag.kept.is_none())
    }

    /// One hand, complete.
    #[must_use]
    pub fn hand(&self, side: Side) -> &HandEstimate {
        self.filled.side(side)
    }
}

impl Person {
    /// Reads one performer.
    ///
    /// # Errors
    /// [`crate::store::StoreError::NotFound`].
    pub fn load(c: &Connection, id: Uuid) -> StoreResult<Person> {
        let performer = performer::get(c, id)?;
        Ok(Person {
            readings: reading::of_performer(c, id)?,
            acceptances: fact::acceptances(c, id)?,
            skipped: fact::skipped(c, id)?,
            consent: manner(c, &performer)?,
            is_to_measure_again: measure_again::of_performer(c, id)?.is_some(),
            performer,
        })
    }

    /// Reads a whole production, in the order of its roster.
    ///
    /// # Errors
    /// Database errors only.
    pub fn load_all(c: &Conn, production: Uuid) -> StoreResult<Vec<Person>> {
        let mut readings = reading::of_production(c, production)?;
        let performers = performer::list(c, production)?;
        let mut people = Vec::with_capacity(performers.len());
        for performer in performers {
            people.push(Person {
                readings: readings.remove(&performer.id).unwrap_or_default(),
                acceptances: fact::acceptances(c, performer.id)?,
                skipped: fact::skipped(c, performer.id)?,
                consent: manner(c, &performer)?,
                is_to_measure_again: measure_again::of_performer(c, performer.id)?.is_some(),
                performer,
            });
        }
        Ok(people)
    }

    /// Whether this is a minor without a guardian's consent, of whom no reading is taken.
    #[must_use]
    pub fn needs_consent(&self) -> bool {
        consent::is_minor(self.performer.population) && self.consent.is_none()
    }

    /// The readings in use, summarised.
    #[must_use]
    pub fn hands(&self) -> Hands {
        let value = |r: &Reading| (r.side, r.dimension, r.mm);
        let (home, workshop): (Vec<&Reading>, Vec<&Reading>) =
            self.readings.iter().partition(|r| r.origin == reading::HOME);
        let [home, workshop] =
            [home, workshop].map(|all| all.into_iter().map(value).collect::<Vec<_>>());
        Hands::with_home(&workshop, &home)
    }

    /// Whether every dimension of both hands was measured or skipped.
    #[must_use]
    pub fn is_settled(&self, hands: &Hands) -> bool {
        Side::BOTH.into_iter().all(|side| {
            Dimension::ALL.into_iter().all(|dimension| {
                hands.side(side)[dimension].is_some() || self.skipped.contains(&(side, dimension))
            })
        })
    }

    /// The one reading that would help most: what the first open flag doubts, or what the plan takes
    /// next.
    #[must_use]
    pub fn helps_most(&self, model: &HandModel, assessed: &Assessed) -> Option<Step> {
        let doubted = |flag: &SeenFlag| {
            let side = flag.side.unwrap_or(Side::Right);
            flag.dimension.map(|dimension| Step { side, dimension })
        };
        assessed.open_flags().find_map(doubted).or_else(|| {
            let population = self.performer.population;
            let planned =
                plan(model, population, &assessed.trusted, &Side::BOTH, DEFAULT_TOLERANCE_MM);
            let best = planned.next.first()?;
            Some(Step { side: best.side, dimension: best.dimension })
        })
    }

    /// What is said of them where they are to be measured again.
    #[must_use]
    pub fn measure_again(&self, model: &HandModel, assessed: &Assessed) -> Option<MeasureAgain> {
        self.is_to_measure_again
            .then(|| MeasureAgain { helps_most: self.helps_most(model, assessed) })
    }

    /// Checks both hands, and fills them from the readings that no open flag calls a slip.
    #[must_use]
    pub fn assess(&self, model: &HandModel) -> Assessed {
        let hands = self.hands();
        let population = self.performer.population;
        let flags = check_hands(model, population, &hands);
        let keys = self.kept_flags(&hands);
        let open = flags.iter().filter(|flag| !keys.iter().any(|(key, _)| *key == flag.key()));
        let trusted = trusted(&hands, open);
        let flags = flags.into_iter().map(|flag| seen(flag, &keys)).collect();
        Assessed { filled: model.fill(population, &trusted), hands, trusted, flags }
    }

    /// Keys of the flags that were kept, with the reason; those whose figures have changed since
    /// are not among them.
    #[must_use]
    pub fn kept_flags(&self, hands: &Hands) -> Vec<(String, String)> {
        self.acceptances
            .iter()
            .filter(|acceptance| acceptance.evidence == evidence(&acceptance.flag, hands))
            .map(|acceptance| (acceptance.flag.clone(), acceptance.reason.clone()))
            .collect()
    }
}

fn manner(c: &Connection, performer: &Performer) -> StoreResult<Option<String>> {
    if !consent::is_minor(performer.population) {
        return Ok(None);
    }
    Ok(consent::in_force(c, performer.id)?.map(|consent| consent.manner))
}

fn seen(flag: Flag, kept: &[(String, String)]) -> SeenFlag {
    let key = flag.key();
    SeenFlag {
        kept: kept.iter().rev().find(|(kept, _)| *kept == key).map(|(_, reason)| reason.clone()),
        key,
        kind: flag.kind,
        side: flag.side,
        dimension: flag.dimension,
        says: flag.says,
        repairs: flag.repairs,
    }
}

/// The medians a flag speaks of, as text: a flag that was kept comes back when they change.
#[must_use]
pub fn evidence(flag_key: &str, hands: &Hands) -> String {
    let mut parts = flag_key.split('.').skip(1);
    let side = parts.next().and_then(Side::from_key);
    let dimension = parts.next().and_then(Dimension::from_key);
    let mut text = String::new();
    for candidate in Side::BOTH.into_iter().filter(|s| side.is_none_or(|side| side == *s)) {
        for (about, summary) in hands.side(candidate).iter() {
            let concerns = dimension.is_none_or(|dimension| dimension == about);
            if let Some(summary) = summary.filter(|_| concerns) {
                text += &format!("{} {} {:.2};", candidate.key(), about.key(), summary.median_mm);
            }
        }
    }
    text
}

/// What the API says of one performer.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = PerformerState)]
pub struct State {
    /// The performer's id.
    pub performer: Uuid,
    /// Their code.
    pub code: String,
    /// Readings in use.
    pub readings: Vec<Reading>,
    /// Steps skipped.
    pub skipped: Vec<(Side, Dimension)>,
    /// Flags, kept ones included.
    pub flags: Vec<SeenFlag>,
    /// Value and 90 % interval of every dimension.
    pub hands: Vec<HandState>,
    /// Key of the published people they are compared with.
    pub population: String,
    /// Hands that are known well enough for a draft.
    pub enough: Vec<Side>,
    /// What is worth taking next, best first.
    pub next: Vec<(Side, Dimension)>,
    /// A minor without a guardian's consent: no reading is taken.
    pub needs_consent: bool,
    /// Where they are to be measured again, with what.
    pub measure_again: Option<MeasureAgain>,
}

/// One dimension of one hand.
#[derive(Debug, Serialize, ToSchema)]
pub struct HandState {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// Measured or estimated.
    pub basis: Basis,
    /// Central value, mm.
    pub mm: f64,
    /// Lower end of the 90 % interval, mm.
    pub low_mm: f64,
    /// Upper end of the 90 % interval, mm.
    pub high_mm: f64,
    /// What a tape should read here, from everything but this dimension's own readings; not worked
    /// out for what was measured in the answer to facts.
    pub expected_mm: Option<(f64, f64)>,
}

impl State {
    /// What is known of a person, from what is stored.
    #[must_use]
    pub fn of(person: Person, model: &HandModel) -> State {
        let hands = person.hands();
        let population = person.performer.population;
        let mut state = State::without_expectations(person, model);
        for hand in state.hands.iter_mut().filter(|hand| hand.basis == Basis::Measured) {
            let expected = expected(model, population, &hands, hand.side, hand.dimension);
            hand.expected_mm = Some((tenth(expected.low_mm), tenth(expected.high_mm)));
        }
        state
    }

    /// The same without what a tape should read where one has read already: that is most of the
    /// work, and the phone that has just sent a reading works it out itself.
    #[must_use]
    pub fn without_expectations(person: Person, model: &HandModel) -> State {
        let assessed = person.assess(model);
        let needs_consent = person.needs_consent();
        let measure_again = person.measure_again(model, &assessed);
        let population = person.performer.population;
        let hands = Side::BOTH
            .into_iter()
            .flat_map(|side| Dimension::ALL.map(|dimension| (side, dimension)))
            .map(|(side, dimension)| {
                let estimate = assessed.hand(side).get(dimension);
                let (low_mm, high_mm) = (tenth(estimate.low_mm), tenth(estimate.high_mm));
                HandState {
                    side,
                    dimension,
                    basis: estimate.basis,
                    mm: tenth(estimate.mm),
                    low_mm,
                    high_mm,
                    expected_mm: (estimate.basis == Basis::Estimated).then_some((low_mm, high_mm)),
                }
            })
            .collect();
        let trusted = &assessed.trusted;
        let planned = plan(model, population, trusted, &Side::BOTH, DEFAULT_TOLERANCE_MM);
        State {
            performer: person.performer.id,
            code: person.performer.code,
            readings: person.readings,
            skipped: person.skipped,
            flags: assessed.flags,
            hands,
            population: population.key(),
            enough: Side::BOTH.into_iter().filter(|side| planned.enough_of(*side)).collect(),
            next: planned.next.into_iter().map(|c| (c.side, c.dimension)).collect(),
            needs_consent,
            measure_again,
        }
    }
}

/// Rounded to a tenth of a millimetre: no tape reads finer.
#[must_use]
pub fn tenth(mm: f64) -> f64 {
    (mm * 10.0).round() / 10.0
}
