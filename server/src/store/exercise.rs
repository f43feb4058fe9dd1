//! The repeat exercise: which hands a measurer measures twice, and which readings came of it.

use std::collections::HashSet;

use analysis::dimension::Dimension;
use analysis::hand::Side;
use rusqlite::{Connection, OptionalExtension, params};
use uuid::Uuid;

use super::reading::{self, Reading};
use super::{StoreResult, now_ms};

/// A measurer's exercise in a production.
#[derive(Debug, Clone)]
pub struct Exercise {
    /// Id.
    pub id: Uuid,
    /// What is measured of each hand.
    pub dimensions: Vec<Dimension>,
    /// The hands in their order: performer, code and side.
    pub hands: Vec<(Uuid, String, Side)>,
    /// Its readings in use, with the round they were taken in.
    pub taken: Vec<(u8, Reading)>,
}

impl Exercise {
    /// Whether a hand was measured in a round.
    #[must_use]
    pub fn is_measured(&self, round: u8, performer: Uuid, side: Side) -> bool {
        let is_taken =
            |(of, r): &(u8, Reading)| *of == round && r.performer == performer && r.side == side;
        self.taken.iter().any(is_taken)
    }

    /// The round and hand to be measured next: all hands once, then all again.
    #[must_use]
    pub fn next(&self) -> Option<(u8, &(Uuid, String, Side))> {
        let all = [1, 2].into_iter().flat_map(|round| self.hands.iter().map(move |h| (round, h)));
        all.into_iter()
            .find(|(round, (performer, _, side))| !self.is_measured(*round, *performer, *side))
    }
}

/// Starts an exercise; it takes the place of an earlier one of the same measurer.
///
/// # Errors
/// Database errors only, among them a performer who is not there any more.
pub fn start(
    c: &Connection,
    production: Uuid,
    measurer: &str,
    dimensions: &[Dimension],
    hands: &[(Uuid, Side)],
) -> StoreResult<Uuid> {
    let id = Uuid::now_v7();
    let keys: Vec<&str> = dimensions.iter().map(|d| d.key()).collect();
    c.execute(
        "INSERT INTO exercise (id, production, measurer, dimensions, started_ms)
         VALUES (?1, ?2, ?3, ?4, ?5)",
        params![id, production, measurer, keys.join(","), now_ms()],
    )?;
    for (position, (performer, side)) in (1i64..).zip(hands) {
        c.execute(
            "INSERT INTO exercise_hand (exercise, position, performer, side)
             VALUES (?1, ?2, ?3, ?4)",
            params![id, position, performer, side.key()],
        )?;
    }
    Ok(id)
}

/// The newest exercise of a measurer in a production.
///
/// # Errors
/// Database errors only.
pub fn latest(c: &Connection, production: Uuid, measurer: &str) -> StoreResult<Option<Exercise>> {
    let found: Option<(Uuid, String)> = c
        .query_row(
            "SELECT id, dimensions FROM exercise WHERE production = ?1 AND measurer = ?2
             ORDER BY started_ms DESC, id DESC LIMIT 1",
            params![production, measurer],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()?;
    let Some((id, keys)) = found else { return Ok(None) };
    let hands = c
        .prepare(
            "SELECT performer.id, code, side FROM exercise_hand
             JOIN performer ON performer.id = exercise_hand.performer
             WHERE exercise = ?1 ORDER BY exercise_hand.position",
        )?
        .query_map([id], |row| Ok((row.get(0)?, row.get(1)?, row.get::<_, String>(2)?)))?
        .collect::<Result<Vec<(Uuid, String, String)>, _>>()?
        .into_iter()
        .filter_map(|(performer, code, side)| Some((performer, code, Side::from_key(&side)?)))
        .collect();
    let rounds = c
        .prepare(
            "SELECT exercise_reading.reading, round FROM exercise_reading
             LEFT JOIN withdrawal ON withdrawal.reading = exercise_reading.reading
             WHERE exercise = ?1 AND withdrawal.reading IS NULL",
        )?
        .query_map([id], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<Vec<(Uuid, u8)>, _>>()?;
    let mut taken = Vec::new();
    for (of, round) in rounds {
        taken.push((round, reading::get(c, of)?));
    }
    let dimensions = keys.split(',').filter_map(Dimension::from_key).collect();
    Ok(Some(Exercise { id, dimensions, hands, taken }))
}

/// Says of readings that they belong to an exercise. Saying it twice changes nothing.
///
/// # Errors
/// Database errors only.
pub fn mark(c: &Connection, exercise: Uuid, round: u8, readings: &[Uuid]) -> StoreResult<()> {
    for reading in readings {
        c.execute(
            "INSERT INTO exercise_reading (reading, exercise, round) VALUES (?1, ?2, ?3)
             ON CONFLICT (reading) DO NOTHING",
            params![reading, exercise, round],
        )?;
    }
    Ok(())
}

/// Leaves a hand out of an exercise. Readings that were taken of it stay readings.
///
/// # Errors
/// Database errors only.
pub fn leave_out(c: &Connection, exercise: Uuid, performer: Uuid, side: Side) -> StoreResult<()> {
    c.execute(
        "DELETE FROM exercise_hand WHERE exercise = ?1 AND performer = ?2 AND side = ?3",
        params![exercise, performer, side.key()],
    )?;
    Ok(())
}

/// Readings of a production that were taken in any exercise.
///
/// # Errors
/// Database errors only.
pub fn blind(c: &Connection, production: Uuid) -> StoreResult<HashSet<Uuid>> {
    let mut statement = c.prepare(
        "SELECT reading FROM exercise_reading
         JOIN exercise ON exercise.id = exercise_reading.exercise WHERE production = ?1",
    )?;
    let rows = statement.query_map([production], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
