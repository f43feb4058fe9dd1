//! What stands between two fingers: a pair of fourchettes with or without a quirk, or one fork.

use kurbo::{Affine, CubicBez, Line, Point, Rect, Vec2};

use super::cut_line::Corner;
use super::outline::{self, Run, line, reversed};
use super::piece::{Mark, Notch, NotchKind, Piece, PieceKind, SeamPair};
use super::strip::{STRIP_TEXT_MM, Strip, around};
use super::{Fourchettes, GloveOptions};

/// Width of a quirk across, mm (assumed: what fingers spread without pulling at the seam).
const QUIRK_WIDTH_MM: f64 = 8.0;

/// Longest quirk over the two edges it is sewn to (assumed: straighter edges pucker less).
const QUIRK_WIDTH_MOST: f64 = 0.7;

/// Pieces with the levels on them, and the seams between and beside them.
#[derive(Debug, Clone, Default)]
pub(super) struct Gussets {
    /// Each piece with lines across it and half its width there.
    pub(super) pieces: Vec<(Piece, Vec<(Line, f64)>)>,
    /// Seams.
    pub(super) seams: Vec<SeamPair>,
}

/// The pieces for all spaces. `strips` are the two of each space in turn.
pub(super) fn gussets(strips: &[Strip], options: &GloveOptions) -> Gussets {
    let mut all = Gussets::default();
    for space in strips.chunks_exact(2) {
        let [far, near] = space else { continue };
        if options.fourchettes == Fourchettes::Forks {
            let (piece, levels) = fork(far, near, options);
            all.seams.extend(far.seams(&piece.name).chain(near.seams(&piece.name)));
            all.pieces.push((piece, levels));
            continue;
        }
        for strip in space {
            all.seams.extend(strip.seams(&strip.name()));
            all.pieces.push(strip.piece(options));
        }
        if options.fourchettes == Fourchettes::Pairs {
            all.seams.push(SeamPair {
                name: format!("root of {} to root of {}", far.name(), near.name()),
                first_mm: far.root_length(),
                second_mm: near.root_length(),
                eased_mm: 0.0,
            });
        }
    }
    if options.fourchettes == Fourchettes::PairsWithQuirks
        && let Some(first) = strips.first()
    {
        let (piece, edge) = quirk(first.root_length(), options);
        all.seams.extend(strips.iter().map(|strip| SeamPair {
            name: format!("two edges of the quirk to root of {}", strip.name()),
            first_mm: 2.0 * edge,
            second_mm: strip.root_length(),
            eased_mm: 0.0,
        }));
        all.pieces.push((piece, Vec::new()));
    }
    all
}

/// Both strips of a space as one piece: the near side's upright, the far side's turned about the
/// root they share. The corner at the palm points into the piece, the one at the back out of it.
fn fork(far: &Strip, near: &Strip, options: &GloveOptions) -> (Piece, Vec<(Line, f64)>) {
    let [palm_root, back_root] = near.root();
    let turn = onto(far.root(), near.root());
    let moved = |run: &Run| -> Run { run.iter().map(|c| turn * *c).collect() };
    let backwards = |run: &Run| -> Run { run.iter().rev().copied().map(reversed).collect() };
    let (mut far_palm, mut far_back) = (moved(&far.edges[0]), moved(&far.edges[1]));
    // Both roots are as long to a hundredth of a millimetre; the last straight pieces meet exactly.
    for (run, root) in [(&mut far_palm, palm_root), (&mut far_back, back_root)] {
        if let Some(last) = run.last_mut() {
            *last = line(last.p0, root);
        }
    }
    let mut runs = vec![near.edges[0].clone(), backwards(&far_palm)];
    runs.extend(far.top().map(|top| vec![reversed(turn * top)]));
    runs.push(far_back);
    runs.push(backwards(&near.edges[1]));
    runs.extend(near.top().map(|top| vec![top]));
    let along = (back_root - palm_root).normalize();
    let across = Vec2::new(-along.y, along.x);
    let corner = Corner::Inner { across, level: palm_root.to_vec2().dot(across) };
    let mut notches = near.notches.clone();
    notches.extend(far.notches.iter().map(|notch| Notch {
        at: turn * notch.at,
        outward: turned(turn, notch.outward),
        ..notch.clone()
    }));
    let mut marks = near.marks.clone();
    marks.extend(far.text_place.map(|place| arm_name(turn, place, far)));
    let mut levels = near.levels.clone();
    levels.extend(far.levels.iter().map(|(level, half)| (turn * *level, *half)));
    let piece = Piece {
        kind: PieceKind::Fourchette,
        name: format!(
            "Fork {} {}, {} and {}",
            far.label,
            near.label,
            far.digit.name(),
            near.digit.name()
        ),
        cut: 1,
        lines: around(runs, options.seam_allowance_mm, Some((0, corner))),
        on_fold: false,
        notches,
        marks,
        label_area: near.label_area,
        grain: near.grain,
        allowance_mm: options.seam_allowance_mm,
    };
    (piece, levels)
}

/// The rigid motion and reflection that lays one root on another, bodies on either side.
fn onto(from: [Point; 2], to: [Point; 2]) -> Affine {
    let angle = |[a, b]: [Point; 2]| (b - a).atan2();
    Affine::translate(to[0].to_vec2())
        * Affine::rotate(angle(to))
        * Affine::FLIP_Y
        * Affine::rotate(-angle(from))
        * Affine::translate(-from[0].to_vec2())
}

fn turned(motion: Affine, v: Vec2) -> Vec2 {
    (motion * v.to_point()) - (motion * Point::ORIGIN)
}

/// The finger's name along the arm of a fork, not upside down.
fn arm_name(turn: Affine, place: Point, strip: &Strip) -> Mark {
    let text = strip.label.clone();
    let arm = turned(turn, Vec2::new(0.0, 1.0));
    let along = if arm.x < 0.0 { -arm } else { arm };
    let mark = Mark { at: Point::ORIGIN, angle: along.atan2(), size_mm: STRIP_TEXT_MM, text };
    let [a, _, c, _] = mark.corners();
    let at = (turn * place) - a.midpoint(c).to_vec2();
    Mark { at, ..mark }
}

/// A diamond whose sides are half a root each, and the length of a side: the classic gusset in a
/// straight seam.
fn quirk(root: f64, options: &GloveOptions) -> (Piece, f64) {
    let edge = root / 2.0;
    let half_width = (QUIRK_WIDTH_MM / 2.0).min(QUIRK_WIDTH_MOST * edge);
    let half_length = (edge * edge - half_width * half_width).sqrt();
    let corners = [
        Point::new(0.0, half_length),
        Point::new(-half_width, 0.0),
        Point::new(0.0, -half_length),
        Point::new(half_width, 0.0),
    ];
    let side = |i: usize| -> Vec<CubicBez> { vec![line(corners[i], corners[(i + 1) % 4])] };
    let notch = |x: f64, label: &str| Notch {
        at: Point::new(half_width * x, 0.0),
        outward: Vec2::new(x, 0.0),
        label: label.to_owned(),
        kind: NotchKind::Tick,
    };
    let piece = Piece {
        kind: PieceKind::Quirk,
        name: "Quirk".to_owned(),
        cut: 3,
        lines: around((0..4).map(side).collect(), options.seam_allowance_mm, None),
        on_fold: false,
        // The letter once: there is room for no more.
        notches: vec![notch(1.0, "Q"), notch(-1.0, "")],
        marks: Vec::new(),
        label_area: Rect::new(
            -0.45 * half_width,
            -0.5 * half_length,
            0.45 * half_width,
            0.15 * half_length,
        ),
        grain: Line::new((0.0, 0.25 * half_length), (0.0, 0.85 * half_length)),
        allowance_mm: options.seam_allowance_mm,
    };
    (piece, outline::length(&side(0)))
}
