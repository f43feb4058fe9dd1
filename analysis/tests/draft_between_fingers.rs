//! Pieces between the fingers of a fourchette glove: pairs, forks and quirks.

#![expect(clippy::expect_used, reason = "a test that cannot find what it measures must fail")]

mod draft_hands;

use analysis::draft::{
    Construction, Draft, Finish, Fourchettes, GloveOptions, Layer, Piece, PieceKind, draft,
};
use analysis::hand::Side;
use kurbo::{ParamCurve, ParamCurveArclen, PathSeg, Shape};

use draft_hands::person;

/// 1st, 50th and 99th percentile.
const PERCENTILES: [f64; 3] = [-2.326, 0.0, 2.326];

const FINISHES: [Finish; 4] =
    [Finish::Full, Finish::OpenTips, Finish::ToEndJoint, Finish::ToMiddleJoint];

fn gloves(options: GloveOptions) -> Vec<Draft> {
    let mut all = Vec::new();
    for sex in [0, 1] {
        for z in PERCENTILES {
            for finish in FINISHES {
                let options =
                    GloveOptions { construction: Construction::Fourchette, finish, ..options };
                let made = draft(&person(sex, z), Side::Right, &options).expect("a draft");
                assert_eq!(made.check(), []);
                all.push(made);
            }
        }
    }
    all
}

fn between(draft: &Draft) -> impl Iterator<Item = &Piece> {
    draft.pieces.iter().filter(|piece| piece.kind == PieceKind::Fourchette)
}

/// Length of a piece's seam line by kurbo's arc length, mm.
fn round(piece: &Piece) -> f64 {
    let seam = piece.outline(Layer::Seam).expect("a seam line");
    seam.segments().map(|segment| segment.arclen(1e-4)).sum()
}

/// Seams of a piece by its name: the edges that are sewn to fingers.
fn sewn(draft: &Draft, piece: &Piece) -> f64 {
    let own = draft.seams.iter().filter(|seam| seam.name.starts_with(&piece.name));
    own.map(|seam| seam.second_mm).sum()
}

/// Straight lines of a seam line that face the top of an open finger.
fn tops(piece: &Piece, count: usize) -> f64 {
    let seam = piece.outline(Layer::Seam).expect("a seam line");
    let mut lengths: Vec<f64> = seam
        .segments()
        .filter_map(|segment| match segment {
            PathSeg::Line(line) => Some(line.length()),
            _ => None,
        })
        .collect();
    lengths.sort_by(f64::total_cmp);
    lengths.iter().rev().take(count).sum()
}

/// A fork's whole outline is its four edges, measured on the piece against what they are sewn to.
#[test]
fn a_fork_is_as_long_round_as_the_four_finger_edges_it_is_sewn_to() {
    let forks = GloveOptions { fourchettes: Fourchettes::Forks, ..GloveOptions::default() };
    for made in gloves(forks) {
        assert_eq!(between(&made).count(), 3);
        for piece in between(&made) {
            assert_eq!(piece.cut, 1);
            let (own, fingers) = (round(piece), sewn(&made, piece));
            let open = own - fingers;
            // Closed fingers end in points; open ones leave two straight tops free.
            assert!((-0.5..2.0 * 17.0).contains(&open), "{}: {own} and {fingers}", piece.name);
            if made.forecast.zones.len() > 12 && open > 0.5 {
                assert!(tops(piece, 2) > 0.0);
            }
        }
    }
}

/// Half of a crotch's floor belongs to each of the two strips that meet there: the strip goes on for
/// half a floor (two stitches of 1.5 mm here) beyond the mark where it turns round the corner.
#[test]
fn strips_cover_the_floor_of_the_crotch_as_well_as_the_walls() {
    let options =
        GloveOptions { crotch_stitches: 2, stitch_length_mm: 1.5, ..GloveOptions::default() };
    for made in gloves(options) {
        for piece in between(&made) {
            let seam = piece.outline(Layer::Seam).expect("a seam line");
            let ends: Vec<_> = seam.segments().map(|segment| segment.start()).collect();
            let turns: Vec<_> = piece.notches.iter().filter(|n| n.label.is_empty()).collect();
            assert_eq!(turns.len(), 2, "{}", piece.name);
            for turn in turns {
                let nearest =
                    ends.iter().map(|p| (*p - turn.at).hypot()).fold(f64::INFINITY, f64::min);
                assert!((nearest - 1.5).abs() < 0.02, "{}: {nearest} mm to the root", piece.name);
            }
        }
    }
}

/// The outer faces of the two strips of a space look at each other: one is the other's mirror image.
#[test]
fn the_two_strips_of_a_space_are_mirror_images() {
    let options =
        GloveOptions { construction: Construction::Fourchette, ..GloveOptions::default() };
    let made = draft(&person(0, 0.0), Side::Right, &options).expect("a fourchette glove");
    let palm_side = |piece: &Piece| {
        let mark = piece.marks.iter().find(|mark| mark.text == "palm").expect("palm edge named");
        mark.corners()[0].x < 0.0
    };
    let sides: Vec<bool> = between(&made).map(palm_side).collect();
    assert_eq!(sides, [false, true, false, true, false, true], "palm edge on the left");
}

/// A quirk is a gusset in a straight seam: two of its edges are as long as each root it is set into,
/// measured on the piece.
#[test]
fn a_quirk_fits_the_roots_of_its_fourchettes() {
    let options =
        GloveOptions { fourchettes: Fourchettes::PairsWithQuirks, ..GloveOptions::default() };
    for made in gloves(options) {
        let quirk =
            made.pieces.iter().find(|piece| piece.kind == PieceKind::Quirk).expect("a quirk");
        assert_eq!(quirk.cut, 3, "one a space");
        let roots: Vec<f64> = made
            .seams
            .iter()
            .filter(|seam| seam.name.starts_with("two edges of the quirk"))
            .map(|seam| seam.second_mm)
            .collect();
        assert_eq!(roots.len(), 6);
        for root in roots {
            assert!((round(quirk) / 2.0 - root).abs() < 0.5, "{} and {root}", round(quirk));
        }
        let marked = between(&made).filter(|piece| piece.notches.iter().any(|n| n.label == "Q"));
        assert_eq!(marked.count(), 6);
        let area = quirk.outline(Layer::Cut).expect("a cut line").area().abs();
        assert!(area > quirk.outline(Layer::Seam).expect("a seam line").area().abs());
    }
}
