//! News of a production as server-sent events, and the pack a phone takes along.

use std::time::Duration;

use actix_web::HttpResponse;
use actix_web::rt::time::timeout;
use actix_web::web::{self, Bytes, Data, Path, ServiceConfig};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use futures_util::stream;
use serde::Serialize;
use tokio::sync::broadcast::error::RecvError;
use utoipa::ToSchema;
use uuid::Uuid;

use super::fittings::{Sewn, sewn};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, get, stream};
use crate::error::Problem;
use crate::person::{MeasureAgain, Person, SeenFlag};
use crate::store::StoreResult;
use crate::store::production;
use crate::store::reading::Reading;

/// A line is sent at least this often, so that a dead connection is noticed.
const HEARTBEAT: Duration = Duration::from_secs(20);

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/api/productions/{id}/events", web::get().to(events))
        .route("/api/productions/{id}/pack", web::get().to(pack));
}

pub(super) fn describe(api: &mut Api) {
    api.add(stream(
        "/api/productions/{id}/events",
        "News of the board, for as long as the page listens.",
    ));
    api.add(get::<Pack>(
        "/api/productions/{id}/pack",
        "What a phone keeps to measure this production without signal.",
    ));
}

async fn events(
    app: Data<App>,
    _signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    app.store.read(move |c| production::get(c, id)).await?;
    let first = Bytes::from_static(b"retry: 3000\n\n");
    let news =
        stream::unfold((app.live.listen(), Some(first)), move |(mut news, first)| async move {
            if let Some(first) = first {
                return Some((Ok::<_, actix_web::Error>(first), (news, None)));
            }
            loop {
                let text = match timeout(HEARTBEAT, news.recv()).await {
                    Err(_) => ":\n\n",
                    Ok(Ok(production)) if production == id => "event: changed\ndata: \n\n",
                    Ok(Ok(_)) => continue,
                    // Behind by more than is kept: look at everything again.
                    Ok(Err(RecvError::Lagged(_))) => "event: changed\ndata: \n\n",
                    Ok(Err(RecvError::Closed)) => return None,
                };
                return Some((Ok(Bytes::from_static(text.as_bytes())), (news, None)));
            }
        });
    Ok(HttpResponse::Ok()
        .content_type("text/event-stream")
        // Compressed, the news would wait until a block is full.
        .insert_header((actix_web::http::header::CONTENT_ENCODING, "identity"))
        .streaming(news))
}

/// What a phone knows of a performer without signal.
#[derive(Serialize, ToSchema)]
struct PackPerson {
    id: Uuid,
    code: String,
    name: String,
    call: String,
    population: String,
    state: PackState,
    /// What can be tried on.
    gloves: Vec<Sewn>,
}

#[derive(Serialize, ToSchema)]
struct PackState {
    performer: Uuid,
    code: String,
    readings: Vec<Reading>,
    skipped: Vec<(Side, Dimension)>,
    flags: Vec<SeenFlag>,
    needs_consent: bool,
    measure_again: Option<MeasureAgain>,
}

#[derive(Serialize, ToSchema)]
struct Pack {
    id: Uuid,
    name: String,
    people: Vec<PackPerson>,
}

async fn pack(
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    let model = app.model();
    let sees_names = rights::sees_names(signed.session.role);
    let pack = app
        .store
        .read(move |c| {
            let production = production::get(c, id)?;
            let people = Person::load_all(c, id)?;
            let people = people
                .into_iter()
                .map(|person| {
                    let gloves = sewn(c, person.performer.id)?;
                    Ok(packed(person, gloves, &model, sees_names))
                })
                .collect::<StoreResult<_>>()?;
            Ok(Pack { id, name: production.name, people })
        })
        .await?;
    Ok(HttpResponse::Ok().json(pack))
}

fn packed(
    person: Person,
    gloves: Vec<Sewn>,
    model: &analysis::model::HandModel,
    sees_names: bool,
) -> PackPerson {
    let assessed = person.assess(model);
    let measure_again = person.measure_again(model, &assessed);
    let needs_consent = person.needs_consent();
    let performer = person.performer;
    PackPerson {
        id: performer.id,
        name: if sees_names { performer.name } else { String::new() },
        call: performer.call,
        population: performer.population.key(),
        state: PackState {
            performer: performer.id,
            code: performer.code.clone(),
            readings: person.readings,
            skipped: person.skipped,
            flags: assessed.flags,
            needs_consent,
            measure_again,
        },
        code: performer.code,
        gloves,
    }
}
