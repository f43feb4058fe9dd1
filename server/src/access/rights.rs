//! The table of rights: what a handler asks for, and which roles have it.

use crate::store::account::Role;

/// Something a handler may ask for.
pub trait Right: 'static {
    /// Roles that have it.
    const ROLES: &'static [Role];
}

macro_rules! rights {
    ($($(#[$doc:meta])+ $name:ident: $($role:ident)+;)+) => {
        $(
            $(#[$doc])+
            #[derive(Debug)]
            pub struct $name;
            impl Right for $name {
                const ROLES: &'static [Role] = &[$(Role::$role),+];
            }
        )+
    };
}

rights! {
    /// See productions, the roster board and a performer's hands.
    See: Administrator Supervisor Cutter Measurer;
    /// Take, withdraw and accept readings.
    Measure: Administrator Supervisor Measurer;
    /// Draft, start batches and download them.
    Cut: Administrator Supervisor Cutter;
    /// Add productions and performers, import and export.
    Plan: Administrator Supervisor;
    /// Accounts.
    Administer: Administrator;
}

/// Whether a role has a right.
#[must_use]
pub fn may<R: Right>(role: Role) -> bool {
    R::ROLES.contains(&role)
}

/// Whether a role sees names beside codes. A cutter works from codes alone.
#[must_use]
pub fn sees_names(role: Role) -> bool {
    role != Role::Cutter
}
