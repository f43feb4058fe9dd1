//! Seeded hands with planted slips and what the checks answer, as JSON lines: first the model and
//! the checks as numbers, then typed lengths as they are understood, then one person a line. The
//! browser's checks are held to these answers.
//!
//! `cargo run -p analysis --example hand_cases -- [people] [seed]`

#[path = "../tests/simulation/mod.rs"]
mod simulation;

use std::io::Write;

use analysis::check::{CheckNumbers, check_hands, check_reading, expected, trusted};
use analysis::dimension::{Dimension, Group, Instrument};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population, Sampler};
use analysis::plan::{PlanNumbers, plan};
use analysis::units::{self, Unit};
use serde_json::{Value, json};
use simulation::Deviates;

type Reading = (Side, Dimension, f64);

/// What is planted, in turn.
const PLANTS: [&str; 26] = [
    "nothing",
    "centimetres",
    "inches",
    "ten times",
    "millimetres marked inches",
    "centimetres marked inches",
    "inches marked centimetres",
    "swapped digits",
    "ten centimetre mark",
    "breadth for girth",
    "neighbours exchanged",
    "sides exchanged",
    "hand in centimetres",
    "hand in inches",
    "both hands in centimetres",
    "repeats apart",
    "repeats together",
    "length that does not add up",
    "one side thicker",
    "wrong place",
    "a little off",
    "far outside",
    "two slips",
    "another population",
    "at home",
    "partly at home",
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let people: usize = arguments.next().map_or(Ok(1000), |text| text.parse())?;
    let seed: u64 = arguments.next().map_or(Ok(20), |text| text.parse())?;
    let model = HandModel::published();
    let mut out = std::io::stdout().lock();
    let numbers = json!({
        "model": model.numbers(),
        "checks": CheckNumbers::published(),
        "plan": PlanNumbers::published(),
    });
    writeln!(out, "{numbers}")?;
    writeln!(out, "{}", lengths(&mut Deviates::new(seed)))?;
    let populations = Population::all();
    let mut deviates = Deviates::new(seed);
    for person in 0..people {
        // Adults twice as often as children; every child's age and sex in turn.
        let population = match person % 3 {
            0 => populations[person / 3 % 3],
            1 => populations[3 + person / 3 % (populations.len() - 3)],
            _ => populations[deviates.below(3)],
        };
        let plant = PLANTS[person % PLANTS.len()];
        if let Some(case) = case(&model, population, plant, &mut deviates) {
            writeln!(out, "{case}")?;
        }
    }
    Ok(())
}

/// Typed lengths: what people write, what nobody should, and texts of the same signs at random.
fn lengths(deviates: &mut Deviates) -> Value {
    const SIGNS: [&str; 22] = [
        "0", "1", "2", "4", "8", "9", " ", ".", ",", "/", "-", "+", "\u{2212}", "mm", "cm", "in",
        "\"", "''", "INCH.", "ft", "x", "ä",
    ];
    let written = [
        "",
        "  ",
        "194",
        "19,4 cm",
        "7 3/8",
        "7-3/8 in",
        "-5",
        "0",
        "abc",
        "10000",
        "7 3/8 ft",
        "1,234",
        "1/0",
        "+5",
        "5.",
        ".",
        ".5",
        "1 94",
        "7/8\"",
        "194 MM.",
        "0.01",
        "1e5",
        "1.2.3",
        "7 1/2\u{201d}",
        "Infinity",
        "NaN",
        "٣",
        "1234567890/3",
        "12345678901234567890123456789012345678901",
    ];
    let random = (0..2000).map(|_| {
        (0..=deviates.below(6)).map(|_| SIGNS[deviates.below(SIGNS.len())]).collect::<String>()
    });
    let texts: Vec<String> = written.map(str::to_owned).into_iter().chain(random).collect();
    let read = |text: &String| {
        Unit::ALL.map(|unit| match units::parse(text, unit) {
            Ok(typed) => json!([text, unit.key(), { "mm": typed.mm, "unit": typed.unit.key() }]),
            Err(e) => json!([text, unit.key(), { "code": e.code(), "text": e.text() }]),
        })
    };
    texts.iter().flat_map(read).collect()
}

fn case(
    model: &HandModel,
    population: Population,
    plant: &str,
    deviates: &mut Deviates,
) -> Option<Value> {
    let drawn_from = match plant {
        "another population" => Population::Child { age_years: 6, sex: None },
        _ => population,
    };
    let whole = Sampler::new(model, drawn_from)?.readings(|| deviates.normal());
    let mut readings = some_of(&whole, deviates);
    plant_slip(&mut readings, plant, deviates);
    // By hand and dimension, so that repeats stay together.
    let (home, workshop): (Vec<Reading>, Vec<Reading>) =
        readings.iter().partition(|r| match plant {
            "at home" => true,
            "partly at home" => r.1.index().is_multiple_of(2),
            _ => false,
        });
    let hands = Hands::with_home(&workshop, &home);
    let flags = check_hands(model, population, &hands);
    // One step as it is typed: as planted, or a slip more.
    let (side, dimension, mm) = readings[deviates.below(readings.len())];
    let typed = if deviates.below(2) == 0 { mm } else { mm / 10.0 };
    let step = check_reading(model, population, &hands, side, dimension, typed);
    let asked: Vec<(Side, Dimension)> = (0..4)
        .map(|_| (Side::BOTH[deviates.below(2)], Dimension::ALL[deviates.below(Dimension::COUNT)]))
        .chain([(side, dimension)])
        .collect();
    let expect = |hands: &Hands| -> Vec<Value> {
        let one = |(side, dimension): &(Side, Dimension)| {
            let e = expected(model, population, hands, *side, *dimension);
            json!([side, dimension, e.mm, e.low_mm, e.high_mm])
        };
        asked.iter().map(one).collect()
    };
    let sides =
        [Side::BOTH.to_vec(), vec![Side::Left], vec![Side::Right]][deviates.below(3)].clone();
    let tolerance_mm = 1.0 + deviates.below(4) as f64;
    let planned = plan(model, population, &hands, &sides, tolerance_mm);
    Some(json!({
        "population": population.key(),
        "plant": plant,
        "readings": workshop,
        "home": home,
        "flags": flags,
        "step": { "side": side, "dimension": dimension, "mm": typed, "flags": step },
        "expected": expect(&hands),
        "expected_trusted": expect(&trusted(&hands, &flags)),
        "plan": { "sides": sides, "tolerance_mm": tolerance_mm, "short": planned.short, "next": planned.next },
    }))
}

/// Both hands whole, one hand whole, a third of both, five readings or one.
fn some_of(whole: &Hands, deviates: &mut Deviates) -> Vec<Reading> {
    let how = deviates.below(5);
    let side = Side::BOTH[deviates.below(2)];
    let start = deviates.below(Dimension::COUNT);
    let is_kept = |s: Side, d: Dimension| match how {
        0 => true,
        1 => s == side,
        2 => (d.index() + start).is_multiple_of(3),
        3 => s == side && (d.index() + start).is_multiple_of(5),
        _ => s == side && d.index() == start,
    };
    let mut readings = Vec::new();
    for s in Side::BOTH {
        for (d, summary) in whole.side(s).iter().filter(|(d, _)| is_kept(s, *d)) {
            readings.extend(summary.map(|summary| (s, d, summary.median_mm)));
        }
    }
    readings
}

fn plant_slip(readings: &mut Vec<Reading>, plant: &str, deviates: &mut Deviates) {
    let at = deviates.below(readings.len());
    let (side, dimension, mm) = readings[at];
    let eighth = |mm: f64| (mm / 25.4 * 8.0).round() / 8.0;
    match plant {
        "centimetres" => readings[at].2 = mm / 10.0,
        "inches" => readings[at].2 = eighth(mm),
        "ten times" => readings[at].2 = mm * 10.0,
        "millimetres marked inches" => readings[at].2 = mm * 25.4,
        "centimetres marked inches" => readings[at].2 = mm * 2.54,
        "inches marked centimetres" => readings[at].2 = eighth(mm) * 10.0,
        "swapped digits" => {
            let (tens, ones) = ((mm / 10.0).floor() % 10.0, mm % 10.0);
            readings[at].2 = mm - 10.0 * tens - ones + 10.0 * ones + tens;
        }
        "ten centimetre mark" => readings[at].2 = mm + 100.0,
        "breadth for girth" => {
            let is_joint =
                |r: &&mut Reading| matches!(r.1.group(), Group::KnuckleGirth | Group::TipGirth);
            let girths = readings.iter_mut().filter(is_joint);
            girths.take(1).for_each(|r| r.2 = (r.2 / 3.0).round());
        }
        "neighbours exchanged" => exchange(readings, at, at + 1),
        "sides exchanged" => unequal_middles(readings),
        "hand in centimetres" => convert(readings, |r| r.0 == side, |mm| mm / 10.0),
        "hand in inches" => convert(readings, |r| r.0 == side, eighth),
        "both hands in centimetres" => convert(readings, |_| true, |mm| mm / 10.0),
        "repeats apart" => readings.push((side, dimension, (mm * 1.1).round())),
        "repeats together" => {
            for _ in 0..deviates.below(4) {
                readings.push((side, dimension, mm + deviates.normal().round()));
            }
        }
        "length that does not add up" => {
            readings[at].2 = (mm + 3.0 + 12.0 * deviates.uniform()).round()
        }
        "one side thicker" => readings[at].2 = (mm * (1.04 + 0.1 * deviates.uniform())).round(),
        "wrong place" => readings[at].2 = (mm * (0.25 * deviates.normal()).exp()).round().max(1.0),
        "a little off" => readings[at].2 = (mm * [0.86, 1.16][deviates.below(2)]).round(),
        "at home" | "partly at home" => {
            let scale = (0.04 * deviates.normal()).exp();
            convert(readings, |_| true, |mm| (mm * scale).round());
            // Now and then with a slip or a repeat on top.
            let also =
                ["centimetres", "repeats apart", "wrong place", "nothing"][deviates.below(4)];
            plant_slip(readings, also, deviates);
        }
        "far outside" => readings[at].2 = (mm * 1.5).round(),
        "two slips" => {
            readings[at].2 = mm / 10.0;
            let other = deviates.below(readings.len());
            let blunt = readings[other].1.instrument() == Instrument::Calliper;
            readings[other].2 += if blunt { 30.0 } else { 100.0 };
        }
        _ => {}
    }
}

/// Somebody whose left middle finger, and with it the hand, is longer by 6 mm, with the readings of
/// the two middle fingers exchanged: neither hand adds up, until they change places.
fn unequal_middles(readings: &mut Vec<Reading>) {
    let read = |d: Dimension| readings.iter().find(|r| r.1 == d).map(|r| r.2);
    let (Some(length), Some(palm)) = (read(Dimension::HandLength), read(Dimension::PalmLength))
    else {
        return;
    };
    let middle = length - palm;
    let triple = [Dimension::HandLength, Dimension::PalmLength, Dimension::MiddleLength];
    readings.retain(|r| !triple.contains(&r.1));
    for (side, length, middle) in
        [(Side::Left, length + 6.0, middle), (Side::Right, length, middle + 6.0)]
    {
        readings.push((side, Dimension::HandLength, length));
        readings.push((side, Dimension::PalmLength, palm));
        readings.push((side, Dimension::MiddleLength, middle));
    }
}

fn exchange(readings: &mut [Reading], a: usize, b: usize) {
    if b < readings.len() {
        (readings[a].2, readings[b].2) = (readings[b].2, readings[a].2);
    }
}

fn convert(readings: &mut [Reading], is_meant: impl Fn(&Reading) -> bool, to: impl Fn(f64) -> f64) {
    for reading in readings.iter_mut().filter(|r| is_meant(r)) {
        reading.2 = to(reading.2);
    }
}
