//! What is sent to an address: the inputs of a form, or the same inputs as a JSON object. Both are
//! understood by the same code, so that a script is refused what a page is refused.

use actix_web::dev::Payload;
use actix_web::http::Method;
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};
use futures_util::future::{FutureExt, LocalBoxFuture};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use utoipa::ToSchema;

use crate::error::{Kind, Problem};
use crate::slow::is_late;

/// No input at all: nothing but the form's token.
#[derive(Debug, Deserialize, ToSchema)]
pub struct Nothing {}

/// The inputs that were sent, in either way.
#[derive(Debug)]
pub struct Inputs<T>(pub T);

impl<T: DeserializeOwned + 'static> FromRequest for Inputs<T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        if is_json(request) {
            let body = web::Json::<Map<String, Value>>::from_request(request, payload);
            async move { of_json(&*body.await.map_err(json_problem)?).map(Inputs) }.boxed_local()
        } else {
            let body = web::Form::<T>::from_request(request, payload);
            async move { Ok(Inputs(body.await.map_err(form_problem)?.into_inner())) }.boxed_local()
        }
    }
}

fn is_json(request: &HttpRequest) -> bool {
    matches!(request.mime_type(), Ok(Some(kind))
        if kind.subtype() == "json" || kind.suffix().is_some_and(|suffix| suffix == "json"))
}

/// Whether a script asks, which is answered in JSON. A browser posts nothing but forms, so that
/// everything else that is posted comes from a script.
#[must_use]
pub fn is_script(request: &HttpRequest) -> bool {
    let is_form = matches!(request.content_type(), "application/x-www-form-urlencoded")
        || request.content_type().starts_with("multipart/");
    request.path().starts_with("/api/") || (request.method() == Method::POST && !is_form)
}

/// The inputs of a JSON object as a form would have sent them: a box that is not ticked is absent.
fn of_json<T: DeserializeOwned>(inputs: &Map<String, Value>) -> Result<T, Problem> {
    let mut pairs = Vec::with_capacity(inputs.len());
    for (name, value) in inputs {
        let text = match value {
            Value::String(text) => text.clone(),
            Value::Number(number) => number.to_string(),
            Value::Bool(true) => "1".to_owned(),
            Value::Bool(false) | Value::Null => continue,
            Value::Array(_) | Value::Object(_) => return Err(Problem::at(name, "input_kind")),
        };
        pairs.push((name, text));
    }
    let unreadable = |why: String| Problem::from(Kind::Unreadable(why));
    let form = serde_urlencoded::to_string(pairs).map_err(|e| unreadable(e.to_string()))?;
    serde_urlencoded::from_str(&form).map_err(|e| unreadable(e.to_string()))
}

/// What is wrong with a form that could not be read.
fn form_problem(error: actix_web::Error) -> Problem {
    use actix_web::error::UrlencodedError;
    match error.as_error::<UrlencodedError>() {
        Some(UrlencodedError::Overflow { limit, .. }) => Kind::TooLarge(*limit).into(),
        Some(UrlencodedError::Payload(error)) if is_late(error) => Kind::TooSlow.into(),
        Some(UrlencodedError::ContentType) => Kind::WrongType.into(),
        Some(error) => Kind::Unreadable(error.to_string()).into(),
        None => Kind::Unreadable("it is not a form".to_owned()).into(),
    }
}

/// What is wrong with JSON that could not be read.
pub fn json_problem(error: actix_web::Error) -> Problem {
    use actix_web::error::JsonPayloadError;
    match error.as_error::<JsonPayloadError>() {
        Some(
            JsonPayloadError::OverflowKnownLength { limit, .. }
            | JsonPayloadError::Overflow { limit },
        ) => Kind::TooLarge(*limit).into(),
        Some(JsonPayloadError::Payload(error)) if is_late(error) => Kind::TooSlow.into(),
        Some(JsonPayloadError::ContentType) => Kind::WrongType.into(),
        Some(JsonPayloadError::Deserialize(error)) => Kind::Unreadable(error.to_string()).into(),
        _ => Kind::Unreadable("it is not JSON".to_owned()).into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[derive(Debug, PartialEq, Deserialize)]
    struct Form {
        width: String,
        #[serde(default)]
        is_one_way: String,
    }

    fn read(inputs: Value) -> Result<Form, Problem> {
        of_json(inputs.as_object().expect("an object"))
    }

    #[test]
    fn json_is_read_as_the_form_that_says_the_same() {
        let form: Form = serde_urlencoded::from_str("width=1400&is_one_way=1").expect("a form");
        assert_eq!(read(json!({ "width": 1400, "is_one_way": true })).expect("read"), form);
        assert_eq!(read(json!({ "width": "1400", "is_one_way": "1" })).expect("read"), form);
        let form: Form = serde_urlencoded::from_str("width=%26%3D+%C3%A4").expect("a form");
        assert_eq!(read(json!({ "width": "&= ä", "is_one_way": false })).expect("read"), form);
        assert_eq!(read(json!({ "width": "&= ä", "is_one_way": null })).expect("read"), form);
    }

    #[test]
    fn what_no_input_holds_is_refused_at_its_place() {
        for value in [json!([]), json!(["1400"]), json!({ "mm": 1400 })] {
            let problem = read(json!({ "width": value })).expect_err("refused");
            assert_eq!((problem.field.as_deref(), problem.code()), (Some("width"), "input_kind"));
        }
        assert_eq!(read(json!({})).expect_err("an input is missing").code(), "unreadable");
    }
}
