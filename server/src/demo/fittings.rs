//! The demo's fittings: invented answers of the invented company about its invented test gloves.

use std::collections::BTreeMap;

use analysis::fitting::FitZone;
use analysis::hand::Side;
use serde::Deserialize;
use uuid::Uuid;

use super::{ACTOR, DemoError};
use crate::drafted;
use crate::facts::Sender;
use crate::fits;
use crate::models::InUse;
use crate::sent_fitting::{self, SentFitting, Tried};
use crate::store::audit::{self, Action};
use crate::store::{Conn, StoreError, StoreResult, draft_version, now_ms, performer};

const FITTINGS: &[u8] = include_bytes!("../../../demo-data/fittings.csv");

/// Stands for every zone that a line does not name.
const REST: &str = "rest";

#[derive(Deserialize)]
struct Line {
    performer: String,
    side: String,
    glove: i64,
    worn_minutes: String,
    /// `wrist 5; rest good`.
    answers: String,
    /// Keys of signs, with spaces between.
    signs: String,
    note: String,
}

/// One fitting of the file.
pub(super) struct Fitted {
    code: String,
    glove: i64,
    tried: Tried,
}

/// Reads the embedded fittings.
pub(super) fn read() -> Result<Vec<Fitted>, DemoError> {
    let lines = csv::Reader::from_reader(FITTINGS).into_deserialize::<Line>();
    lines.map(|line| line.map_err(|error| DemoError::Company(error.to_string()))?.read()).collect()
}

impl Line {
    fn read(self) -> Result<Fitted, DemoError> {
        let unreadable = |what: &str| {
            let (performer, side) = (&self.performer, &self.side);
            DemoError::Company(format!("fitting of {performer}, {side}: {what}"))
        };
        let side = Side::from_key(&self.side).ok_or_else(|| unreadable("side"))?;
        let sent = SentFitting {
            id: String::new(),
            performer: String::new(),
            side: self.side.clone(),
            version: String::new(),
            answers: answers(&self.answers).ok_or_else(|| unreadable("answers"))?,
            signs: self.signs.split_whitespace().map(ToOwned::to_owned).collect(),
            worn_minutes: self.worn_minutes.clone(),
            note: self.note.clone(),
            taken_ms: 0,
        };
        let verdict = sent_fitting::verdict(&sent).map_err(|problem| unreadable(problem.code()))?;
        let tried = Tried {
            id: Uuid::now_v7(),
            performer: Uuid::nil(),
            side,
            version: Uuid::nil(),
            verdict,
            note: self.note,
            taken_ms: 0,
        };
        Ok(Fitted { code: self.performer, glove: self.glove, tried })
    }
}

fn answers(text: &str) -> Option<BTreeMap<String, String>> {
    let mut said = BTreeMap::new();
    let mut rest = None;
    for part in text.split(';') {
        let (zone, answer) = part.trim().split_once(' ')?;
        if zone == REST {
            rest = Some(answer);
        } else {
            said.insert(zone.to_owned(), answer.to_owned());
        }
    }
    for zone in rest.iter().flat_map(|_| FitZone::ALL) {
        let answer = rest.unwrap_or_default().to_owned();
        said.entry(zone.key().to_owned()).or_insert(answer);
    }
    Some(said)
}

/// Tries on glove after glove in the order of the file. A version is kept when it is first tried on,
/// so that it follows from what the fittings before it taught.
pub(super) fn record(
    c: &Conn,
    in_use: &InUse,
    home: Uuid,
    fittings: Vec<Fitted>,
) -> StoreResult<()> {
    let people = performer::list(c, home)?;
    let sender = Sender { measurer: ACTOR.to_owned(), device: ACTOR.to_owned(), is_home: false };
    let begun = now_ms();
    for (place, Fitted { code, glove, tried }) in (0..).zip(fittings) {
        let person = people.iter().find(|person| person.code == code);
        let performer = person.ok_or(StoreError::NotFound)?.id;
        let known = draft_version::list(c, performer)?;
        let version = match known.into_iter().find(|version| version.number == glove) {
            Some(version) => version,
            None => drafted::keep(c, in_use, performer)?.1,
        };
        if version.number != glove {
            let message = format!("{code}: nothing asks for a glove {glove}");
            return Err(StoreError::Refused { field: "glove", code: "glove_unknown", message });
        }
        let version = version.id;
        let tried = Tried { performer, version, taken_ms: begun + place, ..tried };
        fits::record(c, &in_use.model, tried, &sender)?;
        audit::add(c, ACTOR, Action::FittingAdded, Some(performer))?;
    }
    Ok(())
}
