//! How many readings a hand needs, on people of the 2012 survey. It carries five of our dimensions:
//! those are read as they were recorded; the other twenty are drawn from the model given the five.
//! So the sizes and the proportions of the five are real people's, the rest is simulated. Where the
//! records are absent the test says that it was skipped.
#![expect(clippy::expect_used, reason = "a test fails by panicking")]

mod figures;
mod people;
mod simulation;

use analysis::dimension::Dimension::{self, *};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population, Sampler};
use analysis::plan::{DEFAULT_TOLERANCE_MM, tolerance_share};
use analysis::reference::Sex;
use people::{FIVE, Person};
use simulation::Deviates;
use simulation::measuring::{FIXED, measure};

const PEOPLE: usize = 60;

/// The five as recorded, palm length in our definition.
fn recorded(model: &HandModel, person: &Person) -> Vec<(Side, Dimension, f64)> {
    let ours = |(d, mm): (Dimension, f64)| {
        let palm = d == PalmLength;
        let mm = if palm { model.adult(person.sex).palm_from_survey(mm).round() } else { mm };
        (Side::Right, d, mm)
    };
    FIVE.into_iter().zip(person.mm).map(ours).collect()
}

/// True values of a right hand of which the five were recorded so: drawn, then moved by what the
/// five lead to expect against what the drawn five do (Matheron's rule).
fn truth(
    model: &HandModel,
    population: Population,
    five: &[(Side, Dimension, f64)],
    deviates: &mut Deviates,
) -> [f64; Dimension::COUNT] {
    let sampler = Sampler::new(model, population).expect("a population");
    let drawn = sampler.truth(|| deviates.normal())[Side::Right as usize];
    let read: Vec<_> = FIVE
        .into_iter()
        .map(|d| {
            let error = d.measuring_error_mm() * deviates.normal();
            (Side::Right, d, drawn[d.index()] + error)
        })
        .collect();
    let filled = |readings| model.fill(population, &Hands::from_readings(readings)).right;
    let (wanted, of_drawn) = (filled(five), filled(&read));
    Dimension::ALL.map(|d| drawn[d.index()] * wanted.mm(d) / of_drawn.mm(d))
}

#[test]
fn survey_people_take_as_many_readings_as_drawn_people_and_enough_is_enough() {
    let Some(people) = people::adults() else { return };
    let model = HandModel::published();
    let mut table = String::from(
        "| people of the survey | way | readings | seconds | reached | within tolerance |\n\
         |---|---|---|---|---|---|\n",
    );
    for (sex, population) in [(Sex::Female, Population::Women), (Sex::Male, Population::Men)] {
        let own: Vec<&Person> = people.iter().filter(|p| p.sex == sex).collect();
        let mut by_way = Vec::new();
        for way in ["plan", "fixed list", "form order"] {
            let mut deviates = Deviates::new(23);
            let (mut readings, mut spent, mut reached) = (0.0, 0.0, 0.0);
            let (mut inside, mut all) = (0.0, 0.0);
            for person in own.iter().step_by(own.len() / PEOPLE).take(PEOPLE) {
                let five = recorded(&model, person);
                let truth = truth(&model, population, &five, &mut deviates);
                let mut is_read = [false; Dimension::COUNT];
                let read = |_: Side, d: Dimension| {
                    let first = !std::mem::replace(&mut is_read[d.index()], true);
                    match five.iter().find(|(_, of, _)| first && *of == d) {
                        Some((_, _, mm)) => *mm,
                        None => {
                            let error = d.measuring_error_mm() * deviates.normal();
                            (truth[d.index()] + error).round()
                        }
                    }
                };
                let order = if way == "fixed list" { FIXED } else { Dimension::ALL };
                let (n, seconds, hands, done) =
                    measure(&model, population, read, &[Side::Right], |now, n| match way {
                        "plan" => now.next.first().map(|c| (c.side, c.dimension)),
                        _ => Some((Side::Right, *order.get(n)?)),
                    });
                readings += n;
                spent += seconds;
                reached += f64::from(u8::from(done));
                let filled = model.fill(population, &hands).right;
                for d in Dimension::ALL.into_iter().filter(|_| done) {
                    let Some(share) = tolerance_share(d) else { continue };
                    let error = (filled.mm(d) - truth[d.index()]).abs();
                    all += 1.0;
                    inside += f64::from(u8::from(error <= share * DEFAULT_TOLERANCE_MM));
                }
            }
            let (count, kept): (f64, f64) = (PEOPLE as f64, inside / all);
            table += &format!(
                "| {} | {way} | {:.1} | {:.0} | {:.0} % | {:.1} % |\n",
                population.name(),
                readings / count,
                spent / count,
                100.0 * reached / count,
                100.0 * kept
            );
            // "Enough" promises nine in ten.
            assert!(kept >= 0.9, "{population:?} {way}: {kept}");
            by_way.push(readings / count);
        }
        assert!(by_way[1..].iter().all(|other| by_way[0] < *other), "{by_way:?}");
    }
    figures::hold("planning_survey", &table);
}
