//! Printed size: every page of a draft, rendered to pixels by poppler (`pdftoppm`), has its check
//! bars at 100 mm within 0.2 mm in both directions, and the sheet is the paper that was asked for
//! (A4 210 x 297 mm: ISO 216; Letter 8.5 x 11 in: ANSI/ASME Y14.1). `qpdf --check`, a second
//! independent reader, finds nothing to complain of.

use std::process::Command;

use analysis::draft::{GloveOptions, draft};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use handcall::export::SheetLabels;
use handcall::export::pdf::{Paper, render};
use handcall_tests::place::Scratch;
use handcall_tests::print;

fn labels() -> SheetLabels {
    SheetLabels {
        production: "The Salt Stair".to_owned(),
        performer_code: "TW01".to_owned(),
        fabric: "Kelp firm knit".to_owned(),
        version: "1".to_owned(),
        date: "2026-03-14".to_owned(),
    }
}

#[test]
fn check_bars_print_at_100_mm_in_both_directions_on_every_page() {
    let model = HandModel::published();
    let papers = [
        (Paper::A4, Some((210.0, 297.0))),
        (Paper::Letter, Some((215.9, 279.4))),
        (Paper::A3, Some((297.0, 420.0))),
        (Paper::Roll(610.0), None),
    ];
    for population in [Population::Women, Population::Men] {
        let hands = model.fill(population, &Hands::default());
        let glove =
            draft(&hands.right, Side::Right, &GloveOptions::default()).expect("a median hand");
        for (paper, size) in papers {
            let folder = Scratch::new("printed");
            let pdf = folder.path().join("glove.pdf");
            std::fs::write(&pdf, render(&glove, &labels(), paper).expect("prints"))
                .expect("written");
            let pages = print::render(&pdf, folder.path());
            assert!(!pages.is_empty());
            for (at, page) in pages.iter().enumerate() {
                let place = format!("{population:?} {paper:?} page {}", at + 1);
                if let Some((width, height)) = size {
                    let (w, h) = page.size_mm();
                    let upright = (w - width).abs() < 0.1 && (h - height).abs() < 0.1;
                    let lying = (w - height).abs() < 0.1 && (h - width).abs() < 0.1;
                    assert!(upright || lying, "{place}: {w} x {h} mm");
                }
                let bars = page.check_bars();
                for horizontal in [true, false] {
                    let found: Vec<_> =
                        bars.iter().filter(|bar| bar.is_horizontal == horizontal).collect();
                    assert_eq!(found.len(), 1, "{place}: {bars:?}");
                    assert!((found[0].length_mm - 100.0).abs() <= 0.2, "{place}: {bars:?}");
                }
            }
            let checked = Command::new("qpdf").arg("--check").arg(&pdf).output().expect("qpdf");
            let words = String::from_utf8_lossy(&checked.stdout).into_owned()
                + &String::from_utf8_lossy(&checked.stderr);
            assert!(checked.status.success() && !words.contains("WARNING"), "{words}");
        }
    }
}
