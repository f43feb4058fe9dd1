//! Import of a roster from CSV: a preview with errors by line first, stored when confirmed.

use actix_web::web::ServiceConfig;

/// Largest form, bytes: a CSV of [`CSV_LIMIT`] with every byte percent-encoded.
pub const FORM_LIMIT: usize = 3 * CSV_LIMIT + 4096;

/// Largest CSV, bytes (a roster of 2,000 performers with 50 readings each is 600 kB).
pub const CSV_LIMIT: usize = 1 << 20;

pub fn configure(_service: &mut ServiceConfig) {}
