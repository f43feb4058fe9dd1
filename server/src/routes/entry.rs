//! What a step of a measuring form sends, at the workshop and at home.

use analysis::dimension::Dimension;
use analysis::hand::Side;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::facts::Sent;

/// One step as typed.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(default)]
pub(super) struct EntryForm {
    /// Id of the reading, made with the page, so that a form sent twice is one reading.
    #[schema(value_type = Uuid)]
    pub(super) id: String,
    #[schema(value_type = Side)]
    pub(super) side: String,
    /// Key of the dimension.
    #[schema(value_type = Dimension)]
    pub(super) step: String,
    pub(super) value: String,
    #[schema(pattern = "^(mm|cm|in)$")]
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
