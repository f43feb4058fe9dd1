//! A finger of the glove, flat: two walls and a round cap, as true cubics.

use kurbo::{CubicBez, Point, Vec2};

use super::Finish;
use super::outline::{End, Run, passing, trim};
use super::skeleton::Finger;

/// Width where the cap begins over width at the end joint (assumed: fingertips taper).
const CAP_TAPER: f64 = 0.90;

/// Half the width where the cap of a slim finger begins, mm: a little above the smallest radius of a
/// seam line, as the walls lean in on it.
const CAP_HALF_LEAST_MM: f64 = 3.4;

/// How far beyond a joint an open finger ends, mm (assumed: the joint itself is covered).
const BEYOND_JOINT_MM: f64 = 1.0;

/// Slope where the cap begins over slope at the end joint (assumed).
const CAP_SLOPE: f64 = 0.8;

/// Handle of a cubic that follows a quarter ellipse, as a share of the half-axis.
const KAPPA: f64 = 0.552_284_749_8;

/// Which wall of a tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wall {
    /// Towards the thumb.
    Near,
    /// Towards the little finger.
    Far,
}

/// A finger tube in its own frame: v runs from the pivot to the tip, u to the thumb side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tube {
    /// Pivot on the cloth; for a tube on the fold, the point of the fold beside it.
    pub(super) origin: Point,
    /// Turn to the little-finger side, radians.
    pub(super) tilt: f64,
    on_fold: bool,
    pub(super) root: f64,
    pub(super) knuckle: f64,
    end_joint: f64,
    cap: f64,
    tip: f64,
    half_root: f64,
    half_knuckle: f64,
    half_end: f64,
    half_cap: f64,
    /// Level where an open finger ends.
    pub(super) end: Option<f64>,
}

impl Tube {
    /// A tube for a finger whose girth is reduced by the given share at the joints and stretched
    /// by `root_extension` at the root.
    pub(super) fn new(finger: &Finger, reduction: f64, root_extension: f64, on_fold: bool) -> Tube {
        let half_end = finger.end_girth * (1.0 - reduction) / 4.0;
        Tube::with_half_widths(
            finger,
            finger.root_girth / (4.0 * (1.0 + root_extension)),
            finger.knuckle_girth * (1.0 - reduction) / 4.0,
            half_end,
            on_fold,
        )
    }

    /// A tube, or one face of it, with the given half widths at root, middle joint and end joint.
    pub(super) fn with_half_widths(
        finger: &Finger,
        half_root: f64,
        half_knuckle: f64,
        half_end: f64,
        on_fold: bool,
    ) -> Tube {
        let half_cap = (half_end * CAP_TAPER).max(CAP_HALF_LEAST_MM.min(half_end));
        // A round cap, or a flatter one where the end joint lies close to the tip.
        let cap_height = half_cap.min((finger.tip - finger.end_joint) * 0.7);
        Tube {
            origin: Point::new(0.0, finger.pivot_y),
            tilt: 0.0,
            on_fold,
            root: finger.root,
            knuckle: finger.knuckle,
            end_joint: finger.end_joint,
            cap: finger.tip - cap_height,
            tip: finger.tip,
            half_root,
            half_knuckle,
            half_end,
            half_cap,
            end: None,
        }
    }

    /// The same tube, open where the finish says.
    pub(super) fn finished(self, finish: Finish) -> Tube {
        let end = match finish {
            Finish::Full => None,
            Finish::OpenTips => Some(f64::midpoint(self.end_joint, self.tip).min(self.cap)),
            Finish::ToEndJoint => Some(self.end_joint + BEYOND_JOINT_MM),
            Finish::ToMiddleJoint => Some(self.knuckle + BEYOND_JOINT_MM),
        };
        Tube { end, ..self }
    }

    /// End joint and middle joint below the beginning of the cap, mm.
    pub(super) fn below_cap(&self) -> [f64; 2] {
        [self.cap - self.end_joint, self.cap - self.knuckle]
    }

    /// Open end below the beginning of the cap, mm.
    pub(super) fn below_end(&self) -> f64 {
        self.end.map_or(0.0, |end| self.cap - end)
    }

    /// Whether the tube covers the end joint.
    pub(super) fn covers_end_joint(&self) -> bool {
        self.end.is_none_or(|end| end > self.end_joint)
    }

    /// A wall drawn upwards, cut off at a level.
    pub(super) fn cut_off(&self, mut run: Run, level: f64) -> Run {
        let (sin, cos) = self.tilt.sin_cos();
        let up = Vec2::new(-sin, cos);
        let height = self.origin.to_vec2().dot(up) + level;
        if let Some(place) = passing(&run, End::Start, up, height) {
            trim(&mut run, End::Finish, place);
        }
        run
    }

    /// Where the outer wall passes the middle joint, and its direction towards the tip.
    pub(super) fn shoulder(&self) -> (Point, Vec2) {
        let ([above, _], up) = self.wall_from_knuckle(Wall::Far);
        (above.p0, up)
    }

    /// Where the finger's name is written: the middle of the tube, below the middle joint.
    pub(super) fn name_place(&self) -> Point {
        let u = if self.on_fold { -self.half_knuckle } else { 0.0 };
        self.on_cloth(u, self.knuckle - 6.0)
    }

    /// Half the flat width on the straight line from root to middle joint, continued downwards.
    pub(super) fn half_width(&self, v: f64) -> f64 {
        self.half_root + self.root_slope() * (v - self.root)
    }

    /// Growth of half the width from root to middle joint, for each mm.
    pub(super) fn root_slope(&self) -> f64 {
        (self.half_knuckle - self.half_root) / (self.knuckle - self.root)
    }

    /// Distance of the far wall from the pivot, on its straight line at the root.
    pub(super) fn far_reach(&self, v: f64) -> f64 {
        if self.on_fold { 2.0 * self.half_width(v) - self.half_root } else { self.half_width(v) }
    }

    /// Growth of [`Tube::far_reach`] for each mm.
    pub(super) fn far_slope(&self) -> f64 {
        if self.on_fold { 2.0 * self.root_slope() } else { self.root_slope() }
    }

    /// The joint the finger turns about, on the tube's middle line.
    pub(super) fn pivot(&self) -> Point {
        if self.on_fold { self.origin - Vec2::new(self.half_root, 0.0) } else { self.origin }
    }

    pub(super) fn on_cloth(&self, u: f64, v: f64) -> Point {
        let (sin, cos) = self.tilt.sin_cos();
        self.origin + Vec2::new(u * cos - v * sin, u * sin + v * cos)
    }

    pub(super) fn in_own_frame(&self, p: Point) -> Point {
        let (sin, cos) = self.tilt.sin_cos();
        let d = p - self.origin;
        Point::new(d.x * cos + d.y * sin, -d.x * sin + d.y * cos)
    }

    /// u of a wall where half the width is `half`.
    fn u(&self, wall: Wall, half: f64) -> f64 {
        match (wall, self.on_fold) {
            (Wall::Near, false) => half,
            (Wall::Near, true) => 0.0,
            (Wall::Far, false) => -half,
            (Wall::Far, true) => -2.0 * half,
        }
    }

    /// A point of the straight wall line at the root, and its direction towards the tip.
    pub(super) fn root_line(&self, wall: Wall) -> (Point, Vec2) {
        let root = self.on_cloth(self.u(wall, self.half_root), self.root);
        let knuckle = self.on_cloth(self.u(wall, self.half_knuckle), self.knuckle);
        (root, (knuckle - root).normalize())
    }

    /// End points of the level lines across the tube at middle and end joint, on the cloth.
    pub(super) fn levels(&self) -> [(Point, Point); 2] {
        [(self.knuckle, self.half_knuckle), (self.end_joint, self.half_end)].map(|(v, half)| {
            let near = self.on_cloth(self.u(Wall::Near, half), v);
            let far = self.on_cloth(self.u(Wall::Far, half), v);
            (near, far)
        })
    }

    /// Flat width at middle and end joint, mm.
    pub(super) fn flat_at_joints(&self) -> [f64; 2] {
        [2.0 * self.half_knuckle, 2.0 * self.half_end]
    }

    /// Top of the cap.
    pub(super) fn apex(&self) -> Point {
        self.on_cloth(self.middle_u(), self.tip)
    }

    fn middle_u(&self) -> f64 {
        if self.on_fold { -self.half_cap } else { 0.0 }
    }

    /// One wall from a corner near its root to the beginning of the cap: three cubics, with
    /// continuous tangents, that hold the flat width exactly at both joints. `opening` is the growth
    /// of the gap to the neighbour: the wall bulges less than the gap opens.
    pub(super) fn wall_up(&self, wall: Wall, corner: Point, opening: f64) -> [CubicBez; 3] {
        let corner = self.in_own_frame(corner);
        let [knuckle, end, cap] = self.upper_nodes(wall);
        let first = (knuckle.x - corner.x) / (knuckle.y - corner.y);
        let slopes = [first, self.knuckle_slope(wall, first, opening), self.end_slope(wall)];
        let nodes = [corner, knuckle, end, cap];
        let slopes = [slopes[0], slopes[1], slopes[2], slopes[2] * CAP_SLOPE];
        let mut cubics = [CubicBez::new(corner, corner, corner, corner); 3];
        for (i, cubic) in cubics.iter_mut().enumerate() {
            *cubic = self.hermite(nodes[i], slopes[i], nodes[i + 1], slopes[i + 1]);
        }
        cubics
    }

    /// The wall from the middle joint to the cap only, and the direction at the middle joint
    /// towards the tip.
    pub(super) fn wall_from_knuckle(&self, wall: Wall) -> ([CubicBez; 2], Vec2) {
        let [knuckle, end, cap] = self.upper_nodes(wall);
        let slope = (end.x - knuckle.x) / (end.y - knuckle.y) * 0.5;
        let end_slope = self.end_slope(wall);
        let cubics = [
            self.hermite(knuckle, slope, end, end_slope),
            self.hermite(end, end_slope, cap, end_slope * CAP_SLOPE),
        ];
        let origin = self.on_cloth(0.0, 0.0);
        (cubics, (self.on_cloth(slope, 1.0) - origin).normalize())
    }

    fn upper_nodes(&self, wall: Wall) -> [Point; 3] {
        [
            Point::new(self.u(wall, self.half_knuckle), self.knuckle),
            Point::new(self.u(wall, self.half_end), self.end_joint),
            Point::new(self.u(wall, self.half_cap), self.cap),
        ]
    }

    /// Slope du/dv at the middle joint: the mean of both sides. A cubic whose end slope differs by
    /// d from its chord bulges 4/27 d per mm of length, at two thirds of it, where the gap has grown
    /// by two thirds of the opening; each of two walls may use half of that.
    fn knuckle_slope(&self, wall: Wall, below: f64, opening: f64) -> f64 {
        let [knuckle, end, _] = self.upper_nodes(wall);
        let turn = ((end.x - knuckle.x) / (end.y - knuckle.y) - below) / 2.0;
        let most = opening.max(0.0) * (1.0 / 3.0) * (27.0 / 4.0) * 0.8;
        below + turn.clamp(-most, most)
    }

    /// Slope at the end joint, the mean of both sides.
    fn end_slope(&self, wall: Wall) -> f64 {
        let [knuckle, end, cap] = self.upper_nodes(wall);
        let below = (end.x - knuckle.x) / (end.y - knuckle.y);
        f64::midpoint(below, (cap.x - end.x) / (cap.y - end.y))
    }

    fn hermite(&self, a: Point, slope_a: f64, b: Point, slope_b: f64) -> CubicBez {
        let third = (b.y - a.y) / 3.0;
        CubicBez::new(
            self.on_cloth(a.x, a.y),
            self.on_cloth(a.x + slope_a * third, a.y + third),
            self.on_cloth(b.x - slope_b * third, b.y - third),
            self.on_cloth(b.x, b.y),
        )
    }

    /// Half of the cap, from the beginning of the cap on a wall to the apex.
    pub(super) fn cap_up(&self, wall: Wall) -> CubicBez {
        let u = self.u(wall, self.half_cap);
        let middle = self.middle_u();
        let height = self.tip - self.cap;
        let slope = self.end_slope(wall) * CAP_SLOPE;
        CubicBez::new(
            self.on_cloth(u, self.cap),
            self.on_cloth(u + slope * KAPPA * height, self.cap + KAPPA * height),
            self.on_cloth(middle + (u - middle) * KAPPA, self.tip),
            self.on_cloth(middle, self.tip),
        )
    }

    /// For a tube on the fold: from the fold to the apex, an eighth of a circle that leaves the
    /// fold at 45 degrees, so that the seam can start there.
    pub(super) fn cap_from_fold(&self) -> CubicBez {
        eighth_from_fold(self.apex())
    }
}

/// An eighth of a circle from the fold x = 0 up to a level apex at x < 0.
pub(super) fn eighth_from_fold(apex: Point) -> CubicBez {
    let radius = -apex.x * std::f64::consts::SQRT_2;
    let fold = Point::new(0.0, apex.y - radius * (1.0 - std::f64::consts::FRAC_1_SQRT_2));
    // Handle of a circular arc of 45 degrees: 4/3 tan(angle / 4).
    let handle = radius * 4.0 / 3.0 * (std::f64::consts::FRAC_PI_4 / 4.0).tan();
    let diagonal = Vec2::new(-1.0, 1.0) * std::f64::consts::FRAC_1_SQRT_2;
    CubicBez::new(fold, fold + diagonal * handle, apex + Vec2::new(handle, 0.0), apex)
}
