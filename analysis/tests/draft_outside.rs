//! Drafts against figures published by others. Each test names its source.

mod draft_hands;

use analysis::dimension::Dimension as D;
use analysis::draft::{
    Construction, Digit, Draft, GIRTH_TO_BREADTH, GloveOptions, Layer, MASTER_TOLERANCE, Zone,
    draft, master,
};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use kurbo::{ParamCurve, PathSeg};

use draft_hands::{hand, person};

fn glove_girth(draft: &Draft, zone: Zone) -> f64 {
    let fit = draft.forecast.zones.iter().find(|fit| fit.zone == zone);
    fit.map_or(f64::NAN, |fit| fit.glove_mm)
}

/// Finger breadths and girths at the middle joint, Greiner 1991 (NATICK/TR-92/011): index and middle
/// of women; index, middle, ring and little of men. A breadth times the ratio that the traced glove
/// is compared with gives the published girth back within 4 %.
#[test]
fn a_traced_breadth_gives_the_published_girth_back() {
    let published =
        [(19.9, 61.2), (19.3, 61.3), (23.0, 68.4), (22.5, 69.6), (21.4, 64.9), (19.2, 57.8)];
    for (breadth, girth) in published {
        let back = breadth * GIRTH_TO_BREADTH;
        assert!((back / girth - 1.0).abs() < 0.04, "{breadth} mm gives {back}, not {girth}");
    }
}

/// Knitting patterns give fingers 15, 15, 12 and 11 of 53 stitches, and cast on 3 more at each side
/// that faces a neighbour. The girth of our fingers over the girth of the palm lies between the bare
/// share and the share with both, give or take 3 %.
#[test]
fn finger_shares_agree_with_knitted_gloves() {
    for construction in [Construction::TwoLayer, Construction::Fourchette] {
        let options = GloveOptions { construction, ..GloveOptions::default() };
        for sex in [0, 1] {
            let draft = draft(&person(sex, 0.0), Side::Right, &options).expect("a median hand");
            let palm = glove_girth(&draft, Zone::Palm);
            for (digit, stitches) in Digit::FINGERS.into_iter().zip([15.0, 15.0, 12.0, 11.0]) {
                let share = glove_girth(&draft, Zone::Knuckle(digit)) / palm;
                let (low, high) = (stitches / 53.0 - 0.03, (stitches + 6.0) / 53.0 + 0.03);
                assert!((low..high).contains(&share), "{}: {share}", digit.name());
            }
        }
    }
}

/// Snyder 1977: the smallest round hole a hand passes is .82 of hand breadth across. The median
/// woman of Greiner 1991 (breadth 79.5, wrist 151.4) then needs a wrist of 204.8 mm, which is half
/// as much again as a wrist reduced by a tenth.
#[test]
fn a_closed_wrist_is_held_against_the_smallest_hole_the_hand_passes() {
    let made =
        draft(&person(0, 0.0), Side::Right, &GloveOptions::default()).expect("a median hand");
    let needed = 204.8 / (151.4 * 0.9) - 1.0;
    assert!((made.forecast.wrist_passing_extension - needed).abs() < 0.002);
    let stiff = GloveOptions { usable_extension: 0.45, ..GloveOptions::default() };
    let asked = draft(&person(0, 0.0), Side::Right, &stiff).expect("a draft");
    assert!(
        asked.remarks.iter().any(|r| r.contains("opening at the wrist")),
        "{:?}",
        asked.remarks
    );
    assert!(!made.remarks.iter().any(|r| r.contains("opening at the wrist")));
}

/// EN 420:2003+A1:2009, sizes 6 to 11: a glove can be drafted for each size of the chart from its
/// girth and length alone, and each is wider and longer than the one before.
#[test]
fn every_size_of_the_european_chart_drafts() {
    let chart = [
        (152.0, 160.0),
        (178.0, 171.0),
        (203.0, 182.0),
        (229.0, 192.0),
        (254.0, 204.0),
        (279.0, 215.0),
    ];
    let model = HandModel::published();
    for construction in [Construction::TwoLayer, Construction::Fourchette] {
        let options = GloveOptions { construction, ..GloveOptions::default() };
        let mut before = (0.0, 0.0);
        for (girth, length) in chart {
            let hands = Hands::from_readings(&[
                (Side::Right, D::HandGirth, girth),
                (Side::Right, D::HandLength, length),
            ]);
            let filled = model.fill(Population::Adults, &hands);
            let draft = draft(&filled.right, Side::Right, &options)
                .unwrap_or_else(|e| panic!("girth {girth}: {e}"));
            let now = (glove_girth(&draft, Zone::Palm), draft.pieces[0].bounds().y1);
            assert!(now.0 > before.0 && now.1 > before.1, "girth {girth}");
            before = now;
        }
    }
}

/// No spike of curvature: along every seam line the tangent turns at most a third of a radian for
/// each millimetre (a radius of 3 mm), joints between cubics included, save at true corners.
#[test]
fn seam_lines_bend_smoothly() {
    for construction in [Construction::TwoLayer, Construction::Fourchette] {
        let options = GloveOptions { construction, ..GloveOptions::default() };
        let draft = draft(&person(1, 1.0), Side::Right, &options).expect("a man");
        for piece in &draft.pieces {
            for (_, path) in piece.lines.iter().filter(|(layer, _)| *layer == Layer::Seam) {
                let segments: Vec<PathSeg> = path.segments().collect();
                let joints = segments.iter().zip(segments.iter().cycle().skip(1));
                for (a, b) in joints {
                    let turn = |u: kurbo::Vec2, v: kurbo::Vec2| u.cross(v).atan2(u.dot(v)).abs();
                    let (before, after) = (a.to_cubic(), b.to_cubic());
                    let joint = turn(before.p3 - before.p2, after.p1 - after.p0).to_degrees();
                    assert!(!(0.5..=15.0).contains(&joint), "{}: kink of {joint} deg", piece.name);
                    let PathSeg::Cubic(_) = a else { continue };
                    let step = 0.02;
                    for i in 0..49 {
                        let t = f64::from(i) * step;
                        let [p, q, r] = [t, t + step / 2.0, t + step].map(|t| a.eval(t));
                        let length = (r - p).hypot();
                        if length > 0.05 {
                            let bend = turn(q - p, r - q) / (length / 2.0);
                            assert!(bend < 0.36, "{}: {bend} rad/mm at {q:?}", piece.name);
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn one_master_serves_both_hands_when_they_are_alike() {
    let right = person(0, 0.0);
    let alike = hand(|d| right.mm(d) * 0.985);
    let master_hand = master(&alike, &right, MASTER_TOLERANCE).expect("alike");
    for d in D::ALL {
        assert!((master_hand.mm(d) - right.mm(d)).abs() < 1e-9, "the larger of both");
    }
    let swollen = hand(|d| if d == D::RingKnuckleGirth { 64.0 } else { right.mm(d) });
    assert_eq!(master(&swollen, &right, MASTER_TOLERANCE), None);
}
