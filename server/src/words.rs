//! The words of the pages, by language, from `web/words`, and the one filler of their sentences: a
//! sentence is a template whose `{figures}` come from a flag or a refusal. `web/static/model/words.js`
//! fills the same templates on the phone.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use actix_web::HttpRequest;
use actix_web::http::header;
use analysis::dimension::Dimension;
use rust_embed::RustEmbed;
use serde::Serialize;
use serde_json::{Value, json};

#[derive(RustEmbed)]
#[folder = "../web/words"]
struct Files;

/// The language used when no other fits, and on the command line.
pub const FALLBACK: &str = "en";

/// Words by language.
#[derive(Debug, Clone, Default)]
pub struct Words {
    languages: BTreeMap<String, Value>,
}

/// The words there are, read once. The server refuses to start when a file does not parse.
#[must_use]
pub fn all() -> &'static Words {
    static WORDS: LazyLock<Words> = LazyLock::new(|| Words::load().unwrap_or_default());
    &WORDS
}

impl Words {
    /// Reads every language; what one lacks is taken from English.
    ///
    /// # Errors
    /// The file that is not JSON, by name.
    pub fn load() -> Result<Words, String> {
        let mut languages = BTreeMap::new();
        for name in Files::iter() {
            let Some((language, file)) = name.strip_suffix(".json").zip(Files::get(&name)) else {
                continue;
            };
            let words: Value =
                serde_json::from_slice(&file.data).map_err(|error| format!("{name}: {error}"))?;
            languages.insert(language.to_owned(), words);
        }
        let mut english = languages.get(FALLBACK).cloned().ok_or("en.json is missing")?;
        // The registry of dimensions names them in English.
        for dimension in Dimension::ALL {
            english["dimension"][dimension.key()] =
                json!({ "name": dimension.name(), "instruction": dimension.instruction() });
        }
        for words in languages.values_mut() {
            complete(words, &english);
        }
        Ok(Words { languages })
    }

    /// Languages there are.
    pub fn languages(&self) -> impl Iterator<Item = &str> {
        self.languages.keys().map(String::as_str)
    }

    /// The words of a language.
    #[must_use]
    pub fn of(&self, language: &str) -> &Value {
        static NOTHING: Value = Value::Null;
        self.languages.get(language).or_else(|| self.languages.get(FALLBACK)).unwrap_or(&NOTHING)
    }

    /// The language for a request: the one chosen by cookie, or the first that the browser asks for.
    #[must_use]
    pub fn choose(&self, request: &HttpRequest) -> &str {
        let cookie = request.cookie("language");
        let chosen = cookie.as_ref().map(|cookie| cookie.value());
        let accepted = request
            .headers()
            .get(header::ACCEPT_LANGUAGE)
            .and_then(|value| value.to_str().ok())
            .unwrap_or("");
        chosen
            .into_iter()
            .chain(accepted.split(',').filter_map(|part| part.trim().get(..2)))
            .find_map(|wanted| self.languages.get_key_value(wanted))
            .map_or(FALLBACK, |(language, _)| language)
    }

    /// The words for a request.
    #[must_use]
    pub fn for_request(&self, request: &HttpRequest) -> &Value {
        self.of(self.choose(request))
    }
}

/// Name of a dimension.
#[must_use]
pub fn dimension_name(words: &Value, dimension: Dimension) -> &str {
    words["dimension"][dimension.key()]["name"].as_str().unwrap_or(dimension.name())
}

fn complete(words: &mut Value, english: &Value) {
    if let (Value::Object(words), Value::Object(english)) = (words, english) {
        for (key, value) in english {
            match words.get_mut(key) {
                Some(own) => complete(own, value),
                None => {
                    words.insert(key.clone(), value.clone());
                }
            }
        }
    }
}

/// What a flag or a repair says: its sentences one after the other. `w` are the words of a language.
#[must_use]
pub fn sentence(w: &Value, says: &impl Serialize) -> String {
    let one = |phrase: &Value| {
        let template = phrase["say"].as_str().and_then(|say| w["say"][say].as_str());
        fill(w, template.unwrap_or_default(), phrase)
    };
    match serde_json::to_value(says) {
        Ok(Value::Array(phrases)) => phrases.iter().map(one).collect::<Vec<_>>().join(" "),
        Ok(phrase) => one(&phrase),
        Err(_) => String::new(),
    }
}

/// The sentence of an error code; one that has no words yet is given in English as its figure
/// `message`.
#[must_use]
pub fn error(w: &Value, code: &str, figures: &Value) -> String {
    let template = w["error"][code].as_str();
    fill(w, template.unwrap_or("{message}"), figures)
}

/// A template with its `{figures}` filled in.
#[must_use]
pub fn fill(w: &Value, template: &str, figures: &Value) -> String {
    let mut out = String::with_capacity(2 * template.len());
    let mut rest = template;
    while let Some((before, (name, behind))) =
        rest.split_once('{').and_then(|(before, after)| Some((before, after.split_once('}')?)))
    {
        out.push_str(before);
        match &figures[name] {
            Value::Number(value) => {
                out.push_str(&number(w, value.as_f64().unwrap_or_default()));
            }
            Value::String(key) => out.push_str(&word(w, name, key)),
            _ => {}
        }
        rest = behind;
    }
    out + rest
}

/// A number as it is written: to two decimals at most, with the language's decimal sign.
#[must_use]
pub fn number(w: &Value, value: f64) -> String {
    let text = ((value * 100.0).round() / 100.0).to_string();
    text.replace('.', w["measure"]["point"].as_str().unwrap_or("."))
}

/// A text figure: a key by its word where the figure's name says what it is a key of, else itself.
fn word(w: &Value, name: &str, text: &str) -> String {
    let known = match name {
        "dimension" | "other" => &w["dimension"][text]["name"],
        "side" | "other_side" => &w["on_side"][text],
        "hand" => &w["side"][text],
        "slip" => &w["slip"][text],
        "population" => return population(w, text),
        _ => &Value::Null,
    };
    known.as_str().unwrap_or(text).to_owned()
}

/// Published people by their key: "women", "girls, 9 years".
#[must_use]
pub fn population(w: &Value, key: &str) -> String {
    let (who, age) = key.split_once('_').map_or((key, None), |(who, age)| (who, Some(age)));
    let people = &w["population"];
    let name = people[who].as_str().unwrap_or(key);
    match age {
        Some(age) => format!("{name}, {age} {}", people["years"].as_str().unwrap_or_default()),
        None => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::check::FlagKind;
    use analysis::dimension::Dimension;

    fn file(name: &str) -> Value {
        let file = Files::get(name).expect("the file of words");
        serde_json::from_slice(&file.data).expect("JSON")
    }

    fn keys(words: &Value, prefix: &str, into: &mut Vec<String>) {
        match words {
            Value::Object(map) => {
                map.iter().for_each(|(key, value)| keys(value, &format!("{prefix}.{key}"), into));
            }
            _ => into.push(prefix.to_owned()),
        }
    }

    #[test]
    fn german_has_every_word_that_english_has() {
        let (mut english, mut german) = (Vec::new(), Vec::new());
        keys(&file("en.json"), "", &mut english);
        keys(&file("de.json"), "", &mut german);
        for key in &english {
            assert!(german.contains(key), "de.json lacks {key}");
        }
    }

    #[test]
    fn german_names_every_dimension_and_both_name_every_kind_of_flag() {
        let (english, german) = (file("en.json"), file("de.json"));
        for dimension in Dimension::ALL {
            for part in ["name", "instruction"] {
                assert!(german["dimension"][dimension.key()][part].is_string(), "{dimension:?}");
            }
        }
        for kind in FlagKind::ALL {
            for words in [&english, &german] {
                assert!(words["flag"][kind.key()].is_string(), "{kind:?}");
            }
        }
    }
}
