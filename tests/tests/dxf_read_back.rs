//! DXF as an independent reader sees it: ezdxf (MIT, Python package registry) opens the file
//! without complaint and finds the same lengths and areas as the draft has.

use std::process::Command;

use analysis::draft::{GloveOptions, Layer, draft};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use handcall::export::{SheetLabels, dxf};
use handcall_tests::place::{Scratch, repository};
use kurbo::{ParamCurveArclen, Shape};

/// Agreement asked of lengths, mm, and of areas, mm2: chords within 0.01 mm of a metre of outline.
const LENGTH_MM: f64 = 0.5;
const AREA_MM2: f64 = 5.0;

#[test]
fn another_reader_finds_the_same_lengths_areas_notches_and_texts() {
    let hands = HandModel::published().fill(Population::Women, &Hands::default());
    for side in Side::BOTH {
        let glove = draft(hands.side(side), side, &GloveOptions::default()).expect("drafted");
        let labels = SheetLabels {
            production: "Zo\u{eb} & <Co>".to_owned(),
            performer_code: "TW01".to_owned(),
            fabric: "Kelp".to_owned(),
            version: "2".to_owned(),
            date: "2026-03-14".to_owned(),
        };
        let text = dxf::render(&glove, &labels);
        assert_eq!(text, dxf::render(&glove, &labels));
        let folder = Scratch::new("dxf");
        let path = folder.path().join("glove.dxf");
        std::fs::write(&path, &text).expect("written");
        let read = Command::new("python3")
            .arg(repository().join("tests/dxf_read_back.py"))
            .arg(&path)
            .output()
            .expect("python3");
        assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
        let found: serde_json::Value = serde_json::from_slice(&read.stdout).expect("JSON");
        assert_eq!(found["errors"], serde_json::json!([]));
        assert_eq!(found["units"], 4, "millimetres");
        let blocks = found["blocks"].as_object().expect("blocks");
        assert_eq!(blocks.len(), glove.pieces.len());
        assert_eq!(found["inserts"].as_array().map(Vec::len), Some(glove.pieces.len()));
        for piece in &glove.pieces {
            let name = format!("{}-{}", side.key(), piece.name).to_uppercase().replace(' ', "-");
            let block = &blocks[&name];
            let length = |wanted: Layer| -> f64 {
                let lines = piece.lines.iter().filter(|(layer, _)| *layer == wanted);
                lines.flat_map(|(_, path)| path.segments()).map(|s| s.arclen(1e-4)).sum()
            };
            for (layer, number) in [(Layer::Cut, "1"), (Layer::Seam, "14"), (Layer::Hole, "11")] {
                let theirs = block["lengths"][number].as_f64().unwrap_or(0.0);
                let ours = length(layer);
                assert!((theirs - ours).abs() < LENGTH_MM, "{name} {layer:?}: {theirs} {ours}");
            }
            let grain = (piece.grain.p1 - piece.grain.p0).hypot();
            assert!((block["lengths"]["7"].as_f64().unwrap_or(0.0) - grain).abs() < 1e-3);
            let cut = piece.lines.iter().filter(|(layer, _)| *layer == Layer::Cut);
            let ours: f64 = cut.map(|(_, path)| path.area().abs()).sum();
            let theirs = block["area"].as_f64().unwrap_or(0.0);
            assert!((theirs - ours).abs() < AREA_MM2, "{name}: {theirs} {ours}");
            assert_eq!(block["notches"].as_u64(), Some(piece.notches.len() as u64));
            let texts = block["texts"].to_string();
            assert!(texts.contains(&format!("Piece Name: {}", piece.name)), "{texts}");
        }
    }
}
