//! The form of a fabric: what it is, its stretch test, its limits, as text.

use std::collections::HashMap;

use analysis::fabric::{
    Direction, EaseZone, FabricFacts, LIMITS_MMHG, Load, PressureLimits, StretchTest, TestError,
    USABLE_SHARE,
};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::error::Problem;
use crate::store::fabric::NewFabric;
use crate::typed::{line, needed, number, out_of_bounds, plain};

/// Pulls a form has room for: two directions, and points for a curve.
pub const PULLS: usize = 6;

/// Share of the greatest extension that may be called usable, percent (assumed: below a tenth no
/// knit would stretch at all).
const SHARE_PERCENT: std::ops::RangeInclusive<f64> = 10.0..=100.0;

/// One pull as typed.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct PullForm {
    /// Key of the direction.
    pub direction: String,
    /// `mass` or `hand`.
    pub by: String,
    /// Mass, g.
    pub mass: String,
    /// Width of the strip, mm.
    pub strip: String,
    /// Distance of the marks before, mm.
    pub before: String,
    /// Under load, mm.
    pub loaded: String,
    /// After release, mm.
    pub released: String,
}

/// The form as typed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "Sent")]
pub struct FabricForm {
    /// Name.
    pub name: String,
    /// Remark.
    pub note: String,
    /// Key of the material.
    pub material: String,
    /// Key of what is known about latex.
    pub latex: String,
    /// Usable share of the greatest extension, percent.
    pub share: String,
    /// Largest pressure at palm, wrist, fingers, thumb, mmHg.
    pub limits: [String; 4],
    /// The pulls.
    pub pulls: [PullForm; PULLS],
}

/// The form as it arrives: inputs of a pull end in its number, those of a limit in its zone.
#[derive(Deserialize)]
#[serde(transparent)]
struct Sent(HashMap<String, String>);

impl From<Sent> for FabricForm {
    fn from(Sent(mut inputs): Sent) -> FabricForm {
        let mut take = |name: &str| inputs.remove(name).unwrap_or_default();
        FabricForm {
            name: take("name"),
            note: take("note"),
            material: take("material"),
            latex: take("latex"),
            share: take("share"),
            limits: EaseZone::ALL.map(|zone| take(&limit_field(zone))),
            pulls: std::array::from_fn(|i| PullForm {
                direction: take(&format!("direction_{i}")),
                by: take(&format!("by_{i}")),
                mass: take(&format!("mass_{i}")),
                strip: take(&format!("strip_{i}")),
                before: take(&format!("before_{i}")),
                loaded: take(&format!("loaded_{i}")),
                released: take(&format!("released_{i}")),
            }),
        }
    }
}

fn limit_field(zone: EaseZone) -> String {
    format!("limit_{}", zone.key())
}

/// The key an option is stored and sent by.
fn key(option: &impl Serialize) -> String {
    let value = serde_json::to_value(option).unwrap_or_default();
    value.as_str().unwrap_or_default().to_owned()
}

fn chosen<T: DeserializeOwned>(field: &str, key: &str) -> Result<T, Problem> {
    serde_json::from_value(serde_json::Value::from(key.trim()))
        .map_err(|_| Problem::at(field, "not_on_the_list"))
}

impl PullForm {
    /// A pull nobody has made yet: marks 100 mm apart on a strip 50 mm wide are usual.
    fn empty(place: usize) -> PullForm {
        let direction = if place == 1 { Direction::Crosswise } else { Direction::Greatest };
        PullForm {
            direction: key(&direction),
            by: "mass".to_owned(),
            strip: "50".to_owned(),
            before: "100".to_owned(),
            ..PullForm::default()
        }
    }

    fn of(test: &StretchTest) -> PullForm {
        let lengths = PullForm {
            direction: key(&test.direction),
            before: plain(test.before_mm),
            loaded: plain(test.loaded_mm),
            released: plain(test.released_mm),
            ..PullForm::default()
        };
        match test.load {
            Load::Mass { mass_g, strip_width_mm } => PullForm {
                by: "mass".to_owned(),
                mass: plain(mass_g),
                strip: plain(strip_width_mm),
                ..lengths
            },
            Load::Hand => PullForm { by: "hand".to_owned(), ..lengths },
        }
    }

    /// Whether nothing of it was measured.
    fn is_empty(&self) -> bool {
        [&self.mass, &self.loaded, &self.released].iter().all(|text| text.trim().is_empty())
    }

    fn test(&self, place: usize) -> Result<StretchTest, Problem> {
        let field = |input: &str| format!("{input}_{place}");
        let load = match self.by.as_str() {
            "hand" => Load::Hand,
            "mass" => Load::Mass {
                mass_g: needed(&field("mass"), &self.mass)?,
                strip_width_mm: needed(&field("strip"), &self.strip)?,
            },
            _ => chosen(&field("by"), &self.by)?,
        };
        let test = StretchTest {
            direction: chosen(&field("direction"), &self.direction)?,
            load,
            before_mm: needed(&field("before"), &self.before)?,
            loaded_mm: needed(&field("loaded"), &self.loaded)?,
            released_mm: needed(&field("released"), &self.released)?,
        };
        test.check().map_err(|error| refused(error, place))?;
        Ok(test)
    }
}

/// A refused pull, at the input that cannot be.
fn refused(error: TestError, place: usize) -> Problem {
    let at = |input: &str| Problem::at(&format!("{input}_{place}"), error.code());
    match error {
        TestError::Missing => at("direction"),
        TestError::Before(mm) => at("before").with("mm", mm),
        TestError::Loaded(before, mm) => at("loaded").with("mm", mm).with("before", before),
        TestError::Released(loaded, mm) => at("released").with("mm", mm).with("loaded", loaded),
        TestError::Mass(g) => at("mass").with("g", g),
        TestError::Strip(mm) => at("strip").with("mm", mm),
    }
}

impl Default for FabricForm {
    fn default() -> Self {
        FabricForm::of("", "", &FabricFacts::default())
    }
}

impl FabricForm {
    /// The form as it shows a fabric.
    #[must_use]
    pub fn of(name: &str, note: &str, facts: &FabricFacts) -> FabricForm {
        FabricForm {
            name: name.to_owned(),
            note: note.to_owned(),
            material: key(&facts.material),
            latex: key(&facts.latex),
            share: plain(facts.usable_share * 100.0),
            limits: EaseZone::ALL.map(|zone| plain(facts.limits.of(zone))),
            pulls: std::array::from_fn(|i| {
                facts.tests.get(i).map_or_else(|| PullForm::empty(i), PullForm::of)
            }),
        }
    }

    /// What was entered.
    ///
    /// # Errors
    /// A refusal at the first input that cannot be used.
    pub fn understand(&self, longest_name: usize) -> Result<NewFabric, Problem> {
        let name = line("name", &self.name, longest_name, true)?;
        let note = line("note", &self.note, 200, false)?;
        let mut tests = Vec::new();
        for (place, pull) in self.pulls.iter().enumerate() {
            if !pull.is_empty() {
                tests.push(pull.test(place)?);
            }
        }
        let facts = FabricFacts {
            material: chosen("material", &self.material)?,
            latex: chosen("latex", &self.latex)?,
            tests,
            usable_share: self.usable_share()?,
            limits: self.limits()?,
        };
        // Each pull is sound by itself; what may be left is that none goes along the greatest stretch.
        facts.behaviour().map_err(|error| refused(error, 0))?;
        Ok(NewFabric { name, note, facts })
    }

    fn usable_share(&self) -> Result<f64, Problem> {
        match number("share", &self.share)? {
            None => Ok(USABLE_SHARE),
            Some(percent) if SHARE_PERCENT.contains(&percent) => Ok(percent / 100.0),
            Some(percent) => {
                let (low, high) = (SHARE_PERCENT.start(), SHARE_PERCENT.end());
                Err(out_of_bounds("share", percent, (*low, *high)))
            }
        }
    }

    fn limits(&self) -> Result<PressureLimits, Problem> {
        let defaults = PressureLimits::default();
        let limit = |zone: EaseZone| {
            let field = limit_field(zone);
            let text = self.limits.get(zone as usize).map_or("", String::as_str);
            match number(&field, text)? {
                None => Ok(defaults.of(zone)),
                Some(mmhg) if LIMITS_MMHG.contains(&mmhg) => Ok(mmhg),
                Some(mmhg) => {
                    let (low, high) = (LIMITS_MMHG.start(), LIMITS_MMHG.end());
                    Err(out_of_bounds(&field, mmhg, (*low, *high)))
                }
            }
        };
        Ok(PressureLimits {
            palm_mmhg: limit(EaseZone::Palm)?,
            wrist_mmhg: limit(EaseZone::Wrist)?,
            fingers_mmhg: limit(EaseZone::Fingers)?,
            thumb_mmhg: limit(EaseZone::Thumb)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use actix_web::web::Query;
    use analysis::fabric::{Latex, Material};

    fn tested() -> FabricForm {
        let mut form = FabricForm { name: "Kelp".to_owned(), ..FabricForm::default() };
        form.pulls[0] = PullForm {
            mass: "500".to_owned(),
            loaded: "128".to_owned(),
            released: "102".to_owned(),
            ..PullForm::empty(0)
        };
        form
    }

    #[test]
    fn a_fabric_comes_back_from_the_form_that_shows_it() {
        let facts = FabricFacts {
            material: Material::Rubber,
            latex: Latex::Yes,
            usable_share: 0.55,
            limits: PressureLimits { fingers_mmhg: 8.5, ..PressureLimits::default() },
            ..tested().understand(80).expect("sound").facts
        };
        let again = FabricForm::of("Kelp", "bolt 3", &facts).understand(80).expect("sound");
        assert_eq!(again, NewFabric { name: "Kelp".to_owned(), note: "bolt 3".to_owned(), facts });
    }

    #[test]
    fn a_sent_form_keeps_every_input_in_its_place() {
        let body = "name=Kelp&material=knit&latex=no&share=60&limit_thumb=9&direction_1=crosswise\
                    &by_1=hand&mass_1=&before_1=100&loaded_1=115&released_1=101";
        let form = Query::<FabricForm>::from_query(body).expect("a form").into_inner();
        assert_eq!((form.limits[3].as_str(), form.pulls[1].loaded.as_str()), ("9", "115"));
        assert!(form.pulls[0].is_empty());
    }

    #[test]
    fn what_is_impossible_is_refused_at_its_input() {
        let with = |change: &dyn Fn(&mut FabricForm)| {
            let mut form = tested();
            change(&mut form);
            let problem = form.understand(80).expect_err("refused");
            problem.field.clone().unwrap_or_default()
        };
        assert_eq!(with(&|f| f.pulls[0].loaded = "90".to_owned()), "loaded_0");
        assert_eq!(with(&|f| f.pulls[0].mass = "0".to_owned()), "mass_0");
        assert_eq!(with(&|f| f.pulls[0].released = "130".to_owned()), "released_0");
        assert_eq!(with(&|f| f.pulls[0].before = String::new()), "before_0");
        assert_eq!(with(&|f| f.pulls[0].strip = "wide".to_owned()), "strip_0");
        assert_eq!(with(&|f| f.pulls[0].direction = "crosswise".to_owned()), "direction_0");
        assert_eq!(with(&|f| f.pulls[0].by = "crane".to_owned()), "by_0");
        assert_eq!(with(&|f| f.limits[2] = "40".to_owned()), "limit_fingers");
        assert_eq!(with(&|f| f.share = "0".to_owned()), "share");
        assert_eq!(with(&|f| f.name = " ".to_owned()), "name");
        assert_eq!(with(&|f| f.material = "cheese".to_owned()), "material");
    }
}
