//! A lay of the invented company's gloves, checked by i_overlay (an independent library of boolean
//! operations on polygons): no two pieces overlap, every piece is on the cloth, the grain is kept.

use std::sync::atomic::{AtomicUsize, Ordering};

use analysis::draft::{GloveOptions, draft};
use analysis::hand::Side;
use analysis::model::HandModel;
use handcall::lay::outline;
use handcall::lay::search::{Cloth, Lay, LayError, bottom_left, search};
use handcall_tests::company;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::single::SingleFloatOverlay;
use kurbo::{Affine, Point};

/// Outlines of a cast's gloves, in chords of 0.2 mm.
#[expect(clippy::expect_used, reason = "the company's clean hands are drafted")]
fn cast(performers: usize) -> Vec<Vec<Point>> {
    let model = HandModel::published();
    let mut outlines = Vec::new();
    for performer in company::performers().iter().take(performers) {
        let filled = model.fill(performer.population, &analysis::hand::Hands::default());
        for side in Side::BOTH {
            let glove = draft(filled.side(side), side, &GloveOptions::default()).expect("drafted");
            outlines.extend(glove.pieces.iter().map(|p| outline(p, Affine::IDENTITY, 0.2)));
        }
    }
    outlines
}

fn moved(outlines: &[Vec<Point>], lay: &Lay) -> Vec<Vec<[f64; 2]>> {
    let place = |laid: &handcall::lay::search::Laid| {
        let points = outlines[laid.piece].iter().map(|p| laid.motion * *p);
        points.map(|p| [p.x, p.y]).collect()
    };
    lay.laid.iter().map(place).collect()
}

fn assert_sound(outlines: &[Vec<Point>], lay: &Lay, cloth: Cloth) {
    let mut seen: Vec<usize> = lay.laid.iter().map(|laid| laid.piece).collect();
    seen.sort_unstable();
    assert_eq!(seen, (0..outlines.len()).collect::<Vec<_>>(), "every piece once");
    for laid in &lay.laid {
        let [cos, sin, ..] = laid.motion.as_coeffs();
        let kept = sin.abs() < 1e-9 && (cos > 0.0 || cloth.may_lie_head_down);
        assert!(kept, "the grain is kept: {:?}", laid.motion);
    }
    let pieces = moved(outlines, lay);
    for (index, piece) in pieces.iter().enumerate() {
        for [x, y] in piece {
            let inside = *x >= 0.0 && *x <= cloth.width_mm && *y >= 0.0 && *y <= lay.length_mm;
            assert!(inside, "({x}, {y}) is off the cloth");
        }
        for other in &pieces[index + 1..] {
            let common = piece.overlay(other, OverlayRule::Intersect, FillRule::NonZero);
            assert!(common.is_empty(), "pieces overlap: {common:?}");
        }
    }
}

#[test]
fn no_pieces_overlap_and_the_search_is_never_worse_than_the_plain_fill() {
    let outlines = cast(8);
    for cloth in [
        Cloth { width_mm: 1400.0, gap_mm: 3.0, may_lie_head_down: true },
        Cloth { width_mm: 700.0, gap_mm: 0.0, may_lie_head_down: false },
    ] {
        let plain = bottom_left(&outlines, cloth).expect("laid");
        assert_sound(&outlines, &plain, cloth);
        let tries = AtomicUsize::new(0);
        let lay =
            search(&outlines, cloth, &|| tries.fetch_add(1, Ordering::Relaxed) as f64 / 3000.0)
                .expect("laid");
        assert_sound(&outlines, &lay, cloth);
        assert!(lay.length_mm <= plain.length_mm);
        assert!(lay.used >= plain.used && lay.used < 1.0);
        eprintln!(
            "{} mm: plain fill {:.1} %, search of 3,000 looks at the clock {:.1} %",
            cloth.width_mm,
            plain.used * 100.0,
            lay.used * 100.0
        );
    }
}

#[test]
fn cloth_that_is_too_narrow_says_how_wide_it_must_be() {
    let outlines = cast(1);
    let cloth = Cloth { width_mm: 100.0, gap_mm: 3.0, may_lie_head_down: true };
    let Err(LayError::TooWide(needed)) = bottom_left(&outlines, cloth) else {
        unreachable!("a glove of more than 100 mm");
    };
    assert!(bottom_left(&outlines, Cloth { width_mm: needed, ..cloth }).is_ok());
    assert_eq!(bottom_left(&[], cloth), Err(LayError::Nothing));
}
