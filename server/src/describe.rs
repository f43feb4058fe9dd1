//! The description of the API, OpenAPI 3.1. Each file of routes describes its addresses beside the
//! table that routes them; the schemas come from the types that are sent and answered.

use std::collections::BTreeMap;

use utoipa::openapi::path::{
    HttpMethod, OperationBuilder, Parameter, ParameterBuilder, ParameterIn, PathItem,
};
use utoipa::openapi::request_body::RequestBodyBuilder;
use utoipa::openapi::schema::{ArrayBuilder, ObjectBuilder, OneOfBuilder, Type};
use utoipa::openapi::security::{ApiKey, ApiKeyValue, SecurityRequirement, SecurityScheme};
use utoipa::openapi::{
    ComponentsBuilder, Content, InfoBuilder, KnownFormat, OpenApi, OpenApiBuilder, PathsBuilder,
    Ref, RefOr, Required, Response, ResponseBuilder, Schema, SchemaFormat,
};
use utoipa::{IntoParams, PartialSchema, ToSchema};

use crate::access::guard::TOKEN_HEADER;
use crate::error::ProblemBody;

const SAYS: &str = "Everything the pages of Handcall do. Sign in by the link the server prints, or by \
    name and passphrase; the cookie of the session is the key. Everything that is posted carries the \
    session's form token, of /api/session, in the header x-form-token.\n\nA form of a page takes the \
    same inputs as JSON, at the same address: text, where numbers and true are taken as their text \
    and an input that is false or null as one that is absent. What was done is answered with the \
    page that shows it. Lengths are mm, times ms since 1970 (UTC).";

const JSON: &str = "application/json";

type Schemas = Vec<(String, RefOr<Schema>)>;

/// Refusals: status, name, meaning.
const REFUSALS: [(u16, &str, &str); 12] = [
    (400, "unreadable", "The body or the query cannot be read as what it should be."),
    (401, "sign_in_needed", "Nobody is signed in."),
    (403, "not_allowed", "The role does not allow it, or the form token is missing."),
    (404, "not_found", "There is no such thing."),
    (408, "too_slow", "The body did not arrive in time."),
    (409, "conflict", "The present state does not allow it."),
    (413, "too_large", "The body is too large."),
    (415, "wrong_type", "The body is of another type."),
    (422, "refused", "An input is refused; `field` names it."),
    (429, "too_many_tries", "Too many tries: wait."),
    (500, "fault", "A fault of the server; its log says which."),
    (507, "storage_full", "The server's disk is full or cannot be written."),
];

/// An object whose members are inputs by name, for forms whose inputs follow from what is on the
/// page.
pub(crate) struct Free;

impl PartialSchema for Free {
    fn schema() -> RefOr<Schema> {
        BTreeMap::<String, String>::schema()
    }
}

impl ToSchema for Free {
    fn name() -> std::borrow::Cow<'static, str> {
        "Inputs".into()
    }
}

/// An address with a method, described.
pub(crate) struct Address {
    method: HttpMethod,
    path: &'static str,
    says: &'static str,
    detail: Option<&'static str>,
    body: Option<Content>,
    body_kind: &'static str,
    answer: Option<Content>,
    answer_kind: &'static str,
    statuses: &'static [u16],
    query: Vec<Parameter>,
    refusals: Vec<u16>,
    is_open: bool,
    schemas: Schemas,
}

fn reference<T: ToSchema>(schemas: &mut Schemas) -> RefOr<Schema> {
    schemas.push((T::name().into_owned(), T::schema()));
    T::schemas(schemas);
    Ref::from_schema_name(T::name()).into()
}

fn text() -> RefOr<Schema> {
    ObjectBuilder::new().schema_type(Type::String).into()
}

impl Address {
    fn new(
        method: HttpMethod,
        path: &'static str,
        says: &'static str,
        refusals: &[u16],
    ) -> Address {
        let mut refusals = refusals.to_vec();
        if path.contains('{') {
            refusals.push(404);
        }
        Address {
            method,
            path,
            says,
            detail: None,
            body: None,
            body_kind: JSON,
            answer: None,
            answer_kind: JSON,
            statuses: &[200],
            query: Vec::new(),
            refusals,
            is_open: false,
            schemas: Schemas::new(),
        }
    }

    fn answers<A: ToSchema>(mut self) -> Address {
        self.answer = Some(Content::new(Some(reference::<A>(&mut self.schemas))));
        self
    }

    fn answers_text(mut self, kind: &'static str) -> Address {
        (self.answer, self.answer_kind) = (Some(Content::new(Some(text()))), kind);
        self
    }

    fn changed(mut self, change: impl FnOnce(RefOr<Schema>) -> RefOr<Schema>) -> Address {
        let schema = self.answer.take().and_then(|content| content.schema).map(change);
        self.answer = Some(Content::new(schema));
        self
    }

    /// More than its line says.
    pub(crate) fn detail(mut self, detail: &'static str) -> Address {
        self.detail = Some(detail);
        self
    }

    /// Something is made.
    pub(crate) fn makes(mut self) -> Address {
        self.statuses = &[201];
        self
    }

    /// Something may be made.
    pub(crate) fn may_make(mut self) -> Address {
        self.statuses = &[200, 201];
        self
    }

    /// There may be no such thing, though the address names none.
    pub(crate) fn absent(mut self) -> Address {
        self.refusals.push(404);
        self
    }

    /// The answer is a list of what was stated.
    pub(crate) fn many(self) -> Address {
        self.changed(|schema| ArrayBuilder::new().items(schema).into())
    }

    /// The answer may be null.
    pub(crate) fn or_null(self) -> Address {
        let null = ObjectBuilder::new().schema_type(Type::Null);
        self.changed(|schema| OneOfBuilder::new().item(schema).item(null).into())
    }

    /// For those not signed in as well.
    pub(crate) fn open(mut self) -> Address {
        self.is_open = true;
        self
    }

    /// With the inputs of `Q` in its query.
    pub(crate) fn asks<Q: IntoParams>(mut self) -> Address {
        self.query.extend(Q::into_params(|| Some(ParameterIn::Query)));
        self.refusals.extend([400, 422]);
        self
    }

    /// The present state may not allow it.
    pub(crate) fn may_conflict(mut self) -> Address {
        self.refusals.push(409);
        self
    }

    /// Tries are counted.
    pub(crate) fn slowed(mut self) -> Address {
        self.refusals.push(429);
        self
    }

    fn parameters(&self) -> Vec<Parameter> {
        let names = self.path.split('{').skip(1).filter_map(|rest| rest.split('}').next());
        let in_path = names.map(|name| {
            let object = ObjectBuilder::new().schema_type(Type::String);
            let schema = match name {
                "id" => object.format(Some(SchemaFormat::KnownFormat(KnownFormat::Uuid))),
                "side" => object.enum_values(Some(["left", "right"])),
                _ => object,
            };
            let parameter = ParameterBuilder::new().name(name).parameter_in(ParameterIn::Path);
            parameter.required(Required::True).schema(Some(schema)).build()
        });
        let is_script = self.body.is_some() && self.body_kind == JSON;
        let token = (!self.is_open && is_script).then(|| {
            let parameter = ParameterBuilder::new().name(TOKEN_HEADER);
            let parameter = parameter.parameter_in(ParameterIn::Header).schema(Some(text()));
            parameter.required(Required::True).build()
        });
        in_path.chain(token).chain(self.query.clone()).collect()
    }
}

/// An address that answers `A`.
pub(crate) fn get<A: ToSchema>(path: &'static str, says: &'static str) -> Address {
    Address::new(HttpMethod::Get, path, says, &[]).answers::<A>()
}

/// An address that answers server-sent events.
pub(crate) fn stream(path: &'static str, says: &'static str) -> Address {
    Address::new(HttpMethod::Get, path, says, &[]).answers_text("text/event-stream")
}

/// An address that answers an object of no type of ours.
pub(crate) fn document(path: &'static str, says: &'static str) -> Address {
    let object = ObjectBuilder::new().schema_type(Type::Object);
    let answer = Some(Content::new(Some(object)));
    Address { answer, ..Address::new(HttpMethod::Get, path, says, &[]) }
}

/// An address that takes `I` and answers `A`.
pub(crate) fn post<I: ToSchema, A: ToSchema>(path: &'static str, says: &'static str) -> Address {
    let refusals = [400, 403, 408, 413, 415, 422, 507];
    let mut address = Address::new(HttpMethod::Post, path, says, &refusals).answers::<A>();
    address.body = Some(Content::new(Some(reference::<I>(&mut address.schemas))));
    address
}

/// An address that takes the file of a page and answers with a page.
pub(crate) fn file_form<I: ToSchema>(path: &'static str, says: &'static str) -> Address {
    let address = post::<I, Free>(path, says).answers_text("text/html");
    Address { body_kind: "multipart/form-data", ..address }
}

/// Everything described.
#[derive(Default)]
pub(crate) struct Api {
    addresses: Vec<Address>,
}

impl Api {
    /// Adds an address.
    pub(crate) fn add(&mut self, address: Address) {
        self.addresses.push(address);
    }

    /// The document.
    pub(crate) fn document(self) -> OpenApi {
        let mut components = refusals();
        let mut paths = PathsBuilder::new();
        for mut address in self.addresses {
            for (name, schema) in std::mem::take(&mut address.schemas) {
                components = components.schema(name, schema);
            }
            paths = paths.path(address.path, operation(address));
        }
        let session = ApiKey::Cookie(ApiKeyValue::new("handcall"));
        let components = components.security_scheme("session", SecurityScheme::ApiKey(session));
        let info = InfoBuilder::new().title("Handcall").version(env!("CARGO_PKG_VERSION"));
        OpenApiBuilder::new()
            .info(info.description(Some(SAYS)).build())
            .paths(paths.build())
            .components(Some(components.build()))
            .build()
    }
}

/// The refusals every address shares.
fn refusals() -> ComponentsBuilder {
    let mut schemas = Schemas::new();
    let problem = reference::<ProblemBody>(&mut schemas);
    let mut components = ComponentsBuilder::new();
    for (name, schema) in schemas {
        components = components.schema(name, schema);
    }
    for (_, name, says) in REFUSALS {
        let response = ResponseBuilder::new().description(says);
        let response = response.content(JSON, Content::new(Some(problem.clone())));
        components = components.response(name, response.build());
    }
    components
}

fn operation(mut address: Address) -> PathItem {
    let security = match address.is_open {
        true => SecurityRequirement::default(),
        false => {
            address.refusals.extend([401, 403]);
            SecurityRequirement::new::<_, [&str; 0], &str>("session", [])
        }
    };
    address.refusals.push(500);
    let words = address.path.split(|sign: char| !sign.is_alphanumeric()).filter(|w| !w.is_empty());
    let method = if address.body.is_some() { "post" } else { "get" };
    let id = std::iter::once(method).chain(words).collect::<Vec<_>>().join("_");
    let mut operation = OperationBuilder::new()
        .operation_id(Some(id))
        .summary(Some(address.says))
        .description(address.detail)
        .security(security)
        .parameters(Some(address.parameters()));
    if let Some(content) = address.body {
        let body = RequestBodyBuilder::new().content(address.body_kind, content);
        operation = operation.request_body(Some(body.required(Some(Required::True)).build()));
    }
    let mut answer = ResponseBuilder::new().description("The answer.");
    if let Some(content) = address.answer {
        answer = answer.content(address.answer_kind, content);
    }
    let answer = answer.build();
    for status in address.statuses {
        operation = operation.response(status.to_string(), answer.clone());
    }
    let is_page = address.answer_kind == "text/html";
    for (status, name, says) in REFUSALS {
        if address.refusals.contains(&status) {
            let page = || {
                ResponseBuilder::new()
                    .description(says)
                    .content("text/html", Content::new(Some(text())))
            };
            let refusal: RefOr<Response> =
                if is_page { page().into() } else { Ref::from_response_name(name).into() };
            operation = operation.response(status.to_string(), refusal);
        }
    }
    PathItem::new(address.method, operation)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_types_share_a_name() {
        let mut known: BTreeMap<String, RefOr<Schema>> = BTreeMap::new();
        for address in crate::routes::described().addresses {
            for (name, schema) in address.schemas {
                let first = known.entry(name.clone()).or_insert_with(|| schema.clone());
                assert!(*first == schema, "two different schemas are called {name}");
            }
        }
        assert!(known.len() > 50, "{}", known.len());
    }
}
