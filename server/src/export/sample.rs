//! A hand-made glove for the renderers' tests: rough, but with every kind of line and mark.

use analysis::draft::{Draft, FitForecast, Layer, Mark, Notch, NotchKind, Piece, PieceKind};
use analysis::hand::Side;
use kurbo::{Affine, BezPath, Line, Point, Rect, Shape, Vec2};

use super::SheetLabels;

/// Labels with signs that have to be escaped and letters with accents.
pub fn labels() -> SheetLabels {
    SheetLabels {
        production: "Ängste & <Nöte>, a \"revue\"".to_owned(),
        performer_code: "P-07".to_owned(),
        fabric: "Nylon/elastane tricot 180 g".to_owned(),
        version: "3".to_owned(),
        date: "2026-03-14".to_owned(),
    }
}

/// A glove whose body is `width` mm wide and `height` mm high.
pub fn glove(side: Side, width: f64, height: f64) -> Draft {
    let body = fingers(width, height);
    let mid = width / 2.0;
    let hole = kurbo::Ellipse::new((mid + 45.0, 45.0), (11.0, 22.0), 0.2).to_path(0.01);
    let mut fold = BezPath::new();
    fold.move_to((mid, -15.0));
    fold.line_to((mid, height - 90.0));
    let mut hem = BezPath::new();
    hem.move_to((2.0, -8.0));
    hem.line_to((width - 2.0, -8.0));
    let eight = |centre: Point, radius: Vec2| {
        (0..8).map(move |i| {
            let outward = Vec2::from_angle(f64::from(i) * std::f64::consts::FRAC_PI_4);
            let at = centre + Vec2::new(outward.x * radius.x, outward.y * radius.y);
            Notch { at, outward: -outward, label: format!("T{}", i + 1), kind: NotchKind::Tick }
        })
    };
    let palm = Piece {
        kind: PieceKind::PalmAndBack,
        name: "Palm and back".to_owned(),
        cut: 1,
        lines: vec![
            (Layer::Cut, Affine::translate((-3.0, -3.0)) * scaled(&body, width, height)),
            (Layer::Seam, body),
            (Layer::Hole, hole),
            (Layer::Fold, fold),
            (Layer::Internal, hem),
        ],
        on_fold: false,
        notches: eight(Point::new(mid + 45.0, 45.0), Vec2::new(13.0, 24.0)).collect(),
        marks: vec![Mark {
            at: Point::new(6.0, -6.0),
            angle: 0.0,
            size_mm: 1.8,
            text: "hem".to_owned(),
        }],
        label_area: Rect::new(15.0, 15.0, mid - 12.0, 55.0),
        grain: Line::new((mid - 6.0, 20.0), (mid - 6.0, 80.0)),
        allowance_mm: 3.0,
    };
    let base = Rect::new(0.0, 0.0, 70.0, 85.0).to_rounded_rect(20.0);
    let thumb = Piece {
        kind: PieceKind::Thumb,
        name: "Thumb".to_owned(),
        cut: 1,
        lines: vec![
            (Layer::Cut, base.rect().inflate(3.0, 3.0).to_rounded_rect(23.0).to_path(0.01)),
            (Layer::Seam, base.to_path(0.01)),
        ],
        on_fold: false,
        notches: Vec::new(),
        marks: Vec::new(),
        label_area: Rect::new(12.0, 20.0, 58.0, 48.0),
        grain: Line::new((35.0, 50.0), (35.0, 80.0)),
        allowance_mm: 3.0,
    };
    Draft {
        side,
        pieces: vec![palm, thumb],
        seams: Vec::new(),
        levels: Vec::new(),
        allowance_mm: 3.0,
        crotch_width_mm: 6.0,
        crotches: Vec::new(),
        forecast: FitForecast::default(),
        remarks: Vec::new(),
    }
}

fn scaled(body: &BezPath, width: f64, height: f64) -> BezPath {
    let (x, y) = ((width + 6.0) / width, (height + 6.0) / height);
    Affine::translate((0.0, -15.0))
        * Affine::scale_non_uniform(x, y)
        * Affine::translate((0.0, 15.0))
        * body.clone()
}

/// An outline with eight fingers; the lower edge at y = -15.
fn fingers(width: f64, height: f64) -> BezPath {
    let pitch = width / 8.0;
    let (crotch, top) = (height - 95.0, height - 15.0);
    let mut path = BezPath::new();
    path.move_to((0.0, -15.0));
    for finger in 0..8 {
        let reach = [0.72, 0.9, 1.0, 0.93, 0.93, 1.0, 0.9, 0.72][finger];
        let (x0, x1) = (pitch * finger as f64, pitch * (finger as f64 + 1.0));
        let (left, right) = (x0 + 3.0, x1 - 3.0);
        let tip = crotch + (top - crotch) * reach;
        path.line_to((left, crotch));
        path.line_to((left, tip - 12.0));
        path.curve_to((left, tip), (right, tip), (right, tip - 12.0));
        path.line_to((right, crotch));
    }
    path.line_to((width, -15.0));
    path.close_path();
    path
}
