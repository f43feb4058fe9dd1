//! Who may do what: accounts, sessions, roles. Nothing behind a sign-in is reached except through
//! the extractors of [`guard`], and the table of rights is in [`rights`].

pub mod guard;
pub mod passphrase;
pub mod rights;
pub mod throttle;
pub mod tls;
pub mod token;
pub mod totp;
