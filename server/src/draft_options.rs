//! Options of a draft as they are typed in a form: percent and millimetres as text.

use analysis::draft::GloveOptions;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::error::Problem;

/// The form of a draft. An empty input means the default of the fabric, or of the house.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DraftForm {
    /// Girth reduction of the palm, percent.
    pub palm: String,
    /// Girth reduction of the wrist, percent.
    pub wrist: String,
    /// Girth reduction of the fingers, percent.
    pub fingers: String,
    /// Girth reduction of the thumb, percent.
    pub thumb: String,
    /// Seam allowance, mm.
    pub allowance: String,
    /// Length below the wrist crease, mm.
    pub below: String,
    /// Hem, mm.
    pub hem: String,
    /// Stitches across a crotch.
    pub stitches: String,
    /// Length of a stitch, mm.
    pub stitch: String,
    /// Usable extension of the fabric, percent.
    pub usable: String,
    /// Construction, by its key.
    pub construction: String,
    /// Finish of the fingers, by its key.
    pub finish: String,
    /// Closure of the wrist, by its key.
    pub closure: String,
}

impl DraftForm {
    /// The form as it shows these options.
    #[must_use]
    pub fn of(options: &GloveOptions) -> DraftForm {
        let percent = |share: f64| plain(share * 100.0);
        DraftForm {
            palm: percent(options.reduction.palm),
            wrist: percent(options.reduction.wrist),
            fingers: percent(options.reduction.fingers),
            thumb: percent(options.reduction.thumb),
            allowance: plain(options.seam_allowance_mm),
            below: plain(options.below_wrist_mm),
            hem: plain(options.hem_mm),
            stitches: options.crotch_stitches.to_string(),
            stitch: plain(options.stitch_length_mm),
            usable: percent(options.usable_extension),
            construction: key(&options.construction),
            finish: key(&options.finish),
            closure: key(&options.closure),
        }
    }

    /// The options, starting from `base` where an input is empty. Bounds are the draft's own.
    ///
    /// # Errors
    /// A refusal at the first input that is not a number.
    pub fn options(&self, base: GloveOptions) -> Result<GloveOptions, Problem> {
        let mut options = base;
        let reduction = &mut options.reduction;
        for (field, text, share) in [
            ("palm", &self.palm, &mut reduction.palm),
            ("wrist", &self.wrist, &mut reduction.wrist),
            ("fingers", &self.fingers, &mut reduction.fingers),
            ("thumb", &self.thumb, &mut reduction.thumb),
            ("usable", &self.usable, &mut options.usable_extension),
        ] {
            if let Some(percent) = number(field, text)? {
                *share = percent / 100.0;
            }
        }
        for (field, text, mm) in [
            ("allowance", &self.allowance, &mut options.seam_allowance_mm),
            ("below", &self.below, &mut options.below_wrist_mm),
            ("hem", &self.hem, &mut options.hem_mm),
            ("stitch", &self.stitch, &mut options.stitch_length_mm),
        ] {
            if let Some(typed) = number(field, text)? {
                *mm = typed;
            }
        }
        if !self.stitches.trim().is_empty() {
            options.crotch_stitches = self
                .stitches
                .trim()
                .parse()
                .map_err(|_| Problem::at("stitches", "option_not_whole"))?;
        }
        if let Some(construction) = chosen("construction", &self.construction)? {
            options.construction = construction;
        }
        if let Some(finish) = chosen("finish", &self.finish)? {
            options.finish = finish;
        }
        if let Some(closure) = chosen("closure", &self.closure)? {
            options.closure = closure;
        }
        Ok(options)
    }
}

/// The key an option is stored and sent by.
fn key(option: &impl Serialize) -> String {
    let value = serde_json::to_value(option).unwrap_or_default();
    value.as_str().unwrap_or_default().to_owned()
}

/// The option with this key; nothing where none was sent.
fn chosen<T: DeserializeOwned>(field: &str, key: &str) -> Result<Option<T>, Problem> {
    let key = key.trim();
    if key.is_empty() {
        return Ok(None);
    }
    serde_json::from_value(serde_json::Value::from(key))
        .map(Some)
        .map_err(|_| Problem::at(field, "not_on_the_list"))
}

fn plain(value: f64) -> String {
    ((value * 100.0).round() / 100.0).to_string()
}

fn number(field: &str, text: &str) -> Result<Option<f64>, Problem> {
    let text = text.trim().trim_end_matches('%').trim_end().replace(',', ".");
    if text.is_empty() {
        return Ok(None);
    }
    let is_plain = text.len() <= 12
        && text
            .chars()
            .enumerate()
            .all(|(i, c)| c.is_ascii_digit() || c == '.' || (i == 0 && c == '-'));
    match text.parse::<f64>() {
        Ok(value) if is_plain => Ok(Some(value)),
        _ => Err(Problem::at(field, "option_not_a_number")
            .with("text", text.chars().take(20).collect::<String>())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_of_the_defaults_leads_back_to_the_defaults() {
        let defaults = GloveOptions::default();
        let again = DraftForm::of(&defaults).options(defaults).expect("numbers");
        assert!((again.reduction.palm - defaults.reduction.palm).abs() < 1e-9);
        assert!((again.usable_extension - defaults.usable_extension).abs() < 1e-9);
        assert_eq!(again.crotch_stitches, defaults.crotch_stitches);
        assert_eq!(DraftForm::default().options(defaults).expect("empty"), defaults);
    }

    #[test]
    fn a_chosen_construction_is_kept_and_an_unknown_one_refused_at_its_field() {
        let form = DraftForm { construction: "fourchette".to_owned(), ..DraftForm::default() };
        let options = form.options(GloveOptions::default()).expect("a key");
        assert_eq!(options.construction, analysis::draft::Construction::Fourchette);
        assert_eq!(DraftForm::of(&options).construction, "fourchette");
        let form = DraftForm { finish: "mitten".to_owned(), ..DraftForm::default() };
        let problem = form.options(GloveOptions::default()).expect_err("no such finish");
        assert_eq!(problem.field.as_deref(), Some("finish"));
    }

    #[test]
    fn words_and_huge_numbers_are_refused_at_their_field() {
        for text in ["ten", "1e300", "inf", "NaN", "--1", "1.2.3", "10 % of it"] {
            let form = DraftForm { thumb: text.to_owned(), ..DraftForm::default() };
            let problem = form.options(GloveOptions::default()).expect_err(text);
            assert_eq!(problem.field.as_deref(), Some("thumb"), "{text}");
        }
        let form = DraftForm { palm: "7,5 %".to_owned(), ..DraftForm::default() };
        let options = form.options(GloveOptions::default()).expect("a comma and a sign");
        assert!((options.reduction.palm - 0.075).abs() < 1e-12);
    }
}
