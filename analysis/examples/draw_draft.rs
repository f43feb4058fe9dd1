//! Draws drafts as plain SVG on standard output, to be looked at while the construction changes:
//! `cargo run -p analysis --example draw_draft -- women 0 right`.

use std::fmt::Write;

use analysis::draft::{Draft, GloveOptions, Layer, NotchKind, draft};
use analysis::hand::Side;

#[path = "../tests/draft_hands/mod.rs"]
mod draft_hands;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let sex = usize::from(args.first().is_some_and(|a| a == "men"));
    let z = args.get(1).and_then(|a| a.parse().ok()).unwrap_or(0.0);
    let side = args.get(2).and_then(|a| Side::from_key(a)).unwrap_or(Side::Right);
    match draft(&draft_hands::person(sex, z), side, &GloveOptions::default()) {
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
