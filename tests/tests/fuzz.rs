//! Whatever arrives: rosters, facts and values of any shape never panic, and what is kept of them
//! is within bounds. `PROPTEST_CASES=100000 cargo test -p handcall-tests --test fuzz` runs longer;
//! a finding is kept as a case of its own below.

use analysis::dimension::Dimension;
use analysis::draft::{GirthReduction, GloveOptions, draft};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use analysis::units::{LARGEST_READING_MM, SMALLEST_READING_MM, Unit};
use handcall::export::SheetLabels;
use handcall::export::pdf::{Paper, render};
use handcall::facts::{self, Sender, Sent};
use handcall::import::roster;
use handcall::store::performer::NewPerformer;
use handcall::store::{Store, performer, production, reading};
use handcall::words;
use handcall_tests::place::Scratch;
use proptest::prelude::*;
use std::sync::LazyLock;
use uuid::Uuid;

static MODEL: LazyLock<HandModel> = LazyLock::new(HandModel::published);

/// Cells that people and machines put into rosters, good and bad.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[0-9]{1,4}([.,][0-9]{1,3})?( ?(mm|cm|in|ft|\"))?",
        2 => "[A-Za-z0-9 -]{0,12}",
        1 => "\\PC{0,20}",
        1 => prop_oneof![Just("=1+1"), Just("\"\""), Just("\u{feff}"), Just("1e999"), Just("-0")]
            .prop_map(str::to_owned),
    ]
}

fn header() -> impl Strategy<Value = String> {
    let known: Vec<String> = Dimension::ALL
        .into_iter()
        .flat_map(|d| [d.key().to_owned(), format!("left {} (cm)", d.name())])
        .chain(["code", "name", "reference", "fabric", "age", "note"].map(str::to_owned))
        .collect();
    prop_oneof![5 => proptest::sample::select(known), 1 => "\\PC{0,12}"]
}

fn table() -> impl Strategy<Value = String> {
    let headers = proptest::collection::vec(header(), 1..8);
    let lines = proptest::collection::vec(proptest::collection::vec(cell(), 0..9), 0..8);
    let separators = proptest::sample::select(vec![",", ";", "\t"]);
    (headers, lines, separators, any::<bool>()).prop_map(|(headers, lines, separator, has_code)| {
        let mut out = if has_code { format!("code{separator}") } else { String::new() };
        out += &headers.join(separator);
        for (at, line) in lines.iter().enumerate() {
            let start = if has_code { format!("P{at}{separator}") } else { String::new() };
            out += &format!("\n{start}{}", line.join(separator));
        }
        out
    })
}

/// A pair of hands with any of its dimensions measured, from plausible to absurd.
fn hands() -> impl Strategy<Value = Hands> {
    let value = prop_oneof![4 => 30.0..260.0_f64, 1 => SMALLEST_READING_MM..LARGEST_READING_MM];
    let one = (any::<bool>(), 0..Dimension::COUNT, value);
    proptest::collection::vec(one, 0..60).prop_map(|readings| {
        let readings: Vec<_> = readings
            .into_iter()
            .filter_map(|(is_left, at, mm)| {
                let side = if is_left { Side::Left } else { Side::Right };
                Some((side, *Dimension::ALL.get(at)?, mm))
            })
            .collect();
        Hands::from_readings(&readings)
    })
}

fn fact() -> impl Strategy<Value = serde_json::Value> {
    let key =
        proptest::sample::select(vec!["id", "performer", "side", "dimension", "value", "unit"]);
    (key, cell(), 0..6_u8).prop_map(|(key, text, kind)| {
        let mut fact = serde_json::json!({
            "fact": "reading", "id": Uuid::now_v7(), "performer": "PERFORMER", "side": "right",
            "dimension": "hand_length", "value": "181", "unit": "mm", "taken_ms": -1,
        });
        fact[key] = match kind {
            0 => serde_json::Value::Null,
            1 => serde_json::json!(1e300),
            2 => serde_json::json!([text]),
            _ => serde_json::json!(text),
        };
        fact
    })
}

proptest! {
    #[test]
    fn any_roster_is_read_or_refused_and_what_is_read_is_within_bounds(text in table()) {
        check_preview(text.as_bytes())?;
    }

    #[test]
    fn any_bytes_at_all_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        check_preview(&bytes)?;
    }

    #[test]
    fn any_measured_subset_is_filled_with_finite_numbers_in_order(hands in hands()) {
        for population in [Population::Women, Population::Men, Population::Adults] {
            let filled = MODEL.fill(population, &hands);
            for side in Side::BOTH {
                for (dimension, estimate) in filled.side(side).iter() {
                    let (low, mm, high) = (estimate.low_mm, estimate.mm, estimate.high_mm);
                    prop_assert!(
                        low.is_finite() && high.is_finite() && 0.0 < low && low <= mm && mm <= high,
                        "{population:?} {dimension:?}: {low} {mm} {high}"
                    );
                }
            }
        }
    }

    #[test]
    fn any_hand_is_drafted_and_printed_or_refused_with_words(
        hands in hands(),
        palm in -0.5..0.9_f64,
        fingers in -0.5..0.9_f64,
        stitches in 0..40_u8,
        below in -100.0..700.0_f64,
    ) {
        let reduction = GirthReduction { palm, wrist: palm, fingers, thumb: fingers };
        let options = GloveOptions {
            reduction, crotch_stitches: stitches, below_wrist_mm: below, ..GloveOptions::default()
        };
        let filled = MODEL.fill(Population::Adults, &hands);
        match draft(filled.side(Side::Right), Side::Right, &options) {
            Ok(glove) => {
                for paper in [Paper::A4, Paper::Roll(300.0)] {
                    let pdf = render(&glove, &SheetLabels::default(), paper);
                    prop_assert!(pdf.is_ok_and(|bytes| bytes.starts_with(b"%PDF-")));
                }
            }
            Err(error) => prop_assert!(error.to_string().len() > 10),
        }
    }
}

fn check_preview(bytes: &[u8]) -> Result<(), TestCaseError> {
    let preview = roster::read(bytes, Unit::Mm);
    for row in &preview.rows {
        prop_assert!(!row.code.trim().is_empty());
        for reading in &row.readings {
            prop_assert!((SMALLEST_READING_MM..=LARGEST_READING_MM).contains(&reading.mm));
        }
    }
    for problem in &preview.problems {
        prop_assert!(problem.line >= 1 && !problem.message(words::all().of("de")).is_empty());
    }
    Ok(())
}

#[test]
fn any_facts_are_kept_or_refused_one_by_one() {
    let folder = Scratch::new("fuzz-facts");
    let store = Store::open(&folder.path().join("handcall.sqlite")).expect("opened");
    let mut runner = proptest::test_runner::TestRunner::default();
    runner
        .run(&proptest::collection::vec(fact(), 1..8), |facts| {
            let (store, code) = (store.clone(), Uuid::now_v7().simple().to_string());
            let new = NewPerformer {
                code: code.clone(),
                name: String::new(),
                population: Population::Adults,
                fabric: None,
                note: String::new(),
            };
            // A production of its own: one holds only so many performers, and a long run has more.
            let added = store.write_now(move |c| {
                let home = production::add(c, &code)?;
                performer::add(c, home, &new)
            });
            let who = added.map_err(|error| TestCaseError::fail(error.to_string()))?;
            let sent: Vec<Sent> = facts
                .into_iter()
                .filter_map(|mut fact| {
                    if fact["performer"] == "PERFORMER" {
                        fact["performer"] = serde_json::json!(who);
                    }
                    serde_json::from_value(fact).ok()
                })
                .collect();
            let count = sent.len();
            let sender =
                Sender { measurer: "fuzz".to_owned(), device: "fuzz".to_owned(), is_home: false };
            let outcomes = store.write_now(move |c| facts::store(c, sent, &sender));
            let outcomes = outcomes.map_err(|error| TestCaseError::fail(error.to_string()))?;
            prop_assert_eq!(outcomes.len(), count);
            for outcome in &outcomes {
                prop_assert_eq!(outcome.state == "refused", outcome.problem.is_some());
            }
            let held = store.read_now(|c| reading::of_performer(c, who)).expect("read");
            for reading in held {
                prop_assert!((SMALLEST_READING_MM..=LARGEST_READING_MM).contains(&reading.mm));
            }
            Ok(())
        })
        .expect("no finding");
}
