//! The drawings of a lay as other programs see them: DXF through ezdxf (MIT, Python package
//! registry), SVG through Python's XML parser, PDF through qpdf and, in pixels, through poppler.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::path::Path;
use std::process::Command;

use analysis::draft::{GloveOptions, Layer, Piece, draft};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use handcall::export::SheetLabels;
use handcall::lay::cast::{Cutting, Glove};
use handcall::lay::search::{Cloth, Lay, bottom_left};
use handcall_tests::place::{Scratch, repository};
use handcall_tests::print;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::single::SingleFloatOverlay;
use kurbo::{ParamCurveArclen, Shape};
use serde_json::Value;

/// Agreement asked of lengths, mm, of areas, mm2, and of places, mm: chords lie within 0.02 mm of
/// the curve, and figures are written to four places.
const LENGTH_MM: f64 = 0.5;
const AREA_MM2: f64 = 5.0;
const PLACE_MM: f64 = 0.03;

/// What a PDF adds to the cloth: margins of 5 mm and the strip of 6 mm for the upright check bar.
const BESIDE_MM: f64 = 16.0;

/// Two published medians, both hands, on cloth that is narrow, so that pictures stay small.
fn cutting() -> Cutting {
    let model = HandModel::published();
    let mut gloves = Vec::new();
    for (code, population) in [("TW01", Population::Women), ("TW02", Population::Men)] {
        let hands = model.fill(population, &Hands::default());
        for side in Side::BOTH {
            let draft = draft(hands.side(side), side, &GloveOptions::default()).expect("drafted");
            let labels = SheetLabels {
                production: "Zo\u{eb} & <Co>".to_owned(),
                performer_code: code.to_owned(),
                fabric: "Kelp & <Tide>".to_owned(),
                version: "2".to_owned(),
                date: "2026-03-14".to_owned(),
            };
            gloves.push(Glove { draft, labels });
        }
    }
    Cutting::by_fabric(gloves, 0).remove(0)
}

fn laid(cutting: &Cutting, may_lie_head_down: bool) -> (Cloth, Lay) {
    let cloth = Cloth { width_mm: 360.0, gap_mm: 3.0, may_lie_head_down };
    (cloth, bottom_left(&cutting.outlines, cloth).expect("laid"))
}

fn read_back(path: &Path) -> Value {
    let script = repository().join("tests/dxf_read_back.py");
    let read = Command::new("python3").arg(script).arg(path).output().expect("python3");
    assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
    serde_json::from_slice(&read.stdout).expect("JSON")
}

/// The piece a block is of: `3-TW01-LEFT-PALM-AND-BACK` is the third piece laid.
fn piece_of<'a>(cutting: &'a Cutting, block: &str) -> &'a Piece {
    let named = |glove: &Glove, piece: &Piece| {
        let name =
            format!("{}-{}-{}", glove.labels.performer_code, glove.draft.side.key(), piece.name);
        block.ends_with(&name.to_uppercase().replace(' ', "-"))
    };
    let mut pieces = cutting
        .gloves
        .iter()
        .flat_map(|glove| glove.draft.pieces.iter().filter(move |piece| named(glove, piece)));
    pieces.next().expect("a block of a piece")
}

fn length(piece: &Piece, wanted: Layer) -> f64 {
    let lines = piece.lines.iter().filter(|(layer, _)| *layer == wanted);
    lines.flat_map(|(_, path)| path.segments()).map(|segment| segment.arclen(1e-4)).sum()
}

#[test]
fn another_reader_finds_every_piece_of_the_lay_once_whole_and_on_the_cloth() {
    let cutting = cutting();
    for may_lie_head_down in [true, false] {
        let (cloth, lay) = laid(&cutting, may_lie_head_down);
        let text = cutting.dxf(&lay);
        assert_eq!(text, cutting.dxf(&lay), "same lay, same bytes");
        let folder = Scratch::new("lay-dxf");
        let path = folder.path().join("lay.dxf");
        std::fs::write(&path, text).expect("written");
        let found = read_back(&path);
        assert_eq!(found["errors"], serde_json::json!([]));
        assert_eq!(found["units"], 4, "millimetres");
        let placed = found["placed"].as_array().expect("placed");
        assert_eq!(placed.len(), cutting.outlines.len());
        assert_eq!(found["blocks"].as_object().map(|all| all.len()), Some(placed.len()));
        let mut turned = 0;
        let mut outlines: Vec<Vec<[f64; 2]>> = Vec::new();
        for one in placed {
            let name = one["name"].as_str().expect("a name");
            let (piece, block) = (piece_of(&cutting, name), &found["blocks"][name]);
            for (layer, number) in [(Layer::Cut, "1"), (Layer::Seam, "14"), (Layer::Hole, "11")] {
                let theirs = block["lengths"][number].as_f64().unwrap_or(0.0);
                let ours = length(piece, layer);
                assert!((theirs - ours).abs() < LENGTH_MM, "{name} {layer:?}: {theirs} {ours}");
            }
            let cut = piece.lines.iter().filter(|(layer, _)| *layer == Layer::Cut);
            let ours: f64 = cut.map(|(_, path)| path.area().abs()).sum();
            let theirs = one["area"].as_f64().expect("an area");
            assert!((theirs - ours).abs() < AREA_MM2, "{name}: {theirs} {ours}");
            assert_eq!(block["notches"].as_u64(), Some(piece.notches.len() as u64));
            let corner = |at: usize| one["box"][at].as_f64().expect("a corner");
            let edge = cloth.gap_mm / 2.0 - PLACE_MM;
            let is_inside = corner(0) >= edge
                && corner(1) >= edge
                && corner(2) <= cloth.width_mm - edge
                && corner(3) <= lay.length_mm - edge;
            assert!(is_inside, "{name} is off the cloth: {}", one["box"]);
            let angle = one["turned"].as_f64().expect("an angle").rem_euclid(360.0);
            assert!(angle == 0.0 || angle == 180.0, "the grain is kept: {angle}");
            turned += usize::from(angle == 180.0);
            let points = one["boundary"].as_array().expect("points").iter();
            let point = |p: &Value| [p[0].as_f64().expect("x"), p[1].as_f64().expect("y")];
            outlines.push(points.map(point).collect());
        }
        assert!(may_lie_head_down || turned == 0, "nothing lies head down where nothing may");
        for (at, one) in outlines.iter().enumerate() {
            for other in &outlines[at + 1..] {
                let common = one.overlay(other, OverlayRule::Intersect, FillRule::NonZero);
                assert!(common.is_empty(), "pieces overlap in the file");
            }
        }
    }
}

#[test]
fn the_picture_is_xml_of_the_size_of_the_cloth_and_the_print_is_true() {
    let cutting = cutting();
    let (cloth, lay) = laid(&cutting, true);
    let folder = Scratch::new("lay-print");
    let (svg, pdf) = (folder.path().join("lay.svg"), folder.path().join("lay.pdf"));
    std::fs::write(&svg, cutting.svg(&lay, cloth)).expect("written");
    let program = "import sys, xml.etree.ElementTree as t\nroot = t.parse(sys.argv[1]).getroot()\n\
                   print(root.get('width'), root.get('height'))\n\
                   print(root.find('{http://www.w3.org/2000/svg}title').text)";
    let read = Command::new("python3").args(["-c", program]).arg(&svg).output().expect("python3");
    assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
    let said = String::from_utf8_lossy(&read.stdout).into_owned();
    let mut lines = said.lines();
    let mm = |text: &str| text.trim_end_matches("mm").parse::<f64>().expect("millimetres");
    let size: Vec<f64> = lines.next().expect("a size").split(' ').map(mm).collect();
    assert!((size[0] - cloth.width_mm).abs() < PLACE_MM, "{said}");
    assert!((size[1] - lay.length_mm).abs() < PLACE_MM, "{said}");
    assert_eq!(lines.next(), Some("Lay Kelp & <Tide>"));

    std::fs::write(&pdf, cutting.pdf(&lay, cloth).expect("prints")).expect("written");
    let checked = Command::new("qpdf").arg("--check").arg(&pdf).output().expect("qpdf");
    let words = String::from_utf8_lossy(&checked.stdout).into_owned()
        + &String::from_utf8_lossy(&checked.stderr);
    assert!(checked.status.success() && !words.contains("WARNING"), "{words}");
    let pages = print::render(&pdf, folder.path());
    assert_eq!(pages.len(), 1);
    let (width, _) = pages[0].size_mm();
    assert!((width - cloth.width_mm - BESIDE_MM).abs() < 0.1, "{width} mm wide");
    let bars = pages[0].check_bars();
    for is_horizontal in [true, false] {
        let is_true = |bar: &print::CheckBar| {
            bar.is_horizontal == is_horizontal && (bar.length_mm - 100.0).abs() <= 0.2
        };
        assert!(bars.iter().any(is_true), "{bars:?}");
    }
}
