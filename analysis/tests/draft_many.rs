//! Every invariant on many hands of the model: women, men and children, both sides, every
//! construction, finish and cuff, three fabrics.

mod draft_hands;

use analysis::dimension::{Dimension, PerDimension};
use analysis::draft::{
    Bottom, Closure, Construction, Cuff, DraftError, Finish, Fourchettes, GloveOptions, Piece,
    draft, traced,
};
use analysis::fabric::{Behaviour, PressureLimits, TensionCurve};
use analysis::hand::Side;
use kurbo::{Line, PathEl, Point};

use draft_hands::person;

use analysis::model::{Basis, Estimate, HandEstimate, HandModel, Population, Sampler};

/// Standard normal deviates from a fixed seed (Box and Muller over a 64-bit xorshift).
fn deviates(mut seed: u64) -> impl FnMut() -> f64 {
    let mut uniform = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        ((seed >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    move || (-2.0 * uniform().ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos()
}

/// A hand sampled from a population.
fn sampled(sampler: &Sampler, deviate: &mut impl FnMut() -> f64) -> HandEstimate {
    let [_, right] = sampler.truth(deviate);
    HandEstimate::new(PerDimension::from_fn(|d: Dimension| {
        let mm = right[d.index()];
        Estimate { mm, low_mm: mm, high_mm: mm, basis: Basis::Measured }
    }))
}

/// A soft knit, a firm knit and cloth that does not stretch.
fn fabrics() -> [Behaviour; 3] {
    let linear = |stiffness_n_per_m| Some(TensionCurve::Linear { stiffness_n_per_m });
    [
        Behaviour { curve: linear(190.0), usable_across: 0.31, usable_along: 0.23, left: 0.01 },
        Behaviour { curve: linear(350.0), usable_across: 0.17, usable_along: 0.09, left: 0.02 },
        Behaviour { curve: None, usable_across: 0.02, usable_along: 0.02, left: 0.0 },
    ]
}

fn variants() -> Vec<GloveOptions> {
    let mut all = Vec::new();
    for construction in [Construction::TwoLayer, Construction::Fourchette] {
        for finish in [Finish::Full, Finish::OpenTips, Finish::ToEndJoint, Finish::ToMiddleJoint] {
            all.push(GloveOptions { construction, finish, ..GloveOptions::default() });
        }
        for cuff in [
            Cuff::Gauntlet { length_mm: 90.0, opening_girth_mm: 280.0 },
            Cuff::Long { height_mm: 180.0, girth_mm: 230.0, half_way_girth_mm: Some(200.0) },
        ] {
            all.push(GloveOptions {
                construction,
                cuff,
                closure: Closure::Casings,
                ..GloveOptions::default()
            });
        }
        all.push(GloveOptions {
            construction,
            bottom: Bottom::Sleeve { flat_width_mm: 70.0 },
            thumb_curve: 0.5,
            ..GloveOptions::default()
        });
    }
    let fourchette =
        GloveOptions { construction: Construction::Fourchette, ..GloveOptions::default() };
    let fourchettes = Fourchettes::PairsWithQuirks;
    all.push(GloveOptions { fourchettes, thumb_curve: 1.0, ..fourchette });
    for finish in [Finish::Full, Finish::OpenTips, Finish::ToEndJoint, Finish::ToMiddleJoint] {
        all.push(GloveOptions { fourchettes: Fourchettes::Forks, finish, ..fourchette });
    }
    all
}

/// 30,000 drafts of 10,000 hands. A hand the model draws from its tails may be refused with a
/// reason (one in two hundred at most), but never drafted unsoundly.
#[test]
fn many_hands_of_all_kinds_draft_soundly() {
    let model = HandModel::published();
    let mut populations =
        vec![Population::Women, Population::Men, Population::Women, Population::Men];
    populations.extend((3..=17).map(|age_years| Population::Child { age_years, sex: None }));
    let variants = variants();
    let mut deviate = deviates(20_260_314);
    let (mut drafted, mut refused, mut turn) = (0_usize, Vec::new(), 0_usize);
    for population in populations {
        let sampler = Sampler::new(&model, population).expect("a population of the model");
        let hands = if matches!(population, Population::Child { .. }) { 400 } else { 1000 };
        for _ in 0..hands {
            let hand = sampled(&sampler, &mut deviate);
            for fabric in fabrics() {
                turn += 1;
                let variant = variants[turn % variants.len()];
                let reduction = fabric.ease(&hand, &PressureLimits::default()).reduction();
                let options = GloveOptions { reduction, fabric: Some(fabric), ..variant };
                let side = if turn % 2 == 0 { Side::Left } else { Side::Right };
                match draft(&hand, side, &options) {
                    Ok(draft) => {
                        assert!(!draft.forecast.advice.to_string().is_empty());
                        drafted += 1;
                    }
                    Err(DraftError::Unsound(found)) => {
                        panic!("{population:?}, {options:?}: {found:?}\n{hand:?}")
                    }
                    Err(error) => {
                        refused.push(format!("{population:?} {:?}: {error}", variant.construction))
                    }
                }
            }
        }
    }
    println!("{drafted} drafted, {} refused", refused.len());
    let mut reasons = std::collections::BTreeMap::new();
    for reason in &refused {
        *reasons
            .entry(reason.chars().filter(|c| !c.is_ascii_digit()).collect::<String>())
            .or_insert(0) += 1;
    }
    for (reason, count) in reasons {
        println!("{count} x {reason}");
    }
    assert!(drafted > 29_500, "{drafted} drafts");
    assert!(
        refused.len() * 200 <= drafted,
        "{} refused, {drafted} drafted: {:#?}",
        refused.len(),
        &refused[..refused.len().min(12)]
    );
}

/// No text of a piece lies on a line or on another text, and none in the label area, for small and
/// large hands in every variant.
#[test]
fn text_never_overlaps_a_line() {
    for (sex, z) in [(0, -2.326), (0, 0.0), (1, 0.0), (1, 2.326)] {
        for options in variants() {
            for side in Side::BOTH {
                let draft = draft(&person(sex, z), side, &options).expect("percentiles draft");
                for piece in &draft.pieces {
                    let chords = chords(piece);
                    for mark in &piece.marks {
                        let corners = mark.corners();
                        let on = chords.iter().find(|c| touches(corners, **c));
                        assert!(
                            on.is_none(),
                            "{:?} {} '{}' on {on:?}",
                            options.finish,
                            piece.name,
                            mark.text
                        );
                    }
                    let r = piece.label_area;
                    let label = [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)];
                    let on = chords.iter().find(|c| touches(label.map(Point::from), **c));
                    assert!(on.is_none(), "{} label area on {on:?}", piece.name);
                }
            }
        }
    }
}

/// Every line of a piece, its grain included, as chords.
fn chords(piece: &Piece) -> Vec<Line> {
    let mut chords = vec![piece.grain];
    for (_, path) in &piece.lines {
        let (mut start, mut last) = (Point::ORIGIN, Point::ORIGIN);
        kurbo::flatten(path, 0.05, |el| match el {
            PathEl::MoveTo(p) => (start, last) = (p, p),
            PathEl::LineTo(p) => {
                chords.push(Line::new(last, p));
                last = p;
            }
            _ => chords.push(Line::new(last, start)),
        });
    }
    chords
}

/// Whether a chord enters a convex box: separated by none of the box's sides nor by the chord.
fn touches(corners: [Point; 4], chord: Line) -> bool {
    let axes = [corners[1] - corners[0], corners[3] - corners[0], (chord.p1 - chord.p0).turn_90()];
    axes.into_iter().all(|axis| {
        let range = |points: &[Point]| {
            points
                .iter()
                .map(|p| p.to_vec2().dot(axis))
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                    (low.min(v), high.max(v))
                })
        };
        let (a, b) = (range(&corners), range(&[chord.p0, chord.p1]));
        a.0 <= b.1 && b.0 <= a.1
    })
}

/// Against one border of 5 mm all round (common practice) on 2,000 sampled adult hands: both the
/// largest extension and the largest stand-off are smaller on at least 95 %.
#[test]
fn the_draft_sits_closer_than_a_traced_outline() {
    let model = HandModel::published();
    let options = GloveOptions::default();
    let mut better = 0;
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for population in [Population::Women, Population::Men] {
        let sampler = Sampler::new(&model, population).expect("adults");
        let mut deviate = deviates(7);
        for _ in 0..1000 {
            let hand = sampled(&sampler, &mut deviate);
            let forecast = draft(&hand, Side::Right, &options).expect("adults draft").forecast;
            let traced = traced(&hand, &options).expect("adults trace");
            let (e, s) = (forecast.largest_extension(), forecast.largest_stand_off_mm());
            if e < traced.largest_extension && s < traced.largest_stand_off_mm {
                better += 1;
            }
            ours.push((e, s));
            theirs.push((traced.largest_extension, traced.largest_stand_off_mm));
        }
    }
    let spread = |values: &[(f64, f64)]| {
        let at = |pick: fn(&(f64, f64)) -> f64| {
            let mut sorted: Vec<f64> = values.iter().map(pick).collect();
            sorted.sort_by(f64::total_cmp);
            [0.05, 0.5, 0.95].map(|q| sorted[(q * sorted.len() as f64) as usize])
        };
        (at(|v| 100.0 * v.0), at(|v| v.1))
    };
    println!("5th, 50th, 95th percentile of largest extension (%) and stand-off (mm)");
    println!(
        "drafted {:?}\ntraced  {:?}\nbetter on {better} of 2000",
        spread(&ours),
        spread(&theirs)
    );
    assert!(better >= 1900, "better on both for {better} of 2000");
}
