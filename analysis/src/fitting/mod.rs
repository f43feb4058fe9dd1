//! Fittings: what was said of a test glove, the next glove's changes, and what a fabric teaches.
//!
//! A fitting answers zone by zone ([`Verdict`]); [`next_glove`] turns the gloves tried on one hand
//! into the changes of the next; [`Memory`] learns from all hands what a fabric wants beyond its
//! stretch test, and the first glove of the next performer starts from it.

mod answer;
mod change;
mod components;
mod memory;
mod needed;
mod zone;

pub use answer::{Answer, FIGURE_MAX_MM, Feeling, Sign, Verdict};
pub use change::{Change, Reason, Tried, Warning, next_glove, warnings};
pub use memory::{Belief, Learned, Memory, Observation};
pub use needed::{Needed, gloves_needed};
pub use zone::{FitZone, GIRTH_CHANGE_MAX, LENGTH_CHANGE_MAX_MM, PerZone, ZoneKind};
