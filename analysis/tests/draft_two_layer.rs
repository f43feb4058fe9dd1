//! What must hold for the two-layer glove, and what published figures and common practice say of it.

#![expect(clippy::expect_used, reason = "a test that cannot find what it measures must fail")]

mod draft_hands;

use analysis::dimension::Dimension as D;
use analysis::draft::{Digit, Draft, GloveOptions, Layer, PieceKind, Zone, draft};
use analysis::hand::Side;
use kurbo::{ParamCurveArclen, Shape};

use draft_hands::{hand, person};

/// 1st, 5th, 50th, 95th and 99th percentile of a normal distribution.
const PERCENTILES: [f64; 5] = [-2.326, -1.645, 0.0, 1.645, 2.326];

fn median_woman() -> Draft {
    draft(&person(0, 0.0), Side::Right, &GloveOptions::default()).expect("a median hand drafts")
}

/// Length of the path of a layer that comes `n`th on a piece, by kurbo's arc length.
fn length(draft: &Draft, kind: PieceKind, layer: Layer, n: usize) -> f64 {
    let piece = draft.pieces.iter().find(|p| p.kind == kind).expect("piece");
    let (_, path) = piece.lines.iter().filter(|(l, _)| *l == layer).nth(n).expect("line");
    path.segments().map(|s| s.arclen(1e-4)).sum()
}

#[test]
fn small_to_large_hands_of_both_sexes_and_sides_draft_without_violation() {
    for sex in [0, 1] {
        for z in PERCENTILES {
            for side in Side::BOTH {
                let draft = draft(&person(sex, z), side, &GloveOptions::default())
                    .unwrap_or_else(|e| panic!("sex {sex}, z {z}: {e}"));
                assert_eq!(draft.check(), []);
                assert_eq!(draft.side, side);
            }
        }
    }
}

/// The hole's outline is measured on the piece; the base is the thumb outline less its two sides,
/// measured between the marks T1 at both ends.
#[test]
fn thumb_hole_and_thumb_base_agree_within_half_a_millimetre() {
    for sex in [0, 1] {
        for z in [-1.645, 0.0, 1.645] {
            let draft =
                draft(&person(sex, z), Side::Right, &GloveOptions::default()).expect("draft");
            let hole = length(&draft, PieceKind::PalmAndBack, Layer::Seam, 1);
            let thumb = &draft.pieces[1];
            let seam = &thumb.lines.iter().find(|(l, _)| *l == Layer::Seam).expect("seam").1;
            let base: f64 = seam
                .segments()
                .filter(|s| s.bounding_box().y1 < 1e-6)
                .map(|s| s.arclen(1e-4))
                .sum();
            assert!((hole - base).abs() < 0.5, "sex {sex}, z {z}: hole {hole}, base {base}");
            let asked = person(sex, z).mm(D::ThumbRootGirth) * 0.95;
            assert!((hole - asked).abs() < 0.5, "hole {hole}, girth after ease {asked}");
        }
    }
}

#[test]
fn the_left_glove_is_the_right_one_mirrored() {
    let right = median_woman();
    let left = draft(&person(0, 0.0), Side::Left, &GloveOptions::default()).expect("draft");
    for (a, b) in right.pieces.iter().zip(&left.pieces) {
        for ((_, p), (_, q)) in a.lines.iter().zip(&b.lines) {
            let mut mirrored = q.clone();
            mirrored.apply_affine(kurbo::Affine::FLIP_X);
            assert_eq!(*p, mirrored);
        }
    }
    assert_eq!(right.forecast, left.forecast);
}

#[test]
fn the_same_hand_gives_the_same_draft() {
    assert_eq!(format!("{:?}", median_woman()), format!("{:?}", median_woman()));
}

/// Common practice, no source: a traced stretch glove carries a border of 5 mm. The border our
/// draft implies is half of flat width less finger breadth; breadth from the published ratio of
/// knuckle girth to breadth (2.97 to 3.18, Greiner 1991; 3.075 is its middle).
#[test]
fn the_implied_border_of_a_median_hand_lies_between_4_and_6_mm_at_mid_finger() {
    for sex in [0, 1] {
        let hand = person(sex, 0.0);
        let draft = draft(&hand, Side::Right, &GloveOptions::default()).expect("draft");
        for (digit, d) in [
            (Digit::Index, D::IndexKnuckleGirth),
            (Digit::Middle, D::MiddleKnuckleGirth),
            (Digit::Ring, D::RingKnuckleGirth),
        ] {
            let girth = hand.mm(d);
            let zone =
                draft.forecast.zones.iter().find(|z| z.zone == Zone::Knuckle(digit)).expect("zone");
            let border = (zone.glove_mm / 2.0 - girth / 3.075) / 2.0;
            assert!((4.0..6.0).contains(&border), "sex {sex}, {}: {border}", d.name());
        }
    }
}

#[test]
fn crotches_are_flat_and_three_stitches_wide() {
    let draft = median_woman();
    assert!((draft.crotch_width_mm - 6.0).abs() < 1e-12);
    let seam = &draft.pieces[0].lines.iter().find(|(l, _)| *l == Layer::Seam).expect("seam").1;
    let floors = seam
        .segments()
        .filter(|s| matches!(s, kurbo::PathSeg::Line(l) if (l.length() - 6.0).abs() < 1e-6))
        .count();
    assert_eq!(floors, 6, "three crotches on the palm and three on the back");
}

#[test]
fn impossible_hands_and_options_are_refused_with_the_reason() {
    let long_finger = hand(|d| if d == D::MiddleLength { 260.0 } else { person(0, 0.0).mm(d) });
    let error = draft(&long_finger, Side::Right, &GloveOptions::default()).expect_err("refused");
    assert!(error.to_string().contains("Middle finger length"), "{error}");
    let options = GloveOptions { seam_allowance_mm: -1.0, ..GloveOptions::default() };
    let error = draft(&person(0, 0.0), Side::Right, &options).expect_err("refused");
    assert!(error.to_string().contains("Seam allowance"), "{error}");
    let nothing = hand(|_| f64::NAN);
    assert!(draft(&nothing, Side::Right, &GloveOptions::default()).is_err());
}
