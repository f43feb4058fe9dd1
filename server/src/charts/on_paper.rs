//! A surface for charts that writes them down as ink, for the printed report.

use std::convert::Infallible;

use kurbo::{BezPath, Circle, Point, Rect, Shape};
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
    FontTransform,
};

use crate::export::font::{CAP_HEIGHT_EM, text_width_mm};
use crate::export::ink::{Anchor, Group, Ink};

/// Tones lighter than this are hatched when filled, and left out when drawn: they only guide the
/// eye on a screen.
const LIGHT: f64 = 0.5;

/// Distance between the lines of a hatching, mm.
const HATCH_MM: f64 = 1.2;

/// Accuracy of circles, mm.
const ROUND_MM: f64 = 0.02;

/// Ink in place of pixels.
pub struct OnPaper<'a> {
    ink: &'a mut Ink,
    size: (u32, u32),
    scale: f64,
}

type Done = Result<(), DrawingErrorKind<Infallible>>;

impl<'a> OnPaper<'a> {
    /// A surface of this many px, each `scale` mm.
    pub fn new(ink: &'a mut Ink, size: (u32, u32), scale: f64) -> OnPaper<'a> {
        OnPaper { ink, size, scale }
    }

    fn at(&self, (x, y): BackendCoord) -> Point {
        let height = f64::from(self.size.1);
        Point::new(f64::from(x) * self.scale, (height - f64::from(y)) * self.scale)
    }

    /// Draws an outline; nothing where it is white, light or clear.
    fn stroke(&mut self, style: &impl BackendStyle, path: BezPath) {
        let color = style.color();
        if is_ink(color) && color.alpha >= LIGHT {
            let is_thin = style.stroke_width() <= 1;
            self.ink.stroke(if is_thin { Group::Labels } else { Group::Notches }, path);
        }
    }

    fn hatch(&mut self, area: Rect) {
        let reach = area.height();
        let mut x = area.x0 - reach + HATCH_MM / 2.0;
        while x < area.x1 {
            let (from, to) = ((area.x0 - x).max(0.0), (area.x1 - x).min(reach));
            if to > from {
                let mut line = BezPath::new();
                line.move_to((x + from, area.y0 + from));
                line.line_to((x + to, area.y0 + to));
                self.ink.stroke(Group::Labels, line);
            }
            x += HATCH_MM;
        }
    }
}

fn is_ink(color: BackendColor) -> bool {
    color.alpha > 0.0 && color.rgb != (255, 255, 255)
}

fn polyline(points: impl IntoIterator<Item = Point>, is_closed: bool) -> BezPath {
    let mut path = BezPath::new();
    for (index, point) in points.into_iter().enumerate() {
        if index == 0 {
            path.move_to(point);
        } else {
            path.line_to(point);
        }
    }
    if is_closed && !path.is_empty() {
        path.close_path();
    }
    path
}

impl DrawingBackend for OnPaper<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Done {
        Ok(())
    }

    fn present(&mut self) -> Done {
        Ok(())
    }

    /// Nothing on a chart is as small as a pixel.
    fn draw_pixel(&mut self, _: BackendCoord, _: BackendColor) -> Done {
        Ok(())
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Done {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        lower_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Done {
        let area = Rect::from_points(self.at(upper_left), self.at(lower_right));
        match (fill, style.color().alpha < LIGHT) {
            (true, _) if !is_ink(style.color()) => {}
            (true, true) => self.hatch(area),
            (true, false) => self.ink.fill(Group::Labels, area.to_path(ROUND_MM)),
            (false, _) => self.stroke(style, area.to_path(ROUND_MM)),
        }
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Done {
        let points: Vec<Point> = path.into_iter().map(|at| self.at(at)).collect();
        if points.len() > 1 {
            self.stroke(style, polyline(points, false));
        }
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        center: BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Done {
        let path = Circle::new(self.at(center), f64::from(radius) * self.scale).to_path(ROUND_MM);
        if !fill {
            self.stroke(style, path);
        } else if is_ink(style.color()) {
            self.ink.fill(Group::Labels, path);
        }
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Done {
        let points: Vec<Point> = corners.into_iter().map(|at| self.at(at)).collect();
        if points.len() > 2 && is_ink(style.color()) {
            self.ink.fill(Group::Labels, polyline(points, true));
        }
        Ok(())
    }

    fn draw_text<T: BackendTextStyle>(&mut self, text: &str, style: &T, at: BackendCoord) -> Done {
        let cap = style.size() * self.scale * CAP_HEIGHT_EM;
        let anchor = style.anchor();
        // Along the line of text, and above it.
        let back = match anchor.h_pos {
            HPos::Left => 0.0,
            HPos::Center => 0.5,
            HPos::Right => 1.0,
        } * text_width_mm(text, cap);
        let down = match anchor.v_pos {
            VPos::Top => cap * 1.15,
            VPos::Center => cap / 2.0,
            VPos::Bottom => -cap * 0.25,
        };
        let quarters = match style.transform() {
            FontTransform::None => 0.0,
            FontTransform::Rotate90 => 3.0,
            FontTransform::Rotate180 => 2.0,
            FontTransform::Rotate270 => 1.0,
        };
        let angle = quarters * std::f64::consts::FRAC_PI_2;
        let (sin, cos) = angle.sin_cos();
        let held = self.at(at);
        let start = Point::new(held.x - back * cos + down * sin, held.y - back * sin - down * cos);
        self.ink.text(Group::Labels, (start, angle, Anchor::Start), cap, text);
        Ok(())
    }

    fn estimate_text_size<T: BackendTextStyle>(
        &self,
        text: &str,
        style: &T,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let cap = style.size() * CAP_HEIGHT_EM;
        Ok((text_width_mm(text, cap).ceil() as u32, style.size().ceil() as u32))
    }
}
