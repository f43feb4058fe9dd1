//! What a fuzzer feeds: six targets that take any bytes and panic at a finding. The coverage-guided
//! fuzzer in `tests/fuzz` and the short run of the test `fuzz` share them.

#![expect(clippy::expect_used, reason = "a finding is a panic")]

use std::path::Path;
use std::sync::LazyLock;

use analysis::check::check_hands;
use analysis::dimension::Dimension;
use analysis::draft::{
    Bottom, Closure, Construction, Cuff, Draft, Finish, GirthReduction, GloveOptions, draft,
};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use analysis::units::{self, LARGEST_READING_MM, SMALLEST_READING_MM, Unit};
use arbitrary::{Result, Unstructured};
use handcall::export::drawing::printed_bounds;
use handcall::export::pdf::layout::plan;
use handcall::export::pdf::paper::ROLL_WIDTHS_MM;
use handcall::export::pdf::{Paper, render};
use handcall::export::{SheetLabels, dxf};
use handcall::facts::{self, Sender, Sent};
use handcall::import::roster;
use handcall::store::performer::NewPerformer;
use handcall::store::{Store, StoreError, performer, production, reading};
use handcall::words;
use uuid::Uuid;

/// Something that takes any bytes.
pub type Target = fn(&[u8]);

/// Every target with its name, which is also the name of its corpus.
pub const TARGETS: [(&str, Target); 6] = [
    ("value", value),
    ("roster", roster),
    ("facts", facts),
    ("conditioning", conditioning),
    ("drafting", drafting),
    ("tiling", tiling),
];

/// Stands in a corpus of facts for the id of the performer who exists.
const SOMEBODY: &str = "PERFORMER";

static MODEL: LazyLock<HandModel> = LazyLock::new(HandModel::published);

/// A database in memory with one performer in it.
static HOUSE: LazyLock<(Store, Uuid)> = LazyLock::new(|| {
    let store = Store::open(Path::new(":memory:")).expect("opened");
    let new = NewPerformer {
        code: "F1".to_owned(),
        name: String::new(),
        population: Population::Adults,
        fabric: None,
        call: String::new(),
        note: String::new(),
    };
    let added = store.write_now(move |c| {
        let home = production::add(c, "Fuzz")?;
        performer::add(c, home, &new)
    });
    (store, added.expect("added"))
});

fn is_within_bounds(mm: f64) -> bool {
    (SMALLEST_READING_MM..=LARGEST_READING_MM).contains(&mm)
}

/// A typed value is understood within its bounds, or refused with a code and words.
pub fn value(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    for unit in Unit::ALL {
        match units::parse(&text, unit) {
            Ok(typed) => assert!(is_within_bounds(typed.mm), "{text:?}: {typed:?}"),
            Err(error) => assert!(!error.code().is_empty() && !error.to_string().is_empty()),
        }
    }
}

/// A roster is read, or its faults are named by line; what is read is within bounds.
///
/// The first byte chooses the unit.
pub fn roster(bytes: &[u8]) {
    let (first, rest) = bytes.split_first().unwrap_or((&0, &[]));
    let unit = Unit::ALL[usize::from(*first) % Unit::ALL.len()];
    let preview = roster::read(rest, unit);
    for row in &preview.rows {
        assert!(!row.code.trim().is_empty(), "{row:?}");
        assert!(row.readings.iter().all(|reading| is_within_bounds(reading.mm)), "{row:?}");
    }
    let english = words::all().of(words::FALLBACK);
    for problem in &preview.problems {
        assert!(problem.line >= 1 && !problem.message(english).is_empty(), "{problem:?}");
    }
}

/// Facts in JSON, as phones send them, are kept or refused one by one, and nothing out of bounds is
/// kept. Everything is taken back afterwards.
pub fn facts(bytes: &[u8]) {
    let (store, somebody) = &*HOUSE;
    let text = String::from_utf8_lossy(bytes).replace(SOMEBODY, &somebody.to_string());
    let Ok(sent) = serde_json::from_str::<Vec<Sent>>(&text) else { return };
    let (count, somebody) = (sent.len(), *somebody);
    let checked = store.write_now(move |c| {
        let sender = Sender { measurer: "fuzz".to_owned(), device: text, is_home: false };
        let outcomes = facts::store(c, &MODEL, sent, &sender)?;
        assert_eq!(outcomes.len(), count);
        for outcome in &outcomes {
            assert_eq!(outcome.state == "refused", outcome.problem.is_some(), "{outcome:?}");
        }
        let held = reading::of_performer(c, somebody)?;
        assert!(held.iter().all(|reading| is_within_bounds(reading.mm)), "{held:?}");
        Err::<(), _>(StoreError::NotFound)
    });
    // Anything else is a fault of the database, which no input may cause; after a panic of the
    // writing thread it is closed.
    assert!(matches!(checked, Err(StoreError::NotFound)), "{checked:?}");
}

/// Any people with any subset measured, plausible or absurd, are filled with finite intervals in
/// order, and checked without a panic.
pub fn conditioning(bytes: &[u8]) {
    let mut input = Unstructured::new(bytes);
    let Ok((population, hands)) = people(&mut input) else { return };
    let flags = check_hands(&MODEL, population, &hands);
    assert!(flags.iter().all(|flag| !flag.key().is_empty()), "{flags:?}");
    let filled = MODEL.fill(population, &hands);
    for side in Side::BOTH {
        for (dimension, estimate) in filled.side(side).iter() {
            let (low, mm, high) = (estimate.low_mm, estimate.mm, estimate.high_mm);
            assert!(
                low.is_finite() && high.is_finite() && 0.0 < low && low <= mm && mm <= high,
                "{population:?} {side:?} {dimension:?}: {low} {mm} {high}"
            );
        }
    }
}

/// Any hand is drafted with any options, or refused with words; what is drafted is finite.
pub fn drafting(bytes: &[u8]) {
    let Ok(Some(glove)) = glove(&mut Unstructured::new(bytes)) else { return };
    let numbers = glove
        .seams
        .iter()
        .flat_map(|seam| [seam.first_mm, seam.second_mm])
        .chain(glove.levels.iter().map(|level| level.girth_mm))
        .chain([glove.forecast.largest_extension(), glove.forecast.largest_stand_off_mm()]);
    for number in numbers {
        assert!(number.is_finite(), "{glove:?}");
    }
    assert!(!glove.pieces.is_empty() && glove.pieces.iter().all(|p| p.bounds().is_finite()));
    assert!(dxf::render(&glove, &SheetLabels::default()).trim_end().ends_with("EOF"));
}

/// Any glove on any paper: every piece is on the pages, whole or in tiles that leave nothing of its
/// lines out, and nothing whole hangs over the paper's edge.
pub fn tiling(bytes: &[u8]) {
    let mut input = Unstructured::new(bytes);
    let Ok(paper) = paper(&mut input) else { return };
    let Ok(Some(glove)) = glove(&mut input) else { return };
    let pages = plan(&glove.pieces, paper);
    for (index, piece) in glove.pieces.iter().enumerate() {
        let whole: Vec<_> = pages
            .iter()
            .flat_map(|page| page.placed.iter().map(|placed| (page.sheet, placed)))
            .filter(|(_, placed)| placed.piece == index)
            .collect();
        let tiles: Vec<_> = pages
            .iter()
            .filter_map(|page| Some((page.sheet, page.tile?.1)))
            .filter(|(_, placed)| placed.piece == index)
            .collect();
        assert!(whole.len() == 1 || !tiles.is_empty(), "{paper:?}: piece {index} is not printed");
        for (sheet, placed) in whole {
            let on_page = placed.motion.transform_rect_bbox(printed_bounds(piece));
            let paper = sheet.drawing_area().inflate(0.5, 0.5);
            assert!(paper.contains_rect(on_page), "{on_page:?} leaves {paper:?}");
        }
        if !tiles.is_empty() {
            for point in points(piece) {
                let is_shown = tiles.iter().any(|(sheet, placed)| {
                    sheet.drawing_area().inflate(0.01, 0.01).contains(placed.motion * point)
                });
                assert!(is_shown, "{paper:?}: piece {index} is cut off at {point:?}");
            }
        }
    }
    let pdf = render(&glove, &SheetLabels::default(), paper).expect("printed");
    assert!(pdf.starts_with(b"%PDF-"));
}

/// Ends of every segment of a piece's lines.
fn points(piece: &analysis::draft::Piece) -> impl Iterator<Item = kurbo::Point> {
    piece.lines.iter().flat_map(|(_, path)| path.elements()).filter_map(|e| e.end_point())
}

fn people(input: &mut Unstructured<'_>) -> Result<(Population, Hands)> {
    let populations = Population::all();
    let population = *input.choose(&populations)?;
    let mut readings = Vec::new();
    for _ in 0..input.int_in_range(0..=60)? {
        let side = *input.choose(&Side::BOTH)?;
        let dimension = *input.choose(&Dimension::ALL)?;
        // Hundredths of a millimetre: mostly of a hand, sometimes anything that is taken.
        let most = if input.ratio(1, 5)? { 300_000 } else { 26_000 };
        let least = if most == 26_000 { 1_000 } else { 100 };
        readings.push((side, dimension, f64::from(input.int_in_range(least..=most)?) / 100.0));
    }
    Ok((population, Hands::from_readings(&readings)))
}

/// A number between two bounds, or now and then anything at all.
fn number(input: &mut Unstructured<'_>, low: f64, high: f64) -> Result<f64> {
    if input.ratio(1, 40)? {
        return input.arbitrary();
    }
    Ok(low + (high - low) * f64::from(input.arbitrary::<u16>()?) / f64::from(u16::MAX))
}

fn options(input: &mut Unstructured<'_>) -> Result<GloveOptions> {
    let cuff = match input.int_in_range(0..=2)? {
        0 => Cuff::Wrist,
        1 => Cuff::Gauntlet {
            length_mm: number(input, 30.0, 300.0)?,
            opening_girth_mm: number(input, 120.0, 700.0)?,
        },
        _ => Cuff::Long {
            height_mm: number(input, 30.0, 600.0)?,
            girth_mm: number(input, 80.0, 600.0)?,
            half_way_girth_mm: None,
        },
    };
    let bottom = match input.ratio(1, 4)? {
        true => Bottom::Sleeve { flat_width_mm: number(input, 30.0, 300.0)? },
        false => Bottom::Hem,
    };
    let closures =
        [Closure::Closed, Closure::Casings, Closure::CasingsWithElastic, Closure::CasingsWithLoop];
    let finishes = [Finish::Full, Finish::OpenTips, Finish::ToEndJoint, Finish::ToMiddleJoint];
    Ok(GloveOptions {
        construction: *input.choose(&[Construction::TwoLayer, Construction::Fourchette])?,
        finish: *input.choose(&finishes)?,
        closure: *input.choose(&closures)?,
        cuff,
        bottom,
        reduction: GirthReduction {
            palm: number(input, -0.30, 0.35)?,
            wrist: number(input, -0.30, 0.35)?,
            fingers: number(input, -0.30, 0.35)?,
            thumb: number(input, -0.30, 0.35)?,
        },
        thumb_curve: number(input, 0.0, 1.0)?,
        stitch_length_mm: number(input, 0.8, 5.0)?,
        crotch_stitches: input.int_in_range(0..=7)?,
        seam_allowance_mm: number(input, 0.0, 10.0)?,
        below_wrist_mm: number(input, 0.0, 120.0)?,
        hem_mm: number(input, 0.0, 50.0)?,
        usable_extension: number(input, 0.0, 3.0)?,
        ..GloveOptions::default()
    })
}

/// A draft, or none where hand or options are refused.
fn glove(input: &mut Unstructured<'_>) -> Result<Option<Draft>> {
    let side = *input.choose(&Side::BOTH)?;
    // Half of them of the default making, so that the fuzzer reaches past the bounds of options.
    let options = if input.arbitrary()? { GloveOptions::default() } else { options(input)? };
    let (population, hands) = people(input)?;
    let filled = MODEL.fill(population, &hands);
    Ok(match draft(filled.side(side), side, &options) {
        Ok(glove) => Some(glove),
        Err(error) => {
            assert!(error.to_string().len() > 10, "{error:?}");
            None
        }
    })
}

fn paper(input: &mut Unstructured<'_>) -> Result<Paper> {
    Ok(match input.int_in_range(0..=4)? {
        4 => {
            let (low, high) = (*ROLL_WIDTHS_MM.start(), *ROLL_WIDTHS_MM.end());
            Paper::Roll(low + (high - low) * f64::from(input.arbitrary::<u16>()?) / 65535.0)
        }
        at => Paper::SHEETS[at],
    })
}
