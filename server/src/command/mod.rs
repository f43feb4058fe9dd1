//! What the command line offers, one file a command of this module.

pub mod chart;
pub mod draft;
pub mod lay;
mod roster_args;
