//! Asking for a performer to be measured again, and taking that back.

use actix_web::HttpResponse;
use actix_web::web::{self, Data, Path, ServiceConfig};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::productions::see_other;
use crate::access::guard::Posted;
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::Problem;
use crate::store::audit::{self, Action};
use crate::store::{Conn, StoreResult, measure_again, performer};

pub fn configure(service: &mut ServiceConfig) {
    service.route("/performers/{id}/again", web::post().to(decide));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<AgainForm, Done>(
        "/performers/{id}/again",
        "Asks for a performer to be measured again, or takes that back.",
    ));
}

#[derive(Deserialize, ToSchema)]
struct AgainForm {
    /// Whether it is asked for; otherwise it is taken back.
    #[serde(default)]
    ask: String,
}

async fn decide(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, AgainForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let (id, is_asked) = (*id, !form.ask.is_empty());
    let home = app
        .store
        .write(move |c| {
            let home = performer::get(c, id)?.production;
            note(c, id, is_asked, &session.name)?;
            Ok(home)
        })
        .await?;
    app.live.tell(home);
    Ok(see_other(&format!("/performers/{id}")))
}

/// Keeps the decision, with a line in the audit trail where it is another than before.
///
/// # Errors
/// Database errors only.
pub(super) fn note(c: &Conn, performer: Uuid, is_asked: bool, who: &str) -> StoreResult<()> {
    let (is_new, action) = if is_asked {
        (measure_again::ask(c, performer, who)?, Action::MeasureAgainAsked)
    } else {
        (measure_again::end(c, performer)?, Action::MeasureAgainEnded)
    };
    if is_new {
        audit::add(c, who, action, Some(performer))?;
    }
    Ok(())
}
