//! On every construction, finish, cuff and closure, for small and large hands, both sides: no text lies
//! on a line, on a notch or on another text, and nothing leaves its piece's box.

use analysis::draft::{
    Bottom, Closure, Construction, Cuff, Finish, Fourchettes, GloveOptions, Piece, draft,
    european_chart,
};
use analysis::hand::{Hands, Side};
use analysis::model::{HandEstimate, HandModel, Population};
use kurbo::{BezPath, Shape as _};

use super::drawing::{piece_ink, printed_bounds};
use super::ink::{Group, Ink, Shape};
use super::placing::{Obstacles, text_box};
use super::sample;

fn hands() -> Vec<HandEstimate> {
    let model = HandModel::published();
    let child = |age_years| {
        let population = Population::Child { age_years, sex: None };
        model.fill(population, &Hands::default()).right
    };
    let mut all = vec![child(4)];
    all.extend(european_chart(&model).into_iter().skip(1).step_by(4).map(|size| size.hand));
    all
}

fn variants() -> Vec<GloveOptions> {
    let finishes = [Finish::Full, Finish::OpenTips, Finish::ToEndJoint, Finish::ToMiddleJoint];
    let mut all = Vec::new();
    for construction in [Construction::TwoLayer, Construction::Fourchette] {
        let plain = GloveOptions { construction, ..GloveOptions::default() };
        all.extend(finishes.map(|finish| GloveOptions { finish, ..plain }));
        let gauntlet = Cuff::Gauntlet { length_mm: 90.0, opening_girth_mm: 280.0 };
        let long = Cuff::Long { height_mm: 180.0, girth_mm: 230.0, half_way_girth_mm: Some(200.0) };
        all.push(GloveOptions { cuff: gauntlet, closure: Closure::CasingsWithElastic, ..plain });
        all.push(GloveOptions { cuff: long, closure: Closure::CasingsWithLoop, ..plain });
        let bottom = Bottom::Sleeve { flat_width_mm: 70.0 };
        all.push(GloveOptions { bottom, thumb_curve: 1.0, ..plain });
        all.push(GloveOptions { closure: Closure::Casings, seam_allowance_mm: 6.0, ..plain });
    }
    let construction = Construction::Fourchette;
    for fourchettes in [Fourchettes::Forks, Fourchettes::PairsWithQuirks] {
        let plain = GloveOptions { construction, fourchettes, ..GloveOptions::default() };
        all.extend(finishes.map(|finish| GloveOptions { finish, ..plain }));
    }
    all
}

/// Texts of a drawing that lie on something, with what they say.
fn overlapping(ink: &Ink) -> Vec<String> {
    let mut lines = Obstacles::default();
    for (_, shape) in ink.shapes() {
        if let Shape::Stroke(path) | Shape::Fill(path) = shape {
            lines.add_path(path);
        }
    }
    let mut texts = Obstacles::default();
    let mut found = Vec::new();
    for (group, shape) in ink.shapes() {
        let Shape::Text { at, angle, cap_mm, anchor, text } = shape else { continue };
        let corners = text_box(*at, *angle, *anchor, *cap_mm, text);
        if !lines.is_free(corners) || !texts.is_free(corners) {
            found.push(format!("{} '{text}' at {at:?}", group.key()));
        }
        texts.add_text(corners);
    }
    found
}

fn every_piece(mut look: impl FnMut(&Piece, Side, &GloveOptions)) {
    for hand in hands() {
        for options in variants() {
            for side in Side::BOTH {
                // A small hand may have no room for a wide allowance; that is said, not drawn.
                let Ok(made) = draft(&hand, side, &options) else { continue };
                made.pieces.iter().for_each(|piece| look(piece, side, &options));
            }
        }
    }
}

#[test]
fn every_piece_can_be_read() {
    let (mut pieces, mut faults) = (0, Vec::new());
    every_piece(|piece, side, options| {
        pieces += 1;
        let ink = piece_ink(piece, side, &sample::labels());
        let GloveOptions { finish, closure, fourchettes, .. } = options;
        let mut fault = |what: String| {
            faults.push(format!(
                "{}: {what}, {side:?} {finish:?} {closure:?} {fourchettes:?}",
                piece.name
            ));
        };
        overlapping(&ink).into_iter().for_each(&mut fault);
        // No number of a notch is left out for want of room.
        let is_text = |shape: &&Shape| matches!(shape, Shape::Text { .. });
        let numbers = ink.group(Group::Notches).filter(is_text).count();
        let asked = piece.notches.iter().filter(|notch| !notch.label.is_empty()).count();
        if numbers != asked {
            fault(format!("{numbers} of {asked} notch numbers"));
        }
        // Every piece but the smallest says what it is and how often it is cut.
        let area = piece.label_area;
        let is_small =
            area.width().min(area.height()) < 2.7 || area.width().max(area.height()) < 20.0;
        let says_cut =
            |shape: &Shape| matches!(shape, Shape::Text { text, .. } if text.contains("cut "));
        if !is_small && !ink.group(Group::Labels).any(says_cut) {
            fault(format!("no label in {area:?}"));
        }
        // Pieces lie beside each other by their boxes: nothing is drawn beyond them.
        let bounds = printed_bounds(piece);
        let leaves = |shape: &Shape| match shape {
            Shape::Stroke(path) | Shape::Fill(path) => bounds.union(path.bounding_box()) != bounds,
            Shape::Text { .. } => false,
        };
        if ink.shapes().any(|(_, shape)| leaves(shape)) {
            fault(format!("a line beyond {bounds:?}"));
        }
    });
    assert!(pieces > 500, "{pieces} pieces looked at");
    let first = &faults[..faults.len().min(60)];
    assert!(faults.is_empty(), "{} of {pieces}: {first:#?}", faults.len());
}

/// The test above finds a text on a line.
#[test]
fn a_text_on_a_line_is_found() {
    let mut ink = Ink::default();
    ink.stroke(Group::Seam, BezPath::from_svg("M0 0L30 0").expect("a path"));
    let place = |y: f64| (kurbo::Point::new(5.0, y), 0.0, super::ink::Anchor::Start);
    ink.text(Group::Marks, place(2.0), 3.0, "palm");
    assert_eq!(overlapping(&ink), Vec::<String>::new());
    ink.text(Group::Marks, place(-1.0), 3.0, "hem");
    assert_eq!(overlapping(&ink).len(), 1);
}
