//! Hand model, plausibility checks, fabric behaviour and glove drafting.
//!
//! Everything here is a pure function of its arguments: no I/O, no clock, no logging and no
//! randomness without a seed. The same input gives the same output, to the byte.
//!
//! All lengths are millimetres unless a name or a doc comment says otherwise. Hands are drawn
//! right hand, palm up, wrist crease at `y = 0`, fingers towards `+y`, thumb towards `+x`.
#![warn(missing_docs)]

pub mod check;
pub mod dimension;
pub mod draft;
pub mod fabric;
pub mod fitting;
pub mod goodness;
pub mod hand;
pub mod model;
pub mod observer;
pub mod plan;
pub mod reference;
pub mod sizing;
pub mod tolerance;
pub mod units;
