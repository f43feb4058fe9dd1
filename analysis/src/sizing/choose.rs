//! Choosing the few sizes that serve a cast best: real hands (medoids) with the least total misfit.
//!
//! The p-median problem. A solution comes from swaps with the best of several starts: FasterPAM
//! (Schubert and Rousseeuw 2021), which stops where no single exchange helps. For casts of up to
//! [`PROVEN_UP_TO`] a Lagrangian bound by subgradient steps (Cornuejols, Fisher and Nemhauser 1977)
//! and a branch and bound on its reduced costs then prove the optimum, or say how far off it may be.

use super::random::Deviates;
use super::table::FitTable;

/// Largest cast whose sizes are proven (assumed: what a page may wait for).
pub const PROVEN_UP_TO: usize = 120;

/// Random starts beside the greedy one, for casts whose sizes are proven afterwards (assumed).
const STARTS_PROVEN: usize = 12;

/// Cells of the table that the random starts of a larger cast may look at in one pass, and bounds of
/// their number: 40 starts for 500 people come within 1 % of the best of 200 by another program
/// (`tests/outside/sizes.py`), and 1,000 people still take no longer than a page may.
const CELLS_OF_STARTS: usize = 10_000_000;
const STARTS: std::ops::RangeInclusive<usize> = 3..=40;

/// Steps of the bound, and steps without a better bound before the step length is halved (assumed,
/// customary values of the method).
const BOUND_STEPS: usize = 2000;
const PATIENCE: usize = 20;

/// Cells of the table the branch and bound looks at before it gives up and reports the gap
/// (assumed: a tenth of a second).
const CELLS: usize = 80_000_000;

/// Misfits closer than this are equal: far below what any weight is known to.
const EQUAL: f64 = 1e-9;

/// Chosen sizes.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Positions of the sizes in the table, ascending.
    pub sizes: Vec<usize>,
    /// Sum over the wearers of the misfit in their best size.
    pub total: f64,
    /// No choice of as many sizes has a smaller total than this.
    pub bound: f64,
}

impl Choice {
    /// Whether no better choice exists.
    #[must_use]
    pub fn is_proven(&self) -> bool {
        self.total - self.bound <= EQUAL * (1.0 + self.total)
    }
}

/// Total misfit of a choice.
#[must_use]
pub fn total(table: &FitTable, sizes: &[usize]) -> f64 {
    nearest(table, sizes).iter().map(|near| near.first).sum()
}

/// Chooses `k` sizes, or as many as there are. `None` without wearers, sizes or `k`.
#[must_use]
pub fn choose(table: &FitTable, k: usize, seed: u64) -> Option<Choice> {
    chosen_from(table, k, seed, &[])
}

/// As [`choose`], starting also from a choice of fewer sizes.
pub(super) fn chosen_from(
    table: &FitTable,
    k: usize,
    seed: u64,
    fewer: &[usize],
) -> Option<Choice> {
    let (wearers, sizes) = (table.wearers(), table.sizes());
    let k = k.min(sizes);
    if k == 0 || wearers == 0 {
        return None;
    }
    let is_small = wearers.max(sizes) <= PROVEN_UP_TO;
    let mut random = Deviates::new(seed ^ k as u64);
    let mut best = swapped(table, grown(table, fewer, k));
    if k > 1 && k < sizes {
        for _ in 0..if is_small { STARTS_PROVEN } else { starts(wearers * sizes) } {
            let found = swapped(table, drawn(sizes, k, &mut random));
            if found.1 < best.1 - EQUAL {
                best = found;
            }
        }
    }
    let exact = k == 1 || k == sizes;
    let mut bound = if exact { best.1 } else { 0.0 };
    if !exact && is_small {
        let multipliers = Multipliers::new(table, k, &mut best);
        bound = multipliers.proven(table, k, &mut best);
    }
    best.0.sort_unstable();
    Some(Choice { sizes: best.0, total: best.1, bound: bound.min(best.1) })
}

/// Random starts for a table of so many cells.
fn starts(cells: usize) -> usize {
    (CELLS_OF_STARTS / cells.max(1)).clamp(*STARTS.start(), *STARTS.end())
}

type Found = (Vec<usize>, f64);

/// Nearest and second nearest size of one wearer.
#[derive(Debug, Clone, Copy)]
struct Near {
    /// Position among the chosen.
    slot: usize,
    first: f64,
    second: f64,
}

fn nearest(table: &FitTable, sizes: &[usize]) -> Vec<Near> {
    let none = Near { slot: 0, first: f64::INFINITY, second: f64::INFINITY };
    let mut near = vec![none; table.wearers()];
    for (slot, size) in sizes.iter().enumerate() {
        for (near, misfit) in near.iter_mut().zip(table.misfits(*size)) {
            if *misfit < near.first {
                *near = Near { slot, first: *misfit, second: near.first };
            } else {
                near.second = near.second.min(*misfit);
            }
        }
    }
    near
}

/// `fewer` and the sizes that each take most off the total.
fn grown(table: &FitTable, fewer: &[usize], k: usize) -> Vec<usize> {
    let mut sizes: Vec<usize> = fewer.iter().copied().take(k).collect();
    while sizes.len() < k {
        let near = nearest(table, &sizes);
        let gain = |size: &usize| -> f64 {
            let pairs = near.iter().zip(table.misfits(*size));
            pairs.map(|(near, misfit)| near.first.min(*misfit)).sum()
        };
        let free = (0..table.sizes()).filter(|size| !sizes.contains(size));
        let scored = free.map(|size| (size, gain(&size)));
        let Some((next, _)) = scored.min_by(|a, b| a.1.total_cmp(&b.1)) else { break };
        sizes.push(next);
    }
    sizes
}

/// `k` different sizes at random.
fn drawn(sizes: usize, k: usize, random: &mut Deviates) -> Vec<usize> {
    let mut all: Vec<usize> = (0..sizes).collect();
    for i in 0..k {
        all.swap(i, i + random.below(sizes - i));
    }
    all.truncate(k);
    all
}

/// Exchanges a chosen size for another as long as that helps.
fn swapped(table: &FitTable, mut sizes: Vec<usize>) -> Found {
    let (k, candidates) = (sizes.len(), table.sizes());
    let mut near = nearest(table, &sizes);
    if k == 1 {
        return (sizes, near.iter().map(|near| near.first).sum());
    }
    let losses = |near: &[Near]| {
        let mut losses = vec![0.0; k];
        for near in near {
            losses[near.slot] += near.second - near.first;
        }
        losses
    };
    let mut loss = losses(&near);
    let (mut candidate, mut tried) = (0, 0);
    while tried < candidates {
        tried += 1;
        if !sizes.contains(&candidate) {
            let mut change = loss.clone();
            let mut gained = 0.0;
            for (near, misfit) in near.iter().zip(table.misfits(candidate)) {
                if *misfit < near.first {
                    gained += misfit - near.first;
                    change[near.slot] += near.first - near.second;
                } else if *misfit < near.second {
                    change[near.slot] += misfit - near.second;
                }
            }
            let best = change.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
            if let Some((slot, change)) = best
                && change + gained < -EQUAL
            {
                sizes[slot] = candidate;
                near = nearest(table, &sizes);
                loss = losses(&near);
                tried = 0;
            }
        }
        candidate = (candidate + 1) % candidates;
    }
    (sizes, near.iter().map(|near| near.first).sum())
}

/// A Lagrangian bound: with a price `u` for every wearer, no choice costs less than
/// `sum u + the k smallest sums of min(0, misfit - u)`.
struct Multipliers {
    bound: f64,
    prices: f64,
    /// Size and reduced cost, ascending.
    reduced: Vec<(usize, f64)>,
}

impl Multipliers {
    fn new(table: &FitTable, k: usize, best: &mut Found) -> Multipliers {
        let start = nearest(table, &best.0);
        let mut prices: Vec<f64> = start.iter().map(|n| f64::midpoint(n.first, n.second)).collect();
        let mut top = Multipliers { bound: f64::NEG_INFINITY, prices: 0.0, reduced: Vec::new() };
        let (mut step, mut waited) = (1.0, 0);
        for _ in 0..BOUND_STEPS {
            let here = Multipliers::at(table, k, &prices);
            let bound = here.bound;
            let mut excess = vec![1.0; prices.len()];
            for (size, _) in here.reduced.iter().take(k) {
                let cells = excess.iter_mut().zip(table.misfits(*size)).zip(&prices);
                for ((excess, misfit), price) in cells {
                    if misfit < price {
                        *excess -= 1.0;
                    }
                }
            }
            if bound > top.bound + EQUAL {
                let sizes: Vec<usize> =
                    here.reduced.iter().take(k).map(|(size, _)| *size).collect();
                let found = total(table, &sizes);
                if found < best.1 - EQUAL {
                    *best = swapped(table, sizes);
                }
                (top, waited) = (here, 0);
            } else {
                waited += 1;
                if waited >= PATIENCE {
                    (step, waited) = (step / 2.0, 0);
                }
            }
            let length: f64 = excess.iter().map(|x| x * x).sum();
            if length < 0.5 || best.1 - top.bound <= EQUAL {
                break;
            }
            let scale = step * (best.1 - bound).max(EQUAL) / length;
            for (price, excess) in prices.iter_mut().zip(&excess) {
                *price = (*price + scale * excess).max(0.0);
            }
        }
        top
    }

    fn at(table: &FitTable, k: usize, prices: &[f64]) -> Multipliers {
        let mut reduced: Vec<(usize, f64)> = (0..table.sizes())
            .map(|size| {
                let cells = table.misfits(size).iter().zip(prices);
                (size, cells.map(|(misfit, price)| (misfit - price).min(0.0)).sum())
            })
            .collect();
        reduced.sort_by(|a, b| a.1.total_cmp(&b.1));
        let sum: f64 = prices.iter().sum();
        let bound = sum + reduced.iter().take(k).map(|(_, cost)| cost).sum::<f64>();
        Multipliers { bound, prices: sum, reduced }
    }

    /// Visits every choice that the reduced costs do not rule out. The bound afterwards: the best
    /// total where all were visited, what the prices prove otherwise.
    fn proven(&self, table: &FitTable, k: usize, best: &mut Found) -> f64 {
        if best.1 - self.bound <= EQUAL {
            return best.1;
        }
        let mut visit =
            Visit { costs: self, table, k, best, nodes: 0, most: CELLS / table.wearers() };
        let none = vec![f64::INFINITY; table.wearers()];
        visit.below(0, &mut Vec::with_capacity(k), self.prices, &none);
        if visit.nodes < visit.most { best.1 } else { self.bound }
    }
}

struct Visit<'a> {
    costs: &'a Multipliers,
    table: &'a FitTable,
    k: usize,
    best: &'a mut Found,
    nodes: usize,
    most: usize,
}

impl Visit<'_> {
    /// Adds sizes from position `from` of the reduced costs on; `bound` holds prices and reduced
    /// costs of the sizes taken, `least` the least misfit so far of every wearer.
    fn below(&mut self, from: usize, taken: &mut Vec<usize>, bound: f64, least: &[f64]) {
        let missing = self.k - taken.len();
        if missing == 0 {
            let total: f64 = least.iter().sum();
            if total < self.best.1 - EQUAL {
                *self.best = (taken.clone(), total);
            }
            return;
        }
        for at in from..self.costs.reduced.len() {
            let next = self.costs.reduced.iter().skip(at).take(missing);
            let ahead: f64 = next.clone().map(|(_, cost)| cost).sum();
            self.nodes += 1;
            if next.len() < missing
                || bound + ahead >= self.best.1 - EQUAL
                || self.nodes >= self.most
            {
                return;
            }
            let Some((size, cost)) = self.costs.reduced.get(at).copied() else { return };
            let cells = least.iter().zip(self.table.misfits(size));
            let lower: Vec<f64> = cells.map(|(least, misfit)| least.min(*misfit)).collect();
            taken.push(size);
            self.below(at + 1, taken, bound + cost, &lower);
            taken.pop();
        }
    }
}
