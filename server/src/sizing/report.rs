//! Which few sizes serve a cast, or whoever may come: the report behind the page of sizes, its
//! JSON and its print.

use analysis::check::check_hands;
use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::{HandModel, Population};
use analysis::sizing::assign::{likely_hands, probabilities, spare_pairs};
use analysis::sizing::coverage::coverage;
use analysis::sizing::en;
use analysis::sizing::misfit::{FitRules, Size};
use analysis::sizing::table::FitTable;

use super::cloth::{cloth, pair_cm2, pairs};
use super::rows::{
    ChosenSize, CoveredPopulation, CurvePoint, En, EnRow, QuickAnswer, SizeReport, SizedPerformer,
    dimensions_of, en_of, girth_and_length, glove_numbers,
};
use super::{By, Cast, Chosen, For, Point, Quick, SEED, SizeOrder, letter, percent, thousandth};
use crate::person::{Assessed, Person, tenth};

/// People not known yet, as a share of the cast, where none are stated (assumed).
const UNDERSTUDY_SHARE: f64 = 0.1;

/// People stock is cut for, where none are stated (assumed: a middling cast).
const STOCK_FOR: u64 = 24;

/// Populations of the cast whose coverage is worked out, beside women and men.
const MOST_OTHERS: usize = 4;

/// Makes the report. `None` when there is nobody to choose for.
#[must_use]
pub fn report(model: &HandModel, people: &[Person], order: &SizeOrder) -> Option<SizeReport> {
    let cast = Cast::of(model, people);
    let chosen = Chosen::of(model, &cast, order)?;
    let sizes = chosen.alone();
    let performers = performers(model, &cast, &chosen.rules, &sizes);
    let taken: Vec<usize> = (0..sizes.len())
        .map(letter)
        .map(|name| performers.iter().filter(|one| one.fits && one.size == name).count())
        .collect();
    let shares = shares(&chosen, &sizes);
    let people = chosen.wearers.len();
    let expected = match order.chosen_for {
        For::Cast => (people as f64 * UNDERSTUDY_SHARE).ceil() as u64,
        For::Stock(_) => STOCK_FOR,
    };
    let understudies = order.understudies.unwrap_or(expected);
    let spares = spare_pairs(&shares, understudies);
    let drafts = pairs(model, &cast, &chosen, order);
    // Stock is cut for those who may come; the cast, if there is one, takes from it.
    let known: Vec<usize> = match order.chosen_for {
        For::Cast => taken.clone(),
        For::Stock(_) => vec![0; sizes.len()],
    };
    let cut: Vec<u64> = known.iter().zip(&spares).map(|(own, spare)| *own as u64 + spare).collect();
    let rows = chosen.sizes.iter().enumerate().map(|(slot, picked)| {
        let (girth_mm, length_mm) = girth_and_length(&picked.size);
        let at = |list: &[usize]| list.get(slot).copied().unwrap_or_default();
        ChosenSize {
            name: letter(slot),
            drafted_for: picked.performer.and_then(|who| cast.code(who)).map(str::to_owned),
            girth_mm: tenth(girth_mm),
            length_mm: tenth(length_mm),
            en: en_of(girth_mm, length_mm),
            inches: glove_numbers(girth_mm),
            taken: at(&taken),
            share_percent: percent(at(&shares) as f64 / people.max(1) as f64),
            spare: spares.get(slot).copied().unwrap_or_default(),
            cut: cut.get(slot).copied().unwrap_or_default(),
            pair_cm2: drafts.get(slot).and_then(Option::as_ref).map(pair_cm2),
            hands: dimensions_of(&picked.size),
        }
    });
    let points = chosen.points.iter().enumerate();
    Some(SizeReport {
        counted: cast.people.len(),
        unmeasured: cast.unmeasured.clone(),
        chosen_for: match order.chosen_for {
            For::Cast => "cast".to_owned(),
            For::Stock(population) => population.key(),
        },
        people,
        by: match order.by {
            By::RealHands => "real_hands",
            By::Centres => "centres",
        },
        sizes: sizes.len(),
        understudies,
        curve: points.map(|(at, p)| point(at + 1, p, people, at == chosen.bend)).collect(),
        chosen: rows.collect(),
        cloth: cloth(&drafts, &cut),
        outside: performers.iter().filter(|performer| !performer.fits).count(),
        performers,
        coverage: covered(model, &cast, &chosen.rules, &sizes, order.also),
        quick: order.quick.as_ref().map(|quick| answer(model, quick, &chosen.rules, &sizes)),
        en: en_rows(&cast),
    })
}

/// How many of those the sizes are chosen for take each and are fitted by it.
fn shares(chosen: &Chosen, sizes: &[Size]) -> Vec<usize> {
    let table = FitTable::new(&chosen.wearers, sizes);
    let all: Vec<usize> = (0..sizes.len()).collect();
    let mut shares = vec![0; sizes.len()];
    for who in 0..chosen.wearers.len() {
        let best = table.best(&all, who).filter(|(_, fit)| fit.fits);
        if let Some(count) = best.and_then(|(slot, _)| shares.get_mut(slot)) {
            *count += 1;
        }
    }
    shares
}

fn performers(
    model: &HandModel,
    cast: &Cast<'_>,
    rules: &FitRules,
    sizes: &[Size],
) -> Vec<SizedPerformer> {
    let wearers = cast.wearers(rules);
    let table = FitTable::new(&wearers, sizes);
    let all: Vec<usize> = (0..sizes.len()).collect();
    let people = cast.people.iter().zip(&wearers).enumerate();
    people
        .filter_map(|(who, ((person, assessed), wearer))| {
            let (slot, fit) = table.best(&all, who)?;
            let population = person.performer.population;
            let seed = SEED + who as u64;
            let likely = likely_hands(model, population, &assessed.trusted, rules, seed);
            let chances = probabilities(&likely, sizes);
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
                en: en_of_hand(assessed),
            })
        })
        .collect()
}

fn en_of_hand(assessed: &Assessed) -> En {
    let hand = assessed.hand(Side::Right);
    en_of(hand.mm(Dimension::HandGirth), hand.mm(Dimension::HandLength))
}

fn answer(model: &HandModel, quick: &Quick, rules: &FitRules, sizes: &[Size]) -> QuickAnswer {
    let likely = likely_hands(model, quick.population, &quick.hands, rules, SEED);
    let chances = probabilities(&likely, sizes);
    let best = chances.sizes.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
    QuickAnswer {
        population: quick.population.key(),
        size: best.map_or_else(String::new, |(slot, _)| letter(slot)),
        probabilities_percent: chances.sizes.iter().map(|p| percent(*p)).collect(),
        outside_percent: percent(chances.outside),
        is_flagged: !check_hands(model, quick.population, &quick.hands).is_empty(),
    }
}

/// Women, men, then the populations of the cast or the stock, then the one asked for.
fn covered(
    model: &HandModel,
    cast: &Cast<'_>,
    rules: &FitRules,
    sizes: &[Size],
    also: Option<Population>,
) -> Vec<CoveredPopulation> {
    let mut whom = vec![Population::Women, Population::Men];
    let of_cast = cast.people.iter().map(|(person, _)| person.performer.population);
    for population in of_cast {
        let is_new = population != Population::Adults && !whom.contains(&population);
        if is_new && whom.len() < 2 + MOST_OTHERS {
            whom.push(population);
        }
    }
    whom.extend(also.filter(|population| !whom.contains(population)));
    whom.into_iter()
        .filter_map(|population| coverage(model, population, rules, sizes, SEED))
        .map(|found| CoveredPopulation {
            population: found.population.key(),
            percent: percent(found.share),
            low_percent: percent(found.low),
            high_percent: percent(found.high),
            drawn_low_percent: percent(found.drawn.0),
            drawn_high_percent: percent(found.drawn.1),
            two_keys_percent: percent(found.two_keys),
        })
        .collect()
}

fn point(sizes: usize, point: &Point, people: usize, is_knee: bool) -> CurvePoint {
    CurvePoint {
        sizes,
        misfit: thousandth(point.mean_misfit),
        covered: point.covered,
        covered_percent: percent(point.covered as f64 / people.max(1) as f64),
        is_proven: point.is_proven,
        is_knee,
    }
}

fn en_rows(cast: &Cast<'_>) -> Vec<EnRow> {
    let mut rows: Vec<(en::EnSizes, Vec<String>)> = Vec::new();
    for (person, assessed) in &cast.people {
        let hand = assessed.hand(Side::Right);
        let sizes = en::sizes(hand.mm(Dimension::HandGirth), hand.mm(Dimension::HandLength));
        let code = person.performer.code.clone();
        match rows.iter_mut().find(|(known, _)| *known == sizes) {
            Some((_, codes)) => codes.push(code),
            None => rows.push((sizes, vec![code])),
        }
    }
    let rows = rows.into_iter().map(|(sizes, codes)| EnRow { size: En::of(sizes), codes });
    let mut rows: Vec<EnRow> = rows.collect();
    rows.sort_by(|a, b| b.size.agree.cmp(&a.size.agree).then(b.codes.len().cmp(&a.codes.len())));
    rows
}
