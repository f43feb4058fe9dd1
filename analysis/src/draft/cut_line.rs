//! Joins the parallels of an outline's runs into one cut line that never crosses itself.

use kurbo::{Point, Vec2};

use super::outline::{End, Run, crossing, direction_at, line, passing, trim};

/// Levels above a crotch at which the cut line is tried, and the step between them, mm. They
/// reach as high as two allowances of 10 mm can meet between fingers that part slowly.
const SLIT_STEPS: u32 = 16;
const SLIT_STEP_MM: f64 = 2.5;

/// What stands between two runs of a half outline.
#[derive(Debug, Clone, Copy)]
pub(super) enum Corner {
    /// The corner before the floor of a crotch; `out` points from the floor out of the glove and
    /// `floor` is a point of it.
    Crotch {
        /// Unit vector out of the glove.
        out: Vec2,
        /// A point of the floor's seam line.
        floor: Point,
    },
    /// The corner after the floor of a crotch.
    Floor,
    /// A corner that points out of the piece.
    Outer,
}

/// Joins parallels (one more than there are corners) and trims the first at the fold x = 0.
pub(super) fn join(parallels: Vec<Run>, corners: &[Corner], allowance: f64) -> Run {
    let mut runs = parallels;
    if let Some(first) = runs.first_mut()
        && let Some(place) = passing(first, End::Start, Vec2::new(1.0, 0.0), 0.0)
    {
        trim(first, End::Start, place);
    }
    for (i, corner) in corners.iter().enumerate() {
        match corner {
            Corner::Crotch { out, floor } => crotch(&mut runs, i, *out, *floor, allowance),
            Corner::Floor => {}
            Corner::Outer => outer(&mut runs, i),
        }
    }
    runs.into_iter().flatten().collect()
}

/// The floor of the slot between two fingers where it is wide enough for both allowances;
/// otherwise one slit, from where the two allowances meet.
fn crotch(runs: &mut [Run], i: usize, out: Vec2, floor: Point, allowance: f64) {
    let Some([down, base, up]) = runs.get_mut(i..i + 3) else { return };
    let left = Vec2::new(-out.y, out.x);
    let ground = floor.to_vec2().dot(out);
    let at = |down: &Run, up: &Run, height: f64| {
        Some((passing(down, End::Finish, out, height)?, passing(up, End::Start, out, height)?))
    };
    let gap = |pair: &(super::outline::Passing, super::outline::Passing)| {
        (pair.1.at - pair.0.at).dot(left)
    };
    // The highest level at which the allowances still overlap, if any.
    let low = ground + allowance;
    let closed = (0..SLIT_STEPS)
        .rev()
        .map(|step| low + SLIT_STEP_MM * f64::from(step))
        .find(|height| at(down, up, *height).is_some_and(|pair| gap(&pair) <= 0.0));
    let Some(mut closed) = closed else {
        if let Some((a, b)) = at(down, up, low) {
            trim(down, End::Finish, a);
            trim(up, End::Start, b);
            *base = vec![line(a.at, b.at)];
        }
        return;
    };
    let mut open = closed + SLIT_STEP_MM;
    let mut meeting = None;
    for _ in 0..30 {
        let middle = f64::midpoint(closed, open);
        let pair = at(down, up, middle);
        if pair.as_ref().is_some_and(|pair| gap(pair) > 0.0) {
            open = middle;
            meeting = pair;
        } else {
            closed = middle;
        }
    }
    if let Some((a, b)) = meeting {
        trim(down, End::Finish, a);
        trim(up, End::Start, b);
        base.clear();
    }
}

/// Lengthens both runs straight until they meet.
fn outer(runs: &mut [Run], i: usize) {
    let Some([before, after]) = runs.get_mut(i..i + 2) else { return };
    let (Some((a, da)), Some((b, db))) =
        (direction_at(before, End::Finish), direction_at(after, End::Start))
    else {
        return;
    };
    if let Some(meeting) = crossing(a, da, b, db) {
        before.push(line(a, meeting));
        after.insert(0, line(meeting, b));
    }
}
