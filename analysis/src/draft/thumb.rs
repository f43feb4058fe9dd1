//! The thumb: its own piece folded along the back of the thumb, and the hole it is set into.

use kurbo::{Affine, BezPath, CubicBez, Line, ParamCurveArclen, Point, Rect, Vec2};

use crate::dimension::Dimension as D;
use crate::model::HandEstimate;
use crate::tolerance::CURVE_MM;

use super::cut_line::{self, Corner};
use super::outline::{self, End, Run, line, passing, reversed, trim};
use super::piece::{Layer, Mark, Notch, NotchKind, Piece, PieceKind};
use super::skeleton::tip_travel;
use super::tube::eighth_from_fold;
use super::{DraftError, Finish, GloveOptions, OptionError};

/// How many even marks hole and base carry.
const MARKS: usize = 8;

/// Half width of the shallow hole over half length (assumed: a full circle ends up large, common
/// practice).
const SHALLOW_ASPECT: f64 = 0.52;

/// Smallest radius at the ends of the hole, mm (a little above what a seam line may have).
const END_RADIUS_MM: f64 = 3.1;

/// Least width of the hole once the allowance is left inside it, mm (assumed: scissors go in).
const HOLE_OPEN_MM: f64 = 2.0;

/// Least cloth between the hole's cut edge and the fold, mm (assumed).
const HOLE_TO_FOLD_MM: f64 = 2.0;

/// From web to tip along the inner side of the thumb over thumb length: tip height of Greiner
/// 1991 (117.7 from the wrist crease, 125.7 by photograph) less web height 62.8, over Hsiao 2015
/// thumb length at Greiner's hand length.
const INNER_LENGTH: f64 = 0.92;

/// Height of the thumb's joint below its tip as a share of thumb length: Greiner 1991 distal link
/// over Hsiao 2015 thumb length, mean of women and men.
const JOINT_FROM_TIP: f64 = 0.49;

/// Width where the cap begins over width at the joint (assumed).
const CAP_TAPER: f64 = 0.86;

/// How far the base dips at the back of the thumb, as a share of the hole's length: 1 would lay
/// the thumb along the hand, 0 stands it square out of the palm (assumed: between the two).
const BASE_DIP: f64 = 0.55;

/// The hole in the palm, right hand: an upright ellipse, web at its top.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hole {
    centre: Point,
    half_length: f64,
    half_width: f64,
    perimeter: f64,
}

impl Hole {
    /// The hole whose perimeter is the thumb's root girth after ease, centred on `axis_x`.
    pub(super) fn new(
        hand: &HandEstimate,
        options: &GloveOptions,
        axis_x: f64,
    ) -> Result<Hole, DraftError> {
        let girth = hand.mm(D::ThumbRootGirth) * (1.0 - options.reduction.thumb);
        let asked = SHALLOW_ASPECT + (1.0 - SHALLOW_ASPECT) * options.thumb_curve;
        // The ends' radius, aspect^2 x half length, must let the needle round; a small hole is
        // therefore rounder. A perimeter is at most 5.6 half lengths up to an aspect of 0.75.
        let aspect = asked.max((END_RADIUS_MM * 5.6 / girth).sqrt().min(1.0));
        let web = hand.mm(D::ThumbWebHeight);
        // A low web leaves little length, and a wide allowance little width: the hole is then
        // rounder.
        let shapes = [aspect, aspect.max(0.75), 1.0].map(|aspect| {
            let unit = ellipse(Point::ORIGIN, aspect, 1.0);
            let unit_length: f64 = unit.iter().map(|c| c.arclen(CURVE_MM * 1e-2)).sum();
            (girth / unit_length, girth / unit_length * aspect)
        });
        let needed = options.seam_allowance_mm + HOLE_OPEN_MM / 2.0;
        let [.., roundest] = shapes;
        if roundest.1 < needed {
            return Err(DraftError::Option(OptionError {
                option: "allowance",
                name: "Seam allowance in mm, inside this thumb hole",
                value: options.seam_allowance_mm,
                low: 0.0,
                high: (roundest.1 - HOLE_OPEN_MM / 2.0).floor(),
            }));
        }
        let fits = shapes.into_iter().find(|(half_length, half_width)| {
            web - 2.0 * half_length >= 0.0 && *half_width >= needed
        });
        let Some((half_length, half_width)) = fits else {
            return Err(DraftError::Hand(format!(
                "A thumb hole {girth:.0} mm round does not fit between the wrist crease and the thumb web ({web:.0} mm). Check thumb root girth and thumb web height.",
            )));
        };
        // Centred on the index axis, but clear of the fold.
        let x = axis_x.min(-half_width - HOLE_TO_FOLD_MM);
        let centre = Point::new(x, web - half_length);
        Ok(Hole { centre, half_length, half_width, perimeter: girth })
    }

    /// Length round the seam line, mm.
    pub(super) fn perimeter(&self) -> f64 {
        self.perimeter
    }

    /// From web to root, mm.
    fn length(&self) -> f64 {
        2.0 * self.half_length
    }

    fn quarters(&self) -> [CubicBez; 4] {
        ellipse(self.centre, self.half_width, self.half_length)
    }

    /// The seam line.
    pub(super) fn seam(&self) -> BezPath {
        outline::closed(&self.quarters())
    }

    /// The cut edge inside the seam line: its parallel. An allowance beyond the radius of the ends
    /// makes the four quarters cross there, so each is cut off at the hole's long axis; what is left
    /// meets in a point.
    pub(super) fn cut(&self, allowance: f64) -> BezPath {
        let [first, ..] = self.quarters();
        let mut quarter = outline::parallel(&[first], -allowance);
        let across = Vec2::new(1.0, 0.0);
        if let Some(place) = passing(&quarter, End::Finish, across, self.centre.x) {
            trim(&mut quarter, End::Start, place);
        }
        let turned = |c: &CubicBez, x: f64, y: f64| {
            let at = |p: Point| {
                self.centre + Vec2::new((p - self.centre).x * x, (p - self.centre).y * y)
            };
            CubicBez::new(at(c.p0), at(c.p1), at(c.p2), at(c.p3))
        };
        // The other three quarters are its mirror images; every second one is drawn backwards.
        let image = |x: f64, y: f64| -> Run {
            let moved = quarter.iter().map(|c| turned(c, x, y));
            if x * y > 0.0 { moved.collect() } else { moved.rev().map(reversed).collect() }
        };
        let images = [(1.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (-1.0, 1.0)];
        let run: Run = images.into_iter().flat_map(|(x, y)| image(x, y)).collect();
        outline::closed(&run)
    }

    /// Eight even marks from the web towards the little-finger side round to the web again; the
    /// first and the fifth are notches.
    pub(super) fn notches(&self) -> Vec<Notch> {
        marks_along(&self.quarters(), self.perimeter, MARKS)
    }
}

/// Four quarters from the top, counter-clockwise.
fn ellipse(centre: Point, half_width: f64, half_length: f64) -> [CubicBez; 4] {
    const K: f64 = 0.552_284_749_8;
    let unit = CubicBez::new((0.0, 1.0), (-K, 1.0), (-1.0, K), (-1.0, 0.0));
    let quarter = |turn: f64| {
        let place = Affine::translate(centre.to_vec2())
            * Affine::scale_non_uniform(half_width, half_length)
            * Affine::rotate(turn * std::f64::consts::FRAC_PI_2);
        place * unit
    };
    [quarter(0.0), quarter(1.0), quarter(2.0), quarter(3.0)]
}

/// `count` marks an eighth of `length` apart from the start of a run, labelled T1, T2 and so on.
fn marks_along(run: &[CubicBez], length: f64, count: usize) -> Vec<Notch> {
    (0..count)
        .filter_map(|i| {
            let (at, along) = outline::at_length(run, length * i as f64 / MARKS as f64)?;
            Some(Notch {
                at,
                outward: Vec2::new(along.y, -along.x),
                label: format!("T{}", i % MARKS + 1),
                kind: if i % (MARKS / 2) == 0 { NotchKind::Notch } else { NotchKind::Tick },
            })
        })
        .collect()
}

/// The thumb piece, right hand, outer face up, tip up; y = 0 where the seam meets the web.
#[derive(Debug, Clone)]
pub(super) struct Thumb {
    /// Half of the base, from the seam to the fold.
    base: CubicBez,
    /// From the fold at the tip down to the base: the open end where there is one, else the cap;
    /// and the seam.
    top: Run,
    side: Run,
    /// Level of the joint and half the girth there.
    pub(super) joint: (f64, f64),
}

impl Thumb {
    /// Drafts the piece for a hole.
    pub(super) fn new(
        hand: &HandEstimate,
        options: &GloveOptions,
        hole: &Hole,
    ) -> Result<Thumb, DraftError> {
        let length = hand.mm(D::ThumbLength);
        let girth = hand.mm(D::ThumbKnuckleGirth);
        let half = girth * (1.0 - options.reduction.thumb) / 2.0;
        let bare = INNER_LENGTH * length;
        let tip = bare + tip_travel(girth * CAP_TAPER);
        let joint = bare - JOINT_FROM_TIP * length;
        let dip = BASE_DIP * hole.length();
        let base = base_curve(hole.perimeter() / 2.0, dip)?;
        let half_cap = half * CAP_TAPER;
        let cap_height = (half_cap / 2.0).min((tip - joint) * 0.7);
        let cap = tip - cap_height;
        let apex = Point::new(-half_cap / 2.0, tip);
        let nodes =
            [Point::new(-half_cap, cap), Point::new(-half, joint), Point::new(base.p0.x, 0.0)];
        let slope = |a: Point, b: Point| (b.x - a.x) / (b.y - a.y);
        let (above, below) = (slope(nodes[0], nodes[1]), slope(nodes[1], nodes[2]));
        let middle = if above * below > 0.0 { 2.0 * above * below / (above + below) } else { 0.0 };
        let slopes = [above * 0.5, middle, below * 0.5];
        let kappa = 0.552_284_749_8;
        let quarter = CubicBez::new(
            nodes[0],
            nodes[0] + Vec2::new(slopes[0], 1.0) * (kappa * cap_height),
            apex - Vec2::new(half_cap / 2.0 * kappa, 0.0),
            apex,
        );
        let mut side: Run = Vec::with_capacity(4);
        for i in 0..2 {
            let (a, b) = (nodes[i], nodes[i + 1]);
            let third = (b.y - a.y) / 3.0;
            side.push(CubicBez::new(
                a,
                a + Vec2::new(slopes[i] * third, third),
                b - Vec2::new(slopes[i + 1] * third, third),
                b,
            ));
        }
        let end = match options.finish {
            Finish::Full => None,
            Finish::OpenTips => Some(f64::midpoint(joint, tip).min(cap)),
            Finish::ToEndJoint | Finish::ToMiddleJoint => Some(joint + 1.0),
        };
        let mut top = Vec::new();
        if let Some(end) = end
            && let Some(place) = passing(&side, End::Start, Vec2::new(0.0, 1.0), end)
        {
            trim(&mut side, End::Start, place);
            top.push(line(Point::new(0.0, end), place.at));
        } else {
            side.splice(0..0, [eighth_from_fold(apex), reversed(quarter)]);
        }
        Ok(Thumb { base, top, side, joint: (joint, half) })
    }

    /// Length of the whole base curve, mm.
    pub(super) fn base_length(&self) -> f64 {
        2.0 * self.base.arclen(CURVE_MM * 0.1)
    }

    /// The finished piece.
    pub(super) fn piece(&self, options: &GloveOptions) -> Piece {
        let half: Run = self.top.iter().chain(&self.side).copied().chain([self.base]).collect();
        let allowance = options.seam_allowance_mm;
        let parallels: Vec<Run> = [self.top.as_slice(), self.side.as_slice(), &[self.base]]
            .into_iter()
            .filter(|run| !run.is_empty())
            .map(|run| outline::parallel(run, allowance))
            .collect();
        let corners = vec![Corner::Outer; parallels.len() - 1];
        let cut = cut_line::join(parallels, &corners, allowance).run;
        let top = half.first().map_or(0.0, |c| c.p0.y);
        let dip = self.base.p3.y;
        let fold = outline::stroke(Point::new(0.0, dip), Point::new(0.0, top));
        let width = -self.base.p0.x;
        let grain = Line::new((-0.5 * width, 4.0), (-0.5 * width, self.joint.0 - 1.0));
        Piece {
            kind: PieceKind::Thumb,
            name: "Thumb".to_owned(),
            cut: 1,
            lines: vec![
                (Layer::Cut, outline::opened_out(&cut, &cut)),
                (Layer::Seam, outline::opened_out(&half, &half)),
                (Layer::Fold, fold),
            ],
            on_fold: false,
            notches: self.notches(),
            marks: vec![
                Mark::upright(grain.p0 + Vec2::new(-2.0, 4.0), 2.0, "grain"),
                Mark::upright(Point::new(-1.6, dip + 7.0), 2.0, "back of thumb"),
            ],
            label_area: Rect::new(
                3.0,
                2.0,
                (width.min(self.joint.1) - 3.0).max(8.0),
                (self.joint.0 - 1.0).max(12.0),
            ),
            grain,
            allowance_mm: allowance,
        }
    }

    /// The hole's eight marks, met from left to right; the first stands at both ends of the base.
    fn notches(&self) -> Vec<Notch> {
        let back = reversed(outline::mirrored(self.base));
        marks_along(&[self.base, back], self.base_length(), MARKS + 1)
    }
}

/// Half the base: level at the seam and at the fold, dipping by `dip`, of the given length.
fn base_curve(length: f64, dip: f64) -> Result<CubicBez, DraftError> {
    let curve = |x: f64| CubicBez::new((-x, 0.0), (-0.5 * x, 0.0), (-0.5 * x, -dip), (0.0, -dip));
    if dip >= 0.9 * length {
        return Err(DraftError::Hand(
            "The thumb's base is deeper than it is long. Check thumb root girth.".to_owned(),
        ));
    }
    // The chord is never longer than the curve, and this curve never a quarter longer than it.
    let longest = (length * length - dip * dip).sqrt();
    let (mut low, mut high) = (0.5 * longest, longest);
    for _ in 0..18 {
        let middle = f64::midpoint(low, high);
        if curve(middle).arclen(CURVE_MM * 0.1) < length { low = middle } else { high = middle }
    }
    Ok(curve(f64::midpoint(low, high)))
}
