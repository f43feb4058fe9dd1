//! Everybody in every size: the table that choosing works on.

use super::misfit::{Fit, Size, Wearer};

/// Misfit and fit of every wearer in every size.
#[derive(Debug, Clone, PartialEq)]
pub struct FitTable {
    wearers: usize,
    /// By size, then by wearer.
    misfits: Vec<f64>,
    fits: Vec<bool>,
}

impl FitTable {
    /// Tries every wearer in every size.
    #[must_use]
    pub fn new(wearers: &[Wearer], sizes: &[Size]) -> FitTable {
        let cells = wearers.len() * sizes.len();
        let (mut misfits, mut fits) = (Vec::with_capacity(cells), Vec::with_capacity(cells));
        for size in sizes {
            for wearer in wearers {
                let fit = size.fit(wearer);
                misfits.push(fit.misfit);
                fits.push(fit.fits);
            }
        }
        FitTable { wearers: wearers.len(), misfits, fits }
    }

    /// A table of misfits alone, by size, then by wearer; everybody counts as fitting.
    #[must_use]
    pub fn from_misfits(rows: &[Vec<f64>]) -> FitTable {
        let misfits: Vec<f64> = rows.concat();
        let fits = vec![true; misfits.len()];
        FitTable { wearers: rows.first().map_or(0, Vec::len), misfits, fits }
    }

    /// How many wearers.
    #[must_use]
    pub fn wearers(&self) -> usize {
        self.wearers
    }

    /// How many sizes.
    #[must_use]
    pub fn sizes(&self) -> usize {
        self.misfits.len().checked_div(self.wearers).unwrap_or(0)
    }

    /// Misfit of every wearer in one size.
    #[must_use]
    pub fn misfits(&self, size: usize) -> &[f64] {
        self.misfits.get(size * self.wearers..(size + 1) * self.wearers).unwrap_or_default()
    }

    /// Fit of one wearer in one size.
    #[must_use]
    pub fn fit(&self, size: usize, wearer: usize) -> Option<Fit> {
        let at = size * self.wearers + wearer;
        Some(Fit { misfit: *self.misfits.get(at)?, fits: *self.fits.get(at)? })
    }

    /// The size of `sizes` for one wearer: of those that fit the one with least misfit, or where
    /// none fits, the one with least misfit. Position in `sizes`, with its fit.
    #[must_use]
    pub fn best(&self, sizes: &[usize], wearer: usize) -> Option<(usize, Fit)> {
        best_of(sizes.iter().filter_map(|size| self.fit(*size, wearer)))
    }
}

/// Of those that fit the one with least misfit, or where none fits, the one with least misfit.
pub(super) fn best_of(fits: impl Iterator<Item = Fit>) -> Option<(usize, Fit)> {
    let rank = |fit: &Fit| (!fit.fits, fit.misfit);
    fits.enumerate().min_by(|(_, a), (_, b)| {
        let (a, b) = (rank(a), rank(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    })
}
