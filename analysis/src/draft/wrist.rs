//! Wrist and cuff: the lower part of the outer edge, the opening, and its casings.

use kurbo::{CubicBez, Line, Point, Rect, Vec2};

use crate::tolerance::SEAM_AGREEMENT_MM;

use super::outline::{self, Run, line};
use super::piece::{Layer, Mark, Notch, NotchKind, Piece, PieceKind, SeamPair};
use super::{Bottom, Closure, Cuff, GloveOptions, Remark};

/// Depth of a casing, mm (common practice: two overlapping casings about 50 mm deep).
const CASING_DEPTH_MM: f64 = 50.0;

/// Cloth left between the ends of the opening and fold or seam, mm (assumed).
const OPENING_MARGIN_MM: f64 = 4.0;

/// How much wider one edge may be than the other to be eased in, as a share (assumed: a knit
/// takes 12 % without a pleat).
const EASED_SHARE: f64 = 0.12;

/// Steepest flare of the edge between wrist and bottom, mm of width for each mm of length
/// (assumed: beyond it the edge turns too sharply at the wrist).
const FLARE_MAX: f64 = 0.6;

/// Width and edge of the glove from the wrist crease down.
#[derive(Debug, Clone, Copy)]
pub(super) struct WristShape {
    /// Flat width at the wrist crease.
    pub(super) width: f64,
    /// Flat width half way down a long cuff.
    half_way: Option<f64>,
    /// Flat width and distance of the lower edge.
    bottom: f64,
    length: f64,
}

impl WristShape {
    /// The shape for a wrist of the given flat width.
    pub(super) fn new(width: f64, options: &GloveOptions) -> WristShape {
        let eased = 1.0 - options.reduction.wrist;
        let (half_way, bottom) = match options.cuff {
            Cuff::Wrist => (None, width),
            Cuff::Gauntlet { opening_girth_mm, .. } => (None, opening_girth_mm / 2.0),
            Cuff::Long { girth_mm, half_way_girth_mm, .. } => {
                (half_way_girth_mm.map(|girth| girth * eased / 2.0), girth_mm * eased / 2.0)
            }
        };
        let length = options.length_below_wrist_mm();
        let reach = FLARE_MAX * length;
        let bottom = match options.bottom {
            Bottom::Hem => bottom,
            // As near to the sleeve as the length allows; the rest is eased in.
            Bottom::Sleeve { flat_width_mm } => flat_width_mm.clamp(width - reach, width + reach),
        };
        WristShape { width, half_way, bottom, length }
    }

    /// Outer end of the lower edge.
    pub(super) fn bottom(&self) -> Point {
        Point::new(-self.bottom, -self.length)
    }

    /// The edge from the palm's knuckle side, beginning at the wrist crease and running down.
    pub(super) fn edge(&self) -> Run {
        let wrist = Point::new(-self.width, 0.0);
        let bottom = self.bottom();
        if self.length <= 0.0 {
            return Vec::new();
        }
        let straight = (self.width - self.bottom).abs() < 1e-9 && self.half_way.is_none();
        if straight {
            return vec![line(wrist, bottom)];
        }
        let leaving = Vec2::new(0.0, -1.0);
        let last = |from: Point, along: Vec2| {
            let chord = bottom - from;
            let third = chord.hypot() / 3.0;
            CubicBez::new(from, from + along * third, bottom - chord / 3.0, bottom)
        };
        let Some(half_way) = self.half_way else { return vec![last(wrist, leaving)] };
        let middle = Point::new(-half_way, -self.length / 2.0);
        let along = (bottom - wrist).normalize();
        let third = (middle - wrist).hypot() / 3.0;
        let first = CubicBez::new(wrist, wrist + leaving * third, middle - along * third, middle);
        vec![first, last(middle, along)]
    }

    /// Height of the opening: just below the wrist crease.
    pub(super) fn opening_y(&self) -> f64 {
        -7.0
    }

    /// The cross slit in the palm, as wide as the wrist.
    pub(super) fn opening(&self, options: &GloveOptions) -> Option<Line> {
        let y = self.opening_y();
        options
            .opens()
            .then(|| Line::new((-self.width + OPENING_MARGIN_MM, y), (-OPENING_MARGIN_MM, y)))
    }

    /// The two casings of the opening, as one piece cut twice, and the seam that joins them.
    pub(super) fn casing(&self, options: &GloveOptions) -> Option<(Piece, SeamPair)> {
        let slit = self.opening(options)?;
        let width = slit.p1.x - slit.p0.x;
        let allowance = options.seam_allowance_mm;
        let seam = Rect::new(0.0, 0.0, width, CASING_DEPTH_MM);
        let corners = [
            Point::new(0.0, CASING_DEPTH_MM),
            Point::new(0.0, 0.0),
            Point::new(width, 0.0),
            Point::new(width, CASING_DEPTH_MM),
        ];
        let side = |i: usize| vec![line(corners[i], corners[(i + 1) % 4])];
        let runs: Vec<Run> = (0..4).map(side).collect();
        // The free edge at the bottom is hemmed.
        let parallels = runs
            .iter()
            .enumerate()
            .map(|(i, run)| outline::parallel(run, if i == 1 { options.hem_mm } else { allowance }))
            .collect();
        let cut = super::cut_line::around(parallels, None);
        let whole: Run = runs.into_iter().flatten().collect();
        let mut lines =
            vec![(Layer::Cut, outline::closed(&cut)), (Layer::Seam, outline::closed(&whole))];
        let mut marks = vec![Mark::level(Point::new(4.0, CASING_DEPTH_MM - 5.5), 3.0, "opening")];
        let keeper = match options.closure {
            Closure::Closed | Closure::Casings => None,
            Closure::CasingsWithElastic => Some("elastic, outer casing"),
            Closure::CasingsWithLoop => Some("loop and button"),
        };
        if let Some(words) = keeper {
            let y = 8.0;
            lines
                .push((Layer::Internal, outline::stroke(Point::new(0.0, y), Point::new(width, y))));
            marks.push(Mark::level(Point::new(4.0, y + 2.0), 3.0, words));
        }
        let notch = Notch {
            at: Point::new(width / 2.0, CASING_DEPTH_MM),
            outward: Vec2::new(0.0, 1.0),
            label: "C".to_owned(),
            kind: NotchKind::Notch,
        };
        let piece = Piece {
            kind: PieceKind::Casing,
            name: "Casing of the opening".to_owned(),
            cut: 2,
            lines,
            on_fold: false,
            notches: vec![notch],
            marks,
            label_area: Rect::new(10.0, 15.0, (seam.x1 - 4.0).max(14.0), CASING_DEPTH_MM - 8.0),
            grain: Line::new((6.0, 14.0), (6.0, CASING_DEPTH_MM - 9.0)),
            allowance_mm: allowance.min(options.hem_mm),
        };
        let pair = SeamPair {
            name: "casing to opening".to_owned(),
            first_mm: width,
            second_mm: slit.p1.x - slit.p0.x,
            eased_mm: 0.0,
        };
        Some((piece, pair))
    }

    /// The seam to the sleeve, and a remark where one edge is eased into the other.
    pub(super) fn sleeve(&self, options: &GloveOptions) -> Option<(SeamPair, Option<Remark>)> {
        let Bottom::Sleeve { flat_width_mm } = options.bottom else { return None };
        let (glove, sleeve) = (2.0 * self.bottom, 2.0 * flat_width_mm);
        let pair = SeamPair {
            name: "lower edge to sleeve".to_owned(),
            first_mm: glove,
            second_mm: sleeve,
            eased_mm: glove - sleeve,
        };
        let share = (glove / sleeve - 1.0).abs();
        let (is_glove_wider, by_mm) = (glove > sleeve, pair.eased_mm.abs());
        let remark = if by_mm <= SEAM_AGREEMENT_MM {
            None
        } else if share > EASED_SHARE {
            Some(Remark::TooMuchToEase { is_glove_wider, by_mm })
        } else {
            Some(Remark::Eased { is_glove_wider, by_mm })
        };
        Some((pair, remark))
    }
}
