//! Sizes and figures of a cast: what stands behind the pages, their JSON and CSV, and the printed
//! report.

pub mod cast;
pub mod cloth;
pub mod print;
pub mod report;
pub mod rows;

use analysis::draft::GloveOptions;
use analysis::hand::Hands;
use analysis::model::{FilledHands, HandModel, Population};
use analysis::sizing::centre::centred;
use analysis::sizing::choose::Choice;
use analysis::sizing::curve::{Step, curve, knee};
use analysis::sizing::misfit::{FitRules, Size, Wearer};
use analysis::sizing::stock;
use analysis::sizing::table::FitTable;

use crate::person::{Assessed, Person};

/// Seed of every simulation of the reports: the same cast makes the same report.
const SEED: u64 = 7;

/// People drawn to choose stock sizes from (assumed: a page may wait a second).
pub const STOCK_PEOPLE: usize = 300;

/// Whom the sizes are chosen for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum For {
    /// The performers of the production.
    #[default]
    Cast,
    /// Whoever may come of a population.
    Stock(Population),
}

/// What the sizes are drafted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum By {
    /// Somebody's hands, so that a size can be tried on.
    #[default]
    RealHands,
    /// The middle of those who wear a size.
    Centres,
}

/// Somebody known by a few readings of the right hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Quick {
    /// Published people to compare with.
    pub population: Population,
    /// The readings.
    pub hands: Hands,
}

/// What is asked of the sizes.
#[derive(Debug, Clone, Default)]
pub struct SizeOrder {
    /// Ease and fabric of the gloves.
    pub options: GloveOptions,
    /// Whom they are for.
    pub chosen_for: For,
    /// What they are drafted for.
    pub by: By,
    /// How many sizes; where the curve bends, if not stated.
    pub sizes: Option<usize>,
    /// Codes of performers whose gloves are the sizes: nothing is chosen then.
    pub kept: Vec<String>,
    /// How many people not known yet; a tenth of the cast, if not stated.
    pub understudies: Option<u64>,
    /// A population whose coverage is asked for beside the others.
    pub also: Option<Population>,
    /// Somebody whose size is asked for.
    pub quick: Option<Quick>,
}

/// The performers of a production as the reports see them.
#[derive(Debug)]
pub struct Cast<'a> {
    /// Those of whom somebody measured at least one dimension, in the order of the roster.
    pub people: Vec<(&'a Person, Assessed)>,
    /// Codes of the others.
    pub unmeasured: Vec<String>,
}

impl Cast<'_> {
    /// Checks and fills everybody.
    #[must_use]
    pub fn of<'a>(model: &HandModel, people: &'a [Person]) -> Cast<'a> {
        let (people, unmeasured): (Vec<_>, Vec<_>) = people
            .iter()
            .map(|person| (person, person.assess(model)))
            .partition(|(_, assessed)| assessed.trusted.measured() > 0);
        let code = |(person, _): &(&Person, Assessed)| person.performer.code.clone();
        Cast { people, unmeasured: unmeasured.iter().map(code).collect() }
    }

    fn wearers(&self, rules: &FitRules) -> Vec<Wearer> {
        self.people.iter().map(|(_, hands)| Wearer::of(rules, &hands.filled)).collect()
    }

    fn code(&self, who: usize) -> Option<&str> {
        self.people.get(who).map(|(person, _)| person.performer.code.as_str())
    }
}

/// One size that was chosen.
#[derive(Debug, Clone, Copy)]
pub struct Picked {
    /// The size.
    pub size: Size,
    /// The performer whose hands it is drafted for, as a position in the cast.
    pub performer: Option<usize>,
}

/// What a number of sizes does for those they are chosen for.
#[derive(Debug, Clone)]
pub struct Point {
    /// Mean misfit.
    pub mean_misfit: f64,
    /// People whom one of them fits in every zone.
    pub covered: usize,
    /// Whether no other choice of as many has less misfit.
    pub is_proven: bool,
    sizes: Vec<Picked>,
}

/// The sizes chosen, and the curve they stand on.
#[derive(Debug)]
pub struct Chosen {
    /// What decides how a glove fits.
    pub rules: FitRules,
    /// Those they are chosen for.
    pub wearers: Vec<Wearer>,
    /// One point for each number of sizes, from 1.
    pub points: Vec<Point>,
    /// Where the curve of misfit bends.
    pub bend: usize,
    /// The sizes, by hand girth.
    pub sizes: Vec<Picked>,
}

impl Chosen {
    /// Chooses. `None` when there is nobody to choose for.
    #[must_use]
    pub fn of(model: &HandModel, cast: &Cast<'_>, order: &SizeOrder) -> Option<Chosen> {
        let rules = FitRules::of(&order.options);
        let wearers = match order.chosen_for {
            For::Cast => cast.wearers(&rules),
            For::Stock(who) => stock::people(model, who, &rules, STOCK_PEOPLE, SEED),
        };
        let own: Vec<Size> =
            wearers.iter().map(|wearer| Size::drafted_for(&rules, wearer)).collect();
        let table = FitTable::new(&wearers, &own);
        let performer = |at: usize| (order.chosen_for == For::Cast).then_some(at);
        let pick = |at: &usize| {
            let size = *own.get(*at)?;
            Some(Picked { size, performer: performer(*at) })
        };
        let points: Vec<Point> = curve(&table, SEED)
            .into_iter()
            .map(|step| {
                let sizes: Vec<Picked> = step.choice.sizes.iter().filter_map(pick).collect();
                match order.by {
                    By::RealHands => real(&step, sizes),
                    By::Centres => central(&rules, &wearers, &step.choice, &sizes),
                }
            })
            .collect();
        let misfits: Vec<f64> = points.iter().map(|point| point.mean_misfit).collect();
        let bend = knee(&misfits);
        let wanted = order.sizes.unwrap_or(bend + 1).clamp(1, points.len().max(1));
        let mut sizes = points.get(wanted - 1)?.sizes.clone();
        if !order.kept.is_empty() {
            sizes = kept(cast, &rules, &order.kept);
        }
        let girth = |picked: &Picked| rows::girth_and_length(&picked.size).0;
        sizes.sort_by(|a, b| girth(a).total_cmp(&girth(b)));
        Some(Chosen { rules, wearers, points, bend, sizes })
    }

    /// Both hands a size is drafted for, and whom it is for: a performer's own, or the middle of those
    /// who wear it, what it does not hold filled by the model.
    #[must_use]
    pub fn hands(
        &self,
        model: &HandModel,
        cast: &Cast<'_>,
        order: &SizeOrder,
        slot: usize,
    ) -> Option<(FilledHands, Population)> {
        let picked = self.sizes.get(slot)?;
        if let Some((person, assessed)) = picked.performer.and_then(|who| cast.people.get(who)) {
            return Some((assessed.filled.clone(), person.performer.population));
        }
        let population = match order.chosen_for {
            For::Cast => Population::Adults,
            For::Stock(population) => population,
        };
        Some((model.fill(population, &picked.size.hands()), population))
    }

    /// The sizes alone.
    #[must_use]
    pub fn alone(&self) -> Vec<Size> {
        self.sizes.iter().map(|picked| picked.size).collect()
    }
}

fn real(step: &Step, sizes: Vec<Picked>) -> Point {
    Point {
        mean_misfit: step.mean_misfit,
        covered: step.covered,
        is_proven: step.choice.is_proven(),
        sizes,
    }
}

fn central(rules: &FitRules, wearers: &[Wearer], choice: &Choice, sizes: &[Picked]) -> Point {
    let real: Vec<Size> = sizes.iter().map(|picked| picked.size).collect();
    let found = centred(rules, wearers, &real, SEED);
    let fits = |wearer: &&Wearer| found.sizes.iter().any(|size| size.fit(wearer).fits);
    Point {
        mean_misfit: found.total / wearers.len().max(1) as f64,
        covered: wearers.iter().filter(fits).count(),
        // One centre is the least there is; more are searched for.
        is_proven: choice.sizes.len() == 1,
        sizes: found.sizes.into_iter().map(|size| Picked { size, performer: None }).collect(),
    }
}

/// The gloves of these performers as sizes.
fn kept(cast: &Cast<'_>, rules: &FitRules, codes: &[String]) -> Vec<Picked> {
    let people = cast.people.iter().enumerate();
    let asked = people.filter(|(_, (person, _))| codes.contains(&person.performer.code));
    let size = |hands: &Assessed| Size::drafted_for(rules, &Wearer::of(rules, &hands.filled));
    asked.map(|(at, (_, hands))| Picked { size: size(hands), performer: Some(at) }).collect()
}

/// A, B, C and so on.
#[must_use]
pub fn letter(slot: usize) -> String {
    char::from(b'A' + u8::try_from(slot % 26).unwrap_or(0)).to_string()
}

fn percent(share: f64) -> f64 {
    (share * 1000.0).round() / 10.0
}

fn thousandth(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}
