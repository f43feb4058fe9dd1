//! How many test gloves a hand needs: the workshop's own measure of whether the tool helps.

use crate::hand::Side;

use super::{Answer, Feeling, Tried, Verdict};

/// The test gloves of one hand in one fabric.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Needed {
    /// Gloves tried on.
    pub tried: usize,
    /// After how many of them one was good everywhere; `None` while none was.
    pub settled_after: Option<usize>,
}

impl Verdict {
    /// Whether the glove was good wherever it was judged, without a sign of constriction.
    #[must_use]
    pub fn is_settled(&self) -> bool {
        let good = |answer: &Answer| match answer {
            Answer::Feeling(feeling) => *feeling == Feeling::Good,
            Answer::Mm(mm) => *mm == 0.0,
        };
        self.signs.is_empty() && !self.answers.is_empty() && self.answers.values().all(good)
    }
}

/// Counts gloves hand by hand, in the order the hands were first seen. A glove counts once, however
/// often it was judged; it was good when its last fitting says so.
pub fn gloves_needed(fittings: impl IntoIterator<Item = ((u128, Side), Tried)>) -> Vec<Needed> {
    type Gloves = Vec<(i64, bool)>;
    let mut hands: Vec<((u128, Side), Gloves)> = Vec::new();
    for (hand, tried) in fittings {
        let known = hands.iter().position(|(known, _)| *known == hand);
        let index = known.unwrap_or_else(|| {
            hands.push((hand, Vec::new()));
            hands.len() - 1
        });
        let Some((_, gloves)) = hands.get_mut(index) else { continue };
        let is_good = tried.verdict.is_settled();
        match gloves.iter_mut().find(|(number, _)| *number == tried.glove) {
            Some((_, settled)) => *settled = is_good,
            None => gloves.push((tried.glove, is_good)),
        }
    }
    hands
        .into_iter()
        .map(|(_, mut gloves)| {
            gloves.sort_unstable();
            let settled_after = gloves.iter().position(|(_, good)| *good).map(|at| at + 1);
            Needed { tried: gloves.len(), settled_after }
        })
        .collect()
}
