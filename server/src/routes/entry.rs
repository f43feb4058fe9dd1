//! What a step of a measuring form sends, at the workshop and at home.

use serde::Deserialize;
use utoipa::ToSchema;

use crate::facts::Sent;

/// One step as typed.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(default)]
pub(super) struct EntryForm {
    /// Id of the reading, made with the page, so that a form sent twice is one reading.
    pub(super) id: String,
    pub(super) side: String,
    /// Key of the dimension.
    pub(super) step: String,
    pub(super) value: String,
    pub(super) unit: String,
    /// `skip` to go on without a value.
    pub(super) action: String,
}

impl EntryForm {
    /// The reading it states.
    pub(super) fn reading(&self, performer: String) -> Sent {
        Sent::Reading {
            id: self.id.clone(),
            performer,
            side: self.side.clone(),
            dimension: self.step.clone(),
            value: self.value.clone(),
            unit: self.unit.clone(),
            is_repair: false,
            taken_ms: 0,
        }
    }
}
