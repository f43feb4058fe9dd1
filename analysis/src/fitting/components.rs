//! Variance components of the fabric's memory: how much performers differ, and how much answers do.
//!
//! The model of one kind of zone, `y_zij = beta_z + b_zi + e_zij`, with zone z, performer i, fitting
//! j; `beta_z ~ N(0, tau^2)`, `b ~ N(0, s_b^2)`, `e ~ N(0, s_e^2)` (Laird and Ware 1982, random
//! effects; Henderson's mixed model equations). A performer's mean of n answers has the variance
//! `s_b^2 + s_e^2 / n`, so that `beta_z` given the components is normal with
//! `A = 1/tau^2 + sum w`, mean `sum w ybar / A`, variance `1/A`, where `w = 1 / (s_b^2 + s_e^2/n)`.
//!
//! The components maximise the likelihood with beta integrated out: for `tau` without end that is
//! the restricted likelihood (REML: Patterson and Thompson 1971; Harville 1974), times scaled
//! inverse chi-squared priors where they are given. Fisher scoring on logarithms, with step halving.

use super::FitZone;

/// Scaled inverse chi-squared prior of a variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct VariancePrior {
    /// Degrees of freedom; 0 for none.
    pub weight: f64,
    /// Variance it is centred at.
    pub variance: f64,
}

/// Performers of one zone who answered equally often: what the likelihood needs to know of them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    pub zone: usize,
    /// Answers of each performer.
    pub n: f64,
    /// How many performers.
    pub count: f64,
    /// Sum of their means.
    pub sum: f64,
    /// Sum of the squares of their means.
    pub squares: f64,
}

/// Variance between performers and of answers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Components {
    pub between: f64,
    pub within: f64,
}

/// What the components are estimated from.
#[derive(Debug, Clone)]
pub(super) struct Evidence {
    pub cells: Vec<Cell>,
    /// Squares of answers about their performer's mean, and their degrees of freedom.
    pub within_squares: f64,
    pub within_freedom: f64,
    /// 1 / tau^2 of each zone.
    pub prior_precision: [f64; FitZone::COUNT],
    pub priors: [VariancePrior; 2],
    /// Bounds of both variances.
    pub bounds: [(f64, f64); 2],
}

/// Log density of the components at a point, its gradient and information on logarithms.
#[derive(Debug, Clone, Copy)]
struct Point {
    value: f64,
    gradient: [f64; 2],
    information: [[f64; 2]; 2],
}

impl Components {
    /// Variance of a performer's mean of n answers.
    pub(super) fn of_mean(self, n: f64) -> f64 {
        self.between + self.within / n
    }
}

impl Evidence {
    /// Precision and weighted sum of each zone's answers, prior not counted.
    pub(super) fn zone_sums(&self, at: Components) -> Vec<(f64, f64)> {
        let mut sums = vec![(0.0, 0.0); FitZone::COUNT];
        for cell in &self.cells {
            let w = 1.0 / at.of_mean(cell.n);
            if let Some((precision, sum)) = sums.get_mut(cell.zone) {
                *precision += cell.count * w;
                *sum += cell.sum * w;
            }
        }
        sums
    }

    fn point(&self, at: Components) -> Point {
        let variances = [at.between, at.within];
        let mut value =
            -0.5 * (self.within_freedom * at.within.ln() + self.within_squares / at.within);
        let mut gradient = [0.0, -0.5 * (self.within_freedom - self.within_squares / at.within)];
        let mut information = [[0.0; 2], [0.0, 0.5 * self.within_freedom]];
        let sums = self.zone_sums(at);
        let zones = sums.iter().zip(self.prior_precision);
        for ((precision, sum), prior) in zones.filter(|((precision, _), _)| *precision > 0.0) {
            let a = prior + precision;
            value -= 0.5 * (a.ln() - sum * sum / a);
        }
        for cell in &self.cells {
            let s = at.of_mean(cell.n);
            let (precision, sum) = sums.get(cell.zone).copied().unwrap_or((0.0, 0.0));
            let a = self.prior_precision[cell.zone] + precision;
            let beta = sum / a;
            value -= 0.5 * (cell.count * s.ln() + cell.squares / s);
            let squares = cell.squares - 2.0 * beta * cell.sum + beta * beta * cell.count;
            let slope = -0.5 * (cell.count / s - squares / (s * s) - cell.count / (a * s * s));
            // d s / d ln(variance).
            let parts = [at.between, at.within / cell.n];
            for i in 0..2 {
                gradient[i] += slope * parts[i];
                for j in 0..2 {
                    information[i][j] += 0.5 * cell.count / (s * s) * parts[i] * parts[j];
                }
            }
        }
        for (i, prior) in self.priors.iter().enumerate() {
            let ratio = prior.variance / variances[i];
            value -= 0.5 * prior.weight * (variances[i].ln() + ratio);
            gradient[i] -= 0.5 * prior.weight * (1.0 - ratio);
            information[i][i] += 0.5 * prior.weight;
        }
        Point { value, gradient, information }
    }

    fn bounded(&self, logs: [f64; 2]) -> Components {
        let [between, within] = [0, 1].map(|i| {
            let (low, high) = self.bounds[i];
            logs[i].exp().clamp(low, high)
        });
        Components { between, within }
    }

    /// The most likely components, from `start`.
    pub(super) fn most_likely(&self, start: Components) -> Components {
        let mut here = self.bounded([start.between.ln(), start.within.ln()]);
        let mut point = self.point(here);
        for _ in 0..100 {
            let Some(step) = solve(point.information, point.gradient) else { break };
            let mut factor = 1.0;
            let mut moved = None;
            while factor > 1e-6 {
                let to = self.bounded([
                    here.between.ln() + (factor * step[0]).clamp(-4.0, 4.0),
                    here.within.ln() + (factor * step[1]).clamp(-4.0, 4.0),
                ]);
                let there = self.point(to);
                if there.value > point.value {
                    moved = Some((to, there));
                    break;
                }
                factor /= 2.0;
            }
            let Some((to, there)) = moved else { break };
            let gain = there.value - point.value;
            (here, point) = (to, there);
            if gain < 1e-13 * point.value.abs().max(1.0) {
                break;
            }
        }
        here
    }

    /// Components around the most likely ones with the share of belief each has: a grid on the
    /// logarithms along the axes of the information matrix.
    pub(super) fn spread(&self, mode: Components) -> Vec<(Components, f64)> {
        const STEPS: i32 = 4;
        const STEP: f64 = 0.75;
        let top = self.point(mode);
        let [[a, b], [_, d]] = top.information;
        // Inverse of the Cholesky factor of the information: unit steps are standard deviations.
        let (root, determinant) = (a.sqrt(), a * d - b * b);
        if !(root > 1e-9 && determinant > 1e-12) {
            return vec![(mode, 1.0)];
        }
        let tail = (determinant / a).sqrt();
        let mut points = Vec::with_capacity(81);
        for i in -STEPS..=STEPS {
            for j in -STEPS..=STEPS {
                let (x, y) = (STEP * f64::from(i), STEP * f64::from(j));
                let v = y / tail;
                let u = (x - b / root * v) / root;
                let at = self.bounded([mode.between.ln() + u, mode.within.ln() + v]);
                points.push((at, (self.point(at).value - top.value).exp()));
            }
        }
        let sum: f64 = points.iter().map(|(_, weight)| weight).sum();
        points.into_iter().map(|(at, weight)| (at, weight / sum)).collect()
    }
}

fn solve([[a, b], [c, d]]: [[f64; 2]; 2], [x, y]: [f64; 2]) -> Option<[f64; 2]> {
    let determinant = a * d - b * c;
    let scale = (a * d).abs().max(f64::MIN_POSITIVE);
    if determinant.abs() < 1e-14 * scale {
        // One direction is not seen: a small step uphill.
        return (a + d > 0.0).then(|| [x / (a + d), y / (a + d)]);
    }
    let step = [(d * x - b * y) / determinant, (a * y - c * x) / determinant];
    step.iter().all(|s| s.is_finite()).then_some(step)
}
