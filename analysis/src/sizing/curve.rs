//! Misfit and coverage against the number of sizes, and where more sizes stop paying.

use super::choose::{Choice, chosen_from};
use super::table::FitTable;

/// Sizes tried at most.
pub const MOST_SIZES: usize = 12;

/// What `sizes` sizes do for a cast.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The sizes.
    pub choice: Choice,
    /// Mean misfit over the wearers.
    pub mean_misfit: f64,
    /// Wearers whom one of the sizes fits in every zone.
    pub covered: usize,
}

/// One step for 1, 2, ... sizes, up to [`MOST_SIZES`] or as many as there are.
#[must_use]
pub fn curve(table: &FitTable, seed: u64) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::with_capacity(MOST_SIZES);
    for k in 1..=MOST_SIZES.min(table.sizes()) {
        let fewer = steps.last().map(|step| step.choice.sizes.clone()).unwrap_or_default();
        let Some(choice) = chosen_from(table, k, seed, &fewer) else { break };
        let fits =
            |wearer: &usize| table.best(&choice.sizes, *wearer).is_some_and(|(_, fit)| fit.fits);
        let covered = (0..table.wearers()).filter(fits).count();
        let mean_misfit = choice.total / table.wearers() as f64;
        steps.push(Step { choice, mean_misfit, covered });
    }
    steps
}

/// Position of the knee of a falling curve: the point farthest below the straight line between its
/// ends (Satopaa et al. 2011). The first point where the curve is flat or has fewer than three.
#[must_use]
pub fn knee(values: &[f64]) -> usize {
    let (Some(first), Some(last)) = (values.first(), values.last()) else { return 0 };
    let ends = (values.len() - 1).max(1) as f64;
    let below = |at: usize, value: f64| first + (last - first) * at as f64 / ends - value;
    let mut knee = (0, 0.0);
    for (at, value) in values.iter().enumerate() {
        let depth = below(at, *value);
        if depth > knee.1 + 1e-12 {
            knee = (at, depth);
        }
    }
    knee.0
}
