//! From a complete hand to pattern pieces that go together.

mod body;
mod check;
mod cut_line;
mod forecast;
mod layout;
mod outline;
mod piece;
mod skeleton;
mod thumb;
mod tube;

pub use check::Violation;
pub use forecast::{CrotchFit, Digit, FitForecast, Zone, ZoneFit};
pub use piece::{Draft, Layer, Level, Mark, Notch, NotchKind, Piece, PieceKind, SeamPair};

use kurbo::Line;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::dimension::Dimension;
use crate::hand::Side;
use crate::model::HandEstimate;

/// Where girth is reduced or enlarged on its own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct GirthReduction {
    /// Share taken off the girth of the palm, 0.10 is 10 %; negative adds ease.
    pub palm: f64,
    /// Share taken off the girth of the wrist.
    pub wrist: f64,
    /// Share taken off the girth of index, middle, ring and little finger.
    pub fingers: f64,
    /// Share taken off the girth of the thumb.
    pub thumb: f64,
}

impl Default for GirthReduction {
    /// Assumed for a moderate knit: fingers a good deal less than the palm, since by Laplace's law
    /// the same tension presses a finger about three times as hard as a palm.
    fn default() -> Self {
        GirthReduction { palm: 0.10, wrist: 0.10, fingers: 0.05, thumb: 0.05 }
    }
}

/// What to draft.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct GloveOptions {
    /// Girth reduction by zone.
    pub reduction: GirthReduction,
    /// Length of one stitch, mm.
    pub stitch_length_mm: f64,
    /// Stitches across the flat crotch between two fingers.
    pub crotch_stitches: u8,
    /// Seam allowance outside the seam line, mm.
    pub seam_allowance_mm: f64,
    /// Length of the glove below the wrist crease, mm, hem not counted.
    pub below_wrist_mm: f64,
    /// Hem turned up at the bottom, mm.
    pub hem_mm: f64,
    /// Extension the fabric stands without harm, 0.60 is 60 %.
    pub usable_extension: f64,
}

impl Default for GloveOptions {
    /// Three stitches of 2 mm, 3 mm allowances and a hem of 12 mm: common practice for home-sewn
    /// fabric gloves. Usable extension of a moderate knit: assumed.
    fn default() -> Self {
        GloveOptions {
            reduction: GirthReduction::default(),
            stitch_length_mm: 2.0,
            crotch_stitches: 3,
            seam_allowance_mm: 3.0,
            below_wrist_mm: 20.0,
            hem_mm: 12.0,
            usable_extension: 0.60,
        }
    }
}

impl GloveOptions {
    /// Width of a flat crotch, mm.
    #[must_use]
    pub fn crotch_width_mm(&self) -> f64 {
        f64::from(self.crotch_stitches) * self.stitch_length_mm
    }

    fn check(&self) -> Result<(), DraftError> {
        let r = self.reduction;
        let bounded = [
            ("Girth reduction of the palm", r.palm, -0.30, 0.35),
            ("Girth reduction of the wrist", r.wrist, -0.30, 0.35),
            ("Girth reduction of the fingers", r.fingers, -0.30, 0.35),
            ("Girth reduction of the thumb", r.thumb, -0.30, 0.35),
            ("Stitch length in mm", self.stitch_length_mm, 0.8, 5.0),
            ("Stitches across the crotch", f64::from(self.crotch_stitches), 1.0, 6.0),
            ("Width of the crotch in mm", self.crotch_width_mm(), 1.5, 12.0),
            ("Seam allowance in mm", self.seam_allowance_mm, 0.0, 10.0),
            ("Length below the wrist in mm", self.below_wrist_mm, 0.0, 120.0),
            ("Hem in mm", self.hem_mm, 0.0, 50.0),
            ("Usable extension", self.usable_extension, 0.0, 3.0),
        ];
        for (name, value, low, high) in bounded {
            if !(low..=high).contains(&value) {
                return Err(DraftError::Option(format!(
                    "{name} is {value}; it lies between {low} and {high}."
                )));
            }
        }
        Ok(())
    }
}

/// Why no draft was made. The text says what to check.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DraftError {
    /// The hand's proportions leave no room for a glove.
    #[error("{0}")]
    Hand(String),
    /// An option is out of its bounds.
    #[error("{0}")]
    Option(String),
    /// The outline came out unsound; it is withheld.
    #[error("The draft of this hand does not hold: {}. Check the measurements; if they are right, report them.", list(.0))]
    Unsound(Vec<Violation>),
}

fn list(violations: &[Violation]) -> String {
    violations.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// Drafts one glove. Pure: same input, same bytes.
///
/// # Errors
/// [`DraftError`] when the hand or the options cannot make a glove; never a broken outline.
pub fn draft(hand: &HandEstimate, side: Side, options: &GloveOptions) -> Result<Draft, DraftError> {
    options.check()?;
    let right = two_layer(hand, options)?;
    let draft = match side {
        Side::Right => right,
        Side::Left => right.mirrored(),
    };
    let violations = draft.check();
    if violations.is_empty() { Ok(draft) } else { Err(DraftError::Unsound(violations)) }
}

/// The two-layer glove with set-in thumb, right hand.
fn two_layer(hand: &HandEstimate, options: &GloveOptions) -> Result<Draft, DraftError> {
    let skeleton = skeleton::Skeleton::new(hand)?;
    let flat = |dimension: Dimension, reduction: f64| hand.mm(dimension) * (1.0 - reduction) / 2.0;
    let widths = body::BodyWidths {
        palm: flat(Dimension::HandGirth, options.reduction.palm),
        wrist: flat(Dimension::WristGirth, options.reduction.wrist),
    };
    let layout = layout::layout(&skeleton, options, widths.palm)?;
    let (near, far) = layout.tubes[0].levels()[0];
    let hole = thumb::Hole::new(hand, options, near.midpoint(far).x)?;
    let thumb = thumb::Thumb::new(hand, options, &hole)?;
    let body = body::outline(&layout, widths, options);
    let pieces = vec![body.piece(&layout, widths, &hole, options), thumb.piece(options)];
    let seams = vec![SeamPair {
        name: "thumb base to thumb hole".to_owned(),
        first_mm: thumb.base_length(),
        second_mm: hole.perimeter(),
    }];
    let forecast = forecast::forecast(hand, options, &skeleton, &layout);
    let remarks = forecast.remarks(options);
    let levels = levels(&layout, &body, widths, &thumb);
    Ok(Draft {
        side: Side::Right,
        pieces,
        seams,
        levels,
        crotch_width_mm: options.crotch_width_mm(),
        crotches: layout.crotches.iter().map(|c| Line::new(c.near, c.far)).collect(),
        forecast,
        remarks,
    })
}

fn levels(
    layout: &layout::Layout,
    body: &body::Body,
    widths: body::BodyWidths,
    thumb: &thumb::Thumb,
) -> Vec<Level> {
    let on = |zone, piece, line: Line, flat: f64| Level { zone, piece, line, girth_mm: 2.0 * flat };
    let mut levels = vec![
        on(Zone::Palm, 0, Line::new(body.knuckle_on_fold, body.knuckle), widths.palm),
        on(Zone::Wrist, 0, Line::new((0.0, 0.0), (-widths.wrist, 0.0)), widths.wrist),
    ];
    for (tube, digit) in layout.tubes.iter().zip(Digit::FINGERS) {
        let [knuckle, end] = tube.levels().map(|(near, far)| Line::new(near, far));
        levels.push(on(Zone::Knuckle(digit), 0, knuckle, tube.flat_at_joints()[0]));
        levels.push(on(Zone::EndJoint(digit), 0, end, tube.flat_at_joints()[1]));
    }
    let (height, half) = thumb.joint;
    let line = Line::new((0.0, height), (-half, height));
    levels.push(on(Zone::Knuckle(Digit::Thumb), 1, line, half));
    levels
}
