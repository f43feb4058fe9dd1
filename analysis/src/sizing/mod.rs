//! Glove sizes: what a hand is called in the systems people order by.

pub mod en;
pub mod inches;
