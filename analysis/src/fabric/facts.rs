//! What a workshop knows of one fabric: what it is, how it was pulled, and how hard it may press.

use serde::{Deserialize, Serialize};

use crate::model::HandEstimate;

use super::{
    Behaviour, Direction, Ease, PressureLimits, StretchTest, TensionCurve, TestError, USABLE_SHARE,
};

/// What the fabric is, as far as a glove of it is drafted otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Material {
    /// A stretch knit: linear tension.
    #[default]
    Knit,
    /// Rubber sheet: Wood's law.
    Rubber,
    /// Woven cloth that does not stretch.
    Woven,
    /// Leather. It gives with wear, but it is drafted as cloth that does not stretch.
    Leather,
}

impl Material {
    /// Every material.
    pub const ALL: [Material; 4] =
        [Material::Knit, Material::Rubber, Material::Woven, Material::Leather];

    /// Whether a glove of it is smaller than the hand.
    #[must_use]
    pub fn stretches(self) -> bool {
        matches!(self, Material::Knit | Material::Rubber)
    }

    fn curve(self, points: &[(f64, f64)]) -> Option<TensionCurve> {
        match self {
            Material::Rubber => TensionCurve::rubber(points),
            _ => TensionCurve::linear(points),
        }
    }
}

/// Whether natural rubber latex is in it. It sensitises 1 to 6 % of the public (NIOSH 1997).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Latex {
    /// Nobody asked yet: ask whoever sells it.
    #[default]
    Unknown,
    /// None.
    No,
    /// Some.
    Yes,
}

/// Everything about a fabric that a draft follows from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct FabricFacts {
    /// What it is.
    pub material: Material,
    /// Whether latex is in it.
    pub latex: Latex,
    /// Pulls in one or both directions, each under one or several loads.
    pub tests: Vec<StretchTest>,
    /// Share of the greatest extension that is used.
    pub usable_share: f64,
    /// How hard it may press.
    pub limits: PressureLimits,
}

impl Default for FabricFacts {
    fn default() -> Self {
        FabricFacts {
            material: Material::default(),
            latex: Latex::default(),
            tests: Vec::new(),
            usable_share: USABLE_SHARE,
            limits: PressureLimits::default(),
        }
    }
}

impl FabricFacts {
    /// How it behaves in a glove; `None` for a stretch fabric nobody has pulled yet.
    ///
    /// # Errors
    /// [`TestError`] when a pull is impossible, or none goes along the greatest stretch.
    pub fn behaviour(&self) -> Result<Option<Behaviour>, TestError> {
        for test in &self.tests {
            test.check()?;
        }
        if self.tests.is_empty() && self.material.stretches() {
            return Ok(None);
        }
        let along =
            |direction: Direction| self.tests.iter().filter(move |t| t.direction == direction);
        let greatest = |direction| along(direction).map(StretchTest::extension).reduce(f64::max);
        let across = match greatest(Direction::Greatest) {
            None if self.material.stretches() => return Err(TestError::Missing),
            found => found.unwrap_or(0.0),
        };
        let points: Vec<(f64, f64)> = along(Direction::Greatest)
            .filter_map(|test| Some((test.extension(), test.tension_n_per_m()?)))
            .collect();
        Ok(Some(Behaviour {
            curve: self.material.curve(&points),
            usable_across: self.usable_share * across,
            usable_along: self.usable_share * greatest(Direction::Crosswise).unwrap_or(0.0),
            left: self.tests.iter().map(StretchTest::left).fold(0.0, f64::max),
        }))
    }

    /// Girth reduction for one hand; `None` as long as [`FabricFacts::behaviour`] knows nothing.
    ///
    /// # Errors
    /// As [`FabricFacts::behaviour`].
    pub fn ease(&self, hand: &HandEstimate) -> Result<Option<Ease>, TestError> {
        let Some(behaviour) = self.behaviour()? else { return Ok(None) };
        Ok(Some(if self.material.stretches() {
            behaviour.ease(hand, &self.limits)
        } else {
            Ease::rigid(hand, &behaviour, &self.limits)
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fabric::Load;

    fn pull(direction: Direction, loaded_mm: f64, released_mm: f64, mass_g: f64) -> StretchTest {
        StretchTest {
            direction,
            load: Load::Mass { mass_g, strip_width_mm: 50.0 },
            before_mm: 100.0,
            loaded_mm,
            released_mm,
        }
    }

    fn knit(tests: &[StretchTest]) -> FabricFacts {
        FabricFacts { tests: tests.to_vec(), ..FabricFacts::default() }
    }

    /// 9.81 m / w by hand: 200 g and 400 g on 50 mm are 39.24 and 78.48 N/m.
    #[test]
    fn several_pulls_make_one_curve_and_a_tired_cloth_is_known() {
        let d = Direction::Greatest;
        let pulls = [pull(d, 120.0, 101.0, 200.0), pull(d, 140.0, 107.0, 400.0)];
        let fabric = knit(&pulls).behaviour().expect("two pulls").expect("pulled");
        let curve = fabric.curve.expect("masses");
        assert!((curve.tension_n_per_m(0.4) - 78.48).abs() < 0.01);
        assert!((fabric.usable_across - 0.24).abs() < 1e-9);
        assert!(fabric.is_tired());
        assert!(fabric.usable_along.abs() < 1e-12);
    }

    #[test]
    fn the_two_directions_are_kept_apart_and_the_share_is_the_workshops() {
        let pulls = [
            pull(Direction::Greatest, 150.0, 100.0, 300.0),
            pull(Direction::Crosswise, 120.0, 100.0, 300.0),
        ];
        let facts = FabricFacts { usable_share: 0.5, ..knit(&pulls) };
        let fabric = facts.behaviour().expect("sound").expect("pulled");
        assert!((fabric.usable_across - 0.25).abs() < 1e-9);
        assert!((fabric.usable_along - 0.10).abs() < 1e-9);
        let curve = fabric.curve.expect("a mass");
        assert!(
            (curve.tension_n_per_m(0.5) - 58.86).abs() < 0.01,
            "the crosswise pull is no point"
        );
    }

    #[test]
    fn pulled_by_hand_the_tension_stays_unknown() {
        let by_hand =
            StretchTest { load: Load::Hand, ..pull(Direction::Greatest, 150.0, 100.0, 1.0) };
        let fabric = knit(&[by_hand]).behaviour().expect("one pull").expect("pulled");
        assert_eq!(fabric.curve, None);
        assert!((fabric.usable_across - 0.30).abs() < 1e-9);
    }

    #[test]
    fn a_knit_needs_its_greatest_stretch_and_leather_needs_no_pull() {
        assert_eq!(knit(&[]).behaviour(), Ok(None));
        let crosswise = knit(&[pull(Direction::Crosswise, 120.0, 100.0, 300.0)]);
        assert_eq!(crosswise.behaviour(), Err(TestError::Missing));
        for material in [Material::Woven, Material::Leather] {
            let facts = FabricFacts { material, ..FabricFacts::default() };
            let fabric = facts.behaviour().expect("no test").expect("known without a pull");
            assert_eq!((fabric.usable_across, fabric.usable_along), (0.0, 0.0));
        }
    }

    #[test]
    fn facts_come_back_from_text_and_nothing_is_the_default() {
        let facts = FabricFacts {
            material: Material::Rubber,
            latex: Latex::Yes,
            ..knit(&[pull(Direction::Greatest, 150.0, 100.0, 300.0)])
        };
        let text = serde_json::to_string(&facts).expect("JSON");
        assert_eq!(serde_json::from_str::<FabricFacts>(&text).expect("readable"), facts);
        assert_eq!(
            serde_json::from_str::<FabricFacts>("{}").expect("readable"),
            FabricFacts::default()
        );
    }
}
