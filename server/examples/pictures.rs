//! Draws the pictures of the README, every construction as it leaves the program:
//! `cargo run -p handcall --example pictures -- demo-data/pictures`.

use std::path::PathBuf;

use analysis::draft::{
    Closure, Construction, Cuff, Finish, Fourchettes, GirthReduction, GloveOptions, draft,
};
use analysis::fabric::{Behaviour, TensionCurve};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use handcall::export::SheetLabels;
use handcall::export::svg::{self, SvgUse};
use handcall::forecast_view::drawing;
use handcall::words;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".to_owned()));
    let labels_of = |fabric: &str| SheetLabels {
        production: "The Salt Stair".to_owned(),
        performer_code: "TW27".to_owned(),
        fabric: fabric.to_owned(),
        version: "1".to_owned(),
        date: "2026-11-25".to_owned(),
    };
    let hand = HandModel::published().fill(Population::Women, &Hands::default()).right;
    for (name, side, options) in gloves() {
        let made = draft(&hand, side, &options)?;
        let is_leather = options.reduction.palm < 0.0;
        let labels = labels_of(if is_leather { "Cove leather" } else { "Foam soft knit" });
        std::fs::write(
            folder.join(format!("{name}.svg")),
            svg::render(&made, &labels, SvgUse::Download),
        )?;
    }
    // A soft knit whose tension is known, so that pressures are written as well.
    let fabric = Behaviour {
        curve: Some(TensionCurve::Linear { stiffness_n_per_m: 190.0 }),
        usable_across: 0.25,
        usable_along: 0.20,
        left: 0.01,
    };
    let options = GloveOptions { fabric: Some(fabric), ..GloveOptions::default() };
    let made = draft(&hand, Side::Right, &options)?;
    let drawn = drawing(&made, &options, words::all().of("en"));
    std::fs::write(folder.join("forecast.svg"), drawn)?;
    Ok(())
}

fn gloves() -> Vec<(&'static str, Side, GloveOptions)> {
    let plain = GloveOptions::default();
    let fourchette = GloveOptions { construction: Construction::Fourchette, ..plain };
    let long = Cuff::Long { height_mm: 220.0, girth_mm: 230.0, half_way_girth_mm: Some(200.0) };
    let leather = GirthReduction { palm: -0.04, wrist: -0.04, fingers: -0.05, thumb: -0.05 };
    vec![
        ("two-layer", Side::Right, plain),
        ("fourchette", Side::Right, fourchette),
        (
            "fourchette-forks",
            Side::Right,
            GloveOptions { fourchettes: Fourchettes::Forks, ..fourchette },
        ),
        (
            "fourchette-quirks",
            Side::Right,
            GloveOptions {
                fourchettes: Fourchettes::PairsWithQuirks,
                reduction: leather,
                usable_extension: 0.03,
                ..fourchette
            },
        ),
        (
            "long-with-opening",
            Side::Left,
            GloveOptions { cuff: long, closure: Closure::CasingsWithElastic, ..plain },
        ),
        (
            "fingerless-gauntlet",
            Side::Right,
            GloveOptions {
                finish: Finish::ToMiddleJoint,
                cuff: Cuff::Gauntlet { length_mm: 110.0, opening_girth_mm: 300.0 },
                ..plain
            },
        ),
        ("open-tips", Side::Right, GloveOptions { finish: Finish::OpenTips, ..plain }),
    ]
}
