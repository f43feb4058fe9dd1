//! How many there may be of what people add. Lists show all there is of something; so that none is
//! without an end, and none is cut off in silence, one more than these is refused when it is added.
//! Readings, performers and fabrics have their limits in their own files.

use rusqlite::{Connection, Params};

use super::{StoreError, StoreResult};

/// Productions of a workshop, and its accounts (assumed: decades of work).
pub const PRODUCTIONS: i64 = 500;
/// See [`PRODUCTIONS`].
pub const ACCOUNTS: i64 = 500;

/// Of one performer: flags kept, steps skipped, facts about consent, versions of gloves, fittings,
/// and changes set by hand (assumed: ten times what anybody's gloves need).
pub const FACTS: i64 = 500;

/// Links for home that are open at the same time, of one performer (assumed: one or two are needed).
pub const HOME_LINKS: i64 = 50;

/// Batches of a production, and lays of a batch (assumed: years of days with one each, and every
/// width of cloth there is).
pub const BATCHES: i64 = 500;
/// See [`BATCHES`].
pub const LAYS: i64 = 50;

/// Refuses one more, at an input, where a query counts as many as there may be.
pub(super) fn demand_room(
    c: &Connection,
    (count, of): (&str, impl Params),
    most: i64,
    field: &'static str,
) -> StoreResult<()> {
    let count: i64 = c.prepare_cached(count)?.query_row(of, |row| row.get(0))?;
    if count < most {
        return Ok(());
    }
    Err(StoreError::Refused {
        field,
        code: "list_full",
        message: format!("There are {most} of these already, as many as there may be."),
    })
}
