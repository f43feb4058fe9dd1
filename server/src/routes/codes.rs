//! The sheet of codes: a square to scan for each performer, to print and hang up. No names on it.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use qrcode::render::{svg, unicode};
use qrcode::{EcLevel, QrCode};
use serde::Serialize;
use uuid::Uuid;

use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::error::{Kind, Problem};
use crate::store::performer;
use crate::store::production::{self, Production};

pub fn configure(service: &mut ServiceConfig) {
    service.route("/productions/{id}/codes", web::get().to(page));
}

#[derive(Serialize)]
struct CodesView {
    production: Production,
    codes: Vec<PerformerCode>,
}

#[derive(Serialize)]
struct PerformerCode {
    code: String,
    svg: String,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    let (production, performers) =
        app.store.read(move |c| Ok((production::get(c, id)?, performer::list(c, id)?))).await?;
    let host = app.origin(&request);
    let codes = performers
        .into_iter()
        .map(|performer| {
            let address = format!("{host}/performers/{}/measure", performer.id);
            Ok(PerformerCode { code: performer.code, svg: square(&address)? })
        })
        .collect::<Result<_, Problem>>()?;
    let view = CodesView { production, codes };
    app.pages.page(&request, &signed.session, StatusCode::OK, "codes.html", &view)
}

fn code_of(text: &str) -> Result<QrCode, Problem> {
    Ok(QrCode::with_error_correction_level(text, EcLevel::M).map_err(|error| {
        tracing::error!(%error, "qr code");
        Kind::Fault
    })?)
}

/// A text as a QR code in block characters, for the terminal the server is started in.
///
/// # Errors
/// Our own fault when the text is too long for a code.
pub fn for_terminal(text: &str) -> Result<String, Problem> {
    Ok(code_of(text)?.render::<unicode::Dense1x2>().build())
}

/// A text as a QR code (ISO/IEC 18004), level M, as an SVG element.
pub(super) fn square(text: &str) -> Result<String, Problem> {
    let drawing = code_of(text)?.render::<svg::Color>().min_dimensions(120, 120).build();
    let element = drawing.find("<svg").and_then(|start| drawing.get(start..));
    Ok(element.unwrap_or_default().to_owned())
}
