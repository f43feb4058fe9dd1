//! A guardian's consent to measuring a minor: recorded before the first reading, or taken back.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::dates::moment;
use super::performers::store_facts;
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::Problem;
use crate::facts::Sent;
use crate::inputs::Nothing;
use crate::store::audit::Action;
use crate::store::consent;
use crate::store::performer::{self, Performer};
use crate::store::session::Session;

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/performers/{id}/consent")
                .route(web::get().to(page))
                .route(web::post().to(give)),
        )
        .route("/performers/{id}/consent/withdraw", web::post().to(withdraw));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<GiveForm, Done>(
        "/performers/{id}/consent",
        "Records a guardian's consent to measuring a minor.",
    ));
    api.add(post::<Nothing, Done>("/performers/{id}/consent/withdraw", "Takes a consent back."));
}

#[derive(Serialize)]
struct ConsentView {
    performer: Performer,
    /// Adults speak for themselves.
    is_minor: bool,
    /// The workshop's own words, if there are any.
    words: Option<String>,
    given: Option<Given>,
    manner: String,
    error: Option<FieldError>,
}

#[derive(Serialize)]
struct Given {
    manner: String,
    by: String,
    at: String,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, String::new(), None).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    manner: String,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let status = form_status(error.as_ref());
    let view = app
        .store
        .read(move |c| {
            let performer = performer::get(c, id)?;
            let given = consent::in_force(c, id)?.map(|consent| Given {
                manner: consent.manner,
                by: consent.recorded_by,
                at: moment(consent.at_ms),
            });
            let is_minor = consent::is_minor(performer.population);
            Ok(ConsentView { performer, is_minor, words: consent::words(c)?, given, manner, error })
        })
        .await?;
    app.pages.page(request, session, status, "consent.html", &view)
}

#[derive(Deserialize, ToSchema)]
#[schema(as = ConsentForm)]
struct GiveForm {
    #[serde(default)]
    #[schema(pattern = "^(signed|spoken|link)$")]
    manner: String,
    /// The words as the page showed them.
    #[serde(default)]
    words: String,
}

async fn give(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, GiveForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let fact = Sent::Consent {
        id: String::new(),
        performer: id.to_string(),
        is_given: true,
        manner: form.manner.clone(),
        words: form.words,
    };
    match store_facts(&app, &session, vec![fact], Some((Action::ConsentRecorded, *id))).await {
        Ok(()) => Ok(see_other(&format!("/performers/{id}/measure"))),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show(&request, &app, &session, *id, form.manner, Some(error)).await
        }
    }
}

async fn withdraw(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, Nothing>,
) -> Result<HttpResponse, Problem> {
    let fact = Sent::Consent {
        id: String::new(),
        performer: id.to_string(),
        is_given: false,
        manner: "spoken".to_owned(),
        words: String::new(),
    };
    let note = Some((Action::ConsentWithdrawn, *id));
    store_facts(&app, &posted.session, vec![fact], note).await?;
    Ok(see_other(&format!("/performers/{id}/consent")))
}
