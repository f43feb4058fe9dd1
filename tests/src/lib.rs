//! Helpers shared by the tests of the whole product: where things are, the invented company, pages
//! as pixels, the command as a process, a client for it and the description of its API.

pub mod client;
pub mod company;
pub mod fuzzing;
pub mod hostile;
pub mod page;
pub mod place;
pub mod print;
pub mod running;
pub mod schema;
pub mod script;
pub mod seeded;
pub mod workshop;
