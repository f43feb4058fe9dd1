//! Facts of measuring as they arrive from phones and forms: understood, then stored in order.

use std::time::Duration;

use analysis::dimension::{Dimension, Instrument};
use analysis::hand::Side;
use analysis::model::{HandModel, Population};
use analysis::units::{self, Unit};
use rusqlite::Connection;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::error::Problem;
use crate::fits;
use crate::person::{Person, evidence};
use crate::sent_fitting::{self, SentFitting, Tried};
use crate::store::consent::{self, Consent};
use crate::store::fact::{self, Acceptance};
use crate::store::reading::{self, Reading};
use crate::store::{StoreError, StoreResult, now_ms};
use crate::store::{fitting, performer};

/// Longest reason, characters.
pub const LONGEST_REASON: usize = 300;

/// How far a phone's clock may run ahead before its time is not believed (assumed).
const CLOCK_AHEAD: Duration = Duration::from_secs(24 * 3600);

/// One fact as sent. Everything is text, so that each input is refused at its place.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[schema(as = Fact)]
#[serde(tag = "fact", rename_all = "snake_case")]
pub enum Sent {
    /// A value was read off the tape.
    Reading {
        /// UUID version 7 made by the phone.
        id: String,
        /// The performer.
        #[schema(value_type = Uuid)]
        performer: String,
        /// `left` or `right`.
        #[schema(value_type = Side)]
        side: String,
        /// Key of the dimension.
        #[schema(value_type = Dimension)]
        dimension: String,
        /// As typed.
        value: String,
        /// Key of the unit chosen: `mm`, `cm` or `in`.
        #[schema(pattern = "^(mm|cm|in)$")]
        unit: String,
        /// Whether the value is a repair that a flag suggested.
        #[serde(default)]
        is_repair: bool,
        /// When, by the phone's clock, ms since 1970.
        #[serde(default)]
        taken_ms: i64,
    },
    /// A reading is taken out of use.
    Withdrawal {
        /// The performer.
        #[schema(value_type = Uuid)]
        performer: String,
        /// The reading.
        #[schema(value_type = Uuid)]
        reading: String,
        /// Why.
        #[serde(default)]
        reason: String,
    },
    /// A flag is kept.
    Acceptance {
        /// Made by the phone, so that sending it twice keeps one; empty from forms.
        #[serde(default)]
        id: String,
        /// The performer.
        #[schema(value_type = Uuid)]
        performer: String,
        /// Key of the flag.
        flag: String,
        /// Why.
        reason: String,
    },
    /// A guardian's consent to measuring a minor is given, or taken back.
    Consent {
        /// Made by the phone, so that sending it twice keeps one; empty from forms.
        #[serde(default)]
        id: String,
        /// The minor.
        #[schema(value_type = Uuid)]
        performer: String,
        /// Given, unless it says otherwise.
        #[serde(default = "given")]
        is_given: bool,
        /// `signed`, `spoken` or `link`.
        manner: String,
        /// The words that were read out or signed.
        #[serde(default)]
        words: String,
    },
    /// They are compared with other published people.
    Reference {
        /// Made by the phone, so that its refusal can be told.
        id: String,
        /// The performer.
        #[schema(value_type = Uuid)]
        performer: String,
        /// Key of the population.
        population: String,
    },
    /// A step is left out.
    Skip {
        /// Made by the phone, so that sending it twice keeps one; empty from forms.
        #[serde(default)]
        id: String,
        /// The performer.
        #[schema(value_type = Uuid)]
        performer: String,
        /// `left` or `right`.
        #[schema(value_type = Side)]
        side: String,
        /// Key of the dimension.
        #[schema(value_type = Dimension)]
        dimension: String,
        /// Why.
        #[serde(default)]
        reason: String,
    },
    /// A test glove was tried on.
    Fitting(Box<SentFitting>),
    /// A fitting is taken out of use.
    FittingWithdrawal {
        /// The performer.
        #[schema(value_type = Uuid)]
        performer: String,
        /// The fitting.
        #[schema(value_type = Uuid)]
        fitting: String,
        /// Why.
        #[serde(default)]
        reason: String,
    },
}

fn given() -> bool {
    true
}

/// Who sends, from where.
#[derive(Debug, Clone)]
pub struct Sender {
    /// Account name.
    pub measurer: String,
    /// Name of the phone or table.
    pub device: String,
    /// Whether the performer measures at home, by a link.
    pub is_home: bool,
}

/// What became of one fact.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = FactOutcome)]
pub struct Outcome {
    /// Id of the fact, as sent.
    pub id: Option<String>,
    /// `kept` or `refused`.
    pub state: &'static str,
    /// The performer concerned, when it is one.
    #[serde(skip)]
    pub performer: Option<Uuid>,
    /// Why it was refused.
    #[serde(skip)]
    pub problem: Option<Problem>,
    /// Why it was refused, in the words of the API.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<crate::error::ProblemBody>,
}

impl Outcome {
    /// Says why it was refused in the words of a language.
    pub fn say(&mut self, w: &Value) {
        self.error = self.problem.as_ref().map(|problem| problem.body(w));
    }
}

/// A fact that was understood.
#[derive(Debug, Clone)]
enum Fact {
    Reading(Reading),
    Withdrawal { performer: Uuid, reading: Uuid, reason: String },
    Acceptance { id: Uuid, performer: Uuid, flag: String, reason: String },
    Consent(Consent),
    Reference { performer: Uuid, population: Population },
    Skip { id: Uuid, performer: Uuid, step: (Side, Dimension), reason: String },
    Fitting(Box<Tried>),
    FittingWithdrawal { performer: Uuid, fitting: Uuid, reason: String },
}

/// Stores facts in their order. One that is refused takes no other with it.
///
/// # Errors
/// Database errors: then nothing of the whole lot is kept.
pub fn store(
    c: &Connection,
    model: &HandModel,
    facts: Vec<Sent>,
    sender: &Sender,
) -> StoreResult<Vec<Outcome>> {
    facts
        .into_iter()
        .map(|sent| {
            let id = match &sent {
                Sent::Reading { id, .. }
                | Sent::Acceptance { id, .. }
                | Sent::Consent { id, .. }
                | Sent::Reference { id, .. }
                | Sent::Skip { id, .. } => Some(id.clone()),
                Sent::Fitting(fitting) => Some(fitting.id.clone()),
                Sent::Withdrawal { .. } | Sent::FittingWithdrawal { .. } => None,
            };
            let result = understand(sent, sender);
            let performer = result.as_ref().ok().map(performer_of);
            match result.map(|fact| keep(c, model, fact, sender)) {
                Ok(Ok(())) => {
                    Ok(Outcome { id, state: "kept", performer, problem: None, error: None })
                }
                Ok(Err(StoreError::NotFound)) => Ok(refused(id, None, unknown_performer())),
                Ok(Err(StoreError::Refused { field, code, message })) => {
                    Ok(refused(id, performer, Problem::refused(field, code, message)))
                }
                Ok(Err(fault)) => Err(fault),
                Err(problem) => Ok(refused(id, performer, problem)),
            }
        })
        .collect()
}

fn refused(id: Option<String>, performer: Option<Uuid>, problem: Problem) -> Outcome {
    Outcome { id, state: "refused", performer, problem: Some(problem), error: None }
}

/// The problem of a performer, or a reading, that does not exist.
#[must_use]
pub fn unknown_performer() -> Problem {
    let kind = crate::error::Kind::NotFound;
    Problem { kind, field: Some("performer".to_owned()) }
}

fn performer_of(fact: &Fact) -> Uuid {
    match fact {
        Fact::Reading(reading) => reading.performer,
        Fact::Consent(consent) => consent.performer,
        Fact::Withdrawal { performer, .. }
        | Fact::Reference { performer, .. }
        | Fact::Acceptance { performer, .. }
        | Fact::Skip { performer, .. }
        | Fact::FittingWithdrawal { performer, .. } => *performer,
        Fact::Fitting(tried) => tried.performer,
    }
}

fn keep(c: &Connection, model: &HandModel, fact: Fact, sender: &Sender) -> StoreResult<()> {
    let measurer = &sender.measurer;
    match fact {
        Fact::Reading(reading) => reading::add(c, &reading).map(drop),
        Fact::Withdrawal { performer, reading, reason } => {
            if reading::get(c, reading)?.performer != performer {
                return Err(StoreError::NotFound);
            }
            reading::withdraw(c, reading, &reason, measurer)
        }
        Fact::Acceptance { id, performer, flag, reason } => {
            let hands = Person::load(c, performer)?.hands();
            let evidence = evidence(&flag, &hands);
            let measurer = measurer.clone();
            fact::accept(c, id, performer, &Acceptance { flag, evidence, reason, measurer })
        }
        Fact::Consent(consent) => {
            performer::get(c, consent.performer)?;
            consent::add(c, &consent)
        }
        Fact::Reference { performer, population } => {
            let before = performer::get(c, performer)?.population;
            let is_child = |p| matches!(p, Population::Child { .. });
            if is_child(before) && !is_child(population) {
                return Err(StoreError::Refused {
                    field: "population",
                    code: "reference_child",
                    message: "A child stays compared with children.".to_owned(),
                });
            }
            performer::set_population(c, performer, population)
        }
        Fact::Skip { id, performer, step, reason } => {
            performer::get(c, performer)?;
            fact::skip(c, (id, performer), step, &reason, measurer)
        }
        Fact::Fitting(tried) => fits::record(c, model, *tried, sender),
        Fact::FittingWithdrawal { performer, fitting, reason } => {
            if fitting::get(c, fitting)?.performer != performer {
                return Err(StoreError::NotFound);
            }
            fitting::withdraw(c, fitting, &reason, measurer)
        }
    }
}

fn understand(sent: Sent, sender: &Sender) -> Result<Fact, Problem> {
    match sent {
        Sent::Reading { id, performer, side, dimension, value, unit, is_repair, taken_ms } => {
            let performer = performer_id(&performer)?;
            let (side, dimension) = step(&side, &dimension)?;
            let (mm, unit) = length(&value, &unit)?;
            let id = fact_id(&id)?;
            Ok(Fact::Reading(Reading {
                id,
                performer,
                side,
                dimension,
                typed: value.trim().to_owned(),
                unit: unit.key().to_owned(),
                mm,
                instrument: instrument_key(dimension.instrument()).to_owned(),
                origin: match (sender.is_home, is_repair) {
                    (true, _) => reading::HOME,
                    (false, true) => reading::REPAIR,
                    (false, false) => "form",
                }
                .to_owned(),
                measurer: sender.measurer.clone(),
                device: sender.device.chars().take(60).collect(),
                taken_ms: believable(taken_ms),
            }))
        }
        Sent::Withdrawal { performer, reading, reason } => Ok(Fact::Withdrawal {
            performer: performer_id(&performer)?,
            reading: Uuid::try_parse(&reading).map_err(|_| unknown_performer())?,
            reason: text(&reason)?,
        }),
        Sent::Acceptance { id, performer, flag, reason } => {
            let performer = performer_id(&performer)?;
            let reason = text(&reason)?;
            if reason.is_empty() {
                return Err(Problem::at("reason", "reason_empty"));
            }
            if flag.len() > 100 {
                return Err(Problem::at("flag", "flag_unknown"));
            }
            Ok(Fact::Acceptance { id: fact_id_or_new(&id)?, performer, flag, reason })
        }
        Sent::Consent { id, performer, is_given, manner, words } => Ok(Fact::Consent(Consent {
            id: fact_id_or_new(&id)?,
            performer: performer_id(&performer)?,
            is_given,
            manner: consent::MANNERS
                .into_iter()
                .find(|known| *known == manner)
                .ok_or_else(|| Problem::at("manner", "manner_unknown"))?
                .to_owned(),
            words: consent_words(&words)?,
            recorded_by: sender.measurer.clone(),
            at_ms: 0,
        })),
        Sent::Reference { performer, population, .. } => Ok(Fact::Reference {
            performer: performer_id(&performer)?,
            population: Population::from_key(&population)
                .ok_or_else(|| Problem::at("population", "population_unknown"))?,
        }),
        Sent::Fitting(sent) => Ok(Fact::Fitting(Box::new(Tried {
            id: fact_id(&sent.id)?,
            performer: performer_id(&sent.performer)?,
            side: side_of(&sent.side)?,
            version: sent_fitting::version(&sent.version)?,
            verdict: sent_fitting::verdict(&sent)?,
            note: text(&sent.note)?,
            taken_ms: believable(sent.taken_ms),
        }))),
        Sent::FittingWithdrawal { performer, fitting, reason } => Ok(Fact::FittingWithdrawal {
            performer: performer_id(&performer)?,
            fitting: Uuid::try_parse(&fitting).map_err(|_| unknown_performer())?,
            reason: text(&reason)?,
        }),
        Sent::Skip { id, performer, side, dimension, reason } => Ok(Fact::Skip {
            id: fact_id_or_new(&id)?,
            performer: performer_id(&performer)?,
            step: step(&side, &dimension)?,
            reason: text(&reason)?,
        }),
    }
}

/// The words of a consent, within their length.
///
/// # Errors
/// A refusal at `words`.
pub fn consent_words(words: &str) -> Result<String, Problem> {
    let words = words.trim();
    if words.chars().count() > consent::LONGEST_WORDS {
        return Err(Problem::at("words", "text_long").with("most", consent::LONGEST_WORDS));
    }
    Ok(words.to_owned())
}

fn fact_id(text: &str) -> Result<Uuid, Problem> {
    Uuid::try_parse(text)
        .ok()
        .filter(|id| id.get_version_num() == 7)
        .ok_or_else(|| Problem::at("id", "id_unreadable"))
}

fn fact_id_or_new(text: &str) -> Result<Uuid, Problem> {
    if text.is_empty() { Ok(Uuid::now_v7()) } else { fact_id(text) }
}

fn performer_id(text: &str) -> Result<Uuid, Problem> {
    Uuid::try_parse(text).map_err(|_| unknown_performer())
}

/// A side from its key.
///
/// # Errors
/// A refusal at the side.
pub fn side_of(key: &str) -> Result<Side, Problem> {
    Side::from_key(key).ok_or_else(|| Problem::at("side", "side_unknown"))
}

/// Side and dimension from their keys.
///
/// # Errors
/// A refusal at the input concerned.
pub fn step(side: &str, dimension: &str) -> Result<(Side, Dimension), Problem> {
    let side = side_of(side)?;
    let dimension = Dimension::from_key(dimension)
        .ok_or_else(|| Problem::at("dimension", "dimension_unknown"))?;
    Ok((side, dimension))
}

/// A typed length in mm, with the unit it was understood in.
///
/// # Errors
/// A refusal at the value or the unit.
pub fn length(value: &str, unit: &str) -> Result<(f64, Unit), Problem> {
    let unit = Unit::ALL
        .into_iter()
        .find(|known| known.key() == unit)
        .ok_or_else(|| Problem::at("unit", "unit_unknown").with("text", unit))?;
    let typed = units::parse(value, unit).map_err(|error| {
        Problem::at("value", error.code())
            .with("text", error.text())
            .with("least", units::SMALLEST_READING_MM)
            .with("most", units::LARGEST_READING_MM)
    })?;
    Ok((typed.mm, typed.unit))
}

fn text(reason: &str) -> Result<String, Problem> {
    let reason = reason.trim();
    if reason.chars().count() > LONGEST_REASON {
        return Err(Problem::at("reason", "reason_long").with("most", LONGEST_REASON));
    }
    Ok(reason.to_owned())
}

fn believable(taken_ms: i64) -> i64 {
    let now = now_ms();
    let ahead = i64::try_from(CLOCK_AHEAD.as_millis()).unwrap_or(0);
    if taken_ms <= 0 || taken_ms > now + ahead { now } else { taken_ms }
}

/// Stable key of an instrument.
#[must_use]
pub fn instrument_key(instrument: Instrument) -> &'static str {
    match instrument {
        Instrument::Tape => "tape",
        Instrument::Ruler => "ruler",
        Instrument::Calliper => "calliper",
    }
}
