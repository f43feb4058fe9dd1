//! The check of every draft finds what was spoilt: one fault planted at a time.

#![expect(clippy::expect_used, reason = "a test that cannot spoil what it means to must fail")]

mod draft_hands;

use analysis::draft::{Construction, Draft, GloveOptions, Layer, PieceKind, Violation, draft};
use analysis::hand::Side;
use kurbo::{Affine, BezPath, ParamCurveNearest, PathEl, Point};

use draft_hands::person;

fn glove() -> Draft {
    let options =
        GloveOptions { construction: Construction::Fourchette, ..GloveOptions::default() };
    draft(&person(0, 0.0), Side::Right, &options).expect("a median hand drafts")
}

fn line(draft: &mut Draft, piece: usize, layer: Layer) -> &mut BezPath {
    let lines = draft.pieces[piece].lines.iter_mut();
    lines.filter(|(l, _)| *l == layer).map(|(_, path)| path).next().expect("the line")
}

fn spoilt(spoil: impl FnOnce(&mut Draft)) -> Vec<Violation> {
    let mut draft = glove();
    spoil(&mut draft);
    draft.check()
}

#[test]
fn a_sound_draft_has_nothing_to_find() {
    assert_eq!(glove().check(), []);
}

#[test]
fn a_cut_edge_too_near_its_seam_line_is_found() {
    let moved = Affine::translate((0.6, 0.0));
    let found = spoilt(|draft| line(draft, 0, Layer::Hole).apply_affine(moved));
    assert!(
        matches!(found[..], [Violation::Allowance { left_mm, .. }] if left_mm < 2.8),
        "{found:?}"
    );
    let strip = glove().pieces.iter().position(|p| p.kind == PieceKind::Fourchette).expect("strip");
    for piece in [0, 1, strip] {
        let found = spoilt(|draft| line(draft, piece, Layer::Cut).apply_affine(moved));
        assert!(matches!(found[..], [Violation::Allowance { .. }]), "{piece}: {found:?}");
    }
}

#[test]
fn seams_that_differ_and_girths_that_are_off_are_found() {
    let found = spoilt(|draft| draft.seams[0].first_mm += 0.6);
    assert!(matches!(found[..], [Violation::SeamLength { .. }]), "{found:?}");
    let found = spoilt(|draft| draft.levels[0].girth_mm += 1.2);
    assert!(matches!(found[..], [Violation::Girth { .. }]), "{found:?}");
}

#[test]
fn open_crossing_and_broken_lines_are_found() {
    let found = spoilt(|draft| {
        line(draft, 1, Layer::Seam).pop();
    });
    assert!(found.iter().any(|v| matches!(v, Violation::Open { .. })), "{found:?}");
    let found = spoilt(|draft| {
        let seam = line(draft, 0, Layer::Seam);
        let far = Point::new(0.0, -200.0);
        let elements: Vec<PathEl> = seam.elements().to_vec();
        let (before, after) = elements.split_at(elements.len() / 3);
        *seam = before
            .iter()
            .copied()
            .chain([PathEl::LineTo(far)])
            .chain(after.iter().copied())
            .collect();
    });
    assert!(found.iter().any(|v| matches!(v, Violation::Crossing { .. })), "{found:?}");
    let found = spoilt(|draft| {
        line(draft, 0, Layer::Seam).apply_affine(Affine::translate((f64::NAN, 0.0)));
    });
    assert!(found.iter().any(|v| matches!(v, Violation::NotFinite { .. })), "{found:?}");
}

#[test]
fn sharp_bends_lost_marks_and_labels_off_the_cloth_are_found() {
    let found = spoilt(|draft| {
        for (_, path) in &mut draft.pieces[1].lines {
            path.apply_affine(Affine::scale_non_uniform(0.2, 1.0));
        }
    });
    assert!(
        found.iter().any(|v| matches!(v, Violation::Sharp { radius_mm, .. } if *radius_mm < 3.0)),
        "{found:?}"
    );
    let found = spoilt(|draft| draft.pieces[0].notches.retain(|n| n.label != "T4"));
    assert!(matches!(found[..], [Violation::ThumbMarks { .. }]), "{found:?}");
    let found = spoilt(|draft| draft.pieces[0].label_area.x1 += 300.0);
    assert!(matches!(found[..], [Violation::Label { .. }]), "{found:?}");
    let found = spoilt(|draft| draft.crotch_width_mm += 1.0);
    assert!(found.iter().any(|v| matches!(v, Violation::FingersTooClose { .. })), "{found:?}");
}

/// Measured with kurbo's nearest point rather than by the check: the thumb hole's cut edge keeps the
/// whole allowance from its seam line for every curve and size, and is not cut away needlessly.
#[test]
fn the_thumb_hole_keeps_the_whole_allowance() {
    for sex in [0, 1] {
        for z in [-2.326, 0.0, 2.326] {
            for (thumb_curve, allowance) in
                [(0.0, 3.0), (0.0, 5.0), (0.5, 3.0), (1.0, 6.0), (0.0, 8.0)]
            {
                let options = GloveOptions {
                    thumb_curve,
                    seam_allowance_mm: allowance,
                    ..GloveOptions::default()
                };
                let made = draft(&person(sex, z), Side::Right, &options).expect("a draft");
                let body = &made.pieces[0];
                let hole = body.outline(Layer::Hole).expect("a hole");
                let seam: Vec<_> = body
                    .lines
                    .iter()
                    .filter(|(layer, _)| *layer == Layer::Seam)
                    .nth(1)
                    .map(|(_, path)| path.segments().collect())
                    .expect("its seam line");
                let mut nearest = f64::INFINITY;
                for segment in hole.segments() {
                    for i in 0..20 {
                        let p = kurbo::ParamCurve::eval(&segment, f64::from(i) / 20.0);
                        let left = seam.iter().map(|s| s.nearest(p, 1e-4).distance_sq);
                        nearest = nearest.min(left.fold(f64::INFINITY, f64::min).sqrt());
                    }
                }
                assert!((nearest - allowance).abs() < 0.02, "{nearest} of {allowance} mm left");
            }
        }
    }
}
