//! The roster as CSV, with the readings in millimetres; it can be imported again.

use actix_web::HttpResponse;
use actix_web::web::{self, Data, Path, ServiceConfig};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use uuid::Uuid;

use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::error::Problem;
use crate::export::csv;
use crate::person::{Person, tenth};
use crate::store::audit::{self, Action};
use crate::store::performer::Performer;
use crate::store::{fabric, production};

pub fn configure(service: &mut ServiceConfig) {
    service.route("/productions/{id}/roster.csv", web::get().to(roster));
}

async fn roster(
    app: Data<App>,
    signed: Signed<rights::Plan>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (*id, signed.session.name);
    let table = app
        .store
        .read(move |c| {
            production::get(c, id)?;
            let fabrics = fabric::list(c, id)?;
            let rows = Person::load_all(c, id)?
                .into_iter()
                .map(|person| {
                    let fabric = fabrics.iter().find(|f| Some(f.id) == person.performer.fabric);
                    row(&person, fabric.map_or("", |fabric| &fabric.name))
                })
                .collect();
            Ok(csv::table(&header().iter().map(String::as_str).collect::<Vec<_>>(), rows))
        })
        .await?;
    app.store.write(move |c| audit::add(c, &who, Action::RosterExported, Some(id))).await?;
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header(("content-disposition", "attachment; filename=\"roster.csv\""))
        .body(table))
}

fn columns() -> impl Iterator<Item = (Side, Dimension)> {
    Side::BOTH
        .into_iter()
        .flat_map(|side| Dimension::ALL.into_iter().map(move |dimension| (side, dimension)))
}

fn header() -> Vec<String> {
    let fixed =
        ["code", "name", "reference", "consent", "fabric", "call", "note"].map(str::to_owned);
    let measured = columns().map(|(side, dimension)| format!("{}_{}", side.key(), dimension.key()));
    fixed.into_iter().chain(measured).collect()
}

fn row(person: &Person, fabric: &str) -> Vec<String> {
    let performer = &person.performer;
    let hands = person.hands();
    let reference = performer.population.key();
    let consent = person.consent.as_deref().unwrap_or_default();
    let Performer { code, name, call, note, .. } = performer;
    let fixed = [code, name, &reference, consent, fabric, call, note].map(csv::guarded);
    let measured = columns().map(|(side, dimension)| {
        let summary = hands.side(side)[dimension];
        summary.map_or_else(String::new, |summary| tenth(summary.median_mm).to_string())
    });
    fixed.into_iter().chain(measured).collect()
}
