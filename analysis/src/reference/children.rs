//! Children of 3 to 17 years: hand length and breadth by sex and completed years.
//!
//! Snyder et al. 1977 (UM-HSRI-77-17), computed from the published records.

use super::Sex;

/// Youngest age with figures, completed years.
pub const YOUNGEST: u8 = 3;
/// Oldest age with figures, completed years.
pub const OLDEST: u8 = 17;

/// SD of the logarithm of hand length given age and sex (n = 3,822).
pub const HAND_LENGTH_LOG_SD: f64 = 0.0579;
/// SD of the logarithm of hand breadth given age and sex (n = 3,826).
pub const HAND_BREADTH_LOG_SD: f64 = 0.0613;

/// Age, n, mean hand length and mean hand breadth, mm.
type Row = (u8, u32, f64, f64);

const GIRLS: [Row; 15] = [
    (3, 94, 109.8, 52.1),
    (4, 123, 117.2, 54.6),
    (5, 109, 123.4, 56.9),
    (6, 116, 128.4, 59.0),
    (7, 108, 134.1, 61.5),
    (8, 113, 139.9, 63.7),
    (9, 140, 147.0, 65.8),
    (10, 130, 153.7, 68.9),
    (11, 135, 159.3, 70.9),
    (12, 152, 166.9, 73.6),
    (13, 134, 169.5, 74.7),
    (14, 116, 171.3, 75.1),
    (15, 121, 172.4, 75.4),
    (16, 105, 172.5, 75.6),
    (17, 98, 171.5, 75.2),
];

const BOYS: [Row; 15] = [
    (3, 125, 111.3, 53.3),
    (4, 126, 118.5, 56.2),
    (5, 123, 124.6, 58.4),
    (6, 99, 131.4, 61.8),
    (7, 109, 135.5, 63.6),
    (8, 97, 142.5, 66.5),
    (9, 127, 148.1, 68.8),
    (10, 124, 152.8, 70.7),
    (11, 149, 158.6, 73.0),
    (12, 156, 165.9, 76.1),
    (13, 153, 173.7, 80.3),
    (14, 152, 179.5, 83.3),
    (15, 98, 187.0, 86.8),
    (16, 107, 187.9, 88.6),
    (17, 96, 190.4, 88.8),
];

/// Mean hand length and hand breadth, mm, at an age in completed years; ages outside the table
/// take its nearest row.
#[must_use]
pub fn length_and_breadth_mm(sex: Sex, age_years: u8) -> (f64, f64) {
    let rows = match sex {
        Sex::Female => &GIRLS,
        Sex::Male => &BOYS,
    };
    let row = age_years.clamp(YOUNGEST, OLDEST) - YOUNGEST;
    let (_, _, length, breadth) = rows[usize::from(row)];
    (length, breadth)
}
