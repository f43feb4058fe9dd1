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
    with_sign(w, &((value * 100.0).round() / 100.0).to_string())
}

/// A number written with a point, with the language's decimal sign.
#[must_use]
pub fn with_sign(w: &Value, number: &str) -> String {
    number.replace('.', w["measure"]["point"].as_str().unwrap_or("."))
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

/// A day, or a moment to the minute, as it is read: "25 Nov 2026, 15:38 UTC" from
/// "2026-11-25 15:38 UTC". Other text is given back.
#[must_use]
pub fn when(w: &Value, text: &str) -> String {
    let (day, time) = text.split_once(' ').map_or((text, None), |(day, time)| (day, Some(time)));
    let parts: Vec<&str> = day.splitn(3, '-').map(|part| part.trim_start_matches('0')).collect();
    let [year, month, day] = parts.as_slice() else { return text.to_owned() };
    let place = month.parse::<usize>().ok().and_then(|month| month.checked_sub(1));
    let name = place.and_then(|place| w["date"]["months"][place].as_str());
    let (Some(month), Some(order)) = (name, w["date"]["order"].as_str()) else {
        return text.to_owned();
    };
    let date = fill(w, order, &json!({ "day": day, "month": month, "year": year }));
    time.map_or(date.clone(), |time| format!("{date}, {time}"))
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

    #[test]
    fn numbers_days_and_people_are_written_as_the_language_writes_them() {
        let words = Words::load().expect("words");
        let (english, german) = (words.of("en"), words.of("de"));
        assert_eq!((number(english, 18.4), number(german, 18.4)), ("18.4".into(), "18,4".into()));
        assert_eq!(number(german, 186.0), "186");
        let moment = "2026-03-05 15:38 UTC";
        assert_eq!(when(english, moment), "5 Mar 2026, 15:38 UTC");
        assert_eq!(when(german, moment), "5.3.2026, 15:38 UTC");
        assert_eq!(when(german, "2026-11-25"), "25.11.2026");
        assert_eq!(when(german, "soon"), "soon");
        assert_eq!(population(english, "girl_9"), "girls, 9 years");
        assert_eq!(population(german, "women"), "Frauen");
    }

    #[test]
    fn a_figure_that_was_typed_is_shown_as_it_was_typed() {
        let words = Words::load().expect("words");
        let figures = json!({ "text": "{least} hand_length", "least": 1 });
        let said = error(words.of("en"), "option_not_a_number", &figures);
        assert_eq!(said, "\u{201c}{least} hand_length\u{201d} is not a number.");
    }

    /// Codes that the source refuses with: the last text in quotes of each call.
    fn codes(folder: &std::path::Path, into: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).expect("source").flatten() {
            let path = entry.path();
            if path.is_dir() {
                codes(&path, into);
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap_or_default();
            let text = text.split("#[cfg(test)]").next().unwrap_or_default();
            for marker in ["Problem::at(", "Problem::conflict("] {
                for (at, _) in text.match_indices(marker) {
                    let arguments = text[at + marker.len()..].split(')').next().unwrap_or_default();
                    let code = arguments.rsplit(", ").next().unwrap_or_default();
                    let quoted = code.trim().trim_end_matches(',').trim();
                    into.extend(quoted.strip_prefix('"').map(|c| c.trim_matches('"').to_owned()));
                }
            }
        }
    }

    #[test]
    fn every_refusal_has_its_words_in_every_language() {
        let mut found = Vec::new();
        codes(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut found);
        assert!(found.len() > 40 && found.iter().any(|code| code == "text_long"), "{found:?}");
        for name in ["en.json", "de.json"] {
            let words = file(name);
            for code in &found {
                assert!(words["error"][code].is_string(), "{name} has no words for {code}");
            }
        }
    }
}
