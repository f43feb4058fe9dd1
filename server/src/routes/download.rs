//! A glove to save as SVG or PDF at true size, and what its address names: a side and a paper.

use actix_web::HttpResponse;
use actix_web::web::{self, Data};
use analysis::draft::Draft;
use analysis::hand::Side;
use uuid::Uuid;

use crate::app::App;
use crate::error::{Kind, Problem};
use crate::export::SheetLabels;
use crate::export::pdf::{self, Paper};
use crate::export::svg::{self, SvgUse};
use crate::store::audit::{self, Action};

/// The side with this key.
pub(super) fn side_of(key: &str) -> Result<Side, Problem> {
    Ok(Side::from_key(key).ok_or(Kind::NotFound)?)
}

/// The paper with this key; A4 when none is named.
pub(super) fn paper_of(key: &str) -> Result<Paper, Problem> {
    if key.is_empty() {
        return Ok(Paper::A4);
    }
    Paper::from_key(key).ok_or_else(|| Problem::at("paper", "not_on_the_list"))
}

/// One glove to save: how it is drawn, and under which name.
pub(super) struct Download {
    pub(super) draft: Draft,
    pub(super) labels: SheetLabels,
    /// Without its ending.
    pub(super) name: String,
}

impl Download {
    /// The drawing as SVG, noted in the audit trail about `object`.
    pub(super) async fn into_svg(
        self,
        app: &Data<App>,
        who: String,
        object: Uuid,
    ) -> Result<HttpResponse, Problem> {
        note_download(app, who, object).await?;
        let svg = svg::render(&self.draft, &self.labels, SvgUse::Download);
        Ok(saved("image/svg+xml", &self.name, "svg", svg.into_bytes()))
    }

    /// The sheets as PDF, noted in the audit trail about `object`.
    pub(super) async fn into_pdf(
        self,
        app: &Data<App>,
        who: String,
        object: Uuid,
        paper: Paper,
    ) -> Result<HttpResponse, Problem> {
        note_download(app, who, object).await?;
        let Download { draft, labels, name } = self;
        let bytes = web::block(move || pdf::render(&draft, &labels, paper))
            .await
            .map_err(|_| Kind::Fault)?
            .map_err(|error| {
                tracing::error!(%error, %object, "pdf");
                Kind::Fault
            })?;
        Ok(saved("application/pdf", &name, "pdf", bytes))
    }
}

fn saved(kind: &str, name: &str, ending: &str, body: Vec<u8>) -> HttpResponse {
    let name = format!("attachment; filename=\"{name}.{ending}\"");
    HttpResponse::Ok().content_type(kind).insert_header(("content-disposition", name)).body(body)
}

async fn note_download(app: &Data<App>, who: String, object: Uuid) -> Result<(), Problem> {
    Ok(app.store.write(move |c| audit::add(c, &who, Action::DraftDownloaded, Some(object))).await?)
}
