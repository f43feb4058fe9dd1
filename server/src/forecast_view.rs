//! The fit forecast of a draft in the words of a language: its one line, its tables, its drawing.

use analysis::draft::{Advice, Digit, Draft, Feel, GloveOptions, Remark, Zone};
use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;

use crate::export::forecast::{self, ForecastWords};
use crate::words;

/// One zone of the hand.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = ForecastZone)]
pub struct ZoneRow {
    zone: String,
    hand_mm: f64,
    glove_mm: f64,
    worn_in_mm: f64,
    extension_percent: f64,
    pressure_mmhg: Option<f64>,
    feel: String,
    is_tight: bool,
}

/// One crotch.
#[derive(Debug, Serialize, ToSchema)]
pub struct CrotchRow {
    between: String,
    stand_off_mm: f64,
    spread_deg: f64,
}

/// One finger's length.
#[derive(Debug, Serialize, ToSchema)]
pub struct LengthRow {
    digit: String,
    open_mm: f64,
    bent_mm: f64,
}

/// The figures of a forecast.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Forecast)]
pub struct ForecastView {
    advice: String,
    zones: Vec<ZoneRow>,
    crotches: Vec<CrotchRow>,
    lengths: Vec<LengthRow>,
    /// Whether the fabric's tension is known, and so its pressure.
    has_pressure: bool,
    wrist_passing_percent: f64,
}

impl ForecastView {
    /// The forecast of a draft made with these options, in the words `w` of a language.
    #[must_use]
    pub fn of(draft: &Draft, options: &GloveOptions, w: &Value) -> ForecastView {
        let d = &w["forecast"];
        let fit = &draft.forecast;
        let usable = options.usable_across();
        let zones: Vec<ZoneRow> = fit
            .zones
            .iter()
            .map(|fit| {
                let feel = fit.feel(usable);
                ZoneRow {
                    zone: zone_word(d, fit.zone),
                    hand_mm: fit.hand_mm.round(),
                    glove_mm: fit.glove_mm.round(),
                    worn_in_mm: fit.worn_in_mm.round(),
                    extension_percent: percent(fit.extension()),
                    pressure_mmhg: fit.pressure_mmhg.map(f64::round),
                    feel: word(&d["feel"], feel.name()),
                    is_tight: feel == Feel::Tight,
                }
            })
            .collect();
        let crotch = |crotch: &analysis::draft::CrotchFit| CrotchRow {
            between: format!("{} / {}", digit_word(d, crotch.near), digit_word(d, crotch.far)),
            stand_off_mm: crotch.stand_off_mm.round(),
            spread_deg: crotch.spread_deg.round(),
        };
        let length = |fit: &analysis::draft::LengthFit| LengthRow {
            digit: digit_word(d, fit.digit),
            open_mm: fit.open_mm.round(),
            bent_mm: fit.bent_mm.round(),
        };
        ForecastView {
            advice: advice(w, fit.advice),
            has_pressure: zones.iter().any(|zone| zone.pressure_mmhg.is_some()),
            zones,
            crotches: fit.crotches.iter().map(crotch).collect(),
            lengths: fit.lengths.iter().map(length).collect(),
            wrist_passing_percent: percent(fit.wrist_passing_extension),
        }
    }
}

/// The forecast drawn over the pieces, as SVG for a page.
#[must_use]
pub fn drawing(draft: &Draft, options: &GloveOptions, w: &Value) -> String {
    in_words(w, |words| forecast::render(draft, options, words))
}

/// Draws with the legend's words of a language.
fn in_words<T>(w: &Value, draw: impl FnOnce(&ForecastWords<'_>) -> T) -> T {
    let d = &w["forecast"];
    let feels = [Feel::Loose, Feel::Easy, Feel::Firm, Feel::Tight];
    let feels = feels.map(|feel| word(&d["feel"], feel.name()));
    let notes = ["in_zone", "at_crotch", "at_tip"].map(|note| word(&d["drawn"], note));
    let title = word(&d["drawn"], "title");
    draw(&ForecastWords {
        title: &title,
        feels: feels.each_ref().map(String::as_str),
        notes: notes.each_ref().map(String::as_str),
    })
}

fn percent(share: f64) -> f64 {
    // Never minus zero.
    (share * 100.0).round() + 0.0
}

fn word(words: &Value, key: &str) -> String {
    words[key].as_str().unwrap_or(key).to_owned()
}

fn digit_word(d: &Value, digit: Digit) -> String {
    let key = match digit {
        Digit::Thumb => "thumb",
        Digit::Index => "index",
        Digit::Middle => "middle",
        Digit::Ring => "ring",
        Digit::Little => "little",
    };
    word(&d["digit"], key)
}

fn zone_word(d: &Value, zone: Zone) -> String {
    let of =
        |digit: Digit, part: &str| format!("{}, {}", digit_word(d, digit), word(&d["part"], part));
    match zone {
        Zone::Palm => word(&d["part"], "palm"),
        Zone::Wrist => word(&d["part"], "wrist"),
        Zone::Fourchette => word(&d["part"], "fourchette"),
        Zone::Root(digit) => of(digit, "root"),
        Zone::Knuckle(Digit::Thumb) => of(Digit::Thumb, "joint"),
        Zone::Knuckle(digit) => of(digit, "middle_joint"),
        Zone::EndJoint(digit) => of(digit, "end_joint"),
    }
}

/// The one line of the forecast.
fn advice(w: &Value, advice: Advice) -> String {
    let d = &w["forecast"];
    let (key, figures) = match advice {
        Advice::Tight { zone, extension } => {
            ("tight", json!({ "zone": zone_word(d, zone), "percent": percent(extension) }))
        }
        Advice::Loose { zone, wider } => {
            ("loose", json!({ "zone": zone_word(d, zone), "percent": percent(wider) }))
        }
        Advice::HighCrotch { near, far, stand_off_mm } => (
            "high_crotch",
            json!({
                "near": digit_word(d, near),
                "far": digit_word(d, far),
                "mm": stand_off_mm.round(),
            }),
        ),
        Advice::Even { zone, feel, extension } => (
            "even",
            json!({
                "zone": zone_word(d, zone),
                "feel": word(&d["feel"], feel.name()),
                "percent": percent(extension),
            }),
        ),
        Advice::Nothing => return String::new(),
    };
    words::fill(w, d["advice"][key].as_str().unwrap_or_default(), &figures)
}

/// What the cutter should know of a draft, in the words of a language.
#[must_use]
pub fn remarks(draft: &Draft, w: &Value) -> Vec<String> {
    draft.remarks.iter().map(|&one| remark(w, one)).collect()
}

fn remark(w: &Value, remark: Remark) -> String {
    let d = &w["forecast"]["remark"];
    let parts = |is_glove_wider: bool, by_mm: f64| {
        let (wide, narrow) = if is_glove_wider { ("glove", "sleeve") } else { ("sleeve", "glove") };
        json!({ "wide": word(d, wide), "narrow": word(d, narrow), "mm": by_mm.round() })
    };
    let (key, figures) = match remark {
        Remark::WristTooNarrow { needed, usable } => {
            ("wrist", json!({ "percent": percent(needed), "usable": percent(usable) }))
        }
        Remark::OverStretched { zone, extension, usable } => (
            "stretched",
            json!({
                "zone": zone_word(&w["forecast"], zone),
                "percent": percent(extension),
                "usable": percent(usable),
            }),
        ),
        Remark::Tired => ("tired", json!({})),
        Remark::LengthReserve { reserve } => ("reserve", json!({ "percent": percent(reserve) })),
        Remark::FewerStitches { asked, drafted } => {
            ("stitches", json!({ "asked": asked, "drafted": drafted }))
        }
        Remark::Eased { is_glove_wider, by_mm } => ("eased", parts(is_glove_wider, by_mm)),
        Remark::TooMuchToEase { is_glove_wider, by_mm } => {
            ("too_much", parts(is_glove_wider, by_mm))
        }
    };
    words::fill(w, d[key].as_str().unwrap_or_default(), &figures)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// In English the page says what the command line says.
    #[test]
    fn the_advice_is_the_same_on_the_page_and_on_the_command_line() {
        let english = words::all().of("en");
        let zone = Zone::Knuckle(Digit::Ring);
        for one in [
            Advice::Tight { zone, extension: 0.234 },
            Advice::Loose { zone: Zone::Palm, wider: 0.12 },
            Advice::HighCrotch { near: Digit::Index, far: Digit::Middle, stand_off_mm: 15.2 },
            Advice::Even { zone: Zone::Knuckle(Digit::Thumb), feel: Feel::Firm, extension: 0.1 },
        ] {
            assert_eq!(advice(english, one), one.to_string());
        }
        for one in [
            Remark::WristTooNarrow { needed: 0.55, usable: 0.31 },
            Remark::OverStretched { zone: Zone::Palm, extension: 0.4, usable: 0.31 },
            Remark::Tired,
            Remark::LengthReserve { reserve: 0.06 },
            Remark::FewerStitches { asked: 3, drafted: 2 },
            Remark::Eased { is_glove_wider: true, by_mm: 4.2 },
            Remark::TooMuchToEase { is_glove_wider: false, by_mm: 31.0 },
        ] {
            assert_eq!(remark(english, one), one.to_string());
        }
    }
}
