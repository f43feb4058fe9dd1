//! Joins the parallels of an outline's runs into one cut line that never crosses itself.

use kurbo::{Line, Point, Vec2};

use super::outline::{End, Passing, Run, crossing, direction_at, line, passing, trim};

/// Levels above a crotch's cut line at which the gap between two cut edges is tried, mm: they reach
/// to the tips of the longest fingers, since fingers of a trank may stand close all the way up.
const LEVELS_MM: [f64; 15] =
    [0.0, 2.5, 5.0, 8.0, 12.0, 17.0, 23.0, 30.0, 38.0, 47.0, 57.0, 68.0, 80.0, 93.0, 107.0];

/// A level above every tip, mm.
const ABOVE_MM: f64 = 122.0;

/// Gap between two cut edges below which they are one slit, mm (assumed: the width of a blade).
pub(super) const BLADE_MM: f64 = 0.3;

/// Height of the point where two cut edges meet, above the floor's cut line, from which a slit is
/// drawn down to the crotch, mm (assumed).
const SLIT_FROM_MM: f64 = 3.0;

/// How far before the stitches of the crotch a slit ends, mm (common practice: cut close, not
/// through).
const SLIT_SHORT_MM: f64 = 1.5;

/// What stands between two runs of an outline.
#[derive(Debug, Clone, Copy)]
pub(super) enum Corner {
    /// The corner before the floor of a crotch; `out` points from the floor out of the glove and
    /// `floor` is the middle of its seam line.
    Crotch {
        /// Unit vector out of the glove.
        out: Vec2,
        /// Middle of the floor's seam line.
        floor: Point,
    },
    /// The corner after the floor of a crotch.
    Floor,
    /// A corner that points out of the piece.
    Outer,
    /// A corner that points into the piece; both sides are alike about the line of points `p` with
    /// `p . across = level`.
    Inner {
        /// Unit vector across that line.
        across: Vec2,
        /// Where the line lies.
        level: f64,
    },
    /// The corner between the side and a hem that is turned up at the given height: the hem's side
    /// mirrors the side above it, so that the two lie on each other.
    Hem {
        /// Height of the fold.
        fold_y: f64,
    },
}

/// A cut line and the slits that run from it into the piece.
#[derive(Debug, Clone, Default)]
pub(super) struct CutLine {
    /// The line.
    pub(super) run: Run,
    /// Slits, from the line towards a crotch.
    pub(super) slits: Vec<Line>,
}

/// Joins parallels of half an outline (one more than there are corners) and trims the first at
/// the fold x = 0.
pub(super) fn join(parallels: Vec<Run>, corners: &[Corner], allowance: f64) -> CutLine {
    let mut runs = parallels;
    if let Some(first) = runs.first_mut()
        && let Some(place) = passing(first, End::Start, Vec2::new(1.0, 0.0), 0.0)
    {
        trim(first, End::Start, place);
    }
    let mut slits = Vec::new();
    for (i, corner) in corners.iter().enumerate() {
        match corner {
            Corner::Crotch { out, floor } => {
                slits.extend(crotch(&mut runs, i, *out, *floor, allowance));
            }
            Corner::Floor => {}
            Corner::Outer => outer(&mut runs, i, i + 1),
            Corner::Inner { across, level } => inner(&mut runs, (i, i + 1), *across, *level),
            Corner::Hem { fold_y } => hem(&mut runs, i, *fold_y),
        }
    }
    CutLine { run: runs.into_iter().flatten().collect(), slits }
}

/// Joins the parallels of a whole outline; its corners point out of the piece, save one that
/// may follow the parallel of a given number.
pub(super) fn around(parallels: Vec<Run>, inner_corner: Option<(usize, Corner)>) -> Run {
    let mut runs = parallels;
    let count = runs.len();
    for i in 0..count {
        let next = (i + 1) % count;
        match inner_corner {
            Some((place, Corner::Inner { across, level })) if place == i => {
                inner(&mut runs, (i, next), across, level);
            }
            _ => outer(&mut runs, i, next),
        }
    }
    runs.into_iter().flatten().collect()
}

/// Cuts two runs off where they cross the line they are alike about.
fn inner(runs: &mut [Run], (before, after): (usize, usize), across: Vec2, level: f64) {
    for (i, end) in [(before, End::Finish), (after, End::Start)] {
        if let Some(run) = runs.get_mut(i)
            && let Some(place) = passing(run, end, across, level)
        {
            trim(run, end, place);
        }
    }
}

/// The floor of the slot between two fingers where it is wide enough for both allowances;
/// otherwise one slit, from where the two allowances meet.
fn crotch(runs: &mut [Run], i: usize, out: Vec2, floor: Point, allowance: f64) -> Option<Line> {
    let Some([down, base, up]) = runs.get_mut(i..i + 3) else { return None };
    let left = Vec2::new(-out.y, out.x);
    let at = |down: &Run, up: &Run, height: f64| {
        Some((passing(down, End::Finish, out, height)?, passing(up, End::Start, out, height)?))
    };
    let gap = |pair: &(Passing, Passing)| (pair.1.at - pair.0.at).dot(left);
    // The highest level at which the allowances still overlap, if any.
    let low = floor.to_vec2().dot(out) + allowance;
    let is_closed =
        |level: &f64| at(down, up, low + level).is_some_and(|pair| gap(&pair) <= BLADE_MM);
    let highest = LEVELS_MM.iter().rposition(is_closed);
    let bounds = highest.map(|i| {
        let level = |i: usize| low + LEVELS_MM.get(i).copied().unwrap_or(ABOVE_MM);
        (level(i), level(i + 1))
    });
    let Some((mut closed, mut open)) = bounds else {
        if let Some((a, b)) = at(down, up, low) {
            trim(down, End::Finish, a);
            trim(up, End::Start, b);
            *base = vec![line(a.at, b.at)];
        }
        return None;
    };
    let mut meeting = None;
    for _ in 0..24 {
        let middle = f64::midpoint(closed, open);
        match at(down, up, middle) {
            Some(pair) if gap(&pair) > BLADE_MM => {
                open = middle;
                meeting = Some(pair);
            }
            Some(_) => closed = middle,
            // Above the tip of the shorter finger.
            None => open = middle,
        }
    }
    let (a, b) = meeting?;
    trim(down, End::Finish, a);
    trim(up, End::Start, b);
    *base = vec![line(a.at, b.at)];
    let apex = a.at.midpoint(b.at);
    (open > low + SLIT_FROM_MM).then(|| Line::new(apex, floor + out * SLIT_SHORT_MM))
}

fn hem(runs: &mut [Run], i: usize, fold_y: f64) {
    let Some([side, edge]) = runs.get_mut(i..i + 2) else { return };
    let up = Vec2::new(0.0, 1.0);
    let Some((end, along)) = direction_at(side, End::Finish) else { return };
    if end.y < fold_y {
        if let Some(place) = passing(side, End::Finish, up, fold_y) {
            trim(side, End::Finish, place);
        }
    } else if along.y < -1e-6 && end.y > fold_y {
        side.push(line(end, end + along * ((fold_y - end.y) / along.y)));
    }
    let Some((fold, along)) = direction_at(side, End::Finish) else { return };
    let Some((start, _)) = direction_at(edge, End::Start) else { return };
    if along.y < -1e-6 && start.y < fold_y {
        let down = Vec2::new(-along.x, along.y);
        let corner = fold + down * ((start.y - fold_y) / down.y);
        side.push(line(fold, corner));
        let end = edge.last().map_or(corner, |c| c.p3);
        *edge = vec![line(corner, end)];
    } else {
        outer(runs, i, i + 1);
    }
}

/// Lengthens two runs straight until they meet.
fn outer(runs: &mut [Run], before: usize, after: usize) {
    let ends = (
        runs.get(before).and_then(|run| direction_at(run, End::Finish)),
        runs.get(after).and_then(|run| direction_at(run, End::Start)),
    );
    let (Some((a, da)), Some((b, db))) = ends else { return };
    let Some(meeting) = crossing(a, da, b, db) else { return };
    if let Some(run) = runs.get_mut(before) {
        run.push(line(a, meeting));
    }
    if let Some(run) = runs.get_mut(after) {
        run.insert(0, line(meeting, b));
    }
}
