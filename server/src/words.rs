//! The words of the pages, by language, from `web/words`.

use std::collections::BTreeMap;

use actix_web::HttpRequest;
use actix_web::http::header;
use rust_embed::RustEmbed;
use serde_json::Value;

#[derive(RustEmbed)]
#[folder = "../web/words"]
struct Files;

/// The language used when no other fits.
pub const FALLBACK: &str = "en";

/// Words by language.
#[derive(Debug, Clone)]
pub struct Words {
    languages: BTreeMap<String, Value>,
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
        let english = languages.get(FALLBACK).cloned().ok_or("en.json is missing")?;
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
