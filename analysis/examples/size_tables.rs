//! Misfit tables of survey people for other people's programs, and the totals of our own choice:
//! ten samples of 500 people of the 2012 survey (half with odd subject numbers).
//!
//! The survey carries five of the 25 dimensions, of one hand; the model fills the rest, and the
//! other hand. Written into FOLDER: `table-N.bin`, misfit of every person (column) in every
//! person's gloves (row) as 64-bit little-endian floats; `people-N.csv`, the zones of every
//! person; `ours.csv`, our totals by sample and number of sizes.
//!
//! `cargo run --release -p analysis --example size_tables -- FOLDER`

#[path = "../tests/people/mod.rs"]
mod people;
#[path = "../tests/simulation/mod.rs"]
mod simulation;

use std::error::Error;
use std::fmt::Write;
use std::path::PathBuf;

use analysis::draft::GloveOptions;
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use analysis::reference::Sex;
use analysis::sizing::centre::centred;
use analysis::sizing::choose::choose;
use analysis::sizing::misfit::{FitRules, GIRTHS, LENGTHS, Size, Wearer};
use analysis::sizing::table::FitTable;
use people::{FIVE, Person, adults};
use simulation::Deviates;

const SAMPLES: u64 = 10;
const PEOPLE: usize = 500;
const SIZES: [usize; 4] = [3, 6, 9, 12];

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("name a folder")?);
    let Some(mut people) = adults() else { return Ok(()) };
    let model = HandModel::published();
    let rules = FitRules::of(&GloveOptions::default());
    let mut ours = String::from("sample,sizes,real_hands,centres\n");
    for sample in 0..SAMPLES {
        let mut random = Deviates::new(sample + 1);
        for at in 0..PEOPLE {
            let other = at + random.below(people.len() - at);
            people.swap(at, other);
        }
        let mut zones = String::new();
        let mut wearers = Vec::with_capacity(PEOPLE);
        for person in people.iter().take(PEOPLE) {
            let filled = filled(&model, person);
            let values = Side::BOTH.into_iter().flat_map(|side| {
                let dimensions = GIRTHS.into_iter().chain(LENGTHS);
                dimensions.map(move |d| (side, d)).collect::<Vec<_>>()
            });
            let values: Vec<String> =
                values.map(|(side, d)| format!("{:.6}", filled.side(side).mm(d))).collect();
            writeln!(zones, "{}", values.join(","))?;
            wearers.push(Wearer::of(&rules, &filled));
        }
        let own: Vec<Size> = wearers.iter().map(|w| Size::drafted_for(&rules, w)).collect();
        let table = FitTable::new(&wearers, &own);
        let bytes: Vec<u8> = (0..table.sizes())
            .flat_map(|size| table.misfits(size).iter().flat_map(|misfit| misfit.to_le_bytes()))
            .collect();
        std::fs::write(folder.join(format!("table-{sample}.bin")), bytes)?;
        std::fs::write(folder.join(format!("people-{sample}.csv")), zones)?;
        for sizes in SIZES {
            let choice = choose(&table, sizes, 7).ok_or("nobody")?;
            let real: Vec<Size> =
                choice.sizes.iter().filter_map(|at| own.get(*at).copied()).collect();
            let centres = centred(&rules, &wearers, &real, 7);
            writeln!(ours, "{sample},{sizes},{},{}", choice.total, centres.total)?;
        }
    }
    std::fs::write(folder.join("ours.csv"), ours)?;
    Ok(())
}

/// Both hands of a survey person, from what was measured of one.
fn filled(model: &HandModel, person: &Person) -> analysis::model::FilledHands {
    let population = match person.sex {
        Sex::Female => Population::Women,
        Sex::Male => Population::Men,
    };
    let readings: Vec<_> = FIVE
        .into_iter()
        .zip(person.mm)
        .map(|(d, mm)| {
            let is_palm = d == analysis::dimension::Dimension::PalmLength;
            let mm = if is_palm { model.adult(person.sex).palm_from_survey(mm) } else { mm };
            (Side::Right, d, mm)
        })
        .collect();
    model.fill(population, &Hands::from_readings(&readings))
}
