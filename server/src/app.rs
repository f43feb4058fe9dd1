//! What every handler may use: the database, the templates, the hand models, what runs.

use std::sync::Arc;

use actix_web::HttpRequest;
use analysis::model::HandModel;

use crate::access::throttle::Throttle;
use crate::access::tls::Authority;
use crate::backups::Backups;
use crate::config::Config;
use crate::jobs::Jobs;
use crate::live::Live;
use crate::models::{InUse, Models};
use crate::pages::Pages;
use crate::store::Store;

/// How long a sign-in link opens (assumed: one day).
pub const LINK_LASTS_MS: i64 = 24 * 3600 * 1000;

/// JSON bodies, bytes: 200 readings of 400 bytes with room to spare.
pub const JSON_LIMIT: usize = 256 * 1024;

/// What every handler may use.
#[derive(Debug)]
pub struct App {
    /// The database.
    pub store: Store,
    /// The templates.
    pub pages: Pages,
    /// The hand models.
    pub models: Models,
    /// The settings.
    pub config: Config,
    /// The batches that run now.
    pub jobs: Jobs,
    /// Failed sign-ins.
    pub throttle: Throttle,
    /// Who is being measured, and news for the boards.
    pub live: Live,
    /// Backups made by the clock, if there are any.
    pub backups: Option<Arc<Backups>>,
    /// The local authority that phones are asked to trust, if there is one.
    pub authority: Option<Authority>,
}

impl App {
    /// The hand model in use with what it rests on. Cheap, but for once after a start and after an
    /// erasure where the model learns from the workshop's own readings.
    #[must_use]
    pub fn in_use(&self) -> Arc<InUse> {
        self.models.in_use(&self.store)
    }

    /// The hand model in use.
    #[must_use]
    pub fn model(&self) -> HandModel {
        self.in_use().model.clone()
    }

    /// Scheme and host by which the browser reached this server.
    #[must_use]
    pub fn origin(&self, request: &HttpRequest) -> String {
        let scheme = if self.config.is_tls() { "https" } else { "http" };
        format!("{scheme}://{}", request.connection_info().host())
    }
}
