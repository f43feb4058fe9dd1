//! Gloves of a size at true size: of the sizes chosen, and of the published European chart.

use actix_web::HttpResponse;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use analysis::draft::{GloveOptions, european_chart};
use analysis::hand::{Hands, Side};
use analysis::model::{FilledHands, HandModel, Population};
use uuid::Uuid;

use super::dates::today;
use super::download::{Download, paper_of, side_of};
use super::sizes::{Asked, Ordered, asked};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::batch::hands_to_draft;
use crate::drafted::draft_of;
use crate::error::{Kind, Problem};
use crate::export::SheetLabels;
use crate::person::Person;
use crate::size_form::SizeForm;
use crate::sizing::{Cast, Chosen, SizeOrder, letter};

/// What stands before the number of a size of the European chart, in an address.
const EUROPEAN: &str = "EN-";

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/productions/{id}/sizes/{name}/{side}/glove.svg", web::get().to(as_svg))
        .route("/productions/{id}/sizes/{name}/{side}/glove.pdf", web::get().to(as_pdf));
}

/// Both hands of a size, and the people it is for. No performer is named by it.
fn hands_of(
    model: &HandModel,
    people: &[Person],
    order: &SizeOrder,
    name: &str,
) -> Option<(FilledHands, Population)> {
    if let Some(number) = name.strip_prefix(EUROPEAN) {
        let wanted = format!("EN {number}");
        let size = european_chart(model).into_iter().find(|size| size.name == wanted)?;
        let adults = model.fill(Population::Adults, &Hands::default());
        let hands = FilledHands { left: size.hand, right: size.hand, weights: adults.weights };
        return Some((hands, Population::Adults));
    }
    let cast = Cast::of(model, people);
    let chosen = Chosen::of(model, &cast, order)?;
    let slot = (0..chosen.sizes.len()).find(|slot| letter(*slot) == name)?;
    chosen.hands(model, &cast, order, slot)
}

/// A long glove follows a forearm, and a size has none.
fn without_forearm(problem: Problem) -> Problem {
    match problem.field.as_deref() {
        Some("forearm" | "forearm_half") => Problem::at("cuff", "size_without_forearm"),
        _ => problem,
    }
}

/// Drafts one glove of a size in the fabric asked for and with what was kept for the production.
async fn drawn(
    app: &Data<App>,
    id: Uuid,
    (name, side): (String, Side),
    form: &SizeForm,
) -> Result<Download, Problem> {
    let Asked { production, fabrics, people, order } = asked(app, id, form).await?;
    let fabric = form.fabric(&fabrics)?.map(|fabric| fabric.name.clone()).unwrap_or_default();
    let Ordered { order, wanted } = order?;
    let (wanted, model) = (wanted.map_err(without_forearm)?, app.model());
    let draft = {
        let name = name.clone();
        web::block(move || {
            let (hands, population) =
                hands_of(&model, &people, &order, &name).ok_or(Kind::NotFound)?;
            let hands = hands_to_draft(&hands, wanted.master);
            let options: GloveOptions = wanted.options.worn_by(population);
            draft_of(hands.side(side), side, &options)
        })
        .await
        .map_err(|_| Kind::Fault)??
    };
    let labels = SheetLabels {
        production: production.name,
        performer_code: match name.strip_prefix(EUROPEAN) {
            Some(number) => format!("EN {number}"),
            None => format!("Size {name}"),
        },
        fabric,
        version: String::new(),
        date: today(),
    };
    let name = format!("{}-{}", labels.performer_code.replace(' ', "-"), side.key());
    Ok(Download { draft, labels, name })
}

async fn as_svg(
    app: Data<App>,
    signed: Signed<rights::Cut>,
    place: Path<(Uuid, String, String)>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    let (id, name, side) = place.into_inner();
    let side = side_of(&side)?;
    let glove = drawn(&app, id, (name, side), &form).await?;
    glove.into_svg(&app, signed.session.name, id).await
}

async fn as_pdf(
    app: Data<App>,
    signed: Signed<rights::Cut>,
    place: Path<(Uuid, String, String)>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    let (id, name, side) = place.into_inner();
    let side = side_of(&side)?;
    let paper = paper_of(&form.paper)?;
    let glove = drawn(&app, id, (name, side), &form).await?;
    glove.into_pdf(&app, signed.session.name, id, paper).await
}
