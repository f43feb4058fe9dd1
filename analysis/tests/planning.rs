//! What to take next: readings and seconds until a hand is known well enough, on people drawn from
//! the model, and whether "enough" keeps its word.

mod figures;
mod simulation;

use analysis::dimension::Dimension::{self, *};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population, Sampler};
use analysis::plan::{DEFAULT_TOLERANCE_MM, plan, tolerance_share};
use simulation::Deviates;
use simulation::measuring::{FIXED, measure};

struct Person {
    truth: [[f64; Dimension::COUNT]; 2],
    deviates: Deviates,
}

impl Person {
    fn read(&mut self, side: Side, d: Dimension) -> f64 {
        let truth = self.truth[side as usize][d.index()];
        (truth + d.measuring_error_mm() * self.deviates.normal()).round()
    }
}

#[test]
fn following_the_plan_takes_fewer_readings_than_a_list_and_enough_is_enough() {
    let model = HandModel::published();
    let mut table = String::from(
        "| population | hands | way | readings | seconds | reached | within tolerance |\n\
         |---|---|---|---|---|---|---|\n",
    );
    for population in [Population::Women, Population::Men, Population::Adults] {
        for sides in [&[Side::Right][..], &Side::BOTH[..]] {
            let mut by_way: Vec<(&str, f64)> = Vec::new();
            for way in ["plan", "fixed list", "form order"] {
                let sampler = Sampler::new(&model, population).expect("a population");
                let mut deviates = Deviates::new(17);
                let people = 60;
                let (mut readings, mut spent, mut reached) = (0.0, 0.0, 0.0);
                let (mut inside, mut all) = (0.0, 0.0);
                for _ in 0..people {
                    let truth = sampler.truth(|| deviates.normal());
                    let mut person = Person { truth, deviates: Deviates::new(deviates.bits()) };
                    let listed = |n: usize| {
                        let order = if way == "fixed list" { FIXED } else { Dimension::ALL };
                        let side = *sides.get(n / Dimension::COUNT)?;
                        Some((side, order[n % Dimension::COUNT]))
                    };
                    let read = |side, d| person.read(side, d);
                    let (n, s, hands, done) =
                        measure(&model, population, read, sides, |now, n| match way {
                            "plan" => now.next.first().map(|c| (c.side, c.dimension)),
                            _ => listed(n),
                        });
                    readings += n;
                    spent += s;
                    reached += f64::from(u8::from(done));
                    if !done {
                        continue;
                    }
                    let filled = model.fill(population, &hands);
                    for side in sides {
                        for d in Dimension::ALL {
                            let Some(share) = tolerance_share(d) else { continue };
                            let error =
                                filled.side(*side).mm(d) - person.truth[*side as usize][d.index()];
                            all += 1.0;
                            inside +=
                                f64::from(u8::from(error.abs() <= share * DEFAULT_TOLERANCE_MM));
                        }
                    }
                }
                let people = f64::from(people);
                let kept: f64 = inside / all;
                table += &format!(
                    "| {} | {} | {way} | {:.1} | {:.0} | {:.0} % | {:.1} % |\n",
                    population.name(),
                    sides.len(),
                    readings / people,
                    spent / people,
                    100.0 * reached / people,
                    100.0 * kept
                );
                if way == "plan" {
                    assert!(reached == people, "{}: {reached}", population.name());
                }
                // "Enough" promises nine in ten for each; most are known better than asked.
                assert!(kept >= 0.9, "{} {way}: {kept}", population.name());
                by_way.push((way, readings / people));
            }
            assert!(by_way[1..].iter().all(|(_, n)| *n > by_way[0].1), "{by_way:?}");
            assert!(by_way[0].1 < (sides.len() * Dimension::COUNT) as f64);
        }
    }
    figures::hold("planning", &table);
}

#[test]
fn nothing_is_asked_of_a_hand_that_is_not_wanted_and_the_best_comes_first() {
    let model = HandModel::published();
    let hands = Hands::from_readings(&[(Side::Left, MiddleLength, 80.0)]);
    let now = plan(&model, Population::Women, &hands, &[Side::Right], DEFAULT_TOLERANCE_MM);
    assert!(!now.enough());
    assert!(now.next.iter().all(|c| c.side == Side::Right && !c.repeat && c.gain > 0.0));
    assert!(now.next.windows(2).all(|pair| pair[0].gain >= pair[1].gain));
    assert_ne!(now.next[0].dimension, MiddleLength, "the left hand already tells it");
}
