//! What the hand model has learned from the workshop's own readings: shown, switched on, reset.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use analysis::model::workshop::{
    COVARIANCE_WEIGHT, FEWEST_HANDS, Learned, MEAN_WEIGHT, hands_of_adults,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::dates;
use super::measurers::dimension_names;
use super::productions::see_other;
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::{Kind, Problem};
use crate::models::learnable;
use crate::store::audit::{self, Action};
use crate::store::{now_ms, workshop_model};

pub fn configure(service: &mut ServiceConfig) {
    service.service(
        web::resource("/hand-model").route(web::get().to(page)).route(web::post().to(switch)),
    );
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<SwitchForm, Done>(
            "/hand-model",
            "Learns from the workshop's own readings, or goes back to the published figures.",
        )
        .may_conflict(),
    );
}

/// What was learned of one dimension of one sex, in percent of the published figure.
#[derive(Serialize)]
struct Change {
    dimension: Dimension,
    /// Mean, women then men.
    mean_percent: [f64; 2],
    /// Spread, women then men.
    spread_percent: [f64; 2],
}

#[derive(Serialize)]
struct Shown {
    hands: usize,
    /// Women and men they count for.
    people: [f64; 2],
    /// Weight of the workshop's own means and covariances against the published, percent.
    mean_weight_percent: [f64; 2],
    covariance_weight_percent: [f64; 2],
    changes: Vec<Change>,
}

#[derive(Serialize)]
struct ModelView {
    is_on: bool,
    by: String,
    since: String,
    shown: Option<Shown>,
    /// Hands that could be learned from now.
    hands_now: usize,
    fewest: usize,
    may_learn: bool,
    mean_weight: f64,
    covariance_weight: f64,
    names: serde_json::Map<String, serde_json::Value>,
}

fn tenth_percent(ratio: f64) -> f64 {
    // Adding 0 makes minus nought nought.
    ((ratio - 1.0) * 1000.0).round() / 10.0 + 0.0
}

impl Shown {
    fn of(learned: &Learned) -> Shown {
        let change = |dimension: Dimension| Change {
            dimension,
            mean_percent: learned.ratio.each_ref().map(|ratio| tenth_percent(ratio[dimension])),
            spread_percent: learned.spread.each_ref().map(|ratio| tenth_percent(ratio[dimension])),
        };
        let weight = |prior: f64| learned.people.map(|n| (100.0 * n / (n + prior)).round());
        Shown {
            hands: learned.hands,
            people: learned.people.map(|n| (n * 10.0).round() / 10.0),
            mean_weight_percent: weight(MEAN_WEIGHT),
            covariance_weight_percent: weight(COVARIANCE_WEIGHT),
            changes: Dimension::ALL.into_iter().map(change).collect(),
        }
    }
}

async fn hands_now(app: &Data<App>) -> Result<usize, Problem> {
    let published = app.models.published().clone();
    let people = app.store.read(move |c| learnable(c, &published, now_ms())).await?;
    Ok(hands_of_adults(&people))
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Plan>,
) -> Result<HttpResponse, Problem> {
    let hands_now = hands_now(&app).await?;
    let models = app.clone();
    let in_use = web::block(move || models.in_use()).await.map_err(|_| Kind::Fault)?;
    let (by, since) = match &in_use.switched {
        Some(switched) => (switched.by.clone(), dates::moment(switched.until_ms)),
        None => Default::default(),
    };
    let view = ModelView {
        is_on: in_use.switched.is_some(),
        by,
        since,
        shown: in_use.learned.as_ref().map(Shown::of),
        hands_now,
        fewest: FEWEST_HANDS,
        may_learn: hands_now >= FEWEST_HANDS,
        mean_weight: MEAN_WEIGHT,
        covariance_weight: COVARIANCE_WEIGHT,
        names: dimension_names(),
    };
    app.pages.page(&request, &signed.session, StatusCode::OK, "workshop_model.html", &view)
}

#[derive(Deserialize, ToSchema)]
#[schema(as = HandModelForm)]
struct SwitchForm {
    #[serde(default)]
    #[schema(pattern = "^(learn|reset)$")]
    action: String,
}

async fn switch(
    app: Data<App>,
    posted: Posted<rights::Plan, SwitchForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let is_on = form.action == "learn";
    if is_on && hands_now(&app).await? < FEWEST_HANDS {
        return Err(Problem::conflict("too_few_hands").with("least", FEWEST_HANDS));
    }
    app.store
        .write(move |c| {
            let action = if is_on {
                workshop_model::switch_on(c, &session.name)?;
                Action::ModelLearned
            } else {
                workshop_model::switch_off(c)?;
                Action::ModelReset
            };
            audit::add(c, &session.name, action, None)
        })
        .await?;
    app.models.renew();
    Ok(see_other("/hand-model"))
}
