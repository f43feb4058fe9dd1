//! Distances, quantiles and tails against printed tables and textbook formulas.

use analysis::dimension::Dimension::{self, *};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use statrs::distribution::{ChiSquared, ContinuousCDF, Normal};

// Pearson and Hartley, Biometrika Tables for Statisticians I, table 8 (chi-squared), and any
// textbook since: upper 5 % and 1 % points.
#[test]
fn chi_squared_tails_are_those_of_the_printed_table() {
    let table = [
        (1.0, 3.841, 6.635),
        (2.0, 5.991, 9.210),
        (5.0, 11.070, 15.086),
        (9.0, 16.919, 21.666),
        (25.0, 37.652, 44.314),
        (50.0, 67.505, 76.154),
    ];
    for (freedom, five, one) in table {
        let Ok(chi) = ChiSquared::new(freedom) else { panic!("{freedom}") };
        assert!((chi.sf(five) - 0.05).abs() < 2e-5, "{freedom}: {}", chi.sf(five));
        assert!((chi.sf(one) - 0.01).abs() < 1e-5, "{freedom}: {}", chi.sf(one));
    }
}

// The same tables, table 4 (normal): 1.6449 for 5 % a tail, 2.5758 for 0.5 %, 3.7190 for 0.01 %.
#[test]
fn normal_quantiles_are_those_of_the_printed_table() {
    let normal = Normal::standard();
    for (tail, z) in [(0.05, 1.6449), (0.005, 2.5758), (0.0001, 3.7190)] {
        assert!((normal.inverse_cdf(1.0 - tail) - z).abs() < 5e-5, "{tail}");
    }
}

/// Mean, SD and correlation of the logs of two readings of a man's right hand.
fn pair(a: Dimension, b: Dimension) -> ([f64; 2], [f64; 2], f64) {
    let model = HandModel::published();
    let (x, y) = (model.reading(Population::Men, a), model.reading(Population::Men, b));
    let hidden = model.adult(analysis::reference::Sex::Male);
    let r = hidden.truth[(a.index(), b.index())] / (x.sigma * y.sigma);
    ([x.mu, y.mu], [x.sigma, y.sigma], r)
}

// Any textbook of multivariate statistics (Mardia, Kent, Bibby 1979, section 3.1): the bivariate
// normal density, with the squared Mahalanobis distance (u^2 - 2 r u v + v^2) / (1 - r^2).
#[test]
fn the_density_of_two_readings_is_the_bivariate_normal() {
    let model = HandModel::published();
    let (mean, sd, r) = pair(HandBreadth, HandGirth);
    for (u, v) in [(0.0, 0.0), (1.0, -0.5), (2.2, 2.0)] {
        let hands = Hands::from_readings(&[
            (Side::Right, HandBreadth, (mean[0] + u * sd[0]).exp()),
            (Side::Right, HandGirth, (mean[1] + v * sd[1]).exp()),
        ]);
        let distance = (u * u - 2.0 * r * u * v + v * v) / (1.0 - r * r);
        let scale = 2.0 * std::f64::consts::PI * sd[0] * sd[1] * (1.0 - r * r).sqrt();
        let expected = -0.5 * distance - scale.ln();
        let found = model.log_likelihood(Population::Men, &hands);
        // The model in use is kept to eight digits, the derived figures here are not.
        assert!((found - expected).abs() < 1e-5, "{u} {v}: {found} {expected}");
    }
}

// The same section: given v, u has mean r v and variance 1 - r^2; nine in ten within 1.6449 SDs.
#[test]
fn one_reading_given_another_is_the_textbook_regression() {
    let model = HandModel::published();
    let (mean, sd, r) = pair(HandBreadth, HandGirth);
    let hands = Hands::from_readings(&[(Side::Right, HandGirth, (mean[1] + 1.3 * sd[1]).exp())]);
    let e = model.expected(Population::Men, &hands, Side::Right, HandBreadth);
    let centre = mean[0] + 1.3 * r * sd[0];
    let reach = 1.644_854 * sd[0] * (1.0 - r * r).sqrt();
    assert!((e.mm - centre.exp()).abs() < 0.002, "{} {}", e.mm, centre.exp());
    assert!((e.low_mm - (centre - reach).exp()).abs() < 0.002);
    assert!((e.high_mm - (centre + reach).exp()).abs() < 0.002);
}
