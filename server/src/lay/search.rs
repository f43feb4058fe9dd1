//! A lay: pieces on cloth of a given width, grain kept, as short as a search finds it.
//!
//! The search starts from the plain bottom-left fill, largest piece first, and keeps the shortest
//! lay without overlap, so it is never worse than that. Again and again it takes a strip off the
//! length and lets the pieces part ([`super::separate`]), first on coarse cells, where the sequence
//! of the large pieces is found quickly, then on fine ones, which lose little cloth round each.

use std::f64::consts::PI;
use std::sync::{Mutex, PoisonError};

use kurbo::{Affine, Point};
use rayon::prelude::*;

use super::area_of;
use super::raster::{Cell, Grid, Mask};
use super::separate::{Place, Strip};

/// Cells of the lay, mm.
const FINAL_CELL_MM: f64 = 1.0;

/// Stages of the search: cells of the lay along a cell of the stage, and the share of time at which
/// the stage ends (assumed; found by trying on gloves).
const STAGES: [(i32, f64); 3] = [(4, 0.45), (2, 0.75), (1, 1.0)];

/// Share of the length taken off at first, how much of it stays after a failure, and the least.
const FIRST_STEP: f64 = 0.01;
const STEP_KEPT: f64 = 0.7;
const LAST_STEP: f64 = 0.0002;

/// Layouts kept that nearly fitted.
const POOL: usize = 200;

/// Pieces laid together at most.
const LARGEST_SECTION: usize = 160;

/// Longest lay of a section, mm (assumed: a whole bolt is 50 to 100 m).
const LONGEST_MM: f64 = 100_000.0;

/// Cloth to lay on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cloth {
    /// Usable width, across the grain, mm.
    pub width_mm: f64,
    /// Room between pieces, mm; half of it is kept at the edges.
    pub gap_mm: f64,
    /// Whether a piece may lie head down: not on cloth with a nap or a pattern that has a top.
    pub may_lie_head_down: bool,
}

/// A piece on the cloth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// Index of the piece.
    pub piece: usize,
    /// From the piece's frame to the cloth's: mm, y along the grain.
    pub motion: Affine,
}

/// A lay.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Lay {
    /// Every piece, once.
    pub laid: Vec<Laid>,
    /// Length of cloth it takes, mm.
    pub length_mm: f64,
    /// Share of that cloth which is pieces.
    pub used: f64,
    /// Length that the plain fill takes for the same pieces, mm.
    pub plain_mm: f64,
}

/// Why there is no lay.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LayError {
    /// A piece is wider than the cloth.
    #[error("A piece is wider than the cloth. Its narrowest cloth is {0:.0} mm.")]
    TooWide(f64),
    /// There is nothing to lay.
    #[error("There is nothing to lay.")]
    Nothing,
}

/// Pieces as masks on the grid that the lay is made on.
struct Table<'a> {
    outlines: &'a [Vec<Point>],
    cloth: Cloth,
    turns: Vec<Affine>,
    masks: Vec<Vec<Mask>>,
}

impl Table<'_> {
    fn new(outlines: &[Vec<Point>], cloth: Cloth, cell_mm: f64) -> Table<'_> {
        let mut turns = vec![Affine::IDENTITY];
        if cloth.may_lie_head_down {
            turns.push(Affine::rotate(PI));
        }
        // Not in parallel: a page that only wants a plain lay would wait for the searches that run.
        let masks = outlines.iter().map(|outline| {
            let turned = turns.iter().map(|turn| {
                let points: Vec<Point> = outline.iter().map(|p| *turn * *p).collect();
                Mask::of(&points, cloth.gap_mm / 2.0, cell_mm)
            });
            turned.collect()
        });
        let masks = masks.collect();
        Table { outlines, cloth, turns, masks }
    }

    /// The plain bottom-left fill in this sequence; `None` when a piece is wider than the cloth.
    fn fill(&self, sequence: &[usize]) -> Option<Vec<Place>> {
        let mut grid = Grid::new(self.cloth.width_mm, FINAL_CELL_MM);
        let rows = (LONGEST_MM / FINAL_CELL_MM) as usize;
        let mut filled = vec![Place { turn: 0, column: 0, row: 0 }; self.outlines.len()];
        for piece in sequence {
            let places = self.masks.get(*piece)?.iter().enumerate().filter_map(|(turn, mask)| {
                let at: Cell = grid.lowest(mask, rows)?;
                Some((at.row + mask.rows(), at, turn, mask))
            });
            let (_, at, turn, mask) = places.min_by_key(|(top, at, ..)| (*top, *at))?;
            grid.put(mask, at);
            *filled.get_mut(*piece)? = Place { turn, column: at.column as i32, row: at.row as i32 };
        }
        Some(filled)
    }

    /// The masks on cells so many times as large.
    fn masks_of(&self, times: usize) -> Vec<Vec<Mask>> {
        let sized = |mask: &Mask| if times == 1 { mask.clone() } else { mask.coarser(times) };
        self.masks.par_iter().map(|turns| turns.iter().map(sized).collect()).collect()
    }

    /// Length of a layout, cells.
    fn length_of(&self, places: &[Place]) -> i32 {
        let top = |(place, masks): (&Place, &Vec<Mask>)| {
            place.row + masks.get(place.turn).map_or(0, |mask| mask.rows() as i32)
        };
        places.iter().zip(&self.masks).map(top).max().unwrap_or(0)
    }

    fn lay(&self, places: &[Place]) -> Lay {
        let mut lay = Lay::default();
        for (piece, (place, outline)) in places.iter().zip(self.outlines).enumerate() {
            let mask = self.masks.get(piece).and_then(|masks| masks.get(place.turn));
            let (Some(mask), Some(turn)) = (mask, self.turns.get(place.turn)) else { continue };
            let at = Cell { row: place.row.max(0) as usize, column: place.column.max(0) as usize };
            let motion = Affine::translate(mask.motion(at)) * *turn;
            let top = outline.iter().map(|p| (motion * *p).y).fold(0.0, f64::max);
            lay.length_mm = lay.length_mm.max(top + self.cloth.gap_mm / 2.0);
            lay.laid.push(Laid { piece, motion });
        }
        lay.plain_mm = lay.length_mm;
        lay.measure(self.outlines, self.cloth);
        lay
    }

    /// Pieces by falling area: the sequence of the plain fill.
    fn by_area(&self) -> Vec<usize> {
        let mut sequence: Vec<usize> = (0..self.outlines.len()).collect();
        let area = |i: &usize| self.outlines.get(*i).map_or(0.0, |outline| area_of(outline));
        sequence.sort_by(|a, b| area(b).total_cmp(&area(a)).then(a.cmp(b)));
        sequence
    }
}

/// The plain bottom-left fill, largest piece first.
///
/// # Errors
/// [`LayError`].
pub fn bottom_left(outlines: &[Vec<Point>], cloth: Cloth) -> Result<Lay, LayError> {
    if outlines.is_empty() {
        return Err(LayError::Nothing);
    }
    let mut whole = Lay::default();
    for section in sections(outlines) {
        let table = Table::new(section, cloth, FINAL_CELL_MM);
        let too_wide = || LayError::TooWide(narrowest(outlines, cloth));
        whole.append(table.lay(&table.fill(&table.by_area()).ok_or_else(too_wide)?));
    }
    whole.measure(outlines, cloth);
    Ok(whole)
}

/// The shortest lay that is found before `share_of_time` reaches 1. It is asked all the time, from
/// several threads, and says how much of the time is gone.
///
/// # Errors
/// [`LayError`].
pub fn search(
    outlines: &[Vec<Point>],
    cloth: Cloth,
    share_of_time: &(dyn Fn() -> f64 + Sync),
) -> Result<Lay, LayError> {
    if outlines.is_empty() {
        return Err(LayError::Nothing);
    }
    let sections: Vec<&[Vec<Point>]> = sections(outlines);
    let mut whole = Lay::default();
    for (number, section) in sections.iter().enumerate() {
        let of = sections.len() as f64;
        let share = || share_of_time() * of - number as f64;
        let lay = search_section(section, cloth, &share)?;
        whole.append(lay);
    }
    whole.measure(outlines, cloth);
    Ok(whole)
}

fn search_section(
    outlines: &[Vec<Point>],
    cloth: Cloth,
    share_of_time: &(dyn Fn() -> f64 + Sync),
) -> Result<Lay, LayError> {
    let table = Table::new(outlines, cloth, FINAL_CELL_MM);
    let sequence = table.by_area();
    let too_wide = || LayError::TooWide(narrowest(outlines, cloth));
    let plain = table.fill(&sequence).ok_or_else(too_wide)?;
    // Small pieces find room anywhere; exchanging them leads nowhere.
    let large = sequence.get(..sequence.len() / 2 + 1).unwrap_or(&sequence);
    let mut at = plain.clone();
    let mut shortest = plain.clone();
    let mut cells_before = 1;
    for (cells, end) in STAGES {
        let scaled = |n: i32| ((n * cells_before) as f64 / cells as f64).round() as i32;
        let start: Vec<Place> = at
            .iter()
            .map(|p| Place { row: scaled(p.row), column: scaled(p.column), ..*p })
            .collect();
        let masks: Vec<Vec<Mask>> = table.masks_of(cells as usize);
        let width = (cloth.width_mm / (FINAL_CELL_MM * f64::from(cells)) + 1e-9) as i32;
        let is_over = || share_of_time() >= end;
        let best = Mutex::new(None);
        (0..rayon::current_num_threads().max(1)).into_par_iter().for_each(|chain| {
            let seed = (cells as u64) << 32 | chain as u64;
            let strip = Strip::new(&masks, width, start.clone(), seed);
            shorten(strip, large, cells > 1, &best, &is_over);
        });
        let best = best.into_inner().unwrap_or_else(PoisonError::into_inner);
        if let Some((length, found)) = best {
            if cells == 1 && length < table.length_of(&shortest) {
                shortest.clone_from(&found);
            }
            at = found;
            cells_before = cells;
        }
    }
    let plain_mm = table.lay(&plain).length_mm;
    Ok(Lay { plain_mm, ..table.lay(&shortest) })
}

/// A layout without overlap, and its length in cells.
type Found = (i32, Vec<Place>);

/// Takes cloth off a strip as long as its pieces can be parted, sharing what is found with other
/// threads.
fn shorten(
    mut strip: Strip<'_>,
    large: &[usize],
    is_coarse: bool,
    best: &Mutex<Option<Found>>,
    is_over: &dyn Fn() -> bool,
) {
    let shared = || best.lock().unwrap_or_else(PoisonError::into_inner);
    // What was apart on other cells may touch on these; a little more cloth parts it.
    while !strip.separate(is_over) {
        if is_over() {
            return;
        }
        strip.set_length(strip.length + (strip.length / 250).max(1));
    }
    let mut tries = Tries { step: FIRST_STEP, failures: 0, from: 0, pool: Vec::new() };
    loop {
        let top = strip.top();
        {
            let mut best = shared();
            if best.as_ref().is_none_or(|(length, _)| top < *length) && strip.overlaps().is_empty()
            {
                *best = Some((top, strip.places().to_vec()));
            }
        }
        if is_over() {
            return;
        }
        let Some(found) = shared().clone() else { return };
        let next = found.0 - ((f64::from(found.0) * tries.step) as i32).max(1);
        if next < strip.tallest() {
            return;
        }
        if is_coarse {
            tries.explore(&mut strip, found, next, large);
        } else {
            tries.press(&mut strip, found, next, large);
        }
        if strip.separate(is_over) {
            tries.failures = 0;
        } else {
            tries.failed(&strip, is_coarse);
        }
    }
}

/// What was tried at the length that is aimed at.
struct Tries {
    step: f64,
    failures: usize,
    /// Length that the tries of the pool started from.
    from: i32,
    /// Layouts that overlapped a little, least first.
    pool: Vec<(u64, Vec<Place>)>,
}

impl Tries {
    /// Stays at a length well below the best and exchanges large pieces of what nearly fitted, until
    /// something fits: this finds other sequences.
    fn explore(&mut self, strip: &mut Strip<'_>, found: Found, next: i32, large: &[usize]) {
        let (length, places) = found;
        if self.from != length {
            self.pool.clear();
            self.from = length;
        }
        // The better a try, the more often it is taken up again.
        let pick = strip.random().unit().powi(2) * self.pool.len() as f64;
        match self.pool.get(pick as usize) {
            Some((_, places)) => {
                strip.put(places.clone(), next);
                strip.exchange(large);
            }
            None => {
                strip.put(places, length);
                strip.set_length(next);
            }
        }
    }

    /// Takes less and less off the best: this finds the last millimetres.
    fn press(&mut self, strip: &mut Strip<'_>, found: Found, next: i32, large: &[usize]) {
        let (length, places) = found;
        strip.put(places, length);
        if !self.failures.is_multiple_of(3) {
            strip.exchange(large);
        }
        strip.set_length(next);
    }

    fn failed(&mut self, strip: &Strip<'_>, is_coarse: bool) {
        self.failures += 1;
        if is_coarse {
            let total = strip.overlaps().iter().map(|(.., cells)| u64::from(*cells)).sum();
            let at = self.pool.partition_point(|(other, _)| *other < total);
            self.pool.insert(at, (total, strip.places().to_vec()));
            self.pool.truncate(POOL);
        } else {
            self.step = (self.step * STEP_KEPT).max(LAST_STEP);
        }
    }
}

/// Pieces in sections of bounded size: each is laid by itself, so that a cast of a thousand takes
/// no more than its share of time.
fn sections(outlines: &[Vec<Point>]) -> Vec<&[Vec<Point>]> {
    let count = outlines.len().div_ceil(LARGEST_SECTION).max(1);
    outlines.chunks(outlines.len().div_ceil(count).max(1)).collect()
}

impl Lay {
    /// Lays a section on the cloth beyond this one.
    fn append(&mut self, section: Lay) {
        let pieces = self.laid.len();
        let onwards = Affine::translate((0.0, self.length_mm));
        self.laid.extend(
            section
                .laid
                .into_iter()
                .map(|laid| Laid { piece: laid.piece + pieces, motion: onwards * laid.motion }),
        );
        self.length_mm += section.length_mm;
        self.plain_mm += section.plain_mm;
    }

    fn measure(&mut self, outlines: &[Vec<Point>], cloth: Cloth) {
        let area: f64 = outlines.iter().map(|outline| area_of(outline)).sum();
        self.used = area / (cloth.width_mm * self.length_mm).max(1.0);
    }
}

fn narrowest(outlines: &[Vec<Point>], cloth: Cloth) -> f64 {
    let width = |outline: &Vec<Point>| {
        let xs = || outline.iter().map(|p| p.x);
        xs().fold(f64::MIN, f64::max) - xs().fold(f64::MAX, f64::min)
    };
    outlines.iter().map(width).fold(0.0, f64::max) + cloth.gap_mm + 2.0 * FINAL_CELL_MM
}
