//! Options of a draft as people type them, the same in forms, addresses, commands and rosters:
//! percent and millimetres as text, choices by their key. An empty text means nothing was chosen.

use analysis::draft::{Bottom, Cuff, GloveOptions, OptionError};
use analysis::fabric::Behaviour;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};

use crate::error::Problem;
use crate::typed::{self, needed, number, plain};

/// Length of a gauntlet and height of a long glove where none is typed, mm (assumed: to a hand's
/// breadth above the wrist, and to below the elbow of most adults).
const GAUNTLET_LENGTH_MM: f64 = 100.0;
const HEIGHT_MM: f64 = 220.0;

/// Opening of a gauntlet over the girth of the hand where none is typed (assumed: it clears a
/// sleeve).
const OPENING_TO_HAND_GIRTH: f64 = 1.5;

/// Largest difference of two hands that one master may serve, percent (assumed: beyond it one of
/// the gloves cannot fit).
const TOLERANCE_PERCENT: std::ops::RangeInclusive<f64> = 0.0..=10.0;

macro_rules! draft_form {
    ($($(#[doc = $doc:literal])+ $name:ident;)+) => {
        /// The options of a draft as typed.
        #[derive(
            Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, clap::Args, ToSchema, IntoParams,
        )]
        #[serde(default)]
        #[command(next_help_heading = "Options of the drafts")]
        pub struct DraftForm {
            $(
                $(#[doc = $doc])+
                #[arg(
                    long,
                    default_value = "",
                    hide_default_value = true,
                    allow_hyphen_values = true
                )]
                pub $name: String,
            )+
        }

        impl DraftForm {
            /// Names of the inputs.
            pub const FIELDS: &[&str] = &[$(stringify!($name)),+];

            /// This form, and what `below` has where nothing was chosen.
            #[must_use]
            pub fn over(self, below: &DraftForm) -> DraftForm {
                let or = |own: String, below: &String| {
                    if own.trim().is_empty() { below.clone() } else { own }
                };
                DraftForm { $($name: or(self.$name, &below.$name)),+ }
            }

            /// What this form has that `same` has not.
            #[must_use]
            pub fn apart_from(self, same: &DraftForm) -> DraftForm {
                let unless = |own: String, same: &String| {
                    if own.trim() == same { String::new() } else { own.trim().to_owned() }
                };
                DraftForm { $($name: unless(self.$name, &same.$name)),+ }
            }
        }
    };
}

draft_form! {
    /// Construction: two_layer or fourchette
    construction;
    /// Fourchettes: pairs, pairs_with_quirks or forks
    fourchettes;
    /// Fingers: full, open_tips, to_end_joint or to_middle_joint
    finish;
    /// Thumb hole, 0 (shallow) to 100 (full circle) percent
    curve;
    /// Beyond the wrist: wrist, gauntlet or long
    cuff;
    /// Length below the wrist of a wrist-length glove, mm
    below;
    /// Length of a gauntlet below the wrist, mm
    gauntlet_length;
    /// Girth of a gauntlet's opening, mm
    gauntlet_opening;
    /// Height of a long glove on the forearm, from the wrist, mm
    height;
    /// Girth of the forearm at that height, mm
    forearm;
    /// Girth of the forearm half way up, mm
    forearm_half;
    /// Lower edge: hem or sleeve
    bottom;
    /// Flat width of the sleeve the glove is joined to, mm
    sleeve;
    /// Hem, mm
    hem;
    /// Wrist: closed, casings, casings_with_elastic or casings_with_loop
    closure;
    /// Girth reduction of the palm, percent; negative adds ease
    palm;
    /// Girth reduction of the wrist, percent
    wrist;
    /// Girth reduction of the fingers, percent
    fingers;
    /// Girth reduction of the thumb, percent
    thumb;
    /// How far the fabric may stretch, percent
    usable;
    /// Seam allowance, mm
    allowance;
    /// Stitches across the crotch between two fingers
    stitches;
    /// Length of a stitch, mm
    stitch;
    /// Hands: each (a draft for each hand) or master (one for both where they are alike)
    hands;
    /// Largest difference of two hands that one master serves, percent
    tolerance;
}

/// What is drafted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Options of the draft.
    pub options: GloveOptions,
    /// Largest difference, a share, up to which both gloves come from one master.
    pub master: Option<f64>,
}

impl DraftForm {
    /// The form as it shows these options on a hand of this girth.
    #[must_use]
    pub fn of(options: &GloveOptions, hand_girth_mm: f64) -> DraftForm {
        let percent = |share: f64| plain(share * 100.0);
        let opening = (hand_girth_mm * OPENING_TO_HAND_GIRTH / 5.0).round() * 5.0;
        DraftForm {
            construction: key(&options.construction),
            fourchettes: key(&options.fourchettes),
            finish: key(&options.finish),
            curve: percent(options.thumb_curve),
            cuff: "wrist".to_owned(),
            below: plain(options.below_wrist_mm),
            gauntlet_length: plain(GAUNTLET_LENGTH_MM),
            gauntlet_opening: plain(opening),
            height: plain(HEIGHT_MM),
            bottom: "hem".to_owned(),
            hem: plain(options.hem_mm),
            closure: key(&options.closure),
            palm: percent(options.reduction.palm),
            wrist: percent(options.reduction.wrist),
            fingers: percent(options.reduction.fingers),
            thumb: percent(options.reduction.thumb),
            usable: percent(options.usable_across()),
            allowance: plain(options.seam_allowance_mm),
            stitches: options.crotch_stitches.to_string(),
            stitch: plain(options.stitch_length_mm),
            hands: "each".to_owned(),
            tolerance: percent(analysis::draft::MASTER_TOLERANCE),
            ..DraftForm::default()
        }
    }

    /// The form for everybody: what follows from each one's fabric and hands stays empty.
    #[must_use]
    pub fn of_the_house() -> DraftForm {
        let blank = String::new;
        DraftForm {
            gauntlet_opening: blank(),
            palm: blank(),
            wrist: blank(),
            fingers: blank(),
            thumb: blank(),
            usable: blank(),
            ..DraftForm::of(&GloveOptions::default(), 0.0)
        }
    }

    /// Choices that were kept as text; none where the text is empty.
    #[must_use]
    pub fn kept(text: &str) -> DraftForm {
        serde_json::from_str(text).unwrap_or_default()
    }

    /// The choices as text to keep; empty when there are none.
    #[must_use]
    pub fn to_keep(&self) -> String {
        let mut fields = serde_json::to_value(self).unwrap_or_default();
        if let Value::Object(fields) = &mut fields {
            fields.retain(|_, text| text.as_str().is_some_and(|text| !text.trim().is_empty()));
        }
        if *self == DraftForm::default() { String::new() } else { fields.to_string() }
    }

    /// What is drafted: these choices, and `base` where nothing was chosen. A text that only repeats
    /// what `shown` shows of the base chooses nothing either, so that rounding changes no draft.
    ///
    /// # Errors
    /// A refusal at the first input that cannot be used.
    pub fn wanted(&self, base: GloveOptions, shown: &DraftForm) -> Result<Wanted, Problem> {
        let form = self.clone().over(shown);
        let mut options = base;
        let set = |field: &str, text: &str, same: &str, scale: f64, value: &mut f64| {
            let typed = if text.trim() == same { None } else { number(field, text)? };
            if let Some(typed) = typed {
                *value = typed / scale;
            }
            Ok::<bool, Problem>(typed.is_some())
        };
        let reduction = &mut options.reduction;
        set("palm", &form.palm, &shown.palm, 100.0, &mut reduction.palm)?;
        set("wrist", &form.wrist, &shown.wrist, 100.0, &mut reduction.wrist)?;
        set("fingers", &form.fingers, &shown.fingers, 100.0, &mut reduction.fingers)?;
        set("thumb", &form.thumb, &shown.thumb, 100.0, &mut reduction.thumb)?;
        set("curve", &form.curve, &shown.curve, 100.0, &mut options.thumb_curve)?;
        set("allowance", &form.allowance, &shown.allowance, 1.0, &mut options.seam_allowance_mm)?;
        set("below", &form.below, &shown.below, 1.0, &mut options.below_wrist_mm)?;
        set("hem", &form.hem, &shown.hem, 1.0, &mut options.hem_mm)?;
        set("stitch", &form.stitch, &shown.stitch, 1.0, &mut options.stitch_length_mm)?;
        let mut usable = options.usable_across();
        if set("usable", &form.usable, &shown.usable, 100.0, &mut usable)? {
            options.usable_extension = usable;
            options.fabric = options.fabric.map(|f| Behaviour { usable_across: usable, ..f });
        }
        options.crotch_stitches = form
            .stitches
            .trim()
            .parse()
            .map_err(|_| Problem::at("stitches", "option_not_whole"))?;
        options.construction = chosen("construction", &form.construction)?;
        options.fourchettes = chosen("fourchettes", &form.fourchettes)?;
        options.finish = chosen("finish", &form.finish)?;
        options.closure = chosen("closure", &form.closure)?;
        options.cuff = form.cuff()?;
        options.bottom = match form.bottom.trim() {
            "sleeve" => Bottom::Sleeve { flat_width_mm: needed("sleeve", &form.sleeve)? },
            "hem" => Bottom::Hem,
            _ => return Err(unknown("bottom")),
        };
        options.check().map_err(out_of_bounds)?;
        Ok(Wanted { options, master: form.master()? })
    }

    fn cuff(&self) -> Result<Cuff, Problem> {
        match self.cuff.trim() {
            "wrist" => Ok(Cuff::Wrist),
            "gauntlet" => Ok(Cuff::Gauntlet {
                length_mm: needed("gauntlet_length", &self.gauntlet_length)?,
                opening_girth_mm: needed("gauntlet_opening", &self.gauntlet_opening)?,
            }),
            "long" => Ok(Cuff::Long {
                height_mm: needed("height", &self.height)?,
                girth_mm: needed("forearm", &self.forearm)?,
                half_way_girth_mm: number("forearm_half", &self.forearm_half)?,
            }),
            _ => Err(unknown("cuff")),
        }
    }

    fn master(&self) -> Result<Option<f64>, Problem> {
        match self.hands.trim() {
            "each" => Ok(None),
            "master" => {
                let percent = needed("tolerance", &self.tolerance)?;
                if TOLERANCE_PERCENT.contains(&percent) {
                    return Ok(Some(percent / 100.0));
                }
                let (low, high) = (TOLERANCE_PERCENT.start(), TOLERANCE_PERCENT.end());
                Err(typed::out_of_bounds("tolerance", percent, (*low, *high)))
            }
            _ => Err(unknown("hands")),
        }
    }
}

/// The problem of an option out of its bounds, at its input.
#[must_use]
pub fn out_of_bounds(error: OptionError) -> Problem {
    typed::out_of_bounds(error.option, error.value, (error.low, error.high))
}

/// The key an option is stored and sent by.
fn key(option: &impl Serialize) -> String {
    let value = serde_json::to_value(option).unwrap_or_default();
    value.as_str().unwrap_or_default().to_owned()
}

fn unknown(field: &str) -> Problem {
    Problem::at(field, "not_on_the_list")
}

/// The option with this key.
fn chosen<T: DeserializeOwned>(field: &str, key: &str) -> Result<T, Problem> {
    serde_json::from_value(Value::from(key.trim())).map_err(|_| unknown(field))
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::draft::{Closure, Construction, Finish, Fourchettes, GirthReduction};
    use analysis::fabric::TensionCurve;

    fn odd() -> GloveOptions {
        // Figures that no form can show to the last digit.
        GloveOptions {
            reduction: GirthReduction { palm: 0.1 / 3.0, wrist: 0.07, fingers: 0.05, thumb: 0.05 },
            fabric: Some(Behaviour {
                curve: Some(TensionCurve::Linear { stiffness_n_per_m: 188.0 }),
                usable_across: 0.6 * 0.37,
                usable_along: 0.2,
                left: 0.01,
            }),
            ..GloveOptions::default()
        }
    }

    fn wanted(form: &DraftForm) -> Result<Wanted, Problem> {
        form.wanted(odd(), &DraftForm::of(&odd(), 190.0))
    }

    fn with(inputs: &[(&str, &str)]) -> DraftForm {
        let fields = inputs.iter().map(|(k, v)| ((*k).to_owned(), Value::from(*v))).collect();
        serde_json::from_value(Value::Object(fields)).expect("inputs of the form")
    }

    #[test]
    fn nothing_chosen_and_the_form_as_shown_both_lead_to_the_base_itself() {
        let shown = DraftForm::of(&odd(), 190.0);
        for form in [DraftForm::default(), shown.clone()] {
            let wanted = wanted(&form).expect("sound");
            assert_eq!(wanted, Wanted { options: odd(), master: None });
        }
        assert_eq!(shown.clone().apart_from(&shown), DraftForm::default());
    }

    #[test]
    fn every_option_is_reached_by_its_input() {
        let form = with(&[
            ("construction", "fourchette"),
            ("fourchettes", "forks"),
            ("finish", "to_end_joint"),
            ("curve", "40"),
            ("cuff", "gauntlet"),
            ("gauntlet_length", "120"),
            ("gauntlet_opening", "310"),
            ("bottom", "sleeve"),
            ("sleeve", "150"),
            ("closure", "casings_with_loop"),
            ("palm", "7,5 %"),
            ("usable", "30"),
            ("stitches", "4"),
            ("stitch", "1.5"),
            ("allowance", "2"),
            ("hem", "9"),
            ("hands", "master"),
            ("tolerance", "2"),
        ]);
        let Wanted { options, master } = wanted(&form).expect("sound");
        assert_eq!(options.construction, Construction::Fourchette);
        assert_eq!(options.fourchettes, Fourchettes::Forks);
        assert_eq!(options.finish, Finish::ToEndJoint);
        assert!((options.thumb_curve - 0.4).abs() < 1e-12);
        let gauntlet = Cuff::Gauntlet { length_mm: 120.0, opening_girth_mm: 310.0 };
        assert_eq!(options.cuff, gauntlet);
        assert_eq!(options.bottom, Bottom::Sleeve { flat_width_mm: 150.0 });
        assert_eq!(options.closure, Closure::CasingsWithLoop);
        assert!((options.reduction.palm - 0.075).abs() < 1e-12);
        assert!((options.usable_across() - 0.30).abs() < 1e-12);
        assert_eq!((options.crotch_stitches, options.stitch_length_mm), (4, 1.5));
        assert_eq!((options.seam_allowance_mm, options.hem_mm), (2.0, 9.0));
        assert_eq!(master, Some(0.02));
        let long = with(&[("cuff", "long"), ("height", "250"), ("forearm", "265")]);
        let cuff = wanted(&long).expect("sound").options.cuff;
        let expected = Cuff::Long { height_mm: 250.0, girth_mm: 265.0, half_way_girth_mm: None };
        assert_eq!(cuff, expected);
    }

    #[test]
    fn what_cannot_be_used_is_refused_at_its_input() {
        for (inputs, field) in [
            (&[("finish", "mitten")][..], "finish"),
            (&[("cuff", "cape")], "cuff"),
            (&[("bottom", "fringe")], "bottom"),
            (&[("hands", "three")], "hands"),
            (&[("cuff", "long")], "forearm"),
            (&[("cuff", "long"), ("forearm", "9")], "forearm"),
            (&[("cuff", "gauntlet"), ("gauntlet_length", "900")], "gauntlet_length"),
            (&[("bottom", "sleeve")], "sleeve"),
            (&[("bottom", "sleeve"), ("sleeve", "wide")], "sleeve"),
            (&[("palm", "90")], "palm"),
            (&[("thumb", "ten")], "thumb"),
            (&[("stitches", "2.5")], "stitches"),
            (&[("stitches", "9")], "stitches"),
            (&[("hem", "80")], "hem"),
            (&[("curve", "-1")], "curve"),
            (&[("hands", "master"), ("tolerance", "50")], "tolerance"),
            (&[("closure", "casings"), ("below", "5")], "below"),
        ] {
            let problem = wanted(&with(inputs)).expect_err(field);
            assert_eq!(problem.field.as_deref(), Some(field), "{inputs:?}");
            assert!(DraftForm::FIELDS.contains(&field));
        }
    }

    #[test]
    fn kept_choices_lie_under_those_just_made() {
        let kept = with(&[("cuff", "long"), ("forearm", "265")]);
        let again = DraftForm::kept(&kept.to_keep());
        assert_eq!(again, kept);
        assert_eq!(DraftForm::default().to_keep(), "");
        assert_eq!(DraftForm::kept(""), DraftForm::default());
        let form = with(&[("cuff", "wrist"), ("palm", "8")]).over(&kept);
        assert_eq!((form.cuff.as_str(), form.forearm.as_str()), ("wrist", "265"));
        assert_eq!(form.apart_from(&kept), with(&[("cuff", "wrist"), ("palm", "8")]));
    }

    #[test]
    fn the_house_chooses_nothing_that_follows_from_a_fabric_or_a_hand() {
        let house = DraftForm::of_the_house();
        let empty = [&house.palm, &house.wrist, &house.fingers, &house.thumb, &house.usable];
        assert!(empty.iter().all(|text| text.is_empty()) && house.gauntlet_opening.is_empty());
        assert_eq!(wanted(&house).expect("sound").options, odd());
    }
}
