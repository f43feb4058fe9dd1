#![allow(warnings, clippy::all, clippy::unwrap_used)]
use analysis::dimension::{Dimension, PerDimension};
use analysis::draft::{GloveOptions, draft};
use analysis::hand::Side;
use analysis::model::*;
fn main() {
    let mut seed = 12345u64;
    let mut next = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        ((seed >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    };
    let mut gauss = move || (-2.0 * next().ln()).sqrt() * (std::f64::consts::TAU * next()).cos();
    let model = HandModel::published();
    let pops: Vec<(String, Population)> =
        vec![("women".into(), Population::Women), ("men".into(), Population::Men)];
    for (name, pop) in pops {
        let s = Sampler::new(&model, pop).unwrap();
        let mut so = vec![];
        let mut ext = vec![];
        let mut bad = std::collections::BTreeMap::new();
        let mut sp = vec![];
        for _ in 0..2000 {
            let t = s.truth(&mut gauss);
            let h = HandEstimate::new(PerDimension::from_fn(|d: Dimension| Estimate {
                mm: t[1][d.index()],
                low_mm: 0.0,
                high_mm: 0.0,
                basis: Basis::Measured,
            }));
            match draft(&h, Side::Right, &GloveOptions::default()) {
                Ok(d) => {
                    so.push(d.forecast.largest_stand_off_mm());
                    ext.push(d.forecast.largest_extension());
                    sp.push(d.forecast.crotches[0].spread_deg);
                }
                Err(e) => {
                    let m = e.to_string();
                    let k: String = m.chars().filter(|c| !c.is_ascii_digit()).take(90).collect();
                    let e = bad.entry(k).or_insert((0, m));
                    e.0 += 1;
                }
            }
        }
        println!("{name} drafted {}", so.len());
        for v in [&mut so, &mut ext, &mut sp] {
            v.sort_by(f64::total_cmp);
            if !v.is_empty() {
                println!(
                    "{:?}",
                    [0.01, 0.05, 0.5, 0.95, 0.99].map(|q| v[(q * v.len() as f64) as usize])
                );
            }
        }
        for b in bad {
            println!("{b:?}");
        }
    }
}
