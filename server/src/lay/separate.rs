//! Pieces on a strip of fixed length, moved until none overlaps another.
//!
//! Guided local search on the overlaps: a piece in the way is put where it overlaps others least;
//! pairs that go on overlapping weigh more and more until they part (Egeblad, Nielsen and Odgaard
//! 2007, "Fast neighborhood search for two- and three-dimensional nesting problems", for the
//! objective and its weights; the sampling of places is our own). The overlap of two pieces is the
//! count of cells that their masks share.

use super::raster::Mask;

/// Places tried anywhere on the strip, near the piece, and followed downhill (assumed; found by
/// trying on gloves).
const ANYWHERE: usize = 40;
const NEARBY: usize = 30;
const FOLLOWED: usize = 4;

/// Rounds without progress after which a strip is given up.
const PATIENCE: usize = 60;

/// By how much the weight of an overlapping pair grows, least and most, and how much of a weight
/// stays when the pair has parted.
const GROWTH: (f32, f32) = (1.25, 2.1);
const KEPT: f32 = 0.95;

/// Where a piece lies on the strip: the lower left corner of its mask.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    /// 0 upright, 1 head down.
    pub(super) turn: usize,
    pub(super) column: i32,
    pub(super) row: i32,
}

/// Box of a placed mask: left, bottom, right, top, in cells.
type Box4 = [i32; 4];

/// A strip with pieces on it.
#[derive(Debug)]
pub(super) struct Strip<'a> {
    /// Masks of each piece in each turn allowed.
    pub(super) masks: &'a [Vec<Mask>],
    pub(super) width: i32,
    pub(super) length: i32,
    at: Vec<Place>,
    boxes: Vec<Box4>,
    /// What pairs weigh more than 1, by piece.
    weights: Vec<Vec<(usize, f32)>>,
    random: Random,
}

impl<'a> Strip<'a> {
    /// A strip as long as what lies on it; pieces beyond its sides are moved inwards.
    pub(super) fn new(masks: &'a [Vec<Mask>], width: i32, at: Vec<Place>, seed: u64) -> Strip<'a> {
        let weights = vec![Vec::new(); at.len()];
        let random = Random(seed);
        let mut strip =
            Strip { masks, width, length: 0, at: Vec::new(), boxes: Vec::new(), weights, random };
        strip.put(at, i32::MAX);
        strip.length = strip.top();
        strip
    }

    pub(super) fn random(&mut self) -> &mut Random {
        &mut self.random
    }

    pub(super) fn places(&self) -> &[Place] {
        &self.at
    }

    /// Puts every piece at its place on a strip of this length, or as near as the strip allows.
    pub(super) fn put(&mut self, at: Vec<Place>, length: i32) {
        self.at = at;
        self.length = length;
        self.boxes = vec![[0; 4]; self.at.len()];
        for piece in 0..self.at.len() {
            let Some(place) = self.at.get(piece).copied() else { continue };
            self.move_to(piece, self.within(piece, place));
        }
    }

    /// Rows of the tallest piece as it lies.
    pub(super) fn tallest(&self) -> i32 {
        self.boxes.iter().map(|b| b[3] - b[1]).max().unwrap_or(0)
    }

    /// The highest top of a piece.
    pub(super) fn top(&self) -> i32 {
        self.boxes.iter().map(|b| b[3]).max().unwrap_or(0)
    }

    /// Takes cloth out, or puts some in, at a random height.
    pub(super) fn set_length(&mut self, length: i32) {
        let change = length - self.length;
        let cut = self.random.below(self.length.max(1) as usize) as i32;
        let mut at = std::mem::take(&mut self.at);
        for place in at.iter_mut().filter(|place| place.row > cut) {
            place.row += change;
        }
        self.put(at, length);
    }

    /// Exchanges two of these pieces.
    pub(super) fn exchange(&mut self, among: &[usize]) {
        let mut pick = || among.get(self.random.below(among.len())).copied();
        let (Some(one), Some(other)) = (pick(), pick()) else { return };
        if let (Some(a), Some(b)) = (self.at.get(one).copied(), self.at.get(other).copied()) {
            self.move_to(one, self.within(one, b));
            self.move_to(other, self.within(other, a));
        }
    }

    /// Moves pieces until none overlaps. `false` when that was given up or time is over; the
    /// pieces then lie as they overlapped least.
    pub(super) fn separate(&mut self, is_over: &dyn Fn() -> bool) -> bool {
        self.weights.iter_mut().for_each(Vec::clear);
        let (mut least, mut stale) = (u64::MAX, 0);
        let mut best = self.at.clone();
        loop {
            let pairs = self.overlaps();
            let total: u64 = pairs.iter().map(|(.., cells)| u64::from(*cells)).sum();
            if total == 0 {
                return true;
            }
            if total < least {
                // A little less is no progress: it may go on for long and lead nowhere.
                stale = if total * 50 < least.saturating_mul(49) { 0 } else { stale + 1 };
                least = total;
                best.clone_from(&self.at);
            } else {
                stale += 1;
            }
            if stale > PATIENCE || is_over() {
                self.put(best, self.length);
                return false;
            }
            self.weigh(&pairs);
            let mut moved: Vec<usize> = pairs.iter().flat_map(|(a, b, _)| [*a, *b]).collect();
            moved.sort_unstable();
            moved.dedup();
            self.random.shuffle(&mut moved);
            for piece in moved {
                self.relocate(piece);
            }
        }
    }

    /// Pairs that overlap, and by how many cells.
    pub(super) fn overlaps(&self) -> Vec<(usize, usize, u32)> {
        let mut sequence: Vec<usize> = (0..self.boxes.len()).collect();
        let bottom = |piece: &usize| self.boxes.get(*piece).map_or(0, |b| b[1]);
        sequence.sort_unstable_by_key(bottom);
        let mut pairs = Vec::new();
        for (index, one) in sequence.iter().enumerate() {
            let Some(box_of) = self.boxes.get(*one) else { continue };
            let above =
                sequence.iter().skip(index + 1).take_while(|other| bottom(other) < box_of[3]);
            for other in above {
                let cells = self.shared(*one, *other);
                if cells > 0 {
                    pairs.push(((*one).min(*other), (*one).max(*other), cells));
                }
            }
        }
        pairs
    }

    fn weigh(&mut self, pairs: &[(usize, usize, u32)]) {
        for weights in &mut self.weights {
            weights.iter_mut().for_each(|(_, weight)| *weight *= KEPT);
            weights.retain(|(_, weight)| *weight > 1.0);
        }
        let most = pairs.iter().map(|(.., cells)| *cells).max().unwrap_or(1) as f32;
        for (a, b, cells) in pairs {
            let growth = GROWTH.0 + (GROWTH.1 - GROWTH.0) * *cells as f32 / most;
            for (one, other) in [(*a, *b), (*b, *a)] {
                let Some(weights) = self.weights.get_mut(one) else { continue };
                match weights.iter_mut().find(|(piece, _)| *piece == other) {
                    Some((_, weight)) => *weight *= growth,
                    None => weights.push((other, growth)),
                }
            }
        }
    }

    fn mask(&self, piece: usize, turn: usize) -> Option<&'a Mask> {
        self.masks.get(piece)?.get(turn)
    }

    fn shared(&self, one: usize, other: usize) -> u32 {
        let (Some(a), Some(b)) = (self.at.get(one), self.at.get(other)) else { return 0 };
        let masks = self.mask(one, a.turn).zip(self.mask(other, b.turn));
        masks.map_or(0, |(mask, with)| mask.shared(with, b.column - a.column, b.row - a.row))
    }

    fn box_at(&self, piece: usize, place: Place) -> Box4 {
        let (columns, rows) =
            self.mask(piece, place.turn).map_or((0, 0), |mask| (mask.columns(), mask.rows()));
        let Place { column, row, .. } = place;
        [column, row, column + columns as i32, row + rows as i32]
    }

    fn move_to(&mut self, piece: usize, place: Place) {
        let moved = self.box_at(piece, place);
        if let (Some(at), Some(box_of)) = (self.at.get_mut(piece), self.boxes.get_mut(piece)) {
            *at = place;
            *box_of = moved;
        }
    }

    /// The nearest place on the strip.
    fn within(&self, piece: usize, place: Place) -> Place {
        let [left, bottom, right, top] = self.box_at(piece, place);
        let inwards = |low: i32, high: i32, end: i32| low.min(end - (high - low)).max(0);
        let column = inwards(left, right, self.width);
        Place { column, row: inwards(bottom, top, self.length), ..place }
    }

    /// What a piece would overlap at a place, weighted; given up once it reaches `bound`.
    fn cost(&self, piece: usize, place: Place, bound: f32) -> f32 {
        let Some(mask) = self.mask(piece, place.turn) else { return f32::MAX };
        let [left, bottom, right, top] = self.box_at(piece, place);
        let weights = self.weights.get(piece).map_or(&[][..], Vec::as_slice);
        let mut cost = 0.0;
        for (other, (b, at)) in self.boxes.iter().zip(&self.at).enumerate() {
            let is_apart = (b[0] >= right) | (b[1] >= top) | (b[2] <= left) | (b[3] <= bottom);
            if is_apart | (other == piece) {
                continue;
            }
            let Some(with) = self.mask(other, at.turn) else { continue };
            let cells = mask.shared(with, b[0] - left, b[1] - bottom);
            if cells > 0 {
                let weight = weights.iter().find(|(of, _)| *of == other).map_or(1.0, |(_, w)| *w);
                cost += weight * cells as f32;
                if cost >= bound {
                    return cost;
                }
            }
        }
        cost
    }

    /// Moves a piece to where it overlaps least of the places tried.
    fn relocate(&mut self, piece: usize) {
        let Some(now) = self.at.get(piece).copied() else { return };
        let cost = self.cost(piece, now, f32::MAX);
        if cost == 0.0 {
            return;
        }
        let [left, bottom, right, top] = self.box_at(piece, now);
        let size = (right - left).max(top - bottom);
        let mut tried = vec![(cost, now)];
        for number in 0..ANYWHERE + NEARBY {
            let place = if number < ANYWHERE {
                self.anywhere(piece)
            } else {
                self.near(piece, now, size / 4)
            };
            let bound = match tried.get(FOLLOWED - 1) {
                Some((worst, _)) => *worst,
                None => f32::MAX,
            };
            let cost = self.cost(piece, place, bound);
            if cost < bound {
                tried.insert(tried.partition_point(|(other, _)| *other < cost), (cost, place));
                tried.truncate(FOLLOWED);
                if cost == 0.0 {
                    break;
                }
            }
        }
        let mut best = (cost, now);
        for (cost, place) in tried {
            let found = self.downhill(piece, (cost, place), (size / 16).max(1));
            if found.0 < best.0 {
                best = found;
            }
            if best.0 == 0.0 {
                break;
            }
        }
        self.move_to(piece, best.1);
    }

    fn any_turn(&mut self, piece: usize) -> usize {
        let turns = self.masks.get(piece).map_or(1, Vec::len);
        self.random.below(turns)
    }

    fn anywhere(&mut self, piece: usize) -> Place {
        let turn = self.any_turn(piece);
        let column = self.random.below(self.width.max(1) as usize) as i32;
        let row = self.random.below(self.length.max(1) as usize) as i32;
        let [_, _, right, top] = self.box_at(piece, Place { turn, column: 0, row: 0 });
        // The corner may only be where the whole piece is on the strip.
        let (columns, rows) = ((self.width - right).max(0), (self.length - top).max(0));
        Place { turn, column: column % (columns + 1), row: row % (rows + 1) }
    }

    fn near(&mut self, piece: usize, now: Place, reach: i32) -> Place {
        let turn = if self.random.below(8) == 0 { self.any_turn(piece) } else { now.turn };
        let reach = reach.max(2);
        let mut by = || self.random.below(2 * reach as usize + 1) as i32 - reach;
        let place = Place { turn, column: now.column + by(), row: now.row + by() };
        self.within(piece, place)
    }

    /// Follows the cost downhill in ever smaller steps.
    fn downhill(&mut self, piece: usize, from: (f32, Place), first: i32) -> (f32, Place) {
        const WAYS: [(i32, i32); 8] =
            [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1), (1, -1), (-1, 1)];
        let ((mut cost, mut best), mut step) = (from, first);
        while step >= 1 && cost > 0.0 {
            let skip = self.random.below(WAYS.len());
            let better = WAYS.iter().cycle().skip(skip).take(WAYS.len()).find_map(|(x, y)| {
                let place =
                    Place { column: best.column + x * step, row: best.row + y * step, ..best };
                let place = self.within(piece, place);
                let found = if place == best { cost } else { self.cost(piece, place, cost) };
                (found < cost).then_some((found, place))
            });
            match better {
                Some(better) => (cost, best) = better,
                None => step /= 2,
            }
        }
        (cost, best)
    }
}

/// Numbers for the search: SplitMix64 (Steele, Lea, Flood 2014), the same for the same seed.
#[derive(Debug)]
pub(super) struct Random(pub(super) u64);

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

    pub(super) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn shuffle(&mut self, items: &mut [usize]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}
