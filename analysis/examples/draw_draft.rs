//! Draws drafts as plain SVG on standard output, to be looked at while the construction changes:
//! `cargo run -p analysis --example draw_draft -- women 0 right`.

use std::fmt::Write;

use analysis::draft::{
    Bottom, Closure, Construction, Cuff, Draft, Finish, Fourchettes, GirthReduction, GloveOptions,
    Layer, NotchKind, draft,
};
use analysis::hand::Side;

#[path = "../tests/draft_hands/mod.rs"]
mod draft_hands;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let sex = usize::from(args.first().is_some_and(|a| a == "men"));
    let z = args.get(1).and_then(|a| a.parse().ok()).unwrap_or(0.0);
    let side = args.get(2).and_then(|a| Side::from_key(a)).unwrap_or(Side::Right);
    let options = args.iter().skip(3).fold(GloveOptions::default(), |o, word| with(o, word));
    match draft(&draft_hands::person(sex, z), side, &options) {
        Ok(draft) => {
            println!("{}", svg(&draft));
            for fit in &draft.forecast.zones {
                eprintln!(
                    "{}: hand {:.1} glove {:.1} extension {:.1} %",
                    fit.zone,
                    fit.hand_mm,
                    fit.glove_mm,
                    100.0 * fit.extension()
                );
            }
            for crotch in &draft.forecast.crotches {
                eprintln!("{crotch:?}");
            }
            for seam in &draft.seams {
                eprintln!("{seam:?}");
            }
            for remark in &draft.remarks {
                eprintln!("{remark}");
            }
        }
        Err(error) => eprintln!("{error}"),
    }
}

/// Options by a word each.
fn with(o: GloveOptions, word: &str) -> GloveOptions {
    match word {
        "fourchette" => GloveOptions { construction: Construction::Fourchette, ..o },
        "forks" => GloveOptions { fourchettes: Fourchettes::Forks, ..o },
        "quirks" => GloveOptions { fourchettes: Fourchettes::PairsWithQuirks, ..o },
        "tips" => GloveOptions { finish: Finish::OpenTips, ..o },
        "end" => GloveOptions { finish: Finish::ToEndJoint, ..o },
        "middle" => GloveOptions { finish: Finish::ToMiddleJoint, ..o },
        "casings" => {
            GloveOptions { closure: Closure::CasingsWithElastic, below_wrist_mm: 40.0, ..o }
        }
        "gauntlet" => {
            GloveOptions { cuff: Cuff::Gauntlet { length_mm: 110.0, opening_girth_mm: 300.0 }, ..o }
        }
        "long" => GloveOptions {
            cuff: Cuff::Long { height_mm: 220.0, girth_mm: 250.0, half_way_girth_mm: Some(215.0) },
            ..o
        },
        "sleeve" => GloveOptions {
            bottom: Bottom::Sleeve { flat_width_mm: 78.0 },
            below_wrist_mm: 30.0,
            ..o
        },
        "leather" => GloveOptions {
            reduction: GirthReduction { palm: -0.04, wrist: -0.04, fingers: -0.05, thumb: -0.05 },
            usable_extension: 0.03,
            ..o
        },
        "circle" => GloveOptions { thumb_curve: 1.0, ..o },
        _ => o,
    }
}

fn svg(draft: &Draft) -> String {
    let mut body = String::new();
    let mut x = 10.0;
    let mut height: f64 = 0.0;
    for piece in &draft.pieces {
        let b = piece.bounds();
        height = height.max(b.height());
        let _ = write!(body, "<g transform='translate({} {}) scale(1 -1)'>", x - b.x0, b.y1 + 10.0);
        for (layer, path) in &piece.lines {
            let style = match layer {
                Layer::Cut | Layer::Hole => "stroke='black' stroke-width='.5'",
                Layer::Seam => "stroke='#05a' stroke-width='.35' stroke-dasharray='2 1'",
                Layer::Fold => "stroke='#555' stroke-width='.3' stroke-dasharray='6 1 1 1'",
                Layer::Slit => "stroke='#c00' stroke-width='.5'",
                Layer::Grain => "stroke='black' stroke-width='.3'",
                Layer::Internal => "stroke='#888' stroke-width='.25'",
            };
            let _ = write!(body, "<path d='{}' fill='none' {style}/>", path.to_svg());
        }
        let g = piece.grain;
        let _ = write!(
            body,
            "<path d='M{} {}L{} {}' stroke='black' stroke-width='.3'/>",
            g.p0.x, g.p0.y, g.p1.x, g.p1.y
        );
        for n in &piece.notches {
            let (len, w) = if n.kind == NotchKind::Notch { (3.0, 0.6) } else { (2.0, 0.3) };
            let e = n.at + n.outward * len;
            let _ = write!(
                body,
                "<path d='M{} {}L{} {}' stroke='#a00' stroke-width='{w}'/>",
                n.at.x, n.at.y, e.x, e.y
            );
            let t = n.at - n.outward * 3.0;
            let _ = write!(
                body,
                "<text transform='translate({} {}) scale(1 -1)' font-size='2.6' text-anchor='middle' fill='#a00'>{}</text>",
                t.x,
                t.y - 1.0,
                n.label
            );
        }
        for m in &piece.marks {
            let _ = write!(
                body,
                "<text transform='translate({} {}) scale(1 -1) rotate({})' font-size='{}' font-family='sans-serif'>{}</text>",
                m.at.x,
                m.at.y,
                -m.angle.to_degrees(),
                m.size_mm / 0.72,
                m.text
            );
        }
        let r = piece.label_area;
        let _ = write!(
            body,
            "<rect x='{}' y='{}' width='{}' height='{}' fill='#eee' stroke='none'/></g>",
            r.x0,
            r.y0,
            r.width(),
            r.height()
        );
        x += b.width() + 10.0;
    }
    let height = height + 20.0;
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='{0}mm' height='{1}mm' viewBox='0 0 {0} {1}'><rect width='100%' height='100%' fill='white'/>{2}</svg>",
        x, height, body
    )
}
