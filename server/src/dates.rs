//! Dates as they are read.

use actix_web::cookie::time::OffsetDateTime;

use crate::store::now_ms;

fn date_time(ms: i64) -> OffsetDateTime {
    OffsetDateTime::from_unix_timestamp(ms / 1000).unwrap_or(OffsetDateTime::UNIX_EPOCH)
}

/// Today, as it stands on drafts.
pub(crate) fn today() -> String {
    let date = date_time(now_ms());
    format!("{:04}-{:02}-{:02}", date.year(), u8::from(date.month()), date.day())
}

/// A moment to the minute, in universal time; pages show it by the filter `when`.
pub(crate) fn moment(ms: i64) -> String {
    let at = date_time(ms);
    let (year, month, day) = (at.year(), u8::from(at.month()), at.day());
    format!("{year:04}-{month:02}-{day:02} {:02}:{:02} UTC", at.hour(), at.minute())
}
