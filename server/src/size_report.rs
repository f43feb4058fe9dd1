//! Which few sizes serve a cast: the report behind the page of sizes and its JSON.

use analysis::dimension::Dimension;
use analysis::draft::GloveOptions;
use analysis::hand::Side;
use analysis::model::{HandModel, Population};
use analysis::sizing::assign::{likely_hands, probabilities, spare_pairs};
use analysis::sizing::coverage::coverage;
use analysis::sizing::curve::{Step, curve, knee};
use analysis::sizing::en::{self, EnSizes};
use analysis::sizing::inches::Inch;
use analysis::sizing::misfit::{FitRules, FitTable, Size, Strain, Wearer};
use serde::Serialize;

use crate::person::{Assessed, Person, tenth};

/// Seed of every simulation of the report: the same cast makes the same report.
const SEED: u64 = 7;

/// Understudies expected, as a share of the cast, where none are stated (assumed).
const UNDERSTUDY_SHARE: f64 = 0.1;

/// Fabric gloves go by half inches (trade fact of low grade).
const STEPS_OF_AN_INCH: u8 = 2;

/// What is asked of the report.
#[derive(Debug, Clone, Default)]
pub struct SizeOrder {
    /// Ease and fabric of the gloves.
    pub options: GloveOptions,
    /// How many sizes; where the curve bends, if not stated.
    pub sizes: Option<usize>,
    /// How many people not known yet; a tenth of the cast, if not stated.
    pub understudies: Option<u64>,
}

/// The report.
#[derive(Debug, Serialize)]
pub struct SizeReport {
    /// Performers who count: somebody measured at least one dimension.
    pub counted: usize,
    /// Codes of performers not measured yet.
    pub unmeasured: Vec<String>,
    /// How many sizes are shown.
    pub sizes: usize,
    /// People not known yet for whom spare pairs are cut.
    pub understudies: u64,
    /// Misfit and coverage for every number of sizes.
    pub curve: Vec<CurvePoint>,
    /// The sizes.
    pub chosen: Vec<ChosenSize>,
    /// Who takes which.
    pub performers: Vec<SizedPerformer>,
    /// How many no size fits.
    pub outside: usize,
    /// Share of published adults the sizes would fit.
    pub coverage: Vec<CoveredPopulation>,
    /// The cast in the sizes of EN ISO 21420.
    pub en: Vec<EnRow>,
}

/// What a number of sizes does for the cast.
#[derive(Debug, Serialize)]
pub struct CurvePoint {
    /// How many sizes.
    pub sizes: usize,
    /// Mean misfit.
    pub misfit: f64,
    /// Performers whom one of them fits in every zone.
    pub covered: usize,
    /// The same, percent.
    pub covered_percent: f64,
    /// Whether no other choice of as many sizes has less misfit.
    pub is_proven: bool,
    /// Whether the curve bends here.
    pub is_knee: bool,
}

/// One size: gloves drafted for a performer of the cast.
#[derive(Debug, Serialize)]
pub struct ChosenSize {
    /// A, B, C, by hand girth.
    pub name: String,
    /// Code of the performer whose hands it is drafted for; they can try it on.
    pub drafted_for: String,
    /// Hand girth of the right hand, mm.
    pub girth_mm: f64,
    /// Hand length of the right hand, mm.
    pub length_mm: f64,
    /// In the sizes of EN ISO 21420.
    pub en: String,
    /// By hand girth in both inches, each with its name.
    pub inches: Vec<GloveNumber>,
    /// Performers who take it and whom it fits.
    pub taken: usize,
    /// Spare pairs for understudies.
    pub spare: u64,
    /// Pairs to cut.
    pub cut: u64,
}

/// A glove number with its system.
#[derive(Debug, Serialize)]
pub struct GloveNumber {
    /// Whose inch.
    pub system: &'static str,
    /// The number.
    pub number: f64,
}

/// One performer among the sizes.
#[derive(Debug, Serialize)]
pub struct SizedPerformer {
    /// Code.
    pub code: String,
    /// The size.
    pub size: String,
    /// Misfit in it.
    pub misfit: f64,
    /// Whether it fits in every zone; otherwise gloves are made to measure.
    pub fits: bool,
    /// Where it strains most.
    pub worst: Strain,
    /// Name of that dimension.
    pub worst_name: &'static str,
    /// The same, percent of the room there, without sign.
    pub worst_percent: f64,
    /// Probability of each size, percent, given how well the hands are known.
    pub probabilities_percent: Vec<f64>,
    /// Probability that none fits, percent.
    pub outside_percent: f64,
    /// In the sizes of EN ISO 21420.
    pub en: String,
}

/// A population and how much of it is covered.
#[derive(Debug, Serialize)]
pub struct CoveredPopulation {
    /// Key.
    pub population: String,
    /// Percent.
    pub percent: f64,
    /// Lower end of the simulation's 95 % interval, percent.
    pub low_percent: f64,
    /// Upper end.
    pub high_percent: f64,
}

/// A size of EN ISO 21420 and who takes it, by right hand.
#[derive(Debug, Serialize)]
pub struct EnRow {
    /// By girth and length.
    pub size: String,
    /// Codes.
    pub codes: Vec<String>,
    /// Whether girth and length ask for the same size.
    pub agree: bool,
}

/// Makes the report. `None` when nobody is measured yet.
#[must_use]
pub fn report(model: &HandModel, people: &[Person], order: &SizeOrder) -> Option<SizeReport> {
    let (cast, unmeasured): (Vec<_>, Vec<_>) = people
        .iter()
        .map(|person| (person, person.assess(model)))
        .partition(|(_, assessed)| assessed.trusted.measured() > 0);
    let unmeasured = unmeasured.iter().map(|(person, _)| person.performer.code.clone()).collect();
    let rules = FitRules::of(&order.options);
    let wearers: Vec<Wearer> =
        cast.iter().map(|(_, hands)| Wearer::of(&rules, &hands.filled)).collect();
    let own: Vec<Size> = wearers.iter().map(|wearer| Size::drafted_for(&rules, wearer)).collect();
    let table = FitTable::new(&wearers, &own);
    let steps = curve(&table, SEED);
    let misfits: Vec<f64> = steps.iter().map(|step| step.mean_misfit).collect();
    let bend = knee(&misfits);
    let wanted = order.sizes.unwrap_or(bend + 1).clamp(1, steps.len().max(1));
    let mut at = steps.get(wanted - 1)?.choice.sizes.clone();
    at.sort_by(|a, b| girth(&cast, *a).total_cmp(&girth(&cast, *b)));
    let sizes: Vec<Size> = at.iter().filter_map(|at| own.get(*at).copied()).collect();
    let performers: Vec<SizedPerformer> = cast
        .iter()
        .zip(&wearers)
        .enumerate()
        .filter_map(|(who, ((person, assessed), wearer))| {
            let (slot, fit) = table.best(&at, who)?;
            let population = person.performer.population;
            let seed = SEED + who as u64;
            let likely = likely_hands(model, population, &assessed.trusted, &rules, seed);
            let chances = probabilities(&likely, &sizes);
            let worst = sizes.get(slot)?.worst(wearer);
            Some(SizedPerformer {
                code: person.performer.code.clone(),
                size: letter(slot),
                misfit: thousandth(fit.misfit),
                fits: fit.fits,
                worst,
                worst_name: worst.dimension.name(),
                worst_percent: (worst.strain.abs() * 100.0).round(),
                probabilities_percent: chances.sizes.iter().map(|p| percent(*p)).collect(),
                outside_percent: percent(chances.outside),
                en: en_of(assessed).words(),
            })
        })
        .collect();
    let takers = |slot: usize| {
        let name = letter(slot);
        performers.iter().filter(|performer| performer.fits && performer.size == name).count()
    };
    let taken: Vec<usize> = (0..at.len()).map(takers).collect();
    let expected = (cast.len() as f64 * UNDERSTUDY_SHARE).ceil() as u64;
    let understudies = order.understudies.unwrap_or(expected);
    let spares = spare_pairs(&taken, understudies);
    let chosen = at
        .iter()
        .zip(taken.iter().zip(&spares))
        .enumerate()
        .filter_map(|(slot, (at, (taken, spare)))| {
            let (person, assessed) = cast.get(*at)?;
            Some(chosen_size(slot, person, assessed, *taken, *spare))
        })
        .collect();
    Some(SizeReport {
        counted: cast.len(),
        unmeasured,
        sizes: at.len(),
        understudies,
        curve: steps.iter().enumerate().map(|(i, s)| point(s, cast.len(), i == bend)).collect(),
        chosen,
        outside: performers.iter().filter(|performer| !performer.fits).count(),
        performers,
        coverage: [Population::Women, Population::Men]
            .into_iter()
            .filter_map(|population| coverage(model, population, &rules, &sizes, SEED))
            .map(|found| CoveredPopulation {
                population: found.population.key(),
                percent: percent(found.share),
                low_percent: percent(found.low),
                high_percent: percent(found.high),
            })
            .collect(),
        en: en_rows(&cast),
    })
}

fn girth(cast: &[(&Person, Assessed)], at: usize) -> f64 {
    cast.get(at).map_or(0.0, |(_, assessed)| assessed.hand(Side::Right).mm(Dimension::HandGirth))
}

fn en_of(assessed: &Assessed) -> EnSizes {
    let hand = assessed.hand(Side::Right);
    en::sizes(hand.mm(Dimension::HandGirth), hand.mm(Dimension::HandLength))
}

fn chosen_size(
    slot: usize,
    person: &Person,
    assessed: &Assessed,
    taken: usize,
    spare: u64,
) -> ChosenSize {
    let hand = assessed.hand(Side::Right);
    let girth_mm = hand.mm(Dimension::HandGirth);
    ChosenSize {
        name: letter(slot),
        drafted_for: person.performer.code.clone(),
        girth_mm: tenth(girth_mm),
        length_mm: tenth(hand.mm(Dimension::HandLength)),
        en: en_of(assessed).words(),
        inches: Inch::BOTH
            .iter()
            .map(|inch| GloveNumber {
                system: inch.name(),
                number: inch.glove_number(girth_mm, STEPS_OF_AN_INCH),
            })
            .collect(),
        taken,
        spare,
        cut: taken as u64 + spare,
    }
}

fn point(step: &Step, people: usize, is_knee: bool) -> CurvePoint {
    CurvePoint {
        sizes: step.choice.sizes.len(),
        misfit: thousandth(step.mean_misfit),
        covered: step.covered,
        covered_percent: percent(step.covered as f64 / people.max(1) as f64),
        is_proven: step.choice.is_proven(),
        is_knee,
    }
}

fn en_rows(cast: &[(&Person, Assessed)]) -> Vec<EnRow> {
    let mut rows: Vec<(EnSizes, EnRow)> = Vec::new();
    for (person, assessed) in cast {
        let sizes = en_of(assessed);
        let code = person.performer.code.clone();
        match rows.iter_mut().find(|(known, _)| *known == sizes) {
            Some((_, row)) => row.codes.push(code),
            None => {
                let row = EnRow { size: sizes.words(), codes: vec![code], agree: sizes.agree() };
                rows.push((sizes, row));
            }
        }
    }
    let mut rows: Vec<EnRow> = rows.into_iter().map(|(_, row)| row).collect();
    rows.sort_by(|a, b| b.agree.cmp(&a.agree).then(b.codes.len().cmp(&a.codes.len())));
    rows
}

/// A, B, C and so on.
fn letter(slot: usize) -> String {
    char::from(b'A' + u8::try_from(slot % 26).unwrap_or(0)).to_string()
}

fn percent(share: f64) -> f64 {
    (share * 1000.0).round() / 10.0
}

fn thousandth(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}
