//! From a complete hand to pattern pieces that go together.

mod advice;
mod baseline;
mod body;
mod check;
mod cut_line;
mod fitted;
mod forecast;
mod fourchette;
mod grade;
mod gusset;
mod layout;
mod options;
mod outline;
mod pair;
mod piece;
mod remark;
mod sensitivity;
mod skeleton;
mod strip;
mod thumb;
mod tube;
mod wrist;

pub use advice::Advice;
pub use baseline::{GIRTH_TO_BREADTH, TracedFit, traced};
pub use check::Violation;
pub use fitted::Fitted;
pub(crate) use forecast::PRESSURE_TIGHT_MMHG;
pub use forecast::{CrotchFit, Digit, Feel, FitForecast, LengthFit, Zone, ZoneFit};
pub use grade::{ChartSize, european_chart, grade};
pub use options::{
    Bottom, Closure, Construction, Cuff, Finish, Fourchettes, GirthReduction, GloveOptions,
    OptionError,
};
pub use pair::{MASTER_TOLERANCE, master};
pub use piece::{Draft, Layer, Level, Mark, Notch, NotchKind, Piece, PieceKind, SeamPair};
pub use remark::Remark;
pub use sensitivity::sensitivity;

use kurbo::{Affine, Line, Point, Vec2};
use thiserror::Error;

use crate::dimension::Dimension;
use crate::fitting::PerZone;
use crate::hand::Side;
use crate::model::HandEstimate;

use body::{Body, Half};
use forecast::Drafted;
use fourchette::Trank;
use layout::Layout;
use skeleton::Skeleton;
use thumb::{Hole, Thumb};
use wrist::WristShape;

/// Why no draft was made. The text says what to check.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DraftError {
    /// The hand's proportions leave no room for a glove.
    #[error("{0}")]
    Hand(String),
    /// An option is out of its bounds.
    #[error(transparent)]
    Option(#[from] OptionError),
    /// The outline came out unsound; it is withheld.
    #[error("The draft of this hand does not hold: {}. Check the measurements; if they are right, report them.", list(.0))]
    Unsound(Vec<Violation>),
}

impl DraftError {
    /// Stable code.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            DraftError::Hand(_) => "hand_not_draftable",
            DraftError::Option(_) => "option_out_of_bounds",
            DraftError::Unsound(_) => "draft_unsound",
        }
    }
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
    let right = right_hand(hand, options, options.fitted.side(side))?;
    let draft = match side {
        Side::Right => right,
        Side::Left => right.mirrored(),
    };
    let violations = draft.check();
    if violations.is_empty() { Ok(draft) } else { Err(DraftError::Unsound(violations)) }
}

/// Where the fingers stand: on the trank of a fourchette glove, or as tubes side by side.
fn placed(
    skeleton: &Skeleton,
    options: &GloveOptions,
    palm: f64,
) -> Result<(Option<Trank>, Layout), DraftError> {
    match options.construction {
        Construction::TwoLayer => Ok((None, layout::layout(skeleton, options, palm)?)),
        Construction::Fourchette => {
            let trank = Trank::new(skeleton, options, palm)?;
            Ok((Some(trank), trank.palm))
        }
    }
}

/// Fewest stitches across a crotch that a draft takes instead of refusing the hand (common
/// practice: two for a child's glove).
const FEWEST_STITCHES: u8 = 2;

/// Places the fingers with the crotches as asked, or narrower ones where they find no room; returns
/// the options kept.
fn with_room(
    skeleton: &Skeleton,
    asked: &GloveOptions,
    palm: f64,
) -> Result<(Option<Trank>, Layout, GloveOptions), DraftError> {
    let keep = |options: GloveOptions| {
        placed(skeleton, &options, palm).map(|(trank, layout)| (trank, layout, options))
    };
    keep(*asked).or_else(|refusal| {
        (FEWEST_STITCHES..asked.crotch_stitches)
            .rev()
            .find_map(|crotch_stitches| keep(GloveOptions { crotch_stitches, ..*asked }).ok())
            .ok_or(refusal)
    })
}

fn right_hand(
    worn: &HandEstimate,
    asked: &GloveOptions,
    changes: &PerZone,
) -> Result<Draft, DraftError> {
    let hand = &fitted::drafted_hand(worn, asked, changes);
    let plain = Skeleton::new(hand, asked.length_reserve())?.changed(worn, changes);
    let flat = |dimension: Dimension, reduction: f64| hand.mm(dimension) * (1.0 - reduction) / 2.0;
    let palm = flat(Dimension::HandGirth, asked.reduction.palm);
    let skeleton = plain.with_crotches(changes, |skeleton| {
        let (_, layout, _) = with_room(skeleton, asked, palm)?;
        Ok(layout.crotches.map(|crotch| crotch.stand_off))
    })?;
    let (trank, layout, options) = with_room(&skeleton, asked, palm)?;
    let options = &options;
    let wrist = WristShape::new(flat(Dimension::WristGirth, options.reduction.wrist), options);
    let (near, far) = layout.tubes[0].levels()[0];
    let hole = Hole::new(hand, options, near.midpoint(far).x)?;
    let thumb = Thumb::new(hand, options, &hole)?;
    let (strips, mut joins) = trank.as_ref().map(Trank::fourchettes).unwrap_or_default();
    joins.extend(wrist.opening(options).map(|slit| Notch {
        at: slit.midpoint(),
        outward: Vec2::new(0.0, 1.0),
        label: "C".to_owned(),
        kind: NotchKind::Notch,
    }));
    let body = Body {
        layout: &layout,
        palm: Half::new(&layout, palm, &wrist, options),
        back: trank.as_ref().map(|trank| Half::new(&trank.back, palm, &wrist, options)),
        wrist: &wrist,
        joins,
    };
    let beside = [0, 1, 2, 3].map(|i| trank.as_ref().map_or([0.0; 2], |trank| trank.beside(i)));
    let mut forecast =
        forecast::forecast(hand, options, Drafted { skeleton: &skeleton, layout: &layout, beside });
    let webs_higher = [0, 1, 2].map(|k: usize| skeleton.webs[k] - plain.webs[k]);
    forecast.worn_by(worn, options, changes, webs_higher);
    let mut remarks = forecast.remarks(options);
    if options.crotch_stitches < asked.crotch_stitches {
        remarks.push(Remark::FewerStitches {
            asked: asked.crotch_stitches,
            drafted: options.crotch_stitches,
        });
    }
    let mut seams = vec![SeamPair {
        name: "thumb base to thumb hole".to_owned(),
        first_mm: thumb.base_length(),
        second_mm: hole.perimeter(),
        eased_mm: 0.0,
    }];
    let mut levels = levels(&layout, &body, palm, &thumb, beside);
    let mut pieces = vec![body.piece(&hole, options), thumb.piece(options)];
    let gussets = gusset::gussets(&strips, options);
    seams.extend(gussets.seams);
    for (piece, across) in gussets.pieces {
        levels.extend(across.into_iter().map(|(line, half)| Level {
            zone: Zone::Fourchette,
            piece: pieces.len(),
            line,
            beside_mm: 0.0,
            girth_mm: 4.0 * half,
        }));
        pieces.push(piece);
    }
    if let Some((piece, seam)) = wrist.casing(options) {
        pieces.push(piece);
        seams.push(seam);
    }
    if let Some((seam, remark)) = wrist.sleeve(options) {
        seams.push(seam);
        remarks.extend(remark);
    }
    let mut crotches: Vec<Line> =
        layout.crotches.iter().map(|c| Line::new(c.near, c.far)).collect();
    if let Some(trank) = &trank {
        let back = trank.back.crotches.iter().map(|c| Affine::FLIP_X * Line::new(c.near, c.far));
        crotches.extend(back);
    }
    Ok(Draft {
        side: Side::Right,
        pieces,
        seams,
        levels,
        allowance_mm: options.seam_allowance_mm,
        crotch_width_mm: options.crotch_width_mm(),
        crotches,
        forecast,
        remarks,
    })
}

fn levels(
    layout: &Layout,
    body: &Body<'_>,
    palm: f64,
    thumb: &Thumb,
    beside: [[f64; 2]; 4],
) -> Vec<Level> {
    let on = |zone, piece, line: Line, flat: f64, beside_mm: f64| Level {
        zone,
        piece,
        line,
        beside_mm,
        girth_mm: 2.0 * flat + beside_mm,
    };
    let knuckles = Line::new(body::knuckle_on_fold(layout), body.palm.knuckle());
    let wrist = Line::new(Point::ORIGIN, (-body.wrist.width, 0.0));
    let mut levels = vec![
        on(Zone::Palm, 0, knuckles, palm, 0.0),
        on(Zone::Wrist, 0, wrist, body.wrist.width, 0.0),
    ];
    for ((tube, digit), strips) in layout.tubes.iter().zip(Digit::FINGERS).zip(beside) {
        let [knuckle, end] = tube.levels().map(|(near, far)| Line::new(near, far));
        let [at_knuckle, at_end] = tube.flat_at_joints();
        levels.push(on(Zone::Knuckle(digit), 0, knuckle, at_knuckle, strips[0]));
        if tube.covers_end_joint() {
            levels.push(on(Zone::EndJoint(digit), 0, end, at_end, strips[1]));
        }
    }
    let (height, half) = thumb.joint;
    let line = Line::new((0.0, height), (-half, height));
    levels.push(on(Zone::Knuckle(Digit::Thumb), 1, line, half, 0.0));
    levels
}
