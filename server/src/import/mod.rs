//! What comes in as a file: read, checked and shown; nothing is stored here.

pub mod fabrics;
mod header;
mod problem;
pub mod roster;

pub use header::Column;
pub use problem::{Outcome, Problem, ProblemCode};
pub use roster::{RosterPreview, RosterReading, RosterRow};
