//! A lay: pieces on cloth of a given width, grain kept, as short as a search finds it.
//!
//! Each piece in turn goes as low, then as far left, as it fits; the search is over the sequence.
//! It begins with the plain bottom-left fill, largest piece first, and keeps the best it has seen,
//! so it is never worse than that.

use std::f64::consts::PI;

use kurbo::{Affine, Point};
use rayon::prelude::*;

use super::raster::{Cell, Grid, Mask};

/// Cells while searching and for the lay itself, mm: coarse ones find the sequence quickly, fine
/// ones lose little cloth round each piece.
const SEARCH_CELL_MM: f64 = 4.0;
const FINAL_CELL_MM: f64 = 1.0;

/// Longest lay, mm (assumed: a whole bolt is 50 to 100 m).
const LONGEST_MM: f64 = 100_000.0;

/// Share by which a step of the search may be worse at its start (assumed; it falls to nothing as
/// the time runs out).
const WARMTH: f64 = 0.01;

/// Cloth to lay on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cloth {
    /// Usable width, across the grain, mm.
    pub width_mm: f64,
    /// Room between pieces and at the edges, mm.
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
#[derive(Debug, Clone, PartialEq)]
pub struct Lay {
    /// Every piece, once.
    pub laid: Vec<Laid>,
    /// Length of cloth it takes, mm.
    pub length_mm: f64,
    /// Share of that cloth which is pieces.
    pub used: f64,
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

/// A piece ready to be placed: its shapes upright and, where allowed, head down.
struct Shapes(Vec<(Mask, Affine)>);

struct Table<'a> {
    outlines: &'a [Vec<Point>],
    cloth: Cloth,
    cell_mm: f64,
    shapes: Vec<Shapes>,
}

impl Table<'_> {
    fn new(outlines: &[Vec<Point>], cloth: Cloth, cell_mm: f64) -> Table<'_> {
        let mut turns = vec![Affine::IDENTITY];
        if cloth.may_lie_head_down {
            turns.push(Affine::rotate(PI));
        }
        let shapes = outlines
            .iter()
            .map(|outline| {
                let turned = turns.iter().map(|turn| {
                    let points: Vec<Point> = outline.iter().map(|p| *turn * *p).collect();
                    (Mask::of(&points, cloth.gap_mm / 2.0, cell_mm), *turn)
                });
                Shapes(turned.collect())
            })
            .collect();
        Table { outlines, cloth, cell_mm, shapes }
    }

    /// Lays the pieces in this sequence; `None` when one is wider than the cloth.
    fn lay(&self, sequence: &[usize]) -> Option<Lay> {
        // The edge of the cloth keeps half a gap less than pieces keep from each other.
        let mut grid = Grid::new(self.cloth.width_mm, self.cell_mm);
        let rows = (LONGEST_MM / self.cell_mm) as usize;
        let mut laid = Vec::with_capacity(sequence.len());
        let (mut length_mm, mut area) = (0.0_f64, 0.0);
        for piece in sequence {
            let shapes = &self.shapes.get(*piece)?.0;
            let places = shapes.iter().filter_map(|(mask, turn)| {
                let at: Cell = grid.lowest(mask, rows)?;
                Some((at.row + mask.rows(), at, mask, turn))
            });
            let (_, at, mask, turn) = places.min_by_key(|(top, at, ..)| (*top, *at))?;
            grid.put(mask, at);
            let motion = Affine::translate(mask.motion(at)) * *turn;
            let outline = self.outlines.get(*piece)?;
            let top = outline.iter().map(|p| (motion * *p).y).fold(0.0, f64::max);
            length_mm = length_mm.max(top + self.cloth.gap_mm / 2.0);
            area += area_of(outline);
            laid.push(Laid { piece: *piece, motion });
        }
        let used = area / (self.cloth.width_mm * length_mm).max(1.0);
        Some(Lay { laid, length_mm, used })
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
    let table = Table::new(outlines, cloth, FINAL_CELL_MM);
    table.lay(&table.by_area()).ok_or_else(|| LayError::TooWide(narrowest(outlines, cloth)))
}

/// The shortest lay that is found before `share_of_time` reaches 1. It is asked between tries, from
/// several threads, and says how much of the time is gone.
///
/// # Errors
/// [`LayError`].
pub fn search(
    outlines: &[Vec<Point>],
    cloth: Cloth,
    share_of_time: &(dyn Fn() -> f64 + Sync),
) -> Result<Lay, LayError> {
    let plain = bottom_left(outlines, cloth)?;
    let coarse = Table::new(outlines, cloth, SEARCH_CELL_MM);
    let fine = Table::new(outlines, cloth, FINAL_CELL_MM);
    let chains = rayon::current_num_threads().max(1);
    let found: Vec<Vec<usize>> = (0..chains)
        .into_par_iter()
        .map(|chain| anneal(&coarse, chain as u64 + 1, share_of_time))
        .collect();
    let finished: Vec<Lay> = found.par_iter().filter_map(|sequence| fine.lay(sequence)).collect();
    let shortest = finished.into_iter().min_by(|a, b| a.length_mm.total_cmp(&b.length_mm));
    Ok(shortest.filter(|lay| lay.length_mm < plain.length_mm).unwrap_or(plain))
}

/// Simulated annealing over sequences: exchanges and moves, worse ones taken less and less.
fn anneal(table: &Table<'_>, seed: u64, share_of_time: &(dyn Fn() -> f64 + Sync)) -> Vec<usize> {
    let mut random = Random(seed);
    let mut now = table.by_area();
    let cost =
        |sequence: &[usize]| table.lay(sequence).map_or(f64::INFINITY, |lay| cost_of(&lay, table));
    let mut cost_now = cost(&now);
    let (mut best, mut best_cost) = (now.clone(), cost_now);
    loop {
        let gone = share_of_time();
        if gone >= 1.0 || now.len() < 2 {
            return best;
        }
        let mut next = now.clone();
        let (from, to) = (random.below(next.len()), random.below(next.len()));
        if random.below(2) == 0 {
            next.swap(from, to);
        } else {
            let piece = next.remove(from);
            next.insert(to, piece);
        }
        let next_cost = cost(&next);
        if next_cost <= cost_now * (1.0 + WARMTH * (1.0 - gone) * random.unit()) {
            now = next;
            cost_now = next_cost;
            if cost_now < best_cost {
                best.clone_from(&now);
                best_cost = cost_now;
            }
        }
    }
}

/// The length, and a little of how high the pieces lie on the whole: of two lays of one length, the
/// one with more room at its end leads further.
fn cost_of(lay: &Lay, table: &Table<'_>) -> f64 {
    let tops = lay.laid.iter().filter_map(|laid| {
        let outline = table.outlines.get(laid.piece)?;
        Some(outline.iter().map(|p| (laid.motion * *p).y).fold(0.0, f64::max))
    });
    let mean = tops.sum::<f64>() / lay.laid.len().max(1) as f64;
    lay.length_mm + 0.2 * mean
}

fn area_of(outline: &[Point]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    let doubled: f64 = outline.iter().zip(next).map(|(a, b)| a.x * b.y - b.x * a.y).sum();
    doubled.abs() / 2.0
}

fn narrowest(outlines: &[Vec<Point>], cloth: Cloth) -> f64 {
    let width = |outline: &Vec<Point>| {
        let xs = || outline.iter().map(|p| p.x);
        xs().fold(f64::MIN, f64::max) - xs().fold(f64::MAX, f64::min)
    };
    outlines.iter().map(width).fold(0.0, f64::max) + cloth.gap_mm + 2.0 * FINAL_CELL_MM
}

/// Numbers for the search: SplitMix64 (Steele, Lea, Flood 2014), the same for the same seed.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}
