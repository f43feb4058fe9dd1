//! Sizes drafted for the middle of those who wear them, instead of for somebody of the cast.
//!
//! Lloyd's alternation (1982) with our misfit: everybody takes the size with least misfit, then
//! every size moves to where the misfit of its wearers is least. Neither step makes the sum larger.
//! The sums are a little smaller than those of real hands, but nobody can try such a size on.

use super::misfit::{FitRules, Size, Wearer};
use super::random::Deviates;

/// Rounds at most; it stands still long before.
const ROUNDS: usize = 100;

/// Random starts beside the real hands (assumed).
const STARTS: usize = 3;

/// Improvements smaller than this share end the alternation.
const EQUAL: f64 = 1e-9;

/// Sizes at the centres of their wearers.
#[derive(Debug, Clone, PartialEq)]
pub struct Centred {
    /// The sizes.
    pub sizes: Vec<Size>,
    /// Sum over the wearers of the misfit in their best size.
    pub total: f64,
}

/// Moves as many sizes as `real` has, starting from those and from wearers at random, and keeps
/// the best that was found: never worse than `real`.
#[must_use]
pub fn centred(rules: &FitRules, wearers: &[Wearer], real: &[Size], seed: u64) -> Centred {
    let mut best = settled(wearers, real.to_vec());
    let mut random = Deviates::new(seed ^ real.len() as u64);
    for _ in 0..STARTS {
        if wearers.is_empty() {
            break;
        }
        let start = real.iter().filter_map(|_| {
            let somebody = wearers.get(random.below(wearers.len()))?;
            Some(Size::drafted_for(rules, somebody))
        });
        let found = settled(wearers, start.collect());
        if found.total < best.total * (1.0 - EQUAL) {
            best = found;
        }
    }
    best
}

fn settled(wearers: &[Wearer], mut sizes: Vec<Size>) -> Centred {
    let mut total = f64::INFINITY;
    for _ in 0..ROUNDS {
        let mut of: Vec<Vec<&Wearer>> = vec![Vec::new(); sizes.len()];
        let mut sum = 0.0;
        for wearer in wearers {
            let misfits = sizes.iter().map(|size| size.fit(wearer).misfit).enumerate();
            if let Some((at, misfit)) = misfits.min_by(|a, b| a.1.total_cmp(&b.1)) {
                of[at].push(wearer);
                sum += misfit;
            }
        }
        let stands_still = sum >= total * (1.0 - EQUAL);
        total = sum;
        if stands_still {
            break;
        }
        for (size, own) in sizes.iter_mut().zip(&of) {
            *size = size.centred(own);
        }
    }
    Centred { sizes, total }
}
