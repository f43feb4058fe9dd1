//! Helpers shared by the tests of the whole product: where things are, the invented company, the
//! command as a process.

pub mod company;
pub mod place;
pub mod print;
