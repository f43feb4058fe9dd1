//! A piece as ink: every line of the draft in its group, notches, arrows and the label block.

use std::f64::consts::PI;

use analysis::draft::{Layer, Mark, Notch, Piece};
use analysis::hand::Side;
use kurbo::{
    BezPath, Line, ParamCurve, ParamCurveArclen, PathEl, PathSeg, Point, Rect, Shape, Vec2,
};

use super::font::{SMALLEST_CAP_MM, fitted, text_width_mm};
use super::ink::{Anchor, Group, Ink};
use super::placing::{Obstacles, text_box};
use super::{SheetLabels, side_name};

/// How far a notch reaches into and out of the piece, mm (`common practice`: short enough not to
/// reach through a 3 mm seam allowance when it is snipped).
const NOTCH_IN_MM: f64 = 1.5;
const NOTCH_OUT_MM: f64 = 2.0;

/// Capitals of a notch's number, mm.
const NOTCH_CAP_MM: f64 = 1.6;

/// The same where there is little room, mm (assumed: still read at the table).
const SMALLEST_NOTCH_CAP_MM: f64 = 1.3;

/// Capitals of captions beside fold and grain, mm.
const CAPTION_CAP_MM: f64 = 2.0;

/// Largest capitals of the label block, mm.
const LABEL_CAP_MM: f64 = 3.0;

/// Height of a line of the label block over its capitals.
const LABEL_LEADING: f64 = 1.75;

/// Length of an arrow head, mm.
const ARROW_MM: f64 = 3.0;

/// Everything there is to draw of one piece, in the piece's own frame. Lines and texts with a place
/// of their own come first; the numbers of notches and the captions of fold and grain then take
/// the first place near them where they touch nothing.
#[must_use]
pub fn piece_ink(piece: &Piece, side: Side, labels: &SheetLabels) -> Ink {
    let mut ink = Ink::default();
    let mut taken = Obstacles::of(piece);
    for (layer, path) in &piece.lines {
        ink.stroke(group_of(*layer), path.clone());
        if *layer == Layer::Grain {
            for line in path.segments().map(|s| Line::new(s.start(), s.end())) {
                arrow_heads(&mut ink, &mut taken, line);
            }
        }
    }
    for notch in &piece.notches {
        let mut path = BezPath::new();
        path.move_to(notch.at - notch.outward * NOTCH_IN_MM);
        path.line_to(notch.at + notch.outward * NOTCH_OUT_MM);
        taken.add_path(&path);
        ink.stroke(Group::Notches, path);
    }
    draw_grain(&mut ink, &mut taken, piece.grain);
    write_labels(&mut ink, &mut taken, piece, side, labels);
    for mark in &piece.marks {
        write_near(&mut ink, &mut taken, Group::Marks, &mark.text, &mark_places(mark));
    }
    for notch in &piece.notches {
        write_number(&mut ink, &mut taken, piece, notch);
    }
    for (layer, path) in &piece.lines {
        if *layer == Layer::Fold {
            let longest = path.segments().max_by(|a, b| a.arclen(0.1).total_cmp(&b.arclen(0.1)));
            let words = if piece.on_fold { "place on fold" } else { "fold" };
            let places = longest.map(|segment| along(&segment)).unwrap_or_default();
            write_near(&mut ink, &mut taken, Group::Fold, words, &places);
        }
    }
    let is_drawn = piece.grain.length() >= 2.0 * ARROW_MM;
    if is_drawn && !piece.marks.iter().any(|mark| mark.text.contains("grain")) {
        let places = along(&piece.grain.into());
        write_near(&mut ink, &mut taken, Group::Grain, "grain", &places);
    }
    ink
}

/// The group a line of the draft is drawn in.
#[must_use]
pub fn group_of(layer: Layer) -> Group {
    match layer {
        Layer::Cut | Layer::Hole | Layer::Slit => Group::Cut,
        Layer::Seam => Group::Seam,
        Layer::Fold => Group::Fold,
        Layer::Grain => Group::Grain,
        Layer::Internal => Group::Marks,
    }
}

/// A place for a text held at its middle: a point of its base line, the direction of that, and the
/// height of a capital.
type Place = (Point, f64, f64);

/// The box of a text at a place.
fn box_at((at, angle, cap_mm): Place, text: &str) -> [Point; 4] {
    text_box(at, angle, Anchor::Middle, cap_mm, text)
}

/// Writes a text at the first place where it touches nothing; where there is none it is left out.
fn write_near(ink: &mut Ink, taken: &mut Obstacles, group: Group, text: &str, places: &[Place]) {
    if let Some(place) = places.iter().find(|place| taken.is_free(box_at(**place, text))) {
        put(ink, taken, group, text, *place);
    }
}

/// Writes the number of a notch: on the cloth, since one that is cut away is no help; beside it where
/// there is no room; on a line rather than not at all.
fn write_number(ink: &mut Ink, taken: &mut Obstacles, piece: &Piece, notch: &Notch) {
    if notch.label.is_empty() {
        return;
    }
    let places = notch_places(notch);
    let mut free = places.iter().filter(|place| taken.is_free(box_at(**place, &notch.label)));
    let beside = free.clone().next();
    let on_cloth = free.find(|(at, ..)| is_cloth(piece, *at));
    if let Some(place) = on_cloth.or(beside).or(places.first()) {
        put(ink, taken, Group::Notches, &notch.label, *place);
    }
}

fn put(ink: &mut Ink, taken: &mut Obstacles, group: Group, text: &str, place: Place) {
    taken.add_text(box_at(place, text));
    ink.text(group, (place.0, place.1, Anchor::Middle), place.2, text);
}

/// Places for a text that has one of its own: there, or a little beside it, or smaller.
fn mark_places(mark: &Mark) -> Vec<Place> {
    let along = Vec2::from_angle(mark.angle);
    let up = along.turn_90();
    let mut places = Vec::with_capacity(160);
    for share in [1.0, 0.85, 0.7, 0.55] {
        let cap_mm = (mark.size_mm * share).max(SMALLEST_CAP_MM.min(mark.size_mm));
        let middle = mark.at + along * (text_width_mm(&mark.text, cap_mm) / 2.0);
        for above in [0.0, 1.2, -1.2, 2.6, -2.6] {
            for aside in [0.0, 2.5, -2.5, 5.0, -5.0, 9.0, -9.0, 14.0] {
                places.push((middle + up * above + along * aside, mark.angle, cap_mm));
            }
        }
    }
    places
}

/// Places for the number of a notch: upright on the cloth, behind the notch if that is free.
fn notch_places(notch: &Notch) -> Vec<Place> {
    let beside = notch.outward.turn_90();
    let mut places = Vec::with_capacity(100);
    for cap_mm in [NOTCH_CAP_MM, SMALLEST_NOTCH_CAP_MM] {
        let near = NOTCH_OUT_MM + cap_mm;
        for distance in [near, near - 0.6, near + 1.2, near + 2.4] {
            for aside in [0.0, 1.4, -1.4, 2.2, -2.2, 3.0, -3.0, 4.0, -4.0] {
                for inward in [-1.0, 1.0] {
                    let middle = notch.at + notch.outward * (inward * distance) + beside * aside;
                    places.push((middle - Vec2::new(0.0, cap_mm / 2.0), 0.0, cap_mm));
                }
            }
        }
    }
    places
}

/// Places along a line, on either side of it, that read from left to right or upwards.
fn along(segment: &PathSeg) -> Vec<Place> {
    let angle = upright((segment.end() - segment.start()).atan2());
    let up = Vec2::from_angle(angle).turn_90();
    [0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82]
        .into_iter()
        .flat_map(|t| {
            [1.3, -3.3].map(|above| (segment.eval(t) + up * above, angle, CAPTION_CAP_MM))
        })
        .collect()
}

fn draw_grain(ink: &mut Ink, taken: &mut Obstacles, line: Line) {
    let along = line.p1 - line.p0;
    if along.hypot() < 2.0 * ARROW_MM {
        return;
    }
    let mut shaft = BezPath::new();
    shaft.move_to(line.p0);
    shaft.line_to(line.p1);
    taken.add_path(&shaft);
    ink.stroke(Group::Grain, shaft);
    arrow_heads(ink, taken, line);
}

fn arrow_heads(ink: &mut Ink, taken: &mut Obstacles, line: Line) {
    let along = line.p1 - line.p0;
    for (tip, inward) in [(line.p0, along), (line.p1, -along)] {
        let head = arrow_head(tip, inward.normalize());
        taken.add_path(&head);
        ink.fill(Group::Grain, head);
    }
}

fn arrow_head(tip: Point, inward: Vec2) -> BezPath {
    let (base, half) = (tip + inward * ARROW_MM, Vec2::new(-inward.y, inward.x) * (ARROW_MM / 4.0));
    let mut path = BezPath::new();
    path.move_to(tip);
    path.line_to(base + half);
    path.line_to(base - half);
    path.close_path();
    path
}

/// The closed lines of a piece in the given layers as rings of points.
#[must_use]
pub fn rings(piece: &Piece, layers: &[Layer]) -> Vec<Vec<Point>> {
    let mut all: Vec<Vec<Point>> = Vec::new();
    for (_, path) in piece.lines.iter().filter(|(layer, _)| layers.contains(layer)) {
        kurbo::flatten(path, 0.1, |element| match element {
            PathEl::MoveTo(p) => all.push(vec![p]),
            PathEl::LineTo(p) => {
                if let Some(ring) = all.last_mut() {
                    ring.push(p);
                }
            }
            _ => {
                if let Some(ring) = all.last_mut() {
                    let first = ring.first().copied();
                    ring.extend(first);
                }
            }
        });
    }
    all
}

/// Whether a point lies on the piece as cut, holes left out.
fn is_cloth(piece: &Piece, p: Point) -> bool {
    let within = |wanted: Layer| {
        piece.lines.iter().any(|(layer, path)| *layer == wanted && path.contains(p))
    };
    within(Layer::Cut) && !within(Layer::Hole)
}

/// The same direction, or its reverse, so that text along it is not upside down.
fn upright(angle: f64) -> f64 {
    if angle > PI / 2.0 + 1e-9 {
        angle - PI
    } else if angle <= -PI / 2.0 + 1e-9 {
        angle + PI
    } else {
        angle
    }
}

/// The label block: whom the piece is for and what it is, as large as its place allows. A place too
/// small for all of it takes the most needful lines, and one too small for those none.
fn write_labels(
    ink: &mut Ink,
    taken: &mut Obstacles,
    piece: &Piece,
    side: Side,
    labels: &SheetLabels,
) {
    let all = label_lines(piece, side, labels);
    let (code, whole) = (all.first().cloned(), all.get(1).cloned());
    // "Fourchette F1, index finger" is known by its number.
    let short_name = piece.name.split(',').next().unwrap_or_default();
    let number = short_name.split_once(' ').map_or(short_name, |(_, number)| number);
    let cut = |name: &str| (1.0, format!("{name}: cut {}", piece.cut));
    let level = code.clone().map(|(_, text)| (1.0, text));
    let choices = [
        (all, true),
        (code.clone().into_iter().chain(whole).collect(), false),
        (code.into_iter().chain([cut(short_name)]).collect(), false),
        (level.into_iter().chain([cut(number)]).collect(), false),
        (vec![cut(number)], false),
    ];
    let fitting = choices.into_iter().find_map(|(mut lines, may_shorten)| {
        lines.retain(|(_, text): &(f64, String)| !text.is_empty());
        let block = Block::of(piece.label_area, &lines)?;
        let whole = |(scale, text): &(f64, String)| {
            text_width_mm(text, block.cap_mm * scale) <= block.along_mm + 1e-9
        };
        if !(may_shorten || lines.iter().all(whole)) {
            return None;
        }
        let placed = block.placed(lines);
        let is_free = |(base, cap_mm, text): &(Point, f64, String)| {
            taken.is_free(text_box(*base, block.angle, Anchor::Start, *cap_mm, text))
        };
        placed.iter().all(is_free).then_some((block.angle, placed))
    });
    let Some((angle, placed)) = fitting else { return };
    for (base, cap_mm, text) in placed {
        taken.add_text(text_box(base, angle, Anchor::Start, cap_mm, &text));
        ink.text(Group::Labels, (base, angle, Anchor::Start), cap_mm, text);
    }
}

/// How a label block lies in its place.
#[derive(Debug, Clone, Copy)]
struct Block {
    /// Its upper left corner, in the direction it is read.
    corner: Point,
    angle: f64,
    /// Room for a line.
    along_mm: f64,
    cap_mm: f64,
}

impl Block {
    /// The block for lines of text with their sizes relative to each other; nothing where they do
    /// not fit above each other with the smallest letters.
    fn of(area: Rect, lines: &[(f64, String)]) -> Option<Block> {
        if lines.is_empty() || area.width() <= 0.0 || area.height() <= 0.0 {
            return None;
        }
        let height_in_caps: f64 = lines.iter().map(|(scale, _)| scale * LABEL_LEADING).sum();
        let width_in_caps =
            lines.iter().map(|(scale, text)| text_width_mm(text, *scale)).fold(0.0, f64::max);
        let largest =
            |along: f64, across: f64| (across / height_in_caps).min(along / width_in_caps);
        let (level, turned) =
            (largest(area.width(), area.height()), largest(area.height(), area.width()));
        let highest = |across: f64| across / height_in_caps;
        // Turned a quarter where that lets the letters be a good deal larger.
        let is_turned = level < LABEL_CAP_MM && turned > 1.3 * level;
        let (corner, angle, along_mm, cap, most) = if is_turned {
            let corner = Point::new(area.x0, area.y0);
            (corner, PI / 2.0, area.height(), turned, highest(area.width()))
        } else {
            let corner = Point::new(area.x0, area.y1);
            (corner, 0.0, area.width(), level, highest(area.height()))
        };
        let cap_mm = cap.clamp(SMALLEST_CAP_MM, LABEL_CAP_MM);
        (cap_mm <= most + 1e-9).then_some(Block { corner, angle, along_mm, cap_mm })
    }

    /// Left end, height of a capital and text of each line, shortened where it is too long.
    fn placed(&self, lines: Vec<(f64, String)>) -> Vec<(Point, f64, String)> {
        let down = Vec2::from_angle(self.angle - PI / 2.0);
        let mut depth = 0.0;
        let mut line = |(scale, text): (f64, String)| {
            let wanted = self.cap_mm * scale;
            depth += wanted * LABEL_LEADING;
            let (text, cap_mm) = fitted(&text, wanted, self.along_mm);
            let base = self.corner + down * (depth - wanted * (LABEL_LEADING - 1.0) / 2.0);
            (base, cap_mm, text)
        };
        lines.into_iter().map(&mut line).collect()
    }
}

/// Lines of the label block with their size relative to the block's capitals.
fn label_lines(piece: &Piece, side: Side, labels: &SheetLabels) -> Vec<(f64, String)> {
    let cut = match (piece.cut, piece.on_fold) {
        (n, false) => format!("cut {n}"),
        (n, true) => format!("cut {n} on the fold"),
    };
    let version = match (labels.version.is_empty(), labels.date.is_empty()) {
        (false, false) => format!("version {}, {}", labels.version, labels.date),
        (false, true) => format!("version {}", labels.version),
        (true, _) => labels.date.clone(),
    };
    vec![
        (1.4, [labels.performer_code.as_str(), side_name(side)].join(" ").trim().to_owned()),
        (1.0, format!("{}: {cut}", piece.name)),
        (1.0, labels.production.clone()),
        (1.0, labels.fabric.clone()),
        (1.0, version),
    ]
}

/// A piece's bounding box with room for the half of its lines' width and for its notches.
#[must_use]
pub fn printed_bounds(piece: &Piece) -> Rect {
    let reach = |notch: &Notch| {
        Rect::from_points(
            notch.at - notch.outward * NOTCH_IN_MM,
            notch.at + notch.outward * NOTCH_OUT_MM,
        )
    };
    let lines = piece.bounds();
    let all = piece.notches.iter().map(reach).fold(lines, |a, b| a.union(b));
    all.inflate(Group::Cut.line().width_mm, Group::Cut.line().width_mm)
}

/// Whether a path has any point in it, and none that is not a finite number.
#[must_use]
pub fn is_drawable(path: &BezPath) -> bool {
    let finite = |element: &PathEl| match *element {
        PathEl::MoveTo(p) | PathEl::LineTo(p) => p.is_finite(),
        PathEl::QuadTo(a, p) => a.is_finite() && p.is_finite(),
        PathEl::CurveTo(a, b, p) => a.is_finite() && b.is_finite() && p.is_finite(),
        PathEl::ClosePath => true,
    };
    !path.elements().is_empty() && path.elements().iter().all(finite)
}
