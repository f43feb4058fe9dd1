//! Renders the templates of `web/templates`.

use std::collections::HashMap;

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse};
use rust_embed::RustEmbed;
use serde::Serialize;
use serde_json::Value;
use tera::{Context, Tera};

use crate::access::rights;
use crate::error::{Kind, Problem};
use crate::store::session::Session;
use crate::words::{self, Words};

#[derive(RustEmbed)]
#[folder = "../web/templates"]
struct Files;

/// The templates with the words they use.
#[derive(Debug, Clone)]
pub struct Pages {
    templates: Tera,
    /// Words by language.
    pub words: Words,
}

#[derive(Serialize)]
struct Signed<'a> {
    name: &'a str,
    role: &'static str,
    csrf: &'a str,
    has_passphrase: bool,
    may_plan: bool,
    may_measure: bool,
    may_cut: bool,
    may_administer: bool,
    sees_names: bool,
}

impl Pages {
    /// Reads and compiles every template.
    ///
    /// # Errors
    /// The template or the file of words that does not parse.
    pub fn load() -> Result<Pages, String> {
        let mut templates = Tera::default();
        let mut sources = Vec::new();
        for name in Files::iter() {
            if let Some(file) = Files::get(&name) {
                sources.push((name.to_string(), String::from_utf8_lossy(&file.data).into_owned()));
            }
        }
        filters(&mut templates);
        templates.add_raw_templates(sources).map_err(|error| format!("{error:?}"))?;
        Ok(Pages { templates, words: Words::load()? })
    }

    /// A page for somebody signed in.
    ///
    /// # Errors
    /// Our own fault when the template does not render; the log says why.
    pub fn page(
        &self,
        request: &HttpRequest,
        session: &Session,
        status: StatusCode,
        template: &str,
        view: &impl Serialize,
    ) -> Result<HttpResponse, Problem> {
        let html = self.render(request, Some(session), template, view)?;
        Ok(HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html))
    }

    /// The text of a page for nobody in particular.
    ///
    /// # Errors
    /// As [`Pages::page`].
    pub fn render_guest(
        &self,
        request: &HttpRequest,
        template: &str,
        view: &impl Serialize,
    ) -> Result<String, Problem> {
        self.render(request, None, template, view)
    }

    fn render(
        &self,
        request: &HttpRequest,
        session: Option<&Session>,
        template: &str,
        view: &impl Serialize,
    ) -> Result<String, Problem> {
        let fault = |error: tera::Error| {
            tracing::error!(template, ?error, "page");
            Problem::from(Kind::Fault)
        };
        let mut context = Context::from_serialize(view).map_err(fault)?;
        let language = self.words.choose(request);
        let w = self.words.of(language);
        if let Some(mut error) = context.get("error").filter(|error| error.is_object()).cloned() {
            let code = error["code"].as_str().unwrap_or_default();
            error["message"] = words::error(w, code, &error["figures"]).into();
            context.insert("error", &error);
        }
        context.insert("w", w);
        context.insert("language", language);
        context.insert("path", request.path());
        context.insert("session", &session.map(signed));
        self.templates.render(template, &context).map_err(fault)
    }
}

/// What templates put into words, each with the page's `language` as `lang`: what a flag `says`, the
/// `refusal` of an import, a `decimal` number, a `population` by its key, a day or moment (`when`).
fn filters(templates: &mut Tera) {
    type Words = fn(&Value, &Value) -> String;
    let list: [(&str, Words); 5] = [
        ("says", |w, says| words::sentence(w, says)),
        ("refusal", |w, problem| {
            words::error(w, problem["words"].as_str().unwrap_or_default(), &problem["figures"])
        }),
        ("decimal", |w, value| match (value.as_f64(), value.as_str().unwrap_or_default()) {
            (Some(number), _) => words::number(w, number),
            (None, text) if text.parse::<f64>().is_ok() => words::with_sign(w, text),
            (None, text) => text.to_owned(),
        }),
        ("when", |w, text| words::when(w, text.as_str().unwrap_or_default())),
        ("population", |w, key| words::population(w, key.as_str().unwrap_or_default())),
    ];
    for (name, in_words) in list {
        templates.register_filter(name, move |value: &Value, args: &HashMap<String, Value>| {
            let language = args.get("lang").and_then(Value::as_str).unwrap_or(words::FALLBACK);
            Ok(Value::from(in_words(words::all().of(language), value)))
        });
    }
}

fn signed(session: &Session) -> Signed<'_> {
    let role = session.role;
    Signed {
        name: &session.name,
        role: role.key(),
        csrf: &session.csrf,
        has_passphrase: session.has_passphrase,
        may_plan: rights::may::<rights::Plan>(role),
        may_measure: rights::may::<rights::Measure>(role),
        may_cut: rights::may::<rights::Cut>(role),
        may_administer: rights::may::<rights::Administer>(role),
        sees_names: rights::sees_names(role),
    }
}
