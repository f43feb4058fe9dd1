//! Glove sizes: what a hand is called in the systems people order by, and which few sizes serve a
//! cast.

pub mod assign;
pub mod centre;
pub mod choose;
pub mod coverage;
pub mod curve;
pub mod describe;
pub mod en;
pub mod inches;
pub mod misfit;
mod random;
pub mod stock;
pub mod table;
