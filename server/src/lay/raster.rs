//! Where a piece can lie without touching another: shapes as bits on a grid.
//!
//! Every cell that a shape, widened by its clearance, may touch is set, never one too few; so two
//! shapes whose cells are apart are apart. Rows are tested 64 cells at a time.

use kurbo::{Point, Rect, Vec2};

/// A grid of bits, rows from the bottom.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    cell_mm: f64,
    width: usize,
    words: usize,
    bits: Vec<u64>,
}

/// A shape on a grid of its own, tight round it.
#[derive(Debug, Clone, PartialEq)]
pub struct Mask {
    grid: Grid,
    /// Lower left corner of the grid in the shape's frame, mm.
    corner: Point,
}

/// A cell of a grid, from the lower left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cell {
    /// Row from the bottom.
    pub row: usize,
    /// Column from the left.
    pub column: usize,
}

impl Grid {
    /// An empty grid as wide as fits into `width_mm`, without rows yet.
    #[must_use]
    pub fn new(width_mm: f64, cell_mm: f64) -> Grid {
        let width = (width_mm / cell_mm + 1e-9).floor().max(0.0) as usize;
        Grid { cell_mm, width, words: width.div_ceil(64), bits: Vec::new() }
    }

    /// Rows so far.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.bits.len().checked_div(self.words).unwrap_or(0)
    }

    fn grow(&mut self, rows: usize) {
        let length = (rows * self.words).max(self.bits.len());
        self.bits.resize(length, 0);
    }

    fn row(&self, row: usize) -> &[u64] {
        self.bits.get(row * self.words..(row + 1) * self.words).unwrap_or(&[])
    }

    fn set(&mut self, row: usize, columns: std::ops::Range<usize>) {
        let (start, end) = (columns.start, columns.end.min(self.width));
        if start >= end {
            return;
        }
        let (first, last) = (start / 64, (end - 1) / 64);
        for word in first..=last {
            let low = if word == first { start % 64 } else { 0 };
            let high = if word == last { (end - 1) % 64 } else { 63 };
            let span = (u64::MAX >> (63 - high)) & (u64::MAX << low);
            if let Some(cells) = self.bits.get_mut(row * self.words + word) {
                *cells |= span;
            }
        }
    }

    /// Sets every cell within `rows` that a closed outline, its inside or its clearance touches.
    pub fn mark(&mut self, outline: &[Point], clearance_mm: f64, rows: usize) {
        self.grow(rows);
        self.mark_inside(outline, rows);
        let closed = outline.iter().zip(outline.iter().cycle().skip(1));
        for (from, to) in closed {
            self.mark_edge(*from, *to, clearance_mm, rows);
        }
    }

    /// Sets the cells that an edge widened by `radius` touches: two discs and the strip between
    /// them, row by row.
    fn mark_edge(&mut self, from: Point, to: Point, radius: f64, rows: usize) {
        let cell_mm = self.cell_mm;
        let index = |mm: f64| (mm / cell_mm).floor().max(0.0) as usize;
        let (low, high) = (from.y.min(to.y) - radius, from.y.max(to.y) + radius);
        if high < 0.0 || from.x.max(to.x) + radius < 0.0 {
            return;
        }
        let along = to - from;
        let across = if along.hypot2() > 0.0 {
            Vec2::new(-along.y, along.x) * (radius / along.hypot())
        } else {
            Vec2::ZERO
        };
        for row in index(low)..=index(high).min(rows.saturating_sub(1)) {
            let (bottom, top) = (row as f64 * cell_mm, (row + 1) as f64 * cell_mm);
            let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
            for centre in [from, to] {
                // The widest chord of the disc within this row.
                let nearest = centre.y.clamp(bottom, top) - centre.y;
                if nearest.abs() <= radius {
                    let half = (radius * radius - nearest * nearest).max(0.0).sqrt();
                    left = left.min(centre.x - half);
                    right = right.max(centre.x + half);
                }
            }
            for side in [from + across, from - across] {
                // The part of the strip's edge within this row.
                let (enter, leave) = if along.y == 0.0 {
                    let is_here = (bottom..=top).contains(&side.y);
                    if is_here { (0.0, 1.0) } else { continue }
                } else {
                    let at = |y: f64| (y - side.y) / along.y;
                    let (a, b) = (at(bottom), at(top));
                    (a.min(b).max(0.0), a.max(b).min(1.0))
                };
                if enter <= leave {
                    for x in [enter, leave].map(|t| side.x + along.x * t) {
                        left = left.min(x);
                        right = right.max(x);
                    }
                }
            }
            if left <= right && right >= 0.0 {
                self.set(row, index(left)..index(right) + 1);
            }
        }
    }

    fn mark_inside(&mut self, outline: &[Point], rows: usize) {
        let cell_mm = self.cell_mm;
        let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); rows];
        for (a, b) in outline.iter().zip(outline.iter().cycle().skip(1)) {
            let (low, high) = (a.y.min(b.y), a.y.max(b.y));
            // Rows whose middle lies between the ends: low <= (row + 0.5) cells < high.
            let first = (low / cell_mm - 0.5).ceil().max(0.0) as usize;
            let end = (high / cell_mm - 0.5).ceil().max(0.0) as usize;
            for row in first..end.min(rows) {
                let y = (row as f64 + 0.5) * cell_mm;
                if let Some(row) = crossings.get_mut(row) {
                    row.push(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
                }
            }
        }
        for (row, crossings) in crossings.iter_mut().enumerate() {
            crossings.sort_by(f64::total_cmp);
            for pair in crossings.chunks_exact(2) {
                let [from, to] = [pair[0], pair[1]].map(|x| (x / cell_mm).max(0.0) as usize);
                if pair[1] > 0.0 {
                    self.set(row, from..to + 1);
                }
            }
        }
    }

    /// Whether a mask row at `column` touches nothing in `row`.
    fn is_free(&self, row: usize, mask: &[u64], column: usize) -> bool {
        let cells = self.row(row);
        let (word, bit) = (column / 64, column % 64);
        mask.iter().enumerate().all(|(index, bits)| {
            let here = cells.get(word + index).copied().unwrap_or(0);
            let next = cells.get(word + index + 1).copied().unwrap_or(0);
            let carried = if bit == 0 { 0 } else { bits >> (64 - bit) };
            here & (bits << bit) == 0 && next & carried == 0
        })
    }

    /// The lowest place of a mask, then the leftmost, with its top at or under `rows`.
    #[must_use]
    pub fn lowest(&self, mask: &Mask, rows: usize) -> Option<Cell> {
        let (height, width) = (mask.grid.rows(), mask.grid.width);
        let last_column = self.width.checked_sub(width)?;
        let last_row = rows.checked_sub(height)?;
        // The row that was in the way last time is most likely in the way again.
        let mut suspect = 0;
        for row in 0..=last_row {
            for column in 0..=last_column {
                let blocked =
                    |index: &usize| !self.is_free(row + index, mask.grid.row(*index), column);
                if blocked(&suspect) {
                    continue;
                }
                match (0..height).find(blocked) {
                    Some(index) => suspect = index,
                    None => return Some(Cell { row, column }),
                }
            }
        }
        None
    }

    /// Sets a mask's cells.
    pub fn put(&mut self, mask: &Mask, at: Cell) {
        self.grow(at.row + mask.grid.rows());
        let (word, bit) = (at.column / 64, at.column % 64);
        for index in 0..mask.grid.rows() {
            let start = (at.row + index) * self.words + word;
            for (offset, bits) in mask.grid.row(index).iter().enumerate() {
                if let Some(cell) = self.bits.get_mut(start + offset) {
                    *cell |= bits << bit;
                }
                let carried = if bit == 0 { 0 } else { bits >> (64 - bit) };
                if carried != 0
                    && let Some(cell) = self.bits.get_mut(start + offset + 1)
                {
                    *cell |= carried;
                }
            }
        }
    }
}

impl Mask {
    /// A closed outline widened by a clearance.
    #[must_use]
    pub fn of(outline: &[Point], clearance_mm: f64, cell_mm: f64) -> Mask {
        Mask::within(outline, bounds_of(outline), clearance_mm, cell_mm)
    }

    /// A closed outline widened by a clearance, on a grid that holds a larger box as well: where the
    /// mask lies on a grid, so does the box, its clearance included.
    #[must_use]
    pub fn within(outline: &[Point], box_of: Rect, clearance_mm: f64, cell_mm: f64) -> Mask {
        // A thousandth for what is lost in rounding.
        let room = clearance_mm + 1e-3;
        let bounds = bounds_of(outline).union(box_of).inflate(room, room);
        let corner = bounds.origin();
        let cells = |mm: f64| (mm / cell_mm).ceil().max(1.0);
        let mut grid = Grid::new(cells(bounds.width()) * cell_mm, cell_mm);
        let moved: Vec<Point> = outline.iter().map(|p| *p - corner.to_vec2()).collect();
        grid.mark(&moved, clearance_mm, cells(bounds.height()) as usize);
        Mask { grid, corner }
    }

    /// Rows of the mask.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.grid.rows()
    }

    /// Columns of the mask.
    #[must_use]
    pub fn columns(&self) -> usize {
        self.grid.width
    }

    /// Cells that this mask shares with another that lies `right` columns and `up` rows from it.
    #[must_use]
    pub fn shared(&self, other: &Mask, right: i32, up: i32) -> u32 {
        if right < 0 {
            return other.shared(self, -right, -up);
        }
        let (word, bit) = ((right / 64) as usize, right % 64);
        let (low, high) = (up.max(0), (self.rows() as i32).min(other.rows() as i32 + up));
        let mut cells = 0;
        for row in low..high {
            let Some(here) = self.grid.row(row as usize).get(word..) else { return 0 };
            let there = other.grid.row((row - up) as usize);
            let mut carried = 0;
            for (index, bits) in here.iter().enumerate() {
                let moved = there.get(index).copied().unwrap_or(0);
                let common = bits & ((moved << bit) | carried);
                carried = if bit == 0 { 0 } else { moved >> (64 - bit) };
                // Counting is dear where the processor's own instruction cannot be relied on.
                if common != 0 {
                    cells += common.count_ones();
                }
            }
        }
        cells
    }

    /// The same shape on cells `times` as large; one is set where half of what it covers is. So it
    /// is neither too large nor too small, and only good for a first look.
    #[must_use]
    pub fn coarser(&self, times: usize) -> Mask {
        let cell_mm = self.grid.cell_mm * times as f64;
        let (width, rows) = (self.grid.width.div_ceil(times), self.rows().div_ceil(times));
        let words = width.div_ceil(64);
        let mut grid = Grid { cell_mm, width, words, bits: vec![0; rows * words] };
        let is_set = |row: usize, column: usize| {
            self.grid.row(row).get(column / 64).is_some_and(|bits| bits >> (column % 64) & 1 == 1)
        };
        for row in 0..rows {
            for column in 0..width {
                let below = (row * times)..((row + 1) * times).min(self.rows());
                let covered = below.flat_map(|r| (0..times).map(move |c| (r, column * times + c)));
                if 2 * covered.filter(|(r, c)| is_set(*r, *c)).count() >= times * times {
                    grid.set(row, column..column + 1);
                }
            }
        }
        Mask { grid, corner: self.corner }
    }

    /// How the shape moves when its mask lies at a cell of a grid whose lower left corner is the
    /// origin.
    #[must_use]
    pub fn motion(&self, at: Cell) -> Vec2 {
        let cell = self.grid.cell_mm;
        Vec2::new(at.column as f64 * cell, at.row as f64 * cell) - self.corner.to_vec2()
    }
}

fn bounds_of(outline: &[Point]) -> Rect {
    let points = outline.iter().map(|p| Rect::from_points(*p, *p));
    points.reduce(|a, b| a.union(b)).unwrap_or(Rect::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn triangle(at: Point, size: f64) -> Vec<Point> {
        vec![at, at + Vec2::new(size, 3.0), at + Vec2::new(size / 3.0, size)]
    }

    fn within(outline: &[Point], p: Point) -> bool {
        let mut is_inside = false;
        for (a, b) in outline.iter().zip(outline.iter().cycle().skip(1)) {
            if (a.y <= p.y) != (b.y <= p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
                is_inside = !is_inside;
            }
        }
        is_inside
    }

    proptest! {
        #[test]
        fn every_point_within_the_clearance_is_on_a_set_cell(
            size in 5.0_f64..90.0, u in 0.0_f64..1.0, v in 0.0_f64..1.0, cell in 0.5_f64..4.0
        ) {
            let outline = triangle(Point::new(-3.0, 7.0), size);
            let mask = Mask::of(&outline, 2.0, cell);
            // A point of the triangle, pushed by up to the clearance.
            let (u, w) = if u + v > 1.0 { (1.0 - u, 1.0 - v) } else { (u, v) };
            let p = outline[0] + (outline[1] - outline[0]) * u + (outline[2] - outline[0]) * w;
            let p = p + Vec2::from_angle(u * 6.0) * 1.99;
            let at = (p - mask.corner) / cell;
            let (column, row) = (at.x.floor() as usize, at.y.floor() as usize);
            prop_assert!(mask.grid.row(row)[column / 64] >> (column % 64) & 1 == 1);
        }

        #[test]
        fn shapes_put_in_turn_keep_apart(sizes in proptest::collection::vec(8.0_f64..60.0, 2..12)) {
            let mut grid = Grid::new(150.0, 2.0);
            let mut placed: Vec<Vec<Point>> = Vec::new();
            for size in sizes {
                let outline = triangle(Point::new(40.0, -9.0), size);
                let mask = Mask::of(&outline, 1.0, 2.0);
                let at = grid.lowest(&mask, 2000).expect("a roll always has room");
                grid.put(&mask, at);
                let moved: Vec<Point> = outline.iter().map(|p| *p + mask.motion(at)).collect();
                prop_assert!(moved.iter().all(|p| p.x >= 1.0 && p.x <= 149.0 && p.y >= 1.0));
                for other in &placed {
                    prop_assert!(!other.iter().any(|p| within(&moved, *p)));
                    prop_assert!(!moved.iter().any(|p| within(other, *p)));
                }
                placed.push(moved);
            }
        }
    }
}
