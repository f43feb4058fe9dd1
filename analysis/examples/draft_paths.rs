//! Prints the outlines of drafts with their lengths and areas, for the check by another geometry
//! library: `cargo run -p analysis --example draft_paths | python3 tests/outside/outlines.py`.
//! Columns: draft, piece, layer, allowance, length in mm, area in mm2, path.

use analysis::draft::{Construction, Finish, Fourchettes, GloveOptions, Layer, draft};
use analysis::hand::Side;
use kurbo::{ParamCurveArclen, Shape};

#[path = "../tests/draft_hands/mod.rs"]
mod draft_hands;

fn main() {
    let constructions = [
        (Construction::TwoLayer, Fourchettes::Pairs),
        (Construction::Fourchette, Fourchettes::Pairs),
        (Construction::Fourchette, Fourchettes::PairsWithQuirks),
        (Construction::Fourchette, Fourchettes::Forks),
    ];
    let finishes = [Finish::Full, Finish::OpenTips];
    for (sex, z) in [(0, -2.326), (0, 0.0), (1, 0.0), (1, 2.326)] {
        for (construction, fourchettes) in constructions {
            for finish in finishes {
                let options =
                    GloveOptions { construction, fourchettes, finish, ..GloveOptions::default() };
                let name = format!("{sex} {z} {construction:?} {fourchettes:?} {finish:?}");
                let Ok(draft) = draft(&draft_hands::person(sex, z), Side::Right, &options) else {
                    println!("{name}\trefused");
                    continue;
                };
                for piece in &draft.pieces {
                    for (layer, path) in &piece.lines {
                        if !matches!(layer, Layer::Cut | Layer::Seam | Layer::Hole) {
                            continue;
                        }
                        let length: f64 = path.segments().map(|s| s.arclen(1e-6)).sum();
                        println!(
                            "{name}\t{}\t{layer:?}\t{}\t{length:.6}\t{:.6}\t{}",
                            piece.name,
                            options.seam_allowance_mm,
                            path.area().abs(),
                            path.to_svg()
                        );
                    }
                }
            }
        }
    }
}
