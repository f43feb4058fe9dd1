//! Stretch tests as CSV, one pull a line: what `--fabrics` reads, and the demo's fabrics.

use analysis::fabric::{Direction, FabricFacts, Latex, Load, Material, StretchTest};
use serde::Deserialize;
use thiserror::Error;

/// A fabric of the file.
#[derive(Debug, Clone, PartialEq)]
pub struct FabricRow {
    /// What rosters call it.
    pub key: String,
    /// Name for people.
    pub name: String,
    /// What it is made of, or another remark.
    pub note: String,
    /// Material and stretch tests.
    pub facts: FabricFacts,
}

impl FabricRow {
    /// Whether a roster's word means this fabric.
    #[must_use]
    pub fn is_called(&self, word: &str) -> bool {
        let word = word.to_lowercase();
        word == self.key.to_lowercase() || word == self.name.to_lowercase()
    }
}

/// Why the file cannot be used.
#[derive(Debug, Error)]
pub enum FabricsError {
    /// Not a table with these columns.
    #[error(transparent)]
    Table(#[from] csv::Error),
    /// A fabric's tests are not possible.
    #[error("{0}: {1}")]
    Test(String, analysis::fabric::TestError),
}

#[derive(Deserialize)]
struct Line {
    key: String,
    name: String,
    #[serde(default)]
    composition: String,
    #[serde(default)]
    material: Option<Material>,
    #[serde(default)]
    latex: Option<Latex>,
    direction: Direction,
    #[serde(default)]
    strip_width_mm: Option<f64>,
    /// Empty for a pull by hand.
    #[serde(default)]
    mass_g: Option<f64>,
    before_mm: f64,
    loaded_mm: f64,
    released_mm: f64,
}

impl Line {
    fn test(&self) -> StretchTest {
        StretchTest {
            direction: self.direction,
            load: match self.mass_g {
                Some(mass_g) => {
                    Load::Mass { mass_g, strip_width_mm: self.strip_width_mm.unwrap_or(0.0) }
                }
                None => Load::Hand,
            },
            before_mm: self.before_mm,
            loaded_mm: self.loaded_mm,
            released_mm: self.released_mm,
        }
    }
}

/// Reads fabrics in the order in which they first appear. Columns: `key`, `name`, `direction`
/// (`greatest` or `crosswise`), `before_mm`, `loaded_mm`, `released_mm`; `mass_g` and
/// `strip_width_mm`, or neither for a pull by hand; and, where known, `composition`, `material`
/// (`knit`, `rubber`, `woven`, `leather`) and `latex` (`no`, `yes`, `unknown`).
///
/// # Errors
/// [`FabricsError`] names the line or the fabric.
pub fn read(bytes: &[u8]) -> Result<Vec<FabricRow>, FabricsError> {
    let mut fabrics: Vec<FabricRow> = Vec::new();
    for line in csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(bytes).deserialize() {
        let line: Line = line?;
        let test = line.test();
        match fabrics.iter_mut().find(|fabric| fabric.key == line.key) {
            Some(fabric) => fabric.facts.tests.push(test),
            None => fabrics.push(FabricRow {
                facts: FabricFacts {
                    material: line.material.unwrap_or_default(),
                    latex: line.latex.unwrap_or_default(),
                    tests: vec![test],
                    ..FabricFacts::default()
                },
                key: line.key,
                name: line.name,
                note: line.composition,
            }),
        }
    }
    for fabric in &fabrics {
        fabric.facts.behaviour().map_err(|error| FabricsError::Test(fabric.name.clone(), error))?;
    }
    Ok(fabrics)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pulls_of_one_fabric_are_gathered_and_a_missing_mass_is_a_pull_by_hand() {
        let csv = "key,name,material,latex,direction,mass_g,strip_width_mm,before_mm,loaded_mm,released_mm\n\
                   K,Kelp,,no,greatest,500,50,100,128,102\n\
                   S,Sail,woven,,greatest,,,100,101,100\n\
                   K,Kelp,,,crosswise,500,50,100,115,102\n";
        let fabrics = read(csv.as_bytes()).expect("a table");
        assert_eq!(fabrics.len(), 2);
        assert_eq!(fabrics[0].facts.tests.len(), 2);
        assert_eq!(fabrics[0].facts.latex, Latex::No);
        assert_eq!(fabrics[1].facts.material, Material::Woven);
        assert_eq!(fabrics[1].facts.tests[0].load, Load::Hand);
        assert!(fabrics[0].is_called("k") && fabrics[0].is_called("KELP"));
    }

    #[test]
    fn an_impossible_pull_is_named_with_its_fabric() {
        let csv = "key,name,direction,mass_g,strip_width_mm,before_mm,loaded_mm,released_mm\n\
                   K,Kelp,greatest,0,50,100,128,102\n";
        let error = read(csv.as_bytes()).expect_err("no mass");
        assert!(error.to_string().starts_with("Kelp: A mass of 0 g"), "{error}");
        assert!(read(b"key,name\nK,Kelp\n").is_err());
    }
}
