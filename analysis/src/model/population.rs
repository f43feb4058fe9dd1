//! Which published people a performer is compared with.

use serde::{Deserialize, Serialize};

use crate::reference::Sex;
use crate::reference::children::{OLDEST, YOUNGEST};

/// Which published people a performer is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Population {
    /// Adult women.
    Women,
    /// Adult men.
    Men,
    /// Adults, sex not specified: a mixture whose weights follow the readings.
    Adults,
    /// Children and youths of 3 to 17 years; without a sex, a mixture as for adults.
    Child {
        /// Completed years.
        age_years: u8,
        /// Sex, where stated.
        sex: Option<Sex>,
    },
}

impl Population {
    /// Every population, adults first.
    #[must_use]
    pub fn all() -> Vec<Population> {
        let mut all = vec![Population::Women, Population::Men, Population::Adults];
        for sex in [Some(Sex::Female), Some(Sex::Male), None] {
            all.extend((YOUNGEST..=OLDEST).map(|age_years| Population::Child { age_years, sex }));
        }
        all
    }

    /// Stable key, as stored and exchanged: `women`, `men`, `adults`, `girl_9`, `boy_9`, `child_9`.
    #[must_use]
    pub fn key(self) -> String {
        match self {
            Population::Women => "women".into(),
            Population::Men => "men".into(),
            Population::Adults => "adults".into(),
            Population::Child { age_years, sex } => {
                let who = match sex {
                    Some(Sex::Female) => "girl",
                    Some(Sex::Male) => "boy",
                    None => "child",
                };
                format!("{who}_{age_years}")
            }
        }
    }

    /// The population with this key; `None` for an unknown key or an age without figures.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Population> {
        match key {
            "women" => return Some(Population::Women),
            "men" => return Some(Population::Men),
            "adults" => return Some(Population::Adults),
            _ => {}
        }
        let (who, age) = key.split_once('_')?;
        let sex = match who {
            "girl" => Some(Sex::Female),
            "boy" => Some(Sex::Male),
            "child" => None,
            _ => return None,
        };
        let age_years = age.parse().ok().filter(|age| (YOUNGEST..=OLDEST).contains(age))?;
        let population = Population::Child { age_years, sex };
        (population.key() == key).then_some(population)
    }

    /// Name for people.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Population::Women => "Women".into(),
            Population::Men => "Men".into(),
            Population::Adults => "Adults".into(),
            Population::Child { age_years, sex } => {
                let who = match sex {
                    Some(Sex::Female) => "Girl",
                    Some(Sex::Male) => "Boy",
                    None => "Child",
                };
                format!("{who} of {age_years}")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_lead_back_to_their_population_and_nothing_else_does() {
        for population in Population::all() {
            assert_eq!(Population::from_key(&population.key()), Some(population));
        }
        for key in ["", "girl", "girl_2", "boy_18", "child_", "child_09", "woman", "girl_999"] {
            assert_eq!(Population::from_key(key), None, "{key}");
        }
    }
}
