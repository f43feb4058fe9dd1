//! Who is called together: said of several performers on the board, of one on their page.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::productions::{BoardForms, see_other, show_board};
use super::{in_form, line, performers};
use crate::access::guard::Posted;
use crate::access::rights;
use crate::app::App;
use crate::calls::{self, LONGEST_CALL};
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::Problem;
use crate::store::audit::{self, Action};
use crate::store::{performer, production};

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/productions/{id}/call", web::post().to(of_several))
        .route("/performers/{id}/call", web::post().to(of_one));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<TogetherForm, Done>(
        "/productions/{id}/call",
        "Says of several performers, by code, with whom they are called.",
    ));
    api.add(post::<CallForm, Done>(
        "/performers/{id}/call",
        "Says of a performer with whom they are called.",
    ));
}

/// A call and the codes of those who are called with it. An empty call forgets theirs.
#[derive(Debug, Default, Deserialize, Serialize, ToSchema)]
pub(super) struct TogetherForm {
    #[serde(default)]
    codes: String,
    #[serde(default)]
    call: String,
}

async fn of_several(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, TogetherForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    match set(&app, &session.name, id, &form).await {
        Ok(()) => Ok(see_other(&format!("/productions/{id}#roster"))),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            let forms = BoardForms { together: form, ..BoardForms::default() };
            show_board(&request, &app, &session, id, forms, Some(error)).await
        }
    }
}

async fn set(app: &Data<App>, who: &str, id: Uuid, form: &TogetherForm) -> Result<(), Problem> {
    let roster = app
        .store
        .read(move |c| {
            production::get(c, id)?;
            performer::list(c, id)
        })
        .await?;
    let call = line("together", &form.call, LONGEST_CALL, false)?;
    let called = calls::listed(&form.codes, &roster)?;
    let who = who.to_owned();
    app.store
        .write(move |c| {
            performer::set_call(c, &called, &call)?;
            audit::add(c, &who, Action::CallChanged, Some(id))
        })
        .await?;
    app.live.tell(id);
    Ok(())
}

#[derive(Deserialize, ToSchema)]
struct CallForm {
    #[serde(default)]
    call: String,
}

async fn of_one(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, CallForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    match line("call", &form.call, LONGEST_CALL, false) {
        Ok(call) => {
            let who = session.name.clone();
            let home = app
                .store
                .write(move |c| {
                    let home = performer::get(c, id)?.production;
                    performer::set_call(c, &[id], &call)?;
                    audit::add(c, &who, Action::CallChanged, Some(id))?;
                    Ok(home)
                })
                .await?;
            app.live.tell(home);
            Ok(see_other(&format!("/performers/{id}")))
        }
        Err(problem) => performers::show_refused(&request, &app, &session, id, problem).await,
    }
}
